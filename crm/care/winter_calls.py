"""Who is not asked this winter, and why, in words; and what became of those who were asked already."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from enum import StrEnum
from typing import NamedTuple

from crm.care.winter_car import Candidate, Owner, Whereabouts
from crm.care.winter_figures import WINTER, WinterFigures
from crm.care.winter_words import day_words, days_words, week_words


class Why(StrEnum):
    """Why a car is not in the plan."""

    DIED = "died"
    NO_OWNER = "no_owner"
    SOLD = "sold"
    SCRAPPED = "scrapped"
    STOLEN = "stolen"
    COMPLAINT = "complaint"
    PAUSED = "paused"
    OPTED_OUT = "opted_out"
    NOT_REACHABLE = "not_reachable"
    STORED = "stored"
    SET_ASIDE = "set_aside"
    FORGOTTEN = "forgotten"
    BOOKED = "booked"
    SEEN = "seen"
    UNPAID = "unpaid"
    TOO_FAR = "too_far"
    NO_THANKS = "no_thanks"
    LATER = "later"
    NO_ANSWER = "no_answer"
    NO_SALT = "no_salt"
    HOLDS = "holds"
    LITTLE_USE = "little_use"
    NO_ROOM = "no_room"


class Skipped(NamedTuple):
    """One reason, and its sentence."""

    why: Why
    words: str


class Answer(StrEnum):
    """What an owner said to an invitation. Called off: yes, and then the visit was called off."""

    YES = "yes"
    LATER = "later"
    NO_THANKS = "no_thanks"
    CALLED_OFF = "called_off"


@dataclass(frozen=True, slots=True, kw_only=True)
class Invitation:
    """One that was sent: for which car and week (its Monday), what it would take, and what came back.

    `chance` is the one it was planned with.
    """

    key: int
    monday: date
    asked_on: date
    hours: float
    nights: float
    chance: float
    answer: Answer | None = None
    answered_on: date | None = None


class Pending(NamedTuple):
    """Hours and nights of a week that an invitation speaks for: all of them after a yes, else by its chance."""

    monday: date
    hours: float
    nights: float
    held: bool
    words: str


def refusal(car: Candidate, on: date, figures: WinterFigures = WINTER) -> Skipped | None:
    """The reason for which a car is not asked on that day, whatever it would be worth; None where it may be."""
    return _owner_refusal(car.owner) or _car_refusal(car, on, figures)


def _owner_refusal(owner: Owner | None) -> Skipped | None:
    if owner is None:
        return Skipped(Why.NO_OWNER, "nobody is written down as its owner")
    if owner.died:
        return Skipped(Why.DIED, "its owner has died: nobody is written to")
    if owner.complaint_since is not None:
        return Skipped(Why.COMPLAINT, f"a complaint is open since {day_words(owner.complaint_since)}")
    if owner.paused_since is not None:
        return Skipped(Why.PAUSED, f"letters to its owner are paused since {day_words(owner.paused_since)}")
    if owner.opted_out:
        return Skipped(Why.OPTED_OUT, "its owner wants no invitations")
    if not owner.reachable:
        because = owner.because or "there is no address at which its owner may be written to"
        return Skipped(Why.NOT_REACHABLE, because)
    if owner.unpaid:
        return Skipped(Why.UNPAID, "a bill is still to be settled")
    return Skipped(Why.TOO_FAR, "its owner lives too far away") if owner.too_far else None


_GONE = {
    Whereabouts.SOLD: Skipped(Why.SOLD, "it has been sold"),
    Whereabouts.SCRAPPED: Skipped(Why.SCRAPPED, "it has been scrapped or has left the country"),
    Whereabouts.STOLEN: Skipped(Why.STOLEN, "it was stolen"),
    Whereabouts.STORED: Skipped(Why.STORED, "it is in storage"),
}


def _car_refusal(car: Candidate, on: date, figures: WinterFigures) -> Skipped | None:
    if car.whereabouts in _GONE:
        return _GONE[car.whereabouts]
    if car.habit is not None and car.habit.stored:
        return _GONE[Whereabouts.STORED]
    if car.set_aside:
        return Skipped(Why.SET_ASIDE, f"left out by the studio: {car.set_aside}")
    if car.last_seen is not None and car.last_seen < on - timedelta(days=figures.forgotten_days):
        return Skipped(Why.FORGOTTEN, f"it was last here on {day_words(car.last_seen)}")
    if car.booked_on is not None and on <= car.booked_on <= on + timedelta(days=figures.booked_days):
        return Skipped(Why.BOOKED, f"it is booked in for {day_words(car.booked_on)} already")
    if car.last_seen is not None and car.last_seen > on - timedelta(days=figures.seen_days):
        return Skipped(Why.SEEN, f"it was here on {day_words(car.last_seen)}")
    return None


def pending(
    asked: Sequence[Invitation], on: date, figures: WinterFigures = WINTER
) -> Pending | Skipped | None:
    """What the invitations of one car mean on a day: a claim on a week, a reason to leave it, or nothing.

    Yes holds the week. Without an answer the claim stands until the invitation lapses; then, and after no thanks,
    the car is left alone for the season. Later, and a visit that was called off, is asked again once, from four
    weeks on.
    """
    if not asked:
        return None
    last = max(asked, key=lambda one: (one.asked_on, one.monday))
    week = week_words(last.monday)
    if last.answer is Answer.YES:
        return Pending(last.monday, last.hours, last.nights, True, f"has said yes to {week}")
    if last.answer is Answer.NO_THANKS:
        return Skipped(Why.NO_THANKS, f"said no thanks{_when(last)}: not asked again this season")
    if last.answer is not None:
        return _later(last, len(asked), on, figures)
    lapses = last.asked_on + timedelta(days=figures.lapse_days)
    asked_on = day_words(last.asked_on)
    if on >= lapses:
        return Skipped(Why.NO_ANSWER, f"asked on {asked_on} without an answer: not asked again this season")
    words = f"asked on {asked_on} for {week}; the answer is open until {day_words(lapses)}"
    return Pending(last.monday, last.chance * last.hours, last.chance * last.nights, False, words)


def _later(last: Invitation, times: int, on: date, figures: WinterFigures) -> Skipped | None:
    called_off = last.answer is Answer.CALLED_OFF
    if times > 1:
        said = "its visit was called off" if called_off else "said later a second time"
        return Skipped(Why.LATER, f"{said}{_when(last)}: not asked again this season")
    said = "its visit was called off" if called_off else "said later"
    again = (last.answered_on or last.asked_on) + timedelta(days=figures.ask_again_days)
    if on < again:
        return Skipped(Why.LATER, f"{said}{_when(last)}: to be asked again from {day_words(again)}")
    return None


def _when(last: Invitation) -> str:
    return f" on {day_words(last.answered_on)}" if last.answered_on else ""


def out_of_season(at_risk: float, best: float, figures: WinterFigures = WINTER) -> Skipped | None:
    """Why a visit is not worth proposing: nothing is at risk, or no week avoids enough of it. Days as in `Worth`."""
    if at_risk <= 0:
        return Skipped(Why.NO_SALT, "it is not driven on salted roads")
    if at_risk < figures.least_days:
        return Skipped(Why.HOLDS, "what is on it likely holds until the salted months are over")
    if best < figures.least_days:
        words = f"of {days_words(at_risk)} a visit in any of these weeks would avoid {best:.0f}"
        return Skipped(Why.LITTLE_USE, words)
    return None
