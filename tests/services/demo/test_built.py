"""What the built demo holds, and that one car's story is told to the figure.

The figures of the worked visit are invented; the clocks follow from the cure table (common practice, no source).
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from datetime import UTC, date, datetime, timedelta
from decimal import Decimal
from itertools import pairwise
from statistics import fmean, median

import pytest
from django.db import transaction
from pytest_django import DjangoDbBlocker

from crm.care.bodies import Body
from crm.care.surfaces import NOTHING, PANELS, Surface, Surfaces, Zone, surfaces_of
from crm.care.terms import EndReason, Moment, Process, ProductClass
from crm.management.demo.who_hears import by_reason, reminders
from crm.management.demo.winter_now import winter_now
from crm.models import (
    Car,
    CarEvent,
    Consent,
    Contact,
    CorrectionNote,
    Ending,
    Forecast,
    GaugeSpot,
    Grade,
    Layer,
    LeftForNextTime,
    Life,
    Message,
    Pause,
    Person,
    Plate,
    Product,
    Rank,
    Role,
    Step,
    Studio,
    Suppression,
    User,
    Visit,
    WinterRound,
)
from crm.post.quiet import SendingHours
from crm.selectors.car_file import Moment as FileMoment
from crm.selectors.car_file import car_file
from crm.selectors.coats import layers_of, live_surfaces
from crm.selectors.lasted import lasted
from crm.selectors.winter_asked import Stands
from crm.selectors.winter_facts import asked_so_far
from crm.services.demo import PASSWORD, SIGN_INS, build_demo
from crm.services.demo.owners import PLATE_THAT_MOVED
from crm.services.demo.stock import SEALANT
from crm.services.demo.today import READY_MARK
from crm.services.demo.worked import MARK, PROMISE, WING
from crm.services.forecasts import reforecast_car

NOW = datetime(2026, 11, 25, 10, 30, tzinfo=UTC)
TODAY = date(2026, 11, 25)
K, S = Message.Kind, Message.State
# What builds the demo is measured where the tour builds it: tests/management/test_demo.py.
pytestmark = [pytest.mark.django_db, pytest.mark.unmeasured]


@pytest.fixture(scope="module", autouse=True)
def _built(django_db_setup: None, django_db_blocker: DjangoDbBlocker) -> Iterator[None]:
    """The demo, built once for all tests of this file and taken back after them."""
    with django_db_blocker.unblock(), transaction.atomic():
        build_demo(now=NOW)
        yield
        transaction.set_rollback(True)


def test_size_is_that_of_a_studio_of_four_years() -> None:
    assert Car.objects.count() >= 80
    assert Person.objects.count() >= 60
    assert Role.objects.filter(part=Role.Part.KEEPER).values("person").distinct().count() >= 60
    visits = Visit.objects.filter(state=Visit.State.HANDED_OVER)
    assert visits.count() >= 180
    first = visits.order_by("arrived_at").first()
    assert first is not None
    assert first.arrived_at is not None
    assert NOW - first.arrived_at > timedelta(days=3.7 * 365)
    assert visits.filter(arrived_at__gte=NOW - timedelta(days=30)).exists()
    assert Visit.objects.filter(handed_over_at__gt=NOW).count() == 0


def test_nothing_in_it_can_be_mistaken_for_somebody_real() -> None:
    assert [mark for mark in Plate.objects.values_list("mark", flat=True) if not mark.startswith("Q")] == []
    phones = Contact.objects.filter(kind="phone").values_list("value", flat=True)
    drama = re.compile(r"\+44(7700900|1632960)\d{3}")  # Ofcom's ranges for drama
    assert [value for value in phones if not drama.fullmatch(value)] == []
    reserved = re.compile(r".+@(example\.(com|org)|[a-z]+\.test)")  # RFC 2606
    emails = Contact.objects.filter(kind="email").values_list("value", flat=True)
    assert [value for value in emails if not reserved.fullmatch(value)] == []


def test_everybody_on_the_list_can_sign_in() -> None:
    assert User.objects.count() == len(SIGN_INS) == 4
    for sign_in in SIGN_INS:
        user = User.objects.get(username=sign_in.name)
        assert (user.rank, user.check_password(PASSWORD)) == (sign_in.rank, True)


def test_every_kind_of_message_has_left_and_some_stand_otherwise() -> None:
    sent = set(Message.objects.filter(state=S.SENT).values_list("kind", flat=True))
    assert sent == set(K.values)
    states = set(Message.objects.values_list("state", flat=True))
    assert states >= {S.SENT, S.WAITING, S.HELD, S.CANCELLED, S.FAILED, S.UNCERTAIN}
    assert Message.objects.filter(sent_at__gt=NOW).count() == 0
    assert Message.objects.filter(state=S.SENT, subject="").count() == 0


def test_letters_left_in_sending_hours_and_within_the_caps() -> None:
    studio = Studio.objects.get()
    hours = SendingHours.of(studio)
    letters = Message.objects.filter(state=S.SENT, kind__in=(K.WINTER, K.TOP_UP, K.WASH_DUE))
    assert letters.count() > 20
    by_person: dict[int, list[datetime]] = {}
    for person, at in letters.order_by("sent_at").values_list("person_id", "sent_at"):
        assert at is not None
        assert hours.allow(at)
        by_person.setdefault(person, []).append(at)
    for moments in by_person.values():
        gaps = pairwise(moments)
        assert all((other - one).days >= studio.letter_gap_days - 1 for one, other in gaps)


def test_every_body_wheel_set_top_and_seat_is_there() -> None:
    assert set(Car.objects.values_list("body", flat=True)) == {body.value for body in Body}
    live = NOTHING
    for layer in Layer.objects.prefetch_related("endings"):
        live |= live_surfaces(layer)
    for zone in (Zone.WHEELS, Zone.WHEELS_TWO, Zone.SOFT_TOP, Zone.SEATS, Zone.LOAD_BED, Zone.UNDERBODY):
        assert surfaces_of(zone) & live, zone
    classes = {ProductClass(name) for name in Layer.objects.values_list("product__product_class", flat=True)}
    assert classes >= {ProductClass.LEATHER_COATING, ProductClass.SOFT_TOP_PROOFER, ProductClass.UNKNOWN}


def test_events_elsewhere_ended_what_they_took() -> None:
    kinds = set(CarEvent.objects.values_list("kind", flat=True))
    assert kinds >= {
        CarEvent.Kind.RESPRAY,
        CarEvent.Kind.PANEL_REPLACED,
        CarEvent.Kind.GLASS_REPLACED,
        CarEvent.Kind.TUNNEL_WASH,
        CarEvent.Kind.SOLD,
        CarEvent.Kind.WHEELS_TWO_ON,
    }
    reasons = set(Ending.objects.exclude(event=None).values_list("why", flat=True))
    assert reasons == {EndReason.RESPRAYED, EndReason.PART_REPLACED}
    whys = set(Ending.objects.values_list("why", flat=True))
    assert whys >= {EndReason.WORN, EndReason.CLAYED, EndReason.POLISHED, EndReason.SUPERSEDED}


def test_owners_that_may_not_be_written_to_are_there() -> None:
    shut = Suppression.objects.filter(lifted_at__isnull=True)
    assert shut.filter(because=Consent.BY_LINK).count() == 1
    told = Consent.objects.filter(given=False, by__isnull=False, person__contacts__kind="email").distinct()
    assert shut.filter(because="at the desk").count() == told.count() > 0
    assert set(Pause.objects.values_list("why", flat=True)) == {Pause.Why.COMPLAINT, Pause.Why.BEREAVEMENT}
    assert Contact.objects.filter(dead_since__isnull=False).count() == 2
    keepers = Person.objects.filter(roles__part="keeper", roles__until__isnull=True).distinct()
    assert keepers.exclude(contacts__kind="email").exists()
    assert keepers.filter(consents__isnull=True).exists()
    assert keepers.filter(moved_away=True).count() == 1
    firm = Person.objects.get(sort=Person.Sort.COMPANY)
    assert firm.roles.filter(part="keeper", car__body=Body.VAN).count() == 5


def test_plates_keepers_and_lives_have_a_history() -> None:
    moved = Plate.objects.filter(mark=PLATE_THAT_MOVED).order_by("pk")
    assert [plate.until is None for plate in moved] == [False, True]
    assert len({plate.car_id for plate in moved}) == 2
    changed = Role.objects.filter(part="keeper", until__isnull=False, car__status="active")
    assert [role.car.roles.filter(part="keeper", until__isnull=True).count() for role in changed] == [1]
    assert Life.objects.filter(product__name=SEALANT).count() == 2
    assert set(Car.objects.values_list("status", flat=True)) == {"active", "stored", "sold"}
    assert Product.objects.filter(on_shelf=False).count() == 2


def test_lead_took_what_three_winters_of_grades_said_of_the_sealant() -> None:
    learned, stated = Life.objects.filter(product__name=SEALANT)
    assert (learned.source, stated.source) == (Life.Source.LEARNED, Life.Source.STATED)
    assert learned.by is not None
    assert learned.by.rank == Rank.LEAD
    assert learned.likely is not None
    assert stated.likely is not None
    assert learned.likely < stated.likely
    assert learned.from_layers >= 10
    assert learned.from_cars >= 8
    assert min(learned.seen_whole, learned.seen_finished, learned.seen_between) >= 3
    assert learned.graded_until is not None
    assert learned.graded_until <= learned.since
    why = [row.reasons[0]["words"] for row in Forecast.objects.filter(layer__product__name=SEALANT)]
    assert {"learned from the studio's own cars" in words for words in why} == {True}


def test_sealant_has_a_picture_to_look_at() -> None:
    found = lasted(Product.objects.get(name=SEALANT), Studio.objects.get(), today=TODAY)
    assert found.evidence is not None
    assert found.evidence.layers > 15
    assert found.differs
    assert found.covered > 0
    assert found.chart is not None
    assert len(found.chart.seen.stretches) >= 3


def test_record_shows_grades_late_entries_reasons_and_what_was_left() -> None:
    assert set(Grade.objects.values_list("moment", flat=True)) == {Moment.BEFORE_DECON, Moment.AFTER_DECON}
    assert LeftForNextTime.objects.filter(done_at__isnull=True).count() >= 5
    assert Layer.objects.filter(late=True).exclude(over_warnings="").count() == 1
    assert Step.objects.filter(late=True).exists()


def test_these_days_are_busy() -> None:
    here = Visit.objects.filter(state=Visit.State.IN_BAY)
    assert here.count() == 2
    ready = Visit.objects.get(state=Visit.State.READY)
    assert [plate.mark for plate in ready.car.plates.all()] == [READY_MARK]
    assert ready.planned_out is not None
    assert ready.planned_out.date() == TODAY
    booked = Visit.objects.filter(state=Visit.State.BOOKED, winter_invitation__isnull=True)
    assert booked.count() == 4
    assert {(visit.planned_in.date() - TODAY).days for visit in booked} <= set(range(9))


def test_forecasts_agree_with_the_facts() -> None:
    assert Car.objects.filter(forecast_stale=True).count() == 0
    assert sum(reforecast_car(car, now=NOW) for car in Car.objects.all()) == 0


def test_worked_visit_is_told_to_the_figure() -> None:
    car = Plate.objects.get(mark=MARK).car
    assert (car.known_as, car.year) == ("blue Halden Estate", 2021)
    assert car.aluminium == Surfaces.of([Surface.BONNET])
    assert [role.part for role in car.roles.order_by("part")] == ["keeper", "payer"]
    visit = Visit.objects.get(car=car, purpose=Visit.Purpose.COATING)
    local = Studio.objects.get().zone
    assert visit.acknowledged_at == datetime(2026, 5, 3, 8, 52, tzinfo=local)
    assert (visit.odometer_km, visit.promise, visit.promise_months) == (61_240, PROMISE, 24)
    assert visit.promise_reason != ""
    coat = Layer.objects.get(visit=visit, product__product_class=ProductClass.COATING_PROFESSIONAL)
    assert coat.laid_at == datetime(2026, 5, 4, 15, 10, tzinfo=local)
    assert (coat.surfaces, coat.coats, coat.coat_gap_minutes, coat.flash_seconds) == (PANELS, 2, 90, 120)
    assert (coat.air_c, coat.humidity, coat.surface_c, coat.bay_min_c, coat.air) == (
        Decimal("18.5"),
        Decimal(61),
        Decimal("17.0"),
        Decimal("12.0"),
        "inside",
    )
    assert coat.dry_until == datetime(2026, 5, 5, 15, 10, tzinfo=local)
    assert coat.wash_from == datetime(2026, 5, 11, 15, 10, tzinfo=local)
    assert coat.topper_from == datetime(2026, 5, 25, 15, 10, tzinfo=local)
    assert Layer.objects.filter(visit=visit).count() == 5
    grades = {
        moment: {
            min(surface.key for surface in grade.surfaces): grade.grade
            for grade in Grade.objects.filter(visit=visit, moment=moment)
        }
        for moment in Moment
    }
    assert grades[Moment.BEFORE_DECON] == {
        "roof": 1,
        "bonnet": 0,
        "left_front_door": 2,
        "left_front_door_lower": 0,
        "windscreen": 1,
    }
    assert list(grades[Moment.AFTER_DECON].values()) == [2, 1, 3, 1, 1]


def test_worked_visit_has_its_readings_and_its_corrections() -> None:
    """Lowest and median in µm, as they are told: bonnet 92/101 of nine before, 91/100 after."""
    visit = Visit.objects.get(car__plates__mark=MARK, purpose=Visit.Purpose.COATING)
    rows = GaugeSpot.objects.filter(visit=visit).prefetch_related("readings")
    means: dict[tuple[Surface, datetime], list[float]] = {}
    for row in rows:
        values = [float(one.um) for one in row.readings.all() if one.um is not None]
        means.setdefault((row.surface, row.at), []).extend([round(fmean(values), 1)] if values else [])
    told = [
        (surface, len(um), min(um, default=0), median(um) if um else 0) for (surface, _), um in means.items()
    ]
    assert told == [
        (Surface.BONNET, 9, 92, 101),
        (Surface.LEFT_FRONT_WING, 0, 0, 0),
        (Surface.LEFT_REAR_WING, 3, 96, 108),
        (Surface.BOOT_LID, 0, 0, 0),
        (Surface.TAILGATE_LOWER, 0, 0, 0),
        (Surface.RIGHT_REAR_WING, 3, 104, 112),
        (Surface.RIGHT_FRONT_WING, 0, 0, 0),
        (Surface.ROOF, 3, 118, 124),
        (Surface.BONNET, 9, 91, 100),
    ]
    shares = CorrectionNote.objects.filter(visit=visit).values_list("low", "high", "wiped")
    assert list(shares) == [
        (Decimal("0.65"), Decimal("0.65"), True),
        (Decimal("0.75"), Decimal("0.75"), True),
    ]


def test_paint_histories_tell_of_film_of_thin_paint_and_of_a_bonnet_through_the_years() -> None:
    found = {}
    for mark in ("QA04 OLD", "QG67 UNK", "QA73 FLM", "QD14 CLD", MARK):
        car = Car.objects.get(plates__mark=mark)
        file = car_file(car.ref, at=FileMoment(Studio.objects.get(), NOW, TODAY))
        assert file is not None
        found[mark] = file.paint.by_panel
    (first, *_) = found["QA04 OLD"][Surface.BONNET].spots
    assert re.fullmatch(r"118 → 115 \(finishing, \d{4}\) → 114 \(\d{4}, noise\)", first.line)
    assert found["QG67 UNK"][Surface.ROOF].stands == "no more polishing on this roof"
    assert found["QA73 FLM"][Surface.BONNET].says.words.startswith("Film, not repaint")
    assert found["QD14 CLD"][Surface.LEFT_REAR_DOOR].name == "left side door"
    wing = found[MARK][Surface.LEFT_REAR_WING]
    assert (wing.lowest, wing.finish) == ("138", "refinished, and sound in a test spot")
    assert "not compared: the panel was resprayed" in wing.spots[0].line


def test_worked_visit_goes_on_with_the_respray_and_the_winter() -> None:
    car = Plate.objects.get(mark=MARK).car
    event = CarEvent.objects.get(car=car)
    assert (event.kind, event.on, event.surfaces, event.baked) == ("respray", date(2026, 6, 12), WING, True)
    assert event.written_at.date() == date(2026, 6, 20)
    winter = Visit.objects.filter(car=car, purpose=Visit.Purpose.WINTER).latest("arrived_at")
    assert winter.arrived_at is not None
    assert winter.arrived_at.date() == date(2026, 10, 2)
    laid = {layer.product.product_class: layer.surfaces for layer in winter.layers.all()}
    assert laid == {ProductClass.COATING_PROFESSIONAL: WING, ProductClass.SILICA_TOPPER: PANELS - WING}
    first = Layer.objects.get(car=car, laid_at__date=date(2026, 5, 4), surfaces=PANELS)
    loaded = next(layer for layer in layers_of(car) if layer.pk == first.pk)
    assert live_surfaces(loaded) == PANELS - WING
    window = Forecast.objects.get(layer=first, zone=Zone.UPPER_SIDES)
    assert window.likely is not None
    assert window.low is not None
    assert date(2027, 10, 1) <= window.likely <= date(2028, 2, 28)  # "likely around December next year"
    assert window.low <= window.likely < date(2028, 5, 4)  # below the 24 months sold
    assert Step.objects.filter(visit=winter, process=Process.FINE_POLISH).get().surfaces == WING


def test_reminders_name_reasons() -> None:
    asked, _ = reminders(NOW)
    assert asked
    assert all(item.why.endswith(str(item.due.year)) for item in asked)


def test_winter_round_is_going_with_answers_of_every_kind() -> None:
    season = WinterRound.objects.get()
    assert (season.season_name, season.is_going, season.planned_for) == ("2026/27", True, TODAY)
    stands = {one.stands for one in asked_so_far(season, now=NOW)}
    assert stands >= {Stands.COMING, Stands.LATER, Stands.NO_THANKS, Stands.OPEN}
    letters = {row.message for row in season.invitations.select_related("message")}
    assert {letter.state for letter in letters if letter} == {S.SENT}
    coming = Visit.objects.filter(winter_invitation__isnull=False)
    assert all(visit.planned_in > NOW and visit.scope for visit in coming)


def test_winter_round_has_cars_to_ask_and_says_why_others_are_not() -> None:
    season = WinterRound.objects.get()
    assert (
        season.proposals.filter(monday__gte=TODAY + timedelta(days=7)).count() == season.proposals.count() > 5
    )
    reasons = set(season.left_out.values_list("why", flat=True))
    assert reasons >= {"complaint", "stored", "not_reachable", "no_salt", "seen", "booked", "no_thanks"}
    assert season.value
    assert season.bound
    assert season.value <= season.bound <= season.value * 1.005


def test_tour_reads_the_round() -> None:
    found = winter_now(NOW)
    assert found is not None
    assert (found.season, found.answers.total()) == ("2026/27", WinterRound.objects.get().invitations.count())
    assert found.to_ask
    assert {item.due for item in found.to_ask} == {found.monday}
    assert {item.plate for item in found.to_ask}.isdisjoint(item.plate for item in found.left_out)
    assert {reason for _, reason, _ in by_reason(found.left_out)} >= {"a complaint is open", "in storage"}
