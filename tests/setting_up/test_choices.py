"""Which data folder a command works in."""

from __future__ import annotations

from pathlib import Path

import pytest

from crm.setting_up.choices import choose_data
from crm.setting_up.folders import LONGEST_SOCKET_PATH, DataFolder, default_root

PROJECT = Path("/somewhere/overwinter")


@pytest.mark.parametrize(
    ("arguments", "left", "folder"),
    [
        (["studio", "--data", "/a/b"], ["studio"], "/a/b"),
        (["studio", "--data=/a/b", "--port", "1"], ["studio", "--port", "1"], "/a/b"),
        (["migrate", "--data", "/a/b"], ["migrate"], "/a/b"),
        (["demo", "--data", "/a/b"], ["demo"], "/a/b"),
        (["studio"], ["studio"], "/from/the/environment"),
        (["studio", "--data"], ["studio", "--data"], "/from/the/environment"),
    ],
)
def test_data_option_wins_and_is_taken_out(arguments: list[str], left: list[str], folder: str) -> None:
    environment = {"OVERWINTER_DATA": "/from/the/environment"}
    choose_data(arguments, environment, PROJECT)
    assert environment["OVERWINTER_DATA"] == folder
    assert arguments == left


def test_demo_never_takes_the_studios_folder() -> None:
    environment = {"OVERWINTER_DATA": "/the/real/studio"}
    choose_data(["demo"], environment, PROJECT)
    assert environment["OVERWINTER_DATA"] == str(default_root().with_name("overwinter-demo"))


def test_tour_takes_a_folder_of_its_own() -> None:
    environment: dict[str, str] = {}
    choose_data(["demo", "--tour"], environment, PROJECT)
    assert environment["OVERWINTER_DATA"] == str(default_root().with_name("overwinter-tour"))


def test_demo_never_writes_to_a_mail_server() -> None:
    environment = {"OVERWINTER_SMTP_HOST": "mail.example.org", "OVERWINTER_SMTP_USER": "studio"}
    choose_data(["demo"], environment, PROJECT)
    assert not [name for name in environment if "SMTP" in name]


def test_tests_see_nothing_of_the_installation() -> None:
    environment = {
        "OVERWINTER_DATA": "/the/real/studio",
        "OVERWINTER_SMTP_HOST": "mail.example.org",
        "DATABASE_URL": "postgresql://db.example.org/studio",
        "REDIS_URL": "redis://db.example.org",
        "PATH": "/bin",
    }
    arguments = ["test", "--data", "/a"]
    choose_data(arguments, environment, PROJECT)
    assert environment == {"OVERWINTER_DATA": "/somewhere/overwinter/.venv/test-data", "PATH": "/bin"}
    assert arguments == ["test", "--data", "/a"]


def test_default_root_follows_the_xdg_setting(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    monkeypatch.setenv("XDG_DATA_HOME", str(tmp_path))
    assert default_root() == tmp_path / "overwinter"


def test_socket_of_a_long_folder_is_short_and_its_own() -> None:
    deep = DataFolder(root=Path("/" + "/".join(["a-folder-with-a-long-name"] * 6)))
    other = DataFolder(root=deep.root / "other")
    assert len(str(deep.socket)) <= LONGEST_SOCKET_PATH
    assert deep.socket != other.socket
    assert DataFolder(root=Path("/srv/studio")).socket == Path("/srv/studio/broker/broker.sock")
