"""Paint thickness and correction on the bay sheet and the car file, through the forms.

Bands and removals are common practice as ranges, no source.
"""

from __future__ import annotations

import re
from datetime import timedelta
from typing import Any

import pytest
from django.test import Client
from django.urls import reverse
from django.utils import timezone
from django.utils.html import escape, strip_tags
from pytest_django import DjangoAssertNumQueries

from crm.care.surfaces import Surface, Surfaces
from crm.models import CorrectionNote, GaugeSpot, Rank, Step, Visit
from tests import factories as made

pytestmark = pytest.mark.django_db
HTMX = {"HTTP_HX_REQUEST": "true"}
BONNET = {"panel": "bonnet", "label": "1", "um_1": "92", "um_2": "91,5", "um_3": "92.4", "mode": "eddy"}


@pytest.fixture
def stay() -> Visit:
    """A car with an aluminium bonnet and a plastic front bumper that came in three hours ago."""
    car = made.car(aluminium=Surfaces.of([Surface.BONNET]), plastic=Surfaces.of([Surface.FRONT_BUMPER]))
    return made.visit(car, at=timezone.now() - timedelta(hours=3))


def _post(client: Client, name: str, stay: Visit, typed: dict[str, Any], **more: Any) -> Any:
    return client.post(reverse(name, args=[stay.pk]), typed, **more)


def _form(client: Client, stay: Visit, panel: str, **asked: str) -> str:
    address = reverse("bay_gauge", args=[stay.pk])
    return str(client.get(address, {"panel": panel, **asked}).content.decode())


def _text(answer: Any) -> str:
    return " ".join(strip_tags(answer.content.decode()).split())


def _ticked(page: str, name: str) -> str:
    ticked = re.search(rf'<input[^>]*name="{name}"[^>]*checked[^>]*>', page)
    value = re.search(r'value="([^"]*)"', ticked[0]) if ticked else None
    return value[1] if value else ""


def _typed_in(page: str, name: str) -> str:
    box = re.search(rf'<input[^>]*name="{name}"[^>]*>', page)
    value = re.search(r'value="([^"]*)"', box[0]) if box else None
    return value[1] if value else ""


def test_a_spot_is_written_down_with_commas_and_judged_at_once(stay: Visit) -> None:
    answer = _post(made.signed_in(Rank.BENCH), "bay_gauge", stay, BONNET, follow=True)
    row = GaugeSpot.objects.get(visit=stay)
    assert [str(one.um) for one in row.readings.all()] == ["92.0", "91.5", "92.4"]
    page = _text(answer)
    said = "Thin for a whole paint system. A refining polish only, no compound, and say so in writing."
    assert f"Bonnet: B, thin. Lowest spot 91.9 µm. {said}" in page
    assert "Spot 1: 91.9 µm" in page


def test_mil_are_understood_and_kept_as_micrometres(stay: Visit) -> None:
    typed = {**BONNET, "um_1": "3.64", "um_2": "3,60", "um_3": "3.6", "unit": "mil"}
    _post(made.signed_in(), "bay_gauge", stay, typed)
    # 1 mil = 25.4 µm by definition: 92.456, 91.44, 91.44.
    assert [str(one.um) for one in GaugeSpot.objects.get().readings.all()] == ["92.5", "91.4", "91.4"]


def test_nine_readings_are_taken(stay: Visit) -> None:
    typed = {**BONNET, **{f"um_{number}": str(90 + number) for number in range(1, 10)}}
    _post(made.signed_in(), "bay_gauge", stay, typed)
    assert GaugeSpot.objects.get().readings.count() == 9


@pytest.mark.parametrize(
    ("panel", "mode"), [("bonnet", "eddy"), ("front_bumper", "not_measurable"), ("roof", "magnetic")]
)
def test_the_form_begins_with_what_the_panel_is_made_of(stay: Visit, panel: str, mode: str) -> None:
    assert _ticked(_form(made.signed_in(), stay, panel), "mode") == mode


