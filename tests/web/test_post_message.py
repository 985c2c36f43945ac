"""One message: as its receiver reads it, its facts, and what a person may do with it."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta

import pytest
import time_machine
from django.urls import reverse
from django.utils.html import escape

from crm.models import Matter, Message, Rank
from crm.post.plan import plan_letters
from crm.web.studio import post_message
from tests import factories
from tests.factories import NOW
from tests.post.cast import handed_over, message_of, sealed_car, willing
from tests.web.test_due_back import ODD

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("clock")]
Kind, State = Message.Kind, Message.State
ACTS = ("message_hold", "message_release", "message_send", "message_cancel", "message_resolve")


def aftercare() -> Message:
    return message_of(handed_over(), Kind.AFTERCARE)


def letter(*, at: datetime = datetime(2026, 10, 6, 9, 0, tzinfo=UTC)) -> Message:
    """A letter that waits about a car that was sealed in May."""
    sealed_car(willing("Ada Quill"))
    plan_letters(now=at)
    return Message.objects.exclude(kind__in=Message.SERVICE_KINDS).get()


def as_it_stands(row: Message, **columns: object) -> Message:
    Message.objects.filter(pk=row.pk).update(**columns)
    row.refresh_from_db()
    return row


def read(row: Message, rank: Rank = Rank.MANAGER) -> str:
    return factories.signed_in(rank).get(reverse("message", args=[row.pk])).content.decode()


def test_a_waiting_note_is_shown_in_the_words_it_would_have_now_and_nothing_is_written() -> None:
    row = aftercare()
    shown = read(row)
    row.refresh_from_db()
    assert (row.text, row.attempts, row.state) == ("", 0, State.WAITING)
    assert "As it would read if it left now." in shown
    assert "Hello Cerys Harrow," in shown
    assert "handed over on 4 May 2026, 15:10" in shown
    assert row.message_id in shown


def test_papers_are_linked_from_an_aftercare_note_only() -> None:
    visit = handed_over()
    note, wash_now = message_of(visit, Kind.AFTERCARE), message_of(visit, Kind.WASH_NOW)
    links = [reverse(name, args=[visit.pk]) for name in ("sheet_pdf", "sheet_ics")]
    assert [link in read(note) for link in links] == [True, True]
    assert [link in read(wash_now) for link in links] == [False, False]


def test_what_was_sent_is_shown_word_for_word_whatever_the_facts_are_now() -> None:
    row = as_it_stands(
        aftercare(),
        state=State.SENT,
        sent_at=NOW,
        claimed_at=NOW,
        attempts=1,
        address="cerys@example.com",
        subject="As it was",
        text="Hello Cerys, these exact words.",
        html="<p>Hello Cerys, these <b>exact</b> words.</p>",
    )
    shown = read(row)
    assert ("these exact words" in shown, "As it would read" in shown) == (True, False)
    assert "left for cerys@example.com" in shown
    frame = factories.signed_in().get(reverse("message_as_read", args=[row.pk]))
    assert frame.content == b"<p>Hello Cerys, these <b>exact</b> words.</p>"


def test_words_of_an_earlier_try_are_not_taken_for_those_of_now() -> None:
    row = as_it_stands(aftercare(), subject="old", text="Old words.", html="<p>Old words.</p>", attempts=1)
    shown = read(row)
    assert ("Old words." in shown, "Hello Cerys Harrow," in shown) == (False, True)


def test_the_frame_may_run_nothing_fetch_nothing_and_stand_nowhere_else() -> None:
    row = as_it_stands(aftercare(), html="<script>alert(1)</script><p>x</p>", text="x", state=State.FAILED)
    answer = factories.signed_in().get(reverse("message_as_read", args=[row.pk]))
    parts = [part.strip().partition(" ") for part in answer["Content-Security-Policy"].split(";")]
    policy = {name: sources for name, _, sources in parts}
    assert policy == {
        "default-src": "'none'",
        "style-src": "'unsafe-inline'",
        "frame-ancestors": "'self'",
        "form-action": "'none'",
        "base-uri": "'none'",
        "sandbox": "",
    }
    assert answer["X-Frame-Options"] == "SAMEORIGIN"
    shown = read(row)
    assert f'<iframe src="{reverse("message_as_read", args=[row.pk])}" sandbox ' in shown
    assert "<script>alert(1)" not in shown


def test_a_letter_says_why_it_is_written_and_what_was_left_out() -> None:
    with time_machine.travel("2026-10-06T09:00:00+00:00", tick=False):
        row = letter()
        dropped = row.matters.filter(kind=Kind.TOP_UP).first()
        assert dropped is not None
        Matter.objects.filter(pk=dropped.pk).update(dropped_because="the layer is no longer on the car")
        shown = read(row)
    assert "driven on salted roads, and Gannet paint sealant is likely to be thin by" in shown
    assert "left out: the layer is no longer on the car" in shown
    assert "counts among the letters of a year" in shown


def test_a_message_without_anything_left_to_say_is_still_a_page() -> None:
    with time_machine.travel("2026-10-06T09:00:00+00:00", tick=False):
        row = letter()
        row.matters.update(dropped_because="the car is sold")
        client = factories.signed_in()
        shown = client.get(reverse("message", args=[row.pk])).content.decode()
        frame = client.get(reverse("message_as_read", args=[row.pk]))
    assert "Nothing that this letter was about is still true." in shown
    assert frame.status_code == 404


def test_a_message_whose_facts_cannot_be_read_is_still_a_page_and_can_be_cancelled() -> None:
    row = aftercare()
    assert row.sheet is not None
    type(row.sheet).objects.filter(pk=row.sheet.pk).update(content={"not": "a sheet"})
    assert "This aftercare sheet cannot be read back from the record." in read(row)
    answer = factories.signed_in().post(reverse("message_cancel", args=[row.pk]), {"because": "unreadable"})
    assert answer.status_code == 302


def test_a_message_that_breaks_in_the_making_is_still_a_page(monkeypatch: pytest.MonkeyPatch) -> None:
    def broken(*_given: object, **_named: object) -> None:
        raise KeyError("product")

    monkeypatch.setattr(post_message, "as_it_reads", broken)
    assert "It cannot be put into words from what is on record." in read(aftercare())


def test_where_it_would_go_or_why_it_cannot_go_is_shown() -> None:
    row = aftercare()
    address = row.person.contacts.get(kind="email")
    assert f"now it would go to {address.value}" in read(row)
    type(address).objects.filter(pk=address.pk).update(dead_since=NOW)
    assert "no working e-mail address is known" in read(row)


def test_somebody_holds_and_releases_a_message() -> None:
    row = aftercare()
    client = factories.signed_in(Rank.DESK)
    client.post(reverse("message_hold", args=[row.pk]))
    row.refresh_from_db()
    assert row.state == State.HELD
    answer = client.post(reverse("message_release", args=[row.pk]), follow=True)
    row.refresh_from_db()
    assert (row.state, "It goes its way." in answer.content.decode()) == (State.WAITING, True)


def test_sending_now_puts_a_message_at_the_front() -> None:
    row = as_it_stands(aftercare(), next_try_at=NOW + timedelta(days=2))
    factories.signed_in().post(reverse("message_send", args=[row.pk]))
    row.refresh_from_db()
    assert (row.state, row.next_try_at) == (State.WAITING, NOW)


def test_a_message_is_cancelled_with_its_reason_and_not_without() -> None:
    row = aftercare()
    client = factories.signed_in()
    asked = client.post(reverse("message_cancel", args=[row.pk]), {"because": "   "})
    row.refresh_from_db()
    assert (asked.status_code, row.state) == (422, State.WAITING)
    assert "“Why it is not to be sent” is empty. Write it down." in asked.content.decode()
    client.post(reverse("message_cancel", args=[row.pk]), {"because": "rang and came in"})
    row.refresh_from_db()
    assert row.state == State.CANCELLED
    assert row.because.startswith("rang and came in")


@pytest.mark.parametrize(("found", "state"), [("sent", State.SENT), ("again", State.WAITING)])
def test_an_uncertain_message_is_settled(found: str, state: str) -> None:
    row = as_it_stands(aftercare(), state=State.UNCERTAIN, claimed_at=NOW - timedelta(hours=1))
    client = factories.signed_in()
    assert "Did it arrive?" in client.get(reverse("message", args=[row.pk])).content.decode()
    client.post(reverse("message_resolve", args=[row.pk]), {"found": found})
    row.refresh_from_db()
    assert row.state == state


def test_what_the_desk_refuses_is_said_on_the_page() -> None:
    row = as_it_stands(aftercare(), state=State.SENT, sent_at=NOW)
    for name in ACTS:
        typed = {"because": "a reason", "found": "again"}
        answer = factories.signed_in().post(reverse(name, args=[row.pk]), typed)
        assert (name, answer.status_code) == (name, 422)
        assert b'<p class="form-wrong">' in answer.content
    row.refresh_from_db()
    assert row.state == State.SENT


@pytest.mark.parametrize(("rank", "acts"), [(Rank.BENCH, False), (Rank.LEAD, False), (Rank.DESK, True)])
def test_only_the_desk_and_the_manager_read_and_act(rank: Rank, acts: bool) -> None:
    row = aftercare()
    client = factories.signed_in(rank)
    shown = client.get(reverse("message", args=[row.pk])).content.decode()
    assert ("Hello Cerys Harrow," in shown, "Send it now" in shown) == (acts, acts)
    assert ((reverse("post") in client.get(reverse("today")).content.decode()) is acts) is True
    for name in ACTS:
        assert (client.post(reverse(name, args=[row.pk])).status_code == 403) is not acts
        assert client.get(reverse(name, args=[row.pk])).status_code == (405 if acts else 403)


def test_a_message_that_does_not_exist_is_a_page_that_does_not_exist() -> None:
    client = factories.signed_in()
    for pk in (1, 10**18 - 1):
        assert client.get(reverse("message", args=[pk])).status_code == 404


@pytest.mark.parametrize("text", ODD, ids=range(len(ODD)))
def test_whatever_is_typed_is_taken_or_refused_with_a_sentence_and_kept(text: str) -> None:
    row = aftercare()
    client = factories.signed_in()
    for name, field in (
        ("message_cancel", "because"),
        ("message_resolve", "found"),
        ("message_hold", "once"),
    ):
        as_it_stands(row, state=State.UNCERTAIN if field == "found" else State.WAITING, claimed_at=NOW)
        typed = text.encode("utf-8", "replace").decode()
        answer = client.post(reverse(name, args=[row.pk]), {field: typed})
        assert answer.status_code in (302, 422)
        if answer.status_code == 422:
            assert b"errorlist" in answer.content
        if answer.status_code == 422 and field == "because":
            kept = escape(typed.replace("\0", ""))
            assert kept in answer.content.decode().replace("\0", "")
