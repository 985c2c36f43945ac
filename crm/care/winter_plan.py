"""The winter round of one branch: whom to ask into which week, with a reason for every car.

Hours and nights. A week has hands-on hours and bay nights. The reserve (15 %) is kept back of both; what is booked
already, what was promised by a yes, and what open invitations are expected to take go off the rest; that is the
room of the week. Nobody is asked into a week that is more than 85 % spoken for: with the reserve as shipped that
is the same line seen from the other side, for the room is then used up. The two are separate figures, so that a
studio that lowers its reserve still does not ask into a week that is nearly full.

Plans are made again each week from what was answered: hand over the invitations so far, and the same planning
follows. A yes holds its hours whole, an open one by its chance, a lapsed one gives them back.

Who was promised an inspection this season comes first, as far as there is room; then the worth decides.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import replace
from datetime import date, timedelta
from typing import NamedTuple

import numpy as np

from crm.care.months import monday_of
from crm.care.seasons import Season
from crm.care.winter_calls import Invitation, Pending, Skipped, Why, out_of_season, pending, refusal
from crm.care.winter_car import Candidate, Proposal, proposal_for
from crm.care.winter_figures import WINTER, WinterFigures
from crm.care.winter_problem import OUT, Choice, Problem
from crm.care.winter_round import Call, Left, Plan, PlanError, Round, Waiting, Week, WeekUse
from crm.care.winter_solve import solve
from crm.care.winter_words import (
    call_words,
    cover_words,
    no_room_words,
    promise_words,
    salt_words,
    week_words,
)
from crm.care.winter_worth import Worth, worth_of

_NOISE = 1e-9


class Wanted(NamedTuple):
    """A car that is worth asking, what it would come for, and how likely it comes."""

    car: Candidate
    proposal: Proposal
    chance: float
    worth: Worth


def round_mondays(salt: Season, on: date, figures: WinterFigures = WINTER) -> tuple[date, ...]:
    """The Mondays of the round whose salted season runs on that day or comes next."""
    opening, _ = salt.current_or_next(on)
    first = monday_of(opening) - timedelta(weeks=figures.weeks_before_salt)
    return tuple(first + timedelta(weeks=place) for place in range(figures.weeks))


def invitations_for(
    free_hours: float, held_hours: float, unanswered: int, *, hours_a_car: float, chance: float
) -> int:
    """The rule of thumb: how many more to ask into one week, so that the answers likely fill it."""
    return max(0, round((free_hours - held_hours) / hours_a_car / chance) - unanswered)


class Prepared(NamedTuple):
    """A round before anything is chosen: claims on weeks by car, cars that are left, room, and what to choose from.

    The rows of `problem` are those of `wanted`, its columns the weeks.
    """

    claims: Mapping[int, Pending]
    left: Sequence[Left]
    rooms: Sequence[WeekUse]
    wanted: Sequence[Wanted]
    problem: Problem


def planned(
    season: Round,
    cars: Sequence[Candidate],
    invitations: Sequence[Invitation] = (),
    *,
    gap: float = 5e-3,
    seconds: float = 20.0,
) -> Plan:
    """The plan for a day, from the cars and from what became of the invitations so far.

    The order of cars and invitations does not matter. `gap` and `seconds` are those of `solve`. Raises PlanError
    where weeks or cars repeat, and ValueError where curves do not fit the season.
    """
    known = prepared(season, cars, invitations)
    return told(season, known, solve(known.problem, gap=gap, seconds=seconds))


def prepared(season: Round, cars: Sequence[Candidate], invitations: Sequence[Invitation] = ()) -> Prepared:
    """Who may be asked, what a visit of each is worth in every week, and what room there is."""
    cars = sorted(cars, key=lambda car: car.key)
    _require_once([car.key for car in cars], "car")
    _require_once([week.monday for week in season.weeks], "week")
    claims, left, free = _sorted_out(season, cars, invitations)
    rooms = _rooms(season, claims.values())
    wanted = _worth_asking(season, free, left)
    return Prepared(claims, left, rooms, wanted, _problem(wanted, rooms, season.figures))


def told(season: Round, known: Prepared, choice: Choice) -> Plan:
    """A choice as a plan, with a reason for every car."""
    calls = _calls(season, known.wanted, choice)
    left = [*known.left, *_without_room(season, known.wanted, choice, known.rooms)]
    claims = sorted(known.claims.items())
    return Plan(
        calls=tuple(sorted(calls, key=lambda call: (not call.promised, -call.worth, call.key))),
        waiting=tuple(Waiting(key, one.monday, one.held, one.words) for key, one in claims),
        left=tuple(sorted(left, key=lambda one: one.key)),
        weeks=tuple(_used(room, choice, place) for place, room in enumerate(known.rooms)),
        value=choice.value,
        bound=choice.bound,
        gap=choice.gap,
        how=choice.how,
    )


def _require_once(keys: Sequence[object], what: str) -> None:
    if len(set(keys)) != len(keys):
        raise PlanError(f"The same {what} is in the round twice.")


def _sorted_out(
    season: Round, cars: Sequence[Candidate], invitations: Sequence[Invitation]
) -> tuple[dict[int, Pending], list[Left], list[Candidate]]:
    """Cars with a claim on a week, cars that are left, and those that may be asked."""
    asked: dict[int, list[Invitation]] = defaultdict(list)
    for one in invitations:
        asked[one.key].append(one)
    claims: dict[int, Pending] = {}
    left: list[Left] = []
    free: list[Candidate] = []
    # Who said yes is coming, even where the car is no longer among those that may be asked.
    for key in sorted(set(asked) - {car.key for car in cars}):
        became = pending(asked[key], season.on, season.figures)
        if isinstance(became, Pending) and became.held:
            claims[key] = became
    for car in cars:
        became = pending(asked.get(car.key, ()), season.on, season.figures)
        if isinstance(became, Pending) and became.held:
            claims[car.key] = became
            continue
        # What the owner said goes before a cap on letters that the invitation itself has reached.
        skipped = became if isinstance(became, Skipped) else refusal(car, season.on, season.figures) or became
        if isinstance(skipped, Pending):
            claims[car.key] = skipped
        elif skipped is not None:
            left.append(Left(car.key, *skipped))
        else:
            free.append(car)
    return claims, left, free


def _rooms(season: Round, claims: Iterable[Pending]) -> list[WeekUse]:
    """The weeks with what is spoken for and what room is left."""
    hours: dict[date, float] = defaultdict(float)
    nights: dict[date, float] = defaultdict(float)
    for claim in claims:
        hours[claim.monday] += claim.hours
        nights[claim.monday] += claim.nights
    return [_room(season, week, hours[week.monday], nights[week.monday]) for week in season.weeks]


def _room(season: Round, week: Week, claimed_hours: float, claimed_nights: float) -> WeekUse:
    kept = 1 - season.figures.reserve
    hours, nights = week.booked_hours + claimed_hours, week.booked_nights + claimed_nights
    early_enough = week.monday >= season.on + timedelta(days=season.figures.notice_days)
    return WeekUse(
        monday=week.monday,
        spoken_hours=hours,
        spoken_nights=nights,
        room_hours=max(week.hours * kept - hours, 0.0),
        room_nights=max(week.nights * kept - nights, 0.0),
        asked_hours=0.0,
        asked_nights=0.0,
        open=early_enough and hours <= week.hours * season.figures.full + _NOISE,
    )


def _worth_asking(season: Round, cars: Sequence[Candidate], left: list[Left]) -> list[Wanted]:
    """The cars for which some week avoids enough; the others are added to those left."""
    figures, mondays = season.figures, [week.monday for week in season.weeks]
    found = []
    for car in cars:
        proposal = proposal_for(car, season.setting.tables, figures)
        worth = worth_of(
            car.cover,
            proposal.package,
            habit=car.habit,
            mondays=mondays,
            span=season.span,
            setting=season.setting,
            figures=figures,
        )
        no_use = out_of_season(worth.at_risk, float(worth.days.max(initial=0.0)), figures)
        if no_use is not None and car.promise_due is None:
            left.append(Left(car.key, *no_use))
        else:
            found.append(Wanted(car, proposal, figures.chance(car.last_seen, season.on), worth))
    return found


def _problem(wanted: Sequence[Wanted], rooms: Sequence[WeekUse], figures: WinterFigures) -> Problem:
    days = np.array([one.worth.days for one in wanted]).reshape(len(wanted), len(rooms))
    first = np.array([one.car.promise_due is not None for one in wanted], dtype=np.bool_)
    enough = (days >= figures.least_days) | first[:, None]
    return Problem(
        # A week that avoids too little is not proposed, even where a better one is full.
        worth=np.where(enough, np.maximum(days, 0.0), 0.0),
        chance=np.array([one.chance for one in wanted], dtype=np.float64),
        hours=np.array([one.proposal.package.hours for one in wanted], dtype=np.float64),
        nights=np.array([one.proposal.package.nights for one in wanted], dtype=np.float64),
        room_hours=np.array([room.room_hours for room in rooms], dtype=np.float64),
        room_nights=np.array([room.room_nights for room in rooms], dtype=np.float64),
        first=first,
        open=np.array([room.open for room in rooms], dtype=np.bool_),
    )


def _calls(season: Round, wanted: Sequence[Wanted], choice: Choice) -> list[Call]:
    return [
        _call(season, one, week)
        for one, week in zip(wanted, choice.weeks.tolist(), strict=True)
        if week != OUT
    ]


def _call(season: Round, one: Wanted, week: int) -> Call:
    package, monday = one.proposal.package, season.weeks[week].monday
    return Call(
        key=one.car.key,
        monday=monday,
        work=package.work,
        hours=package.hours,
        nights=package.nights,
        chance=one.chance,
        worth=max(float(one.worth.days[week]), 0.0),
        promised=one.car.promise_due is not None,
        words=call_words(because=_because(season, one, week), package=package, monday=monday),
    )


def _because(season: Round, one: Wanted, week: int) -> list[str]:
    """The promise, the place most at risk that the visit does something for, the salt, and why this work."""
    car, figures = one.car, season.figures
    found = [] if car.promise_due is None else [promise_words(car.promise_due, season.on)]
    risks = np.where(one.worth.by_cover[:, week] > 0, one.worth.risk_by_cover, 0.0)
    if risks.any():
        found.append(cover_words(car.cover[int(risks.argmax())], season.span, season.on))
    salted, km = (car.habit.salted_roads, car.habit.km_a_year) if car.habit else (None, None)
    return [*found, *salt_words(salted, km, figures), one.proposal.because]


def _without_room(
    season: Round, wanted: Sequence[Wanted], choice: Choice, rooms: Sequence[WeekUse]
) -> list[Left]:
    found = []
    chosen = choice.weeks.tolist()
    last: dict[int, float] = {}
    for one, week in zip(wanted, chosen, strict=True):
        if week != OUT and one.car.promise_due is None:
            last[week] = min(last.get(week, np.inf), _for_an_hour(one, week))
    for one, week in zip(wanted, chosen, strict=True):
        if week == OUT:
            found.append(Left(one.car.key, Why.NO_ROOM, _no_room(season, one, last, rooms)))
    return found


def _no_room(season: Round, one: Wanted, last: dict[int, float], rooms: Sequence[WeekUse]) -> str:
    places = [place for place, room in enumerate(rooms) if room.open]
    if not places:
        return "no room left: every week of the round that can still be asked for is full"
    best = max(places, key=lambda place: (one.worth.days[place], -place))
    week = week_words(season.weeks[best].monday)
    return no_room_words(week, one.proposal.package.hours, _for_an_hour(one, best), last.get(best))


def _for_an_hour(one: Wanted, week: int) -> float:
    return float(one.worth.days[week]) / one.proposal.package.hours


def _used(room: WeekUse, choice: Choice, place: int) -> WeekUse:
    return replace(room, asked_hours=float(choice.hours[place]), asked_nights=float(choice.nights[place]))
