"""Cars worth knowing: each shows one thing that the record has to get right."""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta

from crm.care.bodies import Body
from crm.care.paint_terms import Light, Stages
from crm.care.surfaces import NOTHING, PANELS, Surface, Surfaces, Zone, surfaces_of
from crm.care.terms import Circumstance, Paint, Parking, Prep, Process, Wash, WashPlan
from crm.models import CarEvent, Visit
from crm.services.demo import jobs, stock
from crm.services.demo.days import Days
from crm.services.demo.gauging import Corrected, Gauged, plastic
from crm.services.demo.jobs import Coat, Done, Work
from crm.services.demo.story import Owner, Stay, Story, daily
from crm.services.registry import HowKept, NewCar

Purpose = Visit.Purpose
Kind = CarEvent.Kind
_SECOND = surfaces_of(Zone.WHEELS_TWO)


def stories(days: Days) -> list[Story]:
    """All of them."""
    tellers = (_soft_top, _classic, _old_layer, _matt, _film, _pick_up, _family_car, _cold_evening)
    return [tell(days) for tell in tellers]


def _soft_top(days: Days) -> Story:
    first, second = days.ago(560), days.free(days.latest(5, 14))
    roof = jobs.roof_care()
    leather = Coat(product=stock.LEATHER_COATING, on=jobs.FRONT_SEATS, prep=Prep.WASHED)
    return Story(
        car=NewCar(
            mark="QC19 SFT",
            make="Lapwing",
            model="Convertible",
            year=2019,
            colour="Green",
            body=Body.CONVERTIBLE,
            paint=Paint.CLEAR_OVER_BASE,
            do_nots="No pressure washer on the soft top; the rear window is plastic",
        ),
        owner=Owner(name="Tamsyn Corlett", phone="07700 900131", email="t.corlett@example.com"),
        since=first,
        kept=(daily(first, 7_000, parking=Parking.GARAGE),),
        stays=(
            Stay(
                on=first,
                purpose=Purpose.COATING,
                work=jobs.both(jobs.coating(), roof).and_also(leather),
                nights=2,
            ),
            Stay(
                on=second,
                purpose=Purpose.SPRING,
                work=jobs.both(jobs.spring(), roof).graded(
                    {"soft_top": 1, "bonnet": 2}, {"soft_top": 1, "bonnet": 3}
                ),
            ),
        ),
        km=31_000,
    )


def _classic(days: Days) -> Story:
    first, last = days.ago(1180), days.free(days.latest(9, 18))
    wax = jobs.hand_wax()
    bonnet = [Gauged(panel=Surface.BONNET, spots=(um, um + 4, um + 7)) for um in (118, 115, 114)]
    polished = Done(
        process=Process.FINE_POLISH, on=PANELS, note="colour on the pad is normal: single-stage paint"
    )
    return Story(
        car=NewCar(
            mark="QA04 OLD",
            chassis="GW-1967-0417",
            make="Ardlow",
            model="Roadster",
            year=1967,
            colour="Cream",
            body=Body.COUPE,
            paint=Paint.SINGLE_STAGE,
            wash_plan=WashPlan.WEEKEND,
            plan_anchor=first,
            do_nots="Never start it in the bay: the owner's son does it outside",
        ),
        owner=Owner(
            name="Everard Plymsoll", phone="01632 960133", email="everard@example.org", greeting="Mr Plymsoll"
        ),
        since=first,
        kept=(
            HowKept(
                since=first,
                parking=Parking.GARAGE,
                km_a_year=1_500,
                salted_roads=False,
                wash_summer=Wash.HAND_NEUTRAL,
                wash_winter=Wash.HARDLY_EVER,
            ),
            HowKept(since=last, parking=Parking.GARAGE, km_a_year=1_500, salted_roads=False, stored=True),
        ),
        stays=(
            Stay(
                on=first,
                purpose=Purpose.CORRECTION,
                work=Work(
                    done=(*wax.done, polished),
                    coats=wax.coats,
                    gauged=(bonnet[0],),
                    corrected=(_enhanced(jobs.TOPS),),
                ),
            ),
            Stay(on=days.ago(800), purpose=Purpose.DETAIL, work=replace(wax, gauged=(bonnet[1],))),
            Stay(
                on=last,
                purpose=Purpose.DETAIL,
                work=replace(wax, gauged=(bonnet[2],)),
                scope="wax and wheels before it is laid up",
            ),
        ),
        km=61_800,
    )


