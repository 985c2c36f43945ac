"""The card: the three lines that stand before everything else on an aftercare sheet."""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

from crm.care.advice_facts import OnCar, Situation
from crm.care.advice_sheet import Dont, Line, Rank
from crm.care.advice_texts import Part, Text, TextSet
from crm.care.surfaces import Zone
from crm.care.words import ZONE_NAMES

_PANEL_ZONES = frozenset({Zone.TOPS, Zone.FRONT, Zone.UPPER_SIDES, Zone.LOWER_SIDES})
_ON_CARD = 4
_OTHER_WAITS = 3


class _Named(NamedTuple):
    name: str
    until: str
    zones: list[Zone]
    panels: list[str]
    """Painted panels in words, where they are not whole zones."""


def on_the_car(situation: Situation) -> tuple[Line, Line | None]:
    """The first line, what is on the car and until roughly when, and a line for what it had no room for.

    Layers of one name and one forecast are said together; the second line is None unless there are many.
    """
    names = _grouped(situation)
    said = [_together(part) for part in _by_forecast(names[:_ON_CARD])]
    if not said:
        none = "Nothing is recorded on the car at the moment."
        return _line("on_car", none, "we only tell you what we know"), None
    first = _line("on_car", ". ".join(said) + ".", "we estimate how long, and correct it when we see the car")
    if len(names) <= _ON_CARD:
        return first, None
    rest = ". ".join(_together(part) for part in _by_forecast(names[_ON_CARD:])) + "."
    why = "each of them wears on its own time"
    return first, Line("also_on_car", Rank.CONVENIENCE, f"Also on it: {rest}", why, None, "also_on_car")


def _grouped(situation: Situation) -> list[_Named]:
    """Zones by name and forecast, in the order of the zones; a fresh layer that is not live yet comes too."""
    known = {(layer.product_class, layer.zone, layer.name) for layer in situation.layers}
    new = [
        OnCar(layer.product_class, layer.zone, layer.name, "")
        for layer in situation.fresh
        if (layer.product_class, layer.zone, layer.name) not in known
    ]
    order = list(Zone)
    groups: dict[tuple[str, str], _Named] = {}
    for layer in sorted((*situation.layers, *new), key=lambda layer: order.index(layer.zone)):
        named = groups.setdefault(
            (layer.name, layer.until_words), _Named(layer.name, layer.until_words, [], [])
        )
        if layer.panels and layer.zone in _PANEL_ZONES:
            if layer.panels not in named.panels:
                named.panels.append(layer.panels)
        elif layer.zone not in named.zones:
            named.zones.append(layer.zone)
    return list(groups.values())


def _by_forecast(names: Sequence[_Named]) -> list[list[_Named]]:
    """Layers that should hold equally long, together."""
    groups: dict[str, list[_Named]] = {}
    for named in names:
        groups.setdefault(named.until, []).append(named)
    return list(groups.values())


def _together(names: Sequence[_Named]) -> str:
    said = _listed([f"{named.name} on {_places(named)}" for named in names], "; ")
    until = names[0].until
    if not until:
        return said
    return f"{said}, {'all ' if len(names) > 1 else ''}{until}"


def _places(named: _Named) -> str:
    whole = [f"the {_zones(named.zones)}"] if named.zones else []
    parts = [words if words.startswith("all ") else f"the {words}" for words in named.panels]
    return " and ".join([*whole, *parts])


def _zones(zones: Sequence[Zone]) -> str:
    names = [ZONE_NAMES[zone] for zone in zones]
    if set(zones) >= _PANEL_ZONES:
        names = ["painted panels", *(ZONE_NAMES[zone] for zone in zones if zone not in _PANEL_ZONES)]
    return _listed(names, ", ")


def _listed(names: Sequence[str], between: str) -> str:
    return names[0] if len(names) == 1 else between.join(names[:-1]) + " and " + names[-1]


def not_yet(donts: Sequence[Dont], care: Sequence[Line], texts: TextSet) -> Line:
    """The second line: what not to do, with the end of the wait that matters most.

    Where nothing is setting, it is the foremost limit of what is on the car, which has no end.
    """
    headed = _headed(donts, texts)
    if headed:
        (text, dont), others = headed[0], headed[1 : 1 + _OTHER_WAITS]
        words = f"{text.headline}."
        if others:
            more = "; ".join(_lowered(other.headline) for other, _ in others)
            words += f" With their own times below: {more}."
        return Line("not_yet", Rank.CURE, words, dont.why, dont.until, dont.topic)
    limits = [line for line in care if line.rank is Rank.MATERIAL]
    if limits:
        return limits[0]
    return _line(
        "nothing_setting", "Nothing is setting, so nothing has to wait.", "every layer on it is hard"
    )


def _headed(donts: Sequence[Dont], texts: TextSet) -> list[tuple[Text, Dont]]:
    by_code = {text.code: text for text in texts.of(Part.DONTS)}
    headed = [(by_code[dont.code], dont) for dont in donts if by_code[dont.code].headline]
    return sorted(headed, key=lambda pair: pair[0].headline_order)


def _lowered(words: str) -> str:
    return words[:1].lower() + words[1:]


def _line(code: str, words: str, why: str) -> Line:
    return Line(code, Rank.CARE, words, why, None, code)
