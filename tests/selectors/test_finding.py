"""Finding a car by whatever the caller says. The examples are common practice, no source."""

from __future__ import annotations

from datetime import date, timedelta
from typing import Any

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from crm.care.terms import ProductClass
from crm.models import Role
from crm.selectors.finding import Hit, cars_found
from crm.selectors.scanning import clean_query, scan
from crm.services.registry import NewCar, give_plate, give_role
from crm.services.taking_on import change_car
from tests import factories
from tests.factories import NOW

pytestmark = pytest.mark.django_db
TODAY = NOW.date()


def found(text: str) -> list[Hit]:
    return cars_found(text, most=20, today=TODAY)


def plates(text: str) -> list[str]:
    return [hit.plate for hit in found(text)]


@pytest.mark.parametrize(
    "typed",
    ["QA26DEM", "qa26 dem", "26D", "6 DE", "DEM", "A26", "QAZ6", "2G D", "qa-26"],
    ids=["whole", "spaced", "middle", "over the gap", "end", "inside", "Z for 2", "not this one", "hyphen"],
)
def test_a_scrap_of_the_plate_finds_the_car_also_with_look_alike_letters(typed: str) -> None:
    factories.car("QA26 DEM")
    factories.car("QK19 OTS")
    assert plates(typed) == ([] if typed == "2G D" else ["QA26 DEM"])


def test_a_look_alike_in_the_middle_of_the_plate_is_the_same_character() -> None:
    factories.car("QB10 SOL")
    assert plates("b1o5") == ["QB10 SOL"]
    assert plates("IO5") == ["QB10 SOL"]


def test_the_whole_plate_comes_before_longer_ones_that_contain_it() -> None:
    for tail in "ABCDEFGH":
        factories.car(f"QA1 {tail}{tail}{tail}")
    factories.car("A1", colour="Green")
    assert plates("A1")[0] == "A 1"


def test_a_short_whole_plate_is_not_lost_among_a_thousand_that_contain_it() -> None:
    from crm.models import Car, FindKey

    cars = Car.objects.bulk_create([Car(ref=f"{number:07}"[-7:]) for number in range(1000)])
    FindKey.objects.bulk_create([FindKey(kind="plate", key=f"A1{car.pk}", car=car) for car in cars])
    factories.car("A1")
    assert plates("A1")[0] == "A 1"


def test_the_end_of_the_chassis_number_finds_the_car_and_says_so() -> None:
    factories.car("QA26 DEM", chassis="1M8GDM9AXKP042788")
    factories.car("QK19 OTS", chassis="1M8GDM9AXKP041111")
    hits = found("042788")
    assert [(hit.plate, hit.found_by) for hit in hits] == [("QA26 DEM", "chassis number")]


@pytest.mark.parametrize(
    "typed", ["harrow", "Harow", "harrwo", "hrrow", "bram har", "HAR bra", "harrow bram"]
)
def test_a_name_is_found_as_it_sounds(typed: str) -> None:
    factories.car("QA26 DEM", keeper=factories.person("Bram Harrow"))
    factories.car("QK19 OTS", keeper=factories.person("Cerys Oakshott"))
    assert plates(typed) == ["QA26 DEM"]


def test_both_words_of_a_name_have_to_fit() -> None:
    factories.car("QA26 DEM", keeper=factories.person("Bram Harrow"))
    factories.car("QK19 OTS", keeper=factories.person("Ines Harrow"))
    assert plates("ines harrow") == ["QK19 OTS"]
    assert sorted(plates("harrow")) == ["QA26 DEM", "QK19 OTS"]


@pytest.mark.parametrize("typed", ["07700 900123", "900123", "0900 123", "+44 7700 900123", "7700-900"])
def test_a_scrap_of_the_telephone_number_finds_the_car(typed: str) -> None:
    factories.car("QA26 DEM", keeper=factories.person("Ada Quill", phone="07700 900123"))
    factories.car("QK19 OTS", keeper=factories.person("Dov Brine", phone="01632 960456"))
    assert plates(typed) == ["QA26 DEM"]


def test_an_old_plate_finds_the_car_and_says_that_it_is_old() -> None:
    car = factories.car("QA26 DEM")
    give_plate(car=car, mark="QP11 VAT", since=date(2025, 3, 1), by=None)
    assert [(hit.plate, hit.found_by) for hit in found("26DEM")] == [
        ("QP11 VAT", "was QA26 DEM until March 2025")
    ]
    assert [(hit.plate, hit.found_by) for hit in found("11VAT")] == [("QP11 VAT", "")]


def test_a_former_keeper_finds_the_car_and_is_named_as_former() -> None:
    ada, bram = factories.person("Ada Quill"), factories.person("Bram Harrow")
    car = factories.car("QA26 DEM", keeper=ada)
    give_role(car=car, person=bram, part=Role.Part.KEEPER, since=date(2026, 1, 2), by=None)
    assert [(hit.keeper, hit.found_by) for hit in found("quill")] == [
        ("Bram Harrow", "former keeper Ada Quill")
    ]
    assert [(hit.keeper, hit.found_by) for hit in found("harrow")] == [("Bram Harrow", "")]