def _enhanced(on: Surfaces) -> Corrected:
    return Corrected(
        on=on,
        low="0.5",
        high="0.6",
        method="by machine, soft foam, finishing polish, three passes",
        stages=Stages.ENHANCEMENT,
        lights=frozenset({Light.DAYLIGHT, Light.HAND_LAMP}),
    )


def _old_layer(days: Days) -> Story:
    """Somebody else's layer: kept as found for a winter, then polished off and coated afresh."""
    first, second = days.ago(610), days.ago(240)
    found = Coat(product=stock.UNKNOWN, on=PANELS, prep=None, note="owner says that the seller coated it")
    return Story(
        car=NewCar(
            mark="QG67 UNK", make="Vennel", model="Coupe", year=2017, colour="Graphite", body=Body.COUPE
        ),
        owner=Owner(name="Sorrel Ballantrae", phone="07700 900139", email="sorrel.b@example.org"),
        since=first,
        kept=(daily(first, 9_000, parking=Parking.GARAGE),),
        stays=(
            Stay(on=first, purpose=Purpose.INSPECTION, work=Work(done=jobs.wash().done, coats=(found,))),
            Stay(
                on=second,
                purpose=Purpose.COATING,
                work=replace(jobs.coating(leave=Surfaces.of([Surface.ROOF])), gauged=_thin_roof()),
                nights=2,
                left=(("The roof still carries the old layer: black, and too thin to polish", NOTHING),),
            ),
        ),
        km=39_000,
    )


def _thin_roof() -> tuple[Gauged, ...]:
    return (
        Gauged(panel=Surface.BONNET, spots=(112, 109, 116)),
        *plastic(Surface.FRONT_BUMPER, Surface.REAR_BUMPER),
        Gauged(panel=Surface.ROOF, spots=(81, 76, 79), edge=71),
    )


def _matt(days: Days) -> Story:
    first = days.ago(330)
    sealed = Coat(product=stock.MATT_SEALANT, on=PANELS, prep=Prep.WASHED)
    care = Work(done=(Done(process=Process.CONTACT_WASH, on=PANELS),), coats=(sealed,))
    return Story(
        car=NewCar(
            mark="QH23 MAT",
            make="Vennel",
            model="Coupe",
            year=2023,
            colour="Grey",
            body=Body.COUPE,
            paint=Paint.MATT,
            wash_plan=WashPlan.FILM_OR_MATT,
            plan_anchor=first,
            do_nots="Matt paint: no polish, no clay, no wax",
        ),
        owner=Owner(name="Ansel Rooke", phone="07700 900140", email="ansel.rooke@example.com"),
        since=first,
        kept=(daily(first, 10_000, parking=Parking.CARPORT),),
        stays=(
            Stay(on=first, purpose=Purpose.DETAIL, work=care),
            Stay(on=days.ago(150), purpose=Purpose.WASH, work=care),
        ),
        km=3_200,
    )


def _film(days: Days) -> Story:
    first = days.ago(480)
    front = Surfaces.of([Surface.BONNET, Surface.FRONT_BUMPER, Surface.LEFT_MIRROR, Surface.RIGHT_MIRROR])
    film = Coat(
        product=stock.FILM, on=front, prep=Prep.POLISHED_WIPED, wiped=True, note="edges wrapped; roll 7"
    )
    job = jobs.coating(leave=front)
    polish = Done(process=Process.FINE_POLISH, on=front)
    wiped = Done(process=Process.PANEL_WIPE, on=front)
    filmed = (
        Gauged(panel=Surface.BONNET, spots=(318, 324, 321), film=True),
        Gauged(panel=Surface.LEFT_FRONT_DOOR, spots=(122, 126, 119)),
    )
    return Story(
        car=NewCar(
            mark="QA73 FLM",
            make="Halden",
            model="Estate",
            year=2023,
            colour="Bronze",
            body=Body.ESTATE,
            circumstances=[Circumstance.HIGH_MILEAGE.value, Circumstance.COMPANY_CAR.value],
        ),
        owner=Owner(name="Demelza Strake", phone="07700 900141", email="d.strake@example.org"),
        since=first,
        kept=(daily(first, 34_000),),
        stays=(
            Stay(
                on=first,
                purpose=Purpose.COATING,
                work=Work(done=(*job.done, polish, wiped), coats=(film, *job.coats)),
                nights=3,
                hours=34,
            ),
            Stay(
                on=days.ago(200),
                purpose=Purpose.INSPECTION,
                work=replace(jobs.wash(), gauged=filmed),
                scope="look at every edge",
            ),
        ),
        km=8_900,
    )


