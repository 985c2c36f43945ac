"""`bench` as it is typed: in a process of its own, on a folder of its own."""

from __future__ import annotations

import sqlite3
import sys
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


@pytest.mark.unmeasured
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


def test_bench_learn_holds_ours_against_the_library() -> None:
    told = StringIO()
    call_command("bench", "learn", layers=400, stdout=told)
    printed = told.getvalue()
    assert printed.startswith("bench learn: 400 layers\n")
    rows = {line[:30].strip(): line[30:].split() for line in printed.splitlines()[4:7]}
    assert list(rows) == ["ours", "lifelines, as it comes", "lifelines, searching further"]
    ours, _, further = rows.values()
    assert [float(figure) for figure in ours[1:]] == pytest.approx(
        [float(figure) for figure in further[1:]], rel=1e-6
    )
    assert "\nTimes as fast as lifelines as it comes (aim: 10): " in printed
    assert max(len(line) for line in printed.splitlines()) <= 80


def test_bench_learn_fails_where_the_laws_differ(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("crm.management.commands.bench.LAWS_APART", -1.0)
    with pytest.raises(CommandError, match=r"^The two laws differ: one of them is wrong\.$"):
        call_command("bench", "learn", layers=50, stdout=StringIO())


def test_bench_learn_says_what_it_needs(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setitem(sys.modules, "lifelines", None)
    with pytest.raises(
        CommandError, match=r"^The library to compare with is not installed: it comes with"
    ) as refusal:
        call_command("bench", "learn", stdout=StringIO())
    assert refusal.value.returncode == 1


def test_bench_learn_says_where_so_few_layers_tell_nothing() -> None:
    with pytest.raises(CommandError, match=r"^One age fits every layer: how far lives lie apart is open\.$"):
        call_command("bench", "learn", layers=1, stdout=StringIO())


def test_bench_refuses_nothing_at_all() -> None:
    with pytest.raises(CommandError, match=r"^Give at least one car and one layer\.$"):
        call_command("bench", "forecast", layers=0, stdout=StringIO())
