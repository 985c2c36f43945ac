"""Which winter rounds are going, and whether the plan of one still holds."""

from __future__ import annotations

from datetime import date

from django.db.models import F, Q, QuerySet

from crm.models import Branch, WinterRound


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
