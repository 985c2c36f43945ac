"""The note that a car may be washed, its tone and its privacy, whatever it is filled with."""

from __future__ import annotations

import re
from datetime import UTC, date, datetime
from zoneinfo import ZoneInfo

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from crm.care.advice import Circumstances, Dont, OnCar, Telling, washing_line
from crm.care.letters import Addressed, since_words, wash_now
from crm.care.seasons import SALT
from crm.care.surfaces import Zone
from crm.care.terms import Circumstance, ProductClass, Wash

TELLING = Telling(datetime(2026, 5, 11, 14, 10, tzinfo=UTC), ZoneInfo("Europe/London"))
TODAY = date(2026, 9, 14)
TO = Addressed("Mrs K", "blue estate", ("QA26 DEM", "ZZZ12345678901234"))


def note(to: Addressed = TO, layers: tuple[str, ...] = ("Fulmar coating",)) -> tuple[str, ...]:
    on_it = [OnCar(ProductClass.COATING_PROFESSIONAL, Zone.TOPS, "Fulmar coating", "")]
    washing = washing_line(layers=on_it, circumstances=Circumstances(), today=date(2026, 5, 11), salt=SALT)
    return wash_now(to, layers, washing, [], TELLING)


@pytest.mark.parametrize(
    "typed", ["QA26DEM", "qa26 dem", "AB51 XYZ", "a123 bcd", "ABC 123D", "1FTFW1ET5DFC10312", "q-a 2.6 d_e m"]
)
def test_notes_leave_out_plates_and_chassis_numbers(typed: str) -> None:
    opening = note(Addressed("Mrs K", f"blue {typed} estate", ("QA26 DEM",)))[0]
    assert opening == (
        "Hello Mrs K, the no-wash time of the Fulmar coating on your blue estate is over: you may wash it now."
    )


def test_notes_keep_words_that_only_look_a_little_like_a_plate() -> None:
    opening = note(Addressed("", "Corrie 3-door"), ("Fulmar 24 month",))[0]
    assert opening == (
        "Hello, the no-wash time of the Fulmar 24 month on your Corrie 3-door is over: you may wash it now."
    )


@settings(max_examples=100, deadline=None)
@given(st.text(max_size=120), st.text(max_size=120), st.lists(st.text(max_size=60), max_size=3))
def test_note_is_calm_and_private_whatever_it_is_filled_with(name: str, car: str, layers: list[str]) -> None:
    to = Addressed(name, f"{car} QA26 DEM", ("QA26 DEM", "ZZZ12345678901234", "HX 77", ""))
    said = " ".join(note(to, tuple(layers)))
    assert not re.search("[!¡\uff01]", said)
    bare = re.sub(r"[\W_]", "", said).casefold()
    assert "qa26dem" not in bare
    assert "zzz12345678901234" not in bare


def test_wash_now_tells_the_first_wash_the_brakes_and_what_runs_on() -> None:
    layers = [OnCar(ProductClass.COATING_PROFESSIONAL, Zone.TOPS, "Fulmar coating", "")]
    owner = Circumstances(frozenset({Circumstance.NO_HOME_WASHING}), Wash.HAND_NEUTRAL)
    washing = washing_line(layers=layers, circumstances=owner, today=date(2026, 5, 11), salt=SALT)
    cover = Dont("no_cover", "No cover.", "why", datetime(2026, 5, 25, 14, 10, tzinfo=UTC), "no_cover")
    spray = Dont("no_spray", "No spray.", "why", datetime(2026, 5, 12, 14, 10, tzinfo=UTC), "no_spray")
    said = wash_now(TO, ["Fulmar coating", "Curlew trim coating"], washing, [spray, cover], TELLING)
    assert said[0] == (
        "Hello Mrs K, the no-wash time of the Fulmar coating and Curlew trim coating on your blue estate is "
        "over: you may wash it now."
    )
    assert said[1].startswith("For the first wash: wash it at a wash bay, not at home")
    assert said[2].startswith("Afterwards drive slowly and press the brake pedal lightly")
    assert said[3] == (
        "Some waits run on: no spray, until Tuesday 12 May, 15:10; no cover, until the end of Monday 25 May."
    )


def test_since_words_adds_the_year_to_what_is_long_ago() -> None:
    assert since_words(date(2026, 4, 20), TODAY) == "April"
    assert since_words(date(2025, 9, 1), TODAY) == "September 2025"
