"""The paint of a car panel by panel: which facts count, in which order, and in which words.

Bands, removals and allowances are common practice as ranges, no source.
"""

from __future__ import annotations

from datetime import UTC, date, datetime, timedelta
from decimal import Decimal
from typing import Any

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from crm.care.bodies import Body
from crm.care.paint_terms import CutWeight, Finish, GaugeMode, Past, SpotPlace
from crm.care.surfaces import PANELS, Surface, Surfaces
from crm.care.terms import Process, ProductClass
from crm.models import Car, CarEvent, GaugeSpot, Visit
from crm.selectors.car_file import CarFile, Moment, car_file
from crm.selectors.panel_paint import PanelPaint
from crm.services.bench import record_step
from crm.services.gauge import NewSpot, record_spot
from crm.services.polishing import Polishing
from crm.services.taking_back import take_back_spot, take_back_step
from tests import factories
from tests.factories import NOW

pytestmark = pytest.mark.django_db
BONNET = Surfaces.of([Surface.BONNET])
WING = Surfaces.of([Surface.LEFT_REAR_WING, Surface.LEFT_REAR_WING_LOWER])


@pytest.fixture
def car() -> Car:
    return factories.car(paint_past=Past.NEW)


def stay(car: Car, year: int, month: int = 5) -> Visit:
    """A visit that is over, on the 4th of a month."""
    row = factories.visit(car, at=datetime(year, month, 4, 9, tzinfo=UTC))
    return factories.close(row, at=row.planned_in + timedelta(hours=8))


def measure(visit: Visit, *values: float, on: Surface = Surface.BONNET, **known: Any) -> GaugeSpot:
    """A spot an hour after the car came; no values: not measurable."""
    known.setdefault("label", "1")
    known.setdefault("mode", GaugeMode.MAGNETIC if values else GaugeMode.NOT_MEASURABLE)
    known.setdefault("at", visit.planned_in + timedelta(hours=1))
    spot = NewSpot(surface=on, values=tuple(Decimal(str(value)) for value in values), **known)
    return record_spot(visit=visit, spot=spot, by=None, now=NOW)


def polish(visit: Visit, process: Process, on: Surfaces = BONNET, weight: CutWeight | None = None) -> Any:
    at = visit.planned_in + timedelta(hours=3)
    how = Polishing(weight=weight, over_warnings="on purpose")
    return record_step(visit=visit, process=process, surfaces=on, at=at, polishing=how, by=None, now=NOW)


def file_of(car: Car) -> CarFile:
    found = car_file(car.ref, at=Moment(factories.studio(), NOW, NOW.date()))
    assert found is not None
    return found


def panel(car: Car, surface: Surface = Surface.BONNET) -> PanelPaint:
    return next(item for item in file_of(car).paint.panels if item.panel is surface)


def test_spot_is_followed_through_the_years_with_the_work_between(car: Car) -> None:
    # The worked history of the trade: 118 -> 115 (one-step 2023) -> 114 (2025, noise). Common practice, no source.
    first, second, third = stay(car, 2023), stay(car, 2024), stay(car, 2025)
    measure(first, 118, 118, 118)
    polish(first, Process.ONE_STEP_POLISH)
    measure(second, 115, 115, 115)
    measure(third, 114, 114, 114)
    found = panel(car)
    assert [spot.line for spot in found.spots] == ["118 → 115 (one-step, 2023) → 114 (2025, noise)"]
    assert (found.lowest, found.n, found.letter, found.band) == ("114", 1, "A", "normal to thin")
    # New to us: 8 µm may go; one step took at most 3, so 5 are left: one more of 3, or one cut of 4.
    assert found.stands == "one cut or one light on this bonnet, not both"


def test_lowest_spot_decides_and_an_earlier_thin_one_is_not_forgotten(car: Car) -> None:
    first, second = stay(car, 2024), stay(car, 2025)
    measure(first, 130, 132, 131)
    measure(first, 78, 79, 80, label="2")
    measure(second, 129, 131, 130)
    found = panel(car)
    assert (found.lowest, found.median, found.highest, found.n) == ("79", "104.5", "130", 2)
    assert (found.letter, found.band) == ("D", "very thin")
    assert found.stands == "no more polishing on this bonnet"
    assert found.days == "4 May 2024 to 4 May 2025"


