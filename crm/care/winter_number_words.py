"""Words for the figures of the winter round: its tables, what each entry is called, and its bands."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from itertools import pairwise

from crm.care.winter_figures import WORK_NAMES, Work
from crm.care.words import ZONE_NAMES

WINTER_TABLES: dict[str, tuple[str, str]] = {
    "winter.round": (
        "Winter round: its weeks",
        (
            "When the round begins and how long it is, counted from the week in which salting starts, and how many days"
            " ahead a week is asked for."
        ),
    ),
    "winter.week": (
        "Winter round: what a week gives",
        (
            "From 0 to 1: the share of every week that is kept back for wet cars, overruns and emergencies, and how"
            " full a week may be before nobody is asked into it any more."
        ),
    ),
    "winter.booked": (
        "Winter round: hours of the book",
        "Hands-on hours that a visit in the book takes where nobody wrote any down.",
    ),
    "winter.answers": (
        "Winter round: answers",
        "Days until an invitation without an answer lapses, and until who said “later” is asked again.",
    ),
    "winter.rest": (
        "Winter round: who is not asked",
        "Cars that are booked in soon, were here just now, or have not been here for long. In days.",
    ),
    "winter.acceptance": (
        "Winter round: how many come",
        "How likely a car comes when it is asked, from 0 to 1, by the time since it was last here.",
    ),
    "winter.packages": (
        "Winter round: what is done",
        (
            "Hands-on hours and nights in the bay of each kind of autumn visit, and whether it is proposed in the"
            " round: 1 is yes, 0 is no."
        ),
    ),
    "winter.places": (
        "Winter round: places",
        "How much each place matters in winter against the others. One with 0 does not count.",
    ),
    "winter.salt": (
        "Winter round: salt",
        "What a day of the salted season counts. A car that is driven further meets more salt.",
    ),
    "winter.worthwhile": (
        "Winter round: worth asking",
        (
            "In days of a whole car without protection on salted roads: with fewer at risk, or fewer that a visit would"
            " spare it, a car is not asked."
        ),
    ),
    "winter.far": (
        "Winter round: driven far",
        "From this distance a year on, wheels off pays when the wheels are swapped anyway.",
    ),
}
"""Title and meaning of every table, in the order in which they are shown."""

WINTER_ENTRIES: dict[str, Mapping[str, str]] = {
    "winter.round": {
        "weeks_before_salt": "weeks from the first of the round to the first with salt",
        "weeks": "weeks in all",
        "notice_days": "a week is asked for at least so many days ahead",
        "ask_ahead_days": "a week is asked for at most so many days ahead",
    },
    "winter.week": {"reserve": "share kept back", "full": "nobody is asked when it is full to"},
    "winter.booked": {
        "wash": "maintenance wash",
        "detail": "maintenance detail",
        "winter": "winter re-protection",
        "spring": "spring decontamination",
        "correction": "correction",
        "coating": "correction and coating",
        "inspection": "inspection",
    },
    "winter.answers": {
        "lapse_days": "without an answer it lapses after, days",
        "ask_again_days": "“later” is asked again after, days",
    },
    "winter.rest": {
        "booked_days": "booked in within so many days",
        "seen_days": "here within the last so many days",
        "forgotten_days": "not here for so many days",
    },
    "winter.acceptance": {
        "months": "where the bands end, months since it was here",
        "chances": "chance that it comes",
    },
    "winter.packages": {
        "hours": "hands-on hours",
        "nights": "nights in the bay",
        "rush": "proposed in the round",
    },
    "winter.places": {zone.value: words for zone, words in ZONE_NAMES.items()},
    "winter.salt": {
        "share_of_days": "share of the season's days with salt on the roads",
        "km_limits": "where the bands end, km a year",
        "km_factors": "factor by distance a year",
        "km_unknown": "factor where the distance is not known",
        "roads_unknown": "share where nobody said whether it is driven on salted roads",
        "unknown_worn": "chance that a layer nobody knows has gone",
    },
    "winter.worthwhile": {"least_days": "fewest days"},
    "winter.far": {"km": "km a year"},
}
"""What each entry of a table is called."""


def winter_figure_words(path: tuple[str, ...], words: str) -> str:
    """What a figure is called in its table, from what its entry is called."""
    return f"{WORK_NAMES[Work(path[2])]}: {words}" if path[1] == "packages" else words


def winter_part_words(path: tuple[str, ...], count: int, beside: Mapping[str, object]) -> tuple[str, ...]:
    """A word for each number of a figure with bands, by where the bands in the same table end."""
    match path[1:]:
        case ("acceptance", "chances"):
            return _by_months(_limits(beside["months"]))
        case ("salt", "km_factors"):
            return (*(f"up to {limit} km" for limit in _limits(beside["km_limits"])), "further")
        case _:
            return tuple(f"band {position}" for position in range(1, count + 1))


def _by_months(limits: Sequence[str]) -> tuple[str, ...]:
    between = (f"{low} to {high} months" for low, high in pairwise(limits))
    return (f"seen within {limits[0]} months", *between, "longer ago or never")


def _limits(entry: object) -> list[str]:
    if not isinstance(entry, list | tuple):
        raise TypeError(f"{entry!r} is not a list of limits.")
    return [f"{limit:,.4f}".rstrip("0").rstrip(".") for limit in entry]
