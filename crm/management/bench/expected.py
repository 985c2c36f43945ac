"""The forecasts of the bench, by the engine itself, once for each set of inputs."""

from __future__ import annotations

from datetime import date
from json import dumps
from typing import NamedTuple

from crm.care.coats import Case, Coat
from crm.care.forecast import inputs_key, outlook
from crm.care.seasons import Seasons
from crm.care.surfaces import Zone
from crm.care.tables import DEFAULTS
from crm.care.terms import Air, Prep
from crm.management.bench.works import WAYS_OF_KEEPING, Bottle, Site


class Stored(NamedTuple):
    """A forecast as it is stored."""

    low: str | None
    likely: str | None
    high: str | None
    reasons: str
    inputs: str


class Expected:
    """Asks the engine for a product in a zone from a day on under a way of keeping, and remembers.

    What single washes take from a layer is left out, so that inputs recur: a studio's own forecasts differ more.
    """

    def __init__(self) -> None:
        self.asked = 0
        self._known: dict[tuple[str, Zone, date, int], Stored] = {}
        self._reasons: dict[str, str] = {}
        self._seasons = Seasons()

    def of(self, bottle: Bottle, zone: Zone, day: date, way: int) -> Stored:
        """The forecast of a layer in a zone."""
        key = (bottle.name, zone, day, way)
        known = self._known.get(key)
        if known is None:
            known = self._known[key] = self._asked(bottle, zone, day, way)
        return known

    def _asked(self, bottle: Bottle, zone: Zone, day: date, way: int) -> Stored:
        self.asked += 1
        prep = Prep.POLISHED_WIPED if bottle.site is Site.PAINT else Prep.CLAYED
        coat = Coat(bottle.product_class, zone, day, prep=prep, air=Air.INSIDE)
        habits = (WAYS_OF_KEEPING[way],)
        found = outlook(coat, habits=habits, seasons=self._seasons)
        reasons = dumps([{"code": reason.code, "words": reason.words} for reason in found.reasons])
        inputs = inputs_key(Case(coat, habits), self._seasons, DEFAULTS.version)
        # Most layers share their reasons with others; one text for all of them.
        shared = self._reasons.setdefault(reasons, reasons)
        if found.window is None:
            return Stored(None, None, None, shared, inputs)
        return Stored(str(found.window.low), str(found.window.likely), str(found.window.high), shared, inputs)
