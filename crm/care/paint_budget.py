"""How much more polishing a panel can stand: an estimate, as a range, and in words.

What the studio took away is reckoned from the work on record, what was taken before it from an allowance, and
both are ranges. Of the clear, about a quarter may go over a car's life. None of this is measured: a gauge sees
the whole film, so what is left of the clear is never known. The careful end of the range is the one to say.
Common practice as ranges, no source.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from math import floor

from crm.care.paint_change import PassSet
from crm.care.paint_terms import CutWeight, Heaviest, PaintEvent, Past
from crm.care.polish_rules import PanelRecord, Reason, cuts_of, polish_reasons, sets_of
from crm.care.tables import DEFAULTS
from crm.care.terms import Process
from crm.care.thickness import PanelReadings
from crm.care.thickness_bands import NOT_A_MEASURE
from crm.care.thickness_figures import Span, ThicknessFigures

NOT_MEASURED = "It has not been measured on this paint: the count rests on the record alone."
PLASTIC = (
    "Nothing can be measured on it, so the count rests on the record alone. Plastic heats up and often carries less"
    " clear: go gently."
)
FIRST_COSTS_MOST = (
    "No polishing is on record: the first takes the top of the clear, which shields the paint most, so it costs the"
    " most."
)
MEASURE_AGAIN = "It was polished after it was last measured: measure again before the next."
_WORDS = {1: "one", 2: "two", 3: "three", 4: "four", 5: "five", 6: "six"}


@dataclass(frozen=True, slots=True)
class Counts:
    """How many more times, each instead of the others: finishing, one step, medium cut."""

    finishing: int
    light: int
    cuts: int


@dataclass(frozen=True, slots=True)
class PaintBudget:
    """What is left of a panel, µm, and what that comes to.

    `removed` and `left` run from least to most. `careful` counts from the least that may be left and the most
    that each piece of work takes, `generous` the other way round. `reasons` say why less should be done, the
    strictest first, and bound both counts. `notes` are sentences to show with it.
    """

    removed: Span
    left: Span
    careful: Counts
    generous: Counts
    reasons: tuple[Reason, ...]
    notes: tuple[str, ...]
    cut_before: bool

    @property
    def heaviest(self) -> Heaviest:
        """The hardest work that the reasons allow."""
        return min((reason.heaviest for reason in self.reasons), default=Heaviest.CUT)

    @property
    def instead(self) -> tuple[str, ...]:
        """What can be done instead of polishing, each once."""
        return tuple(dict.fromkeys(words for reason in self.reasons for words in reason.instead))

    def words(self, panel: str) -> str:
        """The careful count in words: "one light, no more cuts on this bonnet". `panel` is its name."""
        return _counted(self.careful, panel, "no more cuts" if self.cut_before else "no cuts")

    def generous_words(self, panel: str) -> str:
        """The generous count in words, to be shown beside the careful one and never alone."""
        return _counted(self.generous, panel, "no more cuts" if self.cut_before else "no cuts")


def removed_by(work: PassSet, figures: ThicknessFigures = DEFAULTS.thickness) -> Span:
    """What one piece of work takes at a spot, µm. A cut of unrecorded weight may have been either."""
    removal = figures.removal
    if work.process is not Process.CUT:
        return removal[work.process]
    medium, heavy = removal["cut_medium"], removal["cut_heavy"]
    if work.weight is None:
        return Span(min(medium.low, heavy.low), max(medium.high, heavy.high))
    return heavy if work.weight is CutWeight.HEAVY else medium


def removed_from(record: PanelRecord, figures: ThicknessFigures = DEFAULTS.thickness) -> Span:
    """What has gone from this paint, µm: the allowance for the time before us, and the work on record.

    Paint that was renewed starts anew. A resprayed panel has no time before; a new part may have had one.
    """
    renewed = record.renewed
    past = record.past
    if renewed is not None:
        past = Past.NEW if renewed.event is PaintEvent.RESPRAYED else Past.UNKNOWN
    total = figures.before[past]
    for work in sets_of(record.passes_on_this_paint):
        spans = [removed_by(item, figures) for item in work]
        total += Span(max(span.low for span in spans), max(span.high for span in spans))
    return total


def paint_budget(
    record: PanelRecord, *, today: date, figures: ThicknessFigures = DEFAULTS.thickness
) -> PaintBudget:
    """What a panel can still stand on a day, as an estimate.

    The limit is a range as well: the least that is left is the careful limit less the most that has gone.
    """
    gone = removed_from(record, figures)
    left = Span(max(0.0, figures.limit.low - gone.high), max(0.0, figures.limit.high - gone.low))
    reasons = polish_reasons(record, removed=gone, today=today, figures=figures)
    heaviest = min((reason.heaviest for reason in reasons), default=Heaviest.CUT)
    more_cuts = max(0, figures.cuts - cuts_of(record.passes_on_this_paint))
    work = [figures.removal[key] for key in ("fine_polish", "one_step_polish", "cut_medium")]
    return PaintBudget(
        removed=gone,
        left=left,
        careful=_bounded([_times(left.low, span.high) for span in work], heaviest, more_cuts),
        generous=_bounded([_times(left.high, span.low) for span in work], heaviest, more_cuts),
        reasons=reasons,
        notes=_notes(record),
        cut_before=record.past is not Past.NEW
        or any(item.process in (Process.CUT, Process.SANDING) for item in record.passes_on_this_paint),
    )


def _times(left: float, each: float) -> int:
    # 0.3 does not go into 0.9 three times in binary.
    return floor(left / each + 1e-9)


def _bounded(counts: list[int], heaviest: Heaviest, more_cuts: int) -> Counts:
    finishing, light, cuts = counts
    return Counts(
        finishing=finishing if heaviest >= Heaviest.FINISHING else 0,
        light=light if heaviest >= Heaviest.LIGHT else 0,
        cuts=min(cuts, more_cuts) if heaviest >= Heaviest.CUT else 0,
    )


def _counted(counts: Counts, panel: str, no_cuts: str) -> str:
    if counts.cuts:
        cuts = f"{_number(counts.cuts)} cut{'s' * (counts.cuts > 1)}"
        return f"{cuts} or {_number(counts.light)} light on this {panel}, not both"
    if counts.light:
        return f"{_number(counts.light)} light, {no_cuts} on this {panel}"
    if counts.finishing:
        return f"{_number(counts.finishing)} finishing, nothing heavier on this {panel}"
    return f"no more polishing on this {panel}"


def _polished_since(passes: Sequence[PassSet], readings: PanelReadings) -> bool:
    """What is known only by its day came after that day's reading, which is usually taken on arrival."""
    last = max(spot.at for spot in readings.spots)
    return any(item.on >= last.date() if item.at is None else item.at > last for item in passes)


def _number(count: int) -> str:
    return _WORDS.get(count, str(count))


def _notes(record: PanelRecord) -> tuple[str, ...]:
    notes = [NOT_A_MEASURE]
    readings = record.readings_of_this_paint
    if readings is not None and readings.not_measurable:
        notes.append(PLASTIC)
    elif readings is None or readings.minimum is None:
        notes.append(NOT_MEASURED)
    elif _polished_since(record.passes_on_this_paint, readings):
        notes.append(MEASURE_AGAIN)
    if not record.passes_on_this_paint:
        notes.append(FIRST_COSTS_MOST)
    return tuple(notes)
