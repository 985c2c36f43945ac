"""Cars to which something happened away from the bench: sold, repaired, through the tunnel, wheels changed."""

from __future__ import annotations

from datetime import datetime, timedelta

from crm.care.bodies import Body
from crm.care.surfaces import NOTHING, PANELS, Surface, Surfaces, Zone, surfaces_of
from crm.care.terms import Circumstance, Paint, Prep, Process
from crm.models import Car, CarEvent, Visit
from crm.services.demo import jobs, stock
from crm.services.demo.days import Days
from crm.services.demo.jobs import Coat, Done, Work
from crm.services.demo.story import Happening, Owner, Scene, Stay, Story, daily
from crm.services.events import Happened, record_event
from crm.services.registry import NewCar

Purpose = Visit.Purpose
Kind = CarEvent.Kind
_SECOND = surfaces_of(Zone.WHEELS_TWO)


def stories(days: Days) -> list[Story]:
    """All of them."""
    tellers = (_two_wheel_sets, _sold, _new_bumper, _new_screen, _tunnel)
    return [tell(days) for tell in tellers]


def happened(
    kind: CarEvent.Kind, surfaces: Surfaces = NOTHING, *, note: str = "", sure: bool = False
) -> Happening:
    """Something that happened to a car elsewhere, on the day on which it is written down."""

    def write(at: datetime, car: Car, scene: Scene) -> None:
        certainty = CarEvent.Certainty.SEEN if sure else CarEvent.Certainty.TOLD
        what = Happened(kind=kind, on=at.date(), surfaces=surfaces, certainty=certainty, note=note)
        record_event(car=car, happened=what, by=scene.crew.desk, now=at)

    return write


def _two_wheel_sets(days: Days) -> Story:
    first = days.ago(770)
    second = days.free(days.latest(10, 24))
    changes = [
        (days.at(on, 11), happened(kind, note="changed at the tyre shop"))
        for month, day, kind in ((11, 2, Kind.WHEELS_TWO_ON), (3, 24, Kind.WHEELS_ONE_ON))
        for on in days.seasons(month, day, since=first, until=days.today - timedelta(days=1))
    ]
    winter_set = Coat(
        product=stock.WHEEL_COATING, on=_SECOND, prep=Prep.POLISHED_WIPED, wiped=True, note="off the car"
    )
    return Story(
        car=NewCar(
            mark="QD70 TWS",
            make="Sorrel",
            model="Off-roader",
            year=2020,
            colour="Grey",
            body=Body.ESTATE,
            circumstances=[Circumstance.TOWING.value, Circumstance.SALTED_ROADS.value],
        ),
        owner=Owner(name="Gerran Hollowell", phone="07700 900132", email="gerran@skerrin.test"),
        since=first,
        kept=(daily(first, 26_000),),
        stays=(
            Stay(
                on=first,
                purpose=Purpose.COATING,
                work=jobs.coating().and_also(winter_set),
                nights=2,
                hours=28,
            ),
            Stay(on=second, purpose=Purpose.WINTER, work=jobs.top_up(), hours=3.5),
        ),
        happenings=tuple(changes),
        km=44_000,
    )


def _sold(days: Days) -> Story:
    first = days.ago(900)
    return Story(
        car=NewCar(
            mark="QE16 SLD", make="Tarn", model="Hatchback", year=2016, colour="Silver", body=Body.HATCHBACK
        ),
        owner=Owner(name="Loveday Brack", phone="07700 900134", email="loveday.brack@example.com"),
        since=first,
        kept=(daily(first),),
        stays=(
            Stay(on=first, purpose=Purpose.WINTER, work=jobs.winter_coat()),
            Stay(on=days.ago(520), purpose=Purpose.DETAIL, work=jobs.winter_coat(stock.WINTER_WAX)),
        ),
        happenings=(
            (days.at(days.ago(140), 12), happened(Kind.SOLD, note="keeper rang; sold out of the county")),
        ),
        km=78_000,
    )


def _new_bumper(days: Days) -> Story:
    first, back = days.ago(430), days.ago(45)
    bumper = Surfaces.of([Surface.FRONT_BUMPER])
    replaced = days.at(days.ago(205), 10)
    again = Work(
        done=(Done(process=Process.CONTACT_WASH, on=PANELS), Done(process=Process.PANEL_WIPE, on=bumper)),
        coats=(
            Coat(product=stock.COATING, on=bumper, prep=Prep.POLISHED_WIPED, wiped=True),
            Coat(product=stock.TOPPER, on=PANELS - bumper, prep=Prep.WASHED),
        ),
    )
    return Story(
        car=NewCar(
            mark="QB72 BMP",
            make="Corrie",
            model="5-door",
            year=2022,
            colour="Red",
            body=Body.HATCHBACK,
            chassis="Z9ZHC5AB1N0004172",
            paint=Paint.TRI_COAT,
            circumstances=[Circumstance.ELECTRIC.value],
        ),
        owner=Owner(name="Piran Wexcombe", phone="07700 900135", email="piran.wexcombe@example.com"),
        since=first,
        kept=(daily(first, 15_000),),
        stays=(
            Stay(on=first, purpose=Purpose.COATING, work=jobs.coating(), nights=2),
            Stay(on=back, purpose=Purpose.DETAIL, work=again, scope="coat the new bumper, topper elsewhere"),
        ),
        happenings=(
            (replaced, happened(Kind.PANEL_REPLACED, bumper, note="insurer's repairer; painted off the car")),
        ),
        km=12_400,
    )


def _new_screen(days: Days) -> Story:
    first = days.ago(390)
    gone = days.at(days.ago(60), 15)
    return Story(
        car=NewCar(
            mark="QD21 SCR",
            make="Halden",
            model="Saloon",
            year=2021,
            colour="Black",
            body=Body.SALOON,
            circumstances=[Circumstance.DRIVER_ASSISTANCE.value, Circumstance.HIGH_MILEAGE.value],
        ),
        owner=Owner(name="Ottilie Farr", phone="07700 900136", email="ottilie.farr@example.org"),
        since=first,
        kept=(daily(first, 38_000),),
        stays=(
            Stay(on=first, purpose=Purpose.COATING, work=jobs.coating(), nights=2),
            Stay(on=days.ago(180), purpose=Purpose.WASH, work=jobs.wash(topper=True)),
        ),
        happenings=(
            (gone, happened(Kind.GLASS_REPLACED, jobs.SCREEN, note="stone; camera set up again", sure=True)),
        ),
        km=52_000,
    )


def _tunnel(days: Days) -> Story:
    first = days.free(days.latest(10, 9, before=days.today - timedelta(days=200)))
    washes = tuple(
        (
            days.at(days.today - timedelta(days=ago), 17),
            happened(Kind.TUNNEL_WASH, note="daughter drives it through"),
        )
        for ago in (310, 262, 214, 166, 118, 70)
    )
    return Story(
        car=NewCar(
            mark="QF18 TNL",
            make="Corrie",
            model="3-door",
            year=2018,
            colour="White",
            body=Body.HATCHBACK_3,
            circumstances=[Circumstance.SHARED_TUNNEL_USER.value],
        ),
        owner=Owner(name="Hedra Ostler", phone="07700 900137", email="hedra@example.com"),
        driver=Owner(name="Bryony Ostler", phone="07700 900138", letters=None),
        since=first,
        kept=(daily(first, 14_000),),
        stays=(Stay(on=first, purpose=Purpose.WINTER, work=jobs.winter_coat(coats=2), hours=6.5),),
        happenings=tuple(entry for entry in washes if entry[0] > days.at(first, 20)),
        km=67_300,
    )
