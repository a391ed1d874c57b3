"""A plug-in of pytest: coverage notes each case of a test by its own name, not only the test's function.

coverage run --branch --source=src/plumeline --data-file=lines.data --append -m pytest -p by_case TESTS
"""  # fmt: skip

from __future__ import annotations

from collections.abc import Iterator

import pytest
from coverage import Coverage


@pytest.hookimpl(wrapper=True)
def pytest_runtest_call(item: pytest.Item) -> Iterator[None]:
    """Let all lines that one case runs be noted under its name."""
    running = Coverage.current()
    if running is None:
        raise pytest.UsageError("by_case: run pytest under coverage: coverage run -m pytest -p by_case")
    running.switch_context(item.nodeid)
    yield
    running.switch_context("")
