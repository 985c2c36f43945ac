"""What was done, in the studio's own words: "clayed, 2 coats sealant all over exc. LR wing; alloys wheel sealant"."""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field, replace

from crm.care.bodies import Body
from crm.care.surfaces import ALL_GLASS, NOTHING, PANELS, WHEELS, Surfaces, Zone, surfaces_of
from crm.care.terms import Process, ProductClass
from crm.care.words import CLASS_NAMES, describe
from crm.services.bring_in.cells import Remark, Sure
from crm.services.bring_in.places import find_places

P = ProductClass
_SEATS, _TRIM = surfaces_of(Zone.SEATS), surfaces_of(Zone.TRIM)

CLASS_WORDS: dict[str, ProductClass] = {
    "spray coating": P.LIGHT_COATING,
    "light coating": P.LIGHT_COATING,
    "one-year coating": P.LIGHT_COATING,
    "five-year coating": P.COATING_PROFESSIONAL,
    "pro coating": P.COATING_PROFESSIONAL,
    "professional coating": P.COATING_PROFESSIONAL,
    "coating": P.COATING_ENTHUSIAST,
    "coated": P.COATING_ENTHUSIAST,
    "coat": P.COATING_ENTHUSIAST,
    "wheel sealant": P.WHEEL_SEALANT,
    "wheel coating": P.WHEEL_COATING,
    "wheel wax": P.WHEEL_WAX,
    "glass coating": P.GLASS_COATING,
    "glass coated": P.GLASS_COATING,
    "rain repellent": P.RAIN_REPELLENT,
    "repellent": P.RAIN_REPELLENT,
    "trim coating": P.TRIM_COATING,
    "trim dressing": P.TRIM_DRESSING,
    "trim dressed": P.TRIM_DRESSING,
    "tyre dressing": P.TYRE_WATER_DRESSING,
    "tyres dressed": P.TYRE_WATER_DRESSING,
    "tyre gel": P.TYRE_GEL,
    "leather cream": P.LEATHER_CREAM,
    "leather coating": P.LEATHER_COATING,
    "leather protected": P.LEATHER_CREAM,
    "fabric guard": P.FABRIC_GUARD,
    "fabric protected": P.FABRIC_GUARD,
    "hood proofed": P.SOFT_TOP_PROOFER,
    "proofed": P.SOFT_TOP_PROOFER,
    "proofer": P.SOFT_TOP_PROOFER,
    "winter wax": P.DURABLE_WAX,
    "hard wax": P.DURABLE_WAX,
    "hybrid wax": P.DURABLE_WAX,
    "spray wax": P.QUICK_DETAILER,
    "quick detailer": P.QUICK_DETAILER,
    "wax": P.NATURAL_WAX,
    "waxed": P.NATURAL_WAX,
    "spray sealant": P.SILICA_TOPPER,
    "topper": P.SILICA_TOPPER,
    "topped up": P.SILICA_TOPPER,
    "booster": P.SILICA_TOPPER,
    "sealant": P.POLYMER_SEALANT,
    "sealed": P.POLYMER_SEALANT,
    "glaze": P.GLAZE,
    "film": P.PAINT_FILM,
    "wrap": P.COLOUR_WRAP,
    "seal conditioner": P.SEAL_CONDITIONER,
}
ON_OTHER_PLACES: dict[ProductClass, tuple[tuple[Surfaces, ProductClass], ...]] = {
    P.POLYMER_SEALANT: ((WHEELS, P.WHEEL_SEALANT), (_TRIM, P.TRIM_SEALANT), (ALL_GLASS, P.RAIN_REPELLENT)),
    P.NATURAL_WAX: ((WHEELS, P.WHEEL_WAX),),
    P.COATING_ENTHUSIAST: (
        (WHEELS, P.WHEEL_COATING),
        (ALL_GLASS, P.GLASS_COATING),
        (_TRIM, P.TRIM_COATING),
        (_SEATS, P.LEATHER_COATING),
    ),
}
"""What a general word such as "sealant" means on something that is not paint."""

USUAL_PLACE: dict[ProductClass, Surfaces] = {
    P.WHEEL_SEALANT: surfaces_of(Zone.WHEELS),
    P.WHEEL_COATING: surfaces_of(Zone.WHEELS),
    P.WHEEL_WAX: surfaces_of(Zone.WHEELS),
    P.GLASS_COATING: surfaces_of(Zone.SCREEN),
    P.RAIN_REPELLENT: surfaces_of(Zone.SCREEN),
    P.TRIM_COATING: _TRIM,
    P.TRIM_SEALANT: _TRIM,
    P.TRIM_DRESSING: _TRIM,
    P.TYRE_WATER_DRESSING: surfaces_of(Zone.TYRES),
    P.TYRE_GEL: surfaces_of(Zone.TYRES),
    P.LEATHER_CREAM: _SEATS,
    P.LEATHER_COATING: _SEATS,
    P.FABRIC_GUARD: _SEATS,
    P.SOFT_TOP_PROOFER: surfaces_of(Zone.SOFT_TOP),
    P.SEAL_CONDITIONER: surfaces_of(Zone.SEALS),
}

