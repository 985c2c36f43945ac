"""What a person may do with a message, and what even a person may not."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta

import pytest

from crm.models import Matter, Message
from crm.post import desk
from crm.post.desk import DeskRefused, Settled
from crm.post.plan import plan_letters
from tests import factories
from tests.post.cast import MAY, OCTOBER, FussyOffice, handed_over, message_of, sealed_car, soon_after, turn

pytestmark = pytest.mark.django_db
Kind, State = Message.Kind, Message.State
NIGHT = datetime(2026, 5, 4, 22, 0, tzinfo=UTC)


def _note() -> Message:
    return message_of(handed_over(), Kind.AFTERCARE)


def _letter() -> Message:
    car = sealed_car()
    plan_letters(now=OCTOBER)
    return Message.objects.get(person=car.roles.get().person)


def test_held_message_waits_until_it_is_released(office: FussyOffice) -> None:
    note, by = _note(), factories.user(username="ada")
    desk.hold(message=note, by=by, now=MAY)
    assert (note.state, note.because, note.touched_by) == (State.HELD, "held by ada on 4 May 2026, 15:10", by)
    assert turn(MAY).sent == 0
    desk.release(message=note, by=by, now=MAY)
    assert turn(MAY).sent == 1


def test_message_held_by_a_person_does_not_stop_the_others(office: FussyOffice) -> None:
    held = _note()
    _note()
    desk.hold(message=held, by=factories.user(), now=MAY)
    assert turn(MAY).sent == 1


def test_released_at_night_it_leaves_in_the_morning() -> None:
    note, by = _note(), factories.user()
    desk.hold(message=note, by=by, now=MAY)
    desk.release(message=note, by=by, now=NIGHT)
    assert note.next_try_at == datetime(2026, 5, 5, 8, tzinfo=UTC)


def test_post_that_stood_still_goes_on_once_its_message_is_released(office: FussyOffice) -> None:
    first, second = _note(), _note()
    office.to_mail = "553 sender not allowed"
    turn(MAY)
    office.to_mail = "250 OK"
    first.refresh_from_db()
    desk.release(message=first, by=factories.user(), now=MAY)
    assert turn(MAY + timedelta(minutes=1)).sent == 2
    second.refresh_from_db()
    assert second.state == State.SENT


def test_cancelled_message_keeps_its_reason_and_never_leaves(office: FussyOffice) -> None:
    note, by = _note(), factories.user(username="ada")
    desk.cancel(message=note, because="  the owner has\nthe sheet on paper ", by=by, now=MAY)
    assert note.because == "the owner has the sheet on paper (ada on 4 May 2026, 15:10)"
    assert turn(MAY).sent == 0
    with pytest.raises(DeskRefused, match="cancelled"):
        desk.send_now(message=note, by=by, now=MAY)


def test_cancelling_needs_a_reason() -> None:
    with pytest.raises(DeskRefused, match="Say why"):
        desk.cancel(message=_note(), because=" ", by=factories.user(), now=MAY)


def test_note_is_sent_now_even_at_night(office: FussyOffice) -> None:
    handed_over(at=MAY, now=NIGHT)
    note = Message.objects.get(kind=Kind.AFTERCARE)
    assert turn(NIGHT).sent == 0
    desk.send_now(message=note, by=factories.user(), now=NIGHT)
    assert turn(NIGHT + timedelta(minutes=1)).sent == 1


def test_letter_is_sent_now_in_sending_hours_only(office: FussyOffice) -> None:
    letter, night = _letter(), OCTOBER.replace(hour=22)
    desk.send_now(message=letter, by=factories.user(), now=night)
    assert letter.next_try_at == datetime(2026, 10, 7, 8, tzinfo=UTC)
    assert turn(night).sent == 0


def test_letter_is_never_sent_without_consent() -> None:
    letter = _letter()
    factories.consent(letter.person, given=False, at=OCTOBER)
    with pytest.raises(DeskRefused, match="said no to letters on 6 October 2026"):
        desk.send_now(message=letter, by=factories.user(), now=OCTOBER)


def test_consent_is_asked_again_after_send_now(office: FussyOffice) -> None:
    letter = _letter()
    desk.send_now(message=letter, by=factories.user(), now=OCTOBER)
    factories.consent(letter.person, given=False, at=OCTOBER)
    assert turn(OCTOBER + timedelta(minutes=1)).sent == 0
    letter.refresh_from_db()
    assert letter.state == State.CANCELLED


def test_failed_message_is_tried_afresh(office: FussyOffice) -> None:
    note = _note()
    others = Message.objects.exclude(pk=note.pk)
    Matter.objects.filter(message__in=others).delete()
    others.delete()
    office.to_data = "554 not wanted"
    turn(MAY)
    office.to_data = "250 Taken"
    note.refresh_from_db()
    later = MAY + timedelta(days=10)
    desk.send_now(message=note, by=factories.user(), now=later)
    assert (note.state, note.attempts) == (State.WAITING, 0)
    assert turn(later).sent == 1


def test_uncertain_message_that_had_left_is_settled(office: FussyOffice) -> None:
    note, by = _note(), factories.user()
    office.hangs_up = True
    turn(MAY)
    note.refresh_from_db()
    desk.resolve_uncertain(message=note, found=Settled.SENT, by=by, now=MAY + timedelta(hours=2))
    assert (note.state, note.touched_by) == (State.SENT, by)
    assert soon_after(note.sent_at, MAY)


def test_uncertain_message_is_sent_again_only_when_a_person_says_so(office: FussyOffice) -> None:
    note = _note()
    office.hangs_up = True
    turn(MAY)
    office.hangs_up = False
    assert turn(MAY + timedelta(hours=1)).sent == 0
    note.refresh_from_db()
    desk.resolve_uncertain(
        message=note, found=Settled.AGAIN, by=factories.user(), now=MAY + timedelta(hours=1)
    )
    assert turn(MAY + timedelta(hours=1, minutes=1)).sent == 1
    assert len({str(mail["Message-ID"]) for mail in office.taken}) == 1


def test_what_has_left_cannot_be_changed(office: FussyOffice) -> None:
    note, by = _note(), factories.user()
    turn(MAY)
    note.refresh_from_db()
    with pytest.raises(DeskRefused, match="it cannot be made held"):
        desk.hold(message=note, by=by, now=MAY)
    with pytest.raises(DeskRefused, match="Only a message that is held"):
        desk.release(message=note, by=by, now=MAY)
    with pytest.raises(DeskRefused, match="Only an uncertain message"):
        desk.resolve_uncertain(message=note, found=Settled.AGAIN, by=by, now=MAY)


def test_message_that_left_while_somebody_looked_at_it_says_so(office: FussyOffice) -> None:
    note = _note()
    turn(MAY)
    assert note.state == State.WAITING
    with pytest.raises(DeskRefused, match="has just left"):
        desk.send_now(message=note, by=factories.user(), now=MAY)
    with pytest.raises(DeskRefused, match="has just left"):
        desk.hold(message=note, by=factories.user(), now=MAY)
