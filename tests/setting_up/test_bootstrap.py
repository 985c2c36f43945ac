"""From a fresh copy to a running command: what is made, what is left alone, and what is said."""

from __future__ import annotations

import json
import os
import shutil
import subprocess
import sys
from hashlib import sha256
from pathlib import Path

import pytest

from crm.setting_up import bootstrap
from crm.setting_up.bootstrap import Place, is_ready
from crm.setting_up.system import CannotSetUp, Need, provide

PROJECT = Path(__file__).resolve().parents[2]


def _place(folder: Path, *, runs: str = "a==1\n", tests: str = "a==1\nb==2\n") -> Place:
    (folder / "requirements.txt").write_text(runs, encoding="utf-8")
    (folder / "requirements-dev.txt").write_text(tests, encoding="utf-8")
    return Place(folder)


def _stamp(place: Place, **digests: str) -> None:
    place.python.parent.mkdir(parents=True, exist_ok=True)
    if not place.python.exists():
        place.python.symlink_to(sys.executable)
    place.stamp.write_text(json.dumps(digests), encoding="utf-8")


def _digest(text: str) -> str:
    return sha256(text.encode()).hexdigest()


def test_ready_means_the_very_lock_file(tmp_path: Path) -> None:
    place = _place(tmp_path)
    assert not is_ready(place, for_tests=False)
    _stamp(place, runs=_digest("a==1\n"))
    assert is_ready(place, for_tests=False)
    assert not is_ready(place, for_tests=True)
    place.lock(for_tests=False).write_text("a==2\n", encoding="utf-8")
    assert not is_ready(place, for_tests=False)


@pytest.mark.parametrize("damage", ["", "[]", "null", "{", '{"runs": 7}'])
def test_ready_is_not_believed_of_a_damaged_stamp(tmp_path: Path, damage: str) -> None:
    place = _place(tmp_path)
    _stamp(place)
    place.stamp.write_text(damage, encoding="utf-8")
    assert not is_ready(place, for_tests=False)


def test_ready_needs_the_interpreter_it_was_made_with(tmp_path: Path) -> None:
    place = _place(tmp_path)
    _stamp(place, runs=_digest("a==1\n"))
    place.python.unlink()
    place.python.symlink_to(tmp_path / "gone")
    assert not is_ready(place, for_tests=False)


def test_a_venv_is_made_and_filled_and_the_command_started_inside(tmp_path: Path) -> None:
    """The whole way with real tools; the lock files are empty, so that nothing has to be fetched."""
    _place(tmp_path, runs="", tests="")
    script = tmp_path / "start.py"
    script.write_text(
        f"import sys; sys.path.insert(0, {str(PROJECT)!r})\n"
        "from pathlib import Path\n"
        "from crm.setting_up.bootstrap import ensure\n"
        "ensure(Path(sys.argv[1]), sys.argv[2:])\n"
        "print(sys.prefix, sys.argv[2:])\n",
        encoding="utf-8",
    )
    environment = {name: value for name, value in os.environ.items() if name != bootstrap.OFF}
    command = [sys.executable, str(script), str(tmp_path), "check", "--deploy"]
    first = subprocess.run(command, env=environment, capture_output=True, text=True, check=True)
    assert first.stdout == f"{tmp_path / '.venv'} ['check', '--deploy']\n"
    assert "making .venv" in first.stderr
    second = subprocess.run(command, env=environment, capture_output=True, text=True, check=True)
    assert second.stdout == first.stdout
    assert second.stderr == ""


def test_a_package_without_its_hash_is_not_installed(tmp_path: Path) -> None:
    """What is installed is what was locked: a line without a hash stops everything, and no stamp is left."""
    place = _place(tmp_path, runs="six==1.17.0\n")
    with pytest.raises(CannotSetUp, match="pip could not install"):
        bootstrap._make_ready(place, for_tests=False)
    assert not place.stamp.exists()
    assert not is_ready(place, for_tests=False)


