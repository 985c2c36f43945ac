"""Notes and letters: their tone, and the winter prompt's length whatever it is filled with."""

from __future__ import annotations

import re
from datetime import UTC, date, datetime
from zoneinfo import ZoneInfo

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from crm.care.advice import Circumstances, Dont, ForecastDayError, OnCar, washing_line
from crm.care.letters import (
    Addressed,
    FactKind,
    Offer,
    WinterFact,
    maintenance_wash,
    since_words,
    top_up,
    wash_now,
    winter_prompt,
)
from crm.care.seasons import SALT
from crm.care.surfaces import Zone
from crm.care.terms import Circumstance, ProductClass, Wash

LONDON = ZoneInfo("Europe/London")
TODAY = date(2026, 9, 14)
TO = Addressed("Mrs K", "blue estate", ("QA26 DEM", "ZZZ12345678901234"))
THIN = WinterFact(FactKind.THIN, date(2026, 4, 20), layer="Gannet paint sealant", around="around January")
OFFER = Offer(5.5, (date(2026, 10, 6), date(2026, 10, 15), date(2026, 10, 19)), "from £180")


def test_winter_prompt_says_one_fact_the_work_the_days_and_an_easy_no() -> None:
    said = winter_prompt(TO, THIN, "winter coat", OFFER, TODAY, None)
    assert said == (
        "Hello Mrs K, the Gannet paint sealant on your blue estate, laid in April, will be getting thin "
        "around January. A winter coat takes about six hours, from £180. Free: Tuesday 6 October, Thursday "
        "15 October or Monday 19 October. Reply with a date, “later” or “no thanks”; each is fine. “Stop” "
        "ends these letters."
    )


def test_winter_prompt_names_the_salted_month_where_there_is_room() -> None:
    fact = WinterFact(FactKind.UNSEEN, date(2026, 4, 20))
    said = winter_prompt(TO, fact, "winter coat", Offer(6), TODAY, date(2026, 11, 1))
    assert "Roads here are usually salted from November." in said
    assert said.startswith("Hello Mrs K, we last looked over your blue estate in April.")


def test_winter_prompt_tells_of_bare_paint() -> None:
    fact = WinterFact(FactKind.BARE, date(2025, 6, 1), part="left rear wing")
    said = winter_prompt(TO, fact, "winter coat", OFFER, TODAY, None)
    assert said.startswith(
        "Hello Mrs K, the left rear wing of your blue estate has had nothing on it since June 2025."
    )


fields = st.text(max_size=120) | st.sampled_from(
    ["QA26 DEM", "qa26-dem!", "ZZZ12345678901234", "blue estate QA!26DEM", "a " * 40, "Halden Estate"]
)
days = st.dates(date(2020, 1, 1), date(2035, 1, 1))


@st.composite
def prompts(draw: st.DrawFn) -> str:
    fact = WinterFact(
        draw(st.sampled_from(FactKind)),
        draw(days),
        layer=draw(fields),
        around=draw(st.sampled_from(["around January", "", "around the turn of the year!", "soon " * 30])),
        part=draw(fields),
    )
    offer = Offer(draw(st.floats(0, 500)), tuple(draw(st.lists(days, max_size=8))), draw(fields))
    to = Addressed(draw(fields), draw(fields), ("QA26 DEM", "ZZZ12345678901234", "HX 77", ""))
    return winter_prompt(to, fact, draw(fields), offer, draw(days), draw(st.none() | days))


@settings(max_examples=100, deadline=None)
@given(prompts())
def test_winter_prompt_is_short_calm_and_private_whatever_it_is_filled_with(said: str) -> None:
    assert len(said.split()) < 60
    assert not re.search("[!¡\uff01]", said)
    bare = re.sub(r"[\W_]", "", said).casefold()
    assert "qa26dem" not in bare
    assert "zzz12345678901234" not in bare
    assert said.endswith("“Stop” ends these letters.")
    assert "“no thanks”; each is fine" in said


