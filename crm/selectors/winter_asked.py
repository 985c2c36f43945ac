"""Whom a winter round has asked, and how each invitation stands: the one place that says so."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from enum import StrEnum
from zoneinfo import ZoneInfo

from crm.care import winter_calls
from crm.care.months import monday_of
from crm.care.winter_figures import WinterFigures
from crm.models import Matter, Message, Visit, WinterInvitation
from crm.selectors.studio import tables_of, the_studio

Reply = WinterInvitation.Answer
_NEVER_LEFT = (Message.State.CANCELLED, Message.State.FAILED, Message.State.MISSED)
_NOT_LEFT_YET = (Message.State.WAITING, Message.State.HELD)


class Stands(StrEnum):
    """How an invitation stands on a day."""

    TO_LEAVE = "to_leave"
    """Its letter waits in the post."""
    OPEN = "open"
    LAPSED = "lapsed"
    COMING = "coming"
    CAME = "came"
    CALLED_OFF = "called_off"
    LATER = "later"
    NO_THANKS = "no_thanks"
    NEVER_LEFT = "never_left"
    """Its letter did not leave, or left without it."""


IS_ABOUT = "invitation"
"""The entry of a matter's facts that says which invitation it is about."""
WAITS = (Stands.TO_LEAVE, Stands.OPEN)
"""Nobody has answered, and there is still time to."""


@dataclass(frozen=True, slots=True)
class Asked:
    """An invitation on a day: since when it is open, until when, and why it stands as it does where that is odd."""

    invitation: WinterInvitation
    stands: Stands
    asked_on: date
    """The day its letter left, or was written; the day somebody asked in person."""
    lapses_on: date
    answered_on: date | None = None
    because: str = ""
    visit: Visit | None = None
    """The stay that came of it: the booking of a yes, or what was booked in meanwhile without an answer."""

    @property
    def waits(self) -> bool:
        return self.stands in WAITS


def matter_key(invitation: WinterInvitation) -> str:
    """The key of the matter by which a letter speaks of an invitation."""
    return f"winter-call:{invitation.pk}"


def asked_of(invitations: Sequence[WinterInvitation], *, now: datetime) -> list[Asked]:
    """How each of these stands, in four queries at most. `message` and `visit` are best selected with them."""
    studio = the_studio()
    figures, zone = tables_of(studio).winter, studio.zone
    keys = [matter_key(row) for row in invitations if row.message_id and not row.answer]
    dropped = dict(
        Matter.objects.filter(key__in=keys).exclude(dropped_because="").values_list("key", "dropped_because")
    )
    known = _Known(
        today=now.astimezone(zone).date(),
        zone=zone,
        figures=figures,
        dropped=dropped,
        called_off=_called_off([row.visit for row in invitations if row.visit], zone),
        meanwhile=_meanwhile([row for row in invitations if not row.answer], figures),
    )
    return [_asked(row, known) for row in invitations]


def as_the_plan_sees(asked: Sequence[Asked], zone: ZoneInfo) -> list[winter_calls.Invitation]:
    """The invitations that count, in the engine's own terms. One that never left is as if it had not been."""
    return [_for_plan(one, zone) for one in asked if one.stands is not Stands.NEVER_LEFT]


@dataclass(frozen=True, slots=True)
class _Known:
    """What was read for all invitations at once."""

    today: date
    zone: ZoneInfo
    figures: WinterFigures
    dropped: Mapping[str, str]
    """Why matters were left out of their letters, by key."""
    called_off: Mapping[int, date]
    meanwhile: Mapping[int, Visit]
    """By invitation."""