def test_plastic_is_one_press(stay: Visit) -> None:
    typed = {"panel": "front_bumper", "label": "1", "mode": "not_measurable"}
    answer = _post(made.signed_in(), "bay_gauge", stay, typed, follow=True)
    assert "Front bumper: Not measurable: plastic, carbon or glass-fibre." in _text(answer)
    assert GaugeSpot.objects.get().readings.get().um is None


def test_the_lower_third_is_a_place_of_its_own(stay: Visit) -> None:
    client = made.signed_in()
    assert 'name="lower"' in _form(client, stay, "left_front_door")
    assert 'name="lower"' not in _form(client, stay, "bonnet")
    typed = {**BONNET, "panel": "left_front_door", "lower": "on", "mode": "magnetic"}
    answer = _post(client, "bay_gauge", stay, typed, follow=True)
    assert GaugeSpot.objects.get().surface is Surface.LEFT_FRONT_DOOR_LOWER
    assert "Left front door" in _text(answer)
    # Where there is none of its own, the tick says nothing.
    _post(client, "bay_gauge", stay, {**BONNET, "lower": "on"})
    assert GaugeSpot.objects.latest("pk").surface is Surface.BONNET


def test_the_next_spot_is_the_one_of_last_time_with_its_values_beside_it(stay: Visit) -> None:
    client = made.signed_in()
    long_ago = timezone.now() - timedelta(days=400)
    Visit.objects.filter(pk=stay.pk).update(state=Visit.State.BOOKED)
    earlier = made.visit(stay.car, at=long_ago, state=Visit.State.HANDED_OVER)
    Visit.objects.filter(pk=stay.pk).update(state=Visit.State.IN_BAY)
    at = f"{timezone.localtime(earlier.planned_in + timedelta(hours=1)):%d/%m/%Y %H:%M}"
    for label, um in (("3", "118"), ("7", "120")):
        typed = {**BONNET, "label": label, "um_1": um, "um_2": um, "um_3": um, "gauge": "No 2", "at": at}
        assert _post(client, "bay_gauge", earlier, typed).status_code == 302
    page = _form(client, stay, "bonnet")
    assert (_typed_in(page, "label"), _typed_in(page, "gauge")) == ("3", "No 2")
    assert "118, 118, 118 µm" in page
    measured = {**BONNET, "label": "3", "um_1": "115", "um_2": "115", "um_3": "115", "gauge": "No 2"}
    answer = _post(client, "bay_gauge", stay, measured, follow=True)
    assert "118 to 115 µm: too little to tell from the noise of measuring." in _text(answer)
    assert _typed_in(_form(client, stay, "bonnet"), "label") == "7"


def test_on_to_the_next_spot_and_then_the_next_panel(stay: Visit) -> None:
    client = made.signed_in()
    address = reverse("bay_gauge", args=[stay.pk])
    for label, following in (("1", "bonnet"), ("2", "bonnet"), ("3", "front_bumper")):
        answer = _post(client, "bay_gauge", stay, {**BONNET, "label": label, "next": "1", "unit": "um"})
        assert answer.headers["Location"] == f"{address}?panel={following}&unit=um"
    assert _typed_in(_form(client, stay, "bonnet"), "label") == "4"
    plastic = {"panel": "front_bumper", "label": "1", "mode": "not_measurable", "next": "1"}
    assert "panel=left_front_wing" in _post(client, "bay_gauge", stay, plastic).headers["Location"]
    last = {"panel": "boot_shut", "um_1": "4", "mode": "magnetic", "next": "1", "unit": "mil"}
    led = [
        _post(client, "bay_gauge", stay, {**last, "label": label}).headers["Location"]
        for label in ("1", "2", "3")
    ]
    onward = ("boot_shut", "boot_shut", "bonnet")
    assert led == [f"{address}?panel={panel}&unit=mil" for panel in onward]