def test_a_polish_of_the_lower_third_counts_for_the_whole_panel(car: Car) -> None:
    visit = stay(car, 2025)
    lower = Surfaces.of([Surface.LEFT_FRONT_DOOR_LOWER])
    measure(visit, 110, 111, 112, on=Surface.LEFT_FRONT_DOOR)
    measure(visit, 104, 104, 104, on=Surface.LEFT_FRONT_DOOR_LOWER, label="2")
    for _ in range(2):
        polish(visit, Process.CUT, lower, CutWeight.HEAVY)
    found = panel(car, Surface.LEFT_FRONT_DOOR)
    assert found.lowest == "104"
    assert [spot.where for spot in found.spots] == ["", "lower third"]
    assert "cuts" in {reason.key for reason in found.budget.reasons}
    assert [item.panel for item in file_of(car).paint.panels] == [Surface.LEFT_FRONT_DOOR]


def test_respray_makes_earlier_readings_void_and_says_so(car: Car) -> None:
    measure(stay(car, 2025), 96, 108, 108, on=Surface.LEFT_REAR_WING)
    factories.event(car, CarEvent.Kind.RESPRAY, on=date(2025, 6, 12), surfaces=WING, baked=True)
    found = panel(car, Surface.LEFT_REAR_WING)
    assert (found.lowest, found.n, found.band) == ("", 0, "")
    assert found.void == "Readings from before it was resprayed on 12 June 2025 no longer count."
    measure(stay(car, 2025, 10), 140, 141, 142, on=Surface.LEFT_REAR_WING)
    found = panel(car, Surface.LEFT_REAR_WING)
    assert (found.lowest, found.letter, found.void) == ("141", "A", "")
    assert "not compared: the panel was resprayed on 12 June 2025" in found.spots[0].line
    assert "refinish" in {reason.key for reason in found.budget.reasons}


@pytest.mark.parametrize(
    ("finish", "stopped"), [(None, True), (Finish.REFINISH_SOUND, False), (Finish.FAILING, True)]
)
def test_what_the_paint_was_found_to_be_speaks_for_the_panel(
    car: Car, finish: Finish | None, stopped: bool
) -> None:
    factories.event(car, CarEvent.Kind.RESPRAY, on=date(2025, 6, 12), surfaces=WING, baked=True)
    measure(stay(car, 2025, 10), 140, 141, 142, on=Surface.LEFT_REAR_WING, finish=finish)
    found = panel(car, Surface.LEFT_REAR_WING)
    assert (found.stands == "no more polishing on this left rear wing") is stopped


def test_a_finish_from_before_the_respray_says_nothing_of_the_new_paint(car: Car) -> None:
    measure(stay(car, 2025), 110, 110, 110, on=Surface.LEFT_REAR_WING, finish=Finish.FACTORY)
    factories.event(car, CarEvent.Kind.RESPRAY, on=date(2025, 6, 12), surfaces=WING, baked=True)
    assert panel(car, Surface.LEFT_REAR_WING).finish == ""


def test_plastic_is_kept_as_not_measurable(car: Car) -> None:
    measure(stay(car, 2025), on=Surface.FRONT_BUMPER)
    found = panel(car, Surface.FRONT_BUMPER)
    assert (found.lowest, found.n, found.letter, found.band) == ("", 0, "", "not measurable")
    assert "plastic" in found.says.words


def test_film_is_not_repaint(car: Car) -> None:
    visit = stay(car, 2025)
    film = factories.product(ProductClass.PAINT_FILM, "Heron clear film")
    factories.layer(visit, film, surfaces=BONNET, at=visit.planned_in + timedelta(hours=2))
    measure(stay(car, 2025, 9), 310, 311, 312, film=True)
    found = panel(car)
    assert (found.lowest, found.band) == ("", "")
    assert found.says.words.startswith("Film, not repaint")
    assert [reason.key for reason in found.budget.reasons] == ["film"]


