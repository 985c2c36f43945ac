"""How long a product lasts: the three elicited numbers, the Weibull law through them, and the life by place.

Lives are in reference months of 30.4375 days: months of a daily car, kept outdoors in a wet temperate
climate, about 12,000 km a year, washed by hand, outside winter.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache
from math import exp, isfinite, log
from typing import TYPE_CHECKING

from crm.care.surfaces import Zone
from crm.care.terms import Mark, ProductClass

if TYPE_CHECKING:
    from crm.care.tables import Tables

LONGEST_LIFE = 600.0
STEEPEST_SHAPE = 200.0
"""Three nearly equal numbers would ask for an endless shape; at 200 the window is within about 1.5 %."""

SHARES_WORN = (0.10, 0.50, 0.90)
"""What the low, the likely and the high figure of a life stand for."""
_X = tuple(log(-log(1 - share)) for share in SHARES_WORN)
_X_MEAN = sum(_X) / 3
_X_SPREAD = sum((x - _X_MEAN) ** 2 for x in _X)


class LifeError(ValueError):
    """Three numbers that cannot be a life; the message says what to change."""


@dataclass(frozen=True, slots=True)
class Life:
    """A life as people state it, in reference months: one in ten gone, half gone, nine in ten gone."""

    low: float
    likely: float
    high: float

    def __post_init__(self) -> None:
        if not all(isfinite(months) for months in (self.low, self.likely, self.high)):
            raise LifeError("A life is three numbers of months.")
        if self.low <= 0:
            raise LifeError("The low figure of a life has to be more than nothing.")
        if not self.low <= self.likely <= self.high:
            raise LifeError("A life runs from low over likely to high: put the three figures in that order.")
        if self.high > LONGEST_LIFE:
            raise LifeError("Nothing laid on a car lasts fifty years: give the high figure in months.")

    @property
    def weibull(self) -> Weibull:
        """The law fitted to the three numbers."""
        return _fitted(self)

    def scaled(self, by: float) -> Life:
        """The life of the same layer where everything lasts `by` times as long, up to `LONGEST_LIFE`."""
        return Life(*(min(months * by, LONGEST_LIFE) for months in (self.low, self.likely, self.high)))


@dataclass(frozen=True, slots=True)
class Weibull:
    """A Weibull law of lives: S(t) = exp(-(t / scale) ** shape), t and scale in reference months."""

    shape: float
    scale: float

    @classmethod
    def through(cls, life: Life) -> Weibull:
        """The law nearest to a stated life, in closed form.

        The stated numbers are read as the 10th, 50th and 90th percentiles. ln t is linear in ln(-ln(1 - p))
        with slope 1 / shape and intercept ln scale, so the ordinary least-squares line gives both.
        """
        y = (log(life.low), log(life.likely), log(life.high))
        y_mean = sum(y) / 3
        slope = sum((x - _X_MEAN) * value for x, value in zip(_X, y, strict=True)) / _X_SPREAD
        slope = max(slope, 1 / STEEPEST_SHAPE)
        return cls(shape=1 / slope, scale=exp(y_mean - slope * _X_MEAN))

    def quantile(self, share: float) -> float:
        """Reference months by which this share (0 to 1, without the ends) of such layers is worn."""
        if not 0 < share < 1:
            raise LifeError("A share of layers lies between 0 and 1.")
        return self.scale * exp(log(-log(1 - share)) / self.shape)

    def survival(self, months: float) -> float:
        """Share of such layers still there after so many reference months of wear."""
        return exp(-exp(self.shape * log(months / self.scale))) if months > 0 else 1.0

    @property
    def window(self) -> tuple[float, float, float]:
        """The 10th, 50th and 90th percentiles, in reference months."""
        low, likely, high = (self.quantile(share) for share in SHARES_WORN)
        return low, likely, high


@lru_cache(maxsize=4096)
def _fitted(life: Life) -> Weibull:
    return Weibull.through(life)


@lru_cache(maxsize=4096)
def life_window(life: Life) -> tuple[float, float, float]:
    """The 10th, 50th and 90th percentiles of the law fitted to a life, in reference months."""
    return life.weibull.window


@dataclass(frozen=True, slots=True)
class Place:
    """What a class of product is expected to do in a zone.

    `life` is None where the class has no forecast. `ratio` is that life against the life at the main site of
    the class. `special` says that the life was stated for this place, so nothing else of the place is added.
    """

    life: Life | None
    mark: Mark
    ratio: float
    special: bool


@lru_cache(maxsize=4096)
def place_of(product_class: ProductClass, zone: Zone, tables: Tables) -> Place:
    """The default life of a class in a zone: stated for the place, by family there, or the class's own."""
    entry = tables.lives[product_class]
    if entry.life is None:
        return Place(None, entry.mark, 1.0, special=False)
    zone = tables.twin(zone)
    site = entry.sites.get(zone)
    if site is None and zone not in entry.home:
        site = tables.elsewhere.get(zone, {}).get(entry.family)
    if site is not None:
        return Place(site.life, site.mark, site.life.likely / entry.life.likely, special=True)
    times = tables.zones[zone].life_times
    return Place(entry.life.scaled(times), entry.mark, times, special=times != 1)


def life_of(
    product_class: ProductClass,
    zone: Zone,
    *,
    own: Life | None = None,
    hard_used: bool = False,
    tables: Tables,
) -> Life | None:
    """The life to reckon with, in reference months; None where the class has no forecast.

    `own` is what a studio says of one product at the main site of its class; elsewhere it is scaled by the
    ratio of the class's defaults. `hard_used` is for the spot of the zone that wears first, such as the
    driver's outer bolster.
    """
    place = place_of(product_class, zone, tables)
    life = place.life
    if life is None:
        return None
    if own is not None:
        life = own.scaled(place.ratio) if place.ratio != 1 else own
    hard_use = tables.zones[tables.twin(zone)].hard_use
    if hard_used and hard_use is not None:
        life = life.scaled(hard_use.share)
    return life
