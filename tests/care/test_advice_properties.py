"""What holds for every aftercare sheet. The table of cautions below is written from the trade's own list
(common practice, no source), on purpose apart from the data that the composer reads."""

from __future__ import annotations

import json
import re
from collections.abc import Callable
from datetime import UTC, date, datetime, timedelta
from itertools import combinations
from typing import NamedTuple

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from crm.care.advice import Circumstances, Dont, Line, OnCar, Rank, Setting, Sheet, compose
from crm.care.advice_texts import text_set
from crm.care.seasons import SALT, MonthDay, Season
from crm.care.surfaces import Zone
from crm.care.terms import Circumstance, Paint, Process, ProductClass, Wash

SOUTHERN = Season(MonthDay(5, 1), MonthDay(9, 30))
CABIN = {Zone.SEATS, Zone.CABIN_TRIM, Zone.CARPETS}
NOT_OUTSIDE = CABIN | {Zone.ENGINE_BAY}


class Case(NamedTuple):
    layers: list[OnCar]
    fresh: list[Setting]
    owner: Circumstances
    now: datetime
    salt: Season
    processes: list[Process]

    @property
    def pairs(self) -> set[tuple[ProductClass, Zone]]:
        live = {(layer.product_class, layer.zone) for layer in self.layers}
        return live | {(layer.product_class, layer.zone) for layer in self.fresh}

    @property
    def zones(self) -> set[Zone]:
        return {zone for _, zone in self.pairs}

    @property
    def classes(self) -> set[ProductClass]:
        return {product_class for product_class, _ in self.pairs}

    def did(self, *processes: Process) -> bool:
        return bool(set(processes) & set(self.processes))

    def is_(self, *flags: Circumstance) -> bool:
        return bool(set(flags) & self.owner.flags)

    @property
    def winter_near(self) -> bool:
        days = (self.now.date() + timedelta(days=ahead) for ahead in range(46))
        return any(self.salt.contains(day) for day in days)

    def sheet(self) -> Sheet:
        return compose(
            layers=self.layers,
            fresh=self.fresh,
            circumstances=self.owner,
            today=self.now.date(),
            now=self.now,
            salt=self.salt,
            processes=self.processes,
        )


P, C, K = Process, Circumstance, ProductClass
INSIDE_WORK = (P.INTERIOR_CLEAN, P.LEATHER_CLEAN, P.FABRIC_CLEAN, P.RETRIM)
INSIDE_CLASSES = {K.LEATHER_CREAM, K.LEATHER_COATING, K.SUEDE_PROTECTOR, K.FABRIC_GUARD}
COATINGS = {K.LIGHT_COATING, K.COATING_ENTHUSIAST, K.COATING_PROFESSIONAL, K.COATING_MULTI}
WHEEL_ZONES = {Zone.WHEELS, Zone.BARRELS, Zone.WHEELS_TWO, Zone.BARRELS_TWO, Zone.CALIPERS}

ALWAYS = (
    "sheet_and_rules_first",
    "slippery",
    "brakes",
    "wet_road",
    "never_mix",
    "eyes_and_skin",
    "high_pressure",
    "children_and_pets",
    "firm_footing",
)
APPLIES: dict[str, Callable[[Case], bool]] = {
    "wheel_acids": lambda c: bool(c.zones - NOT_OUTSIDE) or c.did(P.WHEELS_CLEANED) or c.is_(C.HARD_WATER),
    "iron_remover": lambda c: (
        bool(c.zones & (WHEEL_ZONES | {Zone.METAL}))
        or c.did(P.IRON_REMOVER)
        or c.is_(C.TRACK, C.BUILDING_WORK)
    ),
    "strong_alkali": lambda c: (
        bool(c.zones & (WHEEL_ZONES | {Zone.METAL, Zone.UNDERBODY})) or c.did(P.PRE_WASH_STRONG, P.STRIP_WASH)
    ),
    "solvents": lambda c: (
        bool(c.classes & COATINGS)
        or c.did(P.TAR_REMOVER, P.PANEL_WIPE)
        or c.is_(C.TRACK, C.TREES, C.SENSITIVE)
    ),
    "breathing": lambda c: (
        bool(c.zones & CABIN or c.classes & INSIDE_CLASSES) or c.did(*INSIDE_WORK) or c.is_(C.SENSITIVE)
    ),
    "belts_and_airbags": lambda c: (
        bool(c.zones & CABIN or c.classes & INSIDE_CLASSES)
        or c.did(*INSIDE_WORK)
        or c.is_(C.CHILDREN, C.DOGS)
    ),
    "electric_car": lambda c: c.is_(C.ELECTRIC),
    "engine_bay": lambda c: Zone.ENGINE_BAY in c.zones or K.ENGINE_BAY_DRESSING in c.classes,
    "frosted_glass": lambda c: bool(c.zones & {Zone.SCREEN, Zone.GLASS}) or c.winter_near,
    "screen_vision": lambda c: Zone.SCREEN in c.zones or c.did(P.GLASS_REPLACED),
    "cameras_and_radar": lambda c: (
        c.is_(C.DRIVER_ASSISTANCE)
        or bool(c.zones & {Zone.FRONT, Zone.SCREEN})
        or bool(c.classes & {K.PAINT_FILM, K.COLOUR_WRAP})
    ),
    "wheel_nuts": lambda c: (
        bool(c.zones & {Zone.BARRELS, Zone.BARRELS_TWO, Zone.CALIPERS})
        or c.did(P.WHEEL_REFURBISH, P.TYRES_REPLACED)
    ),
    "oily_cloths": lambda c: (
        bool(c.classes & {K.NATURAL_WAX, K.DURABLE_WAX, K.CAVITY_WAX, K.TRIM_DRESSING})
        or c.did(P.TAR_REMOVER)
    ),
}

