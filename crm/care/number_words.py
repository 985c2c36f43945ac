"""Words for the engine's figures: what each table is about, and what each entry in it is called."""

from __future__ import annotations

from collections.abc import Mapping

from crm.care.names import AIR_NAMES, CLASS_NAMES, PARKING_NAMES, PREP_NAMES, PROCESS_NAMES, WASH_NAMES
from crm.care.paint_terms import PAST_NAMES, STAGE_NAMES
from crm.care.surfaces import Zone
from crm.care.terms import ProductClass, WaterGrade
from crm.care.winter_number_words import WINTER_ENTRIES, WINTER_TABLES, winter_figure_words, winter_part_words
from crm.care.words import ZONE_NAMES

_TIMES = "Over 1 a layer wears faster, under 1 slower."
_FILM_BUILD = "All in µm from the metal up: a gauge does not see how much of it is clear."
OF_TABLES: dict[str, tuple[str, str]] = {
    "lives": (
        "Lives of the classes",
        (
            "Months that a layer holds on a car kept outdoors in a wet, mild country, about 12,000 km a year, washed by"
            " hand, outside winter: one in ten is gone at the low figure, half at the likely, nine in ten at the high."
            " A product's own figures on the shelf go before these."
        ),
    ),
    "elsewhere": (
        "Lives in other places",
        "Months that a kind of layer holds in a place that it was not made for: a paint sealant on a wheel.",
    ),
    "zones": (
        "What each place does",
        (
            "How much faster a layer wears there, how much more salt counts there, or how many times the usual life it"
            " gets."
        ),
    ),
    "wear.parking": ("Parking", f"Where the car spends its nights. {_TIMES}"),
    "wear.distance": ("Distance", f"Kilometres a year, in bands, and a factor for each band. {_TIMES}"),
    "wear.wash": ("Washing", f"How the car is washed in the main, by kind of layer. {_TIMES}"),
    "wear.season": ("Seasons", f"What the salted and the hot months do, by kind of layer. {_TIMES}"),
    "wear.plan": ("Wash plan", f"What four or more wash visits a year do. {_TIMES}"),
    "wear.stored": ("Laid up", f"A car that stands under a roof and is not driven. {_TIMES}"),
    "wear.off_the_car": (
        "Wheels put away",
        "Months that a set of wheels is taken to be off the car where nobody wrote down its return.",
    ),
    "wear.exposure": (
        "Where nobody said",
        "The share of a season's effect that counts, from 0 to 1, where it is not known whether the car meets it.",
    ),
    "wear.clamp": (
        "Slowest and fastest wear",
        f"However much comes together, wear stays between these. {_TIMES}",
    ),
    "wear.air": ("Air when it was laid", "The share of its full life that a layer gets, from 0 to 1."),
    "wear.prep": (
        "Preparation",
        (
            "The share of its full life that a layer gets, from 0 to 1, by kind of layer and by how far the surface was"
            " prepared."
        ),
    ),
    "wear.lumps": (
        "Single events",
        (
            "The share of its full life that one such event costs a layer, from 0 to 1. A machine wash counts only"
            " where it is not the habit anyway."
        ),
    ),
    "inspection.left": (
        "What a grade leaves",
        (
            "The share of its life, from 0 to 1, that a layer has left when its water is graded after decontamination:"
            " the least and the most. A surface that wets out has none left."
        ),
    ),
    "inspection.doubt": (
        "When a grade is doubted",
        (
            "Where fewer than this share of such layers would be found like that, the window is drawn wider, because"
            " the grade and the figures disagree."
        ),
    ),
    "thickness.gauge": ("Paint gauge", f"What a difference between two readings can mean. {_FILM_BUILD}"),
    "thickness.bands": (
        "Paint thickness",
        (
            "The lines between the bands for the lowest spot of a panel on metal. A spot on a line belongs to the band"
            f" above it. {_FILM_BUILD}"
        ),
    ),
    "thickness.removal": (
        "What polishing takes",
        "µm that one set of passes takes at a spot. Sanding includes the cut that clears its marks.",
    ),
    "thickness.before": (
        "Polished before us",
        "µm that are taken to be gone before the studio first worked on the car.",
    ),
    "thickness.limit": (
        "What may go in all",
        "µm of clear that may be polished away over a car's life: the careful and the generous figure.",
    ),
    "thickness.again": (
        "When not to polish again",
        "Each of these ends machine work on a panel, with its reason.",
    ),
    "thickness.correction": (
        "What a correction achieves",
        "The share of the marks that usually goes, from 0 to 1, by eye. An estimate, never a promise.",
    ),
    **WINTER_TABLES,
}
"""Title and meaning of every table, in the order in which they are shown."""

