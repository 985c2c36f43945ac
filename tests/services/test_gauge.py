"""Spots, corrections and polishing as the services take them: on both sides of every line.

Bands, removals and allowances are common practice as ranges, no source.
"""

from __future__ import annotations

from datetime import date, timedelta
from decimal import Decimal
from typing import Any

import pytest
from django.db import IntegrityError, transaction

from crm.care.bodies import Body
from crm.care.paint_terms import CutWeight, GaugeMode, Light, Past, SpotPlace, Stages
from crm.care.surfaces import PANELS, WHEELS, Surface, Surfaces
from crm.care.terms import Paint, Process
from crm.models import Car, CarEvent, CorrectionNote, GaugeReading, GaugeSpot, Rank, Step, User, Visit
from crm.services.bench import record_step
from crm.services.errors import NeedsReason, Refused
from crm.services.gauge import NewCorrection, NewSpot, record_correction, record_spot
from crm.services.polishing import Polishing
from crm.services.taking_back import take_back_correction, take_back_spot
from tests import factories
from tests.factories import NOW

pytestmark = pytest.mark.django_db
BONNET = Surfaces.of([Surface.BONNET])
REASON = Polishing(over_warnings="test spot was clear, owner signed")


@pytest.fixture
def stay() -> Visit:
    return factories.visit(factories.car(), at=NOW - timedelta(hours=4))


def spot(*values: float, **known: Any) -> NewSpot:
    facts: dict[str, Any] = {
        "surface": Surface.BONNET,
        "label": "1",
        "mode": GaugeMode.EDDY,
        "at": NOW - timedelta(hours=3),
        **known,
    }
    return NewSpot(values=tuple(Decimal(str(value)) for value in values), **facts)


def write(visit: Visit, new: NewSpot, by: User | None = None) -> GaugeSpot:
    return record_spot(visit=visit, spot=new, by=by, now=NOW)


def polish(
    visit: Visit, process: Process, on: Surfaces = BONNET, *, how: Polishing | None = None, **known: Any
) -> Step:
    known.setdefault("at", NOW - timedelta(hours=1))
    known.setdefault("by", None)
    return record_step(
        visit=visit, process=process, surfaces=on, polishing=how or Polishing(), now=NOW, **known
    )


def test_spot_is_kept_with_every_reading_in_its_order(stay: Visit) -> None:
    row = write(stay, spot(92.4, 91.5, 92, place=SpotPlace.EDGE, film=True, gauge=" No 2 ", label=" 3 "))
    assert [(one.position, str(one.um), one.mode) for one in row.readings.all()] == [
        (1, "92.4", "eddy"), (2, "91.5", "eddy"), (3, "92.0", "eddy")
    ]  # fmt: skip
    assert (row.label, row.place, row.film, row.gauge, row.surface, row.late) == (
        "3", "edge", True, "No 2", Surface.BONNET, False
    )  # fmt: skip


def test_mil_are_kept_as_micrometres_to_a_tenth(stay: Visit) -> None:
    # 1 mil = 25.4 µm by definition of the inch: 3.64 mil are 92.456 µm.
    row = write(stay, spot(3.64 * 25.4))
    assert row.readings.get().um == Decimal("92.5")


def test_plastic_is_kept_without_a_figure(stay: Visit) -> None:
    row = write(stay, spot(mode=GaugeMode.NOT_MEASURABLE))
    assert [(one.um, one.mode) for one in row.readings.all()] == [(None, "not_measurable")]


@pytest.mark.parametrize(
    ("values", "known", "field", "sentence"),
    [
        ((0,), {}, "values", "A reading of 0 is not paint."),
        ((0.04,), {}, "values", "A reading of 0 is not paint."),
        ((5000.1,), {}, "values", "over half a centimetre"),
        ((), {}, "values", "Write down what the gauge shows."),
        ((90,), {"mode": GaugeMode.NOT_MEASURABLE}, "values", "leave it empty"),
        ((90,) * 10, {}, "values", "up to 9 readings"),
        ((90,), {"label": "  "}, "label", "Give the spot a number"),
        ((90,), {"label": "x" * 9}, "label", "Number of the spot"),
        ((90,), {"surface": Surface.WINDSCREEN}, "panel", "The gauge is for paint"),
        ((90,), {"surface": Surface.SOFT_TOP}, "surfaces", "this car has"),
        ((90,), {"at": NOW + timedelta(hours=1)}, "at", "That time has not come yet."),
        ((90,), {"at": NOW - timedelta(days=3)}, "at", "The car only came in on"),
    ],
)
def test_what_cannot_be_a_spot_is_refused_in_a_sentence(
    stay: Visit, values: tuple[float, ...], known: dict[str, Any], field: str, sentence: str
) -> None:
    with pytest.raises(Refused, match=sentence) as refused:
        write(stay, spot(*values, **known))
    assert refused.value.field == field
    assert (GaugeSpot.objects.count(), GaugeReading.objects.count()) == (0, 0)


