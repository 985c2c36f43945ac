"""Owners worth knowing: who may not be written to and why, whose plate moved, whose car changed hands."""

from __future__ import annotations

from datetime import datetime, timedelta

from crm.care.bodies import Body
from crm.care.terms import WashPlan
from crm.models import Car, Consent, Contact, Message, Pause, Person, Plate, Role, Visit
from crm.post.carry import RecipientRefused
from crm.post.claim import claim
from crm.post.retry import not_delivered
from crm.post.stop import stop_letters
from crm.services.demo import jobs, stock
from crm.services.demo.days import Days
from crm.services.demo.jobs import Work
from crm.services.demo.story import Happening, Owner, Scene, Stay, Story, daily
from crm.services.people import PersonFacts, change_person, mark_dead, pause_letters
from crm.services.registry import NewCar, give_plate, give_role, take_plate_off

Purpose = Visit.Purpose
FLEET = Owner(
    name="Lintock & Daughter Plumbing",
    sort=Person.Sort.COMPANY,
    greeting="everybody at Lintock's",
    phone="01632 960150",
    email="vans@lintock.test",
    note="one invoice a month; vans come on Fridays",
)
PLATE_THAT_MOVED = "QX11 SEA"


def stories(days: Days) -> list[Story]:
    """All of them."""
    return [
        *_fleet(days),
        *_moved_plate(days),
        *_two_cars(days),
        _one(days, "QA65 STP", "Emblyn Foxcote", ago=400, then=(120, _stops)),
        _one(days, "QB17 CMP", "Rufus Tollgate", ago=330, then=(40, _complains)),
        _one(days, "QC20 BRV", "Isolde Wanstrow", ago=300, then=(75, _bereaved)),
        _one(days, "QD18 MVD", "Clemo Yeoford", ago=420, then=(200, _moves_away)),
        _one(days, "QE19 DED", "Hocken Stannard", ago=355, then=(90, _address_dead)),
        _one(days, "QF22 BNC", "Perran Lusk", ago=24, work=jobs.winter_coat(coats=2), then=(23, _bounces)),
        _one(days, "QG15 NOM", "Goodeth Amory", ago=290, email=""),
        _one(days, "QH21 NON", "Digory Flamank", ago=310, letters=False),
        _one(days, "QJ20 ASK", "Meraud Chenhall", ago=280, letters=None),
        _one(days, "QK66 NEW", "Ewan Rosmead", ago=450, then=(190, _changes_hands)),
    ]


def _one(
    days: Days,
    mark: str,
    name: str,
    *,
    ago: int,
    work: Work | None = None,
    email: str | None = None,
    letters: bool | None = True,
    then: tuple[int, Happening] | None = None,
) -> Story:
    """A daily car with one winter coat so many days ago, and what happened then, so many days ago."""
    on = days.ago(ago)
    address = f"{name.lower().replace(' ', '.')}@example.org" if email is None else email
    colour, body, model = _LOOKS[sum(map(ord, mark)) % len(_LOOKS)]
    return Story(
        car=NewCar(
            mark=mark,
            make="Corrie" if "door" in model else "Halden",
            model=model,
            colour=colour,
            body=body,
            year=2000 + int(mark[2:4]) % 50,
        ),
        owner=Owner(
            name=name, phone=f"07700 900{sum(map(ord, name)) % 100 + 200:03}", email=address, letters=letters
        ),
        since=on,
        kept=(daily(on, 13_000),),
        stays=(Stay(on=on, purpose=Purpose.WINTER, work=work or jobs.winter_coat(), hours=6),),
        happenings=((days.at(days.today - timedelta(days=then[0]), 11, 20), then[1]),) if then else (),
        km=30_000 + ago * 40,
    )


_LOOKS = (
    ("Blue", Body.HATCHBACK, "5-door"),
    ("Silver", Body.SALOON, "Saloon"),
    ("White", Body.HATCHBACK_3, "3-door"),
    ("Red", Body.ESTATE, "Estate"),
)


def _keeper(car: Car) -> Person:
    return car.roles.get(part=Role.Part.KEEPER, until__isnull=True).person


def _stops(at: datetime, car: Car, _: Scene) -> None:
    stop_letters(person=_keeper(car), how=Consent.BY_LINK, now=at)


def _pauses(why: Pause.Why) -> Happening:
    def write(at: datetime, car: Car, scene: Scene) -> None:
        pause_letters(person=_keeper(car), why=why, since=at.date(), by=scene.crew.desk)

    return write


_complains = _pauses(Pause.Why.COMPLAINT)
_bereaved = _pauses(Pause.Why.BEREAVEMENT)


def _moves_away(_: datetime, car: Car, scene: Scene) -> None:
    person = _keeper(car)
    facts = PersonFacts(name=person.name, note="moved up the coast", moved_away=True)
    change_person(person=person, facts=facts, by=scene.crew.desk)


def _address_dead(at: datetime, car: Car, scene: Scene) -> None:
    contact = _keeper(car).contacts.get(kind=Contact.Kind.EMAIL)
    mark_dead(contact=contact, because="came back: no such mailbox", at=at, by=scene.crew.desk)