def test_polish_that_was_told_of_counts_as_one_step(car: Car) -> None:
    measure(stay(car, 2024), 120, 120, 120)
    factories.event(car, CarEvent.Kind.POLISHED_ELSEWHERE, on=date(2024, 9, 1), surfaces=BONNET)
    removed = panel(car).budget.removed
    assert (removed.low, removed.high) == (1, 3)


def test_what_is_known_of_the_past_is_allowed_for(car: Car) -> None:
    measure(stay(car, 2024), 130, 130, 130)
    assert panel(car).stands == "two cuts or two light on this bonnet, not both"
    Car.objects.filter(pk=car.pk).update(paint_past=Past.USED)
    assert panel(car).stands == "one light, no more cuts on this bonnet"


def test_panels_stand_in_walking_order_and_beside_their_twin(car: Car) -> None:
    visit = stay(car, 2025)
    for surface, um in ((Surface.ROOF, 118), (Surface.RIGHT_REAR_WING, 104), (Surface.LEFT_REAR_WING, 96)):
        measure(visit, um, um, um, on=surface)
    measure(visit, on=Surface.BONNET)
    found = file_of(car).paint.panels
    assert [item.panel for item in found] == [
        Surface.BONNET, Surface.LEFT_REAR_WING, Surface.RIGHT_REAR_WING, Surface.ROOF
    ]  # fmt: skip
    assert [item.other_side for item in found] == [
        "", "lowest 104, median 104 µm", "lowest 96, median 96 µm", ""
    ]  # fmt: skip


def test_edges_stand_after_the_flat_and_make_no_figures(car: Car) -> None:
    visit = stay(car, 2025)
    measure(visit, 68, 68, 68, label="e", place=SpotPlace.EDGE)
    measure(visit, 120, 120, 120, label="10")
    measure(visit, 121, 121, 121, label="2")
    found = panel(car)
    assert [(spot.label, spot.where) for spot in found.spots] == [
        ("2", ""), ("10", ""), ("e", "edge, crest or crease")
    ]  # fmt: skip
    assert found.lowest == "120"
    assert found.budget.reasons[0].key == "edge"


def test_what_was_taken_back_counts_no_more(car: Car) -> None:
    visit = stay(car, 2025)
    spot = measure(visit, 60, 60, 60)
    step = polish(visit, Process.CUT)
    assert panel(car).letter == "D"
    take_back_spot(spot=spot, because="the probe was tilted", by=None, now=NOW)
    take_back_step(step=step, because="other car", by=None, now=NOW)
    assert file_of(car).paint.panels == ()
    assert file_of(car).paint.not_measured == ()


def test_panels_that_were_never_measured_are_told_together(car: Car) -> None:
    visit = stay(car, 2025)
    polish(visit, Process.ONE_STEP_POLISH, PANELS)
    measure(visit, 120, 121, 122)
    (rest,) = file_of(car).paint.not_measured
    assert rest.where == "all painted panels except bonnet"
    assert rest.stands == "one cut or one light on this panel, not both"


def test_a_car_with_nothing_on_record_has_no_panels(car: Car) -> None:
    paint = file_of(car).paint
    assert (paint.panels, paint.not_measured) == ((), ())


def test_names_are_those_of_the_shape() -> None:
    van = factories.car(body=Body.VAN)
    measure(stay(van, 2025), 120, 121, 122, on=Surface.TAILGATE_LOWER)
    assert panel(van, Surface.TAILGATE_LOWER).name == "back doors, lower part"


def test_history_of_a_visit_names_what_was_measured(car: Car) -> None:
    measure(stay(car, 2025), 120, 121, 122, on=Surface.LEFT_FRONT_DOOR_LOWER)
    assert [visit.measured for visit in file_of(car).history] == ["left front door"]


def test_file_takes_as_many_queries_with_a_hundred_spots_as_with_one(car: Car) -> None:
    visit = stay(car, 2025)
    measure(visit, 120, 121, 122)

    def queries() -> int:
        with CaptureQueriesContext(connection) as found:
            file_of(car)
        return len(found)

    one = queries()
    for number in range(30):
        measure(visit, 120, 121, 122, on=Surface.ROOF, label=str(number))
    assert queries() == one
