"""A polish held against what the record says of the paint of each panel it is done to."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime

from crm.care.bodies import Body
from crm.care.paint_budget import PaintBudget, paint_budget
from crm.care.paint_change import POLISHES
from crm.care.paint_terms import CutWeight, Heaviest
from crm.care.panels import panel_of, whole_panel
from crm.care.surfaces import NOTHING, PAINT, Surface, Surfaces
from crm.care.tables import Tables
from crm.care.terms import Process
from crm.care.words import describe
from crm.models import Visit
from crm.selectors.paint import PaintFacts, paint_facts
from crm.selectors.studio import tables_of, the_studio

_NEEDS = {
    Process.FINE_POLISH: Heaviest.FINISHING,
    Process.ONE_STEP_POLISH: Heaviest.LIGHT,
    Process.CUT: Heaviest.CUT,
    Process.SANDING: Heaviest.CUT,
}
_TOO_LITTLE = "what may be left of the clear is less than this takes at the least."


@dataclass(frozen=True, kw_only=True)
class Polishing:
    """What belongs to a polish alone: how hard a cut was, and why it was done against what the record says."""

    weight: CutWeight | None = None
    over_warnings: str = ""


UNWEIGHTED = Polishing()


def weigh_polish(*, visit: Visit, process: Process, surfaces: Surfaces, at: datetime) -> tuple[str, ...]:
    """Why the paint should not see this work, panel by panel in sentences; empty where nothing speaks against it.

    Only what is forbidden on the generous count is said: the careful count is for planning. Heavier work of the
    same visit does not speak against the lighter that refines it.
    """
    painted = surfaces & PAINT
    if process not in _NEEDS or not painted:
        return ()
    studio = the_studio()
    facts = paint_facts(visit.car, zone=studio.zone, until=at)
    heavier = [work.value for work in POLISHES if POLISHES.index(work) > POLISHES.index(process)]
    refined = frozenset(visit.steps.filter(process__in=heavier).values_list("pk", flat=True))
    tables = tables_of(studio)
    said: dict[tuple[str, ...], Surfaces] = {}
    for panel in sorted({panel_of(surface) for surface in painted}):
        found = _against(panel, process, facts, refined, (at, tables))
        if found:
            said[found] = said.get(found, NOTHING) | (whole_panel(panel) & visit.car.surfaces)
    body = Body(visit.car.body)
    return tuple(
        f"{_first_upper(describe(on, body))}: {sentence[:1].lower()}{sentence[1:]}"
        for sentences, on in said.items()
        for sentence in sentences
    )


def _against(
    panel: Surface, process: Process, facts: PaintFacts, refined: frozenset[int], by: tuple[datetime, Tables]
) -> tuple[str, ...]:
    at, tables = by
    record = facts.record(panel, leave_out=refined)
    budget = paint_budget(record, today=at.astimezone(facts.zone).date(), figures=tables.thickness)
    reasons = tuple(reason.words for reason in budget.reasons if reason.heaviest < _NEEDS[process])
    return reasons or (() if _left_for(process, budget) else (_TOO_LITTLE,))


def _left_for(process: Process, budget: PaintBudget) -> int:
    left = budget.generous
    return {Process.FINE_POLISH: left.finishing, Process.ONE_STEP_POLISH: left.light}.get(process, left.cuts)


def _first_upper(words: str) -> str:
    return words[:1].upper() + words[1:]
