"""How gunicorn serves the application: `gunicorn --config python:crm.config.gunicorn crm.config.wsgi`."""

from __future__ import annotations

import os
from typing import Any

from crm.config import settings
from crm.management.stack.offspring import die_with_parent

workers = int(os.environ.get("WEB_CONCURRENCY", "2"))
worker_class = "gthread"
threads = 2
timeout = 60
# Each worker starts afresh now and then, not all at the same moment.
max_requests = 5_000
max_requests_jitter = 500
# One line a request is written by the application, with the request's name and without its address.
accesslog = None
# And what the server itself has to say is written by the application's logs, in their form.
errorlog = None
logconfig_dict = settings.LOGGING
# Heart-beat files belong in memory: on a slow disk a worker would seem to have hung.
worker_tmp_dir = "/dev/shm" if os.path.isdir("/dev/shm") else None  # noqa: S108, PTH112
control_socket_disable = True


def post_fork(_arbiter: Any, _worker: Any) -> None:
    """A worker must not outlive a master that was killed."""
    die_with_parent()
