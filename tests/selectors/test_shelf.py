"""The shelf: the waits in force beside what is usual. The figures are common practice with no source."""

from __future__ import annotations

from crm.care.terms import ProductClass
from crm.models import Life
from crm.selectors.shelf import Wait, waits_of


def test_waits_of_a_class_stand_beside_what_is_usual() -> None:
    assert waits_of(ProductClass.POLYMER_SEALANT, None) == (
        Wait("keep dry", "24 h", own=False, usual="12 h to 24 h"),
        Wait("wash from", "7 days", own=False, usual="3 days to 7 days"),
        Wait("topper from", "24 h", own=False, usual=""),
        Wait("fully set", "2 days", own=False, usual="24 h to 2 days"),
    )


def test_own_wait_keeps_what_is_usual_beside_it() -> None:
    dry, *_ = waits_of(ProductClass.POLYMER_SEALANT, Life(dry_hours=36))
    assert dry == Wait("keep dry", "36 h", own=True, usual="12 h to 24 h")


def test_every_class_says_its_waits() -> None:
    assert all(wait.after for each in ProductClass for wait in waits_of(each, None))
