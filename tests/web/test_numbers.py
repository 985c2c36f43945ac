"""The engine's figures on the screen: read beside the defaults, changed one at a time, put back."""

from __future__ import annotations

from datetime import date

import pytest
from django.urls import reverse
from pytest_django import DjangoAssertNumQueries

from crm.care.numbers import numbers_by_path
from crm.care.tables import DEFAULTS
from crm.models import Car, Forecast, Rank, Studio, Visit
from crm.selectors.studio import tables_of
from tests import factories
from tests.web.strange import STRANGE

pytestmark = pytest.mark.django_db

LIFE = "lives.natural_wax.life"
GARAGE = "wear.parking.garage"
BOOKED = "winter.booked."


def _likely(car: Car) -> date:
    likely = Forecast.objects.filter(car=car, zone="tops").values_list("likely", flat=True).get()
    assert likely is not None
    return likely


def test_the_list_shows_every_figure_with_how_sure_it_is(
    django_assert_max_num_queries: DjangoAssertNumQueries,
) -> None:
    factories.studio(engine_overrides={"wear": {"parking": {"garage": 0.85}}})
    browser = factories.signed_in()
    with django_assert_max_num_queries(6):
        html = browser.get(reverse("numbers")).content.decode()
    assert all(f'href="{reverse("number", args=[path])}"' in html for path in numbers_by_path())
    assert "6 figures, 1 of your own" in html
    assert [words in html for words in ("common practice", "opinions differ", "our estimate")] == [True] * 3
    assert "<b>0.85</b>" in html


@pytest.mark.parametrize(
    "path", [LIFE, GARAGE, "wear.distance.limits", "zones.seats.hard_use.share", "wear.air.unknown"]
)
def test_a_figure_has_a_page_of_its_own(path: str) -> None:
    factories.studio()
    answer = factories.signed_in().get(reverse("number", args=[path]))
    assert answer.status_code == 200
    assert answer.content.decode().count('name="figure_') == len(numbers_by_path()[path].values)


@pytest.mark.parametrize(
    "path", ["wear", "wear.parking", "wear.parking.mark", "lives.unknown.life", "x", "\x00", "🦜"]
)
def test_what_is_no_figure_is_a_page_that_does_not_exist(path: str) -> None:
    factories.studio()
    browser = factories.signed_in()
    assert browser.get(reverse("number", args=[path])).status_code == 404
    assert browser.post(reverse("number_back", args=[path])).status_code == 404


def test_an_own_figure_is_saved_with_its_reason_and_moves_the_forecasts() -> None:
    car = factories.car()
    factories.layer(car)
    before = _likely(car)
    browser = factories.signed_in()
    typed = {"figure_0": "3", "figure_1": "4,5", "figure_2": "7", "because": "washed hard here"}
    answer = browser.post(reverse("number", args=["lives.polymer_sealant.life"]), typed, follow=True)
    html = answer.content.decode()
    assert "Saved. The forecasts of every car are worked out anew." in html
    assert "low 3, likely 4.5, high 7" in html
    assert "washed hard here" in html
    assert _likely(car) < before
    html = browser.post(
        reverse("number_back", args=["lives.polymer_sealant.life"]), follow=True
    ).content.decode()
    assert "The default counts again. The forecasts of every car are worked out anew." in html
    assert Studio.objects.get().engine_overrides == {}
    assert _likely(car) == before


def test_what_the_tables_refuse_stands_beside_the_figure_and_what_was_typed_is_kept() -> None:
    factories.studio()
    answer = factories.signed_in().post(
        reverse("number", args=[GARAGE]), {"figure_0": "0.7", "because": "dry garages"}
    )
    assert answer.status_code == 422
    assert list(answer.context["form"].errors) == ["figure_0"]
    assert (
        answer.context["form"]
        .errors["figure_0"][0]
        .startswith(
            "“parking: not known”: the last number has to be at most 0.7, the best of the known answers,"
        )
    )
    html = answer.content.decode()
    assert ('value="0.7"' in html, 'value="dry garages"' in html) == (True, True)


@pytest.mark.parametrize(
    ("typed", "sentence"),
    [
        ("1,200", "Write 1200, or 1.200 if that is what you mean."),
        ("-0.5", "Write a plain number, such as 0.85 or 12."),
        ("1e3", "Write a plain number, such as 0.85 or 12."),
        ("nan", "Write a plain number, such as 0.85 or 12."),
        ("\u0660\u066b\u0668", "Write a plain number, such as 0.85 or 12."),
        ("", "Write a number."),
        ("9", "This is 9; it has to be between 0.1 and 5."),
        ("0", "This is 0; it has to be between 0.1 and 5."),
    ],
)
def test_a_number_that_cannot_be_is_refused_in_a_sentence(typed: str, sentence: str) -> None:
    factories.studio()
    answer = factories.signed_in().post(reverse("number", args=[GARAGE]), {"figure_0": typed, "because": "x"})
    assert answer.status_code == 422
    assert answer.context["form"].errors["figure_0"] == [sentence]