def test_two_at_once_take_turns(tmp_path: Path) -> None:
    code = (
        f"import sys; sys.path.insert(0, {str(PROJECT)!r})\n"
        "from pathlib import Path\n"
        "from crm.setting_up.bootstrap import Place, _alone\n"
        "with _alone(Place(Path(sys.argv[1]))):\n    print('in', flush=True)\n"
    )
    with bootstrap._alone(Place(tmp_path)):
        other = subprocess.Popen(
            [sys.executable, "-c", code, str(tmp_path)],
            stdout=subprocess.PIPE,
            stderr=subprocess.PIPE,
            text=True,
        )
        assert other.stderr is not None
        assert other.stderr.readline() == "setting up: another command is at it already; waiting for it\n"
        assert other.poll() is None
    output, _ = other.communicate(timeout=20)
    assert output == "in\n"


def test_missing_library_is_named_with_the_command_to_type(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(os, "geteuid", lambda: 1000)
    monkeypatch.setattr(shutil, "which", lambda _name: "/usr/bin/apt-get")
    needs = (
        Need("Pango", ("libpango-1.0-0",), lambda: False),
        Need("Redis", ("redis-server",), lambda: False),
    )
    with pytest.raises(CannotSetUp) as caught:
        provide(needs, say=lambda _line: None)
    assert str(caught.value) == (
        "This machine lacks: Pango, Redis. Type this, then try again:\n"
        "    sudo apt-get install libpango-1.0-0 redis-server"
    )


def test_missing_library_on_another_system_is_named(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(shutil, "which", lambda _name: None)
    with pytest.raises(CannotSetUp, match=r"lacks: Pango\. Install them"):
        provide((Need("Pango", ("libpango-1.0-0",), lambda: False),), say=lambda _line: None)


def test_nothing_missing_says_nothing() -> None:
    said: list[str] = []
    provide((Need("Python", ("python3",), lambda: True),), say=said.append)
    assert said == []


def test_only_what_a_command_needs_is_looked_for() -> None:
    assert [need.name for need in bootstrap._system_needs("migrate")] == []
    assert [need.name for need in bootstrap._system_needs("studio")] == ["Pango", "HarfBuzz's subsetter"]
    assert [need.name for need in bootstrap._system_needs("test")][-3:] == [
        "PostgreSQL 15",
        "Redis",
        "Chromium",
    ]


def test_lock_files_pin_every_package_with_a_hash_and_name_no_address() -> None:
    for name in ("requirements.txt", "requirements-dev.txt"):
        text = (PROJECT / name).read_text(encoding="utf-8")
        assert "://" not in text
        entries = text.replace("\\\n", " ").splitlines()
        assert entries
        assert [entry for entry in entries if "==" not in entry or "--hash=sha256:" not in entry] == []


def test_the_tests_lock_holds_every_run_time_package_in_the_same_version() -> None:
    def pins(name: str) -> set[str]:
        lines = (PROJECT / name).read_text(encoding="utf-8").splitlines()
        return {line.split()[0] for line in lines if not line.startswith(" ")}

    assert pins("requirements.txt") <= pins("requirements-dev.txt")


def test_bootstrap_runs_with_nothing_but_python() -> None:
    """In an interpreter without site-packages, importing it must work and bring in no other package."""
    code = (
        "import sys; before = set(sys.modules)\n"
        "import crm.setting_up.bootstrap, crm.setting_up.choices\n"
        "new = {name.partition('.')[0] for name in set(sys.modules) - before}\n"
        "print(sorted(new - set(sys.stdlib_module_names)))\n"
    )
    result = subprocess.run(
        [sys.executable, "-S", "-c", code], cwd=PROJECT, capture_output=True, text=True, check=True
    )
    assert result.stdout == "['crm']\n"


def test_an_older_python_is_told_in_a_sentence() -> None:
    """manage.py must at least parse there, so it is run with the version it sees set back."""
    code = (
        "import sys, runpy; sys.version_info = (3, 9, 2)\n"
        "sys.argv = ['manage.py', 'studio']; runpy.run_path('manage.py', run_name='__main__')\n"
    )
    result = subprocess.run(
        [sys.executable, "-c", code], cwd=PROJECT, capture_output=True, text=True, check=False
    )
    assert result.returncode == 1
    assert result.stderr == "Overwinter needs Python 3.11 or newer; this is 3.9.\n"
