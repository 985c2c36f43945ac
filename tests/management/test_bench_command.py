"""`bench` as it is typed: in a process of its own, on a folder of its own."""

from __future__ import annotations

import sqlite3
from io import StringIO
from pathlib import Path

import pytest
from django.core.management import CommandError, call_command

from crm.management.bench.scratch import apart, run_apart, scratch_folder

SMALL = ["bench", "find", "--here", "--cars=60", "--layers=900", "--runs=1"]


def test_scratch_settings_know_nothing_of_the_studio(tmp_path: Path) -> None:
    studio = {
        "PATH": "/bin",
        "OVERWINTER_DATA": "/srv/studio",
        "OVERWINTER_SMTP_HOST": "mail.example.org",
        "DATABASE_URL": "postgresql://localhost/studio",
        "REDIS_URL": "redis://localhost",
    }
    found = apart(studio, folder=tmp_path, database_url=None)
    assert found["OVERWINTER_DATA"] == str(tmp_path)
    assert found["PATH"] == "/bin"
    assert not {"OVERWINTER_SMTP_HOST", "DATABASE_URL", "REDIS_URL"} & set(found)
    on_postgres = apart(studio, folder=tmp_path, database_url="postgresql://localhost/scratch")
    assert on_postgres["DATABASE_URL"] == "postgresql://localhost/scratch"


def test_scratch_folder_is_gone_afterwards_unless_it_is_to_be_kept(tmp_path: Path) -> None:
    with scratch_folder(None) as folder:
        assert folder.is_dir()
    assert not folder.exists()
    with scratch_folder(tmp_path / "kept") as folder:
        assert folder == tmp_path / "kept"
    assert folder.is_dir()


@pytest.mark.stack
def test_bench_find_prints_its_table_and_refuses_the_database_of_a_studio(
    tmp_path: Path, capfd: pytest.CaptureFixture[str]
) -> None:
    assert run_apart(SMALL, folder=tmp_path, database_url=None) == 0
    printed = capfd.readouterr().out
    assert printed.startswith("bench find: 60 cars, 900 layers; runs: 1\n")
    assert "\ncar file, 100 visits " in printed
    assert max(len(line) for line in printed.splitlines()) <= 80
    with sqlite3.connect(tmp_path / "overwinter.sqlite3") as database:
        database.execute("UPDATE crm_studio SET name = 'Greywater Yard'")
    assert run_apart(SMALL, folder=tmp_path, database_url=None) == 1
    told = capfd.readouterr()
    assert "it is the record of Greywater Yard. Name an empty one instead." in told.err
    assert told.out == ""


def test_bench_refuses_nothing_at_all() -> None:
    with pytest.raises(CommandError, match=r"^Give at least one car and one layer\.$"):
        call_command("bench", "forecast", layers=0, stdout=StringIO())
