"""Meters: their pace, their noise and their faults."""

from collections.abc import Callable

import pytest

from demo.custom_components.virtual_workshop.model.faults import Fault
from demo.custom_components.virtual_workshop.model.layout import COLLECTOR, SITE
from demo.custom_components.virtual_workshop.model.readings import Quantity, Readings
from demo.custom_components.virtual_workshop.model.world import World

from .yard import NOON, small_world

SAW = ("saw", Quantity.POWER)
LATHE = ("lathe", Quantity.CURRENT)


class Watch:
    """Plays Home Assistant: wakes for meters and the world, and keeps the reports."""

    def __init__(self, world: World) -> None:
        self.world = world
        self.readings = Readings(world.layout)
        self.reports: list[tuple[float, tuple[str, str], float | None]] = []
        self.wakes = 0
        self._collect()

    def _collect(self) -> None:
        self.wakes += 1
        for key in self.readings.collect(self.world):
            value = self.readings.all[key].value
            self.reports.append((self.world.now - NOON, key, value))

    def run(self, seconds: float) -> None:
        """Let time pass as the driver does."""
        end = self.world.now + seconds
        while True:
            event = self.world.next_event()
            instant = min(self.readings.next_due(), event or end, end)
            self.world.advance(instant)
            if instant >= end:
                return
            self._collect()

    def act(self, what: Callable[[World], None]) -> None:
        """Act, after which the driver reads all meters."""
        what(self.world)
        self._collect()

    def values(self, key: tuple[str, str], since: float = 0.0) -> list[float | None]:
        """Return what one meter reported since some second."""
        return [value for at, part, value in self.reports if part == key and at > since]


def test_running_machine_is_reported_at_the_plugs_pace_and_noisily() -> None:
    watch = Watch(small_world())
    watch.run(10)
    watch.act(lambda world: world.run_machine("saw", 1.0))
    watch.run(30)
    values = watch.values(SAW, since=12)
    # Occasionally two readings are so close that the second isn't reported.
    assert 22 <= len(values) <= 29
    assert len(set(values)) > 20
    assert all(value is not None and 1350 < value < 1650 for value in values)


def test_a_jump_is_reported_at_the_plugs_next_look() -> None:
    """Neither at once nor later than one interval."""
    delays = []
    for tenth in range(10):
        watch = Watch(small_world())
        watch.run(10 + tenth / 10)
        began = watch.world.now - NOON
        watch.act(lambda world: world.run_machine("saw", 1.0))
        watch.run(3)
        first = next(
            at
            for at, key, value in watch.reports
            if key == SAW and value is not None and value > 1000
        )
        delays.append(first - began)
    assert 0.0 < min(delays) < 0.2
    assert 0.8 < max(delays) <= 1.0


def test_standby_is_quiet_but_not_silent() -> None:
    watch = Watch(small_world())
    watch.run(300)
    assert 9 <= len(watch.values(SAW)) <= 12
    # An idle workshop costs next to nothing.
    assert watch.wakes < 200


def test_inrush_shows_only_if_the_plug_happens_to_look() -> None:
    watch = Watch(small_world())
    for _ in range(20):
        watch.run(7.3)
        watch.act(lambda world: world.run_machine("saw", 1.0, seconds=3.0))
    values = [value for value in watch.values(SAW) if value is not None]
    inrushes = [value for value in values if value > 3000]
    assert 3 <= len(inrushes) <= 17


def test_clamp_reads_amperes() -> None:
    watch = Watch(small_world())
    watch.act(lambda world: world.run_machine("lathe", 1.0))
    watch.run(5)
    value = watch.readings.all[LATHE].value
    assert value == pytest.approx(2.0, abs=0.15)