def test_in_the_sheet_the_next_spot_opens_where_the_last_one_was(stay: Visit) -> None:
    client = made.signed_in()
    answer = _post(client, "bay_gauge", stay, {**BONNET, "next": "1"}, **HTMX)
    page = answer.content.decode()
    assert 'id="bay-sheet"' in page
    form = page.split('id="entry-gauge"')[1]
    assert _typed_in(form, "label") == "2"
    assert f'hx-post="{reverse("bay_gauge", args=[stay.pk])}"' in form


def test_without_a_panel_the_panels_are_offered_in_walking_order(stay: Visit) -> None:
    client = made.signed_in()
    for asked in ({}, {"panel": "moon"}, {"panel": "windscreen"}):
        page = client.get(reverse("bay_gauge", args=[stay.pk]), asked).content.decode()
        assert re.findall(r"panel=(\w+)", page)[:3] == ["bonnet", "front_bumper", "left_front_wing"]
        assert 'name="um_1"' not in page


def test_the_same_form_twice_is_one_spot(stay: Visit) -> None:
    client = made.signed_in()
    for _ in range(2):
        _post(client, "bay_gauge", stay, {**BONNET, "once": "a-key-of-its-own-1234"})
    assert GaugeSpot.objects.count() == 1


def test_a_wrong_reading_keeps_what_was_typed_and_opens_where_it_stands(stay: Visit) -> None:
    typed = {**BONNET, "um_5": "0,0,0", "place": "edge"}
    answer = _post(made.signed_in(), "bay_gauge", stay, typed)
    page = answer.content.decode()
    assert answer.status_code == 422
    assert _typed_in(page, "um_2") == "91,5"
    assert page.count('<details class="more" open') == 2
    assert not GaugeSpot.objects.exists()


def test_a_spot_is_taken_back_with_a_reason(stay: Visit) -> None:
    client = made.signed_in(Rank.BENCH)
    _post(client, "bay_gauge", stay, BONNET)
    address = reverse("bay_take_back", args=[stay.pk, "gauge", GaugeSpot.objects.get().pk])
    assert "spot 1, bonnet" in _text(client.get(address)).lower()
    assert client.post(address, {"because": ""}).status_code == 422
    assert client.post(address, {"because": "probe was tilted"}).headers["Location"].endswith("#gauge")
    page = _text(client.get(reverse("bay", args=[stay.pk])))
    assert not GaugeSpot.objects.exists()
    assert "91.9 µm" not in page
    assert "probe was tilted" in page


CORRECTED = {
    "surfaces": ["bonnet"],
    "low": "65",
    "high": "75",
    "lights": ["hand_lamp", "sun"],
    "wiped": "yes",
    "stages": "one",
    "method": "15 mm orbit, firm foam",
}


def test_a_correction_is_kept_as_an_estimate_under_named_lights(stay: Visit) -> None:
    client = made.signed_in(Rank.BENCH)
    answer = _post(client, "bay_correction", stay, CORRECTED, follow=True)
    words = "65 to 75 % of the marks, estimated, by eye, after panel wipe, under direct sun and hand lamp"
    assert words in _text(answer)
    assert words in _text(client.get(reverse("car", args=[stay.car.ref])))
    row = CorrectionNote.objects.get()
    address = reverse("bay_take_back", args=[stay.pk, "correction", row.pk])
    assert client.post(address, {"because": "not seen in the sun"}).status_code == 302
    assert not CorrectionNote.objects.exists()


def test_more_than_the_stages_usually_take_is_doubted_and_kept(stay: Visit) -> None:
    answer = _post(made.signed_in(), "bay_correction", stay, {**CORRECTED, "high": "95"}, follow=True)
    # One stage of machine polishing takes some 70 to 80 % of the marks: common practice, no source.
    assert "That is more than one stage usually takes (70 to 80 %)" in _text(answer)
    assert CorrectionNote.objects.get().high.as_tuple().digits == (9, 5)