start = datetime(2025, 1, 1, tzinfo=UTC)
moments = st.integers(0, 5 * 365 * 24 * 60).map(lambda minutes: start + timedelta(minutes=minutes))
hours = st.integers(0, 24 * 30).map(lambda count: timedelta(hours=count))


@st.composite
def settings_of(draw: st.DrawFn, now: datetime) -> Setting:
    laid = now - draw(hours)
    return Setting(
        draw(st.sampled_from(ProductClass)),
        draw(st.sampled_from(Zone)),
        draw(st.sampled_from(["Gannet paint sealant", "Fulmar two-year coating", "Dunlin winter wax"])),
        laid,
        laid + draw(hours),
        laid + draw(hours),
        laid + draw(hours),
        draw(st.none() | hours.map(lambda wait: laid + wait)),
        laid + draw(hours),
    )


@st.composite
def cases(draw: st.DrawFn) -> Case:
    now = draw(moments)
    layer = st.builds(
        OnCar,
        st.sampled_from(ProductClass),
        st.sampled_from(Zone),
        st.sampled_from(["Petrel glass coating", "Gannet paint sealant"]),
        st.sampled_from(["", "until around February"]),
    )
    owner = st.builds(
        Circumstances,
        st.frozensets(st.sampled_from(Circumstance)),
        st.none() | st.sampled_from(Wash),
        st.none() | st.sampled_from(Wash),
        st.sampled_from(Paint),
        st.sampled_from([True, False, None]),
    )
    return Case(
        draw(st.lists(layer, max_size=6)),
        draw(st.lists(settings_of(now), max_size=6)),
        draw(owner),
        now,
        draw(st.sampled_from([SALT, SOUTHERN])),
        draw(st.lists(st.sampled_from(Process), max_size=4)),
    )


@settings(max_examples=100, deadline=None)
@given(cases())
def test_compose_never_lacks_a_caution_that_applies(case: Case) -> None:
    said = {line.code for line in case.sheet().safety}
    needed = {code for code, applies in APPLIES.items() if applies(case)} | set(ALWAYS)
    assert needed - said == set()


@settings(max_examples=100, deadline=None)
@given(cases())
def test_compose_never_contradicts_itself(case: Case) -> None:
    sheet = case.sheet()
    lines: list[Line | Dont] = [*sheet.donts, *sheet.care, *sheet.safety, sheet.first[2]]
    spoken = [line.topic for line in lines]
    clashes = [pair for pair in combinations(spoken, 2) if text_set().clash(*pair)]
    assert clashes == []
    assert len(spoken) == len(set(spoken))


AT_HOME = re.compile(
    r"two buckets|from a bucket|hose|driveway|(?<!not )at home|outside tap|in the yard", re.IGNORECASE
)


@settings(max_examples=100, deadline=None)
@given(cases())
def test_compose_never_sends_someone_to_wash_at_home_where_that_is_not_allowed(case: Case) -> None:
    owner = case.owner
    barred = Circumstances(
        owner.flags | {Circumstance.NO_HOME_WASHING},
        owner.wash_summer,
        owner.wash_winter,
        owner.paint,
        owner.salted_roads,
    )
    sheet = case._replace(owner=barred).sheet()
    lines: list[Line | Dont] = [*sheet.first, *sheet.care, *sheet.donts]
    assert [line.words for line in lines if AT_HOME.search(line.words)] == []
    assert sheet.first[2].code in {"wash_away", "wash_away_hand", "wash_paid"}


@settings(max_examples=100, deadline=None)
@given(cases())
def test_compose_gives_whole_ordered_lines(case: Case) -> None:
    sheet = case.sheet()
    ends = [dont.until for dont in sheet.donts]
    assert ends == sorted(ends)
    assert all(end > case.now for end in ends)
    assert len(sheet.first) == 3
    ranks = [line.rank for line in sheet.care]
    assert ranks == sorted(ranks)
    assert Rank.SAFETY not in ranks
    assert {line.rank for line in sheet.safety} == {Rank.SAFETY}
    lines: list[Line | Dont] = [*sheet.first, *sheet.donts, *sheet.care, *sheet.safety]
    for line in lines:
        assert line.words.strip()
        assert line.why.strip()
        assert "!" not in line.words + line.why


@settings(max_examples=50, deadline=None)
@given(cases())
def test_sheet_survives_storage(case: Case) -> None:
    sheet = case.sheet()
    assert Sheet.from_dict(json.loads(json.dumps(sheet.to_dict()))) == sheet


@pytest.mark.parametrize("product_class", ProductClass)
def test_compose_has_something_to_say_for_every_class_on_every_zone(product_class: ProductClass) -> None:
    now = datetime(2026, 5, 4, 15, 10, tzinfo=UTC)
    drive, dry, wash, topper, cured = (now + timedelta(hours=count) for count in (1, 12, 48, 72, 168))
    for zone in Zone:
        fresh = [
            Setting(product_class, zone, "Fulmar two-year coating", now, drive, dry, wash, topper, cured)
        ]
        sheet = Case([], fresh, Circumstances(), now, SALT, []).sheet()
        own = {line.code for line in sheet.care} | {sheet.first[1].code}
        spoken = {
            text.code
            for text in text_set().texts
            if any(when.classes and product_class in when.classes for when in text.when)
        }
        assert own & spoken
        assert set(ALWAYS) <= {line.code for line in sheet.safety}
        assert date(2026, 5, 4) <= sheet.donts[0].until.date()
