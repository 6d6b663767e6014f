"""A held port: nobody else gets it, and a server finds it free."""

import contextlib
import socket
import subprocess
import sys

import pytest

from demo.hub_directory import ROOT
from demo.ports import HOST, PortTakenError, hold_port, listens


@pytest.fixture(autouse=True)
def _sockets(socket_enabled: None) -> None:
    """Let ports be tried."""


def server(port: int) -> socket.socket:
    """Listen at a port, as Home Assistant does."""
    listening = socket.socket()
    listening.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
    listening.bind((HOST, port))
    listening.listen()
    return listening


def test_each_port_is_held_once() -> None:
    held = {hold_port() for _ in range(50)}
    assert len(held) == 50
    for port in held:
        with pytest.raises(PortTakenError, match=f"{port} of {HOST} is in use"):
            hold_port(port)


def test_nobody_is_given_a_held_port() -> None:
    held = {hold_port() for _ in range(20)}
    with contextlib.ExitStack() as stack:
        for _ in range(500):
            other = stack.enter_context(socket.socket())
            other.bind((HOST, 0))
            assert other.getsockname()[1] not in held


def test_another_process_does_not_hold_it_too() -> None:
    port = hold_port()
    line = f"from demo.ports import hold_port; hold_port({port})"
    tried = subprocess.run(
        [sys.executable, "-c", line],
        cwd=ROOT,
        capture_output=True,
        text=True,
        check=False,
    )
    assert f"port {port} of {HOST} is in use" in tried.stderr


def test_a_server_comes_and_goes_at_a_held_port() -> None:
    port = hold_port()
    for _ in range(3):
        assert not listens(port)
        with server(port), socket.create_connection((HOST, port)):
            assert listens(port)


def test_where_somebody_listens_is_not_held() -> None:
    with server(0) as other:
        port = other.getsockname()[1]
        assert listens(port)
        with pytest.raises(PortTakenError):
            hold_port(port)
        # A connection that was just closed is no obstacle.
        with socket.create_connection((HOST, port)):
            other.accept()[0].close()
    assert hold_port(port) == port
