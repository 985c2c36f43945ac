"""Who may get a letter now, by which address, and if not, why not, in words the studio can read out."""

from __future__ import annotations

import hashlib
from collections.abc import Collection, Iterable, Mapping
from dataclasses import dataclass, field
from datetime import date, datetime, timedelta

from django.db.models import F, Q
from django.db.models.functions import Coalesce

from crm.models import Consent, Contact, Message, Pause, Person, Studio, Suppression

YEAR = timedelta(days=365)
NO_ADDRESS = "no working e-mail address is known"
LETTER_KINDS = tuple(kind for kind in Message.Kind if kind not in Message.SERVICE_KINDS)
LEFT = (Message.State.SENT, Message.State.UNCERTAIN, Message.State.SENDING)
"""States in which a letter counts as one that the person got, or may have got."""


def address_hash(address: str) -> str:
    """What is kept of an address that must not be written to again."""
    return hashlib.sha256(address.strip().lower().encode()).hexdigest()


@dataclass(frozen=True, slots=True)
class Reach:
    """How a person can be written to: an address, or the reason why there is none to use."""

    contact: Contact | None
    against: str = ""

    @property
    def open(self) -> bool:
        return not self.against


def note_reach(person: Person) -> Reach:
    """How a note about work that was paid for reaches a person. It needs no consent, only an address."""
    if person.deceased:
        return Reach(None, "nothing is sent to this person")
    contact = _addresses([person.pk]).get(person.pk, [None])[0]
    return Reach(contact, "" if contact else NO_ADDRESS)


def letter_reach(
    people: Iterable[Person], *, now: datetime, studio: Studio, without: Collection[int] = ()
) -> dict[int, Reach]:
    """How each of these people can be sent a letter at that moment, by their number, in five queries.

    Looks at consent, suppressed addresses, pauses and the caps over all their cars. `without`: letters that count
    towards no cap, such as the one that is being asked about, which does not stand in its own way.
    """
    people = list(people)
    keys = [person.pk for person in people]
    known = _Known(
        today=now.astimezone(studio.zone).date(),
        studio=studio,
        addresses=_addresses(keys),
        consents=_newest_consents(keys),
        pauses=_pauses(keys, now.astimezone(studio.zone).date()),
        letters=_letters_left(keys, since=now - YEAR, without=without),
    )
    known.suppressed.update(_suppressed(known.addresses))
    return {person.pk: _reach(person, known) for person in people}


@dataclass(slots=True)
class _Known:
    today: date
    studio: Studio
    addresses: Mapping[int, list[Contact]]
    consents: Mapping[int, Consent]
    pauses: Mapping[int, Pause]
    letters: Mapping[int, list[datetime]]
    suppressed: set[str] = field(default_factory=set)


def _reach(person: Person, known: _Known) -> Reach:
    against = _person_against(person, known) or _caps_against(person, known)
    if against:
        return Reach(None, against)
    addresses = known.addresses.get(person.pk, [])
    if not addresses:
        return Reach(None, NO_ADDRESS)
    allowed = [contact for contact in addresses if address_hash(contact.value) not in known.suppressed]
    if not allowed:
        return Reach(None, "this address asked for no more letters")
    return Reach(allowed[0])


def _person_against(person: Person, known: _Known) -> str:
    if person.deceased:
        return "nothing is sent to this person"
    if person.moved_away:
        return "moved away"
    pause = known.pauses.get(person.pk)
    if pause is not None:
        return f"{pause.get_why_display()} since {pause.since:%-d %B %Y}"
    consent = known.consents.get(person.pk)
    if consent is None:
        return "has not agreed to letters by e-mail"
    if not consent.given:
        return f"said no to letters on {consent.at.astimezone(known.studio.zone):%-d %B %Y}"
    return ""


def _caps_against(person: Person, known: _Known) -> str:
    letters = known.letters.get(person.pk, [])
    if len(letters) >= known.studio.letters_a_year:
        return f"{len(letters)} letters in the last twelve months, and {known.studio.letters_a_year} are the most"
    if letters:
        last = max(letters).astimezone(known.studio.zone).date()
        if (known.today - last).days < known.studio.letter_gap_days:
            return f"the last letter went on {last:%-d %B %Y}"
    return ""


def _addresses(people: list[int]) -> dict[int, list[Contact]]:
    """Living e-mail addresses by person, the preferred one first."""
    found: dict[int, list[Contact]] = {}
    rows = Contact.objects.filter(person__in=people, kind=Contact.Kind.EMAIL, dead_since__isnull=True)
    for contact in rows.order_by("-preferred", "pk"):
        found.setdefault(contact.person_id, []).append(contact)
    return found


def _newest_consents(people: list[int]) -> dict[int, Consent]:
    rows = Consent.objects.filter(
        person__in=people, purpose=Consent.Purpose.LETTERS, channel=Contact.Kind.EMAIL
    ).order_by("at", "pk")
    return {row.person_id: row for row in rows}


def _pauses(people: list[int], today: date) -> dict[int, Pause]:
    rows = Pause.objects.filter(
        Q(until__isnull=True) | Q(until__gte=today), person__in=people, since__lte=today
    )
    return {row.person_id: row for row in rows}


def _letters_left(
    people: list[int], *, since: datetime, without: Collection[int]
) -> dict[int, list[datetime]]:
    rows = Message.objects.filter(person__in=people, kind__in=LETTER_KINDS, state__in=LEFT)
    if without:
        rows = rows.exclude(pk__in=without)
    found: dict[int, list[datetime]] = {}
    dated = rows.annotate(left_at=Coalesce(F("sent_at"), F("claimed_at"))).filter(left_at__gt=since)
    for person, left_at in dated.values_list("person_id", "left_at"):
        found.setdefault(person, []).append(left_at)
    return found


def _suppressed(addresses: Mapping[int, list[Contact]]) -> set[str]:
    hashes = {address_hash(contact.value) for contacts in addresses.values() for contact in contacts}
    shut = Suppression.objects.filter(address_hash__in=hashes, lifted_at__isnull=True)
    return set(shut.values_list("address_hash", flat=True))
