"""The Celery application: what the broker is, how work is taken from it, and what beat sends when."""

from __future__ import annotations

import logging.config
import os
from typing import Any

import structlog
from celery import Celery, Task, signals
from django.conf import settings

from crm.management.stack.offspring import die_with_parent

os.environ.setdefault("DJANGO_SETTINGS_MODULE", "crm.config.settings")

# No task runs longer: the oldest unfinished one is given to another worker after the visibility timeout.
VISIBILITY_TIMEOUT = 600

app = Celery("overwinter")
app.conf.update(
    broker_url=settings.CELERY_BROKER_URL,
    broker_connection_retry_on_startup=True,
    broker_transport_options={
        "visibility_timeout": VISIBILITY_TIMEOUT,
        "unacked_restore_interval": 5,
        "unacked_restore_throttle": 1,
    },
    imports=["crm.tasks"],
    task_ignore_result=True,
    task_acks_late=True,
    task_reject_on_worker_lost=True,
    task_time_limit=VISIBILITY_TIMEOUT - 60,
    task_soft_time_limit=VISIBILITY_TIMEOUT - 120,
    worker_prefetch_multiplier=1,
    # WeasyPrint's memory grows with every paper.
    worker_max_tasks_per_child=200,
    worker_hijack_root_logger=False,
    worker_redirect_stdouts=False,
    timezone=settings.TIME_ZONE,
    beat_schedule_filename=str(settings.DATA.beat),
    beat_schedule={
        # A tick that has waited for its successor is of no use: it expires.
        "tick": {
            "task": "crm.tasks.tick",
            "schedule": float(settings.TICK_SECONDS),
            "options": {"expires": settings.TICK_SECONDS},
        },
        "follow": {"task": "crm.tasks.follow", "schedule": 60.0, "options": {"expires": 60}},
        "plan_winter": {"task": "crm.tasks.plan_winter", "schedule": 10.0, "options": {"expires": 10}},
        "housekeeping": {"task": "crm.tasks.housekeeping", "schedule": 3600.0, "options": {"expires": 3600}},
    },
)


@signals.setup_logging.connect
def _use_our_logs(**_: Any) -> None:
    """Celery's own logging is left out: the same lines in the same form as everywhere."""
    logging.config.dictConfig(settings.LOGGING)


@signals.worker_process_init.connect
def _end_with_the_worker(**_: Any) -> None:
    """A pool process must not outlive a worker that was killed."""
    die_with_parent()


@signals.task_prerun.connect
def _name_the_task(task_id: str, task: Task, **_: Any) -> None:  # type: ignore[type-arg]
    structlog.contextvars.clear_contextvars()
    structlog.contextvars.bind_contextvars(task_id=task_id, task=task.name)


@signals.task_postrun.connect
def _forget_the_task(**_: Any) -> None:
    structlog.contextvars.clear_contextvars()
