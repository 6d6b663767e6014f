"""What the tests with a real Home Assistant process share."""

from pathlib import Path

import pytest

HERE = Path(__file__).parent


@pytest.hookimpl(tryfirst=True)
def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    """Let processes share the tests: what uses one Home Assistant stays together.

    The demo comes first: it plays for minutes, mostly waiting, and the others fit
    beside it.
    """
    here = [item for item in items if item.path.is_relative_to(HERE)]
    for item in here:
        item.add_marker(pytest.mark.xdist_group(group(item)))
    longest = [item for item in here if group(item) == "test_demo.py"]
    items[:] = [*longest, *(item for item in items if item not in longest)]


def group(item: pytest.Item) -> str:
    """Return what runs in one process: a file, or a folder whose tests share a Home Assistant."""
    return item.path.relative_to(HERE).parts[0]


@pytest.fixture(autouse=True)
def _sockets(socket_enabled: None) -> None:
    """Let a test talk to its Home Assistant on the loopback address; the test plugin forbids all sockets."""
