"""What the tests with a real Home Assistant process share."""

import pytest


@pytest.fixture(autouse=True)
def _sockets(socket_enabled: None) -> None:
    """Let a test talk to its hub on the loopback address; the test plugin forbids all sockets."""
