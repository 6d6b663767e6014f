"""Ports of the loopback address, reserved for this process.

A port that is found free and used later can be lost in between. What a process holds
here stays its own until it ends, through every restart of the server that listens
there.
"""

import socket
import sys

HOST = "127.0.0.1"
ANY = 0

_TRIES = 20
_held: dict[int, tuple[socket.socket, ...]] = {}


class PortTakenError(OSError):
    """The requested port is in use; the message names it."""


def hold_port(wished: int = ANY) -> int:
    """Take a port, hold it until this process ends, and return it; raises `PortTakenError`.

    A server can listen there beside the hold if it reuses addresses, as Home Assistant
    and an MQTT broker do.
    """
    for _ in range(_TRIES):
        try:
            return _hold(wished)
        except OSError:
            if wished != ANY:
                break
    raise PortTakenError(f"port {wished} of {HOST} is in use")


def listens(port: int) -> bool:
    """Return whether anybody listens at a port."""
    with socket.socket() as probe:
        return probe.connect_ex((HOST, port)) == 0


def _hold(wished: int) -> int:
    """Bind a port without listening there; raises `OSError`."""
    stream = socket.socket(socket.AF_INET, socket.SOCK_STREAM)
    # An exclusive claim: two processes that hold ports never hold the same one.
    claim = socket.socket(socket.AF_INET, socket.SOCK_DGRAM)
    try:
        # Like Home Assistant's own server: a port that was just in use is free.
        stream.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        stream.bind((HOST, wished))
        port: int = stream.getsockname()[1]
        claim.bind((HOST, port))
    except OSError:
        stream.close()
        claim.close()
        raise
    if sys.platform == "linux":
        # Bound but not listening, it's neither given out nor in a server's way.
        _held[port] = (stream, claim)
    else:
        # Elsewhere it would be in the server's way: only the claim is kept.
        stream.close()
        _held[port] = (claim,)
    return port
