"""Forms of the post: narrowing the list, and what a person does with a message."""

from __future__ import annotations

from django import forms

from crm.models import Message
from crm.post.desk import Settled
from crm.selectors.post_list import PostWanted, Standing
from crm.web.studio.forms.desk_fields import chips
from crm.web.studio.forms.entry import OnceForm, text_field
from crm.web.studio.forms.own_words import InOwnWords

STANDINGS = {
    Standing.NEEDS: "needs a person",
    Standing.WAITS: "waits",
    Standing.SENT: "sent",
    Standing.CANCELLED: "cancelled",
    Standing.MISSED: "too late to send",
}


class PostFilterForm(InOwnWords, forms.Form):
    """The chips over the post."""

    state = chips("Stands", STANDINGS, unknown="everything")
    kind = chips("Kind", dict(Message.Kind.choices), unknown="every kind")
    text = text_field("Person, address, plate", 80)

    @property
    def standing(self) -> Standing | None:
        """How the chosen messages stand; None is everything, in parts."""
        value = self.cleaned_data.get("state")
        return Standing(value) if value else None

    def wanted(self) -> PostWanted:
        """What else is asked for. What makes no sense narrows nothing."""
        data = self.cleaned_data
        return PostWanted(kind=data.get("kind") or "", text=data.get("text") or "")


class ActForm(OnceForm):
    """A button: hold, release, send now."""


class CancelForm(OnceForm):
    """Why a message is not to be sent."""

    because = text_field("Why it is not to be sent", 300, rows=2, required=True)


class SettleForm(OnceForm):
    """What came of a message of which nobody knew whether it had left."""

    found = chips(
        "What came of it",
        {Settled.SENT: "it arrived", Settled.AGAIN: "it did not: send it again"},
        required=True,
    )
