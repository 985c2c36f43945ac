"""What a week of the winter round gives and what of it is taken, as pieces of a bar. Hours or nights alike."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum


class Part(StrEnum):
    """A piece of the bar, from its foot up."""

    FIRM = "firm"
    """Booked, or promised by a yes."""
    HELD = "held"
    """Held by invitations that are open, by their chances."""
    TO_ASK = "to_ask"
    FREE = "free"
    KEPT = "kept"
    """The reserve, as far as nothing has eaten into it."""


@dataclass(frozen=True, slots=True)
class Use:
    """What a week gives and how it stands, in hours or in nights. Nothing is below zero."""

    given: float
    firm: float
    held: float
    to_ask: float
    free: float
    kept: float

    @property
    def spoken(self) -> float:
        return self.firm + self.held

    def of(self, part: Part) -> float:
        """So much of the week is this part."""
        return {
            Part.FIRM: self.firm,
            Part.HELD: self.held,
            Part.TO_ASK: self.to_ask,
            Part.FREE: self.free,
            Part.KEPT: self.kept,
        }[part]


def use_of(given: float, *, spoken: float, room: float, held: float, to_ask: float) -> Use:
    """How a week stands. `held` is a part of what is spoken for, `to_ask` a part of the room.

    What was planned may be older than what is given and held now; each part takes no more than is there for it.
    """
    spoken, given = max(spoken, 0.0), max(given, 0.0)
    held = min(max(held, 0.0), spoken)
    room = min(max(room, 0.0), max(given - spoken, 0.0))
    to_ask = min(max(to_ask, 0.0), room)
    return Use(
        given=given,
        firm=spoken - held,
        held=held,
        to_ask=to_ask,
        free=room - to_ask,
        kept=max(given - spoken - room, 0.0),
    )


@dataclass(frozen=True, slots=True)
class Piece:
    """A piece of a bar that is so long in all. `far`: where it begins counted from the bar's other end."""

    part: Part
    at: float
    size: float
    far: float


def pieces(use: Use, *, most: float, length: float) -> tuple[Piece, ...]:
    """The bar of a week, `most` being what fills the whole length; what is beyond it is cut off.

    Parts of nothing are left out.
    """
    if most <= 0:
        return ()
    found, at = [], 0.0
    for part in Part:
        size = min(use.of(part) / most * length, length - at)
        if size > 0:
            found.append(Piece(part, round(at, 2), round(size, 2), round(length - at - size, 2)))
        at += size
    return tuple(found)
