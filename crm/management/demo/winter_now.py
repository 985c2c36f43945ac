"""How the winter round stands, for reading: what became of those who were asked, who is next, who is left out."""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass
from datetime import date, datetime

from crm.care.winter_calls import Why
from crm.care.winter_why import WHY_NAMES
from crm.management.demo.who_hears import Asked, Kept
from crm.selectors.held import keepers_on, plates_on
from crm.selectors.studio import local_day, the_studio
from crm.selectors.winter_asked import Stands
from crm.selectors.winter_facts import asked_so_far
from crm.selectors.winter_plan_state import going_rounds


@dataclass(frozen=True)
class WinterNow:
    """A round that is going: its season, how its invitations stand, the next week with cars to ask, and the rest."""

    season: str
    answers: Counter[Stands]
    monday: date | None
    to_ask: tuple[Asked, ...]
    left_out: tuple[Kept, ...]
    spares: float
    most: float
    """Unprotected salted days that the plan likely spares, and the most that any plan could."""


def winter_now(now: datetime) -> WinterNow | None:
    """The first round that is going; None where none is."""
    season = going_rounds().first()
    if season is None:
        return None
    today = local_day(the_studio(), now)
    plates = dict(plates_on(today).values_list("car_id", "mark"))
    keepers = dict(keepers_on(today).values_list("car_id", "person__name"))
    monday = season.proposals.order_by("monday").values_list("monday", flat=True).first()

    def of(car: int) -> tuple[str, str]:
        return keepers.get(car, "nobody"), plates.get(car, "no plate")

    return WinterNow(
        season=season.season_name,
        answers=Counter(one.stands for one in asked_so_far(season, now=now)),
        monday=monday,
        to_ask=tuple(
            Asked(*of(row.car_id), row.monday, row.words)
            for row in season.proposals.all()
            if row.monday == monday
        ),
        left_out=tuple(Kept(*of(row.car_id), WHY_NAMES[Why(row.why)]) for row in season.left_out.all()),
        spares=season.value or 0.0,
        most=season.bound or 0.0,
    )