def test_a_driver_finds_the_car_and_is_named_as_driver() -> None:
    car = factories.car("QA26 DEM", keeper=factories.person("Ada Quill"))
    give_role(car=car, person=factories.person("Finn Wick"), part=Role.Part.DRIVER, since=None, by=None)
    assert [hit.found_by for hit in found("wick")] == ["driver Finn Wick"]


def test_the_keeper_of_today_comes_before_the_former_one() -> None:
    ada = factories.person("Ada Quill")
    sold = factories.car("QA26 DEM", keeper=ada)
    give_role(
        car=sold,
        person=factories.person("Bram Harrow"),
        part=Role.Part.KEEPER,
        since=date(2026, 1, 2),
        by=None,
    )
    factories.car("QK19 OTS", keeper=ada)
    assert plates("quill") == ["QK19 OTS", "QA26 DEM"]


def test_a_result_says_what_is_on_the_car_and_when_it_was_last_here() -> None:
    car = factories.car("QA26 DEM", colour="Blue", keeper=factories.person("Ada Quill"))
    factories.layer(car, factories.product(ProductClass.POLYMER_SEALANT, "Gannet paint sealant"))
    hit = found("26dem")[0]
    assert (hit.car, hit.keeper, hit.last_visit) == ("blue Halden Estate", "Ada Quill", NOW)
    assert hit.line == "Gannet paint sealant on all painted panels, setting"


def test_a_car_that_was_never_here_says_that_nothing_is_on_record() -> None:
    factories.car("QA26 DEM")
    assert [(hit.line, hit.last_visit) for hit in found("26dem")] == [("nothing on record", None)]


@pytest.mark.parametrize(
    "typed",
    [
        "",
        " ",
        "a",
        "\x00\x00",
        "%%%",
        "___",
        "'; DROP TABLE crm_car; --",
        "<b>x</b>",
        "\U0001f697\U0001f9fd",
        "א" * 3,
        "x" * 100_000,
        "1" * 5_000,
        "a b c d e f g h i j k l m n o p",
        "\u202eabc",
        "\uff19\uff19\uff19",
    ],
)
def test_nothing_that_is_typed_breaks_the_search(typed: str) -> None:
    factories.car("QA26 DEM")
    assert isinstance(found(typed), list)


def test_wildcards_of_the_database_are_plain_characters() -> None:
    factories.car("QA26 DEM")
    assert (plates("q%m"), plates("2_D"), plates("*")) == ([], [], [])


def test_control_characters_and_long_queries_are_cleaned() -> None:
    assert clean_query("  qa\x0026\n dem \t") == "qa 26 dem"
    assert len(clean_query("ab " * 500)) <= 80


def test_a_search_takes_the_same_few_queries_for_one_hit_and_for_forty() -> None:
    factories.car("QA26 DEM", keeper=factories.person("Bram Harrow"))
    with CaptureQueriesContext(connection) as for_one:
        assert len(found("harrow")) == 1
    for _ in range(15):
        factories.car(keeper=factories.person("Ines Harrow"))
    with CaptureQueriesContext(connection) as for_many:
        assert len(found("harrow")) == 16
    assert (len(for_one), len(for_many)) == (4, 4)


def test_every_scan_of_the_key_index_stops(django_assert_num_queries: object) -> None:
    with CaptureQueriesContext(connection) as queries:
        scan("harrow quill 26")
    sql = queries[0]["sql"]
    assert len(queries) == 1
    assert sql.count("LIMIT") >= sql.count("UNION ALL") + 1


def test_the_scan_uses_the_key_index() -> None:
    factories.car("QA26 DEM", keeper=factories.person("Bram Harrow"))
    with CaptureQueriesContext(connection) as queries:
        scan("26dem")
    explain = "EXPLAIN QUERY PLAN " if connection.vendor == "sqlite" else "EXPLAIN "
    with connection.cursor() as cursor:
        if connection.vendor == "postgresql":
            cursor.execute("SET LOCAL enable_seqscan = off")
        cursor.execute(explain + queries[0]["sql"])
        plan = " ".join(str(row) for row in cursor.fetchall())
    assert "find_by_start" in plan


def test_the_newest_visit_comes_first_where_all_else_is_equal() -> None:
    old, new = factories.car("QA26 DEM"), factories.car("QB26 DEM")
    factories.visit(old, state="handed_over", at=NOW - timedelta(days=400))
    factories.visit(new, state="handed_over", at=NOW - timedelta(days=4))
    assert plates("26DEM") == ["QB26 DEM", "QA26 DEM"]


AHEAD = date(2030, 3, 1)


