"""A bench with maintenance, on a calendar."""

from dataclasses import dataclass, field, replace
from datetime import UTC, datetime, timedelta, tzinfo
import json
import random
from zoneinfo import ZoneInfo

import pytest

from custom_components.gatewright.core.config import COLLECTOR, MachineConfig
from custom_components.gatewright.core.control import persistence
from custom_components.gatewright.core.control.ledger import Ledger
from custom_components.gatewright.core.maintenance.config import MaintenanceConfig
from custom_components.gatewright.core.maintenance.maintenance import Maintenance
from custom_components.gatewright.core.statistics.calendar import Span
from custom_components.gatewright.core.statistics.runs import KeptRun
from tests.control.bench import Bench, field_bench

BERLIN = ZoneInfo("Europe/Berlin")
MACHINES = ("planer", "tablesaw", "bandsaw")


@dataclass
class Workday:
    """A bench and its maintenance; `begin` is the local time at 0."""

    plan: MaintenanceConfig = field(default_factory=MaintenanceConfig)
    begin: datetime = datetime(2026, 3, 2, 8, tzinfo=BERLIN)
    bench: Bench = field(init=False)
    maintenance: Maintenance = field(init=False)
    kept: list[KeptRun] = field(default_factory=list)

    def __post_init__(self) -> None:
        self.take_up(field_bench(now=-100.0))
        self.bench.power_up()
        for machine in MACHINES:
            self.bench.read(-99.0, machine, 5.0)
        self.bench.run_to(0.0)

    def take_up(self, bench: Bench) -> None:
        self.bench = bench
        self.maintenance = Maintenance(self.plan, bench.shop)
        bench.after_step = lambda _: self.look()

    @property
    def zone(self) -> tzinfo:
        zone = self.begin.tzinfo
        assert zone is not None
        return zone

    @property
    def when(self) -> datetime:
        begin = self.begin.astimezone(UTC)
        return (begin + timedelta(seconds=self.bench.now)).astimezone(self.zone)

    def look(self) -> None:
        now = self.bench.now
        self.maintenance.observe(now, self.when)
        runs = self.bench.shop.ledger.drain()
        self.kept += self.maintenance.finish(runs, now, self.when)

    def tick(self) -> None:
        """Do what Home Assistant does regularly while anything runs."""
        self.bench.shop.ledger.book(self.bench.now)
        self.look()

    def run(self, machine: str, begin: float, end: float) -> None:
        """Schedule a run of a machine."""
        self.bench.read(begin, machine, 1450.0)
        self.bench.read(end, machine, 5.0)

    def restart(self, away: float, saved: tuple[str, str] | None = None) -> None:
        """Stop the process, and start another after so many seconds.

        `saved` are the memories of shop and maintenance as they were on disk.
        """
        shop_memory, maintenance_memory = saved or self.memories()
        states = {part: d.state for part, d in self.bench.devices.items()}
        bench = field_bench(now=self.bench.now + away)
        for part, state in states.items():
            bench.devices[part].state = state
        persistence.restore(bench.shop, json.loads(shop_memory), bench.now)
        self.take_up(bench)
        self.maintenance.restore(json.loads(maintenance_memory), bench.now)
        bench.power_up()

    def memories(self) -> tuple[str, str]:
        return (
            json.dumps(persistence.save(self.bench.shop, self.bench.now)),
            json.dumps(self.maintenance.save(self.bench.now)),
        )


def muddle(day: Workday, lots: random.Random, begin: float, end: float) -> None:
    """Schedule anything that can happen in a shop between two instants."""
    bench = day.bench
    for _ in range(lots.randint(10, 40)):
        at = lots.uniform(begin, end)
        machine = lots.choice(MACHINES)
        match lots.randint(0, 11):
            case 0:
                bench.hand(at, COLLECTOR, lots.random() < 0.5)
            case 1:
                bench.hand(at, f"{machine}_gate", lots.random() < 0.5)
            case 2:
                on = lots.random() < 0.4
                bench.at(at, lambda on=on: bench.sequence.set_start_block(on))  # type: ignore[misc]
            case 3:
                on = lots.random() < 0.6
                bench.at(at, lambda on=on: bench.sequence.set_automatic(on))  # type: ignore[misc]
            case 4:
                bench.read(at, machine, None)
            case 5:
                bench.at(at, day.tick)
            case _:
                day.run(machine, at, at + lots.expovariate(1 / 900))


def agrees(total: Span, ledger: Ledger) -> None:
    """Compare the calendar with the ledger, to a millisecond."""
    for machine_id in total.machines.keys() | ledger.machines.keys():
        spent, totals = total.of(machine_id), ledger.of(machine_id)
        assert spent.run == pytest.approx(totals.run_time, abs=1e-3)
        assert spent.air == pytest.approx(totals.collecting_time, abs=1e-3)
        assert spent.little <= spent.air
        assert (spent.runs, spent.cuts) == (totals.runs, totals.cuts)
        without = sum(spent.without.values())
        assert spent.air + without == pytest.approx(spent.run, abs=1e-3)
    assert total.collector.on == pytest.approx(ledger.collector.on_time, abs=1e-3)
    assert total.collector.starts == ledger.collector.starts


def rebuilt(day: Workday, *machines: MachineConfig) -> dict[str, str]:
    system = replace(day.bench.system, machines=machines)
    day.bench.sequence.replan(system, day.bench.now)
    day.look()
    return day.maintenance.replan(day.plan)
