"""The same answers by SQL alone, written by hand along the indexes: what the pages are measured against.

Nothing here is ranked, put into words or checked: the rows are fetched and that is all.
"""

# What is typed and the numbers of cars are in the parameters; only fixed text and places for them are put together.
# ruff: noqa: S608

from __future__ import annotations

from collections.abc import Sequence
from datetime import date
from typing import Any

from django.db import connection

from crm.care.finding import KeyKind, QueryKey, query_keys
from crm.care.months import add_months
from crm.management.bench.statements import Statement
from crm.models import Product
from crm.selectors.due import LONG_PAST, LOOKED_AT, SHORT_LIVED
from crm.selectors.due_wanted import GROUP_OF, ZoneGroup
from crm.selectors.scanning import MOST_WORD_KEYS, PROBED, PROBED_WITH_A_SLIP, SCAN, WORD_KEYS, rarest

ON_A_PAGE = 25


def fetch_all(statements: Sequence[Statement]) -> list[list[tuple[Any, ...]]]:
    """Send them one after another and fetch every row."""
    return [statement.fetch() for statement in statements]


def found(typed: str, cars: Sequence[int]) -> list[Statement]:
    """The keys that a scrap may mean, then the rows of the cars that were found."""
    return [_keys(typed), *([_hits(cars), _live(cars)] if cars else [])]


def _keys(typed: str) -> Statement:
    keys = query_keys(typed)
    arms = [_scan(key) for key in keys if key.kind not in WORD_KEYS]
    for kind, most_keys in WORD_KEYS.items():
        of_words = [key for key in keys if key.kind is kind]
        if of_words:
            members, others = rarest(of_words)
            # As many keys are held against the other words as the page holds: fewer where the word has a slip.
            probed = [PROBED, *[PROBED_WITH_A_SLIP] * (most_keys - 1)]
            arms += [_with_others(key, others, most) for key, most in zip(members, probed, strict=False)]
    sql = " UNION ALL ".join(
        f"SELECT * FROM ({arm} LIMIT {SCAN}) a{place}" for place, (arm, _) in enumerate(arms)
    )
    return Statement(sql, [param for _, params in arms for param in params])


def _scan(key: QueryKey) -> tuple[str, list[str]]:
    ranged, params = _begins("key", key)
    return f"SELECT kind, key, car_id, person_id FROM crm_findkey WHERE kind = %s AND {ranged}", [
        key.kind.value,
        *params,
    ]


def _with_others(key: QueryKey, others: Sequence[Sequence[QueryKey]], most: int) -> tuple[str, list[str]]:
    """Keys of one word, of people or cars that have a key of each other word too."""
    inner, params = _scan(key)
    if not others:
        return inner, params
    sql = f"SELECT kind, key, car_id, person_id FROM ({inner} LIMIT {most}) k WHERE 1 = 1"
    whose = "car_id" if key.kind is KeyKind.LOOK else "person_id"
    for members in others:
        starts = [member.key for member in members[:MOST_WORD_KEYS]]
        either = " OR ".join(f"substr(o.key, 1, {len(start)}) = %s" for start in starts)
        sql += (
            f" AND EXISTS (SELECT 1 FROM crm_findkey o WHERE o.{whose} = k.{whose}"
            f" AND o.kind = '{key.kind.value}' AND ({either}))"
        )
        params = [*params, *starts]
    return sql, params


def _begins(column: str, key: QueryKey) -> tuple[str, list[str]]:
    if key.exact:
        return f"{column} = %s", [key.key]
    if connection.vendor == "postgresql":
        return f"{column} LIKE %s", [key.key + "%"]
    return f"{column} >= %s AND {column} < %s", [key.key, key.key + "\U0010ffff"]


_HITS = """
SELECT c.id, c.ref, c.make, c.model, c.colour, c.body, p.mark, k.name,
       (SELECT v.arrived_at FROM crm_visit v WHERE v.car_id = c.id AND v.arrived_at IS NOT NULL
         ORDER BY v.planned_in DESC LIMIT 1)
  FROM crm_car c
  LEFT JOIN crm_plate p ON p.car_id = c.id AND p.until IS NULL
  LEFT JOIN crm_role r ON r.car_id = c.id AND r.part = 'keeper' AND r.until IS NULL
  LEFT JOIN crm_person k ON k.id = r.person_id
 WHERE c.id IN ({cars})"""
_LIVE = """
SELECT f.car_id, f.layer_id, f.zone, f.live, f.low, f.likely, f.high, l.laid_at, l.cured_at, l.surfaces, q.name
  FROM crm_forecast f JOIN crm_layer l ON l.id = f.layer_id JOIN crm_product q ON q.id = l.product_id
 WHERE f.car_id IN ({cars}) AND f.live > 0"""


def _hits(cars: Sequence[int]) -> Statement:
    return Statement(_HITS.format(cars=_places(cars)), list(cars))


def _live(cars: Sequence[int]) -> Statement:
    return Statement(_LIVE.format(cars=_places(cars)), list(cars))


