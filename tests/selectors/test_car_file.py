"""The car file: the three lines, the lanes, the history; and how many queries it takes."""

from __future__ import annotations

from datetime import date, datetime, timedelta

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.utils import timezone

from crm.care.surfaces import PANELS, Surface, Surfaces, Zone, surfaces_of
from crm.care.terms import Condition, EndReason, Process, ProductClass, WashPlan
from crm.care.terms import Moment as GradeMoment
from crm.models import Car, CarEvent, Role, Visit
from crm.selectors.car_chart import Shown
from crm.selectors.car_file import CarFile, Moment, car_file
from crm.services.bench import end_layer, record_grade, record_step, take_back_ending
from crm.services.registry import give_plate, give_role
from crm.services.visits import Agreed, agree, leave_for_next_time
from tests import factories
from tests.factories import NOW

pytestmark = pytest.mark.django_db
WING = Surfaces.of([Surface.LEFT_REAR_WING, Surface.LEFT_REAR_WING_LOWER])
SCREEN = Surfaces.of([Surface.WINDSCREEN])


def file_of(car: Car, *, at: datetime = NOW, shown: Shown = Shown.TWO, visits: int = 20) -> CarFile:
    studio = factories.studio()
    with timezone.override(studio.zone):
        moment = Moment(studio, at, at.astimezone(studio.zone).date())
        found = car_file(car.ref, at=moment, shown=shown, visits=visits)
    assert found is not None
    return found


def days(number: float) -> datetime:
    return NOW + timedelta(days=number)


def test_a_reference_that_is_not_on_file_is_nothing() -> None:
    studio = factories.studio()
    assert car_file("2222222", at=Moment(studio, NOW, NOW.date())) is None


def test_a_car_with_nothing_on_record_says_so_in_three_lines() -> None:
    answer = file_of(factories.car()).answer
    assert answer.on_it == "No layer on record."
    assert answer.holds == "Nothing to hold."
    assert answer.offer == "A decontamination wash, water grades, then protection from the ground up."


def test_a_holding_sealant_is_named_with_its_month_and_never_a_day() -> None:
    car = factories.car()
    factories.layer(
        car, factories.product(ProductClass.POLYMER_SEALANT, "Gannet paint sealant"), at=days(-20)
    )
    answer = file_of(car).answer
    assert answer.on_it == "Gannet paint sealant on all painted panels."
    assert answer.holds.startswith("Holding, likely until ")
    assert not any(character.isdigit() for character in answer.holds.replace("2026", "").replace("2027", ""))


def test_while_a_layer_sets_nothing_is_offered_but_the_wait() -> None:
    car = factories.car()
    factories.layer(car, factories.product(ProductClass.COATING_PROFESSIONAL, "Fulmar"), at=days(-0.1))
    answer = file_of(car).answer
    assert answer.holds.startswith("Setting until ")
    assert answer.offer.startswith("Nothing yet: no wash before ")


def test_a_layer_past_its_window_wants_a_wash_and_a_look() -> None:
    car = factories.car()
    factories.layer(car, at=days(-900))
    answer = file_of(car).answer
    assert answer.holds.startswith("Due a look: it was likely to last until ")
    assert answer.offer == "A decontamination wash and a look, before anything is laid on top."


def test_a_worse_layer_elsewhere_is_named_after_the_paint() -> None:
    car = factories.car()
    factories.layer(car, factories.product(ProductClass.COATING_MULTI, "Fulmar"), at=days(-200))
    factories.layer(
        car, factories.product(ProductClass.RAIN_REPELLENT, "Petrel"), surfaces=SCREEN, at=days(-600)
    )
    answer = file_of(car).answer
    assert answer.holds.startswith("Holding, likely until ")
    assert "Petrel on windscreen: due a look" in answer.holds


