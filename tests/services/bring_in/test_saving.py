"""What a list comes to in the record: exactly what the dry run said, once, or nothing at all."""

from __future__ import annotations

from collections import Counter
from datetime import UTC, date, datetime
from pathlib import Path

import pytest
from django.apps import apps

from crm.care.surfaces import PANELS, Surfaces
from crm.care.terms import EndReason, Parking, Process, ProductClass, Wash
from crm.models import Car, Consent, Contact, Keeping, Layer, Person, Plate, Role, Visit
from crm.services import bench
from crm.services.bring_in import Order, Outcome, bring_in, report
from crm.services.bring_in.cells import Sure
from crm.services.errors import Refused
from tests import factories

pytestmark = pytest.mark.django_db

NOW = datetime(2026, 11, 25, 10, 30, tzinfo=UTC)
HEAD = "Date,Reg,Car,Customer,Phone,E-mail,Miles,Work done,Notes,Kept,How washed,OK to contact"


@pytest.fixture(autouse=True)
def _studio() -> None:
    factories.branch()


def brought(tmp_path: Path, *rows: str, commit: bool = True, head: str = HEAD, **order: object) -> Outcome:
    order.setdefault("month_first", False)
    path = tmp_path / "list.csv"
    path.write_text("\n".join((head, *rows)) + "\n", encoding="utf-8")
    return bring_in(Order(path=path, commit=commit, now=NOW, **order))  # type: ignore[arg-type]


def counts() -> Counter[str]:
    """How many rows every table holds."""
    return Counter(
        {model.__name__: model._base_manager.count() for model in apps.get_app_config("crm").get_models()}
    )


def remarks(outcome: Outcome) -> list[str]:
    return [remark.words for row in outcome.rows for remark in row.all_remarks if remark.sure is Sure.GUESSED]


def test_row_becomes_a_car_with_keeper_visit_and_layers(tmp_path: Path) -> None:
    outcome = brought(
        tmp_path,
        "3/5/25,QA21 LME,dark blue Halden Estate 2021,Åse Müller,07700 900123,ase@Example.ORG,38052,"
        '"clayed, 2 coats sealant all over exc. LR wing",swirls,under the lime tree,tunnel,y',
    )
    assert outcome.committed
    assert dict(outcome.made) == {
        "cars": 1,
        "people": 1,
        "visits": 1,
        "products": 1,
        "layers": 1,
        "processes": 1,
    }
    car = Car.objects.get()
    assert (car.make, car.model, car.year, car.colour, car.body) == (
        "Halden",
        "Estate",
        2021,
        "dark blue",
        "estate",
    )
    assert [plate.mark for plate in car.plates.all()] == ["QA21 LME"]
    keeper = car.roles.get().person
    assert (keeper.name, sorted(contact.value for contact in keeper.contacts.all())) == (
        "Åse Müller",
        ["+447700900123", "ase@example.org"],
    )
    visit = Visit.objects.get()
    assert (visit.state, visit.odometer_km, visit.arrival_note) == (Visit.State.HANDED_OVER, 61_239, "swirls")
    assert visit.scope == "clayed, 2 coats sealant all over exc. LR wing"
    assert visit.arrived_at == datetime(2025, 5, 3, 8, tzinfo=UTC)
    layer = Layer.objects.get()
    wing = Surfaces.from_keys(["left_rear_wing", "left_rear_wing_lower"])
    assert (layer.surfaces, layer.coats, layer.late) == (PANELS - wing, 2, True)
    assert layer.product.product_class == ProductClass.POLYMER_SEALANT
    assert [step.process for step in visit.steps.all()] == [Process.CLAY]
    kept = Keeping.objects.get()
    assert (kept.parking, kept.wash_summer) == (Parking.TREES_OR_INDUSTRY, Wash.TUNNEL)
    consent = Consent.objects.get()
    assert (consent.given, consent.wording) == (True, "The studio's own list, column “OK to contact”")
    assert car.forecasts.count() == 4


def test_nothing_is_posted_for_visits_of_long_ago(tmp_path: Path) -> None:
    brought(tmp_path, "24/11/2026,QA21 LME,blue Halden Estate,Jo Tern,,jo@example.org,,sealant all over,,,,y")
    assert apps.get_model("crm", "Message").objects.count() == 0