@pytest.mark.parametrize("field", ["figure_0", "figure_2", "because", "once"])
def test_no_field_of_a_figure_breaks_on_anything(field: str) -> None:
    factories.studio()
    browser = factories.signed_in()
    good = {"figure_0": "1", "figure_1": "2", "figure_2": "3.5", "because": "seen here", "once": ""}
    for kind, text in STRANGE.items():
        before = Studio.objects.get().engine_overrides
        answer = browser.post(reverse("number", args=[LIFE]), {**good, field: text})
        assert answer.status_code in (302, 422), kind
        html = answer.content.decode()
        assert "<script>alert(1)</script>" not in html
        if answer.status_code == 422:
            assert "errorlist" in html, kind
            assert Studio.objects.get().engine_overrides == before


def test_a_comma_and_a_point_are_the_same() -> None:
    factories.studio()
    factories.signed_in().post(reverse("number", args=[GARAGE]), {"figure_0": "0,85", "because": "x"})
    assert Studio.objects.get().engine_overrides == {"wear": {"parking": {"garage": 0.85}}}


@pytest.mark.parametrize("rank", [Rank.BENCH, Rank.LEAD, Rank.DESK])
def test_other_ranks_do_not_get_at_the_numbers(rank: Rank) -> None:
    browser = factories.signed_in(rank)
    assert browser.get(reverse("numbers")).status_code == 403
    assert (
        browser.post(reverse("number", args=[GARAGE]), {"figure_0": "0.85", "because": "x"}).status_code
        == 403
    )
    assert browser.post(reverse("number_back", args=[GARAGE])).status_code == 403
    assert Studio.objects.get().engine_overrides == {}


def test_the_lines_of_paint_thickness_are_changed_without_moving_a_forecast() -> None:
    car = factories.car()
    factories.layer(car)
    before = _likely(car)
    browser = factories.signed_in()
    lines = (75, 85, 100, 120, 180, 300, 1000)
    typed = {f"figure_{place}": str(line) for place, line in enumerate(lines)}
    page = reverse("number", args=["thickness.bands.limits"])
    html = browser.post(page, {**typed, "because": "soft clears"}, follow=True).content.decode()
    assert "Saved." in html
    assert "worked out anew" not in html
    assert "stop under 75, very thin under 85, thin under 100" in html
    assert (Car.objects.filter(forecast_stale=True).exists(), _likely(car)) == (False, before)
    answer = browser.post(page, {**typed, "figure_1": "75", "because": "x"})
    assert answer.status_code == 422
    assert answer.context["form"].errors["figure_0"] == ["This has to rise from one number to the next."]


def test_a_winter_figure_is_changed_without_moving_a_forecast_and_the_screen_says_so() -> None:
    car = factories.car()
    factories.layer(car)
    before = _likely(car)
    browser = factories.signed_in()
    page = reverse("number", args=["winter.acceptance.chances"])
    html = browser.get(page).content.decode()
    assert [f">{words}" in html for words in ("Seen within 18 months", "18 to 36 months")] == [True] * 2
    assert "Every forecast is worked out again" not in html
    assert (
        "No forecast moves with it. The plans of winter rounds that are going are made again with it." in html
    )
    typed = {"figure_0": "0,5", "figure_1": "0.3", "figure_2": "0.1", "because": "ours come"}
    html = browser.post(page, typed, follow=True).content.decode()
    assert "Saved." in html
    assert [words in html for words in ("worked out anew", "The forecasts follow")] == [False, False]
    assert "seen within 18 months 0.5, 18 to 36 months 0.3, longer ago or never 0.1" in html
    assert (Car.objects.filter(forecast_stale=True).exists(), _likely(car)) == (False, before)
    assert tables_of(Studio.objects.get()).winter.acceptance == (0.5, 0.3, 0.1)
    html = browser.post(
        reverse("number_back", args=["winter.acceptance.chances"]), follow=True
    ).content.decode()
    assert "The default counts again.<" in html
    assert tables_of(Studio.objects.get()).winter.acceptance == (0.4, 0.2, 0.08)


def test_hours_of_the_book_are_there_for_every_kind_of_visit_and_called_as_it_is() -> None:
    told = {
        path.rpartition(".")[2]: number.words for path, number in numbers_by_path().items() if BOOKED in path
    }
    assert told == dict(Visit.Purpose.choices)
    assert set(DEFAULTS.winter.booked_hours) == set(Visit.Purpose.values)


