"""The first day of a studio."""

from __future__ import annotations

import pytest

from crm.models import Branch, Rank, Studio, User
from crm.services.errors import Refused
from crm.services.opening import FirstDay, open_studio

pytestmark = pytest.mark.django_db
GOOD = "slate-gull-harbour-9"


def _first_day(*, studio: str = "Greywater Yard", sign_in: str = "mara", password: str = GOOD) -> FirstDay:
    return FirstDay(studio=studio, time_zone="Europe/London", sign_in=sign_in, password=password)


def test_first_day_makes_studio_branch_and_manager() -> None:
    manager = open_studio(first_day=_first_day())
    assert (manager.username, manager.rank) == ("mara", Rank.MANAGER)
    assert manager.check_password(GOOD)
    assert not manager.is_superuser
    assert list(Studio.objects.values_list("name", "time_zone")) == [("Greywater Yard", "Europe/London")]
    assert list(Branch.objects.values_list("name", flat=True)) == ["Greywater Yard"]


def test_first_day_comes_once() -> None:
    open_studio(first_day=_first_day())
    with pytest.raises(Refused, match="the first account is made once"):
        open_studio(first_day=_first_day(sign_in="somebody"))
    assert User.objects.count() == 1


@pytest.mark.parametrize(
    ("first_day", "word"),
    [
        (_first_day(password="short"), "at least 10 characters"),
        (_first_day(sign_in="mara-of-the-yard", password="mara-of-the-yard-1"), "too similar"),
        (_first_day(password="12345678901"), "numeric"),
        (_first_day(sign_in="two words"), "valid username"),
        (_first_day(sign_in=""), "cannot be blank"),
        (_first_day(studio="  "), "cannot be blank"),
        (_first_day(studio="x" * 81), "at most 80 characters"),
    ],
)
def test_first_day_that_will_not_do_stores_nothing(first_day: FirstDay, word: str) -> None:
    with pytest.raises(Refused, match=word):
        open_studio(first_day=first_day)
    assert (User.objects.count(), Studio.objects.count(), Branch.objects.count()) == (0, 0, 0)
