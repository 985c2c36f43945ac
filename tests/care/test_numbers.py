"""The model's figures told in words and changed one at a time."""

from __future__ import annotations

from collections.abc import Iterator, Mapping

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


KM_UNKNOWN = "winter.salt.km_unknown"
WINTER_TABLES = [key for key in OF_TABLES if key.startswith("winter.")]


def test_every_number_of_the_winter_round_is_a_figure_with_its_mark_and_no_list_of_names_is() -> None:
    ours = {path: number for path, number in numbers_by_path().items() if path.startswith("winter.")}
    assert list(OF_TABLES)[-len(WINTER_TABLES) :] == WINTER_TABLES
    assert {number.table for number in ours.values()} == set(WINTER_TABLES)
    assert [path for path, number in ours.items() if number.words.endswith("not known")] == [KM_UNKNOWN]
    assert {number.mark for path, number in ours.items() if path.startswith("winter.round.")} == {Mark.COMMON}
    marked = {path: ours[path].mark for path in ("winter.booked.wash", "winter.packages.top_up.hours")}
    assert marked == {"winter.booked.wash": Mark.GUESS, "winter.packages.top_up.hours": Mark.GUESS}
    assert [path for path in ours if path.endswith((".counts", ".prep", ".takes_off", ".mark"))] == []
    assert [path for path in ours if ".lays." in path] == []
    assert len(ours) == sum(_numbers_in(DEFAULTS.winter.figures))


def _numbers_in(table: Mapping[str, object]) -> Iterator[int]:
    """1 for every number and every list of numbers of nested tables."""
    for entry in table.values():
        if isinstance(entry, Mapping):
            yield from _numbers_in(entry)
        elif isinstance(entry, int | float) or (
            isinstance(entry, list) and entry and entry[0] != str(entry[0])
        ):
            yield 1


def test_winter_figures_are_called_what_the_trade_calls_them() -> None:
    words = {path: number.words for path, number in numbers_by_path().items()}
    assert words["winter.packages.wheels_off.nights"] == "winter coat with the wheels off: nights in the bay"
    assert words["winter.places.lower_sides"] == "lower sides"
    assert words["winter.round.ask_ahead_days"] == "a week is asked for at most so many days ahead"
    assert words["winter.rest.forgotten_days"] == "not here for so many days"
    assert words["winter.booked.spring"] == "spring decontamination"


def test_chances_and_factors_are_called_by_where_their_bands_end() -> None:
    known = numbers_by_path()
    chances, factors = known["winter.acceptance.chances"], known["winter.salt.km_factors"]
    assert dict(zip(chances.parts, chances.values, strict=True)) == {
        "seen within 18 months": 0.4,
        "18 to 36 months": 0.2,
        "longer ago or never": 0.08,
    }
    assert factors.parts == ("up to 4,999 km", "up to 15,000 km", "up to 30,000 km", "further")
    own = DEFAULTS.with_overrides({"winter": {"acceptance": {"months": [12, 30]}}})
    assert numbers_by_path(own)["winter.acceptance.chances"].parts == (
        "seen within 12 months",
        "12 to 30 months",
        "longer ago or never",
    )


def test_a_number_says_whether_forecasts_rest_on_it() -> None:
    known = numbers_by_path()
    moves = {number.path.partition(".")[0]: number.moves_forecasts for number in known.values()}
    assert moves == {
        "lives": True,
        "zones": True,
        "elsewhere": True,
        "wear": True,
        "inspection": True,
        "thickness": False,
        "winter": False,
    }
    assert {number.path.partition(".")[0] for number in known.values() if number.of_winter} == {"winter"}


def test_a_refusal_about_other_winter_figures_is_told_in_words() -> None:
    known = numbers_by_path()
    notice, tops = known["winter.round.notice_days"], known["winter.places.tops"]
    with pytest.raises(TablesError) as refused:
        DEFAULTS.with_overrides(with_number({}, notice, [30]))
    assert spoken_sentence(str(refused.value), notice) == (
        "“winter round: its weeks: a week is asked for at most so many days ahead” has to be at least “winter round:"
        " its weeks: a week is asked for at least so many days ahead”, or no week could be asked for."
    )
    nothing = {zone.value: 0 for zone in DEFAULTS.winter.places}
    with pytest.raises(TablesError) as no_place:
        DEFAULTS.with_overrides({"winter": {"places": nothing}})
    assert (
        spoken_sentence(str(no_place.value), tops)
        == "“Winter round: places” has to count at least one place."
    )
