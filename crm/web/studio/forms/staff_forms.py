"""Forms about the people who sign in."""

from __future__ import annotations

from typing import Any

from django import forms
from django.utils.crypto import get_random_string

from crm.models import Branch, Rank, User
from crm.services.staff import StaffFacts
from crm.web.studio.forms.desk_fields import chips
from crm.web.studio.forms.entry import OnceForm, text_field

FEW_BRANCHES = 6
_EVERYWHERE = "every branch"
_PLAIN_LETTERS = "abcdefghjkmnpqrstuvwxyz23456789"
_LONGEST_PASSWORD = 128


def suggested_password() -> str:
    """A first password that can be read out: three groups without letters that look alike."""
    return "-".join(get_random_string(4, _PLAIN_LETTERS) for _ in range(3))


def _password_field(label: str, autocomplete: str, **known: Any) -> forms.CharField:
    return forms.CharField(
        label=label,
        max_length=_LONGEST_PASSWORD,
        strip=False,
        widget=forms.PasswordInput({"autocomplete": autocomplete}),
        **known,
    )


def _open_password_field(label: str) -> forms.CharField:
    """A password that is read out to somebody: it is shown while it is written, and never again."""
    return forms.CharField(
        label=label,
        max_length=_LONGEST_PASSWORD,
        strip=False,
        initial=suggested_password,
        widget=forms.TextInput({"autocomplete": "off", "autocapitalize": "none", "spellcheck": "false"}),
        help_text="Take this one or write another, and tell it to them now: it is not shown again. "
        "They change it in their own menu.",
    )


class FactsOfStaffForm(OnceForm):
    """What is known of somebody who signs in."""

    name = text_field("Name", 80, required=True, help_text="Stands beside everything they write down.")
    initials = text_field("Initials", 4, help_text="For the bay sheet. Empty takes those of the name.")
    rank = chips("Rank", dict(Rank.choices), required=True, initial=Rank.BENCH.value)

    def __init__(
        self, *args: Any, row: User | None = None, branch: Branch | None = None, **kwargs: Any
    ) -> None:
        if row is not None:
            kwargs["initial"] = {
                "name": row.get_full_name() or row.username,
                "initials": row.initials,
                "rank": row.rank,
            }
        super().__init__(*args, **kwargs)
        self.present = row.branch if row is not None else branch
        shown = list(Branch.objects.filter(is_open=True).order_by("name")[: FEW_BRANCHES + 1])
        self.few = len(shown) <= FEW_BRANCHES
        if self.few:
            if self.present is not None and self.present not in shown:
                shown.append(self.present)
            names = {str(branch.pk): branch.name for branch in shown}
            self.fields["branch"] = chips("Works at", names, unknown=_EVERYWHERE)
            self.initial.setdefault("branch", str(self.present.pk) if self.present else "")
        else:
            self.fields["branch"] = text_field(
                "Works at", 80, help_text="The name of a branch, or its beginning. Empty is every branch."
            )
            self.initial.setdefault("branch", self.present.name if self.present else "")

    def clean_branch(self) -> Branch | None:
        """The branch that was chosen or named."""
        value = self.cleaned_data["branch"]
        if not value:
            return None
        if self.few:
            return Branch.objects.get(pk=value)
        if self.present is not None and value == self.present.name:
            return self.present
        named = Branch.objects.filter(is_open=True)
        found = list(named.filter(name__iexact=value)[:1]) or list(named.filter(name__istartswith=value)[:2])
        if len(found) == 1:
            return found[0]
        if not found:
            raise forms.ValidationError("No open branch is called that.")
        raise forms.ValidationError("Several branches begin like that: write a little more.")

    def facts(self) -> StaffFacts:
        """What was written, as the service wants it."""
        data = self.cleaned_data
        return StaffFacts(
            name=data["name"], initials=data["initials"], rank=Rank(data["rank"]), branch=data["branch"]
        )


class NewStaffForm(FactsOfStaffForm):
    """Somebody new, with the name they sign in with and a first password."""

    username = text_field(
        "Signs in as", 40, required=True, help_text="Letters and digits without spaces: ada, a.quill."
    )

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["password"] = _open_password_field("First password")
        self.fields["username"].widget.attrs |= {"autocapitalize": "none", "spellcheck": "false"}
        self.order_fields(["name", "initials", "rank", "branch", "username", "password"])


class PasswordForm(OnceForm):
    """A new password for somebody else."""

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["password"] = _open_password_field("New password")


class OwnPasswordForm(OnceForm):
    """A new password for oneself."""

    old = _password_field("Your present password", "current-password")
    new = _password_field(
        "The new one", "new-password", help_text="Ten characters or more; three words are easy to keep."
    )
    again = _password_field("The new one again", "new-password")

    def clean(self) -> dict[str, Any]:
        """Twice the same."""
        cleaned = super().clean() or self.cleaned_data
        if {"new", "again"} <= set(cleaned) and cleaned["new"] != cleaned["again"]:
            self.add_error("again", "The two are not the same. Type both again.")
        return cleaned
