"""Why a machine isn't served, in shops where the reason is known."""

from collections.abc import Callable
from dataclasses import replace

import pytest

from custom_components.gatewright.core.config import (
    COLLECTOR,
    CollectorConfig,
    GateConfig,
    GateKind,
    MachineConfig,
    PurgeStep,
    SystemConfig,
)
from custom_components.gatewright.core.statistics.not_collecting import (
    NotCollectingReason,
    reason_without_air,
)
from tests.control.bench import LEVELS, Bench, Device, resting_bench

WATTS = 1450.0


def reason(bench: Bench, machine_id: str = "planer") -> NotCollectingReason | None:
    return reason_without_air(bench.sequence, machine_id, bench.now)


def at(
    bench: Bench, instant: float, machine_id: str = "planer"
) -> NotCollectingReason | None:
    bench.run_to(instant)
    return reason(bench, machine_id)


def planing() -> Bench:
    """Return a bench whose planer is turned on at 10 and served from 15 on."""
    bench = resting_bench()
    bench.read(10.0, "planer", WATTS)
    return bench


def test_start_up_is_reported_step_by_step() -> None:
    bench = planing()
    assert at(bench, 12.0) is NotCollectingReason.GATE_MOVING
    assert at(bench, 14.1) is NotCollectingReason.STARTING
    assert at(bench, 20.0) is None
    too_little = reason_without_air(bench.sequence, "planer", 20.0, too_little=True)
    assert too_little is NotCollectingReason.TOO_LITTLE_AIR


def test_gate_and_impeller_on_their_way_together_are_named_by_the_later_one() -> None:
    """The planer's gate needs until 13, the impeller from 11.3 until 13.7."""
    bench = resting_bench(used=True)
    bench.read(10.0, "planer", WATTS)
    assert [at(bench, now) for now in (11.1, 12.0, 12.9, 13.2, 13.6)] == (
        [NotCollectingReason.STARTING] * 5
    )
    assert at(bench, 13.75) is None
    slow = resting_bench(used=True)
    slow.sequence.motor.replan(replace(slow.system.collector, spin_up=1.0))
    slow.read(10.0, "planer", WATTS)
    assert [at(slow, now) for now in (11.1, 12.0, 12.9)] == [
        NotCollectingReason.GATE_MOVING
    ] * 3
    assert at(slow, 13.1) is None


def test_impeller_that_is_not_up_to_speed_is_starting_at_open_gates() -> None:
    bench = resting_bench(used=True)
    bench.hand(5.0, "planer_gate", True)
    bench.read(10.0, "planer", WATTS)
    assert at(bench, 11.5) is NotCollectingReason.STARTING
    assert bench.sequence.motor.turning
    assert at(bench, 13.75) is None


def test_too_little_airflow_is_not_reported_of_a_machine_without_any() -> None:
    bench = planing()
    bench.run_to(12.0)
    found = reason_without_air(bench.sequence, "planer", 12.0, too_little=True)
    assert found is NotCollectingReason.GATE_MOVING


def stuck(bench: Bench) -> None:
    bench.devices["planer_gate"].deaf = True


def gate_away(bench: Bench) -> None:
    bench.away(5.0, "planer_gate")


def deaf(bench: Bench) -> None:
    bench.devices[COLLECTOR].deaf = True


def collector_away(bench: Bench) -> None:
    bench.away(5.0, COLLECTOR)


def breaker(bench: Bench) -> None:
    def no_current() -> None:
        bench.sequence.read_collector_power(0.0, bench.now)

    bench.at(9.0, no_current)


def start_block(bench: Bench) -> None:
    bench.at(30.0, lambda: bench.sequence.set_start_block(True))


def fire_shutdown(bench: Bench) -> None:
    bench.at(25.0, lambda: bench.sequence.set_start_block(True))
    bench.at(30.0, lambda: bench.sequence.set_fire_shutdown(True))


def automatic_off(bench: Bench) -> None:
    bench.at(5.0, lambda: bench.sequence.set_automatic(False))


def off_by_hand(bench: Bench) -> None:
    bench.hand(30.0, COLLECTOR, False)


