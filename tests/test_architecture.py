"""The shape of the project: what may import what, how long a module may be, what the engine must not need."""

from __future__ import annotations

import ast
import subprocess
import sys
from pathlib import Path

import pytest
from django.conf import settings

pytestmark = pytest.mark.alike

PROJECT = Path(__file__).resolve().parents[1]
LONGEST_MODULE = 400
TOP = {"LICENSE", "DEVELOPERS.md", "README.md", "crm", "manage.py", "pyproject.toml", "templates", "tests"}


def _modules() -> list[Path]:
    found = [*(PROJECT / "crm").rglob("*.py"), *(PROJECT / "tests").rglob("*.py"), PROJECT / "manage.py"]
    return sorted(path for path in found if "migrations" not in path.parts)


def test_imports_go_down_the_layers_only() -> None:
    """The contracts are in pyproject.toml; the linter that CI runs is run here too."""
    command = [
        sys.executable,
        "-c",
        "from importlinter.cli import lint_imports_command as run; run()",
        "--no-cache",
    ]
    result = subprocess.run(command, cwd=PROJECT, capture_output=True, text=True, check=False)
    assert result.returncode == 0, result.stdout + result.stderr


def test_engine_comes_up_without_django_in_a_fresh_interpreter() -> None:
    modules = [
        ".".join(path.relative_to(PROJECT).with_suffix("").parts)
        for path in sorted((PROJECT / "crm" / "care").glob("*.py"))
    ]
    code = (
        "import importlib, sys\n"
        f"for name in {modules!r}: importlib.import_module(name)\n"
        "foreign = {'django', 'celery', 'redis', 'kombu', 'weasyprint', 'structlog', 'simple_history'}\n"
        "print(sorted(foreign & set(sys.modules)))\n"
    )
    result = subprocess.run(
        [sys.executable, "-c", code], cwd=PROJECT, capture_output=True, text=True, check=True
    )
    assert len(modules) > 3
    assert result.stdout == "[]\n"


def test_package_itself_starts_nothing() -> None:
    assert (PROJECT / "crm" / "__init__.py").read_text(encoding="utf-8").strip() == ""


def test_no_module_is_longer_than_a_reader_bears() -> None:
    long = {
        str(path.relative_to(PROJECT)): count
        for path in _modules()
        if (count := len(path.read_text(encoding="utf-8").splitlines())) > LONGEST_MODULE
    }
    assert long == {}


def test_no_module_is_a_drawer() -> None:
    drawers = {"utils", "util", "helpers", "common", "misc"}
    assert [str(path) for path in _modules() if drawers & {path.stem, *path.parts}] == []


def test_nothing_happens_behind_a_save() -> None:
    """No Django signal is listened to, and no model does more in save() than store."""
    found = []
    for path in (PROJECT / "crm").rglob("*.py"):
        tree = ast.parse(path.read_text(encoding="utf-8"))
        for node in ast.walk(tree):
            if (
                isinstance(node, ast.ImportFrom)
                and (node.module or "").startswith("django")
                and "signals" in (node.module or "")
            ):
                found.append(f"{path.relative_to(PROJECT)}: {node.module}")
            if isinstance(node, ast.ClassDef) and "models" in path.parts:
                found += [
                    f"{path.relative_to(PROJECT)}: {node.name}.save"
                    for part in node.body
                    if isinstance(part, ast.FunctionDef) and part.name == "save"
                ]
    assert found == []


def test_only_papers_imports_weasyprint() -> None:
    found = []
    for path in (PROJECT / "crm").rglob("*.py"):
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            names = [alias.name for alias in node.names] if isinstance(node, ast.Import) else []
            if isinstance(node, ast.ImportFrom):
                names.append(node.module or "")
            if any(name.split(".")[0] == "weasyprint" for name in names):
                found.append(path.relative_to(PROJECT).parts[1])
    assert set(found) <= {"papers"}


def test_top_of_the_project_holds_nothing_else() -> None:
    seen = {path.name for path in PROJECT.iterdir() if not path.name.startswith(".")}
    assert {name for name in seen - TOP if not name.startswith("requirements")} == set()


@pytest.mark.parametrize("folder", ["crm", "tests"])
def test_every_folder_of_modules_is_a_package(folder: str) -> None:
    """Two test modules of one name in folders that are no packages would hide each other."""
    lost = {
        str(path.parent.relative_to(PROJECT))
        for path in (PROJECT / folder).rglob("*.py")
        if not (path.parent / "__init__.py").exists()
    }
    assert lost == set()


def test_settings_name_the_studios_own_user() -> None:
    assert settings.AUTH_USER_MODEL == "crm.User"