def test_one_figure_is_enough(stay: Visit) -> None:
    answer = _post(made.signed_in(), "bay_correction", stay, {**CORRECTED, "high": ""}, follow=True)
    assert "about 65 % of the marks".capitalize() in _text(answer)


def test_the_correction_begins_with_what_was_polished(stay: Visit) -> None:
    client = made.signed_in()
    for processes in (["one_step_polish"], ["fine_polish"]):
        _post(
            client, "bay_step", stay, {"processes": processes, "surfaces": ["bonnet", "roof", "windscreen"]}
        )
    page = client.get(reverse("bay_correction", args=[stay.pk])).content.decode()
    chosen = re.findall(r'name="surfaces" value="(\w+)" checked', page)
    assert chosen == ["bonnet", "roof"]
    assert _ticked(page, "stages") == "two"
    assert "Two stages usually take 80 to 90 % of the marks, estimated, by eye, after panel wipe." in page


def test_a_cut_is_written_down_with_its_weight(stay: Visit) -> None:
    client = made.signed_in(Rank.BENCH)
    typed = {"processes": ["cut", "fine_polish"], "surfaces": ["bonnet"], "weight": "heavy"}
    answer = _post(client, "bay_step", stay, typed, follow=True)
    assert {row.process: row.weight for row in Step.objects.all()} == {"cut": "heavy", "fine_polish": None}
    assert "Heavy cut" in _text(answer)


def test_a_polish_on_a_thin_panel_asks_for_a_reason_as_a_layer_does(stay: Visit) -> None:
    lead, bench = made.signed_in(Rank.LEAD), made.signed_in(Rank.BENCH)
    thin = {**BONNET, "um_1": "78", "um_2": "78", "um_3": "78"}
    _post(lead, "bay_gauge", stay, thin)
    polish = {"processes": ["contact_wash", "fine_polish"], "surfaces": ["bonnet", "roof"]}
    told = _post(bench, "bay_step", stay, polish)
    assert told.status_code == 422
    assert "Ask the lead, who may go on all the same." in _text(told)
    asked = _post(lead, "bay_step", stay, polish)
    page = asked.content.decode()
    assert asked.status_code == 422
    assert escape("Bonnet: its lowest spot is 78 µm.") in page
    assert "Say why it is done all the same." in page
    assert "bay-reason-asked" in page
    assert not Step.objects.exists()
    done = _post(lead, "bay_step", stay, {**polish, "over_warnings": "test spot was clear"}, follow=True)
    assert {row.process: row.over_warnings for row in Step.objects.all()} == {
        "contact_wash": "", "fine_polish": "test spot was clear"
    }  # fmt: skip
    assert "done all the same, because: test spot was clear" in _text(done)


def test_the_car_file_shows_the_paint_panel_by_panel(stay: Visit) -> None:
    client = made.signed_in(Rank.BENCH)
    car = reverse("car", args=[stay.car.ref])
    assert "Nothing measured and nothing polished on record." in _text(client.get(car))
    thin = {**BONNET, "um_1": "78", "um_2": "78", "um_3": "78"}
    _post(client, "bay_gauge", stay, {**thin, "panel": "roof", "mode": "magnetic"})
    _post(client, "bay_gauge", stay, BONNET)
    _post(client, "bay_gauge", stay, {"panel": "front_bumper", "label": "1", "mode": "not_measurable"})
    page = client.get(car).content.decode()
    text = _text(client.get(car))
    assert "A gauge gives the whole film, not the clear: every figure of what is left is an estimate." in text
    rows = re.findall(r'<th scope="row" data-label="Panel">([^<]*)</th>', page)
    assert rows == ["Bonnet", "Front bumper", "Roof"]
    assert "One light, no cuts on this bonnet" in text or "One light, no more cuts on this bonnet" in text
    assert "No more polishing on this roof" in text
    assert "Instead: leave it;" in text
    assert '<span class="band band-d"><b>D</b> very thin</span>' in page
    assert page.count('class="paint-d"') == 1
    assert "accident" not in page


