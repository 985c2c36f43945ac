"""What the bench asks of the pages, on a small record: right answers and few queries, never a time."""

from __future__ import annotations

from dataclasses import replace
from io import StringIO

import pytest
from django.core.management import CommandError, call_command
from django.db import connection
from django.utils import timezone

from crm.care.daily import DailyWalk
from crm.management.bench.filling import filled
from crm.management.bench.forecasts import cases, compared
from crm.management.bench.pages import (
    MOST_QUERIES,
    Browser,
    Measured,
    WrongAnswer,
    car_file,
    everything_asked,
    measured,
    typing,
)
from crm.management.bench.plan import Sizes
from crm.management.bench.printing import WIDTH, find_table, forecast_table
from crm.management.bench.sought import NothingToSeek, car_with_visits, plate_scrap
from crm.management.bench.statements import Statement, ways_of
from crm.management.bench.timing import Timing, in_turn
from crm.models import Car, Visit

SIZES = Sizes(cars=60, layers=900)


@pytest.fixture
def browser(transactional_db: None) -> Browser:
    filled(SIZES, today=timezone.localdate(), say=lambda _: None)
    return Browser()


def test_every_page_of_the_bench_answers_rightly_with_few_queries(browser: Browser) -> None:
    rows = [measured(asked, browser, runs=1) for asked in everything_asked(timezone.now())]
    by_name = {row.asked.what: row for row in rows}
    assert len(rows) == 9
    assert {name for name, row in by_name.items() if row.asked.aimed and row.queries > MOST_QUERIES} == set()
    assert [name for name, row in by_name.items() if not row.asked.aimed] == ["due back, first page"]
    assert by_name["car file, 1 visit"].queries == by_name["car file, 100 visits"].queries
    if connection.vendor == "sqlite":  # PostgreSQL reads tables this small from end to end, and should
        assert [row.asked.what for row in rows if "crm_findkey" in row.ways.scanned] == []
        assert "find_by_start" in {name for row in rows for name in row.ways.indexes}
    assert max(len(line) for line in find_table(rows)) <= WIDTH


def test_page_without_the_car_that_is_sought_is_a_wrong_answer(browser: Browser) -> None:
    scrap = plate_scrap()
    other = Car.objects.exclude(ref=scrap.car).earliest("pk")
    with pytest.raises(WrongAnswer, match=rf"did not find the car {other.ref}\.$"):
        measured(typing(replace(scrap, car=other.ref)), browser, runs=1)


def test_result_that_does_not_answer_to_the_scrap_is_a_wrong_answer(browser: Browser) -> None:
    scrap = plate_scrap()
    with pytest.raises(WrongAnswer, match=rf"found {scrap.car}.*, which do not answer to it\.$"):
        measured(typing(replace(scrap, answers=Car.objects.none())), browser, runs=1)


def test_car_file_without_the_newest_visit_is_a_wrong_answer(browser: Browser) -> None:
    asked = car_file("a file", car_with_visits(1, 1))
    with pytest.raises(WrongAnswer, match=r"does not show"):
        asked.check("<h1>some other page</h1>")


def test_page_that_does_not_exist_is_a_wrong_answer(browser: Browser) -> None:
    with pytest.raises(WrongAnswer, match=r"^/car/2222222/ was answered with 404\.$"):
        browser.get("/car/2222222/", {})


def test_cars_are_chosen_by_their_count_of_visits(browser: Browser) -> None:
    assert Visit.objects.filter(car__ref=car_with_visits(1, 1)).count() == 1
    assert Visit.objects.filter(car__ref=car_with_visits(100)).count() >= 100
    with pytest.raises(NothingToSeek):
        car_with_visits(10_000)


@pytest.mark.django_db
@pytest.mark.skipif("connection.vendor != 'sqlite'", reason="PostgreSQL plans by how large a table is")
def test_reading_a_table_from_end_to_end_is_noticed() -> None:
    by_index = Statement("SELECT key FROM crm_findkey WHERE kind = %s AND key >= %s", ["plate", "A"])
    whole = Statement('SELECT U0."key" FROM "crm_findkey" U0 WHERE U0."key" LIKE %s', ["%A"])
    assert ways_of([by_index]).scanned == set()
    assert ways_of([by_index, whole]).scanned == {"crm_findkey"}


def test_things_timed_in_turn_are_each_done_as_often() -> None:
    done: list[str] = []
    timings = in_turn((lambda: done.append("page"), lambda: done.append("sql")), runs=4)
    assert [len(timing.runs) for timing in timings] == [4, 4]
    assert done[-4:] == ["page", "sql", "page", "sql"]


def test_timing_knows_its_middle_and_its_ends() -> None:
    timing = Timing((3.0, 1.0, 10.0))
    assert (timing.median, timing.least, timing.most) == (3.0, 1.0, 10.0)


def test_ratio_holds_the_quickest_page_against_the_quickest_sql(browser: Browser) -> None:
    row: Measured = measured(typing(plate_scrap()), browser, runs=1)
    row = replace(row, page=Timing((9.0, 6.0)), own=Timing((4.0, 2.0)), sql=Timing((1.0, 3.0)))
    assert row.ratio == 6.0
    assert replace(row, own=Timing((0.5, 2.0))).ratio == 12.0
    assert replace(row, floor=Timing((5.0, 4.0))).ratio_beyond == 2.0
    assert replace(row, floor=Timing((7.0,))).ratio_beyond == 0.0


def test_engine_and_plain_walk_agree_to_the_day() -> None:
    found = compared(60)
    assert (found.layers, found.walked) == (60, 60)
    assert found.apart <= 1
    assert max(len(line) for line in forecast_table(found)) <= WIDTH


def test_forecast_cases_are_varied_and_always_the_same() -> None:
    found = cases(400)
    assert cases(400) == found
    assert len({(case.coat.product_class, case.coat.zone) for case in found}) > 100
    assert {len(case.habits) for case in found} == {0, 1, 2}
    assert {len(case.lumps) for case in found} == {0, 1, 2}


def test_bench_forecast_fails_where_the_dates_differ(monkeypatch: pytest.MonkeyPatch) -> None:
    worn_on = DailyWalk.worn_on

    def earlier(walk: DailyWalk, clock: int, months: float) -> object:
        return worn_on(walk, clock, months * 0.5)

    monkeypatch.setattr(DailyWalk, "worn_on", earlier)
    printed = StringIO()
    with pytest.raises(CommandError, match=r"^The two differ by \d+ days: one of them is wrong\.$"):
        call_command("bench", "forecast", layers=20, stdout=printed)
    assert "20 layers" in printed.getvalue()
