"""Bars of the weeks: what adds up, what is cut off, what is left out."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as some

from crm.care.winter_bars import Part, Piece, Use, pieces, use_of

NUMBERS = some.floats(-10, 200, allow_nan=False)


def test_week_is_told_apart_into_what_is_taken_and_what_is_left() -> None:
    use = use_of(26, spoken=12, room=10.1, held=4, to_ask=6)
    assert (use.given, use.firm, use.held, use.spoken, use.to_ask) == (26, 8, 4, 12, 6)
    assert (use.free, use.kept) == pytest.approx((4.1, 3.9))


def test_overfull_week_has_no_room_and_nothing_kept_back() -> None:
    use = use_of(26, spoken=40, room=0, held=0, to_ask=0)
    assert (use.firm, use.free, use.kept) == (40, 0, 0)


def test_older_plan_than_the_hours_takes_no_more_than_there_is() -> None:
    """A week that was given ten hours less since it was planned."""
    assert use_of(6, spoken=4, room=9, held=9, to_ask=5) == Use(6, 0, 4, 2, 0, 0)


@given(NUMBERS, NUMBERS, NUMBERS, NUMBERS, NUMBERS)
def test_parts_are_never_negative_and_fill_the_week(
    hours: float, spoken: float, room: float, held: float, to_ask: float
) -> None:
    use = use_of(hours, spoken=spoken, room=room, held=held, to_ask=to_ask)
    parts = [use.of(part) for part in Part]
    assert min(parts) >= 0
    assert sum(parts) == pytest.approx(max(use.given, use.spoken))


def test_pieces_stand_on_each_other_and_parts_of_nothing_are_left_out() -> None:
    use = use_of(20, spoken=5, room=12, held=0, to_ask=4)
    assert pieces(use, most=20, length=100) == (
        Piece(Part.FIRM, 0, 25, 75),
        Piece(Part.TO_ASK, 25, 20, 55),
        Piece(Part.FREE, 45, 40, 15),
        Piece(Part.KEPT, 85, 15, 0),
    )


def test_what_is_beyond_the_bar_is_cut_off() -> None:
    use = use_of(20, spoken=60, room=0, held=30, to_ask=0)
    assert pieces(use, most=24, length=120) == (Piece(Part.FIRM, 0, 120, 0),)


def test_week_of_nothing_has_no_bar() -> None:
    assert pieces(use_of(0, spoken=0, room=0, held=0, to_ask=0), most=0, length=100) == ()
