"""What pytest is told for each database."""

from __future__ import annotations

from crm.management.testing.runs import Database, planned_runs
from crm.management.testing.servers import Servers

SERVERS = Servers(postgres="postgresql://me@127.0.0.1:1/studio", redis="redis://127.0.0.1:2/0")


def _words(database: Database, databases: list[Database], *arguments: str) -> tuple[str, ...]:
    runs = {run.database: run for run in planned_runs(databases, list(arguments), SERVERS)}
    return runs[database].command[3:]


def test_whole_suite_runs_on_each_database_and_is_judged_once() -> None:
    both = list(Database)
    first, second = _words(Database.SQLITE, both), _words(Database.POSTGRES, both)
    assert "--cov-fail-under=0" in first
    assert "--cov-append" not in first
    assert "--cov-fail-under=0" not in second
    assert "--cov-append" in second
    assert ("not served" in first, "not stack and not alike" in second, "--ignore=tests/care" in second) == (
        True,
        True,
        True,
    )


def test_one_database_alone_is_never_judged_by_how_much_it_covers() -> None:
    for database in Database:
        assert "--cov-fail-under=0" in _words(database, [database])


def test_what_is_asked_for_is_handed_to_pytest_as_it_is() -> None:
    asked = ("tests/care", "-k", "window", "-x")
    assert _words(Database.SQLITE, list(Database), *asked) == asked
    assert _words(Database.POSTGRES, list(Database), *asked) == asked


def test_environment_says_which_database() -> None:
    sqlite, postgres = planned_runs(list(Database), [], SERVERS)
    assert "DATABASE_URL" not in sqlite.environment
    assert postgres.environment["DATABASE_URL"] == SERVERS.postgres
    assert postgres.environment["REDIS_URL"] == SERVERS.redis
    assert len(postgres.environment["OVERWINTER_SECRET_KEY"]) >= 64
