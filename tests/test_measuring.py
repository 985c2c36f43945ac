"""Which tests are watched for how much they cover."""

from __future__ import annotations

from dataclasses import dataclass, field
from types import SimpleNamespace
from typing import Any, cast

import pytest

from tests.measuring import CASES, pytest_collection_modifyitems

pytestmark = pytest.mark.alike


@dataclass
class _Item:
    nodeid: str
    obj: Any = None
    marks: list[str] = field(default_factory=list)

    def add_marker(self, mark: pytest.MarkDecorator) -> None:
        self.marks.append(mark.name)


def _left_out(*items: _Item) -> list[str]:
    pytest_collection_modifyitems(cast("list[pytest.Item]", list(items)))
    return sorted(item.nodeid for item in items if item.marks == ["unmeasured"])


def test_later_cases_are_not_measured_whatever_the_order() -> None:
    cases = [_Item(f"tests/test_one.py::test_it[{letter}]") for letter in "ecbda"]
    other = [_Item("tests/test_one.py::test_other"), _Item("tests/test_two.py::test_it[a]")]
    assert CASES == 3
    assert _left_out(*other, *cases) == ["tests/test_one.py::test_it[d]", "tests/test_one.py::test_it[e]"]


def test_drawn_examples_are_not_measured() -> None:
    drawn = SimpleNamespace(is_hypothesis_test=True)
    assert _left_out(_Item("one", drawn), _Item("two", SimpleNamespace()), _Item("three")) == ["one"]
