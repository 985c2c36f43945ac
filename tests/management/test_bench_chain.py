"""The bench of a whole chain, on a small one: the same dates and words both ways, and every layer once."""

from __future__ import annotations

from io import StringIO

import pytest
from django.core.management import CommandError, call_command

from crm.care.forecast import Outlook
from crm.management.bench import chain
from crm.management.bench.chain import ONE_BY_ONE, Chain, whole_chain
from crm.management.bench.printing import WIDTH, chain_table


def test_side_by_side_and_one_by_one_agree_to_the_day_and_the_word(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(chain, "BATCH", 96)
    found = whole_chain(400)
    assert (found.apart, found.told_otherwise) == (0, 0)
    assert (found.dates.layers, found.words.layers) == (400, 400)
    assert found.dates_one_by_one.layers == found.words_one_by_one.layers == 400 // ONE_BY_ONE
    assert max(len(line) for line in chain_table(found)) <= WIDTH


def test_chain_is_printed_with_its_ratios() -> None:
    out = StringIO()
    call_command("bench", "forecast", chain=True, layers=300, stdout=out)
    assert out.getvalue().startswith("bench forecast --chain: 300 layers\n")
    assert "Largest difference of any date: 0 days (at most 0)." in out.getvalue()


def test_chain_whose_words_differ_fails(monkeypatch: pytest.MonkeyPatch) -> None:
    def silent(cases: list[object]) -> list[Outlook]:
        return [Outlook(None, ()) for _ in cases]

    monkeypatch.setattr(chain, "_outlooks_alone", silent)
    with pytest.raises(CommandError, match=r"^Side by side and one by one differ"):
        call_command("bench", "forecast", chain=True, layers=80, stdout=StringIO())


def test_ratios_are_of_side_by_side_to_one_by_one() -> None:
    found = Chain()
    found.dates.layers, found.dates.seconds = 1000, 2.0
    found.dates_one_by_one.layers, found.dates_one_by_one.seconds = 100, 1.0
    found.words.layers, found.words.seconds = 1000, 5.0
    found.words_one_by_one.layers, found.words_one_by_one.seconds = 100, 1.0
    assert "5.0 for the dates alone, 2.0 with their reasons" in "\n".join(chain_table(found))