def _asked(row: WinterInvitation, known: _Known) -> Asked:
    letter = row.message
    asked_at = letter.sent_at if letter is not None and letter.sent_at else row.asked_at
    asked_on = asked_at.astimezone(known.zone).date()
    lapses_on = asked_on + timedelta(days=known.figures.lapse_days)
    answered_on = row.answered_at.astimezone(known.zone).date() if row.answered_at else None
    visit = row.visit or known.meanwhile.get(row.pk)

    def stands(how: Stands, because: str = "", on: date | None = answered_on) -> Asked:
        return Asked(row, how, asked_on, lapses_on, on, because, visit)

    if visit is not None:
        if visit.state == Visit.State.CANCELLED:
            return stands(Stands.CALLED_OFF, on=known.called_off.get(visit.pk, answered_on))
        return stands(Stands.COMING if visit.state == Visit.State.BOOKED else Stands.CAME)
    if row.answer:
        return stands(Stands.NO_THANKS if row.answer == Reply.NO_THANKS else Stands.LATER)
    dropped = known.dropped.get(matter_key(row), "")
    if letter is not None and (dropped or letter.state in _NEVER_LEFT):
        return stands(Stands.NEVER_LEFT, dropped or letter.because)
    if letter is not None and letter.state in _NOT_LEFT_YET:
        return stands(Stands.TO_LEAVE, letter.because)
    return stands(Stands.LAPSED if known.today >= lapses_on else Stands.OPEN)


def _meanwhile(unanswered: Sequence[WinterInvitation], figures: WinterFigures) -> dict[int, Visit]:
    """The first stay that was booked for a car after it was asked, though nobody wrote an answer down.

    Whoever rings is booked in like anybody else. A wash or a look alone is no answer, and neither is what stood in
    the book all along: the plan asks nobody who is booked so soon, only cars that are expected later, if at all.
    """
    if not unanswered:
        return {}
    within = timedelta(days=figures.booked_days)
    since = min(row.asked_at for row in unanswered)
    until = max(row.asked_at for row in unanswered) + within
    stays = (
        Visit.objects.filter(
            car__in={row.car_id for row in unanswered}, planned_in__gte=since, planned_in__lte=until
        )
        .exclude(state=Visit.State.CANCELLED)
        .exclude(purpose__in=(Visit.Purpose.WASH, Visit.Purpose.INSPECTION))
        .order_by("planned_in", "pk")
    )
    found: dict[int, Visit] = {}
    for stay in stays:
        for row in unanswered:
            if row.car_id == stay.car_id and row.asked_at <= stay.planned_in <= row.asked_at + within:
                found.setdefault(row.pk, stay)
    return found


def _called_off(visits: Sequence[Visit], zone: ZoneInfo) -> dict[int, date]:
    """The day on which each of the visits that do not come was called off."""
    gone = [visit.pk for visit in visits if visit.state == Visit.State.CANCELLED]
    if not gone:
        return {}
    rows = Visit.history.filter(id__in=gone, state=Visit.State.CANCELLED).order_by("-history_date")
    return {row.id: row.history_date.astimezone(zone).date() for row in rows}


_ANSWERS = {
    Stands.COMING: winter_calls.Answer.YES,
    Stands.CAME: winter_calls.Answer.YES,
    Stands.LATER: winter_calls.Answer.LATER,
    Stands.NO_THANKS: winter_calls.Answer.NO_THANKS,
    Stands.CALLED_OFF: winter_calls.Answer.CALLED_OFF,
}


def _for_plan(one: Asked, zone: ZoneInfo) -> winter_calls.Invitation:
    """As the plan wants it. What is booked is in the book: it holds no hours a second time."""
    row = one.invitation
    comes = one.visit.planned_in.astimezone(zone).date() if one.visit else row.monday
    in_book = one.stands in (Stands.COMING, Stands.CAME)
    return winter_calls.Invitation(
        key=row.car_id,
        monday=monday_of(comes),
        asked_on=one.asked_on,
        hours=0.0 if in_book else row.hours,
        nights=0.0 if in_book else row.nights,
        chance=row.chance,
        answer=_ANSWERS.get(one.stands),
        answered_on=one.answered_on,
    )
