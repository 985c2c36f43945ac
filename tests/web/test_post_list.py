"""The post as a list: what needs a person first, then what waits, then what is over."""

from __future__ import annotations

from datetime import timedelta
from pathlib import Path

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse
from pytest_django import Settings

from crm.models import Matter, Message, Rank
from tests import factories
from tests.factories import NOW
from tests.web.test_due_back import ODD
from tests.web.world import a_message

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("clock")]
Kind, State = Message.Kind, Message.State


def posted(name: str, state: str, *, kind: str = Kind.TOP_UP, mark: str = "", because: str = "") -> Message:
    """A message to somebody of that name about a car of theirs."""
    person = factories.person(name)
    car = factories.car(mark, keeper=person)
    row = a_message(
        person,
        kind=kind,
        state=state,
        because=because,
        sent_at=NOW if state == State.SENT else None,
        claimed_at=NOW if state in (State.SENDING, State.UNCERTAIN) else None,
        not_before=NOW + timedelta(hours=Message.objects.count()),
        next_try_at=NOW + timedelta(hours=Message.objects.count()),
    )
    for number in range(3):
        Matter.objects.create(message=row, kind=kind, car=car, key=f"{row.pk}:{number}")
    return row


def page(client: Client, **query: str) -> str:
    return client.get(reverse("post"), query).content.decode()


def test_an_empty_post_says_what_will_stand_there() -> None:
    shown = page(factories.signed_in())
    assert "Nothing waits." in shown
    assert "No message has left yet." in shown


def test_what_needs_a_person_comes_first_and_what_is_over_last() -> None:
    posted("Ada Sent", State.SENT)
    posted("Bram Waits", State.WAITING)
    posted("Cerys Failed", State.FAILED, because="550 no such mailbox")
    posted("Dov Uncertain", State.UNCERTAIN)
    posted("Esme Cancelled", State.CANCELLED, because="rang and came in")
    shown = page(factories.signed_in())
    names = ("Dov Uncertain", "Cerys Failed", "Bram Waits", "Esme Cancelled", "Ada Sent")
    assert sorted(names, key=shown.index) == list(names)
    assert ("550 no such mailbox" in shown, "rang and came in" in shown) == (True, True)


def test_a_car_with_several_matters_is_named_once() -> None:
    posted("Ada Quill", State.WAITING, mark="QA26 DEM")
    assert page(factories.signed_in()).count("QA26 DEM") == 1


@pytest.mark.parametrize(
    ("state", "shown"),
    [
        ("needs", {"Cerys", "Dov", "Hamish"}),
        ("waits", {"Bram", "Finn", "Greta"}),
        ("sent", {"Ada"}),
        ("cancelled", {"Esme"}),
        ("missed", {"Ines"}),
    ],
)
def test_a_state_shows_its_messages_and_no_others(state: str, shown: set[str]) -> None:
    desk = factories.user(Rank.DESK)
    states = {
        "Ada": State.SENT,
        "Bram": State.WAITING,
        "Cerys": State.FAILED,
        "Dov": State.UNCERTAIN,
        "Esme": State.CANCELLED,
        "Finn": State.SENDING,
        "Greta": State.HELD,
        "Hamish": State.HELD,
        "Ines": State.MISSED,
    }
    rows = {name: posted(f"{name} Quill", of) for name, of in states.items()}
    # Held by a person it waits; held by the post itself it needs one.
    Message.objects.filter(pk=rows["Greta"].pk).update(touched_by=desk)
    answer = page(factories.signed_in(), state=state)
    assert {name for name in states if f"{name} Quill" in answer} == shown


def test_kind_and_text_narrow_every_part() -> None:
    posted("Ada Quill", State.WAITING, kind=Kind.WINTER, mark="QA26 DEM")
    posted("Bram Penrose", State.WAITING, kind=Kind.TOP_UP, mark="QB27 XYZ")
    client = factories.signed_in()

    def both(**query: str) -> tuple[bool, bool]:
        shown = page(client, **query)
        return "Ada Quill" in shown, "Bram Penrose" in shown

    assert both(kind="winter") == (True, False)
    assert both(text="penr") == (False, True)
    assert both(text="a26") == (True, False)
    assert both(text=Message.objects.get(kind=Kind.TOP_UP).person.contacts.get(kind="email").value) == (
        False,
        True,
    )
    assert both(kind="winter", text="penr") == (False, False)
    assert both(kind="top_up", state="sent") == (False, False)


def test_what_waits_comes_in_the_order_in_which_it_may_leave() -> None:
    late, soon = posted("Ada Quill", State.WAITING), posted("Bram Penrose", State.WAITING)
    Message.objects.filter(pk=late.pk).update(next_try_at=NOW + timedelta(days=9))
    shown = page(factories.signed_in(), state="waits")
    assert shown.index(soon.person.name) < shown.index(late.person.name)


def test_when_the_server_refused_the_studio_the_page_says_that_nothing_leaves() -> None:
    row = posted("Ada Quill", State.HELD, because="The server wants a password.")
    shown = page(factories.signed_in())
    assert ("Nothing leaves" in shown, "The server wants a password." in shown) == (True, True)
    assert reverse("message", args=[row.pk]) in shown


@pytest.mark.parametrize(("rank", "named"), [(Rank.MANAGER, True), (Rank.DESK, False), (Rank.BENCH, False)])
def test_only_the_manager_reads_the_path_of_the_mail_folder(
    rank: Rank, named: bool, settings: Settings, tmp_path: Path
) -> None:
    settings.MAIL_GOES_TO_FOLDER, settings.EMAIL_FILE_PATH = True, tmp_path
    shown = page(factories.signed_in(rank))
    assert ("Mail goes to a folder until SMTP is set" in shown, str(tmp_path) in shown) == (True, named)


def test_nothing_is_said_of_a_folder_once_a_server_is_set(settings: Settings) -> None:
    settings.MAIL_GOES_TO_FOLDER = False
    assert "Mail goes to a folder" not in page(factories.signed_in())


def test_only_the_list_is_answered_to_a_swap() -> None:
    answer = factories.signed_in().get(reverse("post"), headers={"HX-Request": "true"}).content.decode()
    assert ("<html" in answer, 'id="post-results"' in answer) == (False, True)


def test_the_number_of_queries_is_the_same_at_1_and_3_messages_of_each_part() -> None:
    client = factories.signed_in()
    counts = []
    for more in (1, 2):
        for _ in range(more):
            for state in (State.FAILED, State.WAITING, State.SENT):
                posted("", state)
        with CaptureQueriesContext(connection) as queries:
            page(client)
        counts.append(len(queries))
    assert counts[0] == counts[1]


@pytest.mark.parametrize("text", ODD, ids=range(len(ODD)))
def test_whatever_stands_in_the_address_is_answered(text: str) -> None:
    posted("Ada Quill", State.WAITING)
    client = factories.signed_in()
    for name in ("state", "kind", "text", "page"):
        answer = client.get(reverse("post"), {name: text.encode("utf-8", "surrogatepass")})
        assert answer.status_code == 200
        assert b"<script>alert" not in answer.content
