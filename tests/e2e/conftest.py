"""What the tests with a real Home Assistant process share."""

from pathlib import Path

import pytest

HERE = Path(__file__).parent


BESIDE_THE_DEMO = ("test_chaos.py", "test_kill.py", "test_virtual_workshop.py")


@pytest.hookimpl(tryfirst=True)
def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    """Let two processes share the tests, with about as much time for each.

    The demo plays for minutes; it and the tests named above take as long as the others
    and the browser's. What shares a hub stays in one process.
    """
    for item in items:
        if item.path.is_relative_to(HERE):
            part = item.path.relative_to(HERE).parts[0]
            demo = part == "test_demo.py" or part in BESIDE_THE_DEMO
            item.add_marker(pytest.mark.xdist_group("demo" if demo else "browser"))


@pytest.fixture(autouse=True)
def _sockets(socket_enabled: None) -> None:
    """Let a test talk to its hub on the loopback address; the test plugin forbids all sockets."""