def test_frozen_meter_repeats_itself() -> None:
    watch = Watch(small_world())
    watch.act(lambda world: world.run_machine("saw", 1.0))
    watch.run(5)
    watch.act(lambda world: world.break_part("saw", Fault.PLUG_FROZEN))
    watch.act(lambda world: world.stop_machine("saw"))
    since = watch.world.now - NOON
    watch.run(100)
    values = watch.values(SAW, since)
    assert len(values) >= 3
    assert len(set(values)) == 1
    assert values[0] is not None
    assert values[0] > 1000
    watch.act(lambda world: world.mend_part("saw"))
    watch.readings.hurry(["saw"])
    watch.run(1)
    assert watch.readings.all[SAW].value == pytest.approx(2, abs=0.5)


def test_frozen_meter_stays_frozen_over_a_restart() -> None:
    watch = Watch(small_world())
    watch.act(lambda world: world.run_machine("saw", 1.0))
    watch.run(5)
    watch.act(lambda world: world.break_part("saw", Fault.PLUG_FROZEN))
    kept = watch.readings.dump()
    frozen = watch.readings.all[SAW].value
    watch.act(lambda world: world.stop_machine("saw"))
    fresh = Readings(watch.world.layout)
    fresh.load(kept, watch.world)
    fresh.collect(watch.world)
    assert fresh.all[SAW].value == frozen
    assert fresh.all[LATHE].value != kept["lathe/current"] or frozen is not None


def test_silent_meter_says_nothing() -> None:
    watch = Watch(small_world())
    watch.run(5)
    watch.act(lambda world: world.break_part("saw", Fault.PLUG_SILENT))
    since = watch.world.now - NOON
    watch.act(lambda world: world.run_machine("saw", 1.0))
    watch.run(200)
    assert watch.values(SAW, since) == []


def test_false_zero_is_reported_once() -> None:
    watch = Watch(small_world())
    watch.act(lambda world: world.run_machine("saw", 1.0))
    watch.run(5)
    since = watch.world.now - NOON
    watch.act(lambda world: world.break_part("saw", Fault.PLUG_FALSE_ZERO))
    watch.run(5)
    values = watch.values(SAW, since)
    assert values[0] == 0.0
    assert values.count(0.0) == 1
    assert len(values) >= 4
    assert not watch.world.faults


def test_negative_readings() -> None:
    watch = Watch(small_world())
    watch.act(lambda world: world.run_machine("saw", 1.0))
    watch.act(lambda world: world.break_part("saw", Fault.PLUG_NEGATIVE))
    watch.run(3)
    value = watch.readings.all[SAW].value
    assert value is not None
    assert value < -1300


def test_faults_of_the_collectors_meter_leave_its_other_sensors_alone() -> None:
    watch = Watch(small_world())
    watch.act(lambda world: world.break_part(COLLECTOR, Fault.PLUG_SILENT))
    since = watch.world.now - NOON
    watch.act(lambda world: world.command_collector(on=True))
    watch.run(10)
    assert watch.values((COLLECTOR, Quantity.POWER), since) == []
    speeds = watch.values((COLLECTOR, Quantity.SPEED), since)
    assert speeds[-1] == pytest.approx(2850, rel=0.03)


def test_impeller_is_followed_to_its_standstill() -> None:
    watch = Watch(small_world())
    watch.act(lambda world: world.command_collector(on=True))
    watch.run(8)
    watch.act(lambda world: world.command_collector(on=False))
    watch.run(13)
    assert watch.values((COLLECTOR, Quantity.SPEED))[-1] == 0


def test_compressed_air_falls() -> None:
    watch = Watch(small_world())
    air = watch.readings.all[SITE, Quantity.AIR]
    assert air.value == pytest.approx(6.3, abs=0.2)
    watch.act(lambda world: world.break_part(SITE, Fault.AIR_SUPPLY_LOW))
    watch.run(3)
    assert air.value == pytest.approx(1.8, abs=0.1)


def test_bin_level_is_reported_when_it_is_set() -> None:
    watch = Watch(small_world())
    watch.act(lambda world: world.set_bin(60))
    watch.run(6)
    assert watch.values((COLLECTOR, Quantity.BIN))[-1] == 60
