"""How long a week takes from the recorder to the answer: 500,000 readings.

    .venv/bin/python -m benchmarks.recorded_week           # what was measured
    .venv/bin/python -m benchmarks.recorded_week --check   # exit code 1 where it is slow

A Home Assistant is started that has a recorder and nothing else, the week of `benchmarks.simulation`
is written into its database, and a system of 12 machines is simulated from it. Beside
that a heartbeat in the event loop is watched: how late it comes is how long Home
Assistant would not have answered.
"""

import asyncio
from collections.abc import Iterator
from datetime import datetime, timedelta
from pathlib import Path
import sys
from tempfile import TemporaryDirectory
from time import perf_counter, process_time
from typing import Any

from homeassistant import bootstrap, loader
from homeassistant.config_entries import ConfigEntries
from homeassistant.core import HomeAssistant
from homeassistant.helpers.recorder import (
    async_initialize_recorder,
    get_instance,
    session_scope,
)
from homeassistant.setup import async_setup_component
from homeassistant.util import dt as dt_util
from sqlalchemy import insert

from custom_components.gatewright.core.config import GateKind, IdlePosition
from custom_components.gatewright.core.kinds import MachineKind
from custom_components.gatewright.core.stored.config import StoredConfig
from custom_components.gatewright.core.stored.parts import (
    StoredGate,
    StoredMachine,
    StoredPart,
)
from custom_components.gatewright.core.stored.system import (
    StoredMotor,
    StoredSystem,
    StoredTiming,
)
from custom_components.gatewright.features.simulation.manager import simulate_system

from .simulation import TARGET, WEEK, busy_week

_ROWS = 20_000
_BEAT = 0.01
LONGEST_STALE_AFTER = 0.5
"""The longest accepted time in s that the event loop is blocked.

The longest ones, 0.1 to 0.4 s, are the interpreter's full garbage collections, which
reading that many rows causes like any other query of the history.
"""


def system() -> StoredConfig:
    """Return twelve machines, each with a gate and a plug."""
    parts: list[StoredPart] = []
    for number in range(12):
        gate = StoredGate(
            part_id=f"gate_{number}",
            name=f"Gate {number}",
            kind=GateKind.POWERED,
            actuator=f"cover.gate_{number}",
            travel=3.0,
            idle_position=IdlePosition.CLOSED,
        )
        machine = StoredMachine(
            part_id=f"machine_{number}",
            name=f"Machine {number}",
            kind=MachineKind.OTHER,
            gates=(gate.part_id,),
            collect_while_running=True,
            hold=10.0 if number % 3 == 0 else 0.0,
            sensor=f"sensor.machine_{number}",
            unit="W",
            start=150.0,
            stop=60.0,
            start_confirm=1.0,
        )
        parts += [gate, machine]
    return StoredConfig(
        system=StoredSystem(
            part_id="busy",
            name="Collector",
            switch="switch.collector",
            timing=StoredTiming(shutoff_delay=8.0, spin_down=12.0),
            motor=StoredMotor(min_off_time=30.0, starts_per_hour=20.0),
        ),
        parts={part.part_id: part for part in parts},
    )


def _rows(begins: datetime, metas: dict[str, int], unit: int) -> Iterator[Any]:
    start = begins.timestamp()
    for machine, readings in busy_week().readings.items():
        for at, value in readings:
            yield {
                "state": str(value),
                "metadata_id": metas[machine],
                "attributes_id": unit,
                "last_updated_ts": start + at,
            }


def _fill(hass: HomeAssistant, begins: datetime) -> int:
    """Write the week into the database, as the recorder would have; return the rows."""
    from homeassistant.components.recorder.db_schema import (  # noqa: PLC0415
        StateAttributes,
        States,
        StatesMeta,
    )

    written = 0
    with session_scope(hass=hass) as session:
        unit = StateAttributes(
            hash=1, shared_attrs='{"unit_of_measurement":"W","device_class":"power"}'
        )
        metas = {
            f"machine_{number}": StatesMeta(entity_id=f"sensor.machine_{number}")
            for number in range(12)
        }
        session.add_all([unit, *metas.values()])
        session.flush()
        ids = {machine: meta.metadata_id for machine, meta in metas.items()}
        batch = []
        for row in _rows(begins, ids, unit.attributes_id):
            batch.append(row)
            if len(batch) == _ROWS:
                session.execute(insert(States), batch)
                written += len(batch)
                batch = []
        if batch:
            session.execute(insert(States), batch)
    return written + len(batch)


async def _home_assistant(directory: Path) -> HomeAssistant:
    hass = HomeAssistant(str(directory))
    hass.config_entries = ConfigEntries(hass, {})
    loader.async_setup(hass)
    await bootstrap.async_load_base_functionality(hass)
    async_initialize_recorder(hass)
    recorder = {"db_url": f"sqlite:///{directory / 'week.db'}"}
    if not await async_setup_component(hass, "recorder", {"recorder": recorder}):
        raise RuntimeError("Home Assistant has no recorder")
    await hass.async_start()
    await get_instance(hass).async_recorder_ready.wait()
    return hass


async def _beat(lateness: list[float]) -> None:
    """Note how late each beat comes."""
    while True:
        due = perf_counter() + _BEAT
        await asyncio.sleep(_BEAT)
        lateness.append(perf_counter() - due)


async def measure(directory: Path) -> int:
    """Print the measurements; return 1 if it took too long."""
    hass = await _home_assistant(directory)
    try:
        begins = dt_util.utcnow() - timedelta(seconds=WEEK)
        instance = get_instance(hass)
        rows = await instance.async_add_executor_job(_fill, hass, begins)
        shares: list[tuple[float, float]] = []
        lateness: list[float] = []
        beat = asyncio.create_task(_beat(lateness))
        began, spent = perf_counter(), process_time()
        found = await simulate_system(
            hass,
            system(),
            begins,
            begins + timedelta(seconds=WEEK),
            lambda share: shares.append((share, perf_counter() - began)),
        )
        lasted, spent = perf_counter() - began, process_time() - spent
        beat.cancel()
    finally:
        await hass.async_stop(force=True)
    read = max(at for share, at in shares if share <= 0.3)
    late = sorted(lateness)
    figures = found.would.figures
    sys.stdout.write(
        f"rows in the database  {rows}\n"
        f"readings              {found.records.count}\n"
        f"read in               {read:.2f} s\n"
        f"read and simulated in {lasted:.2f} s, {spent:.2f} s of processor time\n"
        f"told how far          {len(shares)} times\n"
        f"the loop came late by {late[len(late) // 2] * 1000:.0f} ms in the middle, "
        f"{late[-1] * 1000:.0f} ms at most\n"
        f"collector             {figures.starts} starts, "
        f"{figures.on_time / 3600:.1f} h, coverage {figures.collected_share:.3f}\n"
    )
    return int(
        "--check" in sys.argv and (spent > TARGET or late[-1] > LONGEST_STALE_AFTER)
    )


def main() -> int:
    """Measure in a directory of its own."""
    with TemporaryDirectory() as directory:
        return asyncio.run(measure(Path(directory)))


if __name__ == "__main__":
    sys.exit(main())
