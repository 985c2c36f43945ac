"""Search keys: what is typed must start, or be, one of the keys that were stored."""

from __future__ import annotations

import sqlite3

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from crm.care.finding import (
    KEY_LENGTH,
    KeyKind,
    QueryKey,
    chassis_keys,
    closeness,
    name_keys,
    phone_keys,
    plate_keys,
    query_keys,
    slips_to_start,
    words_of,
)

STORED = {
    KeyKind.PLATE: plate_keys,
    KeyKind.CHASSIS: chassis_keys,
    KeyKind.NAME: name_keys,
    KeyKind.PHONE: phone_keys,
}


def _finds(kind: KeyKind, stored: str, typed: str) -> bool:
    keys = STORED[kind](stored)
    return any(
        query.key in keys if query.exact else any(key.startswith(query.key) for key in keys)
        for query in query_keys(typed)
        if query.kind is kind
    )


@pytest.mark.parametrize("typed", ["QA26DEM", "qa26 dem", "QAZ6", "26", "6 de", "dem", "em"])
def test_plate_is_found_by_any_piece_and_through_lookalikes(typed: str) -> None:
    assert _finds(KeyKind.PLATE, "QA26DEM", typed)


@pytest.mark.parametrize("typed", ["QB26", "qa2b", "62", "DEMO", "M"])
def test_plate_is_not_found_by_other_pieces(typed: str) -> None:
    assert not _finds(KeyKind.PLATE, "QA26DEM", typed)


@settings(max_examples=100)
@given(st.text("ABCIOSZ012589Q", min_size=2, max_size=12), st.data())
def test_plate_is_found_by_every_substring_of_two_or_more(mark: str, data: st.DataObject) -> None:
    start = data.draw(st.integers(0, len(mark) - 2))
    end = data.draw(st.integers(start + 2, len(mark)))
    keys = plate_keys(mark)
    wanted = mark[start:end].translate(str.maketrans("OIZSB", "01258"))
    assert any(key.startswith(wanted) for key in keys)


@pytest.mark.parametrize("length", range(4, 9))
def test_chassis_is_found_by_its_tail(length: int) -> None:
    number = "1G4AH59H45G118341"
    assert _finds(KeyKind.CHASSIS, number, number[-length:])
    assert _finds(KeyKind.CHASSIS, number, number[-length:].replace("1", "I"))


def test_chassis_is_found_from_its_start_and_whole() -> None:
    assert _finds(KeyKind.CHASSIS, "1G4AH59H45G118341", "1g4ah")
    assert QueryKey(KeyKind.CHASSIS, "1G4AH59H45G118341", exact=True) in query_keys("1g4ah59h45g118341")


def test_chassis_is_not_found_by_its_middle() -> None:
    assert not _finds(KeyKind.CHASSIS, "1G4AH59H45G118341", "AH59")


NAME = "Mairead Ölund-Søby O'Dunn"


@pytest.mark.parametrize(
    "typed",
    [
        "Mairead",
        "mai",
        "olund",
        "ÖLU",
        "soby",
        "odunn",
        "O'Dunn",
        "o\u2019dunn",
        "Maired",  # a letter missing
        "Mairrea",  # a letter too many
        "Miaread",  # two swapped
        "Maiwead",  # a wrong letter
        "aMir",  # swapped at the start, still typing
        "Maiw",  # a wrong letter, still typing
        "xlund",  # the first letter wrong
        "lund",  # the first letter missing
    ],
)
def test_name_is_found_while_typing_and_with_one_slip(typed: str) -> None:
    assert _finds(KeyKind.NAME, NAME, typed)


@pytest.mark.parametrize("typed", ["Mxxread", "zz", "ea", "obyzz"])
def test_name_is_not_found_by_something_else(typed: str) -> None:
    assert not _finds(KeyKind.NAME, NAME, typed)


@settings(max_examples=100)
@given(st.text("abcdef", min_size=5, max_size=10), st.data())
def test_name_is_found_by_any_start_with_any_one_slip(word: str, data: st.DataObject) -> None:
    typed = word[: data.draw(st.integers(5, len(word)))]
    place = data.draw(st.integers(0, len(typed) - 1))
    letter = data.draw(st.sampled_from("abcxyz"))
    slips = [
        typed[:place] + typed[place + 1 :],
        typed[:place] + letter + typed[place:],
        typed[:place] + letter + typed[place + 1 :],
        typed[:place] + typed[place : place + 2][::-1] + typed[place + 2 :],
    ]
    assert all(_finds(KeyKind.NAME, word, slip) for slip in slips)


@pytest.mark.parametrize(
    ("name", "typed"),
    [
        ("أحمد يوسف", "يوس"),
        ("אורית", "אורי"),
        ("Юлия Щербина", "щерб"),
        ("Þóra Straße", "thora"),
        ("Þóra Straße", "strasse"),
        ("Łucja Żak", "luc"),
        ("Łucja Żak", "żak"),
        ("Ægir Œuvre", "aegir"),
        ("Ægir Œuvre", "oeuv"),
        ("王小明", "王"),
        ("प्रिया", "प्रि"),
        ("Σοφία", "ΣΟΦΊΑ"),
    ],
)
def test_name_in_any_script_is_found(name: str, typed: str) -> None:
    assert _finds(KeyKind.NAME, name, typed)


