"""What may lie on what: rules as a table, each with its test, its severity and its sentence.

The rules warn and explain; a person may always go on with a reason. A sentence names the layer and the
date that cause it.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cache

from crm.care.bodies import Body
from crm.care.layering_checks import CHECKS, Rule, may_coat_from, table
from crm.care.layering_scene import FreshPaint, Laying, Scene, Treated
from crm.care.removal import Lying
from crm.care.surfaces import Surfaces
from crm.care.terms import Paint, ProductClass, Severity

__all__ = ["Concern", "FreshPaint", "Laying", "Severity", "Treated", "concerns", "may_coat_from"]


@dataclass(frozen=True, slots=True)
class Concern:
    """What a rule has to say about a layer: the rule's number, how loudly, the sentence, and where."""

    rule: str
    severity: Severity
    words: str
    surfaces: Surfaces


def concerns(
    laying: Laying,
    *,
    lying: Sequence[Lying],
    paint: Paint,
    body: Body,
    fresh_paint: Sequence[FreshPaint] = (),
    treated: Sequence[Treated] = (),
) -> tuple[Concern, ...]:
    """Everything the rules say about a layer, stops first.

    `lying` are the layers as they still lie at that moment: what this visit's processes took off is no
    longer among them. `treated` is what was done in this visit before it. `body` is only for naming
    surfaces. A layer's moments and `laying.at` must have a time zone.
    """
    scene = Scene(laying, lying, paint, fresh_paint, treated, body)
    found = [
        Concern(rule.number, rule.severity, rule.words.format_map({"new": laying.name, **said}), where)
        for rule in _rules()
        if laying.product_class in rule.laying
        for where, said in CHECKS[rule.test](scene, rule)
    ]
    return tuple(sorted(found, key=lambda concern: concern.severity is not Severity.STOP))


@cache
def _rules() -> tuple[Rule, ...]:
    groups = {name: frozenset(map(ProductClass, members)) for name, members in table()["groups"].items()}

    def together(names: Sequence[str] | None) -> frozenset[ProductClass]:
        if names is None:
            return frozenset(ProductClass)
        return frozenset().union(*(groups[name] for name in names))

    return tuple(
        Rule(
            number=row["rule"],
            test=row["test"],
            laying=together(row.get("laying")),
            under=together(row.get("under")),
            severity=Severity(row["severity"]),
            words=row["words"],
        )
        for row in table()["rule"]
    )