def test_figures_that_forecasts_or_paint_rest_on_say_that() -> None:
    factories.studio()
    browser = factories.signed_in()
    told = {
        path: browser.get(reverse("number", args=[path])).content.decode()
        for path in (LIFE, "thickness.gauge.change.noise")
    }
    assert "Every forecast is worked out again with it." in told[LIFE]
    assert (
        "No forecast moves with it. Paint readings are judged by it" in told["thickness.gauge.change.noise"]
    )


def test_chances_are_called_by_the_studios_own_bands() -> None:
    factories.studio(engine_overrides={"winter": {"acceptance": {"months": [12, 30]}}})
    browser = factories.signed_in()
    words = "seen within 12 months 0.4, 12 to 30 months 0.2, longer ago or never 0.08"
    assert words in browser.get(reverse("numbers")).content.decode()
    page = browser.get(reverse("number", args=["winter.acceptance.chances"])).content.decode()
    assert (words in page, "18" in page.partition("<form")[2].partition("</form>")[0]) == (True, False)


def test_a_winter_figure_that_cannot_be_is_refused_in_a_sentence() -> None:
    factories.studio()
    page = reverse("number", args=["winter.round.weeks"])
    for typed, sentence in {
        "8.5": "This has to be a whole number.",
        "0": "it has to be between 1 and 30.",
    }.items():
        answer = factories.signed_in().post(page, {"figure_0": typed, "because": "x"})
        assert answer.status_code == 422
        assert answer.context["form"].errors["figure_0"][0].endswith(sentence)
    assert Studio.objects.get().engine_overrides == {}


LEFT_OVER = {"wear": {"parking": {"garage": 0.85, "cellar_with_door": 0.6}, "tides": {"high": [1.5, 2, 3]}}}
"""One figure of a studio's own that counts, and two that a later version has renamed or dropped."""


def test_a_figure_that_is_no_longer_used_is_shown_as_that_and_breaks_no_page() -> None:
    factories.studio(engine_overrides=LEFT_OVER)
    car = factories.car()
    factories.layer(car)
    browser = factories.signed_in()
    for page in ("/", reverse("car", args=[car.ref]), reverse("due_back"), reverse("number", args=[GARAGE])):
        assert browser.get(page).status_code == 200
    html = browser.get(reverse("numbers")).content.decode()
    section = html.partition('id="unused"')[2].partition("</section>")[0]
    assert "No longer used" in section
    assert [words in section for words in ("Wear, parking, cellar with door", "0.6")] == [True] * 2
    assert [words in section for words in ("Wear, tides, high", "1.5, 2, 3")] == [True] * 2
    assert "<b>0.85</b>" in html


def test_without_such_a_figure_nothing_is_said_of_it() -> None:
    factories.studio(engine_overrides={"wear": {"parking": {"garage": 0.85}}})
    assert "No longer used" not in factories.signed_in().get(reverse("numbers")).content.decode()


def test_a_figure_that_is_no_longer_used_is_in_nobodys_way_and_stays_on_record() -> None:
    factories.studio(engine_overrides=LEFT_OVER)
    browser = factories.signed_in()
    page = reverse("number", args=[GARAGE])
    assert browser.post(page, {"figure_0": "0.9", "because": "draughty"}).status_code == 302
    assert Studio.objects.get().engine_overrides == {
        "wear": {"parking": {"garage": 0.9, "cellar_with_door": 0.6}, "tides": {"high": [1.5, 2, 3]}}
    }
    browser.post(reverse("number_back", args=[GARAGE]))
    assert Studio.objects.get().engine_overrides == {
        "wear": {"parking": {"cellar_with_door": 0.6}, "tides": {"high": [1.5, 2, 3]}}
    }


def test_a_former_value_of_another_shape_is_still_told() -> None:
    studio = factories.studio()
    for value in (0.85, [0.5, 0.9], {"dry": 0.8}):
        studio.engine_overrides = {"wear": {"parking": {"garage": value}}}
        studio.save()
    html = factories.signed_in().get(reverse("number", args=[GARAGE])).content.decode()
    assert [f"<p>{words}" in html for words in ("0.85", "0.5, 0.9", "Dry 0.8")] == [True] * 3


def test_leaving_a_figure_out_is_logged(caplog: pytest.LogCaptureFixture) -> None:
    overrides = {"wear": {"parking": {"carport_of_old": 0.6}}}
    tables = tables_of(factories.studio(engine_overrides=overrides))
    assert tables == DEFAULTS
    assert "own_figures_not_used" in caplog.text
    assert "wear.parking.carport_of_old" in caplog.text