ONE_PLACE = frozenset(USUAL_PLACE) - {P.GLASS_COATING, P.RAIN_REPELLENT}
"""Classes that go on one place only, so that leaving it out is no guess."""

PROCESS_WORDS: dict[str, Process] = {
    "clayed": Process.CLAY,
    "clay": Process.CLAY,
    "iron": Process.IRON_REMOVER,
    "fallout": Process.IRON_REMOVER,
    "tar": Process.TAR_REMOVER,
    "strip wash": Process.STRIP_WASH,
    "stripped": Process.STRIP_WASH,
    "machine polished": Process.ONE_STEP_POLISH,
    "machine polish": Process.ONE_STEP_POLISH,
    "one step": Process.ONE_STEP_POLISH,
    "one-step": Process.ONE_STEP_POLISH,
    "polished": Process.ONE_STEP_POLISH,
    "polish": Process.ONE_STEP_POLISH,
    "two stage": Process.CUT,
    "two-stage": Process.CUT,
    "cut and refine": Process.CUT,
    "decon": Process.IRON_REMOVER,
    "spots off": Process.TAR_REMOVER,
    "panel wipe": Process.PANEL_WIPE,
    "washed": Process.CONTACT_WASH,
    "wash": Process.CONTACT_WASH,
}
_COATS = re.compile(
    r"\b(?:(\d{1,2}) ?(?:x|coats?(?: of)?)|(single|one|two|double|three|triple) coats?(?: of)?)\b"
)
_NUMBER_WORDS = {"single": 1, "one": 1, "two": 2, "double": 2, "three": 3, "triple": 3}
_EXCEPT = re.compile(
    r"\b(?:exc|excl|except|excepting|excluding|apart from|bar|not|minus|but not|w/o|without)\b[.:]?"
)
_CLAUSES = re.compile(r"\s*(?:[;+\n,]|\bthen\b|\bplus\b|(?<=\w)\.(?=\s|$)|&|\band\b)\s*")
_FILLERS = re.compile(
    r"\b(?:with|only|maintenance|on|to|the|a|an|of|in|for|full|all|done|new|put|applied|fresh|x|coats?)\b|[().:/-]"
)


@dataclass(frozen=True)
class ListedLayer:
    """A layer as the list tells it: a product of the shelf by name, or only a class."""

    product: str
    product_class: ProductClass
    surfaces: Surfaces
    coats: int = 1


@dataclass(frozen=True)
class ListedStep:
    """A process as the list tells it."""

    process: Process
    surfaces: Surfaces


@dataclass
class Work:
    """Everything that was read from one cell, and the remarks about it."""

    layers: list[ListedLayer] = field(default_factory=list)
    steps: list[ListedStep] = field(default_factory=list)
    remarks: list[Remark] = field(default_factory=list)


def read_work(text: str, *, shelf: Mapping[str, ProductClass], region: str) -> Work:
    """Read a job list cell. `shelf` holds product names in lower case with their classes.

    What cannot be read is never lost: the whole cell is kept word for word on the visit, and a remark says so.
    """
    reader = _Reader(shelf, region)
    for clause in _CLAUSES.split(_hold_abbreviations(text.lower())):
        if clause and clause.strip():
            reader.take(clause.strip())
    return reader.work


def _hold_abbreviations(text: str) -> str:
    text = text.replace("cut and refine", "two-stage")
    # Here the coating is where the work was done, not what was laid.
    text = re.sub(r"\b(on|over) (the )?(coated (panels|paint)|coating)\b", r"\1 all panels", text)
    return re.sub(r"\b(exc|excl|approx|incl)\.", r"\1 ", text)


