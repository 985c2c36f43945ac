"""The shelf as it is read: products by the part of the car they are for, what each is held to do, and since when."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from django.db.models import Count

from crm.care.cure import Clock, cure_in_force, cure_range_of
from crm.care.life import Life as LifeMonths
from crm.care.names import CLASS_NAMES
from crm.care.tables import Tables
from crm.care.terms import Mark, ProductClass
from crm.models import Forecast, Layer, Life, Product, Studio
from crm.selectors.coats import OwnLife, lives_of, months_of, own_hours
from crm.selectors.due_wanted import GROUP_OF, ZoneGroup
from crm.selectors.studio import tables_of

GROUP_NAMES: dict[ZoneGroup, str] = {
    ZoneGroup.PAINT: "Paint",
    ZoneGroup.WHEELS: "Wheels and tyres",
    ZoneGroup.GLASS: "Glass",
    ZoneGroup.TRIM: "Trim, lamps, soft top, underneath",
    ZoneGroup.CABIN: "Cabin",
}
MARK_WORDS: dict[Mark, str] = {
    Mark.COMMON: "common practice",
    Mark.RANGE: "opinions differ",
    Mark.GUESS: "our estimate",
}
_SAFE = ("https://", "http://")


@dataclass(frozen=True)
class Expected:
    """Months that a product is held to last at the main site of its class; None is no forecast."""

    months: LifeMonths | None
    own: bool
    mark: str
    learned: bool = False

    @property
    def words(self) -> str:
        """The three figures, such as "4 / 6 / 9"."""
        return figures_words(self.months) if self.months else "no forecast"

    @property
    def whose(self) -> str:
        """Where the figures come from."""
        if self.learned:
            return "learned from our own cars"
        return "own figures" if self.own else f"the class's figures, {self.mark}"


@dataclass(frozen=True)
class Wait:
    """One clock of a setting layer."""

    words: str
    after: str
    own: bool
    usual: str
    """The least and the most that common practice says of the class; empty where that is one figure."""


@dataclass(frozen=True)
class OnShelf:
    """A product as the shelf shows it."""

    row: Product
    class_words: str
    expected: Expected
    waits: tuple[Wait, ...]
    cold_lengthens: bool
    cars: int

    @property
    def data_sheet(self) -> str:
        """The address of the data sheet, where it is one that a browser may open."""
        address = self.row.data_sheet
        return address if address.lower().startswith(_SAFE) else ""


@dataclass(frozen=True)
class Bay:
    """One part of the shelf."""

    words: str
    products: tuple[OnShelf, ...]


@dataclass(frozen=True)
class Resting:
    """How much rests on a product's figures: live forecasts, and the cars that they are of."""

    forecasts: int
    cars: int


def group_of(product_class: ProductClass, tables: Tables) -> ZoneGroup:
    """The part of the car that a class is for."""
    return GROUP_OF[tables.lives[product_class].home[0]]


def shelf_bays(studio: Studio) -> tuple[list[Bay], list[OnShelf]]:
    """What is on the shelf by part of the car, and what was taken off it, in four queries."""
    tables = tables_of(studio)
    every = shelved(Product.objects.all(), studio, cars=cars_by_product())
    bays = [
        Bay(
            words,
            tuple(
                item
                for item in every
                if item.row.on_shelf and group_of(ProductClass(item.row.product_class), tables) is group
            ),
        )
        for group, words in GROUP_NAMES.items()
    ]
    return [bay for bay in bays if bay.products], [item for item in every if not item.row.on_shelf]


def shelved(products: Iterable[Product], studio: Studio, *, cars: Mapping[int, int]) -> list[OnShelf]:
    """These products with the figures that are in force. `cars`: on how many cars each was laid."""
    tables = tables_of(studio)
    rows = list(products)
    lives = lives_of(row.pk for row in rows)
    newest = {
        life.product_id: life
        for life in Life.objects.filter(product__in=[row.pk for row in rows]).order_by("since", "pk")
    }
    return [
        OnShelf(
            row=row,
            class_words=CLASS_NAMES[ProductClass(row.product_class)],
            expected=expected_of(ProductClass(row.product_class), lives.get(row.pk), tables),
            waits=waits_of(ProductClass(row.product_class), newest.get(row.pk)),
            cold_lengthens=newest[row.pk].cold_lengthens if row.pk in newest else True,
            cars=cars.get(row.pk, 0),
        )
        for row in rows
    ]


def expected_of(product_class: ProductClass, own: OwnLife | None, tables: Tables) -> Expected:
    """The months in force: the studio's own, or the class's with its mark."""
    entry = tables.lives[product_class]
    if entry.life is None or own is None:
        return Expected(entry.life, own=False, mark=MARK_WORDS[entry.mark])
    return Expected(own.months, own=True, mark=MARK_WORDS[entry.mark], learned=own.learned)


def waits_of(product_class: ProductClass, life: Life | None) -> tuple[Wait, ...]:
    """The four clocks in force, those of the class where the studio has none of its own."""
    own = own_hours(life)
    cure, usual = cure_in_force(product_class, own), cure_range_of(product_class).hours
    return (
        _wait("keep dry", cure.dry_h, own.dry_h, usual.get(Clock.DRY), at_once="no need"),
        _wait("wash from", cure.wash_h, own.wash_h, usual.get(Clock.WASH)),
        _wait("topper from", cure.topper_h, own.topper_h, usual.get(Clock.TOPPER)),
        _wait("fully set", cure.full_h, own.full_h, usual.get(Clock.CURED)),
    )


def _wait(
    words: str,
    hours: float | None,
    own: float | None,
    usual: tuple[float, float] | None,
    *,
    at_once: str = "at once",
) -> Wait:
    after = "none usual" if hours is None else hours_words(hours) if hours else at_once
    least, most = usual or (0.0, 0.0)
    span = f"{hours_words(least) if least else at_once} to {hours_words(most)}" if least < most else ""
    return Wait(words, after, own is not None, span)


def cars_by_product() -> dict[int, int]:
    """On how many cars each product was ever laid."""
    return dict(Layer.objects.order_by().values_list("product_id").annotate(cars=Count("car", distinct=True)))


def cars_of(product: Product) -> int:
    """On how many cars a product was ever laid."""
    return Layer.objects.filter(product=product).order_by().values("car").distinct().count()


def lives_with_authors(product: Product) -> list[tuple[Life, str]]:
    """Every dated set of figures of a product with its months in words, the newest first; empty: the class's own."""
    rows = list(product.lives.select_related("by").order_by("-since", "-pk"))
    return [(row, figures_words(months) if (months := months_of(row)) else "") for row in rows]


def resting_on(product: Product) -> Resting:
    """Live forecasts that rest on a product's months."""
    found = Forecast.objects.filter(layer__product=product, due_on__isnull=False).aggregate(
        forecasts=Count("pk"), cars=Count("car", distinct=True)
    )
    return Resting(found["forecasts"], found["cars"])


def figures_words(months: LifeMonths) -> str:
    """Three figures of months without idle places: "0.25 / 0.75 / 1.5"."""
    return " / ".join(
        f"{figure:.2f}".rstrip("0").rstrip(".") for figure in (months.low, months.likely, months.high)
    )


def hours_words(hours: float) -> str:
    """Hours as one says them: "20 minutes", "12 h", "7 days"."""
    if hours < 1:
        return f"{hours * 60:.0f} minutes"
    if hours >= 48 and hours % 24 == 0:
        return f"{hours / 24:.0f} days"
    return f"{hours:g} h"
