"""What a visit in a given week is worth to a car: the unprotected salted days that it likely avoids.

    v(week) = exposure x share of salted days x sum over the days of the salted season and over the critical
              places, by their weight, of [P(worn by the day) - P(worn by the day, with the visit)]

The unit is days of the whole car: a car that stands bare all winter loses every salted day, one whose lower
sides alone are bare loses the share that they weigh. A place is worn when every layer on it is; a bare place is
worn with certainty. With the visit, the layers that its decontamination takes off are gone from that day, those
that stay go on as they were (what clay takes from a coating is left out), and the new layer counts from the day
on which it has fully set.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, timedelta

import numpy as np

from crm.care.coats import Habit
from crm.care.course import Setting
from crm.care.surfaces import Zone
from crm.care.terms import ProductClass
from crm.care.wear import UNKNOWN_USE, use_of
from crm.care.winter_curves import Floats, LaidAnew, Span, curves_anew, unknown_curve
from crm.care.winter_figures import Package, WinterFigures

MIDDLE_OF_WEEK = timedelta(days=2)
"""A car of a week is reckoned to be treated on its Wednesday."""


@dataclass(frozen=True, slots=True, eq=False)
class Lying:
    """A live layer: P(worn by the day) for each day of the span, (D,), or None where nobody knows what it is.

    `likely`: the likely date of its stored window, for the words; without it they are taken from the curve.
    """

    product_class: ProductClass
    laid_on: date
    worn: Floats | None
    likely: date | None = None


@dataclass(frozen=True, slots=True, eq=False)
class Cover:
    """What lies on a zone, or on a share of one. No layers: bare. Zones that a car lacks have no cover.

    `had_one`: whatever lay there has ended, so that it is known to be bare.
    """

    zone: Zone
    layers: tuple[Lying, ...] = ()
    share: float = 1.0
    had_one: bool = False

    def counts_where_bare(self, figures: WinterFigures) -> bool:
        """Whether it is at risk, or named as a reason: what lies or lay there is known, or its bareness matters."""
        return bool(self.layers) or self.had_one or self.zone in figures.bare_counts


@dataclass(frozen=True, slots=True, eq=False)
class Worth:
    """In unprotected salted days: what W visits avoid, (W,), in all and by cover, (covers, W).

    `risk_by_cover` (covers,): how many there are without any visit, leaving out places of lesser weight on which
    nothing was ever laid: they gain by a visit, but nobody misses a layer there.
    """

    days: Floats
    by_cover: Floats
    risk_by_cover: Floats

    @property
    def at_risk(self) -> float:
        """Of all covers together."""
        return float(self.risk_by_cover.sum())


def salted_span(season: tuple[date, date]) -> Span:
    """The days of a salted season, from `Season.current_or_next`."""
    return Span.of(*season)


def exposure(habit: Habit | None, figures: WinterFigures) -> float:
    """What a salted day counts for a car kept so: nothing where it is laid up or keeps off salted roads."""
    if habit is None:
        return figures.roads_unknown * figures.km_unknown
    if habit.stored or habit.salted_roads is False:
        return 0.0
    on_salt = 1.0 if habit.salted_roads else figures.roads_unknown
    return on_salt * figures.distance_factor(habit.km_a_year)


def worth_of(
    cover: Sequence[Cover],
    package: Package,
    *,
    habit: Habit | None,
    mondays: Sequence[date],
    span: Span,
    setting: Setting,
    figures: WinterFigures,
) -> Worth:
    """What a visit for the package in each of W weeks is worth.

    Curves in `cover` have one entry for each day of the span. New layers wear as the car is kept by `habit`; None
    where nobody knows. Raises ValueError where a curve is of another length.
    """
    laid = tuple((monday + MIDDLE_OF_WEEK).toordinal() for monday in mondays)
    use = UNKNOWN_USE if habit is None else use_of(habit, setting.tables)
    after = span.days[None, :] >= np.array(laid, dtype=np.float64)[:, None]
    whole = sum(figures.places.get(one.zone, 0.0) * one.share for one in cover)
    days = figures.salted_days * exposure(habit, figures) / whole if whole > 0 else 0.0
    by_cover = np.zeros((len(cover), len(laid)))
    risk = np.zeros(len(cover))
    for row, one in enumerate(cover):
        weight = figures.places.get(one.zone, 0.0) * one.share * days
        if weight == 0:
            continue
        gone = _gone(one.layers, span, figures)
        if one.counts_where_bare(figures):
            risk[row] = weight * gone.sum()
        product_class = package.lays.get(setting.tables.twin(one.zone))
        if product_class is None:
            continue
        anew = curves_anew(LaidAnew(product_class, one.zone, package.prep, use), laid, span, setting)
        if anew is None:
            continue
        stay = [layer for layer in one.layers if _stays(layer, package, setting)]
        treated = anew * _gone(stay, span, figures)
        by_cover[row] = weight * np.where(after, gone - treated, 0.0).sum(axis=1)
    return Worth(by_cover.sum(axis=0), by_cover, risk)


def _gone(layers: Sequence[Lying], span: Span, figures: WinterFigures) -> Floats:
    """P(every one of them is worn by the day), (D,)."""
    gone = np.ones(span.end - span.first)
    for layer in layers:
        worn = unknown_curve(figures.unknown_worn, span) if layer.worn is None else layer.worn
        if worn.shape != gone.shape:
            raise ValueError("The curve of a layer needs one entry for each day of the salted season.")
        gone = gone * worn
    return gone


def _stays(layer: Lying, package: Package, setting: Setting) -> bool:
    return setting.tables.lives[layer.product_class].family not in package.takes_off