class _Reader:
    """Reads clause after clause; a clause of places alone belongs to the product before it."""

    def __init__(self, shelf: Mapping[str, ProductClass], region: str) -> None:
        self.region = region
        self.words = _vocabulary(shelf)
        self.work = Work()
        self.excluding = False
        self.places_given = False
        self.general: ProductClass | None = None

    def take(self, clause: str) -> None:
        before, exclusion, after = _split_exclusion(clause)
        coats, counted = _coats(before)
        product = self._product(counted)
        rest, steps = _processes(product.rest if product else counted)
        included = find_places(rest, region=self.region)
        excluded = find_places(after, region=self.region)
        leftovers = _FILLERS.sub(" ", f"{included.rest} {excluded.rest}").split()
        if product:
            self._new_layer(product, included.surfaces, excluded.surfaces, coats or 1)
        elif steps:
            self._steps(steps, included.surfaces, excluded.surfaces)
        elif included.surfaces or excluded.surfaces:
            self._more_places(included.surfaces, excluded.surfaces, bool(exclusion), clause)
        if coats and not product and self.work.layers:
            self.work.layers[-1] = replace(self.work.layers[-1], coats=coats)
        if steps and product:
            self._steps(steps, included.surfaces, excluded.surfaces)
        if leftovers:
            lost = exclusion and not excluded.surfaces
            what = "so nothing is left out" if lost else "kept in the words of the visit"
            words = f"“{' '.join(leftovers)[:60]}” not understood, {what}"
            self.work.remarks.append(Remark(Sure.GUESSED, words))
        self.excluding = bool(exclusion) or (self.excluding and not product and not steps)

    def _product(self, text: str) -> _Mention | None:
        """What is named first; where two names begin at one place, the longer: "topper over coating" is a topper."""
        first: tuple[int, _Mention] | None = None
        for words, name, product_class in self.words:
            found = re.search(rf"(?<![\w-]){re.escape(words)}(?![\w-])", text)
            if found and (first is None or found.start() < first[0]):
                rest = f"{text[: found.start()]} {text[found.end() :]}"
                first = found.start(), _Mention(name, product_class, rest)
        return first[1] if first else None

    def _new_layer(self, mention: _Mention, on: Surfaces, excluded: Surfaces, coats: int) -> None:
        self.places_given = bool(on)
        product_class = mention.product_class
        self.general = None if mention.name else product_class
        if self.general:
            product_class = _meant_on(product_class, on)
        usual = USUAL_PLACE.get(product_class, PANELS)
        surfaces = (on or usual) - excluded
        if not on and product_class not in ONE_PLACE:
            what = mention.name or CLASS_NAMES[product_class]
            where = describe(usual, Body.ESTATE)
            self.work.remarks.append(Remark(Sure.GUESSED, f"{what}: no place given, taken as {where}"))
        if surfaces:
            self.work.layers.append(ListedLayer(mention.name, product_class, surfaces, coats))

    def _steps(self, steps: Iterable[Process], on: Surfaces, excluded: Surfaces) -> None:
        surfaces = ((on & PANELS) or PANELS) - excluded
        self.work.steps += [ListedStep(process, surfaces) for process in steps if surfaces]

    def _more_places(self, on: Surfaces, excluded: Surfaces, excepts: bool, clause: str) -> None:
        if not self.work.layers:
            self.work.remarks.append(
                Remark(Sure.GUESSED, f"“{clause[:60]}”: nothing says what was done there")
            )
            return
        last = self.work.layers[-1]
        if self.general and on and not self.excluding and _meant_on(self.general, on) != last.product_class:
            self.work.layers.append(ListedLayer("", _meant_on(self.general, on), on - excluded, last.coats))
            self.work.remarks.append(Remark(Sure.GUESSED, f"“{clause[:60]}” taken as done the same way"))
            return
        if self.excluding and not excepts:
            surfaces = last.surfaces - on
            self.work.remarks.append(Remark(Sure.GUESSED, f"“{clause[:60]}” taken as left out too"))
        else:
            base = last.surfaces if self.places_given else NOTHING
            surfaces = ((base | on) if on else last.surfaces) - excluded
            self.places_given = self.places_given or bool(on)
        if surfaces:
            self.work.layers[-1] = replace(last, surfaces=surfaces)


@dataclass(frozen=True)
class _Mention:
    name: str
    product_class: ProductClass
    rest: str


def _vocabulary(shelf: Mapping[str, ProductClass]) -> list[tuple[str, str, ProductClass]]:
    named = [(name.lower(), name.lower(), product_class) for name, product_class in shelf.items()]
    general = [(words, "", product_class) for words, product_class in CLASS_WORDS.items()]
    return sorted([*named, *general], key=lambda entry: (-len(entry[0]), entry[0]))


def _split_exclusion(clause: str) -> tuple[str, str, str]:
    found = _EXCEPT.search(clause)
    if not found:
        return clause, "", ""
    return clause[: found.start()], found[0], clause[found.end() :]


def _processes(text: str) -> tuple[str, list[Process]]:
    found: list[Process] = []
    for words in sorted(PROCESS_WORDS, key=len, reverse=True):
        match = re.search(rf"(?<![\w-]){re.escape(words)}(?:r|ed|ing)?(?![\w-])", text)
        if match:
            found.append(PROCESS_WORDS[words])
            text = f"{text[: match.start()]} {text[match.end() :]}"
    return text, list(dict.fromkeys(found))


def _coats(text: str) -> tuple[int, str]:
    """How many coats are said, 0 where nothing is, and the text without it."""
    found = _COATS.search(text)
    if not found:
        return 0, text
    number = int(found[1]) if found[1] else _NUMBER_WORDS[found[2]]
    return min(max(number, 1), 20), f"{text[: found.start()]} {text[found.end() :]}"


def _meant_on(product_class: ProductClass, on: Surfaces) -> ProductClass:
    for places, meant in ON_OTHER_PLACES.get(product_class, ()):
        if on and on <= places:
            return meant
    return product_class
