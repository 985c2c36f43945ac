"""Every route of the application, and the address of each in the small studio of `world`."""

from __future__ import annotations

from collections.abc import Iterator

from django.urls import URLPattern, URLResolver, get_resolver, reverse

from crm.care.numbers import numbers_by_path
from tests.web.world import FIRST_WEEK, World


def all_routes() -> dict[str, URLPattern]:
    """Every route by its name."""
    return {pattern.name or str(pattern.pattern): pattern for pattern in _routes(get_resolver().url_patterns)}


def address(name: str, world: World) -> str:
    """The address of a route in that studio."""
    numbers = {
        ("message", "pk"): world.message,
        ("product", "pk"): world.product,
        ("life_new", "pk"): world.product,
        ("staff", "pk"): world.colleague,
        ("person", "pk"): world.keeper,
        ("contact", "pk"): world.keeper,
        ("contact", "contact"): world.contact,
        ("consent", "pk"): world.keeper,
        ("pause", "pk"): world.keeper,
        ("pause", "row"): world.pause,
        ("role_end", "pk"): world.role,
        ("plate_called_off", "pk"): world.car.plates.get(),
        ("layer_end", "pk"): world.layer,
        ("ending_take_back", "pk"): world.ending,
        ("event_take_back", "pk"): world.event,
        ("left_done", "pk"): world.left,
        ("visit_left_done", "left"): world.left,
        ("bay_take_back", "row"): world.step,
        ("sheet", "pk"): world.handed_over,
        ("winter", "pk"): world.winter.season,
        ("winter_invitation", "pk"): world.winter.invitation,
        ("winter_take_back", "pk"): world.winter.invitation,
    }
    rows = {key: row.pk for (start, key), row in numbers.items() if name.startswith(start)}
    words = {
        "ref": world.car.ref,
        "kind": "step",
        "monday": FIRST_WEEK.isoformat(),
        "path": next(iter(numbers_by_path())),
        "key": world.keeper.stop_key,
    }
    known: dict[str, object] = {"pk": world.visit.pk, **words, **rows}
    wanted = all_routes()[name].pattern.converters
    return reverse(name, kwargs={key: known[key] for key in wanted})


def _routes(patterns: list[URLPattern | URLResolver]) -> Iterator[URLPattern]:
    for pattern in patterns:
        if isinstance(pattern, URLResolver):
            yield from _routes(pattern.url_patterns)
        else:
            yield pattern
