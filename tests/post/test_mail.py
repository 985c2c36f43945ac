"""What arrives at the receiver's mail server, read back with the standard library's parser."""

from __future__ import annotations

import re
from datetime import UTC, datetime, timedelta
from email.message import EmailMessage
from email.utils import parsedate_to_datetime

import pytest
from icalendar import Calendar
from pytest_django import Settings

from crm.models import Car, Message, Person
from crm.papers.attached import aftercare_files
from crm.post.plan import plan_letters
from crm.post.render import as_it_reads
from crm.post.tick import tick
from tests import factories
from tests.post.cast import (
    MAY,
    OCTOBER,
    FussyOffice,
    body,
    handed_over,
    message_of,
    sealed_car,
    turn,
    willing,
)

pytestmark = pytest.mark.django_db
Kind = Message.Kind


def _letter(office: FussyOffice, *, now: datetime = OCTOBER) -> EmailMessage:
    plan_letters(now=now)
    turn(now)
    return office.taken[-1]


def test_aftercare_note_carries_sheet_and_calendar(office: FussyOffice) -> None:
    handed_over()
    tick(now=MAY, papers=aftercare_files)
    (mail,) = office.taken
    files = {part.get_content_type(): part for part in mail.iter_attachments()}
    assert set(files) == {"application/pdf", "text/calendar"}
    assert files["application/pdf"].get_filename() == "aftercare-blue-halden-estate.pdf"
    pdf = files["application/pdf"].get_payload(decode=True)
    assert isinstance(pdf, bytes)
    assert pdf.startswith(b"%PDF-")
    ics = files["text/calendar"].get_payload(decode=True)
    assert isinstance(ics, bytes)
    assert len(Calendar.from_ical(ics).walk("VEVENT")) > 0
    assert [part.get_content_type() for part in mail.walk() if not part.is_multipart()] == [
        "text/plain",
        "text/html",
        "application/pdf",
        "text/calendar",
    ]


def test_headers_of_a_note(office: FussyOffice) -> None:
    visit = handed_over()
    turn(MAY)
    (mail,) = office.taken
    note = message_of(visit, Kind.AFTERCARE)
    assert mail["Message-ID"] == f"<{note.message_id}>"
    # RFC 3834 section 5: our own scheduled mail is auto-generated, and there is one such header at most.
    assert mail.get_all("Auto-Submitted") == ["auto-generated"]
    assert mail["From"] == "Greywater Yard <studio@localhost>"
    assert mail["Reply-To"] == "yard@example.com"
    assert mail["To"] == f"Cerys Harrow <{note.address}>"
    assert abs(parsedate_to_datetime(str(mail["Date"])) - MAY) < timedelta(minutes=1)
    assert mail["List-Unsubscribe"] is None


def test_letter_can_be_stopped_with_one_click(office: FussyOffice, settings: Settings) -> None:
    settings.BASE_URL = "https://yard.example.org"
    car = sealed_car()
    mail = _letter(office)
    key = car.roles.get().person.stop_key
    # RFC 8058 section 3.1: exactly one HTTPS URI, or none else but it and a mailto; the address is unbroken.
    assert mail.get_all("List-Unsubscribe") == [f"<https://yard.example.org/s/{key}>"]
    assert mail.get_all("List-Unsubscribe-Post") == ["List-Unsubscribe=One-Click"]
    assert f"https://yard.example.org/s/{key}" in body(mail)


def test_unsubscribe_header_stays_on_one_line(office: FussyOffice, settings: Settings) -> None:
    settings.BASE_URL = "https://yard.example.org"
    sealed_car()
    raw = _letter(office).as_bytes()
    assert (
        re.search(rb"\r?\nList-Unsubscribe: <https://yard.example.org/s/[A-Za-z0-9]{22}>\r?\n", raw)
        is not None
    )


def test_letter_says_who_writes_why_and_how_to_end_it(office: FussyOffice) -> None:
    sealed_car()
    text = body(_letter(office))
    for piece in (
        "2 Slipway Lane, Skerrin",
        "You get this because we have worked on your car",
        "No more letters like this: http",
        "Reply with a day that suits you",
        "07700 900100",
    ):
        assert piece in text


def test_winter_letter_opens_with_one_true_fact(office: FussyOffice) -> None:
    sealed_car(willing("Greta Marlow"))
    mail = _letter(office)
    assert mail["Subject"] == "Your blue Halden Estate before winter"
    lines = body(mail).splitlines()
    assert lines[0] == "Hello Greta Marlow,"
    assert lines[2] == (
        "Your blue Halden Estate: the Gannet paint sealant laid in May is likely to be thin by early November 2026,"
        " and roads here are usually salted from November. A fresh layer before then keeps the salt off what is"
        " under it."
    )


def test_two_cars_are_one_letter_with_a_paragraph_each(office: FussyOffice) -> None:
    keeper = willing()
    sealed_car(keeper)
    sealed_car(keeper, make="Marram", model="Van", colour="White")
    mail = _letter(office)
    assert len(office.taken) == 1
    assert mail["Subject"] == "Your cars before winter"
    assert [line.split(":")[0] for line in body(mail).splitlines() if line.startswith("Your ")] == [
        "Your blue Halden Estate",
        "Your white Marram Van",
    ]


def test_no_letter_names_a_day_for_what_is_forecast(office: FussyOffice) -> None:
    sealed_car()
    text = body(_letter(office))
    assert re.search(r"\b\d{1,2} (January|February|October|November|December)", text) is None