def test_the_file_and_the_sheet_ask_as_many_questions_of_many_spots_as_of_one(
    stay: Visit, django_assert_max_num_queries: DjangoAssertNumQueries
) -> None:
    client = made.signed_in()
    for number in range(8):
        _post(client, "bay_gauge", stay, {**BONNET, "label": str(number)})
        _post(client, "bay_correction", stay, CORRECTED)
    with django_assert_max_num_queries(12):
        client.get(reverse("car", args=[stay.car.ref]))
    with django_assert_max_num_queries(28):
        client.get(reverse("bay", args=[stay.pk]))


def test_the_worked_visit_is_told_by_the_file_as_it_was_measured() -> None:
    """Figures of one worked visit of the trade (common practice, no source); the car is invented."""
    client = made.signed_in(Rank.BENCH)
    bonnet = Surfaces.of([Surface.BONNET])
    car = made.car("QA21 LME", aluminium=bonnet, paint_past="used")
    stay = made.visit(car, at=timezone.now() - timedelta(hours=6))
    begun = timezone.localtime(stay.arrived_at)

    def measure(panel: str, mode: str, *means: int, after: int) -> None:
        at = f"{begun + timedelta(minutes=after):%d/%m/%Y %H:%M}"
        for label, um in enumerate(means, start=1):
            typed = {"panel": panel, "label": label, "mode": mode, "at": at}
            typed |= {f"um_{number}": um for number in (1, 2, 3)}
            assert _post(client, "bay_gauge", stay, typed).status_code == 302

    before = (101, 98, 104, 92, 95, 107, 110, 100, 103)
    measure("bonnet", "eddy", *before, after=60)
    measure("roof", "magnetic", 124, 118, 127, after=70)
    measure("left_rear_wing", "magnetic", 108, 96, 111, after=80)
    measure("right_rear_wing", "magnetic", 104, 112, 115, after=90)
    for panel in ("left_front_wing", "right_front_wing", "boot_lid", "tailgate_lower"):
        typed = {"panel": panel, "label": "1", "mode": "not_measurable"}
        assert _post(client, "bay_gauge", stay, typed).status_code == 302
    polish = {
        "processes": ["one_step_polish"],
        "surfaces": ["bonnet"],
        "at": f"{begun + timedelta(minutes=180):%d/%m/%Y %H:%M}",
    }
    assert _post(client, "bay_step", stay, polish).status_code == 302
    measure("bonnet", "eddy", *(um - 1 for um in before), after=240)

    page = client.get(reverse("car", args=[car.ref])).content.decode()
    rows = {
        strip_tags(row[0]): tuple(strip_tags(cell) for cell in row[1:])
        for row in re.findall(
            r'data-label="Panel">(.*?)</th>\s*<td[^>]*>(.*?)</td>\s*<td[^>]*>(.*?)</td>\s*<td[^>]*>(.*?)</td>',
            page,
        )
    }
    assert rows == {
        "Bonnet": ("91", "100", "9"),
        "Left front wing": ("", "", ""),
        "Left rear wing": ("96", "108", "3"),
        "Tailgate, upper part": ("", "", ""),
        "Tailgate below the glass": ("", "", ""),
        "Right rear wing": ("104", "112", "3"),
        "Right front wing": ("", "", ""),
        "Roof": ("118", "124", "3"),
    }
    # The same spots before and after: the difference is noise, with the work between.
    assert f"92 → 91 (one-step, {begun:%Y})" in page
    # Used before (5 at the most) and one step (3): nothing is left of 8 on the careful count.
    assert "No more polishing on this bonnet" in page
