"""Who is prompted before winter, and who hears of a planned wash."""

from __future__ import annotations

from datetime import UTC, date, datetime, timedelta

import pytest

from crm.care.surfaces import Surface, Surfaces, Zone, surfaces_of
from crm.care.terms import Circumstance, ProductClass, WashPlan
from crm.models import Car, Matter, Message, Visit
from crm.post.plan import plan_letters, prospects
from tests import factories
from tests.post.cast import MAY, OCTOBER, sealed_car

pytestmark = pytest.mark.django_db
Kind = Message.Kind


def test_winter_prompt_goes_to_a_car_on_salt_that_will_be_bare_before_spring() -> None:
    car = sealed_car(life=(4, 6, 8))
    assert plan_letters(now=OCTOBER).letters == 1
    matter = Matter.objects.get(kind=Kind.WINTER)
    keeper = car.roles.get().person_id
    assert matter.key == f"winter:{keeper}:{car.pk}:2026"
    assert matter.message.kind == Kind.WINTER
    assert matter.facts["product"] == "Gannet paint sealant"


@pytest.mark.parametrize("salted", [None, False])
def test_no_winter_prompt_where_salt_is_not_known_of(salted: bool | None) -> None:
    sealed_car(life=(5.5, 7, 9), salted=salted)
    kinds = {want.kind for prospect in prospects(now=OCTOBER) for want in prospect.wants}
    assert Kind.WINTER not in kinds


def test_salt_marked_among_the_circumstances_is_an_answer_too() -> None:
    sealed_car(salted=None, circumstances=[Circumstance.SALTED_ROADS])
    plan_letters(now=OCTOBER)
    assert Matter.objects.filter(kind=Kind.WINTER).count() == 1


def test_layer_that_holds_until_after_the_salt_needs_no_prompt() -> None:
    sealed_car(life=(24, 30, 36))
    assert list(prospects(now=OCTOBER)) == []


def test_topper_on_a_coating_that_holds_needs_no_prompt() -> None:
    car = sealed_car(life=(4, 6, 8))
    coating = factories.product(ProductClass.COATING_PROFESSIONAL, life=(30, 40, 50))
    factories.layer(car, coating, at=MAY - timedelta(days=2))
    assert list(prospects(now=OCTOBER)) == []


def test_inside_of_the_car_needs_no_winter_prompt() -> None:
    sealed_car(surfaces=surfaces_of(Zone.SEATS), life=(4, 6, 8))
    kinds = {want.kind for prospect in prospects(now=OCTOBER) for want in prospect.wants}
    assert Kind.WINTER not in kinds


def test_seen_within_six_weeks_needs_no_prompt() -> None:
    car = sealed_car(life=(5.5, 6, 8))
    factories.visit(car, state=Visit.State.HANDED_OVER, at=OCTOBER - timedelta(days=41))
    assert list(prospects(now=OCTOBER)) == []
    assert [p.person for p in prospects(now=OCTOBER + timedelta(days=2))] == [car.roles.get().person]


def test_stored_car_hears_nothing_of_salt() -> None:
    car = sealed_car()
    factories.keeping(car, since=date(2026, 9, 20), salted_roads=True, stored=True)
    assert list(prospects(now=OCTOBER)) == []


@pytest.mark.parametrize(("day", "prompted"), [(31, False), (1, True)])
def test_prompts_begin_on_the_studios_day(day: int, prompted: bool) -> None:
    sealed_car(life=(5.9, 7, 9))
    now = datetime(2026, 8 if day == 31 else 9, day, 9, tzinfo=UTC)
    kinds = {want.kind for prospect in prospects(now=now) for want in prospect.wants}
    assert (Kind.WINTER in kinds) is prompted


def test_one_prompt_a_season_and_another_the_next() -> None:
    car = sealed_car()
    plan_letters(now=OCTOBER)
    plan_letters(now=OCTOBER + timedelta(days=20))
    assert Matter.objects.filter(kind=Kind.WINTER).count() == 1
    factories.layer(
        car,
        factories.product(ProductClass.POLYMER_SEALANT, "Gannet paint sealant"),
        at=MAY.replace(year=2027),
    )
    plan_letters(now=OCTOBER.replace(year=2027))
    keys = sorted(Matter.objects.filter(kind=Kind.WINTER).values_list("key", flat=True))
    assert [key.rsplit(":", 1)[1] for key in keys] == ["2026", "2027"]


def test_southern_studio_prompts_before_its_own_winter() -> None:
    sealed_car(life=(7, 9, 12), at=datetime(2025, 10, 6, 9, tzinfo=UTC))
    factories.studio(
        time_zone="Australia/Sydney", salt_from="06-01", salt_until="08-31",
        winter_prompt_from="04-01", winter_prompt_until="05-15", hot_from="12-01", hot_until="02-28",
    )  # fmt: skip
    plan_letters(now=datetime(2026, 4, 14, 1, tzinfo=UTC))
    assert Matter.objects.get(kind=Kind.WINTER).key.endswith(":2026")


# Wash plan


def test_planned_wash_is_written_about_once() -> None:
    anchor = date(2026, 5, 4)
    car = sealed_car(life=(24, 30, 36), salted=None, wash_plan=WashPlan.SEALED_DAILY, plan_anchor=anchor)
    # Four visits a year (common practice, no source): three months after the anchor.
    assert plan_letters(now=datetime(2026, 7, 24, 9, tzinfo=UTC)).letters == 0
    assert plan_letters(now=datetime(2026, 7, 25, 9, tzinfo=UTC)).letters == 1
    assert plan_letters(now=datetime(2026, 7, 26, 9, tzinfo=UTC)).letters == 0
    assert Matter.objects.get().key == f"wash-due:{car.pk}:2026-08-04"


def test_a_stay_just_before_a_planned_wash_was_that_wash() -> None:
    car = sealed_car(
        life=(24, 30, 36), salted=None, wash_plan=WashPlan.SEALED_DAILY, plan_anchor=date(2026, 5, 4)
    )
    factories.visit(car, state=Visit.State.HANDED_OVER, at=datetime(2026, 7, 16, 9, tzinfo=UTC))
    assert plan_letters(now=datetime(2026, 7, 28, 9, tzinfo=UTC)).letters == 0


def test_parts_of_a_car_are_prompted_for_on_their_own() -> None:
    sealed_car(life=(24, 30, 36))
    car = Car.objects.get()
    thin = factories.product(ProductClass.POLYMER_SEALANT, "Dunlin wheel sealant", life=(4, 6, 8))
    factories.layer(car, thin, surfaces=Surfaces.of([Surface.LEFT_FRONT_WHEEL]), at=MAY)
    (prospect,) = prospects(now=OCTOBER)
    winter = next(want for want in prospect.wants if want.kind == Kind.WINTER)
    assert winter.facts["zones"] == ["wheels"]
