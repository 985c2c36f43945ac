"""`manage.py bring_in` as a person types it."""

from __future__ import annotations

from io import StringIO
from pathlib import Path

import pytest
from django.core.management import CommandError, call_command

from crm.models import Car
from tests import factories

ROW = "Date,Reg,Car,Customer,Work\n3/5/25,QA21 LME,blue Halden Estate,Jo Tern,sealant all over\n"


@pytest.fixture
def path(tmp_path: Path) -> Path:
    file = tmp_path / "list.csv"
    file.write_text(ROW, encoding="utf-8")
    return file


@pytest.mark.django_db
def test_report_is_printed_and_written_and_nothing_is_saved(path: Path) -> None:
    factories.branch()
    said = StringIO()
    call_command("bring_in", str(path), "--report", str(path.with_suffix(".txt")), stdout=said)
    assert said.getvalue().splitlines()[-1] == (
        "Would save: 1 cars, 1 layers, 1 people, 1 products, 1 visits. Nothing was saved; add --commit to save it."
    )
    assert path.with_suffix(".txt").read_text(encoding="utf-8") == said.getvalue()
    assert Car.objects.count() == 0


@pytest.mark.django_db
def test_commit_saves(path: Path) -> None:
    factories.branch()
    call_command("bring_in", str(path), "--commit", stdout=StringIO())
    assert Car.objects.count() == 1


@pytest.mark.django_db
@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        (["nothing.csv"], "There is no file nothing.csv."),
        ([], "There is no studio yet. Start it with: python3 manage.py studio"),
    ],
)
def test_what_cannot_be_done_is_one_sentence(path: Path, arguments: list[str], words: str) -> None:
    if arguments:
        factories.branch()
    with pytest.raises(CommandError) as caught:
        call_command("bring_in", *(arguments or [str(path)]), stdout=StringIO())
    assert str(caught.value) == words
