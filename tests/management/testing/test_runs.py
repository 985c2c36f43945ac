"""What pytest is told for each database."""

from __future__ import annotations

from crm.management.testing.runs import Database, planned_runs
from crm.management.testing.servers import Servers

SERVERS = Servers(postgres="postgresql://me@127.0.0.1:1/studio", redis="redis://127.0.0.1:2/0")


def _words(database: Database, *arguments: str) -> tuple[str, ...]:
    runs = {run.database: run for run in planned_runs(list(Database), list(arguments), SERVERS)}
    return runs[database].command[3:]


def test_whole_suite_runs_on_each_database_and_is_judged_on_one() -> None:
    first, second = _words(Database.SQLITE), _words(Database.POSTGRES)
    assert [word for word in first if word.startswith("--cov")] == ["--cov", "--cov-report=term:skip-covered"]
    assert [word for word in second if word.startswith("--cov")] == []
    assert ("not served" in first, "not stack and not alike" in second, "--ignore=tests/care" in second) == (
        True,
        True,
        True,
    )


def test_what_is_asked_for_is_handed_to_pytest_as_it_is() -> None:
    asked = ("tests/care", "-k", "window", "-x")
    assert _words(Database.SQLITE, *asked) == asked
    assert _words(Database.POSTGRES, *asked) == asked


def test_environment_says_which_database() -> None:
    sqlite, postgres = planned_runs(list(Database), [], SERVERS)
    assert "DATABASE_URL" not in sqlite.environment
    assert postgres.environment["DATABASE_URL"] == SERVERS.postgres
    assert postgres.environment["REDIS_URL"] == SERVERS.redis
    assert len(postgres.environment["OVERWINTER_SECRET_KEY"]) >= 64
