"""What the environment may say, and the sentence for each thing it may not."""

from __future__ import annotations

import stat
from pathlib import Path

import pytest

from crm.config.environment import Environment, read_environment
from crm.config.logs import LogForm
from crm.config.reader import SettingsError

SECRET = "a-long-secret-key-for-the-tests-alone-0123456789-abcdefgh"
SERVED = {
    "DATABASE_URL": "postgresql://me@db.example.org:5433/studio",
    "REDIS_URL": "redis://db.example.org:6379/0",
    "OVERWINTER_BASE_URL": "https://studio.example.org",
    "OVERWINTER_SECRET_KEY": SECRET,
}


@pytest.fixture(autouse=True)
def clean(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    """Only what a test sets is set."""
    for name in SERVED:
        monkeypatch.delenv(name, raising=False)
    monkeypatch.delenv("OVERWINTER_LOG_LEVEL", raising=False)
    monkeypatch.setenv("OVERWINTER_DATA", str(tmp_path / "data"))


def _read(monkeypatch: pytest.MonkeyPatch, **values: str) -> Environment:
    for name, value in values.items():
        monkeypatch.setenv(name, value)
    return read_environment()


def test_nothing_set_is_the_embedded_installation(tmp_path: Path) -> None:
    environment = read_environment()
    assert environment.folder.root == tmp_path / "data"
    assert environment.database["ENGINE"] == "django.db.backends.sqlite3"
    assert environment.database["NAME"] == tmp_path / "data" / "overwinter.sqlite3"
    assert environment.database["OPTIONS"]["transaction_mode"] == "IMMEDIATE"
    assert environment.broker_url == f"redis+socket://{environment.folder.socket}"
    assert environment.base_url == "http://localhost:8484"
    assert environment.hosts == ["localhost", "127.0.0.1", "[::1]"]
    assert environment.time_zone == "Europe/London"
    assert environment.mail.to_folder
    assert environment.log_form is LogForm.CONSOLE
    assert (environment.https, environment.debug, environment.behind_proxy) == (False, False, False)


def test_secret_key_is_made_once_and_is_nobody_elses_to_read(tmp_path: Path) -> None:
    first = read_environment()
    assert len(first.secret_key) >= 64
    assert read_environment().secret_key == first.secret_key
    assert stat.S_IMODE((tmp_path / "data" / "secret_key").stat().st_mode) == 0o600


def test_served_takes_its_services_from_their_addresses(monkeypatch: pytest.MonkeyPatch) -> None:
    environment = _read(monkeypatch, **SERVED)
    database = environment.database
    assert database["ENGINE"] == "django.db.backends.postgresql"
    assert (database["HOST"], database["PORT"], database["NAME"]) == ("db.example.org", 5433, "studio")
    assert database["OPTIONS"]["pool"]["max_size"] == 8
    assert database["CONN_MAX_AGE"] == 0
    assert environment.broker_url == "redis://db.example.org:6379/0"
    assert environment.hosts == ["studio.example.org"]
    assert environment.trusted_origins == ["https://studio.example.org"]
    assert environment.https
    assert environment.log_form is LogForm.JSON


def test_served_without_the_rest_names_everything_that_is_missing(monkeypatch: pytest.MonkeyPatch) -> None:
    with pytest.raises(SettingsError) as caught:
        _read(monkeypatch, DATABASE_URL=SERVED["DATABASE_URL"])
    assert [sentence.split()[0] for sentence in caught.value.sentences] == [
        "OVERWINTER_BASE_URL",
        "OVERWINTER_SECRET_KEY",
        "DATABASE_URL",
    ]


@pytest.mark.parametrize(
    ("name", "value", "sentence"),
    [
        ("OVERWINTER_DEBUG", "perhaps", "OVERWINTER_DEBUG must be true or false, not 'perhaps'."),
        ("OVERWINTER_BEHIND_PROXY", "2", "OVERWINTER_BEHIND_PROXY must be true or false, not '2'."),
        ("OVERWINTER_SECRET_KEY", "short", "OVERWINTER_SECRET_KEY must be at least 50 characters"),
        ("OVERWINTER_SECRET_KEY", "a" * 60, "OVERWINTER_SECRET_KEY must be at least 50 characters"),
        ("OVERWINTER_BASE_URL", "studio.example.org", "OVERWINTER_BASE_URL must be a scheme and a host"),
        (
            "OVERWINTER_BASE_URL",
            "ftp://studio.example.org",
            "OVERWINTER_BASE_URL must be a scheme and a host",
        ),
        ("OVERWINTER_BASE_URL", "https://a.example/crm", "OVERWINTER_BASE_URL must be a scheme and a host"),
        ("OVERWINTER_BASE_URL", "https://a.example:99999", "OVERWINTER_BASE_URL must be a scheme and a host"),
        ("OVERWINTER_HOSTS", "*", "OVERWINTER_HOSTS must not hold *"),
        ("OVERWINTER_TIME_ZONE", "Skerrin", "OVERWINTER_TIME_ZONE must be a zone like Europe/London"),
        ("OVERWINTER_TIME_ZONE", "../etc/passwd", "OVERWINTER_TIME_ZONE must be a zone like Europe/London"),
        ("OVERWINTER_TIME_ZONE", "Europe", "OVERWINTER_TIME_ZONE must be a zone like Europe/London"),
        ("REDIS_URL", "redis://localhost", "DATABASE_URL and REDIS_URL go together"),
        ("OVERWINTER_TICK_SECONDS", "0", "OVERWINTER_TICK_SECONDS must be from 1 to 60, not 0."),
        ("OVERWINTER_TICK_SECONDS", "soon", "OVERWINTER_TICK_SECONDS must be a whole number, not 'soon'."),
        ("OVERWINTER_SMTP_HOST", "mail.example.org", "OVERWINTER_MAIL_FROM is missing"),
        ("OVERWINTER_SMTP_PORT", "70000", "OVERWINTER_SMTP_PORT must be from 1 to 65535, not 70000."),
        (
            "OVERWINTER_SMTP_SECURITY",
            "ssl",
            "OVERWINTER_SMTP_SECURITY must be starttls, tls or none, not 'ssl'.",
        ),
        ("OVERWINTER_SMTP_USER", "mara", "OVERWINTER_SMTP_USER and OVERWINTER_SMTP_PASSWORD go together"),
        ("OVERWINTER_MAIL_FROM", "the studio", "OVERWINTER_MAIL_FROM must be an address"),
        (
            "OVERWINTER_HSTS_SUBDOMAINS",
            "perhaps",
            "OVERWINTER_HSTS_SUBDOMAINS must be true or false, not 'perhaps'.",
        ),
        (
            "OVERWINTER_HSTS_SUBDOMAINS",
            "on",
            "OVERWINTER_HSTS_SUBDOMAINS counts with https only: set OVERWINTER_BASE_URL to an https address.",
        ),
        ("OVERWINTER_HSTS_PRELOAD", "on", "OVERWINTER_HSTS_PRELOAD counts with https only"),
        ("OVERWINTER_LOG_FORM", "xml", "OVERWINTER_LOG_FORM must be json or console, not 'xml'."),
        ("OVERWINTER_LOG_LEVEL", "loud", "OVERWINTER_LOG_LEVEL must be one of DEBUG, INFO, WARNING, ERROR"),
        (
            "OVERWINTER_DATA",
            "/proc/overwinter",
            "OVERWINTER_DATA: the data folder /proc/overwinter cannot be written",
        ),
    ],
)
def test_a_wrong_value_is_refused_with_one_sentence(
    monkeypatch: pytest.MonkeyPatch, name: str, value: str, sentence: str
) -> None:
    with pytest.raises(SettingsError) as caught:
        _read(monkeypatch, **{name: value})
    assert [found[: len(sentence)] for found in caught.value.sentences] == [sentence]


@pytest.mark.parametrize(
    ("name", "value", "sentence"),
    [
        ("DATABASE_URL", "mysql://localhost/x", "DATABASE_URL must begin with postgresql://"),
        ("DATABASE_URL", "postgresql://localhost", "DATABASE_URL names no database"),
        ("DATABASE_URL", "postgresql://localhost:port/x", "DATABASE_URL must be like postgresql://user"),
        ("REDIS_URL", "amqp://localhost", "REDIS_URL must be like redis://host:6379/0"),
        (
            "OVERWINTER_HSTS_PRELOAD",
            "on",
            "OVERWINTER_HSTS_PRELOAD needs OVERWINTER_HSTS_SUBDOMAINS beside it",
        ),
        ("OVERWINTER_DATABASE_POOL", "0", "OVERWINTER_DATABASE_POOL must be from 1 to 100 connections"),
        (
            "OVERWINTER_BASE_URL",
            "http://studio.example.org",
            "OVERWINTER_BASE_URL is 'http://studio.example.org'",
        ),
    ],
)
def test_a_wrong_value_in_served_mode_is_refused_with_one_sentence(
    monkeypatch: pytest.MonkeyPatch, name: str, value: str, sentence: str
) -> None:
    with pytest.raises(SettingsError) as caught:
        _read(monkeypatch, **{**SERVED, name: value})
    assert [found[: len(sentence)] for found in caught.value.sentences] == [sentence]


@pytest.mark.parametrize(
    ("asked", "expected"),
    [
        ({}, (False, False)),
        ({"OVERWINTER_HSTS_SUBDOMAINS": "on"}, (True, False)),
        ({"OVERWINTER_HSTS_SUBDOMAINS": "on", "OVERWINTER_HSTS_PRELOAD": "on"}, (True, True)),
    ],
)
def test_the_promise_of_https_reaches_as_far_as_was_asked(
    monkeypatch: pytest.MonkeyPatch, asked: dict[str, str], expected: tuple[bool, bool]
) -> None:
    hsts = _read(monkeypatch, **SERVED, **asked).hsts
    assert (hsts.subdomains, hsts.preload) == expected


def test_settings_file_of_the_data_folder_is_read_and_the_environment_wins(
    monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    folder = tmp_path / "data"
    folder.mkdir()
    (folder / "settings.env").write_text(
        "OVERWINTER_TIME_ZONE=Australia/Hobart\nOVERWINTER_TICK_SECONDS=10\n", encoding="utf-8"
    )
    # Reading the file fills the environment: these take it out again when the test is over.
    monkeypatch.setenv("OVERWINTER_TICK_SECONDS", "20")
    monkeypatch.setenv("OVERWINTER_TIME_ZONE", "")
    monkeypatch.delenv("OVERWINTER_TIME_ZONE")
    environment = read_environment()
    assert (environment.time_zone, environment.tick_seconds) == ("Australia/Hobart", 20)


@pytest.mark.parametrize(
    ("security", "port", "expected"),
    [
        ("starttls", "", (587, True, False)),
        ("tls", "", (465, False, True)),
        ("none", "2525", (2525, False, False)),
    ],
)
def test_smtp_takes_the_usual_port_of_its_security(
    monkeypatch: pytest.MonkeyPatch, security: str, port: str, expected: tuple[int, bool, bool]
) -> None:
    mail = _read(
        monkeypatch,
        OVERWINTER_SMTP_HOST="mail.example.org",
        OVERWINTER_MAIL_FROM="Greywater Yard <yard@example.org>",
        OVERWINTER_SMTP_SECURITY=security,
        OVERWINTER_SMTP_PORT=port,
    ).mail
    assert (mail.port, mail.starttls, mail.tls) == expected
    assert not mail.to_folder
