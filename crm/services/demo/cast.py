"""Owners and cars made up by chance: invented names, marks that are never issued, numbers kept for drama.

Marks begin with Q, which is not issued in a pair of letters. Telephone numbers are from the ranges that Ofcom
keeps for drama: 07700 900000 to 900999 and 01632 960000 to 960999. Addresses end in reserved domains (RFC 2606).
"""

from __future__ import annotations

import random
import unicodedata
from dataclasses import dataclass
from itertools import product

from crm.care.bodies import Body
from crm.care.terms import Paint
from crm.services.demo.story import Owner
from crm.services.registry import NewCar

_FIRST = (
    "Alder",
    "Brenna",
    "Corin",
    "Delphie",
    "Edda",
    "Fenella",
    "Gwill",
    "Hesper",
    "Idris",
    "Jowan",
    "Keren",
    "Linnet",
    "Maddern",
    "Nessa",
    "Orrin",
    "Petroc",
    "Rozen",
    "Senara",
    "Tegan",
    "Ursa",
    "Verity",
    "Wilmot",
    "Ysolde",
    "Zennor",
    "Åse",
    "Björk",
    "Łucja",
    "Noël",
)
_LAST = (
    "Ashgrove",
    "Blackmere",
    "Carrow",
    "Dunmallet",
    "Elvaston",
    "Fairlamb",
    "Garrowby",
    "Hexley",
    "Ingleborn",
    "Jessamy",
    "Kettlewake",
    "Longmire",
    "Marchbanks",
    "Nettlecombe",
    "Ousby",
    "Pellitory",
    "Quernmore",
    "Rimswell",
    "Sandwick",
    "Thornhythe",
    "Underhay",
    "Vellacott",
    "Winnard",
    "Yarm",
)
_PAIR_LETTERS = "ABCDEFGHJKLMNPRSTUVWXY"
_END_LETTERS = "ABCDEFGHJKLMNOPRSTUVWXYZ"
_COLOURS = (
    "Black",
    "White",
    "Silver",
    "Grey",
    "Blue",
    "Red",
    "Green",
    "Bronze",
    "Graphite",
    "Cream",
)


@dataclass(frozen=True)
class _Model:
    make: str
    model: str
    body: Body


_MODELS = (
    _Model("Halden", "Estate", Body.ESTATE),
    _Model("Halden", "Saloon", Body.SALOON),
    _Model("Corrie", "5-door", Body.HATCHBACK),
    _Model("Corrie", "3-door", Body.HATCHBACK_3),
    _Model("Tarn", "Hatchback", Body.HATCHBACK),
    _Model("Sorrel", "Off-roader", Body.ESTATE),
    _Model("Marram", "Van", Body.VAN),
    _Model("Brae", "Pick-up", Body.PICK_UP),
    _Model("Vennel", "Coupe", Body.COUPE),
    _Model("Lapwing", "Convertible", Body.CONVERTIBLE),
)
_HOW_MANY = (6, 4, 7, 3, 5, 5, 2, 2, 2, 2)


class Cast:
    """Hands out owners and cars, none twice. The same chance gives the same cast."""

    def __init__(self, chance: random.Random, *, newest_year: int) -> None:
        self.chance = chance
        self.newest_year = newest_year
        names = [" ".join(pair) for pair in product(_FIRST, _LAST)]
        chance.shuffle(names)
        self._names = iter(names)
        self._phones = iter(chance.sample(range(500, 1000), 400))
        self._marks: set[str] = set()

    def owner(self, *, letters: bool | None = True, email: bool = True, phone: bool = True) -> Owner:
        """Somebody new."""
        name = next(self._names)
        number = next(self._phones)
        plain = (
            unicodedata.normalize("NFKD", name.lower().replace("ł", "l")).encode("ascii", "ignore").decode()
        )
        domain = self.chance.choice(("example.com", "example.org", "skerrin.test"))
        line = self.chance.choice(("07700 900{:03}", "01632 960{:03}"))
        return Owner(
            name=name,
            phone=line.format(number) if phone else "",
            email=f"{plain.replace(' ', '.')}@{domain}" if email else "",
            letters=letters,
        )

    def car(self) -> NewCar:
        """A car new to the studio."""
        kind = self.chance.choices(_MODELS, _HOW_MANY)[0]
        year = self.newest_year - self.chance.randrange(0, 11)
        return NewCar(
            mark=self.mark(year),
            make=kind.make,
            model=kind.model,
            year=year,
            colour=self.chance.choice(_COLOURS),
            body=kind.body,
            paint=self.chance.choices((Paint.CLEAR_OVER_BASE, Paint.TRI_COAT, Paint.UNKNOWN), (8, 1, 2))[0],
        )

    def mark(self, year: int) -> str:
        """A mark with the shape of its year and a Q in the first pair."""
        while True:
            age = year % 100 + self.chance.choice((0, 50))
            end = "".join(self.chance.choices(_END_LETTERS, k=3))
            mark = f"Q{self.chance.choice(_PAIR_LETTERS)}{age:02} {end}"
            if mark not in self._marks:
                self._marks.add(mark)
                return mark
