"""The tour: the main job of the studio played in a terminal, with the real post behind it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime
from pathlib import Path
from time import monotonic

from django.conf import settings
from django.utils import timezone

from crm.care.advice import Telling, moment_words
from crm.management.demo.coats import coat_lines
from crm.management.demo.folder import PAPERS
from crm.management.demo.mail import Arrived, find_message, unpack
from crm.management.demo.page import Page
from crm.management.demo.who_hears import Asked, Kept, by_reason, reminders
from crm.management.demo.winter_now import WinterNow, winter_now
from crm.management.stack.embedded import Listening, embedded_stack
from crm.management.stack.running_lock import RunningLock
from crm.models import Message, Studio, User, Visit
from crm.selectors.car_chart import Shown
from crm.selectors.car_file import CarFile, Moment, car_file
from crm.selectors.finding import cars_found
from crm.selectors.sheet import AdviceLine, SheetContent, content_of
from crm.selectors.studio import local_day, seasons_of, the_studio
from crm.selectors.winter_asked import Stands
from crm.services.demo import SIGN_INS, Built
from crm.services.hand_over import hand_over, preview

SCRAP = "805"
"""What the caller remembers of QB68 OSZ: eight, oh, five."""
LONGEST_WAIT = 90
MOST_NAMED = 5
TOLD_FIRST = ("no_wash", "keep_dry", "no_extra_product")
"""The waits that matter most; the others of the same day are counted."""
State = Message.State
ANSWERS = {
    Stands.COMING: "coming",
    Stands.CAME: "came",
    Stands.LATER: "said later",
    Stands.NO_THANKS: "said no thanks",
    Stands.OPEN: "still to answer",
    Stands.TO_LEAVE: "about to be written to",
    Stands.LAPSED: "did not answer",
    Stands.CALLED_OFF: "called off",
    Stands.NEVER_LEFT: "not reached",
}


class TourFailed(Exception):
    """Something on the tour did not come out as it should; the sentence says what."""


@dataclass
class Tour:
    """Plays the job chapter by chapter. Every chapter raises TourFailed where its part did not work."""

    page: Page
    lock: RunningLock
    now: datetime

    def play(self, built: Built, seconds: float) -> None:
        """All of it. The programs that it starts have ended when it returns."""
        studio = the_studio()
        timezone.activate(studio.zone)
        page = self.page
        page.title(f"{studio.name}, Skerrin: the main job in one go")
        page.say(
            f"Built in {seconds:.0f} s: {built.cars} cars, {built.people} people and {built.visits} visits "
            f"in four years that end today, {local_day(studio, self.now):%-d %B %Y}."
        )
        visit = self._phone_rings(studio)
        self._what_is_on_it(visit, studio)
        message = self._hand_over(visit, studio)
        # Read before the scheduler starts: its first round writes these letters.
        reminded, winter = reminders(timezone.now()), winter_now(timezone.now())
        arrived = self._post(message, studio)
        self._who_is_reminded(*reminded)
        self._who_is_asked_for_winter(winter)
        self._what_was_written(arrived)

    def _phone_rings(self, studio: Studio) -> Visit:
        """A returning car, found by a scrap of its plate."""
        self.page.chapter("The phone rings: “mine has eight, oh, five in it, is it ready?”")
        hits = cars_found(SCRAP, most=3, today=local_day(studio, self.now))
        if not hits:
            raise TourFailed(f"No car was found for {SCRAP}.")
        self.page.say(f"Typed {SCRAP}; 8 is also read as B, 0 as O, 5 as S. Found:")
        self.page.table([(hit.plate, hit.car, hit.keeper, _last_seen(hit.last_visit)) for hit in hits])
        waiting = Visit.objects.filter(car__ref__in=[hit.ref for hit in hits], state=Visit.State.READY)
        visit = waiting.select_related("car").first()
        if visit is None:
            raise TourFailed("None of the cars found stands ready to be handed over.")
        return visit

    def _what_is_on_it(self, visit: Visit, studio: Studio) -> None:
        """The three lines, the chart, and the reasons of one window."""
        today = local_day(studio, self.now)
        file = car_file(visit.car.ref, at=Moment(studio, self.now, today), shown=Shown.TWO)
        if file is None or not file.lanes:
            raise TourFailed("The car file shows nothing on the car.")
        page = self.page
        page.chapter(f"What is on {file.plate.mark if file.plate else file.car.known_as}")
        page.say(file.answer.on_it)
        page.say(file.answer.holds)
        page.say(f"To offer: {file.answer.offer} {file.answer.why}")
        page.line()
        for line in coat_lines(file.lanes, today=today, salt=seasons_of(studio).salt):
            page.line(f"   {line}")
        self._reasons(file)

    def _reasons(self, file: CarFile) -> None:
        lane = next((lane for lane in file.lanes if lane.rows[0].window), None)
        if lane is None:
            raise TourFailed("No layer on the car has a forecast.")
        row = lane.rows[0]
        self.page.line()
        self.page.say(f"{row.layer.product.name} on the {lane.words}: {row.expected}, {row.between}. Why:")
        for reason in row.reasons:
            self.page.say(reason, hang="- ")

    def _hand_over(self, visit: Visit, studio: Studio) -> Message:
        """The keys go back; sheet and promise are frozen, and the notes are written into the outbox."""
        page, at = self.page, timezone.now()
        page.chapter("The car goes back to its keeper")
        for concern in preview(visit, now=at).concerns:
            page.say(concern)
        desk = User.objects.get(username=SIGN_INS[-1].name)
        sheet = hand_over(visit=visit, by=desk, at=at, now=at, reason="said so at the counter")
        content = content_of(sheet)
        page.say(f"{content.keeper_name} gets the keys from {desk} and hears:")
        for line in content.advice.headlines:
            page.say(line, hang="- ")
        page.say("The sheet holds the end of every “don't”. The first of each:")
        page.table(_first_of_each(content))
        message = Message.objects.filter(visit=visit, kind=Message.Kind.AFTERCARE).first()
        if message is None or message.state != State.WAITING:
            raise TourFailed("The aftercare note is not waiting in the outbox.")
        return message

    def _post(self, message: Message, studio: Studio) -> Arrived:
        """The real way of a note: scheduler, broker, worker, mail folder."""
        page = self.page
        page.chapter("The aftercare note leaves")
        page.say(f"In the outbox: {message.get_kind_display()} to {message.person}, waiting.")
        start = monotonic()
        with embedded_stack(self.lock, Listening(port=0)) as stack:
            up = monotonic()
            page.say(f"Scheduler, broker, worker and web server are up after {up - start:.0f} s.")
            stack.supervisor.wait_until(
                lambda: _has_left(message), what="The aftercare note", seconds=LONGEST_WAIT
            )
            waited = monotonic() - up
        message.refresh_from_db()
        if message.state != State.SENT:
            raise TourFailed(f"The aftercare note is {message.get_state_display()}: {message.because}")
        file = find_message(Path(settings.EMAIL_FILE_PATH), message.message_id)
        if file is None:
            raise TourFailed(
                f"The aftercare note is marked as sent but is not in {settings.EMAIL_FILE_PATH}."
            )
        arrived = unpack(file, settings.DATA.root / PAPERS)
        page.say(
            f"The worker took it from the broker and it was in the mail folder {waited:.0f} s later: "
            f"“{arrived.message['Subject']}”, with a PDF sheet and a calendar file of {arrived.entries} entries."
        )
        self._wash_note(message, studio)
        return arrived

    def _wash_note(self, message: Message, studio: Studio) -> None:
        note = Message.objects.filter(visit=message.visit, kind=Message.Kind.WASH_NOW).first()
        if note is not None:
            self.page.say(
                f"“You may wash it now” waits until {moment_words(note.not_before, studio.zone)}, "
                "when the last no-wash time of this visit is over."
            )

    def _who_is_reminded(self, asked: Sequence[Asked], kept: Sequence[Kept]) -> None:
        self.page.chapter("Who is reminded before a layer lapses")
        if not asked and not kept:
            self.page.say(
                "Nobody today: no layer nears its low date without its keeper having been written to."
            )
        self._named([(item.who, item.plate, f"{item.why}.") for item in asked])
        self._left_out(kept)

    def _who_is_asked_for_winter(self, found: WinterNow | None) -> None:
        page = self.page
        page.chapter("Who is asked in before winter")
        if found is None:
            page.say(
                "No winter round is going. It is opened in summer, once the weeks of autumn can be seen."
            )
            return
        said = ", ".join(f"{count} {ANSWERS[stands]}" for stands, count in found.answers.items())
        page.say(
            f"Winter round {found.season}. Of {found.answers.total()} cars asked so far: {said or 'none yet'}."
        )
        if found.monday is not None:
            page.say(f"Next to be asked, for the week of {found.monday:%-d %B}:")
            self._named([(item.who, item.plate, f"{item.why}.") for item in found.to_ask])
        page.say(
            f"The plan likely spares {found.spares:.0f} unprotected salted days; no plan within the hours of the "
            f"weeks could spare more than {found.most:.0f}."
        )
        self._left_out(found.left_out)

    def _named(self, rows: Sequence[tuple[str, str, str]]) -> None:
        self.page.table(rows[:MOST_NAMED])
        if len(rows) > MOST_NAMED:
            self.page.say(f"and {len(rows) - MOST_NAMED} more.")

    def _left_out(self, kept: Sequence[Kept]) -> None:
        if not kept:
            return
        self.page.say("Left out:")
        self.page.table(
            (str(count), f"{reason}: {_named_one(item, count)}") for count, reason, item in by_reason(kept)
        )

    def _what_was_written(self, arrived: Arrived) -> None:
        self.page.chapter("What was written")
        self.page.path("The note", arrived.file)
        self.page.path("The sheet", arrived.pdf)
        self.page.path("The calendar", arrived.ics)
        self.page.line()
        self.page.say("To look around yourself: python3 manage.py demo")


def _last_seen(moment: datetime | None) -> str:
    return f"last in {timezone.localdate(moment):%-d %B %Y}" if moment else ""


def _first_of_each(content: SheetContent) -> list[tuple[str, str]]:
    """One “don't” for each day on which some of them end, and how many more end on it."""
    telling = Telling(content.handed_over_at, content.zone)
    by_day: dict[date, list[AdviceLine]] = {}
    for line in content.donts_by_end:
        if line.until is not None:
            by_day.setdefault(line.until.astimezone(content.zone).date(), []).append(line)
    rows = []
    for lines in by_day.values():
        told = next((line for line in lines if line.code in TOLD_FIRST), lines[0])
        more = f" (and {len(lines) - 1} more)" if len(lines) > 1 else ""
        if told.until is not None:
            rows.append((telling.until(told.until), f"{told.words}{more}"))
    return rows


def _has_left(message: Message) -> bool:
    message.refresh_from_db()
    return message.state not in (State.WAITING, State.SENDING)


def _named_one(item: Kept, count: int) -> str:
    example = f"{item.who}, {item.plate}"
    return example if count == 1 else f"{example} and others" if count > 2 else f"{example} and one more"
