"""Pytest, once for each database, with what it is told about where it runs."""

from __future__ import annotations

import os
import secrets
import subprocess
import sys
from dataclasses import dataclass
from enum import StrEnum
from pathlib import Path

from crm.management.testing.servers import Servers

POSTGRES = "OVERWINTER_TEST_POSTGRES"
REDIS = "OVERWINTER_TEST_REDIS"


class Database(StrEnum):
    """What one run of the suite stores its rows in."""

    SQLITE = "sqlite"
    POSTGRES = "postgres"


@dataclass(frozen=True, kw_only=True)
class Run:
    """One run of pytest."""

    database: Database
    command: tuple[str, ...]
    environment: dict[str, str]


# What is the same on both databases runs on one: the engine touches none, each stack has its own, and how a
# screen or a sheet looks does not depend on where its rows lie.
ALIKE = ("care", "papers", "setting_up", "templatetags")
NOT_HERE = {
    Database.SQLITE: ("-m", "not served"),
    Database.POSTGRES: ("-m", "not stack and not alike", *(f"--ignore=tests/{folder}" for folder in ALIKE)),
}
# Tables straight from the models. The migrations themselves are run on SQLite by the tests of the embedded stack and
# on PostgreSQL by those of the served one, and tests/models/test_migrations.py holds them against the models.
AS_MODELLED = ("--no-migrations",)


def planned_runs(databases: list[Database], arguments: list[str], servers: Servers) -> list[Run]:
    """One run for each database: the whole suite, or whatever `arguments` choose.

    How much is covered is measured on SQLite alone, and judged where the whole suite runs: Python 3.11 takes twice
    as long while it is watched, and what only PostgreSQL reaches is a handful of lines.
    """
    return [
        Run(
            database=database,
            command=(sys.executable, "-m", "pytest", *_choice(database, arguments)),
            environment=_environment(database, servers),
        )
        for database in databases
    ]


def carry_out(run: Run, project: Path) -> int:
    """Run it with its output where this command's goes. Returns pytest's exit code."""
    return subprocess.run(
        run.command, env={**os.environ, **run.environment}, cwd=project, check=False
    ).returncode


def _choice(database: Database, arguments: list[str]) -> list[str]:
    if arguments:
        return arguments
    # Files go out in the order of collection, the slow ones first: see pytest_collection_modifyitems.
    chosen = ["-n", "2", "--dist", "loadfile", "--no-loadscope-reorder", *NOT_HERE[database], *AS_MODELLED]
    return chosen + (["--cov", "--cov-report=term:skip-covered"] if database is Database.SQLITE else [])


def _environment(database: Database, servers: Servers) -> dict[str, str]:
    known = {POSTGRES: servers.postgres, REDIS: servers.redis}
    if database is Database.SQLITE:
        return known
    return known | {
        "DATABASE_URL": servers.postgres,
        "REDIS_URL": servers.redis,
        "OVERWINTER_BASE_URL": "http://localhost",
        "OVERWINTER_SECRET_KEY": secrets.token_urlsafe(64),
    }
