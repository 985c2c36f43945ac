"""When a panel should not be polished again: every reason that the record can know, with what to do instead.

Common practice as ranges, no source. The reasons warn and explain; whoever stands at the panel decides, and a
test spot, the colour on the pad and the owner's wish may know more than the record does.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from datetime import date

from crm.care.layering import FreshPaint, may_coat_from
from crm.care.paint_change import PaintBreak, PassSet
from crm.care.paint_terms import CutWeight, Finish, Heaviest, PaintEvent, Past
from crm.care.surfaces import NOTHING
from crm.care.terms import Paint, Process, ProductClass
from crm.care.thickness import PanelReadings, um
from crm.care.thickness_bands import band_of
from crm.care.thickness_figures import Span, ThicknessFigures

LEAVE, TOUCH_IN, GLAZE = "leave it", "touch it in", "fill the marks with a glaze"
COAT, FILM, RESPRAY = "protect it with a coating", "lay protective film", "have it resprayed"
ALTERNATIVES = (LEAVE, TOUCH_IN, GLAZE, COAT, FILM, RESPRAY)
"""What can be done instead of polishing."""

_CUTTING = (Process.CUT, Process.SANDING)
_RENEWALS = frozenset({PaintEvent.RESPRAYED, PaintEvent.REPLACED})
_FILM_EVENTS = frozenset({PaintEvent.FILM_LAID, PaintEvent.FILM_REMOVED})


@dataclass(frozen=True, slots=True)
class PanelRecord:
    """What is known of the paint of one panel. `passes` and `breaks` may be in any order.

    `past` is that of the car; `finish` is what somebody who looked found, None where nobody did. `readings` are
    the latest ones; those from before the last respray, new part or film are passed over.
    """

    past: Past
    paint: Paint = Paint.UNKNOWN
    finish: Finish | None = None
    passes: tuple[PassSet, ...] = ()
    breaks: tuple[PaintBreak, ...] = ()
    readings: PanelReadings | None = None

    @property
    def renewed(self) -> PaintBreak | None:
        """The last respray or new part, from which this paint dates; None: as it came."""
        return max((brk for brk in self.breaks if brk.event in _RENEWALS), key=_when, default=None)

    @property
    def filmed(self) -> bool:
        """Whether film lies on the panel as far as the record goes."""
        last = max((brk for brk in self.breaks if brk.event in _FILM_EVENTS), key=_when, default=None)
        if last is not None and (self.renewed is None or _when(last) >= _when(self.renewed)):
            return last.event is PaintEvent.FILM_LAID
        readings = self.readings_of_this_paint
        return readings is not None and readings.under_film and readings.minimum is None

    @property
    def passes_on_this_paint(self) -> tuple[PassSet, ...]:
        """Work since the last respray or new part; work on the same day counts, since it may have come after."""
        since = self.renewed.on if self.renewed else date.min
        return tuple(item for item in self.passes if item.on >= since)

    @property
    def readings_of_this_paint(self) -> PanelReadings | None:
        """The readings, without spots from before the paint was renewed or the film changed."""
        last = max(self.breaks, key=_when, default=None)
        if self.readings is None or last is None:
            return self.readings
        kept = tuple(
            spot
            for spot in self.readings.spots
            if (spot.at >= last.at if last.at is not None else spot.at.date() > last.on)
        )
        return PanelReadings(kept) if kept else None


@dataclass(frozen=True, slots=True)
class Reason:
    """Why less should be done: a key for tests and screens, the sentence, the most allowed, what else to do."""

    key: str
    words: str
    heaviest: Heaviest
    instead: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class _Case:
    record: PanelRecord
    readings: PanelReadings
    removed: Span
    today: date
    figures: ThicknessFigures


def polish_reasons(
    record: PanelRecord, *, removed: Span, today: date, figures: ThicknessFigures
) -> tuple[Reason, ...]:
    """Every reason to do less than the budget would allow, the strictest first.

    `removed` is what has gone from this paint, µm.
    """
    case = _Case(record, record.readings_of_this_paint or PanelReadings(()), removed, today, figures)
    found = [reason for rule in _RULES for reason in rule(case)]
    return tuple(sorted(found, key=lambda reason: reason.heaviest))


def sets_of(passes: Sequence[PassSet]) -> tuple[tuple[PassSet, ...], ...]:
    """The passes as sets of work: a sanding together with the lightest cut of its day, which clears its marks."""
    cuts = sorted((item for item in passes if item.process is Process.CUT), key=_weight)
    sets: list[tuple[PassSet, ...]] = []
    for item in passes:
        if item.process is Process.SANDING:
            clearing = next((cut for cut in cuts if cut.on == item.on), None)
            if clearing is not None:
                cuts.remove(clearing)
            sets.append((item,) if clearing is None else (item, clearing))
    sets += [(cut,) for cut in cuts]
    return (*sets, *((item,) for item in passes if item.process not in _CUTTING))


def cuts_of(passes: Sequence[PassSet]) -> int:
    """How many cuts there were; sanding and the cut that clears its marks are one."""
    return sum(work[0].process in _CUTTING for work in sets_of(passes))


def _band(case: _Case) -> Iterator[Reason]:
    lowest = case.readings.on_metal
    if lowest is None:
        return
    band = band_of(lowest, case.figures)
    if band.heaviest is Heaviest.CUT:
        return
    words = f"Its lowest spot is {um(lowest)} µm. {band.action}"
    instead: tuple[str, ...] = ()
    if band.heaviest is Heaviest.NOTHING:
        instead = (LEAVE, COAT, FILM) if band.key == "stop" else (LEAVE, GLAZE, COAT, FILM)
    yield Reason(band.key, words, band.heaviest, instead)


def _cuts(case: _Case) -> Iterator[Reason]:
    count = cuts_of(case.record.passes_on_this_paint)
    if count >= case.figures.cuts:
        words = f"It has been cut {_times(count)} already."
        yield Reason("cuts", words, Heaviest.NOTHING, (LEAVE, GLAZE, COAT, FILM))


def _edge(case: _Case) -> Iterator[Reason]:
    edge = case.readings.edge
    if edge is None:
        return
    if edge < case.figures.edge:
        words = f"An edge is down to {um(edge)} µm, under the {case.figures.edge:g} where polishing ends."
        yield Reason("edge", words, Heaviest.NOTHING, (LEAVE, TOUCH_IN, FILM))
    elif case.record.paint is Paint.SINGLE_STAGE and edge < case.figures.single_stage_edge:
        words = (
            f"Single-stage paint with an edge at {um(edge)} µm: there is no clear over the colour to take."
        )
        yield Reason("single_stage_edge", words, Heaviest.NOTHING, (LEAVE, GLAZE))


def _finish(case: _Case) -> Iterator[Reason]:
    finish, renewed, lowest = case.record.finish, case.record.renewed, case.readings.on_metal
    if finish is Finish.FAILING:
        words = "The clear is crazed, milky or lifting: polishing cannot mend it."
        yield Reason("failing", words, Heaviest.NOTHING, (LEAVE, RESPRAY))
        return
    if finish in (Finish.FACTORY, Finish.REFINISH_SOUND):
        return
    instead = (LEAVE, GLAZE, COAT)
    after = "Ask who painted it, and try a test spot first."
    if finish is Finish.REFINISH_UNKNOWN:
        words = f"It was refinished, and nobody knows how well. {after}"
        yield Reason("refinish", words, Heaviest.NOTHING, instead)
    elif renewed is not None:
        words = f"It was {renewed.words}, and nobody has written down how sound that paint is. {after}"
        yield Reason("refinish", words, Heaviest.NOTHING, instead)
    elif lowest is not None and lowest >= case.figures.thick:
        words = (
            f"Its lowest spot is {um(lowest)} µm, consistent with refinishing or heavy factory paint, and nobody has"
            " written down which. Look for tape lines, compare with the other side, and ask."
        )
        yield Reason("refinish", words, Heaviest.NOTHING, instead)


def _fresh(case: _Case) -> Iterator[Reason]:
    renewed = case.record.renewed
    if renewed is None:
        return
    ready = may_coat_from(FreshPaint(NOTHING, renewed.on, renewed.baked), ProductClass.COATING_PROFESSIONAL)
    if case.today < ready:
        words = (
            f"Its paint is fresh, {renewed.words}: not before {ready.day} {ready:%B %Y}, and only if the painter"
            " agrees."
        )
        yield Reason("fresh", words, Heaviest.NOTHING, (f"wait until {ready.day} {ready:%B %Y}",))


def _surface(case: _Case) -> Iterator[Reason]:
    if case.record.paint is Paint.MATT:
        words = "Matt paint turns shiny where it is polished, and stays so."
        yield Reason("matt", words, Heaviest.NOTHING, (LEAVE, RESPRAY))
    elif case.record.paint is Paint.WRAPPED or case.record.filmed:
        words = "Film lies on it: polishing is for paint."
        yield Reason("film", words, Heaviest.NOTHING, (LEAVE, "have the film renewed"))


def _removed(case: _Case) -> Iterator[Reason]:
    gone, line = case.removed, case.figures.removed
    if gone.high <= line.low:
        return
    if gone.low > line.high:
        words = f"At least {_plain(gone.low)} µm have gone already, over the {line.high:g} that are enough."
    else:
        enough = f"{line.low:g} to {line.high:g}"
        words = f"As much as {_plain(gone.high)} µm may have gone already, and {enough} are enough."
    yield Reason("removed", words, Heaviest.NOTHING, (LEAVE, GLAZE, COAT, FILM))


_RULES: tuple[Callable[[_Case], Iterator[Reason]], ...] = (
    _surface,
    _fresh,
    _band,
    _edge,
    _finish,
    _cuts,
    _removed,
)


def _when(brk: PaintBreak) -> tuple[date, float]:
    """By day, and within a day by the hour; what is known only by its day comes first in it."""
    return brk.on, brk.at.timestamp() if brk.at is not None else 0.0


def _weight(cut: PassSet) -> int:
    return (CutWeight.MEDIUM, None, CutWeight.HEAVY).index(cut.weight)


def _times(count: int) -> str:
    return {1: "once", 2: "twice"}.get(count, f"{count} times")


def _plain(value: float) -> str:
    return f"{value:.1f}".removesuffix(".0")
