"""Where one car stands in the winter round that is going."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime

from crm.care.winter_words import week_words
from crm.models import (
    Car,
    Studio,
    WinterInvitation,
    WinterLeftOut,
    WinterProposal,
    WinterRound,
    WinterSetAside,
)
from crm.selectors.winter_asked import Stands, asked_of
from crm.selectors.winter_lines import stands_words
from crm.selectors.winter_plan_state import going_rounds

_MAY_BE_ASKED_AGAIN = (Stands.NEVER_LEFT, Stands.LATER, Stands.CALLED_OFF)


@dataclass(frozen=True, slots=True)
class InRound:
    """A line of the car file: what it says, and where it leads."""

    words: str
    season: WinterRound
    invitation: WinterInvitation | None = None
    monday: date | None = None
    """The week for which it is to be asked."""

    @property
    def address(self) -> str:
        """That Monday as addresses have it."""
        return self.monday.isoformat() if self.monday else ""


def in_round(car: Car, *, studio: Studio, now: datetime) -> InRound | None:
    """How a car stands in a round that is going, in one query where none is, else in eight at most."""
    going = list(going_rounds().select_related("branch"))
    if not going:
        return None
    return _asked(car, going, studio, now) or _planned(car, going)


def _asked(car: Car, going: list[WinterRound], studio: Studio, now: datetime) -> InRound | None:
    rows = WinterInvitation.objects.filter(car=car, round__in=going).select_related(
        "round__branch", "message", "visit"
    )
    last = rows.order_by("asked_at", "pk").last()
    if last is None:
        return None
    asked = asked_of([last], now=now)[0]
    if asked.stands in _MAY_BE_ASKED_AGAIN and last.round.proposals.filter(car=car).exists():
        return None
    begin = f"asked on {asked.asked_on:%-d %B} for {week_words(last.monday)}"
    return InRound(f"{begin}: {stands_words(asked, studio.zone)}", last.round, invitation=last)


def _planned(car: Car, going: list[WinterRound]) -> InRound | None:
    proposal = WinterProposal.objects.filter(car=car, round__in=going).select_related("round__branch").first()
    if proposal is not None:
        return InRound(f"to be asked: {proposal.words}", proposal.round, monday=proposal.monday)
    for kind in (WinterSetAside, WinterLeftOut):
        row = kind.objects.filter(car=car, round__in=going).select_related("round__branch").first()
        if isinstance(row, WinterSetAside):
            return InRound(f"left out by the studio: {row.because}", row.round)
        if isinstance(row, WinterLeftOut):
            return InRound(f"not asked: {row.words}", row.round)
    return None
