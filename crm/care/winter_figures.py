"""The figures of the winter round: packages, chances, the reserve, and what a salted day on each place counts.

The defaults are a data file with a mark on every table; a studio lays its own over them with
`WinterFigures.with_overrides`, in the shape of the file.
"""

from __future__ import annotations

import tomllib
from bisect import bisect_left
from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import date
from enum import StrEnum
from importlib.resources import files

from crm.care.factors import Family
from crm.care.figures import Figures, FiguresError, merged, named
from crm.care.months import add_months
from crm.care.surfaces import Zone
from crm.care.terms import Mark, Prep, ProductClass


class Work(StrEnum):
    """What a car comes for in autumn."""

    TOP_UP = "top_up"
    WINTER_COAT = "winter_coat"
    WHEELS_OFF = "wheels_off"
    NEW_COATING = "new_coating"


WORK_NAMES = {
    Work.TOP_UP: "top-up",
    Work.WINTER_COAT: "winter coat",
    Work.WHEELS_OFF: "winter coat with the wheels off",
    Work.NEW_COATING: "light correction and coating",
}


@dataclass(frozen=True, slots=True, eq=False)
class Package:
    """One kind of autumn visit: hands-on hours and nights in the bay as mid-points, and what it does.

    `lays`: the class of the new layer by zone. `takes_off`: families that do not survive its decontamination.
    `rush`: whether it is proposed in the rush at all.
    """

    work: Work
    hours: float
    nights: float
    rush: bool
    lays: Mapping[Zone, ProductClass]
    prep: Prep
    takes_off: frozenset[Family]
    mark: Mark


@dataclass(frozen=True, slots=True, eq=False)
class WinterFigures:
    """Every figure of the round. Shares and chances run from 0 to 1; `places` are weights against each other.

    `booked_hours`: of a visit for which nobody wrote hours down, by what the car comes for.
    """

    weeks_before_salt: int
    weeks: int
    notice_days: int
    ask_ahead_days: int
    reserve: float
    full: float
    lapse_days: int
    ask_again_days: int
    booked_days: int
    seen_days: int
    forgotten_days: int
    booked_hours: Mapping[str, float]
    acceptance_months: tuple[float, ...]
    acceptance: tuple[float, ...]
    salted_days: float
    km_limits: tuple[float, ...]
    km_factors: tuple[float, ...]
    km_unknown: float
    roads_unknown: float
    unknown_worn: float
    least_days: float
    far_km: float
    bare_counts: frozenset[Zone]
    places: Mapping[Zone, float]
    packages: Mapping[Work, Package]
    marks: Mapping[str, Mark]
    _figures: Mapping[str, object] = field(repr=False)

    @classmethod
    def from_figures(cls, figures: Mapping[str, object]) -> WinterFigures:
        """The figures from nested entries as in the data file. Raises FiguresError with the path of a wrong one."""
        whole = Figures("winter", figures)
        round_, week, answers = whole.part("round"), whole.part("week"), whole.part("answers")
        rest, acceptance, salt = whole.part("rest"), whole.part("acceptance"), whole.part("salt")
        months, chances = _banded(acceptance, "months", "chances", 120, (0.01, 1))
        if any(month != int(month) for month in months):
            raise FiguresError(f"{acceptance.path}.months has to hold whole numbers.")
        limits, factors = _banded(salt, "km_limits", "km_factors", 1_000_000, (0, 5))
        found = cls(
            weeks_before_salt=round_.whole("weeks_before_salt", 0, 26),
            weeks=round_.whole("weeks", 1, 30),
            notice_days=round_.whole("notice_days", 0, 60),
            ask_ahead_days=round_.whole("ask_ahead_days", 0, 210),
            reserve=week.number("reserve", 0, 0.9),
            full=week.number("full", 0.1, 1),
            lapse_days=answers.whole("lapse_days", 1, 60),
            ask_again_days=answers.whole("ask_again_days", 1, 120),
            booked_days=rest.whole("booked_days", 0, 366),
            seen_days=rest.whole("seen_days", 0, 366),
            forgotten_days=rest.whole("forgotten_days", 30, 36_600),
            booked_hours=_booked_hours(whole.part("booked")),
            acceptance_months=months,
            acceptance=chances,
            salted_days=salt.number("share_of_days", 0.01, 1),
            km_limits=limits,
            km_factors=factors,
            km_unknown=salt.number("km_unknown", 0, 5),
            roads_unknown=salt.number("roads_unknown", 0, 1),
            unknown_worn=salt.number("unknown_worn", 0, 1),
            least_days=whole.part("worthwhile").number("least_days", 0, 200),
            far_km=whole.part("far").number("km", 0, 1_000_000),
            bare_counts=frozenset(whole.part("bare").names("counts", Zone)),
            places=_places(whole.part("places")),
            packages={work: _package(whole.part("packages").part(work), work) for work in Work},
            marks=_marks(whole),
            _figures=figures,
        )
        _require_somebody_to_ask(found)
        return found

    @property
    def figures(self) -> Mapping[str, object]:
        """Every figure nested as in the data file. Not to be written to."""
        return self._figures

    def with_overrides(self, changes: Mapping[str, object]) -> WinterFigures:
        """These figures with some replaced, as deep as it needs to go: `{"week": {"reserve": 0.1}}`.

        Raises FiguresError with a sentence where a figure is unknown, of the wrong kind or out of its range.
        """
        return WinterFigures.from_figures(merged(self._figures, changes, ""))

    def chance(self, last_seen: date | None, on: date) -> float:
        """How likely a car comes when it is asked that day."""
        for months, chance in zip(self.acceptance_months, self.acceptance, strict=False):
            if last_seen is not None and on < add_months(last_seen, int(months)):
                return chance
        return self.acceptance[-1]

    def distance_factor(self, km_a_year: int | None) -> float:
        """What a salted day counts by the distance a year."""
        return (
            self.km_unknown if km_a_year is None else self.km_factors[bisect_left(self.km_limits, km_a_year)]
        )


