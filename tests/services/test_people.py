"""What a person says themselves about letters, and what the post then does."""

from __future__ import annotations

from datetime import timedelta

import pytest

from crm.models import Consent, Contact, Matter, Message, Person, Rank, Suppression
from crm.post.plan import plan_letters
from crm.post.stop import stop_letters
from crm.selectors.reach import address_hash, letter_reach
from crm.services.errors import Refused
from crm.services.people import hear_answer
from crm.services.registry import Answer, add_contact
from crm.services.taking_on import NewKeeper, keeper_on_file
from tests import factories
from tests.conftest import PostOffice
from tests.post.cast import OCTOBER, sealed_car, turn, willing

pytestmark = pytest.mark.django_db
State = Message.State
DAY = timedelta(days=1)


def _said(
    given: bool, *, purpose: str = Consent.Purpose.LETTERS, channel: str = Contact.Kind.EMAIL
) -> Answer:
    return Answer(
        purpose=purpose, channel=channel, given=given, wording=factories.WORDING, how="on the telephone"
    )


def _shut(person: Person) -> bool:
    studio = factories.studio()
    return letter_reach([person], now=OCTOBER, studio=studio)[person.pk].against == (
        "this address asked for no more letters"
    )


def test_a_no_told_to_the_studio_shuts_every_address_and_cancels_what_waits() -> None:
    car = sealed_car()
    keeper = car.roles.get().person
    add_contact(person=keeper, kind=Contact.Kind.EMAIL, value="second@example.org", by=None)
    plan_letters(now=OCTOBER)
    desk = factories.user(Rank.DESK)
    hear_answer(person=keeper, answer=_said(False), at=OCTOBER, by=desk)
    letter = Message.objects.get()
    assert (letter.state, letter.because) == (State.CANCELLED, "no more letters: on the telephone")
    rows = Suppression.objects.order_by("address_hash")
    assert [row.address_hash for row in rows] == sorted(
        address_hash(contact.value) for contact in keeper.contacts.filter(kind=Contact.Kind.EMAIL)
    )
    assert {(row.because, row.at, row.by, row.lifted_at) for row in rows} == {
        ("on the telephone", OCTOBER, desk, None)
    }


def test_a_yes_in_a_list_does_not_open_what_the_owner_shut_and_their_own_yes_does() -> None:
    ada = willing("Ada Quill", email="ada@example.com")
    stop_letters(person=ada, how=Consent.BY_LINK, now=OCTOBER - 2 * DAY)
    factories.consent(ada, given=True, at=OCTOBER - DAY)
    assert _shut(ada)
    desk = factories.user(Rank.DESK)
    hear_answer(person=ada, answer=_said(True), at=OCTOBER, by=desk)
    assert not _shut(ada)
    row = Suppression.objects.get()
    assert (row.because, row.at, row.by) == ("the link in a letter", OCTOBER - 2 * DAY, None)
    assert (row.lifted_because, row.lifted_at, row.lifted_by) == ("on the telephone", OCTOBER, desk)


def test_after_a_yes_again_the_letter_is_planned_afresh_and_leaves(post_office: PostOffice) -> None:
    car = sealed_car()
    keeper = car.roles.get().person
    plan_letters(now=OCTOBER)
    stop_letters(person=keeper, how=Consent.BY_LINK, now=OCTOBER)
    plan_letters(now=OCTOBER + DAY)
    assert [message.state for message in Message.objects.all()] == [State.CANCELLED]
    hear_answer(person=keeper, answer=_said(True), at=OCTOBER + DAY, by=factories.user(Rank.DESK))
    plan_letters(now=OCTOBER + DAY)
    turn(OCTOBER + DAY)
    first, second = Message.objects.order_by("pk")
    assert (first.state, second.state) == (State.CANCELLED, State.SENT)
    assert len(post_office.taken) == 1


def test_what_a_person_of_the_studio_cancelled_stays_settled_after_a_yes_again() -> None:
    car = sealed_car()
    keeper = car.roles.get().person
    plan_letters(now=OCTOBER)
    desk = factories.user(Rank.DESK)
    Message.objects.update(state=State.CANCELLED, because="rang her instead", touched_by=desk)
    keys = set(Matter.objects.values_list("key", flat=True))
    stop_letters(person=keeper, how=Consent.BY_LINK, now=OCTOBER)
    hear_answer(person=keeper, answer=_said(True), at=OCTOBER + DAY, by=desk)
    assert set(Matter.objects.values_list("key", flat=True)) == keys


def test_a_second_no_shuts_the_address_again_and_both_times_stay_on_record() -> None:
    ada = willing("Ada Quill")
    for day, given in enumerate((False, True, False)):
        hear_answer(person=ada, answer=_said(given), at=OCTOBER + day * DAY, by=None)
    assert [row.lifted_at for row in Suppression.objects.all()] == [OCTOBER + DAY, None]


@pytest.mark.parametrize(
    "answer",
    [_said(False, purpose=Consent.Purpose.PHOTOS), _said(False, channel=Contact.Kind.PHONE)],
    ids=["photos", "telephone"],
)
def test_an_answer_to_another_question_shuts_no_address(answer: Answer) -> None:
    ada = willing("Ada Quill")
    hear_answer(person=ada, answer=answer, at=OCTOBER, by=None)
    assert Suppression.objects.count() == 0
    assert Consent.objects.filter(person=ada).count() == 2


def test_an_older_answer_written_down_late_changes_nothing_about_the_newest() -> None:
    ada = willing("Ada Quill")
    stop_letters(person=ada, how=Consent.BY_LINK, now=OCTOBER)
    hear_answer(person=ada, answer=_said(True), at=OCTOBER - DAY, by=None)
    assert Suppression.objects.filter(lifted_at__isnull=True).count() == 1


def test_the_yes_of_one_person_leaves_the_no_of_another_at_the_same_address() -> None:
    ada, bram = (willing(name, email="both@example.com") for name in ("Ada Quill", "Bram Quill"))
    stop_letters(person=ada, how=Consent.BY_LINK, now=OCTOBER)
    hear_answer(person=bram, answer=_said(True), at=OCTOBER, by=None)
    reach = letter_reach([ada, bram], now=OCTOBER, studio=factories.studio())
    assert (reach[ada.pk].open, reach[bram.pk].open) == (False, True)


def test_a_keeper_who_says_yes_when_a_car_is_taken_on_opens_their_address() -> None:
    ada = willing("Ada Quill", email="ada@example.com")
    stop_letters(person=ada, how=Consent.BY_LINK, now=OCTOBER - DAY)
    desk = factories.user(Rank.DESK)
    known = NewKeeper(name="Ada Quill", email="ada@example.com", letters=True, wording="May we?")
    assert keeper_on_file(keeper=known, by=desk, now=OCTOBER) == ada
    assert letter_reach([ada], now=OCTOBER, studio=factories.studio())[ada.pk].open


def test_the_bench_hears_no_answers() -> None:
    ada = willing("Ada Quill")
    with pytest.raises(Refused, match="may not do this"):
        hear_answer(person=ada, answer=_said(False), at=OCTOBER, by=factories.user(Rank.BENCH))
    assert Suppression.objects.count() == 0
