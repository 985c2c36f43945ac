"""Whether a person wants letters, and how the studio knows: the answers they gave, and the addresses they shut."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from zoneinfo import ZoneInfo

from crm.models import Consent, Contact, Suppression
from crm.selectors.reach import address_hash

NEVER_ASKED = "Never asked whether reminders are wanted: none are sent."
WANTED = "Reminders by e-mail are wanted."
NOT_WANTED = "Reminders are not wanted. Notes about our own work still go out."
SHUT = "No reminders go out: they stopped them themselves, and nobody has heard a yes from them since."


@dataclass(frozen=True)
class LettersWanted:
    """What stands, why, and what came before it."""

    words: str
    why: tuple[str, ...]
    """In whole sentences."""
    shut: tuple[str, ...]
    """Every time in which one of their addresses was shut against letters."""


def letters_wanted(
    consents: Sequence[Consent], contacts: Sequence[Contact], *, zone: ZoneInfo
) -> LettersWanted:
    """What stands about letters by e-mail, in one query. `consents`: every answer, the newest first."""
    asked = [
        row
        for row in consents
        if row.purpose == Consent.Purpose.LETTERS and row.channel == Contact.Kind.EMAIL
    ]
    addresses = {address_hash(row.value): row for row in contacts if row.kind == Contact.Kind.EMAIL}
    times = [
        (addresses[row.address_hash], row)
        for row in Suppression.objects.filter(address_hash__in=addresses).select_related("by", "lifted_by")
    ]
    still = {contact.pk for contact, row in times if row.lifted_at is None}
    return LettersWanted(
        words=_stands(asked, open_ones=len(addresses) - len(still), shut=len(still)),
        why=(
            *([_how_it_came(asked, zone)] if asked else []),
            *(_still_shut(contact, row, zone) for contact, row in times if _needs_saying(row, asked)),
        ),
        shut=tuple(_time(contact, row, zone) for contact, row in times),
    )


def _stands(asked: Sequence[Consent], *, open_ones: int, shut: int) -> str:
    if not asked:
        return NEVER_ASKED
    if not asked[0].given:
        return NOT_WANTED
    return SHUT if shut and not open_ones else WANTED


def _how_it_came(asked: Sequence[Consent], zone: ZoneInfo) -> str:
    """The newest answer, after the no before it where it is a yes again."""
    newest = asked[0]
    before = next((row for row in asked[1:] if not row.given), None)
    if not newest.given or before is None:
        return _upper(f"{_said(newest, zone)}.")
    return _upper(f"{_said(before, zone)}; {_said(newest, zone, again=' again')}.")


def _said(answer: Consent, zone: ZoneInfo, *, again: str = "") -> str:
    on = _day(answer.at, zone)
    if answer.how == Consent.BY_LINK:
        return f"stopped by {answer.how} on {on}"
    what = f"{'yes' if answer.given else 'no'}{again}"
    if answer.by is None:
        return f"{what}, {answer.how}, on {on}"
    return f"{what}, told {answer.how} on {on} (written down by {answer.by})"


def _needs_saying(row: Suppression, asked: Sequence[Consent]) -> bool:
    """An address that is shut though the answers alone would not say so."""
    return row.lifted_at is None and not (asked and not asked[0].given)


def _still_shut(contact: Contact, row: Suppression, zone: ZoneInfo) -> str:
    return f"{contact} gets no letters since {_day(row.at, zone)}: {row.because}."


def _time(contact: Contact, row: Suppression, zone: ZoneInfo) -> str:
    words = f"{contact}: no letters since {_day(row.at, zone)}, {row.because}{_by(row.by)}"
    if row.lifted_at is None:
        return f"{words}."
    return f"{words}; again since {_day(row.lifted_at, zone)}, {row.lifted_because}{_by(row.lifted_by)}."


def _by(who: object) -> str:
    return f" ({who})" if who else ""


def _day(moment: datetime, zone: ZoneInfo) -> str:
    return f"{moment.astimezone(zone):%-d %B %Y}"


def _upper(words: str) -> str:
    return words[:1].upper() + words[1:]
