"""Which layer a water grade reads: the one that lies on top there on that day, and what that says of each surface.

Water shows the top of a stack. What lies beneath another layer is not seen; and where a surface is found whole over
several layers, nobody can say which of them holds the water.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date, datetime, timedelta

from crm.care.coats import Look
from crm.care.seen import WHOLE, End, Ending
from crm.care.surfaces import NOTHING, Surface, Surfaces
from crm.care.terms import EndReason, Moment, WaterGrade

STILL_WHOLE = timedelta(days=31)
"""A layer found whole was still whole when work took it off within so many days (own choice)."""
_WORN = frozenset({EndReason.WORN, EndReason.FAILED})


@dataclass(frozen=True, slots=True)
class Ended:
    """Surfaces of a layer that stopped being protected by it."""

    at: datetime
    on: date
    surfaces: Surfaces
    why: EndReason


@dataclass(frozen=True, slots=True)
class Laid:
    """A layer as it was laid, and its endings in the order of time."""

    key: int
    at: datetime
    on: date
    surfaces: Surfaces
    endings: tuple[Ended, ...] = ()

    def live(self, at: datetime) -> Surfaces:
        """What it still protects at a moment; what ends at that very moment is still there to be looked at."""
        left = self.surfaces
        for ending in self.endings:
            if ending.at < at:
                left -= ending.surfaces
        return left


@dataclass(frozen=True, slots=True)
class Graded:
    """How water behaved on surfaces after decontamination."""

    at: datetime
    on: date
    surfaces: Surfaces
    water: WaterGrade


@dataclass(frozen=True, slots=True)
class Part:
    """Surfaces of a layer that have one history: the same looks, the same end (None: still on).

    `last` is the moment of the last finding: what was done to it later that day had no part in it. None: no finding.
    """

    surfaces: Surfaces
    looks: tuple[Look, ...]
    end: End | None
    last: datetime | None


@dataclass(slots=True)
class Story:
    """What grades tell of one layer: its looks by surface, and how many grades of it had to be passed over."""

    looks: dict[Surface, list[Look]] = field(default_factory=lambda: defaultdict(list))
    last: dict[Surface, datetime] = field(default_factory=dict)
    """The moment of the last look."""
    covered: int = 0
    """Grades that saw another layer on top, everywhere."""
    shared: int = 0
    """Grades that found it whole on top of another layer, everywhere."""


def stories(
    laid: Iterable[Laid], graded: Iterable[Graded], *, top_holds: bool = False
) -> Mapping[int, Story]:
    """What the grades of a car tell of each of its layers, by key.

    A grade reads the newest live layer that was laid before its day: one decontaminates and grades before one lays.
    `top_holds`: what is found whole is put down to the layer on top, whatever lies beneath.
    """
    stack = sorted(laid, key=lambda layer: (layer.at, layer.key), reverse=True)
    found = {layer.key: Story() for layer in stack}
    for grade in sorted(graded, key=lambda grade: grade.at):
        here = [(layer, layer.live(grade.at) & grade.surfaces) for layer in stack if layer.on < grade.on]
        _read(grade, [(layer, there) for layer, there in here if there], found, top_holds)
    return found


def _read(
    grade: Graded, here: Sequence[tuple[Laid, Surfaces]], found: Mapping[int, Story], top_holds: bool
) -> None:
    above = NOTHING
    look = Look(grade.on, grade.water, Moment.AFTER_DECON)
    for place, (layer, there) in enumerate(here):
        story, top = found[layer.key], there - above
        above |= there
        if not top:
            story.covered += 1
            continue
        if grade.water in WHOLE and not top_holds:
            for _, beneath in here[place + 1 :]:
                top -= beneath
        if not top:
            story.shared += 1
        for surface in top:
            story.looks[surface].append(look)
            story.last[surface] = grade.at


def looks_at(story: Story, surfaces: Surfaces) -> tuple[Look, ...]:
    """The looks at some surfaces of a layer in the order of time: of several on one day the worst."""
    worst: dict[date, Look] = {}
    for surface in surfaces:
        for look in story.looks.get(surface, ()):
            if look.on not in worst or look.water < worst[look.on].water:
                worst[look.on] = look
    return tuple(worst[on] for on in sorted(worst))


def parts_of(layer: Laid, among: Surfaces, story: Story) -> Iterator[Part]:
    """The surfaces of a layer among some (a zone), told apart by what happened to them."""
    alike: dict[tuple[tuple[Look, ...], End | None], list[Surface]] = defaultdict(list)
    moments: dict[tuple[tuple[Look, ...], End | None], list[datetime]] = defaultdict(list)
    for surface in layer.surfaces & among:
        looks = tuple(story.looks.get(surface, ()))
        ended = next((ending for ending in layer.endings if surface in ending.surfaces), None)
        end = _end_of(ended, looks) if ended else None
        moments[looks, end] += [story.last[surface]] if looks else []
        moments[looks, end] += [ended.at] if ended and ended.why in _WORN else []
        alike[looks, end].append(surface)
    for (looks, end), surfaces in alike.items():
        yield Part(Surfaces.of(surfaces), looks, end, max(moments[looks, end], default=None))


def _end_of(ended: Ended, looks: Sequence[Look]) -> End:
    """How a layer stood where it ended.

    Who polishes, strips or covers a layer seldom says whether any of it was left: then nobody knows, unless it was
    found whole shortly before.
    """
    if ended.why in _WORN:
        return End(ended.on, Ending.WORN)
    last = next((look for look in reversed(looks) if look.on <= ended.on), None)
    fresh = last is not None and last.water in WHOLE and ended.on - last.on <= STILL_WHOLE
    return End(ended.on, Ending.REMOVED if fresh else Ending.UNKNOWN)
