"""Devices that do not say what they do, or say what is not so."""

from dataclasses import replace

import pytest

from custom_components.gatewright.core.config import COLLECTOR
from custom_components.gatewright.core.control.alarms import AlarmKind
from custom_components.gatewright.core.control.enums import Phase
from custom_components.gatewright.core.control.persistence import restore, save
from custom_components.gatewright.core.control.plug_relay import LATE

from .bench import Bench, field_bench, near, resting_bench


def collector_without_feedback() -> Bench:
    """Return the bench of the field cases with a collector that never says how it is."""
    bench = field_bench(now=-100.0)
    bench.devices[COLLECTOR].no_feedback = True
    bench.power_up()
    for machine in ("planer", "tablesaw", "bandsaw"):
        bench.read(-99.0, machine, 5.0)
    bench.run_to(0.0)
    return bench


def test_collector_that_does_not_say_how_it_stands_is_driven() -> None:
    made = collector_without_feedback()
    made.read(10.0, "planer", 1450.0)
    made.read(60.0, "planer", 5.0)
    made.run_to(200.0)
    [on, off] = made.sent(COLLECTOR)
    assert on == (near(13.0, 1.0), True)
    assert off == (near(79.0), False)
    # Nobody has seen it off: the spin-down counts from the end of its window of 10 s.
    assert made.sent("planer_gate")[-1] == (near(79.0 + 10.0 + 20.0), False)
    assert made.sequence.phase is Phase.IDLE
    assert made.alarms == []


def test_its_stop_is_sent_after_a_restart_in_the_middle_of_a_run() -> None:
    made = collector_without_feedback()
    made.read(10.0, "planer", 1450.0)
    made.run_to(40.0)
    after = field_bench(now=45.0)
    after.devices[COLLECTOR].no_feedback = True
    after.devices["planer_gate"].state = True
    restore(after.shop, save(made.shop, made.now), 45.0)
    after.power_up()
    after.read(50.0, "planer", 5.0)
    after.run_to(200.0)
    assert (False in [target for _, target in after.sent(COLLECTOR)]) is True
    assert after.sequence.phase is Phase.IDLE


def relay(made: Bench, at: float, on: bool | None) -> None:
    def click() -> None:
        made.sequence.switch_relay("planer", on, made.now)

    made.at(at, click)


def starts(made: Bench) -> int:
    return sum(target for _, target in made.sent(COLLECTOR))


def test_repeats_of_a_plug_that_is_off_keep_nothing_running() -> None:
    made = resting_bench()
    relay(made, 1.0, True)
    made.read(10.0, "planer", 1450.0)
    relay(made, 60.0, False)
    # A bridge repeats what it has kept; one reading is late.
    made.read(61.0, "planer", 1310.0)
    for minute in range(1, 30):
        made.read(60.0 + 60.0 * minute, "planer", 1310.0)
    made.run_to(2000.0)
    assert made.sent(COLLECTOR)[1] == (near(79.0), False)
    assert starts(made) == 1
    assert made.alarms == []


def test_kept_reading_after_a_restart_starts_nothing() -> None:
    made = field_bench()
    made.power_up()
    made.sequence.switch_relay("planer", False, 0.0)
    for minute in range(10):
        made.read(1.0 + 60.0 * minute, "planer", 1450.0)
    made.run_to(700.0)
    assert made.commands == []


@pytest.mark.parametrize("idle", [False, True])
def test_relay_that_does_not_cut_is_told_and_the_machine_served(idle: bool) -> None:
    made = resting_bench()
    relay(made, 1.0, True)
    made.read(10.0, "planer", 1450.0)
    relay(made, 60.0, False)
    for number in range(40):
        watts = 0.1 * (number % 3) if idle else 1400.0 + number % 3
        made.read(60.0 + LATE + number, "planer", watts)
    made.run_to(100.0)
    kind = AlarmKind.RELAY_NOT_CUTTING
    assert bool(made.told(kind)) is not idle
    assert made.sequence.machines["planer"].senses_running is not idle
    relay(made, 200.0, True)
    made.run_to(210.0)
    assert [raised for _, raised in made.told(kind)] == ([] if idle else [True, False])


def test_gate_whose_entity_is_gone_stands_as_it_did_until_the_work_ends() -> None:
    made = resting_bench(used=True)
    made.read(10.0, "planer", 1450.0)
    made.run_to(30.0)
    lost = tuple(
        replace(gate, feedback=False, lost=True)
        if gate.gate_id == "planer_gate"
        else gate
        for gate in made.system.gates
    )
    made.at(
        30.0, lambda: made.sequence.replan(replace(made.system, gates=lost), made.now)
    )
    made.away(30.0, "planer_gate")
    made.read(90.0, "planer", 5.0)
    made.run_to(89.0)
    assert made.sequence.phase is Phase.COLLECTING
    assert made.sequence.is_collecting("planer", made.now)
    made.run_to(200.0)
    assert [target for _, target in made.sent(COLLECTOR, 9.0)] == [True, False]
