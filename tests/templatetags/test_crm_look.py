"""The surface picker and the coat chart as a browser gets them."""

from __future__ import annotations

import re
from collections.abc import Iterable
from datetime import date
from html.parser import HTMLParser

import pytest
from django.template import engines
from django.template.loader import render_to_string
from django.urls import path

from crm.care.bodies import Body, painted_panels, surfaces_of_body
from crm.care.chart import Band, Chart, GradeDot, VisitPost, coat_chart, two_years
from crm.care.forecast import Window
from crm.care.seasons import SALT
from crm.care.surfaces import NOTHING, Surface, Surfaces, Zone

TODAY = date(2026, 10, 6)
urlpatterns = [path("describe/", lambda _request: None, name="describe_surfaces")]  # type: ignore[arg-type,return-value]

pytestmark = pytest.mark.urls(__name__)


class _Tags(HTMLParser):
    """All opening tags of a page with their attributes."""

    def __init__(self, page: str) -> None:
        super().__init__()
        self.found: list[tuple[str, dict[str, str | None]]] = []
        self.feed(page)

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.found.append((tag, dict(attrs)))

    def of(self, tag: str) -> list[dict[str, str | None]]:
        return [attrs for name, attrs in self.found if name == tag]


def _picker(body: str, chosen: Surfaces | Iterable[str] = NOTHING, last: Surfaces = NOTHING) -> str:
    template = engines["django"].from_string(
        "{% load crm_look %}{% surface_picker body=body chosen=chosen last=last %}"
    )
    return template.render({"body": body, "chosen": chosen, "last": last})


def _boxes(page: str) -> list[dict[str, str | None]]:
    return [attrs for attrs in _Tags(page).of("input") if attrs.get("name") == "surfaces"]


@pytest.mark.parametrize("body", list(Body))
def test_picker_has_one_tick_for_every_surface_of_the_body(body: Body) -> None:
    keys = [box["value"] for box in _boxes(_picker(body))]
    assert sorted(map(str, keys)) == sorted(surfaces_of_body(body).keys())


def test_picker_ticks_what_is_chosen_and_says_it_in_words() -> None:
    chosen = painted_panels(Body.ESTATE) - Surfaces.of([Surface.LEFT_REAR_WING, Surface.LEFT_REAR_WING_LOWER])
    page = _picker("estate", chosen)
    assert {box["value"] for box in _boxes(page) if "checked" in box} == set(chosen.keys())
    assert ">all painted panels except left rear wing</output>" in page


def test_picker_passes_over_what_is_not_a_surface_of_this_body() -> None:
    page = _picker("hatchback", ["bonnet", "soft_top", "<script>", "wing of a duck"])
    assert [box["value"] for box in _boxes(page) if "checked" in box] == ["bonnet"]
    assert "duck" not in page


def test_picker_is_drawn_even_for_a_body_nobody_knows() -> None:
    assert len(_boxes(_picker("hovercraft"))) == len(surfaces_of_body(Body.HATCHBACK))


def test_picker_offers_same_as_last_only_where_there_is_a_last() -> None:
    assert "data-same" not in _picker("saloon")
    page = _picker("saloon", last=Surfaces.of([Surface.BONNET, Surface.ROOF]))
    assert 'data-last="bonnet roof"' in page
    assert ">bonnet and roof</small>" in page


def test_picker_lists_the_sides_in_walk_round_order() -> None:
    keys = [str(box["value"]) for box in _boxes(_picker("estate"))]
    side = [key for key in keys if key.endswith(("_wing", "_door"))]
    assert side == [
        "left_front_wing",
        "left_front_door",
        "left_rear_door",
        "left_rear_wing",
        "right_rear_wing",
        "right_rear_door",
        "right_front_door",
        "right_front_wing",
    ]


def test_every_drawn_part_and_every_set_names_ticks_that_are_there() -> None:
    page = _picker("pick_up")
    there = {box["value"] for box in _boxes(page)}
    named = {
        key for found in re.findall(r'data-(?:surface|set|all-but)="([^"]+)"', page) for key in found.split()
    }
    assert named <= there
    assert "load_bed" in named


def _chart() -> Chart:
    window = Window(date(2026, 12, 1), date(2027, 1, 15), date(2027, 3, 1))
    return coat_chart(
        bands=[
            Band(
                Zone.TOPS,
                "Gannet <b>sealant</b>",
                "roof",
                date(2026, 5, 4),
                date(2026, 5, 6),
                window,
                None,
                "",
            ),
            Band(
                Zone.LAMPS, "Tern film", "", date(2025, 11, 1), None, None, date(2026, 2, 1), "part replaced"
            ),
        ],
        posts=[VisitPost(date(2026, 5, 4), "coating")],
        dots=[GradeDot(Zone.TOPS, date(2026, 5, 4), 3, decontaminated=True)],
        today=TODAY,
        span=two_years(TODAY),
        salt=SALT,
    )


def test_chart_page_has_both_drawings_with_ids_of_their_own() -> None:
    page = render_to_string("studio/_coat.html", {"chart": _chart(), "shown": "two"})
    ids = [attrs["id"] for _, attrs in _Tags(page).found if "id" in attrs]
    assert len(ids) == len(set(ids))
    used = set(re.findall(r"url\(#([^)]+)\)", page)) | set(re.findall(r'href="#([^"]+)"', page))
    assert used <= set(ids)
    assert len(_Tags(page).of("svg")) == 2


def test_chart_keeps_names_as_text_and_coordinates_as_plain_numbers() -> None:
    page = render_to_string("studio/_coat.html", {"chart": _chart(), "shown": "all"})
    assert "Gannet &lt;b&gt;sealant&lt;/b&gt;" in page
    assert "<b>sealant" not in page
    for attrs in _Tags(page).of("rect"):
        for name in ("x", "y", "width", "height"):
            float(str(attrs[name]))


def test_table_twin_says_what_every_band_shows() -> None:
    page = render_to_string("studio/_coat_table.html", {"chart": _chart()})
    rows = re.findall(r"<tr>(.*?)</tr>", page, re.DOTALL)[1:]
    assert len(rows) == 2
    assert "around Jan 2027" in rows[0]
    assert "badge-holding" in rows[0]
    assert "no forecast" in rows[1]
    assert "1 Feb 2026, part replaced" in rows[1]


def test_chart_without_layers_says_what_will_stand_there() -> None:
    empty = coat_chart(bands=[], posts=[], dots=[], today=TODAY, span=two_years(TODAY), salt=SALT)
    page = render_to_string("studio/_coat.html", {"chart": empty, "shown": "two"})
    assert "<svg" not in page
    assert "No layer is recorded" in page