def test_a_resprayed_panel_is_offered_protection_once_the_paint_may_take_it() -> None:
    car = factories.car()
    factories.layer(car, factories.product(ProductClass.COATING_MULTI, "Fulmar"), at=days(-100))
    factories.event(car, CarEvent.Kind.RESPRAY, on=days(-8).date(), surfaces=WING, baked=True)
    early = file_of(car).answer
    assert early.offer == "Protection for the left rear wing from Tuesday 26 May, if the painter agrees."
    assert early.why == "Nothing is on the left rear wing since it was resprayed in April 2026."
    assert file_of(car, at=days(40)).answer.offer == "Protection for the left rear wing."


def test_before_winter_a_car_on_salted_roads_is_offered_winter_protection() -> None:
    car = factories.car()
    factories.keeping(car, salted_roads=True)
    factories.layer(car, factories.product(ProductClass.POLYMER_SEALANT, "Gannet"), at=days(80))
    october = datetime(2026, 9, 20, 12, tzinfo=NOW.tzinfo)
    answer = file_of(car, at=october).answer
    assert answer.offer == "Winter re-protection before Sunday 1 November."
    assert answer.why.endswith("before the salt ends.")


def test_a_car_that_meets_no_salt_is_not_offered_winter_protection() -> None:
    car = factories.car()
    factories.keeping(car, salted_roads=False)
    factories.layer(car, factories.product(ProductClass.POLYMER_SEALANT, "Gannet"), at=days(80))
    assert "Winter" not in file_of(car, at=datetime(2026, 9, 20, 12, tzinfo=NOW.tzinfo)).answer.offer


def test_a_sold_car_is_offered_nothing() -> None:
    car = factories.car()
    factories.layer(car, at=days(-10))
    factories.event(car, CarEvent.Kind.SOLD, on=NOW.date())
    answer = file_of(car).answer
    assert (answer.offer, answer.why) == ("Nothing.", "This car is sold.")


def test_a_car_on_a_plan_with_all_well_is_told_its_next_wash() -> None:
    car = factories.car(wash_plan=WashPlan.NO_TIME)
    factories.layer(car, factories.product(ProductClass.COATING_MULTI, "Fulmar"), at=days(-90))
    answer = file_of(car).answer
    assert answer.offer.startswith("The next maintenance wash: ")
    assert answer.why == (
        f"The plan is “{car.get_wash_plan_display()}”; the owner's own washing in between: rinse only."
    )


def test_promised_expected_and_seen_are_three_facts() -> None:
    car = factories.car()
    visit = factories.visit(car, at=days(-100))
    agree(visit=visit, agreed=Agreed(promise="Twelve months of water-shedding", promise_months=12), by=None)
    factories.layer(visit, at=days(-100) + timedelta(hours=1))
    factories.close(visit, at=days(-99))
    later = factories.visit(car, at=days(-5))
    tops = surfaces_of(Zone.TOPS)
    for moment, grade, hour in ((GradeMoment.BEFORE_DECON, 1, 1), (GradeMoment.AFTER_DECON, 3, 2)):
        at = days(-5) + timedelta(hours=hour)
        record_grade(visit=later, surfaces=tops, grade=grade, moment=moment, at=at, by=None, now=at)
    lane = file_of(car).lanes[0]
    item = lane.rows[0]
    assert lane.zone is Zone.TOPS
    assert item.promised == "Twelve months of water-shedding"
    assert item.expected.startswith("likely until ")
    assert item.reasons
    assert [(seen.proof, seen.words) for seen in item.seen] == [
        (True, "grade 3 after decontamination: round but bigger, clears after a moment")
    ]


def test_a_dirty_grade_newer_than_the_proof_is_shown_as_no_proof() -> None:
    car = factories.car()
    factories.layer(car, at=days(-50))
    visit = factories.visit(car, at=days(-5))
    at = days(-5) + timedelta(hours=1)
    record_grade(
        visit=visit, surfaces=PANELS, grade=0, moment=GradeMoment.BEFORE_DECON, at=at, by=None, now=at
    )
    seen = file_of(car).lanes[0].rows[0].seen
    assert [item.proof for item in seen] == [False]
    assert seen[0].words.endswith("; not proof")


