"""What a product lasted on the studio's own cars, beside what the shelf holds it to do."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from datetime import date, datetime

from crm.care.course import Setting
from crm.care.lasted import CONFIDENCE, RoundFigures, differs, rounded
from crm.care.lasted_chart import LastedChart
from crm.care.learning import Learned, LearningError, learn
from crm.care.life import Life as LifeMonths
from crm.care.observed import Observation, Observations
from crm.care.seen import Ending, Watched, seen_of_layer
from crm.care.surfaces import Zone
from crm.care.terms import ProductClass
from crm.care.turnbull import NotSettled, Steps, turnbull
from crm.care.words import ZONE_NAMES
from crm.models import Car, Life, Product, Studio
from crm.selectors.coats import months_of
from crm.selectors.held import plates_on
from crm.selectors.shelf import MARK_WORDS, figures_words
from crm.selectors.studio import seasons_of, tables_of
from crm.selectors.watched import WatchedLayer, seen_cars, watched_layers

MOST_CARS = 2000
"""More move the figures by less than anybody rounds them, and take longer than anybody waits."""
MOST_SET_ASIDE = 20
"""So many findings that were set aside are told one by one."""


@dataclass(frozen=True)
class Stated:
    """What learning starts from: the months that somebody stated last, or the class's own."""

    months: LifeMonths
    whose: str

    @property
    def words(self) -> str:
        """The three figures, such as "4 / 6 / 9"."""
        return figures_words(self.months)


@dataclass(frozen=True)
class SetAside:
    """A finding that does not count, on which car, and why."""

    car: str
    plate: str
    laid_at: datetime
    where: str
    words: str


@dataclass(frozen=True)
class Evidence:
    """What was seen: layers, the cars they are on, their places by how they were found, and the last day of it."""

    layers: int
    cars: int
    whole: int
    finished: int
    between: int
    until: date

    @property
    def places(self) -> int:
        """Places of layers that tell something: parts of a car with a history of their own."""
        return self.whole + self.finished + self.between

    @property
    def words(self) -> str:
        """Why the figures are what they are, for the record."""
        layers, cars = _count(self.layers, "layer"), _count(self.cars, "car")
        return f"learned from {layers} on {cars}, graded until {self.until:%-d %b %Y}"

    @property
    def key(self) -> str:
        """The same in short: while it is the same, nothing was seen since."""
        counts = (self.layers, self.cars, self.whole, self.finished, self.between)
        return "-".join(map(str, (*counts, self.until.toordinal())))


@dataclass(frozen=True)
class Figure:
    """One of the three figures: by the shelf's law, as learned, and the two between which that lies."""

    words: str
    shelf: float
    learned: float
    low: float
    high: float


@dataclass(frozen=True)
class Lasted:
    """Everything that the page of a product's life shows. `learned` is None where nothing was seen yet."""

    stated: Stated | None
    evidence: Evidence | None
    learned: Learned | None
    chart: LastedChart | None
    set_aside: tuple[SetAside, ...]
    more_set_aside: int
    covered: int
    shared: int
    enough: bool
    """Whether there are more cars than are read: the `MOST_CARS` taken on last tell enough."""

    @property
    def figures(self) -> tuple[Figure, ...]:
        """The three figures, the youngest first."""
        if self.learned is None or self.stated is None:
            return ()
        shelf, bounds = self.stated.months.weibull.window, self.learned.between(CONFIDENCE)
        return tuple(
            Figure(words, *months, *pair)
            for words, months, pair in zip(
                _FIGURES, zip(shelf, self.learned.window, strict=True), bounds, strict=True
            )
        )

    @property
    def half(self) -> Figure | None:
        """The figure by which it is said whether the cars speak against the shelf: when half are gone."""
        return self.figures[1] if self.figures else None

    @property
    def nothing_looked_at(self) -> bool:
        """Whether no grade after decontamination was about this product at all."""
        return not (self.learned or self.set_aside or self.covered or self.shared)

    @property
    def proposal(self) -> RoundFigures | None:
        """The learned figures as one would write them down."""
        return rounded(self.learned.law) if self.learned else None

    @property
    def differs(self) -> bool:
        """Whether what was seen speaks against the shelf."""
        return bool(self.learned and self.stated and differs(self.learned, self.stated.months))


