"""Fixtures of the tests with a real Home Assistant process."""

from pathlib import Path

import pytest

HERE = Path(__file__).parent


@pytest.hookimpl(tryfirst=True)
def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    """Distribute tests to processes: those that share a Home Assistant stay together.

    The demo comes first: it runs for minutes, mostly waiting, and the others fit beside
    it.
    """
    here = [item for item in items if item.path.is_relative_to(HERE)]
    for item in here:
        item.add_marker(pytest.mark.xdist_group(group(item)))
    longest = [item for item in here if group(item) == "test_demo.py"]
    items[:] = [*longest, *(item for item in items if item not in longest)]


def group(item: pytest.Item) -> str:
    """Return the group of a test: a file, or a folder that shares a Home Assistant."""
    return item.path.relative_to(HERE).parts[0]


@pytest.fixture(autouse=True)
def _sockets(socket_enabled: None) -> None:
    """Allow a test the loopback address; the test plugin forbids all sockets."""
