"""What is recorded in the bay, what the rules answer, and what new figures do to the forecasts."""

from __future__ import annotations

from datetime import date, timedelta
from decimal import Decimal
from typing import Any

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from crm.care.surfaces import PANELS, Surface, Surfaces, Zone, surfaces_of
from crm.care.terms import EndReason, Moment, Process, ProductClass
from crm.models import CarEvent, Forecast, Rank, Visit
from crm.selectors.coats import layers_of, live_surfaces
from crm.services import bench, events, shelf, visits
from crm.services.errors import NeedsReason, Refused
from crm.services.forecasts import reforecast_car
from crm.services.stale import follow_stale
from tests import factories
from tests.factories import NOW

pytestmark = pytest.mark.django_db
HOUR = timedelta(hours=1)


def new_layer(product_class: ProductClass = ProductClass.POLYMER_SEALANT, **known: Any) -> bench.NewLayer:
    return bench.NewLayer(
        product=factories.product(product_class), **{"surfaces": PANELS, "at": NOW, **known}
    )


def test_claying_ends_a_sealant_where_it_was_clayed_and_not_elsewhere() -> None:
    visit = factories.visit()
    layer = bench.record_layer(visit=visit, layer=new_layer(), by=None, now=NOW)
    lower = surfaces_of(Zone.LOWER_SIDES)
    step = bench.record_step(
        visit=visit, process=Process.CLAY, surfaces=lower, at=NOW + HOUR, by=None, now=NOW + HOUR
    )
    ending = layer.endings.get()
    assert (ending.surfaces, ending.why, ending.step) == (lower & visit.car.surfaces, EndReason.CLAYED, step)
    due = dict(Forecast.objects.filter(layer=layer).values_list("zone", "due_on"))
    assert due[Zone.LOWER_SIDES] is None
    assert due[Zone.TOPS] is not None


def test_coating_over_wax_stops_and_names_the_wax_and_its_day() -> None:
    visit = factories.visit()
    bench.record_layer(visit=visit, layer=new_layer(ProductClass.NATURAL_WAX), by=None, now=NOW)
    coating = new_layer(ProductClass.COATING_PROFESSIONAL, at=NOW + HOUR)
    with pytest.raises(NeedsReason) as refused:
        bench.record_layer(visit=visit, layer=coating, by=None, now=NOW + HOUR)
    wax = factories.product(ProductClass.NATURAL_WAX).name
    assert any(wax in sentence and "4 May" in sentence for sentence in refused.value.sentences)
    reason = new_layer(
        ProductClass.COATING_PROFESSIONAL, at=NOW + HOUR, over_warnings="test panel for the maker"
    )
    row = bench.record_layer(visit=visit, layer=reason, by=None, now=NOW + HOUR)
    assert row.over_warnings == "test panel for the maker"


def test_bench_may_not_go_over_a_stop_and_the_lead_may() -> None:
    visit = factories.visit()
    wet: dict[str, Any] = {
        "air_c": Decimal(10),
        "humidity": Decimal(85),
        "surface_c": Decimal(10),
        "over_warnings": "owner waits",
    }
    with pytest.raises(Refused, match="Your rank"):
        bench.record_layer(visit=visit, layer=new_layer(**wet), by=factories.user(Rank.BENCH), now=NOW)
    row = bench.record_layer(visit=visit, layer=new_layer(**wet), by=factories.user(Rank.LEAD), now=NOW)
    assert row.air == "outside"


def test_heated_unit_at_12_degrees_and_52_percent_is_not_stopped() -> None:
    """Common practice, no source: a heated unit at 12 °C and 52 % humidity is good enough for wax and coatings."""
    visit = factories.visit()
    for product_class in (ProductClass.DURABLE_WAX, ProductClass.COATING_PROFESSIONAL):
        layer = new_layer(
            product_class, air_c=Decimal(12), humidity=Decimal(52), surface_c=Decimal(12), panel_wiped=True
        )
        assert bench.weigh_layer(visit=visit, layer=layer).air.air != "outside"
        assert not [
            finding
            for finding in bench.weigh_layer(visit=visit, layer=layer).air.findings
            if finding.severity == "stop"
        ]


