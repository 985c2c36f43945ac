"""The private servers: there, empty, and gone again."""

from __future__ import annotations

from pathlib import Path

import psycopg
import pytest
import redis

from crm.management.testing import servers as module
from crm.management.testing.servers import NoServer, Servers, private_servers


def test_servers_answer_and_are_the_tests_own(servers: Servers) -> None:
    with psycopg.connect(servers.postgres) as connection:
        version = connection.execute("SHOW server_version_num").fetchone()
        listening = connection.execute("SHOW listen_addresses").fetchone()
    assert version is not None
    assert int(version[0]) >= 150_000
    assert listening == ("127.0.0.1",)
    client = redis.Redis.from_url(servers.redis)
    assert client.ping() is True
    client.close()


def test_servers_end_with_the_block_and_leave_nothing() -> None:
    with private_servers() as started:
        with psycopg.connect(started.postgres) as connection:
            row = connection.execute("SHOW data_directory").fetchone()
        assert row is not None
    with pytest.raises(psycopg.OperationalError):
        psycopg.connect(started.postgres, connect_timeout=2)
    assert not Path(row[0]).parent.exists()


@pytest.mark.parametrize(
    ("finder", "sentence"),
    [
        ("postgres_programs", "PostgreSQL is missing. Type: sudo apt-get install postgresql-15"),
        ("redis_server", "Redis is missing. Type: sudo apt-get install redis-server"),
    ],
)
def test_missing_server_is_named(monkeypatch: pytest.MonkeyPatch, finder: str, sentence: str) -> None:
    monkeypatch.setattr(module, finder, lambda: None)
    with pytest.raises(NoServer) as caught, private_servers():
        pytest.fail("it was opened all the same")
    assert str(caught.value) == sentence
