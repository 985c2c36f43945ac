"""What stands about letters, and how the studio knows, in the words of a person's page."""

from __future__ import annotations

from datetime import UTC, datetime

import pytest

from crm.models import Consent, Contact, Person, Rank
from crm.post.stop import stop_letters
from crm.selectors.letters_wanted import NEVER_ASKED, NOT_WANTED, SHUT, WANTED, LettersWanted, letters_wanted
from crm.services.people import hear_answer
from crm.services.registry import Answer
from tests import factories

pytestmark = pytest.mark.django_db
THIRD_OF_MAY = datetime(2026, 5, 3, 9, tzinfo=UTC)
FOURTH_OF_JUNE = datetime(2026, 6, 4, 9, tzinfo=UTC)


def _stands(person: Person) -> LettersWanted:
    return letters_wanted(
        list(person.consents.select_related("by")),
        list(person.contacts.all()),
        zone=factories.studio().zone,
    )


def _hear(person: Person, at: datetime, *, given: bool) -> None:
    answer = Answer(
        purpose=Consent.Purpose.LETTERS,
        channel=Contact.Kind.EMAIL,
        given=given,
        wording=factories.WORDING,
        how="at the desk",
    )
    isla = factories.user(Rank.DESK, first_name="Isla")
    hear_answer(person=person, answer=answer, at=at, by=isla)


def test_somebody_never_asked_gets_none() -> None:
    assert _stands(factories.person()) == LettersWanted(NEVER_ASKED, (), ())


def test_the_link_in_a_letter_is_named_with_its_day() -> None:
    ada = factories.person(email="ada@example.com", letters=True, at=datetime(2026, 1, 2, tzinfo=UTC))
    stop_letters(person=ada, how=Consent.BY_LINK, now=THIRD_OF_MAY)
    stands = _stands(ada)
    assert (stands.words, stands.why) == (NOT_WANTED, ("Stopped by the link in a letter on 3 May 2026.",))
    assert stands.shut == ("ada@example.com: no letters since 3 May 2026, the link in a letter.",)


def test_a_yes_again_is_told_after_the_no_before_it() -> None:
    ada = factories.person(email="ada@example.com")
    stop_letters(person=ada, how=Consent.BY_LINK, now=THIRD_OF_MAY)
    _hear(ada, FOURTH_OF_JUNE, given=True)
    stands = _stands(ada)
    assert stands.words == WANTED
    told = "yes again, told at the desk on 4 June 2026 (written down by Isla)"
    assert stands.why == (f"Stopped by the link in a letter on 3 May 2026; {told}.",)
    until = "no letters since 3 May 2026, the link in a letter"
    assert stands.shut == (f"ada@example.com: {until}; again since 4 June 2026, at the desk (Isla).",)


def test_a_no_told_at_the_desk_says_to_whom() -> None:
    ada = factories.person(email="ada@example.com", letters=True, at=datetime(2026, 1, 2, tzinfo=UTC))
    _hear(ada, THIRD_OF_MAY, given=False)
    stands = _stands(ada)
    assert stands.why == ("No, told at the desk on 3 May 2026 (written down by Isla).",)
    assert stands.shut == ("ada@example.com: no letters since 3 May 2026, at the desk (Isla).",)


def test_a_yes_that_they_did_not_say_themselves_does_not_read_as_if_letters_went_out() -> None:
    ada = factories.person(email="ada@example.com")
    stop_letters(person=ada, how=Consent.BY_LINK, now=THIRD_OF_MAY)
    factories.consent(ada, given=True, at=FOURTH_OF_JUNE)
    stands = _stands(ada)
    assert stands.words == SHUT
    assert stands.why == (
        "Stopped by the link in a letter on 3 May 2026; yes again, at the desk, on 4 June 2026.",
        "ada@example.com gets no letters since 3 May 2026: the link in a letter.",
    )