def test_words_of_a_name_lose_case_accents_and_apostrophes() -> None:
    assert words_of("  Anne-Marie D\u2019Åsø_3 ") == ["anne", "marie", "daso", "3"]


@pytest.mark.parametrize(
    "typed",
    [
        "07700 900123",
        "+44 7700 900",
        "0044 7700",
        "+44 (0)7700 900",
        "900123",
        "0123",
        "7700-900",
        "(07700) 9",
        "٠١٢٣",
    ],
)
def test_phone_is_found_by_a_scrap_of_its_digits(typed: str) -> None:
    assert _finds(KeyKind.PHONE, "+447700900123", typed)


@pytest.mark.parametrize("typed", ["07700 901", "123", "01632", "call me"])
def test_phone_is_not_found_by_other_digits(typed: str) -> None:
    assert not _finds(KeyKind.PHONE, "+447700900123", typed)


@pytest.mark.parametrize(
    ("typed", "kinds"),
    [
        ("", set()),
        ("  ", set()),
        ("q", set()),
        ("smi", {KeyKind.PLATE, KeyKind.NAME, KeyKind.LOOK}),
        ("jo har", {KeyKind.PLATE, KeyKind.NAME, KeyKind.LOOK}),
        ("jo", {KeyKind.PLATE, KeyKind.NAME}),
        ("Mairead Olund", {KeyKind.NAME, KeyKind.LOOK}),
        ("marram 2019", {KeyKind.PLATE, KeyKind.CHASSIS, KeyKind.NAME, KeyKind.LOOK}),
        ("QA26", {KeyKind.PLATE, KeyKind.CHASSIS}),
        ("9001", {KeyKind.PLATE, KeyKind.CHASSIS, KeyKind.PHONE}),
        ("26", {KeyKind.PLATE}),
        ("%_", set()),
    ],
)
def test_query_keys_try_every_kind_that_a_scrap_could_be(typed: str, kinds: set[KeyKind]) -> None:
    assert {query.kind for query in query_keys(typed)} == kinds


def test_query_keys_number_the_words_of_a_name() -> None:
    found = {(query.word, query.key) for query in query_keys("jo har") if query.kind is KeyKind.NAME}
    assert found == {(0, "jo"), (1, "har")}


@settings(max_examples=100)
@given(st.text(max_size=60))
def test_query_keys_never_hold_a_wildcard_or_an_overlong_key(typed: str) -> None:
    for query in query_keys(typed):
        assert 0 < len(query.key) <= KEY_LENGTH
        assert not set(query.key) & set("%_\\ *")


def test_keys_work_as_a_prefix_scan_of_an_indexed_column() -> None:
    store = sqlite3.connect(":memory:")
    store.execute("create table k (key text collate binary, owner text)")
    store.execute("create index by_key on k (key)")
    for owner in ("Mairead Olund", "Torben Hale", "أحمد"):
        store.executemany("insert into k values (?, ?)", [(key, owner) for key in name_keys(owner)])
    for typed, owner in (("mairaed", "Mairead Olund"), ("hal", "Torben Hale"), ("أحم", "أحمد")):
        rows: set[str] = set()
        for query in query_keys(typed):
            bounds = (query.key, query.key + "\U0010ffff")
            rows |= {
                row[0] for row in store.execute("select owner from k where key >= ? and key < ?", bounds)
            }
        assert rows == {owner}
    store.close()


@pytest.mark.parametrize(
    ("typed", "word", "slips"),
    [
        ("smith", "smith", 0),
        ("smi", "smith", 0),
        ("smiht", "smith", 1),
        ("smth", "smith", 1),
        ("smitth", "smith", 1),
        ("snith", "smith", 1),
        ("xx", "smith", 2),
        ("", "smith", 0),
    ],
)
def test_slips_to_start_counts_the_fewest_slips(typed: str, word: str, slips: int) -> None:
    assert slips_to_start(typed, word) == slips


def test_closeness_is_one_for_the_same_and_none_for_nothing_shared() -> None:
    assert closeness("Torben Hale", "torben hale") == 1
    assert closeness("qa26dem", "QA26 DEM") == 1
    assert closeness("", "Hale") == 0
    assert closeness("zz", "Hale") == 0


@pytest.mark.parametrize(
    ("typed", "nearer", "farther"),
    [
        ("hale", "Hale", "Halewood"),
        ("hale", "Halewood", "Hall"),
        ("torebn", "Torben", "Corbin"),
        ("jo har", "Joan Harrow", "Joan Smale"),
        ("26 dem", "QA26 DEM", "QA26 DXM"),
        ("26", "26 XX", "QA26 XX"),
        ("900123", "+447700900123", "+447790012399"),
    ],
)
def test_closeness_puts_the_likelier_first(typed: str, nearer: str, farther: str) -> None:
    assert closeness(typed, nearer) > closeness(typed, farther)


@pytest.mark.parametrize("typed", ["00265", "0044 7700 900265", "+44 (0)7700 900265"])
def test_two_noughts_may_be_the_middle_of_a_number_or_stand_before_a_country(typed: str) -> None:
    number = "+447700900265" if typed != "00265" else "+447700000265"
    assert _finds(KeyKind.PHONE, number, typed)
