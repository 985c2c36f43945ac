"""Who may do what. The web's gate and every service ask here."""

from __future__ import annotations

from enum import StrEnum

from crm.models import Rank, User
from crm.services.errors import Refused


class Right(StrEnum):
    """A thing that not everybody may do."""

    LOOK = "look"
    CARS = "cars"
    RECORD = "record"
    OVERRIDE = "override"
    PEOPLE = "people"
    HAND_OVER = "hand_over"
    POST = "post"
    SHELF = "shelf"
    SETTINGS = "settings"


RIGHTS: dict[Rank, frozenset[Right]] = {
    Rank.BENCH: frozenset({Right.LOOK, Right.CARS, Right.RECORD}),
    Rank.LEAD: frozenset(
        {Right.LOOK, Right.CARS, Right.RECORD, Right.OVERRIDE, Right.HAND_OVER, Right.SHELF}
    ),
    Rank.DESK: frozenset({Right.LOOK, Right.CARS, Right.PEOPLE, Right.HAND_OVER, Right.POST}),
    Rank.MANAGER: frozenset(Right),
}


def may(by: User, right: Right) -> bool:
    """Whether this person may."""
    return by.is_active and right in RIGHTS[Rank(by.rank)]


def require(by: User | None, right: Right) -> None:
    """Raise Refused unless this person may. None is the program itself: an import, the demo, the scheduler."""
    if by is not None and not may(by, right):
        raise Refused(f"Your rank ({by.get_rank_display()}) may not do this. Ask the owner-manager.")
