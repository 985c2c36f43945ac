"""Forms of the winter round: opening it, its hours, whom to leave out, asking, and what came back."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from datetime import date, datetime
from decimal import Decimal
from typing import Any

from django import forms

from crm.models import WinterInvitation
from crm.selectors.winter_screen import Stage, WeekLine
from crm.services.winter_round import MOST_WEEKS, Opening
from crm.web.studio.forms.bay_fields import MomentField, ReadingField, WholeField
from crm.web.studio.forms.desk_fields import DayField, chips
from crm.web.studio.forms.entry import OnceForm, text_field

MOST_HOURS, MOST_NIGHTS = 999, 99
Answer, How = WinterInvitation.Answer, WinterInvitation.How


def _hours(**known: Any) -> ReadingField:
    return ReadingField(low=0, high=MOST_HOURS, required=True, **known)


def _nights(**known: Any) -> ReadingField:
    return ReadingField(low=0, high=MOST_NIGHTS, required=True, **known)


class OpenForm(OnceForm):
    """When a round begins, how long it is, and what a week gives."""

    first_monday = DayField(label="First week, its Monday")
    weeks = WholeField(low=1, high=MOST_WEEKS, required=True, label="How many weeks")
    hours = _hours(
        label="Hands-on hours a week",
        help_text="Of everybody together, for all work. One person with one bay: about 26.",
    )
    nights = _nights(
        label="Nights in the bay a week", help_text="How many cars can stand in overnight, counted in nights."
    )

    def opening(self) -> Opening:
        """What was written."""
        data = self.cleaned_data
        return Opening(
            first_monday=data["first_monday"],
            weeks=data["weeks"],
            hours=data["hours"],
            nights=data["nights"],
        )


class WeeksForm(OnceForm):
    """Hands-on hours and nights of the weeks that are not over."""

    def __init__(self, *args: Any, weeks: Iterable[WeekLine], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.weeks = [week for week in weeks if week.stage is not Stage.OVER]
        for week in self.weeks:
            of = f"week of {week.monday:%-d %B}"
            hours, nights = (f"{given.normalize():f}" for given in (week.row.hours, week.row.nights))
            self.fields[f"hours-{week.address}"] = _hours(label=f"Hours, {of}", initial=hours)
            self.fields[f"nights-{week.address}"] = _nights(label=f"Nights, {of}", initial=nights)

    @property
    def rows(self) -> list[tuple[WeekLine, forms.BoundField, forms.BoundField]]:
        """Each week with its two fields."""
        return [(week, self[f"hours-{week.address}"], self[f"nights-{week.address}"]) for week in self.weeks]

    def given(self) -> Mapping[date, tuple[Decimal, Decimal]]:
        """Hours and nights by Monday."""
        data = self.cleaned_data
        return {
            week.monday: (data[f"hours-{week.address}"], data[f"nights-{week.address}"])
            for week in self.weeks
        }


class AskWeekForm(OnceForm):
    """Asking the cars of a week, as they were seen on the page."""

    seen = forms.CharField(required=False, max_length=64, widget=forms.HiddenInput)


class LeaveOutForm(OnceForm):
    """Why a car is left out."""

    because = text_field(
        "Why it is left out",
        200,
        rows=2,
        required=True,
        help_text="So that the next one who looks knows. The owner never sees it.",
    )


class AskCarForm(OnceForm):
    """Asking the owner of one car oneself."""

    how = chips(
        "How it was asked",
        {How.TELEPHONE: How.TELEPHONE.label, How.IN_PERSON: How.IN_PERSON.label},
        required=True,
        initial=How.TELEPHONE.value,
    )

    def __init__(self, *args: Any, weeks: Sequence[WeekLine], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        names = {week.address: _room(week) for week in weeks}
        self.fields["monday"] = chips("For which week", names, required=True)
        self.order_fields(["monday", "how"])

    def monday(self) -> date:
        """The Monday of the week that was chosen."""
        return date.fromisoformat(self.cleaned_data["monday"])


def _room(week: WeekLine) -> str:
    left = week.hours.free + week.hours.to_ask
    room = f"{left:.0f} hours left" if left >= 0.5 else "full, but for what is kept back"
    return f"{week.monday:%-d %b}: {room}"


class AnswerForm(OnceForm):
    """What the owner said."""

    answer = chips(
        "The owner says",
        {
            Answer.YES: "yes, it comes",
            Answer.LATER: "later",
            Answer.NO_THANKS: "no thanks",
        },
        required=True,
    )
    comes_at = MomentField(label="Comes on", help_text="Needed for a yes: the visit is booked for then.")
    note = text_field("Note", 300, rows=2, help_text="In the owner's words, if they matter.")

    def answer_given(self) -> WinterInvitation.Answer:
        """What was said."""
        return Answer(self.cleaned_data["answer"])

    def comes(self) -> datetime | None:
        """When the car comes, after a yes."""
        moment: datetime | None = self.cleaned_data["comes_at"]
        return moment if self.answer_given() is Answer.YES else None
