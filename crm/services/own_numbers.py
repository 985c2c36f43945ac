"""The studio's own figures in place of the engine's defaults: one at a time, each with its reason."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from typing import Any

from django.db import transaction

from crm.care.numbers import Number, numbers_by_path, spoken_sentence, with_number, without_number
from crm.care.own_figures import sorted_out
from crm.care.tables import DEFAULTS, TablesError
from crm.models import Studio, User
from crm.services.errors import Refused
from crm.services.rights import Right, require
from crm.services.stale import mark_all_stale
from crm.services.studio_settings import locked_studio, store_studio
from crm.services.winter_round import follow_everywhere

BACK = "back to the default"
LONGEST_REASON = 100
Change = Callable[[Mapping[str, Any]], dict[str, Any]]


@transaction.atomic
def set_number(*, path: str, values: Sequence[float], because: str, by: User | None) -> int:
    """Put the studio's own figure in the place of a default. Returns how many cars' forecasts have to follow.

    `values` holds as many numbers as the default does. Raises Refused, on the field `values` with the sentence of
    the tables, or on `because` where there is no reason.
    """
    require(by, Right.SETTINGS)
    number = _number(path)
    because = " ".join(because.split())
    if not because:
        raise Refused("Say why: whoever looks at this figure next year wants to know.", field="because")
    if len(because) > LONGEST_REASON:
        raise Refused(f"Say it in {LONGEST_REASON} characters or fewer.", field="because")
    if len(values) != len(number.values):
        count = len(number.values)
        raise Refused(f"This figure has {count} number{'s' * (count > 1)}.", field="values")
    studio = locked_studio()
    return _lay(studio, lambda own: with_number(own, number, values), number, because, by)


@transaction.atomic
def put_back(*, path: str, by: User | None) -> int:
    """Let the default count again. Returns how many cars' forecasts have to follow."""
    require(by, Right.SETTINGS)
    number = _number(path)
    studio = locked_studio()
    return _lay(studio, lambda own: without_number(own, number), number, BACK, by)


def _lay(studio: Studio, change: Change, number: Number, because: str, by: User | None) -> int:
    """Write the change down. Own figures that this version has no place for are not in its way, and are kept."""
    overrides = change(studio.engine_overrides)
    if overrides == studio.engine_overrides:
        return 0
    used = sorted_out(studio.engine_overrides).used
    before = DEFAULTS.with_overrides(used)
    try:
        after = DEFAULTS.with_overrides(change(used))
    except TablesError as error:
        raise Refused(spoken_sentence(str(error), number), field="values") from error
    studio.engine_overrides = overrides
    store_studio(studio, by=by, because=because)
    if after.winter.figures != before.winter.figures:
        follow_everywhere()
    return mark_all_stale() if after.version != before.version else 0


def _number(path: str) -> Number:
    number = numbers_by_path().get(path)
    if number is None:
        raise Refused("There is no such figure.")
    return number
