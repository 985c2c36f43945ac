"""What has to be true before Django reads its settings: a data folder of the tests' own.

Loaded as a plugin by pytest's own options, because settings are read before any conftest is.
"""

from __future__ import annotations

import atexit
import os
import shutil
import tempfile
from pathlib import Path

import pytest

# Kept through the cleaning below: where the servers are, and what `manage.py test` chose for served mode.
KEPT = {
    "OVERWINTER_TEST_POSTGRES",
    "OVERWINTER_TEST_REDIS",
    "OVERWINTER_BOOTSTRAP",
    *({"OVERWINTER_BASE_URL", "OVERWINTER_SECRET_KEY"} if "DATABASE_URL" in os.environ else ()),
}
for _name in [name for name in os.environ if name.startswith("OVERWINTER_")]:
    if _name not in KEPT:
        del os.environ[_name]

FOLDER = Path(tempfile.mkdtemp(prefix="overwinter-tests-"))
atexit.register(shutil.rmtree, FOLDER, ignore_errors=True)
os.environ["OVERWINTER_DATA"] = str(FOLDER / "data")
(FOLDER / "data" / "static").mkdir(parents=True)  # empty, but WhiteNoise warns where it is missing
os.environ["OVERWINTER_LOG_LEVEL"] = "WARNING"
# Several tests run at once: threads for sums as small as ours would only stand in each other's way.
os.environ["OPENBLAS_NUM_THREADS"] = "1"


@pytest.hookimpl(tryfirst=True)
def pytest_configure() -> None:
    """Make passwords cheap and static files plain, and give SQLite a file, as it has outside the tests."""
    from django.conf import settings

    settings.PASSWORD_HASHERS = ["django.contrib.auth.hashers.MD5PasswordHasher"]
    settings.STORAGES = {
        **settings.STORAGES,
        "staticfiles": {"BACKEND": "django.contrib.staticfiles.storage.StaticFilesStorage"},
    }
    database = settings.DATABASES["default"]
    if database["ENGINE"].endswith("sqlite3"):
        # In place: pytest-django may have had Django fill the dictionary in already.
        database.setdefault("TEST", {})["NAME"] = str(FOLDER / "tests.sqlite3")