def _bounces(at: datetime, car: Car, scene: Scene) -> None:
    """The wash note of this car comes back from the mail server when its time has come."""
    message = Message.objects.get(visit__car=car, kind=Message.Kind.WASH_NOW)
    when = max(at, message.next_try_at)
    claimed = claim(message.pk, now=when, studio=scene.crew.studio)
    if claimed is not None:
        error = RecipientRefused("The address does not work: 550 5.1.1 no such mailbox.")
        not_delivered(claimed, error, now=when, studio=scene.crew.studio)


def _changes_hands(at: datetime, car: Car, scene: Scene) -> None:
    buyer = scene.person(
        Owner(name="Hester Polwhele", phone="07700 900151", email="hester.polwhele@example.com"), on=at.date()
    )
    give_role(car=car, person=buyer, part=Role.Part.KEEPER, since=at.date(), by=scene.crew.desk)


def _fleet(days: Days) -> list[Story]:
    """Five vans of one firm, each with its driver, sealed in autumn and washed through the year."""
    made = []
    for number, mark in enumerate(("QL18 VAN", "QL19 VAN", "QL20 VAN", "QL71 VAN", "QL22 VAN")):
        on = days.free(days.latest(10, 6 + number * 3, before=days.today - timedelta(days=330)))
        again = days.free(days.latest(9, 12 + number * 3, before=days.today - timedelta(days=8)))
        stays = [Stay(on=on, purpose=Purpose.WINTER, work=jobs.winter_coat(stock.WINTER_WAX), hours=5)]
        if number % 2 and again > on + timedelta(days=60):
            stays.append(Stay(on=again, purpose=Purpose.WASH, work=jobs.wash(topper=True), hours=2))
        made.append(
            Story(
                car=NewCar(
                    mark=mark,
                    make="Marram",
                    model="Van",
                    year=2018 + number,
                    colour="White",
                    body=Body.VAN,
                    wash_plan=WashPlan.FLEET,
                    plan_anchor=on,
                ),
                owner=FLEET,
                since=on,
                kept=(daily(on, 32_000),),
                stays=tuple(stays),
                km=60_000 + number * 9_000,
            )
        )
    return made


def _moved_plate(days: Days) -> list[Story]:
    """A cherished plate goes from the old car to the new one, of the same keeper."""
    owner = Owner(name="Lowen Trevarrack", phone="07700 900152", email="lowen.trevarrack@example.com")
    first, change, later = days.ago(820), days.ago(270), days.ago(210)

    def comes_off(at: datetime, car: Car, scene: Scene) -> None:
        plate = Plate.objects.get(car=car, until__isnull=True)
        take_plate_off(plate=plate, until=at.date(), by=scene.crew.desk)
        give_plate(car=car, mark="QM15 WAS", since=at.date(), by=scene.crew.desk)

    def goes_on(at: datetime, car: Car, scene: Scene) -> None:
        give_plate(car=car, mark=PLATE_THAT_MOVED, since=at.date(), by=scene.crew.desk)

    old = NewCar(
        mark=PLATE_THAT_MOVED, make="Tarn", model="Hatchback", year=2015, colour="Red", body=Body.HATCHBACK
    )
    new = NewCar(mark="QN73 NOW", make="Halden", model="Saloon", year=2023, colour="Blue", body=Body.SALOON)
    return [
        Story(
            car=old,
            owner=owner,
            since=first,
            kept=(daily(first),),
            km=88_000,
            stays=(Stay(on=first, purpose=Purpose.WINTER, work=jobs.winter_coat()),),
            happenings=((days.at(change, 10), comes_off),),
        ),
        Story(
            car=new,
            owner=owner,
            since=days.today - timedelta(days=300),
            km=4_100,
            kept=(daily(days.today - timedelta(days=300)),),
            stays=(Stay(on=later, purpose=Purpose.COATING, work=jobs.coating(), nights=2),),
            happenings=((days.at(change, 10, 30), goes_on),),
        ),
    ]


def _two_cars(days: Days) -> list[Story]:
    """Two cars of one keeper, so that what is due on both goes into one letter."""
    owner = Owner(name="Carensa Bligh-Moor", phone="07700 900153", email="carensa@example.org")
    made = []
    pair = (
        ("QP20 TWO", "Halden", "Estate", Body.ESTATE, 390),
        ("QP16 TOO", "Corrie", "3-door", Body.HATCHBACK_3, 385),
    )
    for mark, make, model, body, ago in pair:
        on = days.ago(ago)
        again = days.ago(ago - 245)
        made.append(
            Story(
                car=NewCar(
                    mark=mark,
                    make=make,
                    model=model,
                    colour="Grey",
                    body=body,
                    year=2000 + int(mark[2:4]),
                ),
                owner=owner,
                since=on,
                kept=(daily(on, 11_000),),
                stays=(
                    Stay(on=on, purpose=Purpose.WINTER, work=jobs.winter_coat()),
                    Stay(on=again, purpose=Purpose.DETAIL, work=jobs.winter_coat(stock.WINTER_WAX)),
                ),
                km=40_000,
            )
        )
    return made
