"""The shelf of Greywater Yard. Names go by birds of the coast and by weather; every product is invented."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from decimal import Decimal

from crm.care.life import Life
from crm.care.terms import ProductClass
from crm.models import Product
from crm.selectors.lasted import Lasted
from crm.services.demo.crew import Crew
from crm.services.shelf import Figures, OnTheShelf, put_on_shelf, take_learned_life, write_down_life

P = ProductClass

SEALANT = "Gannet paint sealant"
WINTER_WAX = "Dunlin winter wax"
HAND_WAX = "Curlew hand wax"
TOPPER = "Tern spray topper"
COATING = "Fulmar two-year coating"
LIGHT_COATING = "Kittiwake one-year coating"
WHEEL_COATING = "Razorbill wheel coating"
WHEEL_SEALANT = "Auk wheel sealant"
GLASS_COATING = "Petrel glass coating"
REPELLENT = "Plover rain repellent"
TRIM_COATING = "Shearwater trim coating"
TRIM_DRESSING = "Sanderling trim dressing"
LEATHER_COATING = "Eider leather coating"
LEATHER_CREAM = "Wigeon leather cream"
FABRIC_GUARD = "Teal fabric guard"
PROOFER = "Puffin soft-top proofer"
TYRE_DRESSING = "Knot tyre dressing"
FILM = "Heron clear film"
MATT_SEALANT = "Grebe matt sealant"
CAVITY_WAX = "Cormorant cavity wax"
SEAL_CARE = "Dipper seal conditioner"
LAMP_SEALANT = "Gloaming lamp sealant"
UNKNOWN = "Old layer, not ours"
GONE = "Haar rinse-on sealant"

_SOLVENT = "Solvent: gloves and open doors, and read the data sheet first. Rags dry flat and outdoors."
_FULMAR = "Fulmar system"


@dataclass(frozen=True)
class _Entry:
    name: str
    product_class: ProductClass
    life: tuple[float, float, float] | None = None
    cautions: str = ""
    family: str = ""
    scent_free: bool = False
    on_shelf: bool = True


_STOCK = (
    _Entry(SEALANT, P.POLYMER_SEALANT, (4, 6, 9)),
    _Entry(WINTER_WAX, P.DURABLE_WAX, (2.5, 4, 6)),
    _Entry(HAND_WAX, P.NATURAL_WAX, scent_free=True),
    _Entry(TOPPER, P.SILICA_TOPPER, (1.5, 3, 5), family=_FULMAR),
    _Entry(COATING, P.COATING_PROFESSIONAL, (18, 30, 48), _SOLVENT, _FULMAR),
    _Entry(LIGHT_COATING, P.LIGHT_COATING),
    _Entry(WHEEL_COATING, P.WHEEL_COATING, cautions=_SOLVENT, family=_FULMAR),
    _Entry(WHEEL_SEALANT, P.WHEEL_SEALANT),
    _Entry(GLASS_COATING, P.GLASS_COATING, cautions=_SOLVENT, family=_FULMAR),
    _Entry(REPELLENT, P.RAIN_REPELLENT),
    _Entry(TRIM_COATING, P.TRIM_COATING, cautions=_SOLVENT, family=_FULMAR),
    _Entry(TRIM_DRESSING, P.TRIM_DRESSING),
    _Entry(LEATHER_COATING, P.LEATHER_COATING, family=_FULMAR),
    _Entry(LEATHER_CREAM, P.LEATHER_CREAM, scent_free=True),
    _Entry(FABRIC_GUARD, P.FABRIC_GUARD, cautions="Spray outdoors or with the doors open; not near a flame."),
    _Entry(PROOFER, P.SOFT_TOP_PROOFER, cautions="Keep off glass and paint."),
    _Entry(
        TYRE_DRESSING, P.TYRE_WATER_DRESSING, cautions="Sidewalls only: never on a tread or a brake disc."
    ),
    _Entry(FILM, P.PAINT_FILM),
    _Entry(MATT_SEALANT, P.MATT_SEALANT),
    _Entry(CAVITY_WAX, P.CAVITY_WAX, cautions="Never near brakes or a hot exhaust."),
    _Entry(SEAL_CARE, P.SEAL_CONDITIONER),
    _Entry(LAMP_SEALANT, P.LAMP_SEALANT),
    _Entry(UNKNOWN, P.UNKNOWN, on_shelf=False),
    _Entry(GONE, P.RINSE_ON, on_shelf=False),
)


LIVES: dict[str, Life] = {entry.name: Life(*entry.life) for entry in _STOCK if entry.life}
"""What the studio was told of a product when it bought it, in months."""


def stock_shelf(crew: Crew, *, since: date) -> dict[str, Product]:
    """Put everything on the shelf, with the studio's own figures where it has some. By name."""
    found = {}
    for entry in _STOCK:
        row = put_on_shelf(
            product=OnTheShelf(
                name=entry.name,
                product_class=entry.product_class,
                family=entry.family,
                cautions=entry.cautions,
                scent_free=entry.scent_free,
                on_shelf=entry.on_shelf,
            ),
            by=crew.lead,
        )
        if entry.life:
            _write_down(row, entry.life, since, crew)
        found[entry.name] = row
    return found


def _write_down(product: Product, life: tuple[float, float, float], since: date, crew: Crew) -> None:
    low, likely, high = (Decimal(str(months)) for months in life)
    figures = Figures(low=low, likely=likely, high=high, because="what we were told when we bought it")
    write_down_life(product=product, figures=figures, since=since, by=crew.lead)


def take_learned(product: Product, known: Lasted, *, on: date, crew: Crew) -> None:
    """Take what was learned of a product by a day, in round figures; nothing where nothing was seen."""
    proposal, seen = known.proposal, known.evidence
    if proposal is None or seen is None:
        return
    figures = Figures(low=proposal.low, likely=proposal.likely, high=proposal.high, because=seen.words)
    take_learned_life(product=product, figures=figures, evidence=seen, since=on, today=on, by=crew.lead)
