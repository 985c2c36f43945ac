"""The model's figures told in words and changed one at a time."""

from __future__ import annotations

import pytest

from crm.care.number_words import OF_TABLES
from crm.care.numbers import (
    Number,
    full_words,
    number_tables,
    numbers_by_path,
    plain,
    spoken_sentence,
    table_of,
    with_number,
    without_number,
)
from crm.care.tables import DEFAULTS, TablesError
from crm.care.terms import Mark, Parking, ProductClass

EVERY = list(numbers_by_path().values())


def test_every_number_of_the_data_is_in_one_table() -> None:
    shown = [number.path for table in number_tables() for number in table.numbers]
    assert sorted(shown) == sorted(numbers_by_path())
    assert len(shown) == len(set(shown))
    assert {table_of(path) for path in shown} == set(OF_TABLES)


def test_lives_are_those_of_the_tables() -> None:
    for product_class, entry in DEFAULTS.lives.items():
        number = numbers_by_path().get(f"lives.{product_class}.life")
        if entry.life is None:
            assert (product_class, number) == (ProductClass.UNKNOWN, None)
        else:
            assert number is not None
            assert number.values == (entry.life.low, entry.life.likely, entry.life.high)
            assert (number.parts, number.mark) == (("low", "likely", "high"), entry.mark)


def test_a_figure_is_called_what_the_trade_calls_it() -> None:
    words = {path: full_words(number) for path, number in numbers_by_path().items()}
    assert words["wear.parking.garage"] == "parking: garage"
    assert words["wear.wash.durable_wax.tunnel"] == "washing: durable wax: brush or cloth tunnel"
    glass = "lives of the classes: rain repellent on side and rear glass"
    assert words["lives.rain_repellent.sites.glass.life"] == glass
    assert words["elsewhere.lamps.film.life"] == "lives in other places: film on lamps"
    assert words["zones.lower_sides.salt"] == "what each place does: lower sides: effect of salt"


def test_no_two_figures_of_a_table_are_called_the_same() -> None:
    for table in number_tables():
        words = [number.words for number in table.numbers]
        assert len(set(words)) == len(words), table.key


def test_the_mark_is_that_of_the_nearest_table() -> None:
    assert numbers_by_path()["lives.natural_wax.life"].mark is Mark.COMMON
    assert numbers_by_path()["zones.seats.hard_use.share"].mark is Mark.GUESS
    assert numbers_by_path()["lives.wheel_coating.sites.barrels.life"].mark is Mark.RANGE


@pytest.mark.parametrize("number", EVERY, ids=lambda number: number.path)
def test_every_figure_can_be_changed_and_put_back(number: Number) -> None:
    nearly = tuple(
        value * 1.001 if number.table in ("lives", "elsewhere") else value for value in number.values
    )
    changed = with_number({}, number, nearly)
    if nearly == number.values:
        assert changed == {}
    else:
        assert numbers_by_path(DEFAULTS.with_overrides(changed))[number.path].values == nearly
    assert without_number(changed, number) == {}


def test_changing_one_figure_leaves_the_others() -> None:
    known = numbers_by_path()
    garage, tops = known["wear.parking.garage"], known["zones.tops.wear"]
    both = with_number(with_number({}, garage, [0.85]), tops, [1.3])
    assert both == {"wear": {"parking": {"garage": 0.85}}, "zones": {"tops": {"wear": 1.3}}}
    assert with_number(both, garage, [0.9])["wear"] == {"parking": {"garage": 0.9}}
    assert without_number(both, tops) == {"wear": {"parking": {"garage": 0.85}}}
    own = DEFAULTS.with_overrides(both)
    assert own.wear.parking[Parking.GARAGE] == (0.85, 0.85, 0.85)


def test_a_life_at_a_special_place_is_changed_as_a_whole() -> None:
    number = numbers_by_path()["lives.wheel_coating.sites.barrels.life"]
    changed = with_number({}, number, [4, 8, 16])
    assert changed == {
        "lives": {"wheel_coating": {"sites": {"barrels": {"life": [4, 8, 16], "mark": "range"}}}}
    }
    assert without_number(changed, number) == {}


def test_the_default_written_again_is_no_figure_of_ones_own() -> None:
    garage = numbers_by_path()["wear.parking.garage"]
    assert with_number({"wear": {"parking": {"garage": 0.85}}}, garage, [0.8]) == {}


def test_a_refusal_is_told_without_paths() -> None:
    known = numbers_by_path()
    garage = known["wear.parking.garage"]
    with pytest.raises(TablesError) as refused:
        DEFAULTS.with_overrides(with_number({}, garage, [0.7]))
    assert spoken_sentence(str(refused.value), garage) == (
        "“parking: not known”: the last number has to be at most 0.7, the best of the known answers, or not knowing"
        " would narrow the window."
    )
    with pytest.raises(TablesError) as out_of_range:
        DEFAULTS.with_overrides(with_number({}, garage, [7.0]))
    assert spoken_sentence(str(out_of_range.value), garage) == "This is 7; it has to be between 0.1 and 5."


def test_numbers_are_written_plainly() -> None:
    written = [plain(value) for value in (1_000_000.0, 15000.0, 0.85, 0.005, 0.0, 12.0)]
    assert written == ["1000000", "15000", "0.85", "0.005", "0", "12"]
