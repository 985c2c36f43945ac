"""What narrows the list of cars that are due back: chips that work as a plain form."""

from __future__ import annotations

from datetime import date
from enum import StrEnum
from typing import Any, TypeVar

import django_filters
from django import forms

from crm.care.terms import Condition
from crm.models import Forecast, Studio
from crm.selectors.due import Lapses, lapsing_first, salt_turn
from crm.selectors.due_reach import Reaching
from crm.selectors.due_wanted import Lapsing, Salted, Wanted, ZoneGroup
from crm.web.studio.forms.own_words import InOwnWords

Member = TypeVar("Member", bound=StrEnum)

LAPSING = {
    Lapsing.MONTH: "this month",
    Lapsing.QUARTER: "in three months",
    Lapsing.WINTER: "before winter",
    Lapsing.ANY: "any time",
}
CONDITIONS = {
    Condition.HOLDING: "setting or holding",
    Condition.THINNING: "thinning",
    Condition.DUE_A_LOOK: "due a look",
}
GROUPS = {
    ZoneGroup.PAINT: "paint",
    ZoneGroup.WHEELS: "wheels and tyres",
    ZoneGroup.GLASS: "glass",
    ZoneGroup.TRIM: "trim, lamps, soft top",
    ZoneGroup.CABIN: "cabin",
}
SALTED = {Salted.YES: "yes", Salted.NO: "no", Salted.UNKNOWN: "not known"}
REACHING = {
    Reaching.LETTER: "letter allowed",
    Reaching.NOTE: "only a note",
    Reaching.NOTHING: "not at all",
}
PLANS = {"yes": "on a plan", "no": "without"}
LONGEST_TEXT = 80
LATEST_FIRST = "-due"


def _chips(label: str, words: dict[Any, str], *, every: str = "") -> django_filters.ChoiceFilter:
    choices = [(str(value), name) for value, name in words.items()]
    return django_filters.ChoiceFilter(
        label=label,
        choices=choices,
        empty_label=every or None,
        widget=forms.RadioSelect,
        error_messages={"invalid_choice": "Choose one of these."},
    )


class DueForm(InOwnWords, forms.Form):
    """What the filters are read from."""


class DueFilter(django_filters.FilterSet):  # type: ignore[misc]
    """The chips of the list; what makes no sense in an address is said beside its chips and narrows nothing."""

    lapsing = _chips("Lapsing", LAPSING)
    text = django_filters.CharFilter(
        label="Plate, keeper or product",
        max_length=LONGEST_TEXT,
        widget=forms.TextInput({"type": "search", "autocomplete": "off", "spellcheck": "false"}),
    )
    condition = _chips("Stands", CONDITIONS, every="any way")
    zones = _chips("Where", GROUPS, every="anywhere outside")
    salt = _chips("Driven on salt", SALTED, every="all")
    reach = _chips("Keeper may get", REACHING, every="anything")
    plan = _chips("Wash plan", PLANS, every="all")

    class Meta:
        model = Forecast
        form = DueForm
        fields: list[str] = []

    first = ("lapsing", "text")
    """The filters that are always in sight."""

    def __init__(self, data: Any, *, studio: Studio, today: date) -> None:
        given = {name: data.get(name, "") for name in self.base_filters}
        given["lapsing"] = given["lapsing"] or Lapsing.QUARTER.value
        super().__init__(given, queryset=Forecast.objects.all())
        self.studio, self.today = studio, today
        self.latest_first = data.get("sort") == LATEST_FIRST
        turn, in_winter = salt_turn(studio, today)
        winter = f"before the salt ends, {turn:%-d %B}" if in_winter else f"before winter, {turn:%-d %B}"
        lapsing = self.filters["lapsing"]
        lapsing.extra["choices"] = [
            (value, winter if value == Lapsing.WINTER else name) for value, name in lapsing.extra["choices"]
        ]

    def lapses(self) -> Lapses:
        """The earliest-lapsing layer of each car that the chips leave. What makes no sense narrows nothing.

        In place of the filters' own columns: which layer is a car's first depends on several of them together.
        """
        self.form.is_valid()
        return lapsing_first(self.wanted(), studio=self.studio, today=self.today)

    def wanted(self) -> Wanted:
        """What is asked for."""
        data = self.form.cleaned_data
        plan = data.get("plan")
        return Wanted(
            lapsing=self._chosen("lapsing", Lapsing) or Lapsing.QUARTER,
            condition=self._chosen("condition", Condition),
            group=self._chosen("zones", ZoneGroup),
            salted=self._chosen("salt", Salted),
            on_plan=plan == "yes" if plan else None,
            text=data.get("text") or "",
            latest_first=self.latest_first,
        )

    def _chosen(self, name: str, kind: type[Member]) -> Member | None:
        value = self.form.cleaned_data.get(name)
        return kind(value) if value else None

    @property
    def reaching(self) -> Reaching | None:
        """What the keeper may be written, where that is asked for."""
        return self._chosen("reach", Reaching)

    @property
    def in_sight(self) -> list[forms.BoundField]:
        return [self.form[name] for name in self.first]

    @property
    def further(self) -> list[forms.BoundField]:
        return [self.form[name] for name in self.filters if name not in self.first]

    @property
    def narrowed(self) -> bool:
        """Whether one of the filters out of sight is set."""
        return any(field.value() for field in self.further)
