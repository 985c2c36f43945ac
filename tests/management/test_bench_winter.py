"""`bench winter`: the same made-up branches every time, plans that hold, and a printed table that fits."""

from __future__ import annotations

from dataclasses import replace
from io import StringIO

import pytest
from django.core.management import CommandError, call_command

from crm.management.bench.winter import Season, chain_season, one_season, studio_season, wrong
from crm.management.bench.winter_cars import LAYERS_A_CAR, followed, made_up_branch
from crm.management.bench.winter_table import studio_table


def _figures(season: Season) -> Season:
    """Without the times, which differ."""
    return replace(season, curves_s=0, worth_s=0, solve_s=0, words_s=0, plain_s=0)


def test_branch_is_the_same_for_the_same_seed_and_has_eight_layers_a_car() -> None:
    season, cars = made_up_branch(5, 12, 3)
    assert (season, cars[3].layers) == (made_up_branch(5, 12, 3)[0], made_up_branch(5, 12, 3)[1][3].layers)
    assert cars[3].layers != made_up_branch(6, 12, 3)[1][3].layers
    assert {len(car.layers) for car in cars} == {LAYERS_A_CAR}
    assert {sum(len(one.layers) for one in car.cover) for car in followed(cars)} == {LAYERS_A_CAR}
    assert len(season.weeks) == 3


def test_studio_of_the_bench_has_nearly_all_its_cars_to_choose_from() -> None:
    season = studio_season(60, 4)
    assert season.candidates >= 50
    assert (season.layers, season.reasons) == (480, 60)
    assert season.plain_value <= season.value <= season.bound
    assert season.gap <= 0.01
    assert wrong([season]) == ""


def test_branches_come_out_the_same_one_by_one_and_side_by_side() -> None:
    alone, together = (chain_season(4, 3, cars=25, workers=workers) for workers in (1, 2))
    assert [_figures(one) for one in alone.seasons] == [_figures(one) for one in together.seasons]
    assert (alone.cars, alone.workers, together.workers) == (100, 1, 2)
    assert alone.value <= alone.bound
    assert alone.worst_gap == max(one.gap for one in alone.seasons)


def test_plan_that_cannot_be_right_is_named() -> None:
    season = one_season(1, 20, 2, 0.01)
    assert wrong([season]) == ""
    assert wrong([season, replace(season, over=0.5)]) == "A week is over its room by 0.500."
    assert wrong([replace(season, reasons=19)]) == "Of 20 cars 19 have a reason."
    assert wrong([replace(season, value=season.bound + 1)]) == "A plan is worth more than its bound."


def test_table_says_how_the_plan_was_come_by() -> None:
    season = one_season(1, 20, 2, 0.01)
    assert "How: proven within the asked gap." in "\n".join(studio_table(season))


def test_bench_winter_prints_studio_and_chain_within_eighty_columns() -> None:
    told = StringIO()
    call_command("bench", "winter", cars=60, weeks=4, branches=1, stdout=told)
    printed = told.getvalue()
    assert printed.startswith("bench winter: ")
    assert "\nOne studio: 60 cars, " in printed
    assert "\nA chain: 480 cars in 1 branches, 1 at a time\n" in printed
    assert "\nby worth for an hour " in printed
    assert "times the plain way." in printed
    assert max(len(line) for line in printed.splitlines()) <= 80


def test_bench_winter_fails_for_a_wrong_plan(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(
        "crm.management.commands.bench.wrong", lambda _seasons: "A week is over its room by 1."
    )
    with pytest.raises(CommandError, match=r"^A week is over its room by 1\.$"):
        call_command("bench", "winter", cars=5, weeks=1, branches=1, stdout=StringIO())


def test_bench_winter_refuses_nothing_at_all() -> None:
    with pytest.raises(CommandError, match=r"^Give at least one car, one week and one branch\.$"):
        call_command("bench", "winter", weeks=0, stdout=StringIO())
