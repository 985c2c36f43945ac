"""Which winter rounds are going, whether the plan of one still holds, and for which cars a round decides."""

from __future__ import annotations

from collections.abc import Collection
from datetime import date

from django.db.models import F, OuterRef, Q, QuerySet, Subquery

from crm.models import Branch, Car, Visit, WinterRound
from crm.selectors.letters import Windows


def going_rounds() -> QuerySet[WinterRound]:
    """Rounds that may still ask somebody."""
    return WinterRound.objects.filter(closed_at__isnull=True).order_by("pk")


def round_of(branch: Branch, today: date) -> WinterRound | None:
    """The round of a branch that is going, or else that of the season that lies ahead or runs; None without one."""
    rounds = branch.winter_rounds.select_related("branch")
    going = rounds.filter(closed_at__isnull=True).first()
    return going or rounds.filter(salt_until__gte=today).first()


def plan_is_current(season: WinterRound, today: date) -> bool:
    """Whether the plan was made today and knows of every change."""
    return season.changes == season.planned_changes and season.planned_for == today


def rounds_to_plan(today: date) -> QuerySet[WinterRound]:
    """Rounds whose plan no longer holds; those that wait longest first."""
    behind = ~Q(changes=F("planned_changes")) | Q(planned_for__isnull=True) | ~Q(planned_for=today)
    return going_rounds().filter(behind).order_by(F("planned_at").asc(nulls_first=True), "pk")


def last_at(branches: Collection[int], cars: QuerySet[Car]) -> QuerySet[Car]:
    """Those of these cars that one of the branches handed over last."""
    last = Visit.objects.filter(car=OuterRef("pk"), state=Visit.State.HANDED_OVER)
    newest = last.order_by("-handed_over_at", "-pk")
    return cars.annotate(at=Subquery(newest.values("branch")[:1])).filter(at__in=branches)


def cars_under_rounds(cars: Collection[int], windows: Windows) -> set[int]:
    """Those of these cars whose branch has a round for the coming or present salted season, going or closed.

    Whether they are asked in before winter is for that round to say.
    """
    if not cars:
        return set()
    rounds = WinterRound.objects.filter(salt_from__lte=windows.salt_end, salt_until__gte=windows.salt_start)
    branches = list(rounds.values_list("branch", flat=True))
    if not branches:
        return set()
    return set(last_at(branches, Car.objects.filter(pk__in=cars)).values_list("pk", flat=True))