_FIGURES = ("One in ten gone by", "Half gone by", "Nine in ten gone by")


def lasted(product: Product, studio: Studio, *, today: date) -> Lasted:
    """What was seen of a product's layers, and what follows from it.

    Learning starts from what was stated, never from figures that were learned: the same cars would count twice.
    """
    stated = stated_life(product, studio)
    tally = _Tally(Setting(seasons_of(studio), tables_of(studio)))
    cars = seen_cars(product, most=MOST_CARS + 1) if stated else []
    for layer in watched_layers(product, studio, cars[:MOST_CARS]):
        tally.add(layer)
    learned, steps = _learned(stated, tally.rows)
    chart = LastedChart(stated.months.weibull, learned.law, steps) if stated and learned else None
    return Lasted(
        stated=stated,
        evidence=tally.evidence if learned else None,
        learned=learned,
        chart=chart,
        set_aside=tuple(_with_plates(tally.set_aside[:MOST_SET_ASIDE], today)),
        more_set_aside=max(len(tally.set_aside) - MOST_SET_ASIDE, 0),
        covered=tally.covered,
        shared=tally.shared,
        enough=len(cars) > MOST_CARS,
    )


def stated_life(product: Product, studio: Studio) -> Stated | None:
    """The newest months that a person stated, or those of the class; None where the class has no forecast."""
    entry = tables_of(studio).lives[ProductClass(product.product_class)]
    if entry.life is None:
        return None
    newest = product.lives.filter(source=Life.Source.STATED).order_by("-since", "-pk").first()
    months = months_of(newest) if newest else None
    if newest is None or months is None:
        return Stated(entry.life, f"the class's figures, {MARK_WORDS[entry.mark]}")
    return Stated(months, f"stated on {newest.since:%-d %B %Y}")


class _Tally:
    """What is gathered layer by layer."""

    def __init__(self, setting: Setting) -> None:
        self._setting = setting
        self._cars: set[int] = set()
        self._layers = 0
        self._until = date.min
        self.rows: list[Observation] = []
        self.set_aside: list[tuple[Car, datetime, Zone, str]] = []
        self.covered = self.shared = 0

    def add(self, layer: WatchedLayer) -> None:
        """Count what one layer tells."""
        self.covered += layer.covered
        self.shared += layer.shared
        found = seen_of_layer(layer.places, self._setting)
        for place, seen in zip(layer.places, found, strict=True):
            for each in seen.contradictions:
                self.set_aside.append((layer.car, layer.laid_at, place.case.coat.zone, each.words))
            if seen.observation:
                self.rows.append(seen.observation)
                self._until = max(self._until, *_days_of(place))
        if any(seen.observation for seen in found):
            self._layers += 1
            self._cars.add(layer.car.pk)

    @property
    def evidence(self) -> Evidence:
        """The counts."""
        counts = Observations.of(self.rows).counts
        return Evidence(
            layers=self._layers,
            cars=len(self._cars),
            whole=counts.alive,
            finished=counts.finished,
            between=counts.between + counts.exact,
            until=self._until,
        )


def _days_of(place: Watched) -> list[date]:
    """The days on which somebody looked, or ended it as worn."""
    worn = [place.end.on] if place.end and place.end.how is Ending.WORN else []
    return [look.on for look in place.looks] + worn


def _learned(stated: Stated | None, rows: list[Observation]) -> tuple[Learned | None, Steps]:
    """The learned law and the step curve; nothing where nothing was seen, or where it settles on no law."""
    nothing = Steps((), 0.0, 0.0)
    if stated is None or not rows:
        return None, nothing
    observations = Observations.of(rows)
    try:
        learned = learn(stated.months, observations)
    except LearningError:
        return None, nothing
    try:
        return learned, turnbull(observations)
    except NotSettled:
        return learned, nothing


def _with_plates(found: Iterable[tuple[Car, datetime, Zone, str]], today: date) -> Iterator[SetAside]:
    rows = list(found)
    plates = dict(plates_on(today).filter(car__in={car.pk for car, *_ in rows}).values_list("car", "mark"))
    for car, laid_at, zone, words in rows:
        yield SetAside(car.ref, plates.get(car.pk, ""), laid_at, ZONE_NAMES[zone], words)


def _count(number: int, what: str) -> str:
    return f"{number} {what}{'' if number == 1 else 's'}"
