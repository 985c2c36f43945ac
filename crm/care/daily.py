"""The plain baseline: the same forecast by walking the days one by one.

It says the model in the simplest way and shares nothing with the exact clock but the figures. The tests and
the benchmark compare the two.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, timedelta

from crm.care.coats import Coat, Habit, Lump
from crm.care.factors import Influence
from crm.care.figures import Triple
from crm.care.life import life_of, life_window, place_of
from crm.care.months import DAYS_IN_MONTH
from crm.care.seasons import Seasons
from crm.care.tables import DEFAULTS, Tables
from crm.care.terms import Process, Wash

_MOST_DAYS = 36525


@dataclass(frozen=True)
class DailyWalk:
    """One layer and all its facts, walked day by day. `clock` is 0 pessimistic, 1 likely, 2 kind."""

    coat: Coat
    habits: Sequence[Habit]
    lumps: Sequence[Lump]
    seasons: Seasons
    tables: Tables = DEFAULTS

    def window(self) -> tuple[date, date, date] | None:
        """The low, likely and high date; None where the class has no forecast."""
        coat = self.coat
        life = life_of(
            coat.product_class, coat.zone, own=coat.life, hard_used=coat.hard_used, tables=self.tables
        )
        return None if life is None else self.dates(life_window(life))

    def dates(self, lives: Triple) -> tuple[date, date, date]:
        """The low, likely and high date for three lives in reference months."""
        low, likely, high = lives
        return self.worn_on(0, low), self.worn_on(1, likely), self.worn_on(2, high)

    def worn_on(self, clock: int, months: float) -> date:
        """The first day on which a life of so many reference months is used up.

        Raises ValueError where it lasts more than a hundred years.
        """
        worn, lost, day = 0.0, 0.0, self.coat.laid_on
        quality = self._quality(clock)
        for _ in range(_MOST_DAYS):
            if day > self.coat.laid_on:
                lost += sum(self._share(lump, day, clock) for lump in self.lumps if lump.on == day)
            if worn >= months * DAYS_IN_MONTH * (quality - lost):
                return day
            worn += self._rate(day, clock)
            day += timedelta(days=1)
        raise ValueError("This layer would last more than a hundred years.")

    def _rate(self, day: date, clock: int) -> float:
        wear, coat = self.tables.wear, self.coat
        if self._off_the_car(day, clock):
            return 0.0
        there = self.tables.zones[self.tables.twin(coat.zone)]
        family = self.tables.lives[coat.product_class].family
        habit, salted, acts = self._habit(day), self.seasons.salt.contains(day), there.acts
        rate = 1.0 if place_of(coat.product_class, coat.zone, self.tables).special else there.wear
        if Influence.PARKING in acts:
            rate *= wear.stored_parking if habit.stored else wear.parking[habit.parking][clock]
        if Influence.DISTANCE in acts:
            rate *= self._distance(habit, clock)
        if Influence.WASH in acts and not habit.stored:
            rate *= wear.wash[family][habit.wash_winter if salted else habit.wash_summer][clock]
        season = 1.0
        if salted and Influence.SALT in acts and not habit.stored:
            share = wear.salted_unknown[clock] if habit.salted_roads is None else float(habit.salted_roads)
            season = 1 + (wear.salt[family] * there.salt - 1) * share
        if self.seasons.hot.contains(day) and Influence.HEAT in acts and not habit.stored:
            indoors = habit.parking in wear.under_a_roof
            share = wear.heat_unknown[clock] if habit.parking is None else float(not indoors)
            season = max(season, 1 + (wear.hot[family] - 1) * share)
        rate *= season
        if habit.on_plan and Influence.PLAN in acts:
            rate *= wear.plan
        return min(max(rate, wear.slowest), wear.fastest)

    def _distance(self, habit: Habit, clock: int) -> float:
        wear = self.tables.wear
        if habit.stored:
            return wear.stored_distance
        if habit.km_a_year is None:
            return wear.distance_unknown[clock]
        for limit, factor in zip(wear.distance_limits, wear.distance, strict=False):
            if habit.km_a_year <= limit:
                return factor
        return wear.distance[-1]

    def _quality(self, clock: int) -> float:
        wear, coat = self.tables.wear, self.coat
        family = self.tables.lives[coat.product_class].family
        wet = wear.got_wet_early if coat.got_wet_early else 1.0
        return wear.air[coat.air][clock] * wear.prep[family][coat.prep][clock] * wet

    def _share(self, lump: Lump, day: date, clock: int) -> float:
        wear, coat = self.tables.wear, self.coat
        if lump.process in wear.ends:
            return 1.0
        share = wear.lumps[self.tables.lives[coat.product_class].family].get(lump.process, 0.0)
        machine = {Process.TUNNEL_WASH: Wash.TUNNEL, Process.TOUCH_FREE_WASH: Wash.TOUCH_FREE}.get(
            lump.process
        )
        if machine is None:
            return share
        there = self.tables.zones[self.tables.twin(coat.zone)]
        off = any(rest.start <= day and (rest.end is None or day < rest.end) for rest in coat.idle)
        if off or Influence.WASH not in there.acts:
            return 0.0
        habit = self._habit(day)
        usual = habit.wash_winter if self.seasons.salt.contains(day) else habit.wash_summer
        if habit.stored:
            return share
        if usual is None:
            return 0.0 if clock == 2 else share
        return 0.0 if usual is machine else share

    def _habit(self, day: date) -> Habit:
        held = [habit for habit in self.habits if habit.since <= day]
        if not held:
            return Habit(since=self.coat.laid_on)
        newest = max(habit.since for habit in held)
        return [habit for habit in held if habit.since == newest][-1]

    def _off_the_car(self, day: date, clock: int) -> bool:
        away = timedelta(days=round(self.tables.wear.off_the_car_months[clock] * DAYS_IN_MONTH))
        return any(
            rest.start <= day < (rest.start + away if rest.end is None else rest.end)
            for rest in self.coat.idle
        )