def test_bare_surfaces_of_a_covered_zone_are_named() -> None:
    car = factories.car()
    factories.layer(car, surfaces=PANELS - WING, at=days(-10))
    bare = {lane.zone: lane.bare for lane in file_of(car).lanes}
    assert bare[Zone.UPPER_SIDES] == "left rear wing, upper part"
    assert bare[Zone.TOPS] == ""


def test_a_layer_that_sets_lists_what_is_still_to_be_waited_for() -> None:
    car = factories.car()
    factories.layer(car, factories.product(ProductClass.COATING_PROFESSIONAL, "Fulmar"), at=days(-0.01))
    item = file_of(car).lanes[0].rows[0]
    assert item.condition is Condition.SETTING
    assert [words for words, _ in item.clocks][-1] == "not fully set before"


@pytest.mark.parametrize(("units", "said"), [("km", "22,000 km a year"), ("miles", "13,670 miles a year")])
def test_reasons_tell_distances_in_the_studios_unit(units: str, said: str) -> None:
    # 22,000 km are 13,670.2 miles (1.609344 km each, international yard and pound agreement, 1959).
    factories.studio(units=units)
    car = factories.car()
    factories.keeping(car, km_a_year=22_000, parking="outdoors")
    factories.layer(car, factories.product(ProductClass.POLYMER_SEALANT, "Gannet"), at=days(-20))
    reasons = [reason for lane in file_of(car).lanes for row in lane.rows for reason in row.reasons]
    told = {reason.partition(":")[0] for reason in reasons if " a year" in reason}
    assert told == {said}


def test_an_ending_leaves_the_lane_and_comes_back_when_it_is_taken_back() -> None:
    car = factories.car()
    layer = factories.layer(car, surfaces=WING, at=days(-30))
    ending = end_layer(layer=layer, surfaces=WING, at=days(-1), why=EndReason.FAILED, by=None, now=NOW)
    ended = file_of(car)
    assert ended.lanes == ()
    assert ended.answer.on_it == "Nothing: every layer on record has ended."
    assert [(item.where, item.ending.get_why_display()) for item in ended.endings] == [
        ("left rear wing", "failed")
    ]
    take_back_ending(ending=ending, because="wrong car", by=None, now=NOW)
    again = file_of(car)
    assert {lane.zone for lane in again.lanes} == {Zone.UPPER_SIDES, Zone.LOWER_SIDES}
    assert again.endings[0].ending.taken_back_because == "wrong car"


def test_the_chart_has_a_band_for_what_is_left_and_one_for_what_ended() -> None:
    car = factories.car()
    factories.layer(car, surfaces=surfaces_of(Zone.UPPER_SIDES), at=days(-30))
    factories.event(car, CarEvent.Kind.RESPRAY, on=days(-3).date(), surfaces=WING, baked=True)
    bands = file_of(car).chart.bands
    assert [(band.zone, band.where, band.ended_on) for band in bands] == [
        (Zone.UPPER_SIDES, "upper sides except left rear wing", None),
        (Zone.UPPER_SIDES, "left rear wing, upper part", days(-3).date()),
    ]


def test_the_chart_shows_two_years_or_all_of_it() -> None:
    car = factories.car()
    factories.layer(car, at=datetime(2019, 5, 4, 12, tzinfo=NOW.tzinfo))
    assert file_of(car).chart.span.first == date(2025, 5, 1)
    assert file_of(car, shown=Shown.ALL).chart.span.first == date(2019, 5, 1)