@pytest.mark.parametrize(
    "typed", ["QA26DEM", "qa26 dem", "AB51 XYZ", "a123 bcd", "ABC 123D", "1FTFW1ET5DFC10312", "q-a 2.6 d_e m"]
)
def test_letters_leave_out_plates_and_chassis_numbers(typed: str) -> None:
    to = Addressed("Mrs K", f"blue {typed} estate", ("QA26 DEM",))
    opening, *_ = maintenance_wash(to, None, "", OFFER, TODAY)
    assert opening == "Hello Mrs K, a maintenance wash is about due for your blue estate."


def test_letters_keep_words_that_only_look_a_little_like_a_plate() -> None:
    to = Addressed("", "Corrie 3-door")
    assert maintenance_wash(to, None, "Fulmar 24 month", Offer(3), TODAY)[:2] == (
        "Hello, a maintenance wash is about due for your Corrie 3-door.",
        (
            "We wash it by hand, see how water behaves on the Fulmar 24 month and tell you what we find; "
            "it takes about three hours."
        ),
    )


def test_maintenance_wash_says_when_the_car_was_last_here() -> None:
    letter = maintenance_wash(TO, date(2026, 5, 4), "Fulmar coating", OFFER, TODAY)
    assert letter == (
        "Hello Mrs K, your blue estate was last here in May, so a maintenance wash is about due.",
        (
            "We wash it by hand, see how water behaves on the Fulmar coating and tell you what we find; it "
            "takes about six hours. Free at the moment: Tuesday 6 October, Thursday 15 October or Monday 19 "
            "October."
        ),
        "Reply with a date, “later” or “no thanks”; each is fine.",
        "You get this because we look after your car. “Stop” ends these letters.",
    )


def test_top_up_speaks_of_thin_with_the_reason_on_record() -> None:
    sealant = WinterFact(FactKind.THIN, date(2026, 4, 20), layer="Gannet sealant", around="around January")
    letter = top_up(TO, sealant, "22,000 km a year and a winter on salt", Offer(1), TODAY)
    assert letter[:3] == (
        (
            "Hello Mrs K, the Gannet sealant on your blue estate, laid in April, will be getting thin around "
            "January."
        ),
        "We reckon that from 22,000 km a year and a winter on salt; a look at the car tells us more.",
        "Topping it up before then is the smaller job: about one hour.",
    )


def test_top_up_refuses_a_fact_about_something_else() -> None:
    with pytest.raises(ValueError, match="getting thin"):
        top_up(TO, WinterFact(FactKind.UNSEEN, TODAY), "", OFFER, TODAY)


def test_winter_fact_refuses_a_forecast_day() -> None:
    with pytest.raises(ForecastDayError):
        WinterFact(FactKind.THIN, TODAY, layer="Gannet paint sealant", around="around 12 January")


def test_wash_now_tells_the_first_wash_the_brakes_and_what_runs_on() -> None:
    layers = [OnCar(ProductClass.COATING_PROFESSIONAL, Zone.TOPS, "Fulmar coating", "")]
    owner = Circumstances(frozenset({Circumstance.NO_HOME_WASHING}), Wash.HAND_NEUTRAL)
    washing = washing_line(layers=layers, circumstances=owner, today=date(2026, 5, 11), salt=SALT)
    cover = Dont("no_cover", "No cover.", "why", datetime(2026, 5, 25, 14, 10, tzinfo=UTC), "no_cover")
    note = wash_now(TO, ["Fulmar coating", "Curlew trim coating"], washing, [cover], LONDON)
    assert note[0] == (
        "Hello Mrs K, the no-wash time of the Fulmar coating and Curlew trim coating on your blue estate is "
        "over: you may wash it now."
    )
    assert note[1].startswith("For the first wash: wash it at a wash bay, not at home")
    assert note[2].startswith("Afterwards drive slowly and press the brake pedal lightly")
    assert note[3] == "Some waits run on: no cover, until Monday 25 May, 15:10."


def test_since_words_adds_the_year_to_what_is_long_ago() -> None:
    assert since_words(date(2026, 4, 20), TODAY) == "April"
    assert since_words(date(2025, 9, 1), TODAY) == "September 2025"
