"""Handing over: the sheet is read first, frozen, put into the post, and can be had as paper and calendar."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from typing import Any

import pytest
import time_machine
from django.urls import reverse
from django.utils import timezone
from icalendar import Calendar

from crm.care.advice import day_words
from crm.care.surfaces import PANELS
from crm.care.terms import Parking, ProductClass, Wash
from crm.models import Car, Message, Person, Rank, Sheet, Visit
from crm.selectors.sheet import content_of
from crm.services.visits import Agreed, agree
from tests import factories as made

pytestmark = pytest.mark.django_db


def _coated(*, months: int | None = None, keeper: Person | None = None, **known: Any) -> Visit:
    """A car with a two-year coating on all painted panels, laid today."""
    car: Car = made.car(keeper=keeper, **known)
    made.keeping(
        car, parking=Parking.TREES_OR_INDUSTRY, km_a_year=22_000, salted_roads=True,
        wash_summer=Wash.HAND_NEUTRAL, wash_winter=Wash.TOUCH_FREE,
    )  # fmt: skip
    now = timezone.now()
    stay = made.visit(car, at=now - timedelta(hours=6))
    product = made.product(ProductClass.COATING_PROFESSIONAL, "Fulmar two-year coating")
    made.layer(stay, product, surfaces=PANELS, at=now - timedelta(hours=3))
    if months:
        agree(visit=stay, agreed=Agreed(promise=f"{months} months", promise_months=months), by=None)
    return stay


def test_the_preview_shows_the_words_of_the_sheet_and_whom_it_goes_to() -> None:
    stay = _coated(keeper=made.person("Cerys Brine", email="cerys@example.com"))
    page = made.signed_in(Rank.DESK).get(reverse("hand_over", args=[stay.pk])).content.decode()
    assert "Fulmar two-year coating" in page
    assert "cerys@example.com" in page
    assert "Safety" in page
    assert not Sheet.objects.exists()


def test_without_an_address_the_sheet_is_to_be_printed() -> None:
    stay = _coated(keeper=made.person("Dov Wick", email=None))
    page = made.signed_in().get(reverse("hand_over", args=[stay.pk])).content.decode()
    assert "print the sheet" in page


def test_handing_over_freezes_the_sheet_and_fills_the_post() -> None:
    stay, desk = _coated(), made.signed_in(Rank.DESK)
    answer = desk.post(reverse("hand_over", args=[stay.pk]), {"once": "k" * 22}, follow=True)
    page = answer.content.decode()
    stay.refresh_from_db()
    assert (stay.state, stay.handed_over_by) == ("handed_over", desk.user)  # type: ignore[attr-defined]
    assert content_of(Sheet.objects.get(visit=stay)).layers[0].product == "Fulmar two-year coating"
    assert set(Message.objects.filter(visit=stay).values_list("kind", flat=True)) == {"aftercare", "wash_now"}
    assert "Aftercare note" in page
    again = desk.post(reverse("hand_over", args=[stay.pk]), {"once": "k" * 22})
    assert again.headers["Location"] == reverse("sheet", args=[stay.pk])
    assert Message.objects.filter(visit=stay).count() == 2


def test_a_promise_above_our_own_expectation_needs_a_reason() -> None:
    stay, client = _coated(months=48), made.signed_in(Rank.DESK)
    url = reverse("hand_over", args=[stay.pk])
    assert "You promise 48 months" in client.get(url).content.decode()
    asked = client.post(url, {})
    assert asked.status_code == 422
    assert "Say why it is done all the same." in asked.content.decode()
    stay.refresh_from_db()
    assert stay.state == "in_bay"
    client.post(url, {"reason": "two checks a year are booked"})
    stay.refresh_from_db()
    assert (stay.state, stay.promise_reason) == ("handed_over", "two checks a year are booked")


def test_paper_and_calendar_can_be_had_afterwards() -> None:
    stay, client = _coated(), made.signed_in(Rank.BENCH)
    url = reverse("sheet_pdf", args=[stay.pk])
    assert client.get(url).status_code == 404
    made.signed_in().post(reverse("hand_over", args=[stay.pk]), {})
    paper = client.get(url)
    assert (paper.headers["Content-Type"], paper.content[:5]) == ("application/pdf", b"%PDF-")
    calendar = client.get(reverse("sheet_ics", args=[stay.pk]))
    assert calendar.headers["Content-Type"] == "text/calendar; charset=utf-8"
    assert Calendar.from_ical(calendar.content).walk("VEVENT")
    assert "Fulmar two-year coating" in client.get(reverse("sheet", args=[stay.pk])).content.decode()


@pytest.mark.parametrize(
    ("moment", "day"),
    [
        # 23:30, and an hour later half past midnight, in Skerrin's summer time. In Greenwich it is the 14th both times.
        (datetime(2026, 7, 14, 22, 30, tzinfo=UTC), "2026-07-14"),
        (datetime(2026, 7, 14, 23, 30, tzinfo=UTC), "2026-07-15"),
    ],
)
def test_files_are_named_after_the_day_in_the_studio(moment: datetime, day: str) -> None:
    with time_machine.travel(moment, tick=False):
        stay, client = _coated(), made.signed_in()
        client.post(reverse("hand_over", args=[stay.pk]), {})
        for name in ("sheet_pdf", "sheet_ics"):
            named = client.get(reverse(name, args=[stay.pk])).headers["Content-Disposition"]
            assert named.partition(stay.car.ref.lower())[2].startswith(f"-{day}.")


def test_far_ends_are_told_by_the_day_before_and_after_handing_over() -> None:
    with time_machine.travel(datetime(2026, 5, 4, 14, 10, tzinfo=UTC), tick=False):
        stay, client = _coated(), made.signed_in()
        before = client.get(reverse("hand_over", args=[stay.pk])).content.decode()
        client.post(reverse("hand_over", args=[stay.pk]), {})
        after = client.get(reverse("sheet", args=[stay.pk])).content.decode()
        car = client.get(reverse("car", args=[stay.car.ref])).content.decode()
    waits = content_of(Sheet.objects.get(visit=stay)).waits
    told = [wait.until for wait in waits if wait.ends]
    assert {until.startswith("the end of ") for until in told} == {True, False}
    for page in (before, after):
        assert [f">{until}</time>" in page for until in told] == [True] * len(told)
    last = max(wait.ends for wait in waits if wait.ends)
    assert f"not fully set before <b>the end of {day_words(last.date())}</b>" in car


@pytest.mark.parametrize("name", ["sheet", "sheet_pdf", "sheet_ics"])
def test_a_sheet_that_cannot_be_read_back_is_a_sentence_with_what_to_do(name: str) -> None:
    stay, client = _coated(), made.signed_in()
    client.post(reverse("hand_over", args=[stay.pk]), {})
    Sheet.objects.update(content={"not": "a sheet"})
    answer = client.get(reverse(name, args=[stay.pk]))
    assert answer.status_code == 409
    assert "This aftercare sheet cannot be read back from the record." in answer.content.decode()
    assert "restore the record from a backup" in answer.content.decode()
    # The rest of the stay can still be read.
    assert client.get(reverse("bay", args=[stay.pk])).status_code == 200
    assert client.get(reverse("car", args=[stay.car.ref])).status_code == 200


def test_a_booking_and_a_cancelled_visit_cannot_be_handed_over() -> None:
    client = made.signed_in()
    for state in (Visit.State.BOOKED, Visit.State.CANCELLED):
        stay = made.visit(state=state)
        answer = client.post(reverse("hand_over", args=[stay.pk]), {})
        assert answer.status_code == 422
        stay.refresh_from_db()
        assert stay.state == state
    assert not Sheet.objects.exists()


def test_a_time_that_has_not_come_is_refused_beside_the_field() -> None:
    stay = _coated()
    answer = made.signed_in().post(reverse("hand_over", args=[stay.pk]), {"at": "2099-01-01T10:00"})
    assert answer.status_code == 422
    assert "That time has not come yet." in answer.content.decode()
