"""Builds the wear model's figures from nested entries and refuses those that cannot be meant."""

from __future__ import annotations

from collections.abc import Iterator
from enum import StrEnum
from typing import TypeVar

from crm.care.factors import ClassLife, Family, HardUse, Influence, Site, WearFactors, ZoneWear
from crm.care.figures import Figures, FiguresError, Triple, named
from crm.care.life import Life, LifeError
from crm.care.surfaces import Zone
from crm.care.terms import Air, Parking, Prep, Process, ProductClass, Wash

Answer = TypeVar("Answer", bound=StrEnum)

_FACTOR = (0.1, 5.0)
_LUMPS = (Process.TUNNEL_WASH, Process.TOUCH_FREE_WASH, Process.STRIP_WASH, Process.TAR_REMOVER, Process.CLAY)


def read_lives(figures: Figures) -> dict[ProductClass, ClassLife]:
    """The life of every class; each of them has to be there."""
    return {product_class: _class_life(figures.part(product_class)) for product_class in ProductClass}


def read_zones(figures: Figures) -> dict[Zone, ZoneWear]:
    """What every zone does; the second set of wheels has no figures of its own."""
    zones = (zone for zone in Zone if zone not in (Zone.WHEELS_TWO, Zone.BARRELS_TWO))
    return {zone: _zone_wear(figures.part(zone)) for zone in zones}


def read_elsewhere(figures: Figures) -> dict[Zone, dict[Family, Site]]:
    """Lives by family on zones that are not the home of a class."""
    return {
        named(zone, Zone, figures.path): {
            named(family, Family, part.path): _site(site) for family, site in part.parts()
        }
        for zone, part in figures.parts()
    }


def read_wear(figures: Figures) -> WearFactors:
    """The factors on rate and life."""
    clamp, parking, stored = figures.part("clamp"), figures.part("parking"), figures.part("stored")
    distance, exposure, air = figures.part("distance"), figures.part("exposure"), figures.part("air")
    slowest = clamp.number("low", 0.05, 1)
    limits, factors, distance_unknown = _distance(distance)
    return WearFactors(
        slowest=slowest,
        fastest=clamp.number("high", 1, 20),
        parking=_rates(parking, Parking),
        under_a_roof=frozenset(parking.names("under_a_roof", Parking)),
        distance_limits=limits,
        distance=factors,
        distance_unknown=distance_unknown,
        plan=figures.part("plan").number("factor", *_FACTOR),
        stored_parking=stored.number("parking", *_FACTOR),
        stored_distance=stored.number("distance", *_FACTOR),
        off_the_car_months=_rising(figures.part("off_the_car"), "months", 0, 120),
        salted_unknown=_falling(exposure, "salted_unknown", 0, 1),
        heat_unknown=_falling(exposure, "heat_unknown", 0, 1),
        wash=_by_family(figures, "wash", Wash),
        salt={family: figures.part("season").part(family).number("salt", 1, 5) for family in Family},
        hot={family: figures.part("season").part(family).number("hot", 1, 5) for family in Family},
        air=_qualities(air, Air),
        got_wet_early=air.number("got_wet_early", 0.05, 1),
        prep={family: _qualities(figures.part("prep").part(family), Prep) for family in Family},
        lumps={family: _lumps(figures.part("lumps").part(family)) for family in Family},
        ends=frozenset(figures.part("ends").names("processes", Process)),
        marks={name: part.mark() for name, part in _marked(figures)},
    )


def _class_life(figures: Figures) -> ClassLife:
    sites = figures.part("sites").parts() if "sites" in figures.entries else []
    return ClassLife(
        life=_life(figures) if "life" in figures.entries else None,
        mark=figures.mark(),
        family=named(figures.words("family"), Family, f"{figures.path}.family"),
        home=_home(figures),
        sites={named(zone, Zone, figures.path): _site(site) for zone, site in sites},
    )


def _home(figures: Figures) -> tuple[Zone, ...]:
    home = figures.names("home", Zone)
    if not home:
        raise FiguresError(f"{figures.path}.home has to name at least one zone.")
    return home


def _site(figures: Figures) -> Site:
    return Site(_life(figures), figures.mark())