@pytest.mark.parametrize("values", [(5000,), (0.1,), (90,) * 9])
def test_the_ends_of_what_can_be_are_taken(stay: Visit, values: tuple[float, ...]) -> None:
    assert write(stay, spot(*values)).readings.count() == len(values)


@pytest.mark.parametrize(
    ("um", "mode", "stands"),
    [
        (Decimal(90), "magnetic", True),
        (None, "not_measurable", True),
        (None, "magnetic", False),
        (Decimal(90), "not_measurable", False),
        (Decimal(0), "eddy", False),
        (Decimal("5000.1"), "eddy", False),
    ],
)
def test_database_keeps_a_figure_and_its_mode_together(
    stay: Visit, um: Decimal | None, mode: str, stands: bool
) -> None:
    row = write(stay, spot(90))
    try:
        with transaction.atomic():
            GaugeReading.objects.create(spot=row, position=2, um=um, mode=mode)
    except IntegrityError:
        assert not stands
    else:
        assert stands


def test_database_keeps_a_spot_on_one_panel_alone(stay: Visit) -> None:
    row = write(stay, spot(90))
    with pytest.raises(IntegrityError), transaction.atomic():
        GaugeSpot.objects.filter(pk=row.pk).update(surfaces=PANELS)


def test_front_of_house_writes_down_no_readings(stay: Visit) -> None:
    with pytest.raises(Refused, match="may not do this"):
        write(stay, spot(90), factories.user(Rank.DESK))
    assert write(stay, spot(90), factories.user(Rank.BENCH)).by is not None


def test_reading_of_yesterday_is_marked_late() -> None:
    visit = factories.visit(factories.car(), at=NOW - timedelta(days=2))
    assert write(visit, spot(90, at=NOW - timedelta(hours=20))).late is True


def test_spot_taken_back_stays_on_record_with_its_reason(stay: Visit) -> None:
    row = write(stay, spot(90))
    with pytest.raises(Refused, match="Say why"):
        take_back_spot(spot=row, because=" ", by=None, now=NOW)
    take_back_spot(spot=row, because="wrong panel", by=None, now=NOW)
    assert not GaugeSpot.objects.exists()
    assert GaugeSpot.everything.get().taken_back_because == "wrong panel"


def test_after_the_hand_over_only_the_lead_takes_a_spot_back(stay: Visit) -> None:
    row = write(stay, spot(90))
    factories.close(stay, at=NOW)
    with pytest.raises(Refused, match="may not do this"):
        take_back_spot(spot=row, because="wrong", by=factories.user(Rank.BENCH), now=NOW)
    take_back_spot(spot=row, because="wrong", by=factories.user(Rank.LEAD), now=NOW)
    assert not GaugeSpot.objects.exists()


def correction(**known: Any) -> NewCorrection:
    facts: dict[str, Any] = {
        "surfaces": BONNET | WHEELS,
        "low": Decimal("0.65"),
        "high": Decimal("0.75"),
        "lights": frozenset({Light.HAND_LAMP, Light.SUN}),
        "method": " 15 mm orbit, firm foam ",
        "at": NOW - timedelta(hours=1),
        "wiped": True,
        "stages": Stages.ONE,
        **known,
    }
    return NewCorrection(**facts)


def test_correction_keeps_the_estimate_the_lights_and_the_method(stay: Visit) -> None:
    row = record_correction(visit=stay, correction=correction(), by=None, now=NOW)
    row.refresh_from_db()
    assert (row.surfaces, row.low, row.high, row.method, row.wiped, row.stages) == (
        BONNET, Decimal("0.65"), Decimal("0.75"), "15 mm orbit, firm foam", True, "one"
    )  # fmt: skip
    assert row.seen_under == {Light.HAND_LAMP, Light.SUN}


