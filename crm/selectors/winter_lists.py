"""The two long lists of a winter round: the cars that are not asked, and every invitation."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime
from enum import StrEnum

from django.db.models import Case, Count, IntegerField, QuerySet, Value, When

from crm.care.winter_calls import Why
from crm.care.winter_why import GONE, NOT_IN_PERSON, WHY_NAMES
from crm.models import WinterInvitation, WinterLeftOut, WinterRound
from crm.selectors.winter_asked import Asked, Stands, asked_of
from crm.selectors.winter_lines import ShownCar, shown_cars

_PLACES = {why.value: place for place, why in enumerate(WHY_NAMES)}


@dataclass(frozen=True, slots=True)
class Reason:
    """One reason, and how many cars it holds back."""

    why: Why
    words: str
    cars: int


@dataclass(frozen=True, slots=True)
class LeftLine:
    """A car that is not asked."""

    car: ShownCar
    why: Why
    reason: str
    words: str

    @property
    def by_hand(self) -> bool:
        """Whether somebody of the studio left it out."""
        return self.why is Why.SET_ASIDE

    @property
    def may_be_asked(self) -> bool:
        """Whether somebody can still ask in person."""
        return self.why not in NOT_IN_PERSON

    @property
    def may_be_left_out(self) -> bool:
        return self.why not in GONE and not self.by_hand


def reasons(season: WinterRound) -> list[Reason]:
    """The reasons that occur, in the order in which they are read."""
    rows = season.left_out.order_by().values_list("why").annotate(cars=Count("pk"))
    found = dict(rows)
    return [Reason(why, words, found[why]) for why, words in WHY_NAMES.items() if why in found]


def left_out(season: WinterRound, why: Why | None) -> QuerySet[WinterLeftOut]:
    """The cars that are not asked, by reason; for one reason where one is named."""
    rows = season.left_out.select_related("car")
    if why is not None:
        rows = rows.filter(why=why)
    order = Case(
        *(When(why=name, then=Value(place)) for name, place in _PLACES.items()),
        default=Value(len(_PLACES)),
        output_field=IntegerField(),
    )
    return rows.order_by(order, "pk")


def left_lines(rows: Sequence[WinterLeftOut], today: date) -> list[LeftLine]:
    """A page of them, in two queries."""
    cars = shown_cars((row.car for row in rows), today)
    return [LeftLine(cars[row.car_id], Why(row.why), WHY_NAMES[Why(row.why)], row.words) for row in rows]


class Group(StrEnum):
    """Invitations by what has become of them."""

    WAITS = "waits"
    COMING = "coming"
    LATER = "later"
    NO_THANKS = "no_thanks"
    NO_ANSWER = "no_answer"
    NEVER_LEFT = "never_left"


GROUP_NAMES = {
    Group.WAITS: "waits for an answer",
    Group.NEVER_LEFT: "letter did not leave",
    Group.COMING: "coming, or came",
    Group.LATER: "later, or called off",
    Group.NO_THANKS: "no thanks",
    Group.NO_ANSWER: "no answer came",
}
_GROUP_OF = {
    Stands.TO_LEAVE: Group.WAITS,
    Stands.OPEN: Group.WAITS,
    Stands.NEVER_LEFT: Group.NEVER_LEFT,
    Stands.COMING: Group.COMING,
    Stands.CAME: Group.COMING,
    Stands.CALLED_OFF: Group.LATER,
    Stands.LATER: Group.LATER,
    Stands.NO_THANKS: Group.NO_THANKS,
    Stands.LAPSED: Group.NO_ANSWER,
}
_ORDER = tuple(GROUP_NAMES)


def everybody_asked(season: WinterRound, *, now: datetime) -> list[Asked]:
    """Every invitation of a round: those that wait first, the oldest of them first; three queries."""
    rows = WinterInvitation.objects.filter(round=season).select_related("car", "message", "visit")
    return sorted(asked_of(list(rows), now=now), key=_place)


def _place(one: Asked) -> tuple[int, int, int]:
    group = _ORDER.index(_GROUP_OF[one.stands])
    oldest_first = one.asked_on.toordinal()
    return group, oldest_first if group == 0 else -oldest_first, one.invitation.pk


def grouped(asked: Sequence[Asked]) -> Counter[Group]:
    """How many there are of each."""
    return Counter(_GROUP_OF[one.stands] for one in asked)


def of_group(asked: Sequence[Asked], group: Group | None) -> list[Asked]:
    """Those of a group; all of them without one."""
    return [one for one in asked if group is None or _GROUP_OF[one.stands] is group]