def test_facts_written_down_days_later_say_so() -> None:
    visit = factories.visit()
    row = bench.record_grade(
        visit=visit,
        surfaces=PANELS,
        grade=3,
        moment=Moment.AFTER_DECON,
        at=NOW,
        by=None,
        now=NOW + timedelta(days=3),
    )
    assert (row.late, row.written_at) == (True, NOW + timedelta(days=3))


def test_nothing_is_recorded_on_a_car_that_is_not_there_or_in_the_future() -> None:
    booked = factories.visit(state=Visit.State.BOOKED)
    with pytest.raises(Refused, match="not in the bay"):
        bench.record_layer(visit=booked, layer=new_layer(), by=None, now=NOW)
    with pytest.raises(Refused, match="has not come yet"):
        bench.record_layer(visit=factories.visit(), layer=new_layer(at=NOW + HOUR), by=None, now=NOW)


def test_surface_that_the_car_does_not_have_is_left_out_or_refused() -> None:
    visit = factories.visit()
    row = bench.record_layer(
        visit=visit, layer=new_layer(surfaces=PANELS | Surfaces.of([Surface.SOFT_TOP])), by=None, now=NOW
    )
    assert Surface.SOFT_TOP not in row.surfaces
    with pytest.raises(Refused, match="at least one surface"):
        bench.record_layer(
            visit=visit, layer=new_layer(surfaces=Surfaces.of([Surface.SOFT_TOP])), by=None, now=NOW
        )


def test_same_class_again_supersedes_and_a_topper_leaves_the_coating_alone() -> None:
    visit = factories.visit()
    coating = bench.record_layer(
        visit=visit,
        layer=new_layer(ProductClass.COATING_PROFESSIONAL, panel_wiped=True, over_warnings="x"),
        by=None,
        now=NOW,
    )
    later = NOW + timedelta(days=40)
    for weeks in (0, 12):
        when = later + timedelta(weeks=weeks)
        bench.record_layer(
            visit=visit, layer=new_layer(ProductClass.SILICA_TOPPER, at=when), by=None, now=when
        )
    second, first, base = layers_of(visit.car)
    assert (base.pk, live_surfaces(base)) == (coating.pk, base.surfaces)
    assert (live_surfaces(first), live_surfaces(second)) == (Surfaces(), second.surfaces)
    assert first.endings.get().why == EndReason.SUPERSEDED


def test_ending_taken_back_stays_on_record_and_the_layer_counts_again() -> None:
    visit = factories.visit()
    layer = bench.record_layer(visit=visit, layer=new_layer(), by=None, now=NOW)
    ending = bench.end_layer(layer=layer, surfaces=PANELS, at=NOW, why=EndReason.WORN, by=None, now=NOW)
    with pytest.raises(Refused, match="already ended"):
        bench.end_layer(
            layer=layers_of(visit.car)[0], surfaces=PANELS, at=NOW, why=EndReason.WORN, by=None, now=NOW
        )
    bench.take_back_ending(ending=ending, because="wrong car", by=None, now=NOW)
    assert live_surfaces(layers_of(visit.car)[0]) == layer.surfaces
    ending.refresh_from_db()
    assert ending.taken_back_because == "wrong car"


def test_event_that_wears_moves_the_window_and_ends_nothing() -> None:
    car = factories.car()
    layer = factories.layer(car)
    before = layer.forecasts.get(zone=Zone.TOPS).likely
    factories.event(car, CarEvent.Kind.TUNNEL_WASH, on=date(2026, 6, 1), now=NOW + timedelta(days=40))
    after = layer.forecasts.get(zone=Zone.TOPS)
    assert before is not None
    assert after.likely is not None
    assert after.likely < before
    assert layer.endings.count() == 0
    assert any("tunnel" in reason["words"] for reason in after.reasons)


def test_event_on_surfaces_needs_them_and_one_in_the_future_is_refused() -> None:
    car = factories.car()
    with pytest.raises(Refused, match="Choose the surfaces"):
        factories.event(car, CarEvent.Kind.RESPRAY, on=date(2026, 5, 1))
    with pytest.raises(Refused, match="has not come yet"):
        events.record_event(
            car=car,
            happened=events.Happened(kind=CarEvent.Kind.SOLD, on=date(2026, 5, 5)),
            by=None,
            now=NOW,
        )