@pytest.mark.parametrize(
    ("known", "field", "sentence"),
    [
        ({"high": Decimal(1)}, "high", "Nobody can say that every mark went"),
        ({"low": Decimal("0.8")}, "high", "the first is over the second"),
        ({"lights": frozenset()}, "lights", "Say which light"),
        ({"method": " "}, "method", "Say how it was done"),
        ({"method": "x" * 201}, "method", "200 characters or fewer"),
        ({"surfaces": WHEELS}, "surfaces", "painted panels"),
    ],
)
def test_what_is_no_estimate_is_refused_beside_its_field(
    stay: Visit, known: dict[str, Any], field: str, sentence: str
) -> None:
    with pytest.raises(Refused, match=sentence) as refused:
        record_correction(visit=stay, correction=correction(**known), by=None, now=NOW)
    assert refused.value.field == field
    assert not CorrectionNote.objects.exists()


@pytest.mark.parametrize(("low", "high"), [(0, "0.99"), ("0.5", "0.5")])
def test_the_ends_of_an_estimate_are_taken(stay: Visit, low: Any, high: Any) -> None:
    new = correction(low=Decimal(low), high=Decimal(high))
    assert record_correction(visit=stay, correction=new, by=None, now=NOW).high == Decimal(high)


@pytest.mark.parametrize(("low", "high"), [("0.9", "0.5"), ("-0.1", "0.5"), ("0.5", "1")])
def test_database_keeps_a_correction_a_share(stay: Visit, low: str, high: str) -> None:
    row = record_correction(visit=stay, correction=correction(), by=None, now=NOW)
    with pytest.raises(IntegrityError), transaction.atomic():
        CorrectionNote.objects.filter(pk=row.pk).update(low=Decimal(low), high=Decimal(high))


def test_correction_taken_back_counts_no_more(stay: Visit) -> None:
    row = record_correction(visit=stay, correction=correction(), by=None, now=NOW)
    take_back_correction(correction=row, because="other car", by=None, now=NOW)
    assert not CorrectionNote.objects.exists()


@pytest.mark.parametrize(
    ("um", "process", "stopped"),
    [
        (100, Process.CUT, False),
        (99.9, Process.CUT, True),
        (80, Process.ONE_STEP_POLISH, False),
        (79.9, Process.ONE_STEP_POLISH, True),
        (79.9, Process.FINE_POLISH, True),
        (69, Process.PANEL_WIPE, False),
        (69, Process.CLAY, False),
    ],
)
def test_polish_is_held_against_the_thinnest_spot(
    stay: Visit, um: float, process: Process, stopped: bool
) -> None:
    write(stay, spot(um, um, um))
    if not stopped:
        assert polish(stay, process).over_warnings == ""
        return
    with pytest.raises(NeedsReason) as asked:
        polish(stay, process)
    assert asked.value.field == "over_warnings"
    assert asked.value.sentences[0].startswith(f"Bonnet: its lowest spot is {um:g} µm.")
    assert not Step.objects.exists()
    assert polish(stay, process, how=REASON).over_warnings == REASON.over_warnings


def test_reason_is_kept_only_where_one_was_needed(stay: Visit) -> None:
    assert polish(stay, Process.ONE_STEP_POLISH, how=REASON).over_warnings == ""


def test_panel_that_speaks_against_it_is_named_among_many(stay: Visit) -> None:
    write(stay, spot(75, 75, 75))
    write(stay, spot(75, 75, 75, surface=Surface.ROOF, mode=GaugeMode.MAGNETIC))
    with pytest.raises(NeedsReason) as asked:
        polish(stay, Process.FINE_POLISH, PANELS)
    (sentence,) = asked.value.sentences
    assert sentence.startswith("Bonnet and roof: its lowest spot is 75 µm.")