def _banded(
    figures: Figures, limits: str, values: str, most: float, between: tuple[float, float]
) -> tuple[tuple[float, ...], tuple[float, ...]]:
    bands, found = figures.numbers(limits, 0, most), figures.numbers(values, *between)
    if not bands:
        raise FiguresError(f"{figures.path}.{limits} has to hold one number at least.")
    if list(bands) != sorted(set(bands)):
        raise FiguresError(f"{figures.path}.{limits} has to rise from one number to the next.")
    if len(found) != len(bands) + 1:
        raise FiguresError(f"{figures.path}.{values} need one more entry than there are {limits}.")
    return bands, found


def _require_somebody_to_ask(found: WinterFigures) -> None:
    """Refuse figures with which no week, or no car, could ever be asked."""
    if found.ask_ahead_days < found.notice_days:
        least = "at least winter.round.notice_days"
        raise FiguresError(f"winter.round.ask_ahead_days has to be {least}, or no week could be asked for.")
    if found.forgotten_days <= found.seen_days:
        least = "more than winter.rest.seen_days"
        raise FiguresError(f"winter.rest.forgotten_days has to be {least}, or no car could be asked.")


def _places(figures: Figures) -> dict[Zone, float]:
    keys = [key for key in figures.entries if key != "mark"]
    found = {named(key, Zone, figures.path): figures.number(key, 0, 10) for key in keys}
    if not any(found.values()):
        raise FiguresError(f"{figures.path} has to count at least one place.")
    return found


def _booked_hours(figures: Figures) -> dict[str, float]:
    return {key: figures.number(key, 0, 80) for key in figures.entries if key != "mark"}


def _package(figures: Figures, work: Work) -> Package:
    lays = figures.part("lays")
    laid = {
        zone: named(key, ProductClass, lays.path) for key in lays.entries for zone in lays.names(key, Zone)
    }
    return Package(
        work=work,
        hours=figures.number("hours", 0.25, 80),
        nights=figures.number("nights", 0, 14),
        rush=bool(figures.whole("rush", 0, 1)),
        lays=laid,
        prep=named(figures.words("prep"), Prep, f"{figures.path}.prep"),
        takes_off=frozenset(figures.names("takes_off", Family)),
        mark=figures.mark(),
    )


def _marks(whole: Figures) -> dict[str, Mark]:
    return {
        **{key: part.mark() for key, part in whole.parts() if key != "packages"},
        **{f"packages.{key}": part.mark() for key, part in whole.part("packages").parts()},
    }


def _shipped() -> WinterFigures:
    text = (files("crm.care") / "data" / "winter.toml").read_text("utf-8")
    return WinterFigures.from_figures(tomllib.loads(text))


WINTER = _shipped()
"""The figures as shipped."""


def read_winter(figures: Figures) -> WinterFigures:
    """The figures of a table that was read already: those as shipped where it is theirs."""
    return WINTER if figures.entries is WINTER.figures else WinterFigures.from_figures(figures.entries)
