"""Cars of these days: in the bay, ready to go, just gone, and expected this week."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, datetime, timedelta

from crm.care.bodies import Body
from crm.care.paint_terms import CutWeight, Stages
from crm.care.surfaces import NOTHING, Surface
from crm.care.terms import Circumstance, Paint, Parking, Process, WashPlan
from crm.models import Car, Message, Visit
from crm.post.claim import claim
from crm.post.desk import cancel, hold
from crm.post.retry import declare_uncertain
from crm.services.demo import jobs, stock
from crm.services.demo.days import Days
from crm.services.demo.gauging import Corrected, Gauged, plastic
from crm.services.demo.jobs import Work
from crm.services.demo.story import Happening, Owner, Scene, Stay, Story, daily
from crm.services.registry import NewCar

Purpose, State = Visit.Purpose, Visit.State
READY_MARK = "QB68 OSZ"
"""The car that stands ready to be handed over; its mark is full of signs that are taken for one another."""


def stories(days: Days) -> list[Story]:
    """All of them."""
    return [
        _ready(days),
        _in_the_bay(days),
        _comes_today(days),
        _just_gone(days),
        _held_note(days),
        _uncertain_note(days),
        _cancelled_note(days),
        *_expected(days),
    ]


def _ready(days: Days) -> Story:
    """Coated yesterday and ready since: to be handed over now."""
    first, second = days.free(days.latest(10, 18, before=days.today - timedelta(days=500))), days.ago(395)
    on = days.ago(1)
    return Story(
        car=NewCar(
            mark=READY_MARK,
            make="Corrie",
            model="5-door",
            year=2018,
            colour="Graphite",
            body=Body.HATCHBACK,
            paint=Paint.CLEAR_OVER_BASE,
            circumstances=[Circumstance.NO_TAP_WINTER.value, Circumstance.SALTED_ROADS.value],
            wash_plan=WashPlan.SEALED_DAILY,
            plan_anchor=on,
        ),
        owner=Owner(
            name="Wenna Trescothek", greeting="Wenna", phone="07700 900111", email="wenna.t@example.org"
        ),
        since=first,
        kept=(daily(first, 18_000, parking=Parking.NEAR_SEA),),
        stays=(
            Stay(on=first, purpose=Purpose.WINTER, work=jobs.winter_coat()),
            Stay(
                on=second,
                purpose=Purpose.DETAIL,
                work=jobs.both(jobs.winter_coat(stock.WINTER_WAX), jobs.cabin(leather=False)).graded(
                    {"bonnet": 0, "upper_sides": 1}, {"bonnet": 1, "upper_sides": 1}
                ),
            ),
            Stay(
                on=on,
                purpose=Purpose.COATING,
                nights=(days.today - on).days,
                laid_after=0,
                state=State.READY,
                hours=22,
                arrival="stone chips on the bonnet edge; scuff on the left rear wheel; keeper saw both",
                scope="one-step correction and two-year coating; wheel faces and screen",
                promise="We look at it with you in six weeks and put right what we missed.",
                work=jobs.coating().graded(
                    {"bonnet": 0, "upper_sides": 1, "lower_sides": 0},
                    {"bonnet": 1, "upper_sides": 1, "lower_sides": 0},
                ),
                left=(("Chips on the bonnet edge: touch in at the six-week look", NOTHING),),
            ),
        ),
        km=48_200,
    )


def _in_the_bay(days: Days) -> Story:
    """In for days: corrected yesterday, to be coated this afternoon."""
    on = days.ago(2)
    return Story(
        car=NewCar(
            mark="QC17 BAY",
            make="Halden",
            model="Saloon",
            year=2017,
            colour="Black",
            body=Body.SALOON,
            paint=Paint.CLEAR_OVER_BASE,
        ),
        owner=Owner(name="Ferris Antrobus", phone="07700 900112", email="ferris.antrobus@example.com"),
        since=on,
        kept=(daily(on, 20_000),),
        stays=(
            Stay(
                on=on,
                purpose=Purpose.COATING,
                nights=(days.today - on).days + 1,
                laid_after=(days.today - on).days,
                state=State.IN_BAY,
                arrival="swirls all over, heavy on the boot lid; scratch in the right front door to the primer",
                scope="two-stage on the tops, one-step elsewhere, two-year coating",
                left_out="scratch in the right front door",
                work=_two_stage(),
            ),
        ),
        km=71_900,
    )


def _two_stage() -> jobs.Work:
    """A cut on the tops before the one step that everything gets."""
    work = jobs.coating()
    polish = next(place for place, done in enumerate(work.done) if done.process is Process.ONE_STEP_POLISH)
    cut = jobs.Done(process=Process.CUT, on=jobs.TOPS, weight=CutWeight.MEDIUM)
    bonnet, lid = (131, 126, 134, 129, 137), (122, 118, 125)
    method = "15 mm orbit, microfibre and medium cut, then firm foam and one-step"
    return replace(
        work,
        done=(*work.done[:polish], cut, *work.done[polish:]),
        gauged=(
            Gauged(panel=Surface.BONNET, spots=bonnet),
            *plastic(Surface.FRONT_BUMPER),
            Gauged(panel=Surface.BOOT_LID, spots=lid),
            *plastic(Surface.REAR_BUMPER),
            Gauged(panel=Surface.ROOF, spots=(128, 133, 130)),
        ),
        gauged_after=(
            Gauged(panel=Surface.BONNET, spots=tuple(um - 3 for um in bonnet)),
            Gauged(panel=Surface.BOOT_LID, spots=tuple(um - 6 for um in lid)),
        ),
        corrected=(Corrected(on=jobs.TOPS, low="0.8", high="0.9", method=method, stages=Stages.TWO),),
    )


def _comes_today(days: Days) -> Story:
    """A plan car, here for the morning; expected, where the day has not come so far."""
    first = days.free(days.today - timedelta(days=186))
    here = days.now >= days.at(days.today, 8, 45)
    return Story(
        car=NewCar(
            mark="QD22 DAY",
            make="Tarn",
            model="Hatchback",
            year=2022,
            colour="Red",
            body=Body.HATCHBACK,
            wash_plan=WashPlan.SEALED_DAILY,
            plan_anchor=first,
        ),
        owner=Owner(name="Nanscawen Biddle", phone="07700 900113", email="n.biddle@example.org"),
        since=first,
        kept=(daily(first, 12_000),),
        stays=(
            Stay(on=first, purpose=Purpose.DETAIL, work=jobs.winter_coat(coats=2)),
            Stay(on=days.ago(94), purpose=Purpose.WASH, work=jobs.wash(topper=True)),
            Stay(
                on=days.today,
                purpose=Purpose.WASH,
                state=State.IN_BAY if here else State.BOOKED,
                scope="plan wash and a look at the wheels",
                work=jobs.wash(),
            ),
        ),
        km=18_300,
    )


def _lately(mark: str, model: str, name: str, phone: str, on: date, work: Work) -> Story:
    return Story(
        car=NewCar(
            mark=mark, make="Halden", model=model, year=2021, colour="Silver", body=Body(model.lower())
        ),
        owner=Owner(name=name, phone=phone, email=f"{name.lower().replace(' ', '.')}@example.com"),
        since=on,
        kept=(daily(on, 15_000),),
        stays=(Stay(on=on, purpose=Purpose.COATING, work=work, nights=1, hours=12),),
        km=33_000,
    )


def _just_gone(days: Days) -> Story:
    """Handed over a day or two ago: its wash note waits for the end of the no-wash time."""
    return _lately("QH22 GON", "Saloon", "Ambrose Tregear", "07700 900117", days.ago(3), jobs.coating())


def _note(car: Car, kind: Message.Kind) -> Message:
    return Message.objects.get(visit__car=car, kind=kind)


def _held_note(days: Days) -> Story:
    """The wash note waits, held by the desk until somebody has spoken to the keeper."""

    def held(at: datetime, car: Car, scene: Scene) -> None:
        hold(message=_note(car, Message.Kind.WASH_NOW), by=scene.crew.desk, now=at)

    on = days.ago(4)
    story = _lately("QE21 HLD", "Estate", "Bersaba Coode", "07700 900114", on, jobs.coating())
    return _with(story, days.at(on + timedelta(days=1), 17, 30), held)


def _uncertain_note(days: Days) -> Story:
    """The machine stopped while the wash note was on its way, so nobody knows whether it left."""

    def lost(at: datetime, car: Car, scene: Scene) -> None:
        message = _note(car, Message.Kind.WASH_NOW)
        when = max(at, message.next_try_at)
        claim(message.pk, now=when, studio=scene.crew.studio)
        declare_uncertain(now=when + timedelta(minutes=20))

    on = days.ago(12)
    story = _lately("QF21 UNC", "Saloon", "Trystan Godolph", "07700 900115", on, jobs.coating())
    return _with(story, days.at(on + timedelta(days=1), 17, 30), lost)


def _cancelled_note(days: Days) -> Story:
    """The keeper asked in person, so the desk cancelled the note."""

    def cancelled(at: datetime, car: Car, scene: Scene) -> None:
        message = _note(car, Message.Kind.WASH_NOW)
        cancel(message=message, because="told her at the counter when to wash it", by=scene.crew.desk, now=at)

    on = days.ago(19)
    story = _lately("QG21 CNC", "Estate", "Morwen Athlegan", "07700 900116", on, jobs.coating())
    return _with(story, days.at(on + timedelta(days=1), 17, 45), cancelled)


def _with(story: Story, at: datetime, what: Happening) -> Story:
    return replace(story, happenings=((at, what),))


def _expected(days: Days) -> list[Story]:
    """Booked for the next days: one new to the studio, three who come back."""
    rows = (
        ("QH19 MON", "Estate", "Zelah Pencarrow", 1, 380, Purpose.WINTER),
        ("QJ18 TUE", "Saloon", "Talek Ormerod", 2, 350, Purpose.WINTER),
        ("QK22 WED", "Estate", "Rosenwyn Tandy", 3, 0, Purpose.COATING),
        ("QL17 THU", "Saloon", "Casek Hendra", 6, 200, Purpose.DETAIL),
    )
    made = []
    for number, (mark, model, name, ahead, ago, purpose) in enumerate(rows):
        since = days.ago(ago) if ago else days.today - timedelta(days=6)
        booked = Stay(
            on=days.ahead(ahead), purpose=purpose, state=State.BOOKED, scope="as agreed by telephone"
        )
        before = (Stay(on=since, purpose=Purpose.WINTER, work=jobs.winter_coat()),) if ago else ()
        made.append(
            Story(
                car=NewCar(
                    mark=mark,
                    make="Halden",
                    model=model,
                    year=2000 + int(mark[2:4]),
                    colour="Blue",
                    body=Body(model.lower()),
                ),
                owner=Owner(
                    name=name,
                    phone=f"07700 90016{number}",
                    email=f"{name.lower().replace(' ', '.')}@example.org",
                ),
                since=since,
                kept=(daily(since),),
                stays=(*before, booked),
                km=25_000,
            )
        )
    return made