def stop_requested(bench: Bench) -> None:
    bench.at(30.0, bench.sequence.stop_by_hand)


@pytest.mark.parametrize(
    ("what", "expected"),
    [
        (stuck, NotCollectingReason.GATE_STUCK),
        (gate_away, NotCollectingReason.GATE_UNREACHABLE),
        (deaf, NotCollectingReason.COLLECTOR_NOT_STARTING),
        (collector_away, NotCollectingReason.COLLECTOR_UNREACHABLE),
        (breaker, NotCollectingReason.COLLECTOR_NOT_STARTING),
        (start_block, NotCollectingReason.START_BLOCK),
        (fire_shutdown, NotCollectingReason.FIRE_SHUTDOWN),
        (automatic_off, NotCollectingReason.AUTOMATIC_OFF),
        (off_by_hand, NotCollectingReason.OFF_BY_HAND),
        (stop_requested, NotCollectingReason.OFF_BY_HAND),
    ],
)
def test_what_went_wrong_is_named(
    what: Callable[[Bench], None], expected: NotCollectingReason
) -> None:
    bench = planing()
    what(bench)
    assert at(bench, 60.0) is expected


def test_motor_that_draws_its_power_a_moment_later_is_starting() -> None:
    """A plug reports the power a second after the switch; nothing is wrong with that."""
    bench = planing()
    breaker(bench)
    reported = [at(bench, 10.0 + tenths / 10) for tenths in range(80)]
    began = reported.index(NotCollectingReason.STARTING)
    assert reported[began:].count(NotCollectingReason.STARTING) >= 10
    assert NotCollectingReason.COLLECTOR_NOT_STARTING not in reported[: began + 10]


def test_one_of_two_machines_without_its_gate() -> None:
    """The collector runs for the saw; the planer's own gate is the problem."""
    bench = planing()
    bench.read(10.0, "tablesaw", WATTS)
    bench.devices["planer_gate"].deaf = True
    # Due at 15; the impeller needs until 15.7.
    assert at(bench, 13.5) is NotCollectingReason.STARTING
    assert at(bench, 16.0) is NotCollectingReason.GATE_MOVING
    assert at(bench, 60.0) is NotCollectingReason.GATE_STUCK
    assert reason(bench, "tablesaw") is None


def test_gate_closed_by_hand_beside_another_machine() -> None:
    bench = planing()
    bench.read(10.0, "tablesaw", WATTS)
    bench.hand(40.0, "planer_gate", False)
    assert at(bench, 50.0) is NotCollectingReason.GATE_CLOSED_BY_HAND
    assert reason(bench, "tablesaw") is None


def test_second_machine_waits_for_its_gate_only() -> None:
    bench = planing()
    bench.read(60.0, "tablesaw", WATTS)
    assert at(bench, 62.0, "tablesaw") is NotCollectingReason.GATE_MOVING
    assert at(bench, 70.0, "tablesaw") is None


def test_machine_without_a_gate_waits_for_those_of_others() -> None:
    """A floor sweep that is always open has no gate; the planer's does not open."""
    system = SystemConfig(
        collector=CollectorConfig(name="Collector"),
        gates=(GateConfig(gate_id="gate", name="Gate", travel=30.0),),
        machines=(
            MachineConfig(machine_id="m", name="M", gates=("gate",), levels=LEVELS),
            MachineConfig(
                machine_id="n",
                name="N",
                levels=LEVELS,
                collect_while_running=False,
                purge=(PurgeStep(gates=("gate",)),),
            ),
        ),
    )
    devices = {COLLECTOR: Device(COLLECTOR), "gate": Device("gate", travel=20.0)}
    bench = Bench(system, devices, now=-100.0)
    bench.power_up()
    bench.run_to(0.0)
    bench.read(1.0, "m", WATTS)
    bench.at(2.0, lambda: bench.sequence.request("n", bench.now))
    # Its purge gate is where it would be served, if there is one.
    assert at(bench, 10.0, "n") in (
        NotCollectingReason.NO_GATE_OPEN,
        NotCollectingReason.GATE_MOVING,
    )
    assert at(bench, 22.1, "m") in (NotCollectingReason.STARTING, None)
    assert at(bench, 40.0, "n") is None


