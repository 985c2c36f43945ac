"""How long layers really last in the demo, which nobody there knows: the water on a car shows it.

Every layer has a life of its own, drawn from what its product is held to do times `REALLY`, and wears by the clocks
of the engine. So grades, forecasts and what is learned from them fit together.
"""

from __future__ import annotations

import random
from dataclasses import dataclass, field
from datetime import datetime

from crm.care.coats import Case
from crm.care.course import Setting
from crm.care.life import life_of
from crm.care.surfaces import ZONE_OF, Surfaces, Zone
from crm.care.terms import WaterGrade
from crm.care.used_life import used_on
from crm.models import Car, Layer, Studio
from crm.selectors.coats import CarFacts, car_facts, coat_of, layers_of, live_surfaces, lumps_on
from crm.selectors.studio import seasons_of, tables_of
from crm.services.demo import stock

REALLY = {stock.SEALANT: 0.7, stock.WINTER_WAX: 1.1}
"""How many times as long a product really lasts as it was said to when it was bought."""
_SAID = dict(stock.LIVES)
_ONE_OFF = 0.05
"""How often an eye sees one grade too much or too little."""


@dataclass
class Nature:
    """What becomes of layers, and how water then behaves. The same seed gives the same lives."""

    chance: random.Random
    lives: dict[int, float] = field(default_factory=dict)

    def water(self, car: Car, on: Surfaces, *, at: datetime, studio: Studio) -> int:
        """The grade that somebody would give clean surfaces at a moment: the best that lies there holds the water."""
        layers = layers_of(car)
        facts = car_facts(car, layers)
        here = [layer for layer in layers if layer.laid_at < at and live_surfaces(layer, at=at) & on]
        left = [self._left(layer, ZONE_OF[next(iter(on))], facts, at, studio) for layer in here]
        grade = _grade_of(max(left, default=0.0), studio)
        if self.chance.random() < _ONE_OFF:
            grade = min(max(grade + self.chance.choice((-1, 1)), WaterGrade.WETS_OUT), WaterGrade.TIGHT)
        return int(grade)

    def _left(self, layer: Layer, zone: Zone, facts: CarFacts, at: datetime, studio: Studio) -> float:
        """The share of a layer's life that is left in a zone."""
        setting = Setting(seasons_of(studio), tables_of(studio))
        coat = coat_of(layer, zone, facts, studio)
        held = life_of(coat.product_class, zone, own=_SAID.get(layer.product.name), tables=setting.tables)
        if held is None:
            return 0.0
        drawn = self.lives.setdefault(layer.pk, self.chance.uniform(0.02, 0.98))
        life = held.weibull.quantile(drawn) * REALLY.get(layer.product.name, 1.0)
        case = Case(coat, facts.habits, lumps_on(layer, layer.surfaces, facts, studio))
        used = used_on(case, at.astimezone(studio.zone).date(), setting, with_that_day=False)
        return 1 - used.age / life


def _grade_of(left: float, studio: Studio) -> int:
    shares = tables_of(studio).inspection.left
    return next(
        (grade for grade in sorted(shares, reverse=True) if left > shares[grade].low), WaterGrade.WETS_OUT
    )