def test_a_visit_in_the_history_tells_its_layers_steps_and_grades() -> None:
    car = factories.car()
    visit = factories.visit(car, at=days(-9), odometer_km=98_456)
    at = days(-9) + timedelta(hours=1)
    record_step(visit=visit, process=Process.CLAY, surfaces=PANELS, at=at, by=None, now=at)
    factories.layer(visit, factories.product(name="Gannet paint sealant"), at=at + timedelta(hours=1))
    factories.close(visit, at=days(-8))
    past = file_of(car).history[0]
    assert (past.steps, past.odometer, past.late) == (("clay",), "61,178 miles", False)
    assert [(laid.layer.product.name, laid.where) for laid in past.layers] == [
        ("Gannet paint sealant", "all painted panels")
    ]


def test_twenty_visits_are_shown_and_the_rest_counted() -> None:
    car = factories.car()
    for number in range(23):
        factories.visit(car, state=Visit.State.HANDED_OVER, at=days(-400 + number * 10))
    file = file_of(car)
    assert (len(file.history), file.more_visits) == (20, 3)
    assert len(file_of(car, visits=40).history) == 23
    assert file.history[0].on > file.history[-1].on


def test_plates_and_people_of_the_past_are_told_apart_from_those_of_today() -> None:
    ada, bram = factories.person("Ada Quill"), factories.person("Bram Harrow")
    car = factories.car("QA26 DEM", keeper=ada)
    give_plate(car=car, mark="QP11 VAT", since=date(2025, 3, 1), by=None)
    give_role(car=car, person=bram, part=Role.Part.KEEPER, since=date(2025, 3, 1), by=None)
    give_role(car=car, person=ada, part=Role.Part.PAYER, since=date(2025, 3, 1), by=None)
    file = file_of(car)
    assert file.plate is not None
    assert (file.plate.mark, [plate.mark for plate in file.former_plates]) == ("QP11 VAT", ["QA26 DEM"])
    assert file.keeper is not None
    assert (file.keeper.person, [held.person for held in file.others]) == (bram, [ada])
    assert [(held.person, held.role.part) for held in file.former_people] == [(ada, "keeper")]
    assert {contact.kind for contact in file.keeper.contacts} == {"email", "phone"}


def test_what_was_left_for_next_time_stands_until_it_is_done() -> None:
    visit = factories.visit()
    left = leave_for_next_time(visit=visit, text="Etch on the bonnet", at=NOW, by=None)
    assert [item.text for item in file_of(visit.car).left] == ["Etch on the bonnet"]
    left.done_at = NOW
    left.save()
    assert file_of(visit.car).left == ()


def test_the_file_takes_nine_queries_at_one_visit_and_at_a_hundred() -> None:
    small, large = factories.car(), factories.car()
    factories.layer(small, at=days(-3))
    for number in range(100):
        visit = factories.visit(large, at=days(-1000 + number * 9))
        if number % 10 == 0:
            factories.layer(visit, at=days(-1000 + number * 9))
        factories.close(visit, at=days(-999 + number * 9))
    counts = []
    for car in (small, large):
        studio = factories.studio()
        with CaptureQueriesContext(connection) as queries:
            car_file(car.ref, at=Moment(studio, NOW, NOW.date()), visits=200)
        counts.append(len(queries))
    assert counts == [9, 9]


def test_plates_and_people_of_a_day_to_come_are_told_apart_from_those_of_today() -> None:
    ada, bram = factories.person("Ada Quill"), factories.person("Bram Harrow")
    car = factories.car("QA26 DEM", keeper=ada)
    ahead = date(2030, 3, 1)
    give_plate(car=car, mark="QP11 VAT", since=ahead, by=None)
    give_role(car=car, person=bram, part=Role.Part.KEEPER, since=ahead, by=None)
    file = file_of(car)
    assert file.plate is not None
    assert file.keeper is not None
    assert (file.plate.mark, file.keeper.person) == ("QA26 DEM", ada)
    assert [plate.mark for plate in file.later_plates] == ["QP11 VAT"]
    assert [held.person for held in file.later_people] == [bram]
    assert (file.former_plates, file.former_people, file.others) == ((), (), ())
