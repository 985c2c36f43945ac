"""The jobs that Greywater Yard does: which processes on which surfaces, and what is laid afterwards.

The order of work is common practice, no source.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, replace

from crm.care.paint_terms import CutWeight
from crm.care.surfaces import (
    ALL_GLASS,
    CABIN,
    NOTHING,
    PANELS,
    WHEELS,
    Surface,
    Surfaces,
    Zone,
    surfaces_of,
)
from crm.care.terms import Prep, Process
from crm.services.demo import stock
from crm.services.demo.gauging import Corrected, Gauged

P = Process
FACES = surfaces_of(Zone.WHEELS)
SCREEN = surfaces_of(Zone.SCREEN)
LOWER = surfaces_of(Zone.LOWER_SIDES)
TOPS = surfaces_of(Zone.TOPS)
SEATS = surfaces_of(Zone.SEATS)
TRIM = surfaces_of(Zone.TRIM)
SOFT_TOP = surfaces_of(Zone.SOFT_TOP)
FRONT_SEATS = Surfaces.of([Surface.DRIVER_SEAT, Surface.FRONT_PASSENGER_SEAT])
OUTSIDE = PANELS | WHEELS | ALL_GLASS | TRIM


@dataclass(frozen=True, kw_only=True)
class Done:
    """A process on surfaces. `reason` is given where the paint speaks against it."""

    process: Process
    on: Surfaces
    note: str = ""
    weight: CutWeight | None = None
    reason: str = ""


@dataclass(frozen=True, kw_only=True)
class Air:
    """Conditions of laying that were read and matter to the story; °C and percent, as written down."""

    air_c: str
    humidity: str
    surface_c: str
    bay_min_c: str


@dataclass(frozen=True, kw_only=True)
class Coat:
    """A product laid on surfaces. `reason` is given where the rules speak against it."""

    product: str
    on: Surfaces
    coats: int = 1
    gap: int | None = None
    prep: Prep | None = Prep.CLAYED
    wiped: bool | None = None
    flash: int | None = None
    lamp: str = ""
    note: str = ""
    reason: str = ""
    air: Air | None = None


@dataclass(frozen=True, kw_only=True)
class Work:
    """What is done in one stay. Grades are by the names of the spots on the bay sheet."""

    done: tuple[Done, ...] = ()
    coats: tuple[Coat, ...] = ()
    before: Mapping[str, int] = field(default_factory=dict)
    after: Mapping[str, int] = field(default_factory=dict)
    looked: tuple[str, ...] = ()
    """Spots that are graded as the water on them then is, before and after."""
    worn: tuple[tuple[str, Surfaces], ...] = ()
    """Products that a person ends on surfaces after the grades: name and where."""
    gauged: tuple[Gauged, ...] = ()
    """Panels that were measured once they were clean."""
    gauged_after: tuple[Gauged, ...] = ()
    """Panels that were measured again when they were polished."""
    corrected: tuple[Corrected, ...] = ()

    def graded(self, before: Mapping[str, int], after: Mapping[str, int]) -> Work:
        """The same work with water grades."""
        return replace(self, before=before, after=after)

    def and_also(self, *coats: Coat) -> Work:
        """The same work with more laid."""
        return replace(self, coats=(*self.coats, *coats))


def wash(*, topper: bool = False) -> Work:
    """A maintenance wash, with or without a topper."""
    done = (Done(process=P.PRE_WASH_MILD, on=PANELS), Done(process=P.CONTACT_WASH, on=PANELS))
    coats = (Coat(product=stock.TOPPER, on=PANELS, prep=Prep.WASHED),) if topper else ()
    return Work(done=done, coats=coats)


def winter_coat(product: str = stock.SEALANT, *, leave: Surfaces = NOTHING, coats: int = 1) -> Work:
    """The winter coat: wash, iron, tar, clay, then sealant or wax, wheel faces and the screen."""
    return Work(
        done=(
            Done(process=P.CONTACT_WASH, on=PANELS),
            Done(process=P.IRON_REMOVER, on=PANELS | FACES),
            Done(process=P.TAR_REMOVER, on=LOWER),
            Done(process=P.CLAY, on=PANELS - leave),
        ),
        coats=(
            Coat(product=product, on=PANELS - leave, coats=coats, gap=60 if coats > 1 else None),
            Coat(product=stock.WHEEL_SEALANT, on=FACES, prep=Prep.WASHED),
            Coat(product=stock.REPELLENT, on=SCREEN),
        ),
    )


def winter_look() -> Work:
    """A wash in midwinter, with the salt and the iron taken off, to see how much is left."""
    done = (
        Done(process=P.PRE_WASH_MILD, on=PANELS),
        Done(process=P.CONTACT_WASH, on=PANELS),
        Done(process=P.IRON_REMOVER, on=PANELS | FACES),
    )
    return Work(done=done)


def top_up() -> Work:
    """The winter visit of a coated car: decontaminate, look, topper, screen."""
    return Work(
        done=(Done(process=P.CONTACT_WASH, on=PANELS), Done(process=P.IRON_REMOVER, on=PANELS | FACES)),
        coats=(
            Coat(product=stock.TOPPER, on=PANELS, prep=Prep.WASHED),
            Coat(product=stock.REPELLENT, on=SCREEN, prep=Prep.WASHED),
        ),
    )


def spring(*, topper: bool = True) -> Work:
    """Spring decontamination after the salt."""
    done = (
        Done(process=P.PRE_WASH_MILD, on=PANELS),
        Done(process=P.CONTACT_WASH, on=PANELS),
        Done(process=P.IRON_REMOVER, on=PANELS | FACES),
        Done(process=P.TAR_REMOVER, on=LOWER),
    )
    coats = (Coat(product=stock.TOPPER, on=PANELS, prep=Prep.WASHED),) if topper else ()
    return Work(done=done, coats=coats)


def coating(product: str = stock.COATING, *, leave: Surfaces = NOTHING, coats: int = 2) -> Work:
    """Strip, correct in one step, wipe, and coat: paint, wheel faces, screen and trim."""
    paint = PANELS - leave
    return Work(
        done=(
            Done(process=P.STRIP_WASH, on=OUTSIDE),
            Done(process=P.IRON_REMOVER, on=PANELS | FACES),
            Done(process=P.CLAY, on=paint | SCREEN | FACES),
            Done(process=P.ONE_STEP_POLISH, on=paint),
            Done(process=P.PANEL_WIPE, on=paint),
        ),
        coats=(
            Coat(
                product=product,
                on=paint,
                coats=coats,
                gap=90 if coats > 1 else None,
                prep=Prep.POLISHED_WIPED,
                wiped=True,
                flash=120,
            ),
            Coat(product=stock.WHEEL_COATING, on=FACES, prep=Prep.POLISHED_WIPED, wiped=True),
            Coat(product=stock.GLASS_COATING, on=SCREEN, prep=Prep.POLISHED_WIPED, wiped=True),
        ),
    )


def hand_wax(on: Surfaces = PANELS) -> Work:
    """Wash and wax."""
    return Work(
        done=(Done(process=P.CONTACT_WASH, on=PANELS), Done(process=P.CLAY, on=on)),
        coats=(Coat(product=stock.HAND_WAX, on=on),),
    )


def cabin(*, leather: bool) -> Work:
    """Clean inside, and feed the leather or guard the fabric."""
    clean = P.LEATHER_CLEAN if leather else P.FABRIC_CLEAN
    product = stock.LEATHER_CREAM if leather else stock.FABRIC_GUARD
    return Work(
        done=(Done(process=P.INTERIOR_CLEAN, on=CABIN), Done(process=clean, on=SEATS)),
        coats=(Coat(product=product, on=SEATS, prep=Prep.WASHED),),
    )


def roof_care() -> Work:
    """Clean and proof a soft top."""
    return Work(
        done=(Done(process=P.FABRIC_CLEAN, on=SOFT_TOP),),
        coats=(Coat(product=stock.PROOFER, on=SOFT_TOP, prep=Prep.WASHED),),
    )


def both(one: Work, other: Work) -> Work:
    """Two jobs in one stay."""
    return replace(one, done=one.done + other.done, coats=one.coats + other.coats)
