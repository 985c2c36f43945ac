"""Mail as files, until an SMTP server is set."""

from __future__ import annotations

from email import message_from_bytes, policy
from pathlib import Path

import pytest
from django.core.mail import EmailMultiAlternatives, get_connection
from pytest_django import Settings

BACKEND = "crm.config.mail_folder.MailFolderBackend"


def test_each_message_is_one_file_that_a_mail_program_opens(settings: Settings, tmp_path: Path) -> None:
    settings.EMAIL_FILE_PATH = tmp_path / "mail"
    message = EmailMultiAlternatives(
        "Your car: die Pflege",
        "Plain words.",
        "yard@example.org",
        ["anna@example.com"],
        bcc=["desk@example.org"],
    )
    message.attach_alternative("<p>Words.</p>", "text/html")
    message.attach("sheet.pdf", b"%PDF-1.7", "application/pdf")
    assert get_connection(BACKEND).send_messages([message, message]) == 2
    files = sorted((tmp_path / "mail").iterdir())
    assert [file.suffix for file in files] == [".eml", ".eml"]
    read = message_from_bytes(files[0].read_bytes(), policy=policy.default)
    assert (read["Subject"], read["To"]) == ("Your car: die Pflege", "anna@example.com")
    assert [part.get_content_type() for part in read.iter_attachments()] == ["application/pdf"]


@pytest.mark.parametrize("subject", ["../../escape", "x" * 300, "Grüße 🧽", "", "..."])
def test_file_name_stays_in_the_folder_whatever_the_subject(
    settings: Settings, tmp_path: Path, subject: str
) -> None:
    settings.EMAIL_FILE_PATH = tmp_path / "mail"
    message = EmailMultiAlternatives(subject, "Words.", "yard@example.org", ["anna@example.com"])
    assert get_connection(BACKEND).send_messages([message]) == 1
    assert [path.parent for path in tmp_path.rglob("*.eml")] == [tmp_path / "mail"]


def test_message_to_nobody_is_not_written(settings: Settings, tmp_path: Path) -> None:
    settings.EMAIL_FILE_PATH = tmp_path
    message = EmailMultiAlternatives("Subject", "Words.", "yard@example.org", [])
    assert get_connection(BACKEND).send_messages([message]) == 0
    assert list(tmp_path.iterdir()) == []
