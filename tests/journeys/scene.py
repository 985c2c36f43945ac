"""Who stands in the yard when a journey begins: one car that was here before, beside others that are not meant."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime, timedelta

from crm.care.terms import Parking, ProductClass, Wash
from crm.models import Car, Person, Product, User, Visit
from tests import factories
from tests.factories import NOW

SIX_MONTHS = (4.0, 6.0, 8.0)
"""Low, likely, high for the sealant: laid in May it may be thin in autumn and is before the winter's end."""
SCRAP = "z6d"
"""Three characters from the middle of QA26 DEM as a caller reads them out: Z for 2."""
MANAGER = "merryn"


@dataclass(frozen=True)
class Scene:
    """The rows that a journey speaks of."""

    keeper: Person
    car: Car
    sealant: Product
    manager: User


def a_scene(*, now: datetime = NOW) -> Scene:
    """Ada Quill's estate, waxed last autumn, salted roads, and letters agreed to; and two cars that look alike."""
    manager = factories.user(username=MANAGER)
    keeper = agreeing("Ada Quill", "ada@example.com", now=now)
    car = lived_in("QA26 DEM", keeper, now=now)
    wax = factories.product(ProductClass.NATURAL_WAX, "Curlew hand wax")
    factories.layer(car, wax, at=now - timedelta(days=220))
    for mark in ("QB11 KLM", "QC74 PWN"):
        factories.car(mark)
    sealant = factories.product(ProductClass.POLYMER_SEALANT, "Gannet paint sealant", life=SIX_MONTHS)
    return Scene(keeper, car, sealant, manager)


def agreeing(name: str, email: str, *, now: datetime = NOW) -> Person:
    """Somebody who agreed to letters by e-mail a year ago."""
    return factories.person(name, email=email, letters=True, at=now - timedelta(days=365))


def lived_in(mark: str, keeper: Person, *, now: datetime = NOW, colour: str = "Blue") -> Car:
    """A car that is kept in a garage, washed by hand and driven on salted roads."""
    car = factories.car(mark, keeper=keeper, colour=colour)
    factories.keeping(
        car,
        since=(now - timedelta(days=300)).date(),
        parking=Parking.GARAGE,
        km_a_year=10_000,
        wash_summer=Wash.HAND_NEUTRAL,
        wash_winter=Wash.HAND_NEUTRAL,
        salted_roads=True,
    )
    return car


def newest_visit(car: Car) -> Visit:
    """The visit that a journey has just written down."""
    return Visit.objects.filter(car=car).latest("pk")