def test_dry_run_saves_nothing_and_says_what_it_would(tmp_path: Path) -> None:
    rows = (
        "3/5/25,QA21 LME,blue Halden Estate,Jo Tern / Sam Tern,,,,sealant all over,,,,",
        "31/2/25,QA22 LME,red Corrie,Kit Osk,,,,wash,,,,",
    )
    before = counts()
    dry = brought(tmp_path, *rows, commit=False)
    assert counts() == before
    assert list(report(dry))[-2:] == [
        "2 rows: 0 understood, 1 guessed, 1 refused.",
        "Would save: 1 cars, 1 layers, 2 people, 1 products, 1 visits. Nothing was saved; add --commit to save it.",
    ]
    real = brought(tmp_path, *rows)
    assert real.made == dry.made
    assert list(report(real))[-1] == "Saved: 1 cars, 1 layers, 2 people, 1 products, 1 visits."
    after = counts()
    assert {what: after[what] - before[what] for what in ("Car", "Person", "Visit", "Layer", "Product")} == {
        "Car": 1,
        "Person": 2,
        "Visit": 1,
        "Layer": 1,
        "Product": 1,
    }


def test_second_run_changes_nothing(tmp_path: Path) -> None:
    rows = (
        "3/5/25,QA21 LME,blue Halden Estate,Jo Tern,07700 900123,jo@example.org,20000,sealant all over,,street,,y",
        "3/5/26,QA21 LME,blue Halden Estate,Jo Tern,07700 900123,jo@example.org,30000,sealant all over,,street,,y",
    )
    brought(tmp_path, *rows)
    before = counts()
    again = brought(tmp_path, *rows)
    assert counts() == before
    assert dict(again.made) == {"rows known already": 2}


def test_longer_list_adds_only_what_is_new(tmp_path: Path) -> None:
    first = "3/5/25,QA21 LME,blue Halden Estate,Jo Tern,,,,sealant all over,,,,"
    brought(tmp_path, first)
    again = brought(tmp_path, first, "4/5/25,QA22 LME,red Corrie,Kit Osk,,,,wash,,,,")
    assert dict(again.made) == {"rows known already": 1, "cars": 1, "people": 1, "visits": 1, "processes": 1}
    assert Visit.objects.count() == 2


def test_same_line_twice_is_two_visits_once(tmp_path: Path) -> None:
    row = "3/5/25,QA21 LME,blue Halden Estate,Jo Tern,,,,wash,,,,"
    assert brought(tmp_path, row, row).made["visits"] == 2
    assert brought(tmp_path, row, row).made == Counter({"rows known already": 2})