def test_collector_that_waits_for_its_start_delay() -> None:
    bench = resting_bench()
    collector = replace(bench.system.collector, start_delay=8.0)
    bench.sequence.replan(replace(bench.system, collector=collector), 0.0)
    bench.read(10.0, "planer", WATTS)
    assert at(bench, 12.0) is NotCollectingReason.GATE_MOVING
    assert at(bench, 16.0) is NotCollectingReason.STARTING
    assert at(bench, 25.0) is None


def test_motor_that_has_to_rest() -> None:
    bench = planing()
    bench.read(60.0, "planer", 8.0)
    bench.read(85.0, "planer", WATTS)
    assert at(bench, 95.0) is NotCollectingReason.MOTOR_RESTING
    assert at(bench, 115.0) is None


def other_bench(machine: MachineConfig, kind: GateKind = GateKind.POWERED) -> Bench:
    """Return a bench with one machine at one gate, at rest at 0."""
    system = SystemConfig(
        collector=CollectorConfig(name="Collector", shutoff_delay=5.0, spin_down=10.0),
        gates=(GateConfig(gate_id="gate", name="Gate", kind=kind),),
        machines=(machine,),
    )
    bench = Bench(
        system,
        {COLLECTOR: Device(COLLECTOR), "gate": Device("gate", travel=1.0)},
        now=-100.0,
    )
    bench.power_up()
    bench.read(-99.0, "m", 5.0)
    bench.run_to(0.0)
    return bench


def test_gate_that_somebody_has_to_open() -> None:
    machine = MachineConfig(machine_id="m", name="M", gates=("gate",), levels=LEVELS)
    bench = other_bench(machine, GateKind.HAND)
    bench.read(1.0, "m", WATTS)
    assert at(bench, 30.0, "m") is NotCollectingReason.GATE_CLOSED_BY_HAND
    bench.hand(31.0, "gate", True)
    assert at(bench, 40.0, "m") is None


def test_machine_with_its_own_extractor_needs_none() -> None:
    machine = MachineConfig(
        machine_id="m",
        name="M",
        levels=LEVELS,
        collect_while_running=False,
        purge=(PurgeStep(gates=("gate",)),),
    )
    bench = other_bench(machine)
    bench.read(1.0, "m", WATTS)
    assert at(bench, 30.0, "m") is NotCollectingReason.NOT_NEEDED


def test_machine_that_is_not_connected() -> None:
    machine = MachineConfig(
        machine_id="m", name="M", gates=("gate",), levels=LEVELS, movable=True
    )
    bench = other_bench(machine)
    bench.read(1.0, "m", WATTS)
    assert at(bench, 30.0, "m") is NotCollectingReason.NOT_CONNECTED


def test_machine_that_asks_for_nothing() -> None:
    bench = resting_bench()
    assert reason(bench) is NotCollectingReason.UNKNOWN


def test_reason_of_every_look_is_one_that_holds() -> None:
    """On a day of trouble there's a reason whenever dust collection is missing."""
    bench = planing()
    bench.read(60.0, "planer", 8.0)
    bench.read(70.0, "bandsaw", WATTS)
    bench.hand(100.0, COLLECTOR, False)
    bench.read(140.0, "bandsaw", 8.0)
    bench.read(150.0, "planer", WATTS)
    seen: set[NotCollectingReason | None] = set()

    def look(bench: Bench) -> None:
        for machine_id, run in bench.sequence.machines.items():
            found = reason(bench, machine_id)
            assert (found is None) is bench.sequence.is_collecting(
                machine_id, bench.now
            )
            if run.in_use:
                seen.add(found)

    bench.after_step = look
    bench.run_to(300.0)
    assert {
        None,
        NotCollectingReason.OFF_BY_HAND,
        NotCollectingReason.GATE_MOVING,
        NotCollectingReason.STARTING,
    } <= seen
    assert NotCollectingReason.UNKNOWN not in seen