def test_what_is_dated_ahead_is_shown_from_its_day_on() -> None:
    car = factories.car("QA26 DEM", keeper=factories.person("Ada Quill"))
    bram = factories.person("Bram Harrow")
    give_role(car=car, person=bram, part=Role.Part.KEEPER, since=AHEAD, by=None)
    give_plate(car=car, mark="QP11 VAT", since=AHEAD, by=None)
    for typed, because in (
        ("26dem", ""),
        ("quill", ""),
        ("11vat", "QP11 VAT from 1 March 2030"),
        ("harrow", "keeper Bram Harrow from 1 March 2030"),
    ):
        assert [(hit.plate, hit.keeper, hit.found_by) for hit in found(typed)] == [
            ("QA26 DEM", "Ada Quill", because)
        ]
    (later,) = cars_found("harrow", most=20, today=AHEAD)
    assert (later.plate, later.keeper, later.found_by) == ("QP11 VAT", "Bram Harrow", "")


def test_a_keeper_whose_end_lies_ahead_is_the_keeper_until_then() -> None:
    car = factories.car("QA26 DEM", keeper=factories.person("Ada Quill"))
    car.roles.update(until=AHEAD)
    car.plates.update(until=AHEAD)
    assert [(hit.plate, hit.keeper, hit.found_by) for hit in found("quill")] == [
        ("QA26 DEM", "Ada Quill", "")
    ]


def bare(**known: Any) -> str:
    """A car without plate and without keeper, which only its looks can find."""
    return factories.car(None, without_keeper=True, **known).ref


@pytest.mark.parametrize(
    ("typed", "because"),
    [
        ("blue halden", "by colour and make"),
        ("halden blue", "by colour and make"),
        ("halden estate 2021", "by make, model and year 2021"),
        ("HALDEN", "by make"),
        ("blue hal", "by colour and make"),
        ("bleu halden", "by colour and make"),
        ("blue haldne", "by colour and make"),
        ("hallden", "by make"),
        ("hald\u00e9n 2021", "by make and year 2021"),
    ],
)
def test_a_car_is_found_by_what_one_sees_of_it(typed: str, because: str) -> None:
    ref = bare()
    bare(make="Marram", model="Van", colour="White", year=2019)
    assert [(hit.ref, hit.found_by) for hit in found(typed)] == [(ref, because)]


@pytest.mark.parametrize("typed", ["white halden", "halden estate 2019", "2021", "blue harrow", "ha"])
def test_every_word_has_to_fit_and_a_year_alone_finds_nothing(typed: str) -> None:
    bare()
    assert found(typed) == []


def test_the_looks_come_after_names_plates_and_numbers() -> None:
    looks = bare(make="Vanner")
    person = factories.car("QA26 DEM", keeper=factories.person("Vanna Wick"), make="Corrie").ref
    plate = factories.car("QL18 VAN", make="Corrie").ref
    former = factories.car("QK19 OTS", make="Corrie", keeper=factories.person("Bram Vance"))
    give_role(car=former, person=factories.person("Cerys Oakshott"), part="keeper", since=TODAY, by=None)
    refs = [hit.ref for hit in cars_found("van", most=20, today=date(2030, 1, 1))]
    assert set(refs[:3]) == {person, plate, former.ref}
    assert refs[3:] == [looks]


def test_a_slip_in_the_looks_is_forgiven_where_a_name_was_only_nearly_meant() -> None:
    looks = bare()
    nearly = factories.car("QA26 DEM", make="Corrie", keeper=factories.person("Bram Haldane"))
    assert [hit.ref for hit in found("haldne")] == [nearly.ref, looks]


def test_corrected_facts_find_the_car_and_the_former_ones_no_longer() -> None:
    car = factories.car(None, without_keeper=True)
    change_car(car=car, facts=NewCar(make="Marram", model="Van", colour="White"), by=None)
    assert [hit.ref for hit in found("white marram")] == [car.ref]
    assert found("blue halden") == []


def test_looks_take_the_same_few_queries_for_one_and_for_forty() -> None:
    bare()
    counts = []
    for _ in range(2):
        with CaptureQueriesContext(connection) as queries:
            assert found("blue haldne")
        counts.append(len(queries))
        for _ in range(39):
            bare()
        with CaptureQueriesContext(connection) as queries:
            assert found("blue halden")
        counts.append(len(queries))
    assert max(counts) <= 5


def test_other_words_are_looked_up_by_the_car_and_not_along_the_keys() -> None:
    bare()
    with CaptureQueriesContext(connection) as queries:
        scan("red halden 2021")
    if connection.vendor != "sqlite":
        pytest.skip("PostgreSQL knows how many rows a range of keys holds")
    with connection.cursor() as cursor:
        cursor.execute("EXPLAIN QUERY PLAN " + queries[0]["sql"])
        plan = [row[3] for row in cursor.fetchall()]
    subqueries = [plan[place + 1] for place, step in enumerate(plan) if step.startswith("CORRELATED")]
    assert subqueries
    assert [step for step in subqueries if "_id=?" not in step] == []