def _life(figures: Figures) -> Life:
    try:
        return Life(*figures.triple("life", 0, 1e6))
    except LifeError as error:
        raise FiguresError(f"{figures.path}.life: {error}") from error


def _zone_wear(figures: Figures) -> ZoneWear:
    return ZoneWear(
        wear=figures.number("wear", *_FACTOR, default=1.0),
        salt=figures.number("salt", *_FACTOR, default=1.0),
        life_times=figures.number("life_times", *_FACTOR, default=1.0),
        because=figures.words("because", default=""),
        acts=frozenset(figures.names("acts", Influence)),
        hard_use=_hard_use(figures.part("hard_use")) if "hard_use" in figures.entries else None,
        mark=figures.mark(),
    )


def _hard_use(figures: Figures) -> HardUse:
    return HardUse(figures.words("spot"), figures.number("share", 0.05, 1))


def _distance(figures: Figures) -> tuple[tuple[float, ...], tuple[float, ...], Triple]:
    limits = figures.numbers("limits", 0, 1_000_000)
    factors = figures.numbers("factors", *_FACTOR)
    if list(limits) != sorted(set(limits)):
        raise FiguresError(f"{figures.path}.limits has to rise from one number to the next.")
    if len(factors) != len(limits) + 1:
        raise FiguresError(f"{figures.path}.factors need one more entry than there are limits.")
    unknown = _falling(figures, "unknown", *_FACTOR)
    _not_narrower(figures, unknown, factors)
    return limits, factors, unknown


def _rates(figures: Figures, answers: type[Answer]) -> dict[Answer | None, Triple]:
    """Factors on the rate by answer: equal numbers where it is known, falling ones where it is not."""
    known = {answer: figures.number(answer, *_FACTOR) for answer in answers}
    unknown = _falling(figures, "unknown", *_FACTOR)
    _not_narrower(figures, unknown, tuple(known.values()))
    return {None: unknown, **{answer: (factor, factor, factor) for answer, factor in known.items()}}


def _qualities(figures: Figures, answers: type[Answer]) -> dict[Answer | None, Triple]:
    """Factors on the life by answer: equal numbers where it is known, rising ones where it is not."""
    known = {answer: figures.number(answer, 0.05, 1) for answer in answers}
    unknown = _rising(figures, "unknown", 0.05, 1)
    if unknown[2] < max(known.values()):
        raise FiguresError(
            f"{figures.path}.unknown: the last number has to be at least {max(known.values()):g}, the best"
            " of the known answers, or not knowing would narrow the window."
        )
    return {None: unknown, **{answer: (factor, factor, factor) for answer, factor in known.items()}}


def _by_family(
    figures: Figures, key: str, answers: type[Answer]
) -> dict[Family, dict[Answer | None, Triple]]:
    return {family: _rates(figures.part(key).part(family), answers) for family in Family}


def _lumps(figures: Figures) -> dict[Process, float]:
    return {process: figures.number(process, 0, 1) for process in _LUMPS}


def _falling(figures: Figures, key: str, low: float, high: float) -> Triple:
    numbers = figures.triple(key, low, high)
    if not numbers[0] >= numbers[1] >= numbers[2]:
        raise FiguresError(
            f"{figures.path}.{key} runs from pessimistic over likely to kind: it must not rise."
        )
    return numbers


def _rising(figures: Figures, key: str, low: float, high: float) -> Triple:
    numbers = figures.triple(key, low, high)
    if not numbers[0] <= numbers[1] <= numbers[2]:
        raise FiguresError(f"{figures.path}.{key} runs from low over likely to high: it must not fall.")
    return numbers


def _not_narrower(figures: Figures, unknown: Triple, known: tuple[float, ...]) -> None:
    if unknown[2] > min(known):
        raise FiguresError(
            f"{figures.path}.unknown: the last number has to be at most {min(known):g}, the best of the known"
            " answers, or not knowing would narrow the window."
        )


def _marked(figures: Figures) -> Iterator[tuple[str, Figures]]:
    """Every table that carries a mark, under its dotted name."""
    for key, part in figures.parts():
        if "mark" in part.entries:
            yield key, part
        else:
            yield from ((f"{key}.{inner}", deeper) for inner, deeper in part.parts())
