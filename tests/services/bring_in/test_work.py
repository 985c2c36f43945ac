"""Job lists in the studio's own words. What a word means is common practice, no source."""

from __future__ import annotations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from crm.care.bodies import Body
from crm.care.surfaces import PANELS, Surfaces, Zone, surfaces_of
from crm.care.terms import Process, ProductClass
from crm.care.words import describe
from crm.services.bring_in.cells import Sure
from crm.services.bring_in.work import CLASS_WORDS, PROCESS_WORDS, ListedLayer, Work, read_work

P = ProductClass
SHELF = {
    "gannet paint sealant": P.POLYMER_SEALANT,
    "dunlin winter wax": P.DURABLE_WAX,
    "fulmar two-year coating": P.COATING_PROFESSIONAL,
}
LEFT_REAR_WING = Surfaces.from_keys(["left_rear_wing", "left_rear_wing_lower"])
WHEEL_FACES = surfaces_of(Zone.WHEELS)


def read(text: str, region: str = "GB") -> Work:
    return read_work(text, shelf=SHELF, region=region)


def layers(text: str, region: str = "GB") -> list[tuple[str, str, int]]:
    """Class or product, surfaces in words, coats."""
    return [
        (layer.product or layer.product_class.value, describe(layer.surfaces, Body.ESTATE), layer.coats)
        for layer in read(text, region).layers
    ]


def test_example_of_the_owner_is_read_as_meant() -> None:
    work = read("2 coats sealant all over exc. LR wing")
    assert work.layers == [ListedLayer("", P.POLYMER_SEALANT, PANELS - LEFT_REAR_WING, 2)]
    assert work.remarks == []


@pytest.mark.parametrize(
    "text",
    [
        "2 coats sealant all over exc LR wing",
        "2x sealant all over except left rear wing",
        "two coats of sealant, all over, not the LR wing",
        "sealant all over excl. n/s/r wing, 2 coats",
        "double coat sealant whole car apart from nearside rear wing",
        "2 coats sealant all panels bar L/R wing",
        "Sealant 2 coats paintwork w/o l/h rear wing",
    ],
)
def test_exclusion_is_read_in_every_wording(text: str) -> None:
    assert read(text).layers == [ListedLayer("", P.POLYMER_SEALANT, PANELS - LEFT_REAR_WING, 2)]


def test_several_exclusions_belong_together() -> None:
    assert layers("sealant all over exc. bonnet and roof") == [
        ("polymer_sealant", "all painted panels except bonnet and roof", 1)
    ]


def test_exclusion_that_is_not_understood_is_told() -> None:
    work = read("sealant all over except the dent")
    assert work.layers == [ListedLayer("", P.POLYMER_SEALANT, PANELS)]
    assert [remark.words for remark in work.remarks] == ["“dent” not understood, so nothing is left out"]


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        ("waxed", [("natural_wax", "all painted panels", 1)]),
        ("Dunlin winter wax, whole car", [("dunlin winter wax", "all painted panels", 1)]),
        ("alloys wheel sealant", [("wheel_sealant", "wheel faces", 1)]),
        ("sealant on wheels", [("wheel_sealant", "wheel faces", 1)]),
        ("glass coating on all glass", [("glass_coating", "all glass", 1)]),
        ("screen repellent", [("rain_repellent", "windscreen", 1)]),
        ("leather coating", [("leather_coating", "seats", 1)]),
        ("polish and wax bonnet, roof & boot", [("natural_wax", "tops", 1)]),
        ("hood proofed", [("soft_top_proofer", "soft top", 1)]),
        ("tyres dressed", [("tyre_water_dressing", "tyre sidewalls", 1)]),
        (
            "pro coating all over + glass coated",
            [("coating_professional", "all painted panels", 1), ("glass_coating", "windscreen", 1)],
        ),
        ("coat all over, 2 coats", [("coating_enthusiast", "all painted panels", 2)]),
        ("topper on coated panels", [("silica_topper", "all painted panels", 1)]),
        ("topper over coating", [("silica_topper", "all painted panels", 1)]),
        ("wash & spray wax", [("quick_detailer", "all painted panels", 1)]),
        ("wash only", []),
        ("", []),
    ],
)  # fmt: skip
def test_job_list_gives_layers(text: str, expected: list[tuple[str, str, int]]) -> None:
    assert layers(text) == expected


def test_later_places_belong_to_the_product_before_them() -> None:
    assert layers("clayed, sealant all over, wheels sealant, seals seal conditioner") == [
        ("polymer_sealant", "all painted panels", 1),
        ("wheel_sealant", "wheel faces", 1),
        ("seal_conditioner", "rubber seals", 1),
    ]


def test_nearside_follows_the_side_of_the_road() -> None:
    assert layers("wax on n/s doors", "GB") == [("natural_wax", "left doors", 1)]
    assert layers("wax on n/s doors", "DE") == [("natural_wax", "right doors", 1)]


def test_processes_are_read_with_their_surfaces() -> None:
    work = read("wash, iron, tar; clayed all over exc roof; sealant all over")
    assert [(step.process, describe(step.surfaces, Body.ESTATE)) for step in work.steps] == [
        (Process.CONTACT_WASH, "all painted panels"),
        (Process.IRON_REMOVER, "all painted panels"),
        (Process.TAR_REMOVER, "all painted panels"),
        (Process.CLAY, "all painted panels except roof"),
    ]


def test_words_that_are_not_understood_are_told() -> None:
    work = read("sealant all over, dog hair")
    assert [remark.words for remark in work.remarks] == [
        "“dog hair” not understood, kept in the words of the visit"
    ]
    assert work.remarks[0].sure is Sure.GUESSED


def test_place_that_was_not_given_is_a_guess() -> None:
    assert [remark.words for remark in read("sealant").remarks] == [
        "paint sealant: no place given, taken as all painted panels"
    ]


def test_coats_of_nothing_in_particular_are_told() -> None:
    work = read("2 coats all over")
    assert work.layers == []
    assert [remark.words for remark in work.remarks] == [
        "“2 coats all over”: nothing says what was done there"
    ]


def test_number_of_coats_is_kept_within_reason() -> None:
    assert [layer.coats for layer in read("99 coats sealant all over").layers] == [20]
    assert [layer.coats for layer in read("sealant all over").layers] == [1]
    assert [layer.coats for layer in read("0 coats sealant all over").layers] == [1]


PIECES = (
    "all over",
    "exc",
    "except",
    "not",
    "LR wing",
    "n/s doors",
    "roof",
    "2 coats",
    "and",
    ",",
    ";",
    "+",
    ".",
    "(",
)
ODD = ("on", "bonnet", "alloys", "99x", "ß", "🚐", "'; drop", "<b>", "\x00", "\u202e")
words = st.sampled_from([*CLASS_WORDS, *PROCESS_WORDS, *SHELF, *PIECES, *ODD])


@settings(max_examples=100)
@given(
    text=st.one_of(st.text(max_size=60), st.lists(words, max_size=9).map(" ".join)),
    region=st.sampled_from(["GB", "DE", ""]),
)
def test_any_text_is_read_without_harm(text: str, region: str) -> None:
    work = read(text, region)
    assert all(layer.surfaces and 1 <= layer.coats <= 20 for layer in work.layers)
    assert all(step.surfaces and step.surfaces <= PANELS for step in work.steps)
    assert all(remark.words for remark in work.remarks)
