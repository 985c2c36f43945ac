"""Looking again at the moment a message leaves: nothing is sent because it was once scheduled."""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Any

from crm.care.winter_figures import WinterFigures
from crm.models import Car, Contact, Forecast, Matter, Message, Studio, WinterInvitation
from crm.post.called_off import PUT_OFF
from crm.post.invite import against_invitation, bare_cars, facts_of, invitations_of
from crm.post.matters import against_matter, expected_back, facts_now
from crm.post.queue import newest_wash_from, wash_from
from crm.post.quiet import SendingHours
from crm.selectors.held import roles_on
from crm.selectors.letters import Standing, Windows, live_forecasts, standings
from crm.selectors.reach import Reach, letter_reach, note_reach
from crm.selectors.studio import tables_of
from crm.selectors.winter_asked import IS_ABOUT
from crm.selectors.winter_plan_state import cars_under_rounds

Kind, State = Message.Kind, Message.State

ROUND_DECIDES = "the winter round decides which cars are asked"
NOTHING_LEFT = "nothing that it was about is still true"
WORKED_OUT_SOON = timedelta(minutes=10)
"""A letter about a car whose forecast has to be worked out again waits so long and is looked at once more."""


@dataclass(frozen=True, slots=True)
class Go:
    """It may leave, to this address."""

    contact: Contact


@dataclass(frozen=True, slots=True)
class Later:
    """It may leave, but not yet."""

    at: datetime
    because: str


@dataclass(frozen=True, slots=True)
class Never:
    """It does not leave any more."""

    state: Message.State
    because: str


Verdict = Go | Later | Never


def verdict(message: Message, *, now: datetime, studio: Studio) -> Verdict:
    """Whether a message may leave at that moment. Matters that are no longer true are marked as dropped."""
    if now >= message.expires_at:
        return Never(State.MISSED, f"it was of use until {_moment(message.expires_at, studio)} only")
    reach = reach_of(message, now=now, studio=studio)
    if reach.contact is None:
        return Never(State.CANCELLED, reach.against)
    stopped = (
        _note_stopped(message, now, studio)
        if not message.is_letter
        else _letter_stopped(message, now, studio)
    )
    return stopped or _quiet(message, now, studio) or Go(reach.contact)


def reach_of(message: Message, *, now: datetime, studio: Studio) -> Reach:
    """The address that a message would go to now, or why there is none."""
    if not message.is_letter:
        return note_reach(message.person)
    reach = letter_reach([message.person], now=now, studio=studio, without=(message.pk,))
    return reach[message.person_id]


def _note_stopped(message: Message, now: datetime, studio: Studio) -> Later | Never | None:
    """A note is for whoever has to do with the car now. A wash note follows its clocks, too: they may have been
    corrected, or a newer layer may be setting.
    """
    if message.visit is None:
        return None
    against = _against_receiver(message, message.visit.car, now, studio)
    if against:
        return Never(State.CANCELLED, against)
    if message.kind != Kind.WASH_NOW:
        return None
    ends = wash_from(message.visit)
    if ends is None:
        return Never(State.CANCELLED, "the layers that had to set were taken off the record")
    later = newest_wash_from(message.visit.car, now)
    if later is not None and later > max(ends, now):
        return Never(State.CANCELLED, f"a newer layer is setting until {_moment(later, studio)}")
    if ends > now:
        at = SendingHours.of(studio).next_moment(ends)
        return Later(at, f"the no-wash time now ends {_moment(ends, studio)}")
    return None


def _against_receiver(message: Message, car: Car, now: datetime, studio: Studio) -> str:
    """Why a car is no longer this person's concern; empty where it is."""
    if car.status not in (car.Status.ACTIVE, car.Status.STORED):
        return f"the car is {car.get_status_display()}"
    parts = roles_on(now.astimezone(studio.zone).date()).filter(car=car, person=message.person_id)
    return "" if parts.exists() else "the car has passed to somebody else"


def _letter_stopped(message: Message, now: datetime, studio: Studio) -> Later | Never | None:
    """A letter says what is true when it leaves: what is not is dropped, and dates that have moved are told anew."""
    windows = Windows.on(studio, now)
    matters = list(message.matters.filter(dropped_because=""))
    cars = sorted({matter.car_id for matter in matters})
    where, forecasts = standings(cars, windows=windows), live_forecasts(cars)
    if any(standing.car.forecast_stale for standing in where.values()):
        return Later(now + WORKED_OUT_SOON, "the forecast of its car is being worked out again")
    invitations = invitations_of(matters)
    known = _Known(
        message.person_id,
        windows,
        invitations,
        bare_cars({row.car_id for row in invitations.values()}),
        cars_under_rounds([matter.car_id for matter in matters if _is_prompt(matter)], windows),
        tables_of(studio).winter,
    )
    dropped = []
    for matter in matters:
        standing = where[matter.car_id]
        against, matter.facts = _judged(matter, standing, forecasts.get(matter.car_id, []), known)
        if against:
            matter.dropped_because = against
            if against == expected_back(standing) and IS_ABOUT not in matter.facts:
                # Its key is free again: where nothing comes of the visit, planning may write about it anew.
                matter.key = f"{PUT_OFF}{matter.pk}"
            dropped.append(matter)
    Matter.objects.bulk_update(matters, ["dropped_because", "key", "facts"])
    if len(dropped) < len(matters):
        return None
    reasons = list(dict.fromkeys(message.matters.values_list("dropped_because", flat=True)))
    return Never(State.CANCELLED, "; ".join(reasons) or NOTHING_LEFT)


@dataclass(frozen=True, slots=True)
class _Known:
    """What a letter's matters are judged by."""

    person_id: int
    windows: Windows
    invitations: Mapping[int, WinterInvitation]
    bare: Collection[int]
    """Cars that were asked and on whose paint nothing lies."""
    under_rounds: Collection[int]
    """Cars for which a winter round decides who is asked."""
    figures: WinterFigures


def _judged(
    matter: Matter, standing: Standing, forecasts: Sequence[Forecast], known: _Known
) -> tuple[str, dict[str, Any]]:
    """Why a matter is no longer true, or nothing, and what it says by now."""
    person_id, windows = known.person_id, known.windows
    if IS_ABOUT in matter.facts:
        invitation = known.invitations.get(matter.facts[IS_ABOUT])
        against = against_invitation(
            invitation, standing, person_id=person_id, windows=windows, figures=known.figures
        )
        if against or invitation is None:
            return against, matter.facts
        return "", facts_of(invitation, forecasts, known.bare, windows)
    if _is_prompt(matter) and matter.car_id in known.under_rounds:
        return ROUND_DECIDES, matter.facts
    against = against_matter(matter, standing, forecasts, person_id=person_id, windows=windows)
    if against:
        return against, matter.facts
    return "", facts_now(matter, standing, forecasts, person_id=person_id, windows=windows)


def _is_prompt(matter: Matter) -> bool:
    """Whether it is a winter prompt that no round has asked for."""
    return matter.kind == Kind.WINTER and IS_ABOUT not in matter.facts


def _quiet(message: Message, now: datetime, studio: Studio) -> Later | None:
    at_once = not message.is_letter and message.at_once_until is not None and now <= message.at_once_until
    hours = SendingHours.of(studio)
    if at_once or hours.allow(now):
        return None
    return Later(hours.next_moment(now), "post leaves in sending hours")


def _moment(moment: datetime, studio: Studio) -> str:
    return f"{moment.astimezone(studio.zone):%-d %B %Y, %H:%M}"
