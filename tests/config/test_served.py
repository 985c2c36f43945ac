"""The same code on PostgreSQL and Redis, with the real programs that a server would run."""

from __future__ import annotations

import json
import urllib.request
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

import pytest
from celery import Celery

from crm.management.stack.programs import beat, worker
from crm.management.stack.supervisor import Child, Supervisor
from crm.management.testing.servers import Servers
from tests.served import answers, manage, own_database, web

pytestmark = pytest.mark.served


@dataclass(frozen=True)
class Served:
    """A served installation: its environment, and where it answers."""

    environment: dict[str, str]
    url: str
    supervisor: Supervisor
    worker: Child


@pytest.fixture
def environment(servers: Servers, tmp_path: Path) -> Iterator[dict[str, str]]:
    """A database of the test's own, and every setting that served mode demands."""
    with own_database(servers, tmp_path / "data", redis=9) as settings:
        yield settings


@pytest.fixture
def served(environment: dict[str, str], tmp_path: Path) -> Iterator[Served]:
    """Gunicorn, a worker and beat, each started by its own command line."""
    manage(environment, "migrate", "--verbosity", "0")
    manage(environment, "collectstatic", "--no-input", "--verbosity", "0")
    url = environment["OVERWINTER_BASE_URL"]
    supervisor = Supervisor(tmp_path / "logs")
    try:
        supervisor.start(web(environment))
        at_work = supervisor.start(worker(environment=environment))
        supervisor.start(beat(environment=environment))
        supervisor.wait_until(lambda: answers(url), what="The web server", seconds=60)
        yield Served(environment, url, supervisor, at_work)
    finally:
        supervisor.stop()


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
    # What a browser test of the same process may have set for itself.
    safe.pop("DJANGO_ALLOW_ASYNC_UNSAFE", None)
    manage(safe, "check", "--deploy", "--fail-level", "WARNING")


@pytest.mark.parametrize(
    ("asked", "header"),
    [
        ({}, "max-age=31536000"),
        (
            {"OVERWINTER_HSTS_SUBDOMAINS": "on", "OVERWINTER_HSTS_PRELOAD": "on"},
            "max-age=31536000; includeSubDomains; preload",
        ),
    ],
)
def test_answer_over_https_promises_what_was_asked_for(
    environment: dict[str, str], asked: dict[str, str], header: str
) -> None:
    # The header's words: RFC 6797, section 6.1; preload is the browsers' own.
    safe = environment | {"OVERWINTER_BASE_URL": "https://studio.example.org"} | asked
    safe.pop("DJANGO_ALLOW_ASYNC_UNSAFE", None)
    ask = (
        "from django.http import HttpResponse;"
        "from django.middleware.security import SecurityMiddleware;"
        "from django.test import RequestFactory;"
        "answer = SecurityMiddleware(lambda request: HttpResponse())(RequestFactory().get('/', secure=True));"
        "print('said', answer['Strict-Transport-Security'])"
    )
    assert f"said {header}\n" in manage(safe, "shell", "--command", ask)
