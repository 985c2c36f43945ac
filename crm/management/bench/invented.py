"""Names, plates, chassis and telephone numbers that belong to nobody, spread as real ones are.

Plates begin with Q, which is never issued in a pair. Telephone numbers are from the blocks that Ofcom keeps for
drama, 18,000 in all, so in a large record several people share one. The region code 0 begins no chassis number.
"""

from __future__ import annotations

from itertools import accumulate, product
from random import Random

_FIRST_NAMES = """
Ada Bram Cerys Dov Esme Finn Greta Hamish Ines Jory Kezia Lowen Mabel Niall Orla Piers Quentin Rhona Silas Tamar Una
Vera Wilf Xanthe Yusuf Zara Alun Bethan Clem Delia Ewan Flora Gwen Hari Isla Jonah Kit Leila Morag Nadia Owen Petra
Rafe Sunil Tess Ulla Vaughan Winnie Aled Blythe Conor Dilys Emrys Fenna Gareth Hester Iain Juno
"""
_SURNAME_HEADS = """
Ash Bram Brock Carn Chal Clay Cold Crow Dal Dun Elm Fern Gar Gold Hale Har Hazel Hol Ken Kirk Lam Lang Lin Lock Mar
Mel Mill Nether Nor Oak Old Pen Pol Red Ridge Row Sal Sand Sel Shel South Stan Stock Thorn Tre Wal Wen West Whit Wick
Win Wood
"""
_SURNAME_TAILS = """
ton ley ford by ham combe den wick worth field well more bourne gate hurst land ridge stead stow croft
"""
FIRST_NAMES = tuple(_FIRST_NAMES.split())
SURNAMES = tuple(head + tail for tail, head in product(_SURNAME_TAILS.split(), _SURNAME_HEADS.split()))
"""The most common first: the weight of a name falls with its place, as it does among real ones."""
_WEIGHTS = list(accumulate(1 / (place + 12) for place in range(len(SURNAMES))))

_MARK_LETTERS = "ABCDEFGHJKLMNOPRSTUVWXY"
_MARK_TAIL = "ABCDEFGHJKLMNOPRSTUVWXYZ"
_AGES = [f"{age:02}" for age in (*range(2, 27), *range(51, 76))]
_MARKS = len(_MARK_LETTERS) * len(_AGES) * len(_MARK_TAIL) ** 3
_STRIDE = 7_654_321
"""Shares no factor with the count of marks (a test says so): no mark comes twice before all have been."""

_NUMBER_BLOCKS = (
    "7700900", "1632960", "2079460", "1134960", "1144960", "1154960", "1164960", "1174960", "1184960",
    "1214960", "1314960", "1414960", "1514960", "1614960", "1914980", "2896496", "2920180", "3069990",
)  # fmt: skip
_NUMBERS = tuple(f"+44{block}{place:03}" for block in _NUMBER_BLOCKS for place in range(1000))


def mark(place: int) -> str:
    """The normal form of one plate; another for every place up to 15 million."""
    rest = place * _STRIDE % _MARKS
    rest, first = divmod(rest, len(_MARK_LETTERS))
    rest, age = divmod(rest, len(_AGES))
    tail = ""
    for _ in range(3):
        rest, letter = divmod(rest, len(_MARK_TAIL))
        tail += _MARK_TAIL[letter]
    return f"Q{_MARK_LETTERS[first]}{_AGES[age]}{tail}"


def chassis(place: int) -> str:
    """A full chassis number that ends in a six-digit serial, as most do."""
    plant, serial = divmod(place * 7919 + 104_729, 1_000_000)
    return f"0SKHE{plant % 10}{plant // 10 % 10}CZ{'LMNPRSTV'[place % 8]}H{serial:06}"


def name(dice: Random) -> tuple[str, str]:
    """A first name and a surname."""
    return dice.choice(FIRST_NAMES), dice.choices(SURNAMES, cum_weights=_WEIGHTS)[0]


def number(dice: Random) -> str:
    """A telephone number in the international form."""
    return dice.choice(_NUMBERS)


def company(dice: Random) -> tuple[str, str]:
    """The name of a company, in two words."""
    trade = dice.choice(("Carriers", "Couriers", "Hauliers", "Plumbers", "Bakers", "Ferries", "Roofers"))
    return dice.choice(SURNAMES), trade
