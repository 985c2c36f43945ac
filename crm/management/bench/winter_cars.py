"""Branches of the winter bench: made-up cars with eight live layers each, and weeks that are partly booked."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import date, timedelta
from random import Random

from crm.care.coats import Case, Coat, Habit
from crm.care.course import Setting
from crm.care.seasons import Seasons
from crm.care.surfaces import Zone
from crm.care.tables import DEFAULTS
from crm.care.terms import Air, Parking, Prep, ProductClass, Wash, WaterGrade
from crm.care.winter_car import Candidate, Owner, Whereabouts
from crm.care.winter_curves import worn_curve
from crm.care.winter_plan import round_mondays
from crm.care.winter_round import Round, Week
from crm.care.winter_worth import Cover, Lying, salted_span

ON = date(2026, 8, 24)
SETTING = Setting(Seasons(), DEFAULTS)
SPAN = salted_span(SETTING.seasons.salt.current_or_next(ON))
WEEK_HOURS, WEEK_NIGHTS = 150.0, 20.0
"""Five people of 30 hands-on hours, four bays over five nights."""
LAYERS_A_CAR = 8
_PAINT = (Zone.TOPS, Zone.FRONT, Zone.UPPER_SIDES, Zone.LOWER_SIDES, Zone.SHUTS)
_KINDS = {
    ProductClass.POLYMER_SEALANT: 40,
    ProductClass.DURABLE_WAX: 15,
    ProductClass.LIGHT_COATING: 15,
    ProductClass.COATING_PROFESSIONAL: 30,
}
_COATINGS = (ProductClass.LIGHT_COATING, ProductClass.COATING_PROFESSIONAL)
_KM = (None, 4_000, 8_000, 12_000, 20_000, 35_000)


@dataclass(frozen=True)
class Parked:
    """A car with its layers as they are recorded, before any of them is followed; `facts` is all else."""

    key: int
    layers: tuple[Case, ...]
    bare: tuple[Zone, ...]
    facts: Candidate


def made_up_branch(
    seed: int, cars: int, weeks: int, *, all_may_be_asked: bool = False
) -> tuple[Round, list[Parked]]:
    """The same branch for the same seed: so many cars that were here in the last two years, and so many weeks.

    With `all_may_be_asked` nothing speaks against any of them, so that the search has them all to choose from.
    """
    dice = Random(seed)  # noqa: S311 - made-up facts, not secrets
    mondays = round_mondays(SETTING.seasons.salt, ON)[:1]
    made = tuple(_week(dice, mondays[0] + timedelta(weeks=place)) for place in range(weeks))
    season = Round(on=ON, weeks=made, span=SPAN, setting=SETTING)
    return season, [_car(dice, key, all_may_be_asked) for key in range(cars)]


def followed(cars: Sequence[Parked]) -> list[Candidate]:
    """The cars as candidates, with a curve for each of their layers."""
    return [_candidate(car) for car in cars]


def _candidate(car: Parked) -> Candidate:
    lying: dict[Zone, list[Lying]] = {zone: [] for zone in car.bare}
    for case in car.layers:
        coat = case.coat
        layer = Lying(coat.product_class, coat.laid_on, worn_curve(case, SPAN, SETTING))
        lying.setdefault(coat.zone, []).append(layer)
    cover = tuple(Cover(zone, tuple(layers), had_one=not layers) for zone, layers in lying.items())
    return replace(car.facts, cover=cover)


def _week(dice: Random, monday: date) -> Week:
    """A week of which a third to four fifths is booked with other work."""
    booked = dice.uniform(0.35, 0.80)
    return Week(monday, WEEK_HOURS, WEEK_NIGHTS, booked * WEEK_HOURS, booked * WEEK_NIGHTS / 2)


def _car(dice: Random, key: int, may_be_asked: bool) -> Parked:
    laid_on = ON - timedelta(days=dice.randrange(60 if may_be_asked else 20, 730))
    habit = _habit(dice, (None, True, True, True) if may_be_asked else (None, True, True, True, False))
    habits = (habit,) if habit else ()
    kind = dice.choices(list(_KINDS), weights=list(_KINDS.values()))[0]
    layers = [(kind, zone) for zone in _PAINT]
    layers += [
        (ProductClass.WHEEL_SEALANT, Zone.WHEELS),
        (ProductClass.RAIN_REPELLENT, Zone.SCREEN),
        (ProductClass.SEAL_CONDITIONER, Zone.SEALS),
    ]
    bare: tuple[Zone, ...] = ()
    if dice.random() < 0.1:  # resprayed along the sides, with a topper on the tops
        layers[3] = (ProductClass.SILICA_TOPPER, Zone.TOPS)
        bare = (Zone.LOWER_SIDES,)
    cases = tuple(Case(_coat(dice, kind, zone, laid_on), habits) for kind, zone in layers)
    facts = _facts(dice, key, kind, laid_on, habit)
    if may_be_asked:
        facts = replace(facts, owner=Owner(), whereabouts=Whereabouts.ACTIVE, booked_on=None)
    return Parked(key, cases, bare, facts)


def _coat(dice: Random, kind: ProductClass, zone: Zone, laid_on: date) -> Coat:
    return Coat(kind, zone, laid_on, prep=dice.choice((None, *Prep)), air=dice.choice((None, Air.INSIDE)))


def _habit(dice: Random, on_salt: Sequence[bool | None]) -> Habit | None:
    if dice.random() < 0.3:
        return None
    return Habit(
        date(2020, 1, 1),
        dice.choice((None, *Parking)),
        dice.choice(_KM),
        dice.choice(on_salt),
        dice.choice((None, *Wash)),
        dice.choice((None, *Wash)),
        dice.random() < 0.2,
    )


def _facts(dice: Random, key: int, kind: ProductClass, laid_on: date, habit: Habit | None) -> Candidate:
    owner = Owner(
        reachable=dice.random() >= 0.04,
        opted_out=dice.random() < 0.06,
        died=dice.random() < 0.002,
        complaint_since=date(2026, 8, 3) if dice.random() < 0.005 else None,
        paused_since=date(2026, 6, 1) if dice.random() < 0.01 else None,
    )
    places = (Whereabouts.ACTIVE, Whereabouts.STORED, Whereabouts.SOLD)
    return Candidate(
        key=key,
        cover=(),
        owner=owner,
        whereabouts=dice.choices(places, weights=(93, 4, 3))[0],
        habit=habit,
        last_seen=laid_on,
        booked_on=date(2026, 9, 14) if dice.random() < 0.06 else None,
        coat_grade=dice.choice((None, *WaterGrade)) if kind in _COATINGS else None,
        swap_due=dice.random() < 0.2,
        promise_due=date(2026, 11, 3) if dice.random() < 0.03 else None,
    )
