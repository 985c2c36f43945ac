"""Reading the key index: every meaning of what was typed is one scan that stops, all of them one query.

However much is on file, a search reads a bounded number of keys. Whole plates are looked up by themselves, so that
a short plate is not lost among longer ones that contain it.
"""

from __future__ import annotations

import unicodedata
from collections.abc import Iterable, Sequence
from typing import NamedTuple

from django.db import connection
from django.db.models import Exists, IntegerField, OuterRef, Q, QuerySet, Value
from django.db.models.functions import Cast

from crm.care.finding import KeyKind, QueryKey, query_keys
from crm.care.plates import NotAMark, normal_mark
from crm.models import FindKey, Plate

SCAN = 40
"""Keys read for one meaning of what was typed."""
PROBED, PROBED_WITH_A_SLIP = 3000, 200
"""Keys of one word, as typed or with a letter left out, that are held against the other words."""
MOST_WORD_KEYS = 14
WORD_KEYS = {KeyKind.NAME: MOST_WORD_KEYS, KeyKind.LOOK: 1}
"""Keys of the rarest word that are read at first, by what it may be a word of: as typed, then with a letter left out.

Slips in what one sees of a car are looked for only where nothing answers better: see `scan_with_slips`.
"""
LONGEST_QUERY = 80
_YEAR_DIGITS = 4


class Scanned(NamedTuple):
    """A key that was found: its kind, the key, and the car or the person it stands for."""

    kind: str
    key: str
    car: int | None
    person: int | None


def clean_query(text: str) -> str:
    """What was typed without control characters and runs of space, at most `LONGEST_QUERY` long."""
    visible = "".join(" " if unicodedata.category(letter)[0] in "CZ" else letter for letter in text[:400])
    return " ".join(visible.split())[:LONGEST_QUERY]


def scan(typed: str) -> list[Scanned]:
    """Every key that what was typed may mean, in one query; of what one sees of a car, as it was typed."""
    return _read([*_whole_plate(typed), *_arms(query_keys(typed))]) if typed else []


def scan_with_slips(typed: str) -> list[Scanned]:
    """Keys of what one sees of a car where its rarest word was typed with a slip, in one query."""
    looks = [key for key in query_keys(typed) if key.kind is KeyKind.LOOK]
    if not looks:
        return []
    members, others = rarest(looks)
    arms = (_with_others(key, others, probed=PROBED_WITH_A_SLIP) for key in members[1:MOST_WORD_KEYS])
    return _read([_columns(arm)[:SCAN] for arm in arms])


def _read(arms: Sequence[Arm]) -> list[Scanned]:
    if not arms:
        return []
    compiled = [arm.query.sql_with_params() for arm in arms]
    # Every part was compiled by the ORM; what was typed is in the parameters.
    parts = (f"SELECT * FROM ({part}) AS arm_{place}" for place, (part, _) in enumerate(compiled))  # noqa: S608
    sql = " UNION ALL ".join(parts)
    params = [param for _, given in compiled for param in given]
    with connection.cursor() as cursor:
        cursor.execute(sql, params)
        return [Scanned(*row) for row in cursor.fetchall()]


Arm = QuerySet[FindKey, tuple[object, ...]] | QuerySet[Plate, tuple[object, ...]]


def _whole_plate(typed: str) -> Iterable[Arm]:
    try:
        normal = normal_mark(typed)
    except NotAMark:
        return
    nobody = Cast(Value(None), IntegerField())
    yield (
        Plate.objects.filter(normal=normal)
        .order_by()
        .values_list(Value("whole"), "normal", "car_id", nobody)[:SCAN]
    )


def _arms(keys: Sequence[QueryKey]) -> Iterable[Arm]:
    of_words: dict[KeyKind, list[QueryKey]] = {kind: [] for kind in WORD_KEYS}
    for key in keys:
        if key.kind in of_words:
            of_words[key.kind].append(key)
        else:
            yield _columns(_matching(key))[:SCAN]
    for kind, typed in of_words.items():
        if not typed:
            continue
        members, others = rarest(typed)
        for place, key in enumerate(members[: WORD_KEYS[kind]]):
            probed = PROBED_WITH_A_SLIP if place else PROBED
            yield _columns(_with_others(key, others, probed=probed))[:SCAN]


def rarest(keys: Sequence[QueryKey]) -> tuple[list[QueryKey], list[list[QueryKey]]]:
    """The keys of the word that the fewest are likely to have, and those of each other word: a year, or the longest."""
    words: dict[int, list[QueryKey]] = {}
    for key in keys:
        words.setdefault(key.word, []).append(key)

    def rare(word: int) -> tuple[bool, int]:
        as_typed = words[word][0].key
        return as_typed.isdecimal() and len(as_typed) == _YEAR_DIGITS, len(as_typed)

    first = max(words, key=rare)
    return words[first], [members for word, members in words.items() if word != first]


def _columns(rows: QuerySet[FindKey]) -> QuerySet[FindKey, tuple[object, ...]]:
    return rows.order_by().values_list("kind", "key", "car_id", "person_id")


def _matching(key: QueryKey) -> QuerySet[FindKey]:
    same_kind = FindKey.objects.filter(kind=key.kind.value)
    return same_kind.filter(key=key.key) if key.exact else same_kind.filter(key__begins=key.key)


def _with_others(key: QueryKey, others: Sequence[Sequence[QueryKey]], *, probed: int) -> QuerySet[FindKey]:
    """Keys of people or cars that have the rarest word and all the others; only so many are held against the others."""
    rows = _matching(key)
    if not others:
        return rows
    rows = FindKey.objects.filter(pk__in=rows.order_by().values("pk")[:probed])
    whose = "car" if key.kind is KeyKind.LOOK else "person"
    for members in others:
        either = Q()
        for member in members[:MOST_WORD_KEYS]:
            either |= Q(key__begins_among_few=member.key)
        of_the_same = FindKey.objects.filter(either, kind=key.kind.value, **{whose: OuterRef(whose)})
        rows = rows.filter(Exists(of_the_same))
    return rows
