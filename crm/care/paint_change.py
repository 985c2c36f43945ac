"""Change of paint thickness at a spot between two visits, held against its noise.

Readings of one panel differ by 10 to 20 µm from place to place, and a gauge by 2 or 3 from day to day. So only
the same spot is compared, by the same gauge in the same mode, and only what exceeds both the noise and two
standard errors of the difference is called a change. Common practice, no source.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date, datetime
from enum import StrEnum
from itertools import pairwise
from math import sqrt
from statistics import variance

from crm.care.names import PROCESS_NAMES
from crm.care.paint_terms import EVENT_WORDS, CutWeight, PaintEvent
from crm.care.tables import DEFAULTS
from crm.care.terms import Process, ProductClass
from crm.care.thickness import Spot, um
from crm.care.thickness_figures import ThicknessFigures

POLISHES = (Process.FINE_POLISH, Process.ONE_STEP_POLISH, Process.CUT, Process.SANDING)
"""The processes that take paint away, lightest first."""

_WORK_WORDS = {
    Process.FINE_POLISH: "finishing",
    Process.ONE_STEP_POLISH: "one-step",
    Process.CUT: "cut",
    Process.SANDING: "sanding",
}
_TINY = 1e-9


@dataclass(frozen=True, slots=True)
class PassSet:
    """One process that takes paint away, done to a panel on a day.

    `weight` is for a cut; None: not recorded. `at` is the moment, with a time zone, where it is known better than
    by the day. Raises ValueError where the process takes no paint away.
    """

    on: date
    process: Process
    weight: CutWeight | None = None
    at: datetime | None = None

    def __post_init__(self) -> None:
        if self.process not in POLISHES:
            message = f"{PROCESS_NAMES[self.process]} takes no paint away."
            raise ValueError(message[:1].upper() + message[1:])


@dataclass(frozen=True, slots=True)
class PaintBreak:
    """What parted a panel's paint from what it was before.

    `at` is the moment, with a time zone, where it is known better than by the day; `baked` is for a respray,
    None where nobody knows.
    """

    on: date
    event: PaintEvent
    at: datetime | None = None
    baked: bool | None = None

    @property
    def words(self) -> str:
        """What happened and when: "resprayed on 12 June 2025"."""
        return f"{EVENT_WORDS[self.event]} on {self.on.day} {self.on:%B %Y}"


class Verdict(StrEnum):
    """What comparing two visits came to."""

    NOISE = "noise"
    THINNER = "thinner"
    THICKER = "thicker"
    NOT_COMPARED = "not_compared"


@dataclass(frozen=True, slots=True)
class Change:
    """What became of a spot between two visits.

    `delta` and `error` are µm, later less earlier, and the standard error of that difference; both None where
    the two were not compared, and `why_not` is the short reason.
    """

    verdict: Verdict
    words: str
    delta: float | None = None
    error: float | None = None
    why_not: str = ""


def event_of(process: Process) -> PaintEvent | None:
    """What a process means for earlier readings; None where they still hold."""
    return {
        Process.RESPRAY: PaintEvent.RESPRAYED,
        Process.PANEL_REPLACED: PaintEvent.REPLACED,
        Process.FILM_REMOVED: PaintEvent.FILM_REMOVED,
    }.get(process)


def event_of_layer(product_class: ProductClass) -> PaintEvent | None:
    """The same for a layer that was laid: film ends a baseline, a coating is too thin to be seen."""
    covers = product_class in (ProductClass.PAINT_FILM, ProductClass.COLOUR_WRAP)
    return PaintEvent.FILM_LAID if covers else None


def change(
    before: Spot,
    after: Spot,
    *,
    breaks: Sequence[PaintBreak] = (),
    figures: ThicknessFigures = DEFAULTS.thickness,
) -> Change:
    """What became of a spot between two visits.

    `breaks` are those of the spot's panel. One that is known only by its day counts as lying between the visits
    when it fell on either of their days. Raises ValueError where the two are not the same spot in order of time.
    """
    if before.label != after.label or before.place is not after.place or after.at < before.at:
        raise ValueError("Only the same spot can be compared, the earlier visit first.")
    reason = _why_not(before, after, breaks)
    if reason or before.mean is None or after.mean is None:
        return Change(Verdict.NOT_COMPARED, f"Not compared: {reason}.", why_not=reason)
    delta = after.mean - before.mean
    error = sqrt(sum(variance(spot.values) / len(spot.values) for spot in (before, after)))
    verdict = _verdict(delta, error, figures)
    values = f"{um(before.mean)} to {um(after.mean)} µm"
    if verdict is Verdict.NOISE:
        words = f"{values}: too little to tell from the noise of measuring."
    elif verdict is Verdict.THINNER:
        words = f"{values}: thinner by about {abs(delta):.0f} µm."
    else:
        words = (
            f"{values}: thicker by about {abs(delta):.0f} µm. Paint does not grow: ask what was done to it, and"
            " measure again."
        )
    return Change(verdict, words, delta, error)


def spot_history(
    spots: Iterable[Spot],
    *,
    passes: Sequence[PassSet] = (),
    breaks: Sequence[PaintBreak] = (),
    figures: ThicknessFigures = DEFAULTS.thickness,
) -> str:
    """A spot through the years in a line: "118 -> 115 (one-step, 2023) -> 114 (2025, noise)".

    In brackets stand the work between two visits with its year, or the year of the later visit where there was
    none and what the difference is. A comparison that may not be made says why. "not measurable" stands where
    there is no figure. `spots` are of one label, in any order.
    """
    ordered = sorted(spots, key=lambda spot: spot.at)
    parts = [_value(spot) for spot in ordered[:1]]
    for gap, (before, after) in enumerate(pairwise(ordered)):
        found = change(before, after, breaks=breaks, figures=figures)
        work = _work([item for item in passes if _gap_of(item, ordered) == gap])
        parts.append(f"{_value(after)} ({_bracket(found, work, after.at.year)})")
    return " -> ".join(parts)


def parts_them(brk: PaintBreak, before: Spot, after: Spot) -> bool:
    """Whether a break lies between two visits to a spot."""
    if brk.at is not None:
        return before.at < brk.at <= after.at
    return before.at.date() <= brk.on <= after.at.date()


def _why_not(before: Spot, after: Spot, breaks: Sequence[PaintBreak]) -> str:
    between = sorted((brk for brk in breaks if parts_them(brk, before, after)), key=lambda brk: brk.on)
    if between:
        return f"the panel was {between[-1].words}"
    if before.film or after.film:
        return "film lay on it"
    if not before.values or not after.values:
        return "nothing was measurable"
    if before.modes != after.modes or len(before.modes) > 1:
        return "the gauge measured in another mode"
    if before.gauge.casefold() != after.gauge.casefold():
        return "another gauge"
    if not before.is_whole or not after.is_whole:
        return "too few readings to be a spot"
    return ""


def _verdict(delta: float, error: float, figures: ThicknessFigures) -> Verdict:
    # Averages of thirds are not exact in binary: a difference on the line is not over it.
    if abs(delta) <= max(figures.noise, figures.errors * error) + _TINY:
        return Verdict.NOISE
    return Verdict.THINNER if delta < 0 else Verdict.THICKER


def _value(spot: Spot) -> str:
    if not spot.values:
        return "not measurable"
    return "unclear" if spot.mean is None else um(spot.mean)


def _bracket(found: Change, work: str, year: int) -> str:
    if found.verdict is Verdict.NOT_COMPARED:
        said = f"not compared: {found.why_not}"
    elif found.verdict is Verdict.NOISE and work:
        return work
    else:
        said = str(found.verdict)
    return f"{work}; {said}" if work else f"{year}, {said}"


def _work(passes: Sequence[PassSet]) -> str:
    said = (
        f"{_WORK_WORDS[item.process]}, {item.on.year}" for item in sorted(passes, key=lambda item: item.on)
    )
    return "; ".join(dict.fromkeys(said))


def _gap_of(item: PassSet, ordered: Sequence[Spot]) -> int | None:
    """Between which two visits the work was done; None where it was before the first or after the last.

    Where only the day is known it lies between two readings of that day, or else after the day's reading,
    which is usually taken when the car comes in.
    """
    fitting: list[int] = []
    for gap, (before, after) in enumerate(pairwise(ordered)):
        first, last = before.at.date(), after.at.date()
        if item.at is not None:
            fits = before.at < item.at <= after.at
        else:
            fits = first <= item.on < last or first == item.on == last
        if fits:
            fitting.append(gap)
    return fitting[0] if fitting else None