def test_third_cut_asks_for_a_reason_and_the_second_does_not() -> None:
    car = factories.car(paint_past=Past.NEW)
    for years in (3, 2):
        earlier = factories.visit(car, at=NOW - timedelta(days=365 * years))
        when = earlier.planned_in + timedelta(hours=2)
        polish(earlier, Process.CUT, at=when, how=Polishing(weight=CutWeight.MEDIUM))
        factories.close(earlier, at=when)
    with pytest.raises(NeedsReason, match="cut twice already"):
        polish(factories.visit(car, at=NOW - timedelta(hours=4)), Process.CUT)


def test_refining_after_a_cut_of_the_same_visit_is_not_held_against_it() -> None:
    stay = factories.visit(factories.car(paint_past=Past.USED), at=NOW - timedelta(hours=4))
    polish(stay, Process.CUT, at=NOW - timedelta(hours=3))
    polish(stay, Process.FINE_POLISH, at=NOW - timedelta(hours=2))
    # Used before (5 at the most), a cut of either weight (6), a fine polish (1): over the 8 that may be enough.
    with pytest.raises(NeedsReason, match="may have gone already"):
        polish(stay, Process.CUT)


def test_work_that_came_later_is_not_held_against_what_is_written_down_late() -> None:
    car = factories.car(paint_past=Past.NEW)
    old = factories.visit(car, at=NOW - timedelta(days=700))
    factories.close(old, at=NOW - timedelta(days=699))
    stay = factories.visit(car, at=NOW - timedelta(hours=4))
    write(stay, spot(75, 75, 75))
    assert polish(old, Process.CUT, at=old.planned_in + timedelta(hours=1)).late is True


@pytest.mark.parametrize(
    ("paint", "process", "stopped"),
    [(Paint.MATT, Process.FINE_POLISH, True), (Paint.CLEAR_OVER_BASE, Process.FINE_POLISH, False)],
)
def test_matt_paint_is_not_polished_without_a_word(paint: Paint, process: Process, stopped: bool) -> None:
    stay = factories.visit(factories.car(paint=paint), at=NOW - timedelta(hours=4))
    if stopped:
        with pytest.raises(NeedsReason, match="Bonnet: matt paint turns shiny"):
            polish(stay, process)
    else:
        polish(stay, process)


def test_resprayed_wing_that_nobody_looked_at_asks_first() -> None:
    car = factories.car()
    wing = Surfaces.of([Surface.LEFT_REAR_WING, Surface.LEFT_REAR_WING_LOWER])
    factories.event(car, CarEvent.Kind.RESPRAY, on=date(2025, 6, 12), surfaces=wing, baked=True)
    stay = factories.visit(car, at=NOW - timedelta(hours=4))
    with pytest.raises(NeedsReason, match="Left rear wing: it was resprayed on 12 June 2025"):
        polish(stay, Process.FINE_POLISH, wing)
    polish(stay, Process.FINE_POLISH, BONNET)


def test_bench_is_told_what_speaks_against_it_and_whom_to_ask(stay: Visit) -> None:
    write(stay, spot(75, 75, 75))
    bench = factories.user(Rank.BENCH)
    with pytest.raises(Refused, match=r"75 µm.*Ask the lead") as refused:
        polish(stay, Process.FINE_POLISH, how=REASON, by=bench)
    assert not isinstance(refused.value, NeedsReason)
    polish(stay, Process.FINE_POLISH, how=REASON, by=factories.user(Rank.LEAD))


def test_only_a_cut_has_a_weight(stay: Visit) -> None:
    with pytest.raises(Refused, match="Only a cut is medium or heavy"):
        polish(stay, Process.ONE_STEP_POLISH, how=Polishing(weight=CutWeight.HEAVY))
    assert polish(stay, Process.CUT, how=Polishing(weight=CutWeight.HEAVY)).weight == "heavy"


def test_wheels_and_glass_are_polished_without_a_question(stay: Visit) -> None:
    for on in (WHEELS, Surfaces.of([Surface.WINDSCREEN])):
        for _ in range(4):
            polish(stay, Process.CUT, on & Car.objects.get(pk=stay.car_id).surfaces)
    assert stay.car.body == Body.ESTATE


def test_figures_of_the_studio_decide(stay: Visit) -> None:
    factories.studio(engine_overrides={"thickness": {"bands": {"limits": [70, 80, 90, 120, 180, 300, 1000]}}})
    write(stay, spot(95, 95, 95))
    polish(stay, Process.CUT)
