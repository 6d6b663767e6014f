"""A monitored shop sees everything, has no targets, and knows what it would do."""

from dataclasses import replace
from heapq import heapify, heappop
from typing import Any

import pytest

from custom_components.gatewright.core.config import (
    COLLECTOR,
    SystemConfig,
    WhenBinFull,
)
from custom_components.gatewright.core.control.alarms import AlarmKind, Condition
from custom_components.gatewright.core.control.enums import Phase, Refusal, RefusedError
from custom_components.gatewright.core.control.persistence import restore, save
from custom_components.gatewright.core.control.shop import ShopControl
from custom_components.gatewright.core.inputs import (
    CollectorReported,
    CollectorTurned,
    ConditionReported,
    GateMoved,
    GateReported,
    HoseReported,
    Input,
    MachineReading,
    Mode,
    ModeSet,
    PlanChanged,
    RequestMade,
)
from custom_components.gatewright.core.simulation.shadow_control import (
    OF_ACTUATORS,
    MonitoredShop,
    carry_over,
    totals_of,
)
from custom_components.gatewright.core.simulation.simulation import (
    Recording,
    complete,
    simulate,
)

from .test_simulation import scene, shop

REST = 100.0
"""Long enough for everything to come to rest."""


def begun(system: SystemConfig, now: float) -> MonitoredShop:
    """Return a monitored shop in which everything is reported at rest."""
    watched = MonitoredShop(system, now)
    watched.handle(CollectorReported(False), now)
    for gate in system.gates:
        opened = gate.gate_id == "router_gate"
        watched.handle(GateReported(gate.gate_id, opened), now)
    watched.advance(now)
    return watched


def watch(watched: MonitoredShop, recording: Recording) -> None:
    """Feed a shop with a recording, and let time pass like Home Assistant."""
    reported: list[tuple[float, int, Input]] = []

    def at(when: float, event: Input) -> None:
        reported.append((when, len(reported), event))

    for machine, signals in recording.connected.items():
        for when, value in signals:
            at(when, HoseReported(machine, value))
    for machine, readings in recording.readings.items():
        for when, watts in readings:
            at(when, MachineReading(machine, watts))
    for gate, positions in recording.hand_gates.items():
        for when, value in positions:
            at(when, GateReported(gate, value))
    heapify(reported)
    while reported:
        when, _, event = heappop(reported)
        while watched.wake is not None and watched.wake < when:
            watched.advance(watched.wake)
        watched.handle(event, when)
        watched.advance(when)
        assert list(watched.sequence.orders()) == []
    while watched.wake is not None and watched.wake <= recording.ends:
        watched.advance(watched.wake)
    watched.advance(recording.ends)


@pytest.mark.parametrize("seed", range(8))
def test_it_would_have_done_what_a_simulation_says(seed: int) -> None:
    recording = replace(scene(seed), requests={})
    system = shop()
    simulated = complete(simulate(system, recording))
    watched = begun(system, recording.begins - REST)
    watch(watched, recording)
    ledger = watched.would.ledger
    assert ledger.collector.starts == simulated.figures.starts
    assert ledger.collector.on_time == pytest.approx(simulated.figures.on_time, abs=0.5)
    for machine, figures in simulated.figures.machines.items():
        spent = ledger.of(machine)
        assert spent.cuts == figures.cuts
        assert spent.run_time == pytest.approx(figures.run_time, abs=0.5)
        assert spent.collecting_time == pytest.approx(figures.collecting_time, abs=0.5)
    # What really happened: nobody turned anything on.
    assert watched.ledger.collector.starts == 0
    assert totals_of(watched.ledger)["run_time"] == pytest.approx(
        simulated.figures.run_time, abs=0.5
    )
    assert not any(kind in OF_ACTUATORS for kind, _ in watched.alarms.standing)


def test_it_sees_what_really_happens() -> None:
    system = shop()
    watched = begun(system, 0.0)
    watched.advance(REST)
    sequence = watched.sequence
    phases: list[Phase] = []
    phases.append(sequence.phase)
    watched.handle(CollectorReported(True), REST)
    watched.handle(GateReported("saw_gate", True), REST)
    watched.handle(MachineReading("saw", 900.0), REST)
    watched.advance(REST)
    watched.advance(REST + 1.0)
    phases.append(sequence.phase)
    assert not sequence.is_collecting("saw", REST + 1.0)
    watched.advance(REST + 2.5)
    assert sequence.is_collecting("saw", REST + 2.5)
    watched.advance(REST + 60.0)
    watched.handle(CollectorReported(False), REST + 60.0)
    watched.advance(REST + 60.0)
    phases.append(sequence.phase)
    watched.advance(REST + 80.0)
    phases.append(sequence.phase)
    assert watched.ledger.collector.on_time == pytest.approx(60.0)
    assert watched.ledger.of("saw").collecting_time == pytest.approx(57.5)
    assert phases == [
        Phase.IDLE,
        Phase.COLLECTING,
        Phase.SPINNING_DOWN,
        Phase.IDLE,
    ]


