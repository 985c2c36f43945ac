"""One car told in full: a blue estate, coated in May, resprayed at one wing in June, back before winter.

Every figure is invented. The dates are the last May, June and October that had passed when the demo was started.
"""

from __future__ import annotations

from dataclasses import replace
from datetime import date, datetime, timedelta

from crm.care.bodies import Body
from crm.care.paint_terms import Finish, GaugeMode, Past, Stages
from crm.care.surfaces import PANELS, Surface, Surfaces, Zone, surfaces_of
from crm.care.terms import Circumstance, Paint, Parking, Prep, Process, Wash
from crm.models import Car, CarEvent, Visit
from crm.services.demo import jobs, stock
from crm.services.demo.days import Days
from crm.services.demo.gauging import Corrected, Gauged, plastic
from crm.services.demo.jobs import Air, Coat, Done, Work
from crm.services.demo.story import Owner, Scene, Stay, Story
from crm.services.events import Happened, record_event
from crm.services.registry import HowKept, NewCar

P = Process
MARK = "QA21 LME"
WING = Surfaces.of([Surface.LEFT_REAR_WING, Surface.LEFT_REAR_WING_LOWER])
_BONNET = Surfaces.of([Surface.BONNET])
_BONNET_BEFORE = (101, 98, 104, 92, 95, 107, 110, 100, 103)
_BONNET_AFTER = (100, 97, 103, 91, 94, 106, 109, 99, 102)
PROMISE = "24 months water-shedding with two checks a year; not stone, brush or bird damage; not transferable"
REASON = "Keeper knows that the lime tree shortens it; both checks a year are booked as part of the price."
AIR = Air(air_c="18.5", humidity="61", surface_c="17.0", bay_min_c="12.0")


def year_of(days: Days) -> int:
    """The last year whose 2 October has passed."""
    return days.latest(10, 2).year


def stories(days: Days) -> list[Story]:
    """The car's one story."""
    year = year_of(days)
    before = days.free(date(year - 1, 10, 20))
    told_on = days.at(date(year, 6, 20), 11, 15)
    return [
        Story(
            car=NewCar(
                mark=MARK,
                make="Halden",
                model="Estate",
                year=2021,
                colour="Blue",
                body=Body.ESTATE,
                paint=Paint.CLEAR_OVER_BASE,
                paint_past=Past.USED,
                aluminium=_BONNET,
                plastic=Surfaces.from_keys(
                    (
                        *("left_front_wing", "left_front_wing_lower"),
                        *("right_front_wing", "right_front_wing_lower"),
                        *("boot_lid", "tailgate_lower"),
                    )
                ),
                circumstances=[Circumstance.NO_TAP_WINTER.value, Circumstance.SALTED_ROADS.value],
            ),
            owner=Owner(
                name="Maris Kestle",
                greeting="Mrs Kestle",
                phone="07700 900121",
                email="maris.kestle@example.org",
            ),
            payer=Owner(name="Osbert Kestle", phone="07700 900122", email="osbert.kestle@example.org"),
            since=before,
            kept=(
                HowKept(
                    since=before,
                    parking=Parking.TREES_OR_INDUSTRY,
                    km_a_year=22_000,
                    salted_roads=True,
                    wash_summer=Wash.HAND_NEUTRAL,
                    wash_winter=Wash.TOUCH_FREE,
                ),
            ),
            stays=(
                Stay(on=before, purpose=Visit.Purpose.WINTER, work=jobs.winter_coat(), odometer_km=49_380),
                _coated(date(year, 5, 3)),
                _winter(date(year, 10, 2)),
            ),
            happenings=((told_on, _resprayed),),
        )
    ]


def _coated(arrived: date) -> Stay:
    return Stay(
        on=arrived,
        arrives=(8, 52),
        lays=(15, 10),
        purpose=Visit.Purpose.COATING,
        nights=2,
        odometer_km=61_240,
        hours=26,
        arrival=(
            "swirls 3 of 4 on the horizontals; bird etch on the bonnet, 8 mm; kerb mark right front wheel; chip to "
            "primer on the left mirror cap"
        ),
        scope="one-step correction and two-year coating; wheel faces, screen, trim and front seats",
        left_out="scratch in the left rear door",
        promise=PROMISE,
        promise_months=24,
        promise_reason=REASON,
        work=Work(
            done=_correction(),
            coats=_coats(),
            before={"roof": 1, "bonnet": 0, "upper_sides": 2, "lower_sides": 0, "screen": 1},
            after={"roof": 2, "bonnet": 1, "upper_sides": 3, "lower_sides": 1, "screen": 1},
            worn=((stock.SEALANT, _BONNET | jobs.LOWER),),
            gauged=_gauged(),
            gauged_after=(Gauged(panel=Surface.BONNET, mode=GaugeMode.EDDY, spots=_BONNET_AFTER),),
            corrected=_corrected(),
        ),
        left=(
            ("Etch halo on the bonnet: too thin to chase (91 µm)", _BONNET),
            (
                "Chip on the left mirror cap was touched in: look whether it holds",
                Surfaces.of([Surface.LEFT_MIRROR]),
            ),
            ("Scratch in the left rear door was not part of the job", Surfaces.of([Surface.LEFT_REAR_DOOR])),
        ),
    )