@pytest.mark.parametrize("model", ["Estate QA26 DEM", "Estate qa26dem", "Estate QZZHD19E3C0000017"])
def test_plate_and_chassis_number_never_stand_in_a_letter(office: FussyOffice, model: str) -> None:
    car = sealed_car(mark="QA26 DEM", chassis="QZZHD19E3C0000017")
    Car.objects.filter(pk=car.pk).update(model=model)
    mail = _letter(office)
    whole = re.sub(r"\W", "", f"{mail['Subject']} {body(mail)} {body(mail, 'html')}").upper()
    assert "QA26DEM" not in whole
    assert "QZZHD19E3C0000017" not in whole
    assert body(mail).splitlines()[2].startswith("Your car: ")


@pytest.mark.parametrize(
    ("name", "greeting", "first_line"),
    [
        ("Esme Sallow", "Mrs Sallow", "Hello Mrs Sallow,"),
        ("Esme Sallow", "", "Hello Esme Sallow,"),
        (" ", " ", "Hello,"),
        ("Zoë Ødegård-Łęcka", "", "Hello Zoë Ødegård-Łęcka,"),
        ("مريم", "", "Hello مريم,"),
        ("Finn 🚗", "", "Hello Finn 🚗,"),
        ("<b>Bold</b> & Sons", "", "Hello <b>Bold</b> & Sons,"),
        ("Two\nLines\r\nBcc: x@example.org", "", "Hello Two Lines Bcc: x@example.org,"),
    ],
)
def test_greeting_is_never_empty_and_names_arrive_whole(
    office: FussyOffice, name: str, greeting: str, first_line: str
) -> None:
    visit = handed_over()
    person = message_of(visit, Kind.AFTERCARE).person
    Person.objects.filter(pk=person.pk).update(name=name, greeting=greeting)
    turn(MAY)
    (mail,) = office.taken
    assert body(mail).splitlines()[0] == first_line
    assert "<b>Bold" not in body(mail, "html")
    assert mail["Bcc"] is None


def test_notes_are_free_of_offers_and_of_stop_links(office: FussyOffice) -> None:
    visit = handed_over()
    turn(MAY)
    turn(visit.layers.get().wash_from + timedelta(minutes=1))
    assert len(office.taken) == 2
    for mail in office.taken:
        text = body(mail).lower()
        assert re.search(r"\b(offer|price|discount|slot|winter coat)\b|/s/|!", text) is None


def test_wash_note_says_how_this_owner_washes_and_what_runs_on(office: FussyOffice) -> None:
    visit = handed_over()
    turn(MAY)
    turn(datetime(2026, 5, 11, 10, 30, tzinfo=UTC))
    text = body(office.taken[1])
    assert visit.layers.get().wash_from <= datetime(2026, 5, 11, 10, 30, tzinfo=UTC)
    assert text.splitlines()[2] == (
        "The no-wash time of the Fulmar two-year coating on your blue Halden Estate is over: you may wash it now."
    )
    # A fortnight ahead, so by the day.
    assert "until the end of Monday 25 May" in text
    assert "11:10" not in text


def test_every_caution_of_the_sheet_stands_in_the_note(office: FussyOffice) -> None:
    visit = handed_over()
    turn(MAY)
    text, html = body(office.taken[0]), body(office.taken[0], "html")
    cautions = [line["words"] for line in visit.sheet.content["advice"]["safety"]]
    assert len(cautions) > 5
    for words in cautions:
        assert words in text
        assert words.replace("'", "&#x27;") in html
    assert "Product data sheets and local rules come before anything written here." in text


def test_exact_words_that_left_are_kept(office: FussyOffice) -> None:
    visit = handed_over()
    note = message_of(visit, Kind.AFTERCARE)
    assert as_it_reads(note, now=MAY, studio=factories.studio()).text.startswith("Hello Cerys Harrow,")
    turn(MAY)
    note.refresh_from_db()
    Person.objects.update(name="Somebody Else")
    kept = as_it_reads(note, now=MAY, studio=factories.studio())
    assert (kept.text, kept.html) == (note.text, note.html)
    assert body(office.taken[0]).replace("\r\n", "\n") == note.text
    assert note.text.startswith("Hello Cerys Harrow,")
    assert note.text_version == visit.sheet.text_version


def test_message_that_waits_again_after_a_try_reads_as_it_would_leave_now(office: FussyOffice) -> None:
    visit = handed_over()
    office.to_data = "451 4.3.0 later please"
    turn(MAY)
    Person.objects.update(name="Somebody Else")
    note = message_of(visit, Kind.AFTERCARE)
    assert (note.state, note.text[:19]) == (Message.State.WAITING, "Hello Cerys Harrow,")
    read = as_it_reads(note, now=MAY, studio=factories.studio())
    assert read.text.startswith("Hello Somebody Else,")


def test_mail_is_seven_bits_on_the_wire(office: FussyOffice) -> None:
    visit = handed_over()
    Person.objects.filter(pk=message_of(visit, Kind.AFTERCARE).person_id).update(name="Zoë Ødegård")
    turn(MAY)
    office.taken[0].as_bytes().decode("ascii")
    assert {
        part["Content-Transfer-Encoding"] for part in office.taken[0].walk() if not part.is_multipart()
    } == {"quoted-printable"}
