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


def planned_runs(databases: list[Database], arguments: list[str], servers: Servers) -> list[Run]:
    """One run for each database: the whole suite with coverage, or whatever `arguments` choose without."""
    return [
        Run(
            database=database,
            command=(sys.executable, "-m", "pytest", *_choice(database, databases, arguments)),
            environment=_environment(database, servers),
        )
        for database in databases
    ]


def carry_out(run: Run, project: Path) -> int:
    """Run it with its output where this command's goes. Returns pytest's exit code."""
    return subprocess.run(
        run.command, env={**os.environ, **run.environment}, cwd=project, check=False
    ).returncode


def _choice(database: Database, databases: list[Database], arguments: list[str]) -> list[str]:
    if arguments:
        return arguments
    # Files go out in the order of collection, the slow ones first: see pytest_collection_modifyitems.
    chosen = ["-n", "2", "--dist", "loadfile", "--no-loadscope-reorder", *NOT_HERE[database], "--cov"]
    if database is not databases[0]:
        chosen.append("--cov-append")
    # How much is covered is judged once, when both databases have had their turn.
    is_whole = len(databases) == len(Database) and database is databases[-1]
    return chosen + (
        ["--cov-report=term:skip-covered"] if is_whole else ["--cov-report=", "--cov-fail-under=0"]
    )


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
