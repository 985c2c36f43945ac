"""Odometers: stored in kilometres, read and shown in the studio's unit."""

from __future__ import annotations

import re

KM_A_MILE = 1.609344
"""By definition (international yard and pound agreement, 1959)."""
_SAID = re.compile(r"\b(\d[\d,]*) km\b")


def to_km(read: int, *, in_miles: bool) -> int:
    """What an odometer reads, in whole kilometres. Reading it back in miles gives the same number again."""
    return round(read * KM_A_MILE) if in_miles else read


def from_km(km: int, *, in_miles: bool) -> int:
    """Stored kilometres as the odometer shows them."""
    return round(km / KM_A_MILE) if in_miles else km


def distance_words(km: int, *, in_miles: bool) -> str:
    """A distance in the studio's unit: "61,240 km" or "38,053 miles"."""
    return f"{from_km(km, in_miles=in_miles):,} {'miles' if in_miles else 'km'}"


def in_the_unit(words: str, *, in_miles: bool) -> str:
    """A sentence of the engine, which speaks of kilometres, with its distances in the studio's unit."""
    return _SAID.sub(lambda said: distance_words(int(said[1].replace(",", "")), in_miles=in_miles), words)