def test_failure_in_the_middle_leaves_nothing(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    real, calls = bench.record_layer, []

    def breaks_at_the_third(**given: object) -> Layer:
        calls.append(given)
        if len(calls) == 3:
            raise RuntimeError("the disc is full")
        return real(**given)  # type: ignore[arg-type]

    monkeypatch.setattr(bench, "record_layer", breaks_at_the_third)
    before = counts()
    rows = [
        f"{day}/5/25,QA21 LM{'ABC'[day - 1]},blue Halden Estate,Jo Tern,,,,waxed,,,," for day in (1, 2, 3)
    ]
    with pytest.raises(RuntimeError, match="the disc is full"):
        brought(tmp_path, *rows)
    assert len(calls) == 3
    assert counts() == before


def test_row_that_a_service_refuses_is_taken_back_alone(tmp_path: Path) -> None:
    other = factories.car("QA30 AAA")
    outcome = brought(
        tmp_path,
        "3/5/25,QA21 LME,Z9ZHE21AXKP042788,blue Halden,Jo Tern",
        "4/5/25,QA30 AAA,Z9ZHE21AXKP042788,blue Halden,Jo Tern",
        "5/5/25,QA22 LME,,red Corrie,Kit Osk",
        head="Date,Reg,VIN,Car,Customer",
    )
    assert [row.refused for row in outcome.rows] == [
        "",
        f"QA30 AAA is on the file of a {other}. If the plate has moved, end it there first.",
        "",
    ]
    assert outcome.made["visits"] == 2
    assert Visit.objects.filter(car__plates__normal="QA22LME").count() == 1


def test_two_owners_are_keeper_and_payer(tmp_path: Path) -> None:
    outcome = brought(
        tmp_path, "3/5/25,QA21 LME,blue Halden Estate,Jo Tern / Sam Tern,,jo@example.org,,wash,,,,"
    )
    assert remarks(outcome) == ["Jo Tern taken as keeper, Sam Tern as payer"]
    assert sorted((role.part, role.person.name) for role in Role.objects.all()) == [
        ("keeper", "Jo Tern"),
        ("payer", "Sam Tern"),
    ]
    assert [contact.person.name for contact in Contact.objects.all()] == ["Jo Tern"]


def test_two_cars_of_one_owner_share_the_person(tmp_path: Path) -> None:
    brought(
        tmp_path,
        "3/5/25,QA21 LME,blue Halden Estate,Jo Tern,07700 900123,,,wash,,,,",
        "4/5/25,QB19 TWO,red Corrie 3-door,jo tern,07700900123,jo@example.org,,wash,,,,",
    )
    assert [person.name for person in Person.objects.all()] == ["Jo Tern"]
    assert Car.objects.filter(roles__person__name="Jo Tern").count() == 2
    assert Contact.objects.count() == 2


def test_same_name_with_other_numbers_is_somebody_else(tmp_path: Path) -> None:
    brought(
        tmp_path,
        "3/5/25,QA21 LME,blue Halden Estate,Jo Tern,07700 900123,,,wash,,,,",
        "4/5/25,QB19 TWO,red Corrie 3-door,Jo Tern,07700 900999,,,wash,,,,",
    )
    assert Person.objects.count() == 2


def test_keeper_changes_with_the_name_on_a_later_row(tmp_path: Path) -> None:
    outcome = brought(
        tmp_path,
        "4/5/26,QA21 LME,blue Halden Estate,Kit Osk,,,,wash,,,,",
        "3/5/25,qa21lme,blue Halden Estate,Jo Tern,,,,wash,,,,",
    )
    assert remarks(outcome) == ["keeper from 4 May 2026: Kit Osk, no longer Jo Tern"]
    assert [(role.person.name, role.since, role.until) for role in Role.objects.order_by("pk")] == [
        ("Jo Tern", None, date(2026, 5, 4)),
        ("Kit Osk", date(2026, 5, 4), None),
    ]


def test_older_rows_do_not_turn_back_what_the_record_knows(tmp_path: Path) -> None:
    sealant = factories.product(ProductClass.POLYMER_SEALANT)
    car = factories.car("QA21 LME", keeper=factories.person("Kit Osk"), chassis="Z9ZHE21AXKP042788")
    newer = factories.layer(car, sealant, at=datetime(2026, 5, 4, 13, tzinfo=UTC))
    outcome = brought(
        tmp_path,
        "3/5/24,QB11 OLD,Z9ZHE21AXKP042788,Jo Tern,sealant all over",
        head="Date,Reg,VIN,Customer,Work",
    )
    assert remarks(outcome) == [
        "plate left as it is: newer than QB11 OLD",
        "keeper left as it is: Kit Osk came later",
    ]
    assert [plate.mark for plate in Plate.objects.filter(until__isnull=True)] == ["QA21 LME"]
    assert [role.person.name for role in Role.objects.filter(until__isnull=True)] == ["Kit Osk"]
    older = Layer.objects.exclude(pk=newer.pk).get()
    assert [(ending.why, ending.surfaces, ending.next_layer) for ending in older.endings.all()] == [
        (EndReason.SUPERSEDED, PANELS, newer)
    ]


def test_list_decides_whether_day_or_month_comes_first(tmp_path: Path) -> None:
    brought(
        tmp_path,
        "3/5/25,QA21 LMA,blue Halden,Jo Tern,,,,wash,,,,",
        "5/23/25,QA21 LMB,blue Halden,Jo Tern,,,,wash,,,,",
        month_first=None,
    )
    assert Visit.objects.get(car__plates__mark="QA21 LMA").planned_in.date() == date(2025, 3, 5)


def test_order_decides_where_somebody_says_so(tmp_path: Path) -> None:
    brought(tmp_path, "3/5/25,QA21 LMA,blue Halden,Jo Tern,,,,wash,,,,", month_first=True)
    assert Visit.objects.get().planned_in.date() == date(2025, 3, 5)


@pytest.mark.parametrize(
    ("heading", "unit", "expected"),
    [
        ("Miles", "", 16_093),
        ("Km", "", 10_000),
        ("Odometer", "", 16_093),
        ("Odometer", "km", 10_000),
        ("Km", "miles", 16_093),
    ],
)
def test_bare_odometer_means_what_its_heading_or_the_order_says(
    tmp_path: Path, heading: str, unit: str, expected: int
) -> None:
    brought(tmp_path, "3/5/25,QA21 LMA,Jo Tern,10000", head=f"Date,Reg,Customer,{heading}", unit=unit)
    assert Visit.objects.get().odometer_km == expected


def test_odometer_that_runs_backwards_is_kept_as_a_note(tmp_path: Path) -> None:
    outcome = brought(
        tmp_path,
        "3/5/25,QA21 LME,blue Halden,Jo Tern,,,20000,wash,,,,",
        "3/5/26,QA21 LME,blue Halden,Jo Tern,,,12000,wash,mats in,,,",
    )
    assert [words.partition(":")[0] for words in remarks(outcome)] == ["odometer kept as a note"]
    assert [visit.arrival_note for visit in Visit.objects.order_by("arrived_at")] == [
        "",
        "mats in; odometer said to show 12,000 miles",
    ]


def test_words_that_nobody_knows_are_kept_word_for_word(tmp_path: Path) -> None:
    outcome = brought(
        tmp_path,
        "3/5/25,QA21 LME,see card,ext 12,jo at example,1234,froth the squeegee ✨ <b>,gave tea,loyal",
        head="Date,Reg,Miles,Phone,Email,VIN,Work,Notes,Loyalty card",
    )
    visit = Visit.objects.get()
    assert visit.scope == "froth the squeegee ✨ <b>"
    assert visit.arrival_note == (
        "gave tea; Phone: ext 12; Email: jo at example; Miles: see card; Loyalty card: loyal"
    )
    assert visit.car.chassis == "1234"
    assert outcome.rows[0].sure is Sure.GUESSED
    assert outcome.kept_as_notes == ["Loyalty card"]


def test_car_without_a_plate_is_known_again_by_its_owner(tmp_path: Path) -> None:
    outcome = brought(
        tmp_path,
        "3/5/25,new,white Marram Van,Ivor Pell,,,,wash,,,,",
        "3/6/25,-,white Marram Van,Ivor Pell,,,,wash,,,,",
        "3/6/25,,white Marram Van,Una Pell,,,,wash,,,,",
    )
    assert outcome.made["cars"] == 2
    assert "taken as the white Marram Van that Ivor Pell brought before" in remarks(outcome)


def test_chassis_number_finds_the_car_under_a_new_plate(tmp_path: Path) -> None:
    outcome = brought(
        tmp_path,
        "3/5/25,QA21 LME,Z9ZHE21AXKP042788,blue Halden,Jo Tern",
        "3/5/26,QX11 SEA,Z9ZHE21AXKP042788,blue Halden,Jo Tern",
        head="Date,Reg,VIN,Car,Customer",
    )
    assert outcome.made["cars"] == 1
    assert "same chassis number: the car now carries QX11 SEA" in remarks(outcome)
    assert [(plate.mark, plate.until) for plate in Plate.objects.order_by("pk")] == [
        ("QA21 LME", date(2026, 5, 3)),
        ("QX11 SEA", None),
    ]


def test_product_of_the_shelf_is_used_by_its_name(tmp_path: Path) -> None:
    factories.product(ProductClass.DURABLE_WAX, "Dunlin winter wax")
    outcome = brought(tmp_path, "3/5/25,QA21 LME,blue Halden,Jo Tern,,,,DUNLIN winter wax all over,,,,")
    assert "products" not in outcome.made
    assert Layer.objects.get().product.name == "Dunlin winter wax"


def test_later_layer_takes_over_from_the_earlier_one(tmp_path: Path) -> None:
    brought(
        tmp_path,
        "3/5/26,QA21 LME,blue Halden,Jo Tern,,,,sealant all over exc roof,,,,",
        "3/5/25,QA21 LME,blue Halden,Jo Tern,,,,sealant all over,,,,",
    )
    first, second = Layer.objects.order_by("laid_at")
    assert [(ending.why, ending.surfaces) for ending in first.endings.all()] == [
        (EndReason.SUPERSEDED, second.surfaces)
    ]


def test_no_to_letters_is_written_down_once(tmp_path: Path) -> None:
    brought(
        tmp_path,
        "3/5/25,QA21 LME,blue Halden,Jo Tern,,jo@example.org,,wash,,,,y",
        "3/6/25,QA21 LME,blue Halden,Jo Tern,,jo@example.org,,wash,,,,y",
        "3/7/25,QA21 LME,blue Halden,Jo Tern,,jo@example.org,,wash,,,,STOP",
        "3/8/25,QA21 LME,blue Halden,Jo Tern,,jo@example.org,,wash,,,,",
    )
    assert [consent.given for consent in Consent.objects.order_by("at")] == [True, False]


def test_row_of_today_is_not_written_into_the_future(tmp_path: Path) -> None:
    brought(tmp_path, "25/11/2026,QA21 LME,blue Halden,Jo Tern,,,,sealant all over,,,,")
    assert Layer.objects.get().laid_at <= NOW
    assert (Visit.objects.get().handed_over_at or NOW) <= NOW


def test_studio_without_a_branch_is_told_so(tmp_path: Path) -> None:
    apps.get_model("crm", "Branch").objects.all().delete()
    with pytest.raises(Refused, match=r"^There is no branch yet"):
        brought(tmp_path, "3/5/25,QA21 LME,blue Halden,Jo Tern,,,,wash,,,,")
