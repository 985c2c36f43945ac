"""Each way in which a mail server can answer, and what becomes of the message and of the address."""

from __future__ import annotations

import socket
from collections.abc import Sequence
from datetime import timedelta
from unittest.mock import patch

import pytest
from django.db import connection
from pytest_django import Settings

from crm.models import Contact, Message, Sheet
from crm.post.headers import File
from crm.post.plan import plan_letters
from crm.post.retry import declare_uncertain
from crm.post.tick import tick
from crm.selectors.sheet import DAMAGED, SheetUnreadable
from tests.conftest import free_port
from tests.post.cast import (
    MAY,
    OCTOBER,
    FussyOffice,
    body,
    handed_over,
    message_of,
    no_papers,
    sealed_car,
    soon_after,
    turn,
)

pytestmark = pytest.mark.django_db
Kind, State = Message.Kind, Message.State


def _note() -> Message:
    return message_of(handed_over(), Kind.AFTERCARE)


def _contact(message: Message) -> Contact:
    return Contact.objects.get(person=message.person, kind=Contact.Kind.EMAIL)


def test_taken_message_is_sent_with_its_words_and_address(office: FussyOffice) -> None:
    note = _note()
    assert turn(MAY).sent == 1
    note.refresh_from_db()
    assert (note.state, note.attempts, note.because) == (State.SENT, 1, "")
    assert note.address == _contact(note).value
    assert note.subject == "How to look after your blue Halden Estate"
    assert soon_after(note.sent_at, MAY)
    assert turn(MAY + timedelta(minutes=1)).sent == 0
    assert len(office.taken) == 1


def test_receiver_that_does_not_exist_fails_for_good_and_marks_the_address(office: FussyOffice) -> None:
    note = _note()
    office.answers = {_contact(note).value: "550 5.1.1 no such mailbox"}
    turn(MAY)
    note.refresh_from_db()
    assert (note.state, note.because) == (
        State.FAILED,
        "The address does not work: 550 5.1.1 no such mailbox",
    )
    contact = _contact(note)
    assert contact.dead_since is not None
    assert contact.dead_because == note.because
    assert turn(MAY + timedelta(hours=5)).sent == 0


def test_receiver_refused_for_policy_keeps_the_address(office: FussyOffice) -> None:
    note = _note()
    office.answers = {_contact(note).value: "550 5.7.1 relaying denied"}
    turn(MAY)
    note.refresh_from_db()
    assert note.state == State.FAILED
    assert _contact(note).dead_since is None


def test_receiver_put_off_three_times_within_72_hours_fails(office: FussyOffice) -> None:
    note = _note()
    office.answers = {_contact(note).value: "451 4.2.0 mailbox busy"}
    tried = []
    now = MAY
    while note.state == State.WAITING:
        turn(now)
        note.refresh_from_db()
        tried.append(now)
        now = note.next_try_at
    assert len(tried) == 3
    assert tried[-1] - tried[0] <= timedelta(hours=72)
    assert (note.state, note.attempts) == (State.FAILED, 3)
    assert note.because.startswith("Given up after 3 tries. The mail server put the receiver off: 451")
    assert _contact(note).dead_since is not None


def test_next_try_is_stored_and_nothing_leaves_before_it(office: FussyOffice) -> None:
    note = _note()
    office.to_data = "452 4.3.1 out of space"
    turn(MAY)
    note.refresh_from_db()
    assert note.state == State.WAITING
    assert soon_after(note.next_try_at, MAY + timedelta(hours=2))
    office.to_data = "250 Taken"
    assert turn(MAY + timedelta(hours=1, minutes=59)).sent == 0
    assert turn(MAY + timedelta(hours=2, minutes=1)).sent == 1
    assert _contact(note).dead_since is None


def test_content_refused_fails_and_keeps_the_address(office: FussyOffice) -> None:
    note = _note()
    office.to_data = "554 5.6.0 not wanted"
    turn(MAY)
    note.refresh_from_db()
    assert (note.state, note.because) == (
        State.FAILED,
        "The mail server refused the message: 554 5.6.0 not wanted",
    )
    assert _contact(note).dead_since is None


def test_refused_sender_is_our_own_fault_and_stops_the_post(office: FussyOffice) -> None:
    first, second = _note(), _note()
    office.to_mail = "553 5.1.8 sender not allowed"
    assert turn(MAY).not_sent == 1
    first.refresh_from_db()
    second.refresh_from_db()
    assert (first.state, first.attempts, second.state) == (State.HELD, 0, State.WAITING)
    assert first.because.startswith("The mail server does not accept our address as sender")
    assert _contact(first).dead_since is None
    office.to_mail = "250 OK"
    assert turn(MAY + timedelta(minutes=5)).sent == 0


def test_sender_put_off_is_tried_again(office: FussyOffice) -> None:
    note = _note()
    office.to_mail = "450 4.7.1 slow down"
    turn(MAY)
    note.refresh_from_db()
    assert (note.state, note.attempts) == (State.WAITING, 1)


def test_sign_in_refused_is_our_own_fault(office: FussyOffice, settings: Settings) -> None:
    settings.EMAIL_HOST_USER, settings.EMAIL_HOST_PASSWORD = "yard", "wrong"
    note = _note()
    turn(MAY)
    note.refresh_from_db()
    # The server offers no sign-in at all, so the settings ask of it what it cannot do.
    assert note.state == State.HELD
    assert _contact(note).dead_since is None


