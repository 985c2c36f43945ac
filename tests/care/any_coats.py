"""Any layer, any way of keeping a car, any events and any seasons: strategies that the property tests share."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date, timedelta

from hypothesis import strategies as st

from crm.care.forecast import Coat, Habit, Idle, Look, Lump
from crm.care.life import Life
from crm.care.seasons import MonthDay, Season, Seasons
from crm.care.surfaces import Zone
from crm.care.terms import Air, Moment, Parking, Prep, Process, ProductClass, Wash, WaterGrade

CLASSES = [product_class for product_class in ProductClass if product_class is not ProductClass.UNKNOWN]
SHORT = [
    ProductClass.NATURAL_WAX,
    ProductClass.POLYMER_SEALANT,
    ProductClass.SILICA_TOPPER,
    ProductClass.LIGHT_COATING,
    ProductClass.WHEEL_COATING,
    ProductClass.LEATHER_COATING,
    ProductClass.TRIM_DRESSING,
]
EVENTS = [
    Process.TUNNEL_WASH,
    Process.TOUCH_FREE_WASH,
    Process.STRIP_WASH,
    Process.TAR_REMOVER,
    Process.CLAY,
    Process.CONTACT_WASH,
    Process.FINE_POLISH,
]

laying_days = st.dates(date(2018, 1, 1), date(2032, 12, 31))
month_days = st.dates(date(2024, 1, 1), date(2024, 12, 31)).map(lambda day: MonthDay(day.month, day.day))
one_season = (
    st.tuples(month_days, month_days)
    .filter(lambda ends: ends != (MonthDay(2, 29), MonthDay(2, 29)))
    .map(lambda ends: Season(*ends))
)
SOUTH = Seasons(salt=Season(MonthDay(6, 1), MonthDay(8, 31)), hot=Season(MonthDay(12, 1), MonthDay(2, 29)))
any_seasons = st.one_of(st.just(Seasons()), st.just(SOUTH), st.builds(Seasons, one_season, one_season))
habits = st.builds(
    Habit,
    since=st.dates(date(2016, 1, 1), date(2036, 1, 1)),
    parking=st.none() | st.sampled_from(Parking),
    km_a_year=st.none() | st.integers(0, 60_000),
    salted_roads=st.none() | st.booleans(),
    wash_summer=st.none() | st.sampled_from(Wash),
    wash_winter=st.none() | st.sampled_from(Wash),
    on_plan=st.booleans(),
    stored=st.booleans(),
)
courses = st.lists(habits, max_size=4)
elicited = (
    st.tuples(*[st.floats(0.25, 40)] * 3).map(sorted).map(lambda three: Life(three[0], three[1], three[2]))
)


def coats(classes: Sequence[ProductClass] = CLASSES) -> st.SearchStrategy[Coat]:
    return st.builds(
        Coat,
        product_class=st.sampled_from(classes),
        zone=st.sampled_from(Zone),
        laid_on=laying_days,
        life=st.none() | elicited,
        prep=st.none() | st.sampled_from(Prep),
        air=st.none() | st.sampled_from(Air),
        got_wet_early=st.booleans(),
        hard_used=st.booleans(),
    )


events = st.lists(
    st.builds(Lump, st.dates(date(2018, 1, 1), date(2034, 1, 1)), st.sampled_from(EVENTS)), max_size=4
)


@st.composite
def rests(draw: st.DrawFn) -> tuple[Idle, ...]:
    found = []
    for _ in range(draw(st.integers(0, 3))):
        start = draw(st.dates(date(2017, 1, 1), date(2034, 1, 1)))
        length = draw(st.none() | st.integers(0, 400))
        found.append(Idle(start, None if length is None else start + timedelta(days=length)))
    return tuple(found)


looks = st.lists(
    st.builds(
        Look,
        st.dates(date(2018, 1, 1), date(2034, 1, 1)),
        st.sampled_from(WaterGrade),
        st.sampled_from(Moment),
    ),
    max_size=3,
)
