"""The figures of paint thickness and correction, read and checked from the data file or a studio's own."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from crm.care.figures import Figures, FiguresError
from crm.care.paint_terms import Heaviest, Past, Stages


@dataclass(frozen=True, slots=True)
class Span:
    """From the least to the most, in the unit of whatever it is of."""

    low: float
    high: float

    def __post_init__(self) -> None:
        if not self.low <= self.high:
            message = f"A range runs from the least to the most: {self.low:g} is over {self.high:g}."
            raise ValueError(message)

    def __add__(self, other: Span) -> Span:
        return Span(self.low + other.low, self.high + other.high)


@dataclass(frozen=True, slots=True)
class Band:
    """One band of the lowest spot on metal, µm. `low` belongs to it, `high` does not; see `band_of`."""

    key: str
    name: str
    low: float
    high: float
    meaning: str
    action: str
    heaviest: Heaviest


@dataclass(frozen=True, slots=True)
class ThicknessFigures:
    """Every figure: µm, and shares from 0 to 1 for what a correction takes away.

    `noise` and `errors` (a number of standard errors) are what a change has to exceed. `bands` run from the
    thinnest up. `removal` is by the keys of the data: processes, with the cut by its weight.
    """

    noise: float
    errors: float
    film_adds: Span
    coating_adds: Span
    bands: tuple[Band, ...]
    removal: Mapping[str, Span]
    before: Mapping[Past, Span]
    limit: Span
    cuts: int
    edge: float
    single_stage_edge: float
    removed: Span
    correction: Mapping[Stages, Span]

    @property
    def thin(self) -> float:
        """The line under which a panel is not polished any more: the lower end of the thin band."""
        return next(band.low for band in self.bands if band.key == "thin")

    @property
    def thick(self) -> float:
        """The line from which paint is consistent with refinishing."""
        return next(band.low for band in self.bands if band.key == "refinished")


BAND_KEYS = ("stop", "very_thin", "thin", "normal_thin", "usual", "refinished", "heavy", "filler")
"""From the thinnest up; one more than there are lines between them."""

REMOVALS = ("fine_polish", "one_step_polish", "cut_medium", "cut_heavy", "sanding")
_THICKEST = 5000.0
_MOST_REMOVED = 100.0


def read_thickness(figures: Figures) -> ThicknessFigures:
    """The figures from their nested form. Raises FiguresError with the path of the first that cannot be."""
    gauge, again = figures.part("gauge"), figures.part("again")
    change = gauge.part("change")
    for name in ("change", "film", "coating"):
        gauge.part(name).mark()
    for name in ("bands", "removal", "before", "limit", "again", "correction"):
        figures.part(name).mark()
    return ThicknessFigures(
        noise=change.number("noise", 0, 100),
        errors=change.number("errors", 0, 10),
        film_adds=_span(gauge.part("film"), "adds", 0, 1000),
        coating_adds=_span(gauge.part("coating"), "adds", 0, 50),
        bands=_bands(figures.part("bands")),
        removal={key: _span(figures.part("removal"), key, 0.1, _MOST_REMOVED) for key in REMOVALS},
        before={past: _span(figures.part("before"), past, 0, _MOST_REMOVED) for past in Past},
        limit=_span(figures.part("limit"), "quarter", 0, _MOST_REMOVED),
        cuts=again.whole("cuts", 1, 20),
        edge=again.number("edge", 0, _THICKEST),
        single_stage_edge=again.number("single_stage_edge", 0, _THICKEST),
        removed=_span(again, "removed", 0, _MOST_REMOVED),
        correction={stages: _share(figures.part("correction"), stages) for stages in Stages},
    )


def _bands(figures: Figures) -> tuple[Band, ...]:
    limits = figures.numbers("limits", 1, _THICKEST)
    if len(limits) != len(BAND_KEYS) - 1:
        raise FiguresError(f"{figures.path}.limits has to hold {len(BAND_KEYS) - 1} numbers.")
    if list(limits) != sorted(set(limits)):
        raise FiguresError(f"{figures.path}.limits has to rise from one number to the next.")
    lows, highs = (0.0, *limits), (*limits, float("inf"))
    return tuple(
        _band(figures.part(key), key, low, high)
        for key, low, high in zip(BAND_KEYS, lows, highs, strict=True)
    )


def _band(figures: Figures, key: str, low: float, high: float) -> Band:
    word = figures.words("heaviest")
    try:
        heaviest = Heaviest[word.upper()]
    except KeyError:
        known = ", ".join(level.name.lower() for level in Heaviest)
        raise FiguresError(f"{figures.path}.heaviest: “{word}” is not one of {known}.") from None
    return Band(
        key, figures.words("name"), low, high, figures.words("meaning"), figures.words("action"), heaviest
    )


def _span(figures: Figures, key: str, low: float, high: float) -> Span:
    numbers = figures.numbers(key, low, high)
    if len(numbers) != 2:
        raise FiguresError(f"{figures.path}.{key} has to hold two numbers, the least and the most.")
    if numbers[0] > numbers[1]:
        raise FiguresError(f"{figures.path}.{key} runs from the least to the most: it must not fall.")
    return Span(*numbers)


def _share(figures: Figures, key: str) -> Span:
    share = _span(figures, key, 0, 1)
    if share.high >= 1:
        raise FiguresError(f"{figures.path}.{key}: nobody can promise that every mark goes. Stay under 1.")
    return share