def test_server_that_is_down_costs_no_try(settings: Settings, office: FussyOffice) -> None:
    up, settings.EMAIL_PORT = settings.EMAIL_PORT, free_port()
    first, second = _note(), _note()
    turn(MAY)
    first.refresh_from_db()
    second.refresh_from_db()
    assert (first.state, first.attempts) == (State.WAITING, 0)
    assert soon_after(first.next_try_at, MAY + timedelta(minutes=10))
    assert first.because.startswith("The mail server cannot be reached")
    # The second was not even tried: it would have fared no better.
    assert (second.because, second.claimed_at) == ("", None)
    settings.EMAIL_PORT = up
    assert turn(MAY + timedelta(minutes=11)).sent == 2


def test_server_that_never_speaks_is_unreachable(settings: Settings) -> None:
    settings.EMAIL_BACKEND = "django.core.mail.backends.smtp.EmailBackend"
    settings.EMAIL_TIMEOUT = 1
    note = _note()
    with socket.socket() as silent:
        silent.bind(("127.0.0.1", 0))
        silent.listen()
        settings.EMAIL_HOST, settings.EMAIL_PORT = silent.getsockname()
        turn(MAY)
    note.refresh_from_db()
    assert (note.state, note.attempts) == (State.WAITING, 0)


def test_answer_lost_after_the_message_was_handed_over_waits_for_a_person(office: FussyOffice) -> None:
    note = _note()
    office.hangs_up = True
    turn(MAY)
    note.refresh_from_db()
    assert note.state == State.UNCERTAIN
    assert note.because.startswith("The message was handed over, but no answer came")
    assert len(office.taken) == 1
    office.hangs_up = False
    for hours in (1, 30, 100):
        turn(MAY + timedelta(hours=hours))
    assert [mail["To"] for mail in office.taken].count(str(office.taken[0]["To"])) == 1


def test_message_stuck_in_sending_becomes_uncertain_after_a_quarter_of_an_hour(office: FussyOffice) -> None:
    note = _note()
    Message.objects.filter(pk=note.pk).update(state=State.SENDING, claimed_at=MAY)
    assert declare_uncertain(now=MAY + timedelta(minutes=14)) == 0
    assert turn(MAY + timedelta(minutes=15)).stuck == 1
    note.refresh_from_db()
    assert note.state == State.UNCERTAIN
    turn(MAY + timedelta(days=1))
    assert office.taken == []


def test_receipt_that_comes_after_a_message_was_declared_uncertain_settles_it(office: FussyOffice) -> None:
    note = _note()

    def slow(_sheet: Sheet) -> Sequence[File]:
        assert declare_uncertain(now=MAY + timedelta(minutes=16)) == 1
        return ()

    tick(now=MAY, papers=slow)
    note.refresh_from_db()
    assert (note.state, note.because) == (State.SENT, "The mail server's answer came late.")


def test_paper_that_cannot_be_printed_fails_and_sends_nothing(office: FussyOffice) -> None:
    note = _note()

    def broken(_sheet: Sheet) -> Sequence[File]:
        raise RuntimeError("out of ink")

    tick(now=MAY, papers=broken)
    note.refresh_from_db()
    # What broke is for the log; whoever reads the row is told what to do.
    assert (note.state, note.because) == (
        State.FAILED,
        "The aftercare sheet could not be printed; the log says why. Have that mended and send it again.",
    )
    assert office.taken == []


def test_message_that_cannot_be_worded_does_not_stop_the_next(office: FussyOffice) -> None:
    broken, sound = _note(), _note()
    assert broken.sheet is not None
    Sheet.objects.filter(pk=broken.sheet.pk).update(content={})
    assert turn(MAY).sent == 1
    broken.refresh_from_db()
    sound.refresh_from_db()
    assert (broken.state, sound.state) == (State.FAILED, State.SENT)
    assert broken.because == DAMAGED


def test_sheet_that_cannot_be_read_any_more_fails_its_note_with_what_to_do(office: FussyOffice) -> None:
    note = _note()

    def unreadable(_sheet: Sheet) -> Sequence[File]:
        raise SheetUnreadable(DAMAGED)

    tick(now=MAY, papers=unreadable)
    note.refresh_from_db()
    assert (note.state, note.because, office.taken) == (State.FAILED, DAMAGED, [])


def test_letter_whose_facts_make_no_words_fails_with_a_sentence_and_no_piece_of_code(
    office: FussyOffice,
) -> None:
    sealed_car()
    plan_letters(now=OCTOBER)
    letter = Message.objects.get()
    with patch("crm.post.render.paragraph", side_effect=KeyError("product")):
        turn(OCTOBER)
    letter.refresh_from_db()
    assert (letter.state, letter.because) == (
        State.FAILED,
        "It could not be put into words from what is on record; the log says why. Have that mended, then send it.",
    )


@pytest.mark.django_db(transaction=True)
def test_message_is_sent_outside_any_transaction_with_its_claim_committed(office: FussyOffice) -> None:
    note = _note()
    seen = []

    def look(_sheet: Sheet) -> Sequence[File]:
        seen.append((connection.in_atomic_block, Message.objects.get(pk=note.pk).state))
        return ()

    tick(now=MAY, papers=look)
    assert seen == [(False, State.SENDING)]


def test_lines_that_begin_with_a_dot_arrive_whole(office: FussyOffice) -> None:
    note = _note()
    assert note.sheet is not None
    content = note.sheet.content
    content["advice"]["headlines"] = [".a line with a dot", "..and one with two"]
    Sheet.objects.filter(pk=note.sheet.pk).update(content=content)
    turn(MAY)
    lines = body(office.taken[0]).splitlines()
    assert [line for line in lines if line.startswith(".")] == [".a line with a dot", "..and one with two"]


def test_mail_folder_takes_messages_until_a_server_is_set(settings: Settings) -> None:
    note = _note()
    settings.EMAIL_BACKEND = "crm.config.mail_folder.MailFolderBackend"
    assert tick(now=MAY, papers=no_papers).sent == 1
    note.refresh_from_db()
    assert note.state == State.SENT