def _places(values: Sequence[object]) -> str:
    return ", ".join(["%s"] * len(values))


_OF_A_CAR = (
    "SELECT * FROM crm_car WHERE id = %s",
    "SELECT * FROM crm_plate WHERE car_id = %s",
    """SELECT r.part, r.since, r.until, p.*, t.kind, t.value, t.as_given, t.dead_since,
              (SELECT given FROM crm_consent n WHERE n.person_id = p.id AND n.purpose = 'letters'
                  AND n.channel = 'email' ORDER BY at DESC LIMIT 1)
         FROM crm_role r JOIN crm_person p ON p.id = r.person_id LEFT JOIN crm_contact t ON t.person_id = p.id
        WHERE r.car_id = %s""",
    """SELECT l.*, q.* FROM crm_layer l JOIN crm_product q ON q.id = l.product_id
        WHERE l.car_id = %s AND l.taken_back_at IS NULL ORDER BY l.laid_at DESC""",
    "SELECT layer_id, zone, live, low, likely, high, reasons FROM crm_forecast WHERE car_id = %s",
    "SELECT e.* FROM crm_ending e JOIN crm_layer l ON l.id = e.layer_id WHERE l.car_id = %s",
    """SELECT v.*, b.name FROM crm_visit v JOIN crm_branch b ON b.id = v.branch_id
        WHERE v.car_id = %s ORDER BY v.planned_in DESC""",
    "SELECT s.* FROM crm_step s JOIN crm_visit v ON v.id = s.visit_id WHERE v.car_id = %s",
    "SELECT g.* FROM crm_grade g JOIN crm_visit v ON v.id = g.visit_id WHERE v.car_id = %s",
    """SELECT s.*, r.position, r.um, r.mode FROM crm_gaugespot s JOIN crm_visit v ON v.id = s.visit_id
         LEFT JOIN crm_gaugereading r ON r.spot_id = s.id WHERE v.car_id = %s""",
    "SELECT n.* FROM crm_correctionnote n JOIN crm_visit v ON v.id = n.visit_id WHERE v.car_id = %s",
    "SELECT * FROM crm_carevent WHERE car_id = %s",
    "SELECT * FROM crm_keeping WHERE car_id = %s",
    "SELECT * FROM crm_leftfornexttime WHERE car_id = %s AND done_at IS NULL",
)


def whole_car(car: int) -> list[Statement]:
    """Every row of a car's file."""
    return [Statement(sql, [car]) for sql in _OF_A_CAR]


_DUE = """
SELECT f.id, f.car_id
  FROM crm_forecast f JOIN crm_layer l ON l.id = f.layer_id JOIN crm_car c ON c.id = f.car_id
 WHERE f.due_on BETWEEN %s AND %s AND f.zone IN ({zones}) AND l.product_id NOT IN ({passing})
   AND c.status IN ('active', 'stored')
   AND NOT EXISTS (SELECT 1 FROM crm_forecast e JOIN crm_layer m ON m.id = e.layer_id
                    WHERE e.car_id = f.car_id AND e.due_on >= %s AND e.zone IN ({zones})
                      AND m.product_id NOT IN ({passing})
                      AND (e.due_on < f.due_on OR (e.due_on = f.due_on AND e.id < f.id)))
 ORDER BY f.due_on, f.id LIMIT {most}"""


def due_in_three_months(today: date) -> Statement:
    """The earliest forecast of each car that is due in three months, the earliest car first: id and car."""
    zones = [
        zone.value
        for zone, group in GROUP_OF.items()
        if group is not ZoneGroup.CABIN and zone != "engine_bay"
    ]
    passing = list(Product.objects.filter(product_class__in=SHORT_LIVED).values_list("pk", flat=True)) or [0]
    past, until = str(today - LONG_PAST), str(add_months(today, 3))
    sql = _DUE.format(zones=_places(zones), passing=_places(passing), most=LOOKED_AT + 1)
    return Statement(sql, [past, until, *zones, *passing, past, *zones, *passing])


def due_page(today: date) -> list[Statement]:
    """The list of what is due, then the rows of its first page."""
    due = due_in_three_months(today)
    rows = due.fetch()[:ON_A_PAGE]
    cars = [car for _, car in rows]
    if not cars:
        return [due]
    firsts = Statement(
        f"SELECT * FROM crm_forecast WHERE id IN ({_places(rows)})",
        [number for number, _ in rows],
    )
    reach = Statement(
        "SELECT r.car_id, p.*, t.kind, t.value, t.dead_since FROM crm_role r JOIN crm_person p ON p.id = r.person_id"
        " LEFT JOIN crm_contact t ON t.person_id = p.id"
        f" WHERE r.car_id IN ({_places(cars)}) AND r.part = 'keeper' AND r.until IS NULL",
        cars,
    )
    kept = Statement(f"SELECT * FROM crm_keeping WHERE car_id IN ({_places(cars)})", cars)
    return [due, firsts, _hits(cars), _live(cars), reach, kept]
