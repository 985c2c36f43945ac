"""The tests make their tables from the models; what an installation runs are the migrations."""

from __future__ import annotations

from contextlib import suppress
from io import StringIO

import pytest
from django.core.management import call_command
from pytest_django import Settings


@pytest.mark.django_db
def test_migrations_lead_to_the_tables_of_the_models(settings: Settings) -> None:
    settings.MIGRATION_MODULES = {}  # where the tests run without them, they are found again
    said = StringIO()
    with suppress(SystemExit):  # after it has said what a migration would have to change
        call_command("makemigrations", "--check", "--dry-run", stdout=said)
    assert said.getvalue() == "No changes detected\n"