def _correction() -> tuple[Done, ...]:
    return (
        Done(process=P.WHEELS_CLEANED, on=jobs.FACES),
        Done(process=P.CONTACT_WASH, on=PANELS),
        Done(process=P.IRON_REMOVER, on=PANELS | jobs.FACES),
        Done(process=P.TAR_REMOVER, on=jobs.LOWER),
        Done(process=P.CLAY, on=PANELS | jobs.SCREEN | jobs.FACES),
        Done(
            process=P.ONE_STEP_POLISH,
            on=_BONNET,
            note=(
                "Test spots. 1: 15 mm, firm foam, one-step, speed 4, 4 passes: 45 %, clear. 2: microfibre cut pad: "
                "80 %, haze. 3: as 1, then soft foam, speed 3: 65 %, clear. Chosen: 3"
            ),
        ),
        Done(
            process=P.ONE_STEP_POLISH,
            on=PANELS - _BONNET,
            note="Test spot on the doors: firm foam, one-step, speed 5, 5 passes: 75 %, clear. Chosen",
        ),
        Done(process=P.PANEL_WIPE, on=PANELS),
    )


def _gauged() -> tuple[Gauged, ...]:
    """Lowest and median as they were read: bonnet 92/101 of nine, roof 118/124, rear wings 96/108 and 104/112."""
    return (
        Gauged(panel=Surface.BONNET, mode=GaugeMode.EDDY, spots=_BONNET_BEFORE),
        *plastic(Surface.LEFT_FRONT_WING),
        Gauged(panel=Surface.LEFT_REAR_WING, spots=(108, 96, 111)),
        *plastic(Surface.BOOT_LID, Surface.TAILGATE_LOWER),
        Gauged(panel=Surface.RIGHT_REAR_WING, spots=(104, 112, 115)),
        *plastic(Surface.RIGHT_FRONT_WING),
        Gauged(panel=Surface.ROOF, spots=(124, 118, 127)),
    )


def _corrected() -> tuple[Corrected, ...]:
    foam = "15 mm orbit, firm foam, one-step"
    return (
        Corrected(
            on=_BONNET,
            low="0.65",
            high="0.65",
            method=f"{foam}, speed 4, four passes, then soft foam, speed 3",
            stages=Stages.ONE,
        ),
        Corrected(
            on=surfaces_of(Zone.UPPER_SIDES, Zone.LOWER_SIDES),
            low="0.75",
            high="0.75",
            method=f"{foam}, speed 5, five passes",
            stages=Stages.ONE,
        ),
    )


def _coats() -> tuple[Coat, ...]:
    wiped = Coat(product=stock.COATING, on=PANELS, prep=Prep.POLISHED_WIPED, wiped=True, air=AIR)
    return (
        replace(wiped, coats=2, gap=90, flash=120, lamp="bonnet only, 55 °C for 8 min"),
        replace(wiped, product=stock.WHEEL_COATING, on=jobs.FACES),
        replace(wiped, product=stock.GLASS_COATING, on=jobs.SCREEN),
        replace(wiped, product=stock.LEATHER_COATING, on=jobs.FRONT_SEATS, prep=Prep.WASHED),
        replace(wiped, product=stock.TRIM_COATING, on=jobs.TRIM, prep=Prep.WASHED, note="lower trim"),
    )


def _resprayed(at: datetime, car: Car, scene: Scene) -> None:
    """Told on 20 June: the left rear wing was refinished on the 12th, and baked."""
    record_event(
        car=car,
        happened=Happened(
            kind=CarEvent.Kind.RESPRAY,
            on=at.date() - timedelta(days=8),
            surfaces=WING,
            baked=True,
            note="keeper, by telephone; body shop at the harbour",
        ),
        by=scene.crew.desk,
        now=at,
    )


def _winter(arrived: date) -> Stay:
    return Stay(
        on=arrived,
        purpose=Visit.Purpose.WINTER,
        odometer_km=70_460,
        hours=5,
        nights=1,
        scope="topper before the salt; coat the resprayed wing",
        work=Work(
            done=(
                Done(process=P.CONTACT_WASH, on=PANELS),
                Done(process=P.IRON_REMOVER, on=PANELS | jobs.FACES),
                Done(
                    process=P.TAR_REMOVER, on=jobs.LOWER, note="lower sides recovered after decontamination"
                ),
                Done(process=P.FINE_POLISH, on=WING, note="painter agreed; 16 weeks since the bake"),
                Done(process=P.PANEL_WIPE, on=WING),
            ),
            coats=(
                Coat(
                    product=stock.COATING,
                    on=WING,
                    coats=2,
                    gap=90,
                    prep=Prep.POLISHED_WIPED,
                    wiped=True,
                    flash=120,
                ),
                Coat(product=stock.TOPPER, on=PANELS - WING, prep=Prep.WASHED),
            ),
            gauged=(
                Gauged(panel=Surface.LEFT_REAR_WING, spots=(141, 138, 146), finish=Finish.REFINISH_SOUND),
            ),
            before={"roof": 3, "bonnet": 2, "upper_sides": 3, "lower_sides": 0},
            after={"roof": 4, "bonnet": 3, "upper_sides": 4, "lower_sides": 2},
        ),
    )
