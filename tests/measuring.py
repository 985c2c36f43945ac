"""How much of the product the tests go over is measured over a part of them: watching doubles what a test takes.

Left out are tests that go over the same lines again and again: those that draw their examples, the later cases of a
parametrised test, and what is marked `unmeasured`. They run like every other test. What is measured is therefore a
floor: the whole suite covers at least as much.
"""

from __future__ import annotations

import os
from collections import Counter
from collections.abc import Generator, Iterator
from contextlib import contextmanager
from typing import Any

import pytest
from coverage import Coverage

CASES = 3
"""So many cases of a parametrised test are measured: the first by their names, whatever the order of the run."""
CHILDREN = "COVERAGE_PROCESS_CONFIG"
"""The variable by which coverage tells the processes that a test starts to measure themselves too."""


@pytest.hookimpl(tryfirst=True)
def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    """Mark what is not measured."""
    seen = Counter[str]()
    for item in sorted(items, key=lambda item: item.nodeid):
        name = item.nodeid.partition("[")[0]
        seen[name] += 1
        if seen[name] > CASES or getattr(getattr(item, "obj", None), "is_hypothesis_test", False):
            item.add_marker(pytest.mark.unmeasured)


@pytest.hookimpl(wrapper=True, tryfirst=True)
def pytest_runtest_protocol(item: pytest.Item) -> Generator[None, Any, Any]:
    """Stop watching while a test runs that is not measured, and in the processes it starts."""
    if item.get_closest_marker("unmeasured") is None:
        return (yield)
    with unwatched():
        return (yield)


@contextmanager
def unwatched() -> Iterator[None]:
    """Nobody watches in here. A process that runs tests for another is watched twice: whoever is left would go on."""
    told = os.environ.pop(CHILDREN, None)
    stopped = []
    while (watching := Coverage.current()) is not None:
        watching.stop()
        stopped.append(watching)
    try:
        yield
    finally:
        for watching in reversed(stopped):
            watching.start()
        if told is not None:
            os.environ[CHILDREN] = told