def _pick_up(days: Days) -> Story:
    first = days.free(days.latest(10, 30, before=days.today - timedelta(days=60)))
    bed = surfaces_of(Zone.LOAD_BED)
    under = Coat(product=stock.CAVITY_WAX, on=surfaces_of(Zone.UNDERBODY), prep=Prep.WASHED)
    in_the_bed = Coat(product=stock.WINTER_WAX, on=bed, prep=Prep.WASHED)
    return Story(
        car=NewCar(
            mark="QB69 PUP",
            make="Brae",
            model="Pick-up",
            year=2019,
            colour="Green",
            body=Body.PICK_UP,
            circumstances=[Circumstance.DOGS.value, Circumstance.COAST.value],
        ),
        owner=Owner(name="Jory Skellan", phone="07700 900142", email="jory@skerrin.test"),
        since=first,
        kept=(daily(first, 21_000, parking=Parking.NEAR_SEA),),
        stays=(
            Stay(
                on=first,
                purpose=Purpose.WINTER,
                work=jobs.winter_coat().and_also(in_the_bed, under),
                nights=1,
            ),
        ),
        km=83_500,
    )


def _family_car(days: Days) -> Story:
    first, second = days.ago(365), days.ago(100)
    guard = Coat(
        product=stock.FABRIC_GUARD,
        on=Surfaces.of([Surface.SECOND_ROW, Surface.THIRD_ROW, Surface.CARPETS]),
        prep=Prep.WASHED,
    )
    trim = Coat(product=stock.TRIM_DRESSING, on=jobs.TRIM, prep=Prep.WASHED)
    return Story(
        car=NewCar(
            mark="QC68 FAM",
            make="Halden",
            model="Estate",
            year=2018,
            colour="Blue",
            body=Body.ESTATE,
            circumstances=[
                Circumstance.CHILDREN.value,
                Circumstance.DOGS.value,
                Circumstance.SENSITIVE.value,
            ],
            wash_plan=WashPlan.NO_TIME,
            plan_anchor=first,
        ),
        owner=Owner(name="Ysella Merrifield", phone="07700 900143", email="ysella.m@example.com"),
        since=first,
        kept=(daily(first, 17_000),),
        stays=(
            Stay(
                on=first, purpose=Purpose.DETAIL, work=jobs.both(jobs.winter_coat(), jobs.cabin(leather=True))
            ),
            Stay(
                on=second,
                purpose=Purpose.WASH,
                work=jobs.both(jobs.wash(topper=True), Work(coats=(guard, trim))),
                left=(("Chewed seat-belt trim, second row: keeper brings the part", NOTHING),),
            ),
        ),
        km=95_200,
    )


def _cold_evening(days: Days) -> Story:
    """Laid colder than it should be, with a reason, and typed in the evening after."""
    on = days.free(days.latest(12, 12, before=days.today - timedelta(days=3)))
    cold = jobs.Air(air_c="7.5", humidity="78", surface_c="6.5", bay_min_c="6.0")
    sealant = Coat(
        product=stock.SEALANT,
        on=PANELS,
        air=cold,
        reason="heater down; keeper needs it before the weekend and knows that it may not last",
    )
    done = jobs.winter_coat().done
    gauged = (
        Gauged(panel=Surface.BONNET, spots=(104, 108, 111)),
        Gauged(panel=Surface.LEFT_REAR_DOOR, spots=(212, 228, 206)),
        Gauged(panel=Surface.BOOT_LID, spots=(109, 106, 113)),
        Gauged(panel=Surface.RIGHT_REAR_DOOR, spots=(107, 112, 110)),
    )
    return Story(
        car=NewCar(mark="QD14 CLD", make="Marram", model="Van", year=2014, colour="White", body=Body.VAN),
        owner=Owner(name="Kitto Handsel", phone="07700 900144", email="kitto@example.com"),
        since=on,
        kept=(daily(on, 24_000),),
        stays=(
            Stay(
                on=on,
                purpose=Purpose.WINTER,
                work=Work(done=done, coats=(sealant,), gauged=gauged),
                typed_late=True,
            ),
        ),
        km=142_000,
    )