@pytest.mark.parametrize(
    "asked",
    [
        RequestMade("saw"),
        CollectorTurned(True),
        CollectorTurned(False),
        GateMoved("saw_gate", opened=True),
    ],
)
def test_nobody_can_have_anything_moved(asked: Input) -> None:
    watched = begun(shop(), 0.0)
    with pytest.raises(RefusedError) as refused:
        watched.handle(asked, 0.0)
    assert refused.value.why is Refusal.MONITOR_ONLY


def test_alarms_of_actuators_are_none_and_others_stand() -> None:
    watched = begun(shop(), 0.0)
    for kind in (AlarmKind.COMMAND_FAILED, AlarmKind.FILTER_PRESSURE_HIGH):
        watched.handle(ConditionReported(Condition(kind, COLLECTOR), True), 0.0)
    watched.handle(GateReported("saw_gate", None, reachable=False), 1.0)
    watched.advance(1.0)
    watched.advance(REST)
    standing = set(watched.alarms.standing)
    assert Condition(AlarmKind.FILTER_PRESSURE_HIGH, COLLECTOR) in standing
    assert Condition(AlarmKind.READING_LOST, "saw") in standing
    assert not any(kind in OF_ACTUATORS for kind, _ in standing)


def test_without_automatic_it_would_have_done_nothing() -> None:
    watched = begun(shop(), 0.0)
    watched.handle(ModeSet(Mode.AUTOMATIC, False), 0.0)
    watched.handle(PlanChanged(shop()), 50.0)
    watched.handle(MachineReading("saw", 900.0), 50.0)
    for now in (50.0, 52.0, 80.0):
        watched.advance(now)
    assert watched.would.ledger.collector.starts == 0
    assert watched.ledger.of("saw").run_time > 25.0


def test_modes_hold_for_what_would_be_as_well() -> None:
    watched = begun(shop(), 0.0)
    watched.handle(ModeSet(Mode.START_BLOCK, True), 0.0)
    watched.advance(50.0)
    watched.handle(MachineReading("saw", 900.0), 50.0)
    watched.advance(50.0)
    watched.advance(80.0)
    assert watched.would.ledger.collector.starts == 0
    watched.handle(PlanChanged(shop(shutoff_delay=9.0)), 80.0)
    watched.handle(MachineReading("saw", 900.0), 80.0)
    watched.advance(80.0)
    watched.advance(110.0)
    assert watched.would.ledger.collector.starts == 0
    watched.handle(ModeSet(Mode.START_BLOCK, False), 110.0)
    watched.advance(110.0)
    while watched.wake is not None and watched.wake < 150.0:
        watched.advance(watched.wake)
    assert watched.would.ledger.collector.starts == 1


def test_from_monitoring_to_driving_begins_from_rest() -> None:
    """Totals are kept; what was seen on is adopted, as when a system is first set up."""
    system = shop()
    watched = begun(system, 0.0)
    watched.handle(CollectorReported(True), REST)
    watched.handle(MachineReading("saw", 900.0), REST)
    watched.advance(REST)
    watched.advance(REST + 30.0)
    kept = save(watched, REST + 30.0)
    live = ShopControl(system, 500.0)
    carry_over(live, kept, 500.0)
    assert live.ledger.collector.starts == 1
    assert live.sequence.adopting
    assert not live.sequence.collector_wanted
    live.sequence.report_collector(True, 500.0, own=True)
    for gate in system.gates:
        live.sequence.report_gate(gate.gate_id, False, 500.0)
    live.advance(500.0)
    # On with every gate closed: it gets an open gate at once.
    assert any(
        order.target for part, order in live.sequence.orders() if part != COLLECTOR
    )


def test_from_driving_to_monitoring_keeps_totals_and_forgets_targets() -> None:
    system = shop()
    live = ShopControl(system, 0.0)
    live.sequence.set_start_block(True)
    live.ledger.collector.starts = 7
    live.advance(0.0)
    watched = MonitoredShop(system, 10.0)
    carry_over(watched, save(live, 10.0), 10.0)
    watched.advance(10.0)
    assert watched.ledger.collector.starts == 7
    assert watched.sequence.start_block
    assert watched.would.sequence.start_block
    assert watched.would.ledger.collector.starts == 0
    again = ShopControl(system, 20.0)
    restore(again, save(live, 20.0), 20.0)
    assert again.sequence.start_block


def test_start_block_fire_shutdown_and_a_full_bin_are_simulated() -> None:
    system = shop(shutoff_delay=2.0, spin_down=2.0, rest=0.0)
    system = replace(
        system, collector=replace(system.collector, bin_answer=WhenBinFull.REFUSE)
    )
    cuts = [(float(at), watts) for at in range(0, 400, 100) for watts in (900.0, 2.0)]
    reported = [(at + (50.0 if watts < 100 else 10.0), watts) for at, watts in cuts]

    def starts(**held: Any) -> int:
        recording = Recording(
            begins=0.0, ends=400.0, readings={"saw": reported}, **held
        )
        return complete(simulate(system, recording)).figures.starts

    assert starts() == 4
    assert starts(start_block=[(5.0, True), (95.0, False)]) == 3
    assert starts(bin_full=[(105.0, True), (305.0, False)]) == 2
    assert starts(fire_shutdown=[(205.0, True), (290.0, None), (295.0, False)]) == 3
