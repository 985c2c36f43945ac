"""What README and DEVELOPERS.md say is true of the code."""

from __future__ import annotations

import doctest
import re
from argparse import _SubParsersAction
from pathlib import Path

import pytest
from django.core.management import get_commands, load_command_class

pytestmark = pytest.mark.alike

PROJECT = Path(__file__).parents[1]
README = (PROJECT / "README.md").read_text(encoding="utf-8")
DEVELOPERS = (PROJECT / "DEVELOPERS.md").read_text(encoding="utf-8")
SETTING = re.compile(r"\b(?:OVERWINTER_[A-Z_]*[A-Z]|DATABASE_URL|REDIS_URL)\b")
NOT_OURS_TO_SET = {
    "OVERWINTER_TEST_POSTGRES",
    "OVERWINTER_TEST_REDIS",
}


def test_examples_for_developers_run_as_written() -> None:
    examples = doctest.DocTestParser().get_doctest(DEVELOPERS, {}, "DEVELOPERS.md", "DEVELOPERS.md", 0)
    results = doctest.DocTestRunner().run(examples)
    assert (results.failed, results.attempted > 15) == (0, True)


def test_readme_opens_with_the_job_in_one_paragraph() -> None:
    first, second = README.split("\n\n")[:2]
    assert first == "# Overwinter"
    assert second.startswith("Overwinter is the memory of a small car-detailing studio.")


def test_every_setting_of_the_code_is_in_the_table_and_none_beside() -> None:
    read = {
        name
        for folder in ("config", "setting_up", "management/commands")
        for source in (PROJECT / "crm" / folder).rglob("*.py")
        for name in SETTING.findall(source.read_text(encoding="utf-8"))
    }
    table = {name for line in README.splitlines() if line.startswith("| `") for name in SETTING.findall(line)}
    assert table == read - NOT_OURS_TO_SET


def test_every_command_of_the_code_is_in_the_readme_and_none_beside() -> None:
    ours = {name for name, app in get_commands().items() if app == "crm"}
    named = set(re.findall(r"manage\.py ([a-z_]+)", README))
    assert named - ours == {"migrate", "collectstatic"}
    assert ours - named == set()


@pytest.mark.parametrize("text", [README, DEVELOPERS], ids=["README", "DEVELOPERS"])
def test_every_path_that_is_named_exists(text: str) -> None:
    named = re.findall(r"`((?:crm|templates|tests|\.ci|\.pictures)/[^`<*… ]*)`", text)
    named += re.findall(r"\]\((\.[^)]+)\)", text)
    missing = [path for path in named if not (PROJECT / path).exists()]
    assert (missing, bool(named)) == ([], True)


@pytest.mark.parametrize("option", re.findall(r"manage\.py (\w+) [^\n`]*?(--[a-z-]+)", README))
def test_every_option_that_is_shown_is_one_of_its_command(option: tuple[str, str]) -> None:
    name, flag = option
    if name in ("collectstatic", "migrate"):
        return
    parser = load_command_class("crm", name).create_parser("manage.py", name)
    subcommands = [action.choices for action in parser._actions if isinstance(action, _SubParsersAction)]
    parsers = [parser, *(each for choices in subcommands for each in choices.values())]
    assert flag in {
        string for each in parsers for action in each._actions for string in action.option_strings
    }


def test_shape_of_the_project_is_what_it_should_be() -> None:
    top = {path.name for path in PROJECT.iterdir() if not path.name.startswith(".")}
    allowed = {
        "manage.py",
        "pyproject.toml",
        "README.md",
        "DEVELOPERS.md",
        "LICENSE",
        "crm",
        "templates",
        "tests",
    }
    assert top - allowed == {"requirements.txt", "requirements-dev.txt"}
