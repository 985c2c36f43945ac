"""Headings of the reasons."""

from __future__ import annotations

from crm.care.winter_calls import Why
from crm.care.winter_why import GONE, NOT_IN_PERSON, WHY_NAMES


def test_every_reason_has_a_heading_of_its_own() -> None:
    assert set(WHY_NAMES) == set(Why)
    assert len(set(WHY_NAMES.values())) == len(Why)


def test_nobody_is_asked_about_a_car_that_is_gone_or_comes_anyway() -> None:
    assert GONE < NOT_IN_PERSON
    assert {Why.BOOKED, Why.NO_OWNER} == NOT_IN_PERSON - GONE
    assert Why.NO_ROOM not in NOT_IN_PERSON
