"""The engine's figures: lives by class and place, everything that speeds or slows wear, grades, paint thickness.

The defaults are data files with a mark on every table: common practice, a range, or our estimate. A studio
lays its own figures over them with `Tables.with_overrides`.
"""

from __future__ import annotations

import tomllib
from collections.abc import Mapping
from dataclasses import dataclass, field
from hashlib import sha256
from importlib.resources import files
from json import dumps

from crm.care.factors import ClassLife, Family, Site, WearFactors, ZoneWear
from crm.care.figures import Figures, FiguresError, merged
from crm.care.inspection_figures import InspectionFigures, read_inspection
from crm.care.life import LifeError
from crm.care.surfaces import Zone
from crm.care.tables_reading import read_elsewhere, read_lives, read_wear, read_zones
from crm.care.terms import ProductClass
from crm.care.thickness_figures import ThicknessFigures, read_thickness
from crm.care.winter_figures import WINTER, WinterFigures, read_winter

NO_FORECAST = frozenset({"thickness", "winter"})
"""Top keys of figures that no forecast is worked out from."""
_SECOND_SET = {Zone.WHEELS_TWO: Zone.WHEELS, Zone.BARRELS_TWO: Zone.BARRELS}


class TablesError(ValueError):
    """A set of figures that cannot be used; the message names the figure and says what it has to be."""


@dataclass(frozen=True, slots=True, eq=False)
class Tables:
    """Every figure of the engine. Two are equal when all their figures are.

    `version` is a digest of those that a forecast is worked out from: paint thickness and the winter round move none.
    """

    lives: Mapping[ProductClass, ClassLife]
    zones: Mapping[Zone, ZoneWear]
    elsewhere: Mapping[Zone, Mapping[Family, Site]]
    wear: WearFactors
    inspection: InspectionFigures
    thickness: ThicknessFigures
    winter: WinterFigures
    version: str
    _digest: str = field(repr=False)
    _figures: Mapping[str, object] = field(repr=False)

    @classmethod
    def from_figures(cls, figures: Mapping[str, object]) -> Tables:
        """The tables from figures nested under `lives`, `zones`, `elsewhere`, `wear` and so on, as in the data files.

        Raises TablesError with the path of the first figure that cannot be.
        """
        whole = Figures("tables", figures)
        try:
            return cls(
                lives=read_lives(_top(whole, "lives")),
                zones=read_zones(_top(whole, "zones")),
                elsewhere=read_elsewhere(_top(whole, "elsewhere")),
                wear=read_wear(_top(whole, "wear")),
                inspection=read_inspection(_top(whole, "inspection")),
                thickness=read_thickness(_top(whole, "thickness")),
                winter=read_winter(_top(whole, "winter")),
                version=_digest_of({key: part for key, part in figures.items() if key not in NO_FORECAST}),
                _digest=_digest_of(figures),
                _figures=figures,
            )
        except (FiguresError, LifeError) as error:
            raise TablesError(str(error)) from error

    @property
    def figures(self) -> Mapping[str, object]:
        """Every figure nested as in the data files, for lists of them. Not to be written to."""
        return self._figures

    def with_overrides(self, changes: Mapping[str, object]) -> Tables:
        """These tables with some figures replaced.

        `changes` has the shape of the data files, as deep as it needs to go:
        `{"lives": {"polymer_sealant": {"life": [5, 7, 10]}}, "wear": {"parking": {"garage": 0.75}}}`.
        Lives of a class in further zones may be added under its `sites`; nothing else can be added.

        Raises TablesError with a sentence where a figure is unknown, of the wrong kind or out of its range.
        """
        try:
            return Tables.from_figures(merged(self._figures, changes, ""))
        except FiguresError as error:
            raise TablesError(str(error)) from error

    def twin(self, zone: Zone) -> Zone:
        """The zone whose figures hold here: the second set of wheels lives by those of the first."""
        return _SECOND_SET.get(zone, zone)

    def __eq__(self, other: object) -> bool:
        return isinstance(other, Tables) and self._digest == other._digest

    def __hash__(self) -> int:
        return hash(self._digest)


def _top(whole: Figures, key: str) -> Figures:
    return Figures(key, whole.part(key).entries)


def _digest_of(figures: Mapping[str, object]) -> str:
    return sha256(dumps(figures, sort_keys=True, default=str).encode()).hexdigest()[:16]


def _shipped() -> Tables:
    folder = files("crm.care") / "data"
    names = ("lives", "zones", "elsewhere", "wear", "inspection", "thickness")
    read: dict[str, object] = {
        name: tomllib.loads((folder / f"{name}.toml").read_text("utf-8")) for name in names
    }
    return Tables.from_figures({**read, "winter": WINTER.figures})


DEFAULTS = _shipped()
"""The figures as shipped."""
