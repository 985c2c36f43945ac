"""The same code on PostgreSQL and Redis, with the real programs that a server would run."""

from __future__ import annotations

import json
import secrets
import socket
import subprocess
import sys
import urllib.request
import uuid
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

import psycopg
import pytest
from celery import Celery

from crm.management.stack.programs import Program, beat, worker
from crm.management.stack.supervisor import Child, Supervisor
from crm.management.testing.servers import Servers
from tests.processes import PROJECT, plain_environment

pytestmark = pytest.mark.served


@dataclass(frozen=True)
class Served:
    """A served installation: its environment, and where it answers."""

    environment: dict[str, str]
    url: str
    supervisor: Supervisor
    worker: Child


def _manage(environment: dict[str, str], *arguments: str) -> str:
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


def _free_port() -> int:
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        return int(probe.getsockname()[1])


@pytest.fixture
def environment(servers: Servers, tmp_path: Path) -> Iterator[dict[str, str]]:
    """A database of the test's own, and every setting that served mode demands."""
    name = f"served_{uuid.uuid4().hex[:12]}"
    with psycopg.connect(servers.postgres, autocommit=True) as connection:
        connection.execute(f'CREATE DATABASE "{name}"')
        yield plain_environment() | {
            "DATABASE_URL": servers.postgres.rpartition("/")[0] + f"/{name}",
            "REDIS_URL": servers.redis.rpartition("/")[0] + "/9",
            "OVERWINTER_BASE_URL": f"http://localhost:{_free_port()}",
            "OVERWINTER_SECRET_KEY": secrets.token_urlsafe(64),
            "OVERWINTER_DATA": str(tmp_path / "data"),
            "OVERWINTER_TICK_SECONDS": "1",
            "OVERWINTER_LOG_LEVEL": "INFO",
        }
        connection.execute(f'DROP DATABASE "{name}" WITH (FORCE)')


@pytest.fixture
def served(environment: dict[str, str], tmp_path: Path) -> Iterator[Served]:
    """Gunicorn, a worker and beat, each started by its own command line."""
    _manage(environment, "migrate", "--verbosity", "0")
    _manage(environment, "collectstatic", "--no-input", "--verbosity", "0")
    url = environment["OVERWINTER_BASE_URL"]
    web = Program(
        name="web",
        command=(
            *(sys.executable, "-m", "gunicorn", "--config", "python:crm.config.gunicorn"),
            *("--bind", f"127.0.0.1:{url.rpartition(':')[2]}", "crm.config.wsgi"),
        ),
        environment=environment,
    )
    supervisor = Supervisor(tmp_path / "logs")
    try:
        supervisor.start(web)
        at_work = supervisor.start(worker(environment=environment))
        supervisor.start(beat(environment=environment))
        supervisor.wait_until(lambda: _answers(url), what="The web server", seconds=60)
        yield Served(environment, url, supervisor, at_work)
    finally:
        supervisor.stop()


def _answers(url: str) -> bool:
    try:
        urllib.request.urlopen(url, timeout=10).close()
    except urllib.error.HTTPError as error:
        error.close()
        return True
    except OSError:
        return False
    return True


def test_served_answers_and_carries_out_what_beat_sends(served: Served) -> None:
    with urllib.request.urlopen(served.url + "/", timeout=20) as answer:
        page = answer.read().decode()
        assert answer.status == 200
        assert "default-src 'none'" in answer.headers["Content-Security-Policy"]
    assert 'type="password"' in page

    # A task handed to Redis by another process, such as a web worker, is taken by the worker.
    with Celery(broker=served.environment["REDIS_URL"]) as sender:
        sent = sender.send_task("crm.tasks.housekeeping").id
    log = served.worker.log.path
    served.supervisor.wait_until(
        lambda: f"crm.tasks.housekeeping[{sent}] succeeded" in _said(log), what="Housekeeping", seconds=30
    )
    # And beat sends its own.
    served.supervisor.wait_until(
        lambda: any(line.startswith("Task crm.tasks.tick[") and "succeeded" in line for line in _events(log)),
        what="A tick",
        seconds=30,
    )


def _said(path: Path) -> str:
    return path.read_text(encoding="utf-8")


def _events(path: Path) -> list[str]:
    """What the log lines say: in served mode each is one JSON object."""
    return [json.loads(line)["event"] for line in _said(path).splitlines() if line.startswith("{")]


def test_served_settings_pass_every_deployment_check(environment: dict[str, str]) -> None:
    safe = environment | {"OVERWINTER_BASE_URL": "https://studio.example.org"}
    _manage(safe, "check", "--deploy", "--fail-level", "WARNING")