_ENTRIES: dict[str, Mapping[str, str]] = {
    "wear.parking": {str(key): words for key, words in PARKING_NAMES.items()},
    "wear.wash": {str(key): words for key, words in WASH_NAMES.items()},
    "wear.prep": {str(key): words for key, words in PREP_NAMES.items()},
    "wear.lumps": {str(key): words for key, words in PROCESS_NAMES.items()},
    "wear.air": {
        **{str(key): words for key, words in AIR_NAMES.items()},
        "got_wet_early": "water on it before it might have any",
    },
    "wear.season": {"salt": "salted months", "hot": "hot months"},
    "wear.distance": {
        "limits": "where the bands end, km a year",
        "factors": "factor of each band",
        "unknown": "distance not known",
    },
    "wear.plan": {"factor": "on a plan"},
    "wear.stored": {"parking": "in place of parking", "distance": "in place of distance"},
    "wear.off_the_car": {"months": "months away"},
    "wear.exposure": {"salted_unknown": "salted roads", "heat_unknown": "hot months"},
    "wear.clamp": {"low": "slowest", "high": "fastest"},
    "inspection.left": {grade.name.lower(): f"grade {grade.value}" for grade in WaterGrade},
    "inspection.doubt": {"least": "least share of such layers"},
    "thickness.gauge": {
        "noise": "smallest change that is a finding",
        "errors": "standard errors that a change has to exceed",
        "film.adds": "what film adds",
        "coating.adds": "what a coating adds",
    },
    "thickness.bands": {"limits": "where the bands end"},
    "thickness.removal": {
        **{str(key): words for key, words in PROCESS_NAMES.items()},
        "cut_medium": "medium cut",
        "cut_heavy": "heavy cut",
    },
    "thickness.before": {str(key): words for key, words in PAST_NAMES.items()},
    "thickness.limit": {"quarter": "about a quarter of the clear"},
    "thickness.again": {
        "cuts": "cuts that are enough",
        "edge": "edges under",
        "single_stage_edge": "edges of single-stage paint under",
        "removed": "taken off in all, over",
    },
    "thickness.correction": {str(key): words for key, words in STAGE_NAMES.items()},
    **WINTER_ENTRIES,
}
_BANDS = (
    "stop under",
    "very thin under",
    "thin under",
    "normal to thin under",
    "usual under",
    "thick under",
    "filler over",
)
_ZONE_ENTRIES = {"wear": "wear", "salt": "effect of salt", "life_times": "times the usual life"}
_FAMILY_TABLES = ("wear.wash", "wear.season", "wear.prep", "wear.lumps")
_RATES = ("wear.parking", "wear.distance", "wear.wash", "wear.exposure")


def figure_words(path: tuple[str, ...]) -> str:
    """What the figure at a path is called in its table."""
    if path[0] == "lives":
        where = f" on {ZONE_NAMES[Zone(path[3])]}" if path[2] == "sites" else ""
        return f"{CLASS_NAMES[ProductClass(path[1])]}{where}"
    if path[0] == "elsewhere":
        return f"{_family(path[2])} on {ZONE_NAMES[Zone(path[1])]}"
    if path[0] == "zones":
        what = (
            "share of the life at its hardest-used spot" if path[2] == "hard_use" else _ZONE_ENTRIES[path[2]]
        )
        return f"{ZONE_NAMES[Zone(path[1])]}: {what}"
    table, entry = ".".join(path[:2]), path[-1]
    if path[1] == "gauge" and entry == "adds":
        entry = ".".join(path[2:])
    words = _ENTRIES[table].get(entry, "not known")
    if path[0] == "winter":
        return winter_figure_words(path, words)
    return f"{_family(path[2])}: {words}" if table in _FAMILY_TABLES else words


def part_words(path: tuple[str, ...], count: int, beside: Mapping[str, object]) -> tuple[str, ...]:
    """A word for each of the numbers of a figure that holds several; `beside` is the table that it stands in."""
    if path[0] == "winter":
        return winter_part_words(path, count, beside)
    if path[:2] == ("thickness", "bands"):
        return _BANDS
    if path[0] in ("inspection", "thickness"):
        return ("least", "most")
    if path[-1] in ("limits", "factors"):
        return tuple(f"band {position}" for position in range(1, count + 1))
    rates = ".".join(path[:2]) in _RATES
    return ("pessimistic", "likely", "kind") if rates else ("low", "likely", "high")


def _family(key: str) -> str:
    return key.replace("_", " ")