def test_forecasts_are_left_alone_while_nothing_changed() -> None:
    car = factories.car()
    factories.layer(car)
    made = set(Forecast.objects.values_list("pk", "made_at", "inputs"))
    assert reforecast_car(car, now=NOW + timedelta(days=90)) == 0
    assert set(Forecast.objects.values_list("pk", "made_at", "inputs")) == made


def test_reforecasting_costs_the_same_queries_however_long_the_history() -> None:
    car = factories.car()
    counts = []
    for visits_so_far in (1, 5):
        for number in range(visits_so_far):
            factories.layer(car, at=NOW - timedelta(days=400 - number * 30))
        with CaptureQueriesContext(
            connection,
        ) as queries:
            reforecast_car(car, now=NOW)
        counts.append(len(queries))
    assert counts[0] == counts[1]


def test_new_figures_make_a_dated_life_and_move_every_forecast_of_the_product() -> None:
    product = factories.product(ProductClass.POLYMER_SEALANT)
    layer = factories.layer(factories.car(), product)
    before = layer.forecasts.get(zone=Zone.TOPS).likely
    figures = shelf.Figures(
        low=Decimal(8), likely=Decimal(12), high=Decimal(18), because="three winters of grades"
    )
    shelf.write_down_life(product=product, figures=figures, since=date(2026, 5, 1), by=None)
    assert follow_stale(limit=10) == 1
    after = layer.forecasts.get(zone=Zone.TOPS).likely
    assert before is not None
    assert after is not None
    assert after > before
    assert product.lives.count() == 1
    with pytest.raises(Refused, match="Newer figures stand since 1 May 2026"):
        shelf.write_down_life(product=product, figures=figures, since=date(2026, 4, 1), by=None)


@pytest.mark.parametrize(("low", "likely", "high"), [(None, 6, 9), (9, 6, 4), (0, 6, 9)])
def test_figures_that_do_not_rise_are_refused(low: int | None, likely: int, high: int) -> None:
    figures = shelf.Figures(
        low=None if low is None else Decimal(low), likely=Decimal(likely), high=Decimal(high)
    )
    with pytest.raises(Refused):
        shelf.write_down_life(product=factories.product(), figures=figures, since=date(2026, 5, 1), by=None)


def test_class_of_a_product_stays_once_it_was_used() -> None:
    product = factories.product(ProductClass.POLYMER_SEALANT)
    factories.layer(factories.car(), product)
    changed = shelf.OnTheShelf(name=product.name, product_class=ProductClass.NATURAL_WAX)
    with pytest.raises(Refused, match="its class stays"):
        shelf.change_product(row=product, product=changed, by=None)


@pytest.mark.parametrize("state", Visit.State.values)
@pytest.mark.parametrize("to", Visit.State.values)
def test_visit_moves_only_along_its_table(state: str, to: str) -> None:
    visit = factories.visit()
    visit.state = state
    allowed = to == state or to in visits.NEXT[state]
    if allowed:
        visits.move(visit, Visit.State(to))
        assert visit.state == to
    else:
        with pytest.raises(Refused, match="cannot become"):
            visits.move(visit, Visit.State(to))


def test_odometer_cannot_run_backwards() -> None:
    car = factories.car()
    factories.visit(car, state=Visit.State.HANDED_OVER, at=NOW - timedelta(days=90), odometer_km=61_240)
    visit = visits.book(car=car, branch=factories.branch(), purpose="wash", at=NOW, by=None)
    with pytest.raises(Refused, match="38,053 miles"):
        visits.arrive(visit=visit, arrival=visits.Arrival(at=NOW, odometer_km=60_000), by=None)


def test_layer_written_down_late_is_ended_by_the_polish_that_came_after_it() -> None:
    visit = factories.visit()
    tops = surfaces_of(Zone.TOPS)
    polish = bench.record_step(
        visit=visit, process=Process.ONE_STEP_POLISH, surfaces=tops, at=NOW + HOUR, by=None, now=NOW + HOUR
    )
    layer = bench.record_layer(visit=visit, layer=new_layer(), by=None, now=NOW + 2 * HOUR)
    ending = layer.endings.get()
    assert (ending.surfaces, ending.at, ending.step) == (tops, NOW + HOUR, polish)
