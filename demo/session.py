"""Starts a Home Assistant with the virtual workshop, sets Gatewright up in it, and plays a working session.

Run it through scripts/demo, which prepares what it needs.
"""

import argparse
import asyncio
import contextlib
import fcntl
import os
from pathlib import Path
import signal
import sys
import time

import aiohttp

from .custom_components.virtual_workshop.layouts import build_layout
from .dashboards import add_dashboards
from .fault_tour import FaultTour
from .forms import FormError
from .hub import Hub, HubError
from .hub_client import RequestError
from .hub_directory import ROOT, prepare
from .hub_socket import CommandError, HubGoneError
from .narrator import Narrator
from .newcomer import Newcomer
from .past import remember
from .play import Play
from .ports import HOST, PortTakenError, hold_port, listens
from .purge_scene import CONFIGURATION, WORKSHOP, add_machines
from .shop_floor import ShopFloor
from .timeline import Timeline
from .working_session import WorkingSession

USED_BEFORE = "sensor.machine_room_band_saw_plug_power"
"""The plug of a machine that was used in the week before the demo."""

USUAL_PORT = 8123
USUAL_DIRECTORY = ROOT / ".demo"

GOES_WRONG = (
    FormError,
    HubError,
    RequestError,
    CommandError,
    HubGoneError,
    TimeoutError,
    aiohttp.ClientError,
)
"""The errors of a play when Home Assistant fails."""

RIGHT, WRONG, USAGE, INTERRUPTED = 0, 1, 2, 130


class Demo:
    """One run of the demo."""

    def __init__(self, arguments: argparse.Namespace, timeline: Timeline) -> None:
        self._arguments = arguments
        self._timeline = timeline
        self.played = False
        """Whether the play is over."""

    async def run(self) -> int:
        """Play, and leave Home Assistant running unless told otherwise; return the exit code."""
        arguments, timeline = self._arguments, self._timeline
        layout = build_layout(WORKSHOP)
        directory = prepare(
            arguments.dir / "config",
            port=arguments.port,
            workshop=WORKSHOP,
            extra_yaml=CONFIGURATION,
        )
        reported = remember(directory.path, USED_BEFORE, layout.machines["band_saw"])
        hub = Hub(directory)
        timeline.title("Starting Home Assistant")
        timeline.note(
            f"its recorder has {reported} readings of the band saw's last week"
        )
        began = time.monotonic()
        async with hub:
            timeline.note(f"running after {time.monotonic() - began:.1f} s")
            timeline.note(f"to watch, open {hub.directory.url} in a browser")
            floor = ShopFloor(hub, layout)
            try:
                play = await self._set_up(floor)
                await play.play()
                await play.summary()
            except GOES_WRONG as err:
                timeline.check(False, str(err) or type(err).__name__)
                if hub.pid is None:
                    print(f"Home Assistant has ended:\n{hub.log_tail()}", flush=True)
            finally:
                await floor.leave()
            self.played = True
            self._conclude()
            if not arguments.once:
                await self._keep_running(hub)
        return WRONG if timeline.wrong else RIGHT

    async def _set_up(self, floor: ShopFloor) -> Play:
        timeline = self._timeline
        await floor.enter()
        await floor.until_measured()
        timeline.title("Setting Gatewright up, through its forms")
        newcomer = Newcomer(floor.client, timeline.note)
        entry_id = await newcomer.set_up(floor.layout.collector.coast)
        await floor.learn(entry_id)
        timeline.note(
            f"{len(floor.enabled)} entities are enabled for a new owner; this session "
            "enables some more to check itself by"
        )
        await add_machines(floor, timeline.note)
        await add_dashboards(floor)
        # Whether the impeller turns isn't known at first: the spin-down is waited for.
        timeline.note("waiting until the system is sure that the impeller stands")
        await floor.until("phase", "idle", timeout=40)
        Narrator(floor, timeline)
        kind = FaultTour if self._arguments.faults else WorkingSession
        return kind(floor, timeline)

    def _conclude(self) -> None:
        timeline = self._timeline
        wrong = timeline.wrong
        timeline.note()
        if not wrong:
            print(f"All {timeline.checks} checks held.", flush=True)
            return
        print(f"{len(wrong)} of {timeline.checks} checks did not hold:", flush=True)
        for what in wrong:
            print(f"  {what}", flush=True)

    async def _keep_running(self, hub: Hub) -> None:
        """Keep Home Assistant running for the user; start it again when it's restarted from its page."""
        while True:
            print("\nHome Assistant goes on running; Ctrl-C stops it. Open", flush=True)
            print(hub.directory.url, flush=True)
            await hub.ended()
            print("Home Assistant has ended; starting it again", flush=True)
            await hub.start()


def _read_arguments() -> argparse.Namespace:
    parser = argparse.ArgumentParser(
        prog="scripts/demo",
        description="Plays a working session in a virtual workshop, in a real Home Assistant.",
    )
    parser.add_argument(
        "--once",
        action="store_true",
        help="stop after the session; exit with 0 only if every step did what it should",
    )
    parser.add_argument(
        "--faults",
        action="store_true",
        help="play what goes wrong in a workshop instead of a working session",
    )
    parser.add_argument(
        "--port",
        type=int,
        help=f"port of the loopback address (default: {USUAL_PORT} if it is free)",
    )
    parser.add_argument(
        "--dir",
        type=Path,
        default=USUAL_DIRECTORY,
        help="folder for the files of Home Assistant, made anew each time (default: .demo)",
    )
    arguments = parser.parse_args()
    try:
        arguments.port = _take_port(arguments.port)
    except PortTakenError as err:
        parser.error(str(err))
    return arguments


def _take_port(port: int | None) -> int:
    """Return the port for Home Assistant, and hold it unless the caller does."""
    if port is None:
        with contextlib.suppress(PortTakenError):
            return hold_port(USUAL_PORT)
        return hold_port()
    if listens(port):
        raise PortTakenError(f"port {port} of {HOST} is in use")
    # The caller may hold it for us.
    with contextlib.suppress(PortTakenError):
        return hold_port(port)
    return port


async def _main(arguments: argparse.Namespace) -> int:
    demo = Demo(arguments, Timeline())
    running = asyncio.ensure_future(demo.run())
    loop = asyncio.get_running_loop()
    for name in (signal.SIGINT, signal.SIGTERM, signal.SIGHUP):
        loop.add_signal_handler(name, running.cancel)
    try:
        return await running
    except asyncio.CancelledError:
        print("\nStopped.", flush=True)
        return RIGHT if demo.played and not arguments.once else INTERRUPTED
    except HubError as err:
        print(f"\n{err}", file=sys.stderr, flush=True)
        return WRONG


def main() -> int:
    """Run the demo; return the exit code."""
    arguments = _read_arguments()
    arguments.dir.mkdir(parents=True, exist_ok=True)
    lock = os.open(arguments.dir / "lock", os.O_CREAT | os.O_RDWR, 0o600)
    try:
        fcntl.flock(lock, fcntl.LOCK_EX | fcntl.LOCK_NB)
    except BlockingIOError:
        print(f"Another demo runs in {arguments.dir}; stop it first.", file=sys.stderr)
        return USAGE
    return asyncio.run(_main(arguments))
