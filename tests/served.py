"""A served installation for tests: a database of its own, every setting that is demanded, and its web server."""

from __future__ import annotations

import secrets
import subprocess
import sys
import urllib.error
import urllib.request
import uuid
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import psycopg

from crm.management.stack.programs import Program
from crm.management.testing.servers import Servers
from tests.conftest import free_port
from tests.processes import PROJECT, plain_environment


@contextmanager
def own_database(servers: Servers, data: Path, *, redis: int) -> Iterator[dict[str, str]]:
    """The environment of an installation whose database goes with it. `redis`: the number of its broker."""
    name = f"served_{uuid.uuid4().hex[:12]}"
    with psycopg.connect(servers.postgres, autocommit=True) as connection:
        connection.execute(f'CREATE DATABASE "{name}"')
        yield plain_environment() | {
            "DATABASE_URL": servers.postgres.rpartition("/")[0] + f"/{name}",
            "REDIS_URL": servers.redis.rpartition("/")[0] + f"/{redis}",
            "OVERWINTER_BASE_URL": f"http://localhost:{free_port()}",
            "OVERWINTER_SECRET_KEY": secrets.token_urlsafe(64),
            "OVERWINTER_DATA": str(data),
            "OVERWINTER_TICK_SECONDS": "1",
            "OVERWINTER_LOG_LEVEL": "INFO",
        }
        connection.execute(f'DROP DATABASE "{name}" WITH (FORCE)')


def manage(environment: dict[str, str], *arguments: str) -> str:
    """Run `manage.py` there. Returns what it said; fails with that where it fails."""
    result = subprocess.run(
        [sys.executable, "manage.py", *arguments],
        cwd=PROJECT,
        env=environment,
        capture_output=True,
        text=True,
        check=False,
    )
    assert result.returncode == 0, result.stdout + result.stderr
    return result.stdout


def web(environment: dict[str, str], application: str = "crm.config.wsgi") -> Program:
    """Gunicorn at the installation's own address."""
    port = environment["OVERWINTER_BASE_URL"].rpartition(":")[2]
    return Program(
        name="web",
        command=(
            *(sys.executable, "-m", "gunicorn", "--config", "python:crm.config.gunicorn"),
            *("--bind", f"127.0.0.1:{port}", application),
        ),
        environment=environment,
    )


def answers(url: str) -> bool:
    """Whether a web server answers there, with whatever page."""
    try:
        urllib.request.urlopen(url, timeout=10).close()
    except urllib.error.HTTPError as error:
        error.close()
        return True
    except OSError:
        return False
    return True
