"""The collector's sequence with people, machines and gates around it."""

from collections.abc import Callable
from dataclasses import replace
from typing import Any

import pytest

from custom_components.gatewright.core.config import (
    COLLECTOR,
    CollectorConfig,
    GateConfig,
    GateKind,
    IdlePosition,
    LinkedDeviceConfig,
    MachineConfig,
    PurgeStep,
    StartWhen,
    SystemConfig,
    Thresholds,
    WhenBinFull,
)
from custom_components.gatewright.core.control.alarms import AlarmKind
from custom_components.gatewright.core.control.enums import (
    HAND,
    Cause,
    Phase,
    Refusal,
    RefusedError,
)
from custom_components.gatewright.core.control.machine import MachinePhase

from .bench import Bench, Device, near

PROMPT = Thresholds(start=150.0, stop=60.0, start_confirm=0.0, stop_confirm=0.0)

SHOP = SystemConfig(
    collector=CollectorConfig(name="Collector", hand_gates=("sweep_gate",)),
    gates=(
        GateConfig(gate_id="saw_gate", name="Saw gate", travel=3.0),
        GateConfig(gate_id="planer_gate", name="Planer gate", travel=3.0),
        GateConfig(gate_id="sweep_gate", name="Sweep gate", travel=3.0),
    ),
    machines=(
        MachineConfig(
            machine_id="saw",
            name="Saw",
            gates=("saw_gate",),
            levels=PROMPT,
            hold=15.0,
            purge=(PurgeStep(gates=("sweep_gate",), duration=5.0),),
            linked_devices=("light",),
        ),
        MachineConfig(
            machine_id="planer", name="Planer", gates=("planer_gate",), levels=PROMPT
        ),
        MachineConfig(machine_id="sweep", name="Sweep", gates=("sweep_gate",)),
    ),
    linked_devices=(
        LinkedDeviceConfig(linked_device_id="light", name="Light", shutoff_delay=30.0),
    ),
)


def shop(
    system: SystemConfig = SHOP, *, reading: float | None = 5.0, **devices: bool
) -> Bench:
    """Return a shop whose entities have just come up, gates closed and all off."""
    made = Bench(
        system,
        {
            COLLECTOR: Device(COLLECTOR, delay=0.25),
            "light": Device("light", delay=0.25),
            **{
                gate.gate_id: Device(gate.gate_id, delay=0.25, travel=2.0)
                for gate in system.gates
                if gate.kind is not GateKind.FIXED
            },
        },
    )
    for part, state in devices.items():
        made.devices[part].state = state
    made.power_up()
    for machine in system.machines:
        if machine.levels is not None and reading is not None:
            made.read(0.0, machine.machine_id, reading)
    return made


def rested(system: SystemConfig = SHOP) -> Bench:
    """Return a shop at rest at 100."""
    made = shop(system)
    made.run_to(100.0)
    assert made.sequence.phase is Phase.IDLE
    made.commands.clear()
    return made


def with_collector(**changes: Any) -> SystemConfig:
    return replace(SHOP, collector=replace(SHOP.collector, **changes))


def collecting(system: SystemConfig = SHOP, machine: str = "planer") -> Bench:
    """Return a shop that has extracted a machine for a while at 150."""
    made = rested(system)
    made.read(110.0, machine, 900.0)
    made.run_to(150.0)
    assert made.sequence.phase is Phase.COLLECTING
    made.commands.clear()
    made.switchings.clear()
    return made


def then(made: Bench, now: float, act: Callable[[], None]) -> None:
    """Do something at an instant, and look."""
    made.at(now, act)
    made.run_to(now)


def phases(made: Bench) -> list[tuple[float, Phase]]:
    """Return the collector's phases, as they will have been noted."""
    told: list[tuple[float, Phase]] = []

    def watch(bench: Bench) -> None:
        if not told or told[-1][1] is not bench.sequence.phase:
            told.append((bench.now, bench.sequence.phase))

    made.after_step = watch
    return told


# Common practice, no source ------------------------------------------------------------


def test_times_of_a_stop_start_saw() -> None:
    """Common practice, no source: shut-off delay 3 s, spin-down 10 s, hold 15 s, purge 5 s."""
    made = collecting(machine="saw")
    told = phases(made)
    made.read(200.0, "saw", 5.0)
    made.run_to(300.0)
    # Hold until 215; the sweep's gate is open at 217, and purged through until 222.
    assert made.sent("sweep_gate") == [(near(215.0), True), (near(235.25), False)]
    assert told == [
        (near(200.0), Phase.COLLECTING),
        (near(222.0), Phase.SHUTTING_OFF),
        (near(225.0), Phase.SPINNING_DOWN),
        (near(235.25), Phase.IDLE),
    ]
    assert made.sent(COLLECTOR) == [(near(225.0), False)]


def test_cut_within_the_hold() -> None:
    """Common practice, no source: it cancels the hold, which begins anew after it."""
    made = collecting(machine="saw")
    made.read(200.0, "saw", 5.0)
    made.read(214.0, "saw", 900.0)
    made.read(216.0, "saw", 5.0)
    made.run_to(230.9)
    phases = [made.sequence.machines["saw"].phase]
    assert made.commands == []
    made.run_to(231.0)
    phases.append(made.sequence.machines["saw"].phase)
    assert phases == [MachinePhase.HOLDING, MachinePhase.PURGING]
    assert made.shop.ledger.of("saw").runs == 1
    assert made.shop.ledger.of("saw").cuts == 2


def test_gates_stay_while_the_impeller_spins_down() -> None:
    """Common practice, no source: closed at once they load the motor and thin pipe."""
    made = collecting()
    made.read(200.0, "planer", 5.0)
    made.run_to(300.0)
    assert made.sent(COLLECTOR) == [(near(203.0), False)]
    assert made.sent("planer_gate") == [(near(213.25), False)]


# Hands on the collector -------------------------------------------------------------


def test_collector_switched_on_by_hand_that_no_gate_can_serve_is_stopped() -> None:
    closed = replace(
        SHOP,
        collector=replace(SHOP.collector, hand_gates=()),
        gates=tuple(replace(gate, kind=GateKind.HAND) for gate in SHOP.gates),
    )
    made = rested(closed)
    made.hand(110.0, COLLECTOR, True)
    made.run_to(120.0)
    assert made.sent(COLLECTOR) == [(near(110.0), False)]
    assert [s.cause for s in made.switchings] == [Cause.HAND, Cause.NO_GATE_OPEN]
    assert made.devices[COLLECTOR].state is False


def test_collector_switched_on_and_stopped_in_the_same_breath() -> None:
    made = rested()
    made.hand(110.0, COLLECTOR, True)
    made.at(110.0, made.sequence.stop_by_hand)
    made.run_to(130.0)
    assert made.devices[COLLECTOR].state is False


def test_collector_switched_off_by_hand_takes_requests_back() -> None:
    made = rested()
    then(made, 110.0, lambda: made.sequence.request("sweep", 110.0))
    made.run_to(150.0)
    made.hand(160.0, COLLECTOR, False)
    made.run_to(300.0)
    # Nothing runs without dust collection: there is nothing to tell, and nothing starts again.
    assert made.alarms == []
    assert not made.sequence.machines["sweep"].requested
    assert made.sent(COLLECTOR, since=160.0) == []


def test_collector_switched_off_by_hand_stays_off_until_somebody_asks() -> None:
    made = collecting()
    made.hand(160.0, COLLECTOR, False)
    made.read(170.0, "saw", 900.0)
    made.run_to(180.0)
    assert made.sent(COLLECTOR) == []
    assert made.told(AlarmKind.STOPPED_BY_HAND) == [(near(160.0), True)]
    then(made, 190.0, lambda: made.sequence.request("planer", 190.0))
    made.run_to(200.0)
    # Its gate had gone to rest; it has kept its word before, and is not waited for.
    assert made.sent("planer_gate")[-1] == (near(190.0), True)
    assert made.sent(COLLECTOR) == [(near(190.0), True)]
    assert made.told(AlarmKind.STOPPED_BY_HAND)[1:] == [(near(190.0), False)]


@pytest.mark.parametrize("machine", ["saw", "planer"])
def test_stop_on_a_persons_word_waits_for_no_hold(machine: str) -> None:
    made = collecting(machine=machine)
    made.read(160.0, machine, 5.0)
    then(made, 161.0, made.sequence.stop_by_hand)
    made.run_to(200.0)
    [(off, target)] = made.sent(COLLECTOR)
    assert not target
    assert off <= 164.0
    assert made.alarms == []


def test_stop_on_a_persons_word_while_a_machine_runs() -> None:
    made = collecting()
    then(made, 160.0, made.sequence.stop_by_hand)
    made.run_to(200.0)
    assert made.sent(COLLECTOR) == [(near(160.0), False)]
    assert made.told(AlarmKind.STOPPED_BY_HAND) == [(near(160.0), True)]
    made.read(210.0, "planer", 5.0)
    made.read(220.0, "planer", 900.0)
    made.run_to(240.0)
    assert made.sequence.is_collecting("planer", made.now)


def test_power_cut_in_the_middle_is_answered_like_a_start() -> None:
    made = collecting(with_collector(rest=30.0))
    made.away(160.0, COLLECTOR)
    made.back(170.0, COLLECTOR, False)
    made.run_to(190.0)
    assert made.sequence.phase is Phase.OPENING
    assert made.sent(COLLECTOR) == []
    made.run_to(230.0)
    assert made.sent(COLLECTOR) == [(near(200.0), True)]
    assert made.sent("planer_gate") == []
    assert [s.cause for s in made.switchings] == [
        Cause.WENT_OFF_BY_ITSELF,
        Cause.MACHINE,
    ]


def test_collector_that_comes_back_on_while_it_is_needed_stays_on() -> None:
    made = collecting(with_collector(rest=60.0))
    made.away(160.0, COLLECTOR)
    made.back(170.0, COLLECTOR, False)
    made.away(175.0, COLLECTOR)
    made.back(180.0, COLLECTOR, True)
    made.run_to(200.0)
    assert made.sent(COLLECTOR) == []
    assert made.sequence.phase is Phase.COLLECTING


@pytest.mark.parametrize(
    "parts", [(COLLECTOR, "planer_gate"), ("planer_gate", COLLECTOR)]
)
def test_power_cut_closes_the_gate_that_an_offline_collector_was_to_start_for(
    parts: tuple[str, str],
) -> None:
    made = rested(with_collector(start_when=StartWhen.GATE_OPEN))
    made.away(105.0, COLLECTOR)
    made.read(110.0, "planer", 900.0)
    made.away(120.0, "planer_gate")
    for part in parts:
        made.back(130.0, part, False)
    made.run_to(150.0)
    assert made.sent("planer_gate") == [(110.0, True), (130.0, True)]
    assert made.sent(COLLECTOR) == [(near(132.0), True)]
    assert [s.cause for s in made.switchings] == [Cause.MACHINE]


def test_collector_that_comes_back_after_the_work_is_not_started() -> None:
    made = rested(with_collector(shutoff_delay=15.0))
    made.away(105.0, COLLECTOR)
    made.read(110.0, "planer", 900.0)
    made.read(120.0, "planer", 5.0)
    made.run_to(125.0)
    assert made.sequence.phase is Phase.SHUTTING_OFF
    made.back(125.0, COLLECTOR, False)
    made.run_to(200.0)
    assert made.sent(COLLECTOR) == []
    assert made.switchings == []
    assert made.devices["planer_gate"].state is False


def test_late_effect_of_an_old_command_is_undone() -> None:
    made = rested()
    collector = made.devices[COLLECTOR]

    def late() -> None:
        collector.state = True
        made.say(collector, own=True)

    made.at(110.0, late)
    made.run_to(120.0)
    assert made.sent(COLLECTOR) == [(near(110.0), False)]
    assert made.switchings == []


def test_state_that_is_unknown_is_no_report() -> None:
    made = collecting()
    made.hand(160.0, COLLECTOR, None)
    made.run_to(170.0)
    assert made.sequence.phase is Phase.COLLECTING
    made.hand(180.0, COLLECTOR, True)
    made.run_to(200.0)
    assert made.commands == []


# A collector that is found on ---------------------------------------------------------


def test_collector_found_on_is_its_owners() -> None:
    made = shop(collector=True)
    made.run_to(500.0)
    assert made.sequence.phase is Phase.COLLECTING
    assert made.sent(COLLECTOR) == []
    assert made.sent("sweep_gate") == [(near(0.0), True)]
    assert made.sequence.demanding == (HAND,)


@pytest.mark.parametrize("settles", [0.0, 1.0])
def test_collector_found_on_belongs_to_the_machine_that_runs(settles: float) -> None:
    levels = replace(PROMPT, start_confirm=settles)
    saw, planer, sweep = SHOP.machines
    made = shop(
        replace(SHOP, machines=(saw, replace(planer, levels=levels), sweep)),
        reading=None,
        collector=True,
        planer_gate=True,
    )
    made.read(0.0, "saw", 5.0)
    made.read(8.0, "planer", 900.0)
    made.read(50.0, "planer", 5.0)
    made.run_to(100.0)
    assert made.sent(COLLECTOR) == [(near(53.0), False)]


def test_collector_found_on_under_start_block_is_switched_off() -> None:
    made = Bench(SHOP, shop(collector=True).devices)
    made.sequence.set_start_block(True)
    made.power_up()
    made.run_to(10.0)
    assert made.sent(COLLECTOR) == [(near(0.0), False)]


def test_collector_that_comes_on_is_given_time_to_find_its_machine() -> None:
    made = rested()
    made.read(105.0, "planer", None)
    made.away(105.0, COLLECTOR)
    made.back(110.0, COLLECTOR, True)
    told = phases(made)
    made.run_to(120.0)
    # The planer may be running for all anybody knows.
    assert told[-1] == (near(110.0), Phase.SHUTTING_OFF)
    assert made.told(AlarmKind.COLLECTOR_BY_ITSELF) == [(near(110.0), True)]
    made.read(130.0, "planer", 900.0)
    made.run_to(140.0)
    assert made.sent(COLLECTOR) == []
    assert made.sequence.phase is Phase.COLLECTING
    assert made.told(AlarmKind.COLLECTOR_BY_ITSELF)[1:] == [(near(130.0), False)]


# Start block, fire shutdown and refusals -------------------------------------------------------


@pytest.mark.parametrize(
    ("forbid", "why", "cause"),
    [
        ("set_start_block", Refusal.START_BLOCK, Cause.START_BLOCK),
        ("set_fire_shutdown", Refusal.FIRE_SHUTDOWN, Cause.FIRE_SHUTDOWN),
    ],
)
def test_what_is_forbidden_stops_and_starts_again(
    forbid: str, why: Refusal, cause: Cause
) -> None:
    made = collecting()
    then(made, 160.0, lambda: getattr(made.sequence, forbid)(True))
    for ask in (
        made.sequence.start_by_hand,
        lambda: made.sequence.request("sweep", made.now),
    ):
        with pytest.raises(RefusedError) as refused:
            ask()
        assert refused.value.why is why
    made.hand(180.0, COLLECTOR, True)
    made.run_to(190.0)
    assert [target for _, target in made.sent(COLLECTOR)] == [False, False]
    assert made.switchings[0].cause is cause
    then(made, 200.0, lambda: getattr(made.sequence, forbid)(False))
    made.run_to(220.0)
    assert made.sequence.is_collecting("planer", made.now)
    assert not made.sequence.by_hand


def test_start_block_during_the_shutoff_delay() -> None:
    made = collecting(with_collector(shutoff_delay=60.0))
    made.read(160.0, "planer", 5.0)
    then(made, 170.0, lambda: made.sequence.set_start_block(True))
    made.run_to(200.0)
    assert made.sent(COLLECTOR) == [(near(170.0), False)]
    assert made.switchings[-1].cause is Cause.START_BLOCK


def test_lifting_what_was_not_forbidden_changes_nothing() -> None:
    made = rested()
    then(made, 110.0, made.sequence.start_by_hand)
    made.run_to(120.0)
    then(made, 120.0, lambda: made.sequence.set_start_block(False))
    then(made, 121.0, lambda: made.sequence.set_fire_shutdown(False))
    made.run_to(150.0)
    assert made.sequence.phase is Phase.COLLECTING


@pytest.mark.parametrize(
    ("forbid", "switched_off"),
    [("set_start_block", None), ("set_fire_shutdown", 160.0)],
)
def test_linked_device_of_a_machine_that_runs(
    forbid: str, switched_off: float | None
) -> None:
    """A start block puts out no lights; a fire shutdown stops all that the shop runs."""
    made = collecting(machine="saw")
    then(made, 160.0, lambda: getattr(made.sequence, forbid)(True))
    made.run_to(190.0)
    offs = made.sent("light", since=160.0)
    assert offs == ([] if switched_off is None else [(near(switched_off), False)])
    if switched_off is None:
        made.read(200.0, "saw", 5.0)
        made.run_to(260.0)
        assert made.sent("light", since=160.0) == [(near(230.0), False)]


def test_gate_opened_in_a_fire_shutdown_stays_open() -> None:
    made = collecting()
    then(made, 160.0, lambda: made.sequence.set_fire_shutdown(True))
    made.run_to(180.0)
    assert made.sent("planer_gate") == [(near(170.25), False)]
    made.hand(190.0, "planer_gate", True)
    made.run_to(220.0)
    assert made.devices["planer_gate"].state is True


def test_request_for_what_is_not_connected_is_refused() -> None:
    saw, planer, sweep = SHOP.machines
    made = rested(replace(SHOP, machines=(saw, planer, replace(sweep, movable=True))))
    with pytest.raises(RefusedError, match="not_connected"):
        made.sequence.request("sweep", made.now)
    made.sequence.set_connected("sweep", True, made.now)
    made.sequence.request("sweep", made.now)


# Gates ---------------------------------------------------------------------------------


def test_last_open_gate_is_not_closed_through_home_assistant() -> None:
    made = collecting()
    with pytest.raises(RefusedError, match="last_open_gate"):
        made.sequence.move_gate("planer_gate", opened=False, now=made.now)
    then(
        made, 160.0, lambda: made.sequence.move_gate("saw_gate", opened=True, now=160.0)
    )
    made.run_to(170.0)
    made.sequence.move_gate("planer_gate", opened=False, now=made.now)
    # It still stands open, but was told to close.
    with pytest.raises(RefusedError, match="last_open_gate"):
        made.sequence.move_gate("saw_gate", opened=False, now=made.now)


def test_gate_that_does_not_move_by_power_is_not_moved() -> None:
    saw, *others = SHOP.gates
    made = rested(replace(SHOP, gates=(replace(saw, kind=GateKind.HAND), *others)))
    for gate in ("saw_gate", "elsewhere"):
        with pytest.raises(RefusedError, match="not_powered"):
            made.sequence.move_gate(gate, opened=True, now=made.now)


def test_closing_that_has_not_come_about_is_called_off() -> None:
    """A gate is stuck open at rest, and then somebody starts the collector."""
    made = collecting()
    made.at(210.0, lambda: setattr(made.devices["planer_gate"], "deaf", True))
    made.at(210.0, lambda: setattr(made.devices["sweep_gate"], "deaf", True))
    made.read(200.0, "planer", 5.0)
    made.run_to(214.0)
    assert made.sent("planer_gate") == [(near(213.25), False)]
    made.hand(214.0, COLLECTOR, True)
    made.run_to(300.0)
    # It is the only way in: nobody tries once more to close it.
    assert made.sent("planer_gate") == [(near(213.25), False)]
    assert made.devices[COLLECTOR].state is True


def test_gate_moved_by_hand_during_the_work_rests_after_it() -> None:
    made = collecting()
    made.hand(160.0, "saw_gate", True)
    made.read(200.0, "planer", 5.0)
    made.run_to(300.0)
    assert made.sent("saw_gate") == [(near(213.25), False)]


def test_gate_moved_by_hand_at_rest_stays_until_the_next_work() -> None:
    made = rested()
    made.hand(110.0, "saw_gate", True)
    made.run_to(200.0)
    assert made.commands == []
    made.read(200.0, "planer", 900.0)
    made.run_to(220.0)
    assert made.sent("saw_gate") == [(near(202.0), False)]


def test_wanted_gate_closed_by_hand_is_not_opened_again_by_the_same_work() -> None:
    made = collecting()
    then(
        made, 155.0, lambda: made.sequence.move_gate("saw_gate", opened=True, now=155.0)
    )
    made.hand(170.0, "planer_gate", False)
    made.run_to(200.0)
    assert made.sent("planer_gate") == []
    assert made.told(AlarmKind.GATE_MOVED) == [(near(170.0), True)]
    made.read(210.0, "planer", 5.0)
    made.read(211.0, "planer", 900.0)
    made.run_to(230.0)
    assert made.sent("planer_gate") == [(near(211.0), True)]
    assert made.told(AlarmKind.GATE_MOVED)[1:] == [(near(210.0), False)]


def test_collector_that_cannot_be_stopped_gets_any_gate_that_moves() -> None:
    made = collecting()
    made.at(190.0, lambda: setattr(made.devices["sweep_gate"], "deaf", True))
    made.at(190.0, lambda: setattr(made.devices[COLLECTOR], "deaf", True))
    made.read(199.0, "planer", 5.0)
    made.hand(200.0, "planer_gate", False)
    made.run_to(260.0)
    assert made.told(AlarmKind.COLLECTOR_NOT_STOPPING) == [(near(222.0), True)]
    assert made.sent("saw_gate") == [(near(222.0), True)]
    assert made.devices["saw_gate"].state is True


def test_changed_gate_of_a_machine_that_runs_stops_nothing() -> None:
    """The new gate is still closed; the collector is not stopped while it opens."""
    made = collecting()
    saw, planer, sweep = SHOP.gates
    first, second, third = SHOP.machines
    changed = replace(
        SHOP,
        gates=(saw, replace(planer, gate_id="new"), sweep),
        machines=(first, replace(second, gates=("new",)), third),
    )
    made.devices["new"] = Device("new", delay=0.25, travel=2.0)
    made.sequence.replan(changed, made.now)
    made.say(made.devices["new"], own=True)
    made.run_to(150.0)
    made.run_to(170.0)
    assert made.sent(COLLECTOR) == []
    assert made.sent("new") == [(near(150.0), True)]
    assert made.sequence.is_collecting("planer", made.now)


def test_changed_plan_does_not_lose_a_start_being_confirmed() -> None:
    saw, planer, sweep = SHOP.machines
    slow = replace(planer, levels=replace(PROMPT, start_confirm=5.0))
    system = replace(SHOP, machines=(saw, slow, sweep))
    made = rested(system)
    made.read(110.0, "planer", 900.0)
    renamed = replace(system, machines=(saw, replace(slow, name="Big planer"), sweep))
    made.at(112.0, lambda: made.sequence.replan(renamed, 112.0))
    made.run_to(114.9)
    assert made.sent("planer_gate") == [(near(110.0), True)]
    phases = [made.sequence.machines["planer"].phase]
    made.run_to(116.0)
    phases.append(made.sequence.machines["planer"].phase)
    assert phases == [MachinePhase.IDLE, MachinePhase.RUNNING]


def test_exchanged_collector_is_taken_over_as_it_stands() -> None:
    made = collecting(with_collector(rest=50.0))
    made.sequence.renew_collector()
    assert made.sequence.motor.duty.rest == 50.0
    made.devices[COLLECTOR].state = False
    made.say(made.devices[COLLECTOR])
    made.run_to(150.0)
    assert made.sent(COLLECTOR) == [(near(150.0), True)]


def test_opening_that_is_always_there() -> None:
    inlet = GateConfig(gate_id="inlet", name="Inlet", kind=GateKind.FIXED)
    planer = replace(SHOP.machines[1], gates=("inlet",))
    made = rested(replace(SHOP, gates=(*SHOP.gates, inlet), machines=(planer,)))
    made.read(110.0, "planer", 900.0)
    made.run_to(120.0)
    assert made.sent(COLLECTOR) == [(near(110.0), True)]
    assert made.sequence.is_collecting("planer", made.now)
    assert made.alarms == []


def test_shop_without_gates() -> None:
    planer = replace(SHOP.machines[1], gates=())
    made = rested(
        SystemConfig(collector=CollectorConfig(name="Collector"), machines=(planer,))
    )
    made.read(110.0, "planer", 900.0)
    made.run_to(120.0)
    assert made.sent(COLLECTOR) == [(near(110.0), True)]
    assert made.sequence.is_collecting("planer", made.now)
    assert made.sequence.work_gates() == ()


def test_hand_gate_chosen_in_home_assistant_comes_first() -> None:
    made = rested()
    made.sequence.hand_gates = ("saw_gate",)
    then(made, 110.0, made.sequence.start_by_hand)
    made.run_to(120.0)
    assert made.sent("saw_gate") == [(near(110.0), True)]
    made.sequence.replan(
        SystemConfig(
            collector=CollectorConfig(name="Collector"),
            gates=SHOP.gates[1:],
            machines=SHOP.machines[1:],
        ),
        made.now,
    )
    assert made.sequence.work_gates() == ("planer_gate",)


@pytest.mark.parametrize(
    ("rest", "state_at"),
    [
        (IdlePosition.CLOSED, False),
        (IdlePosition.OPEN, True),
        (IdlePosition.LEAVE, True),
    ],
)
def test_rest_positions(rest: IdlePosition, state_at: bool) -> None:
    saw, planer, sweep = SHOP.gates
    made = collecting(replace(SHOP, gates=(saw, replace(planer, rest=rest), sweep)))
    made.read(160.0, "planer", 5.0)
    made.run_to(200.0)
    assert made.devices["planer_gate"].state is state_at


# The motor -------------------------------------------------------------------------------


def test_start_delay_keeps_two_inrushes_apart() -> None:
    made = rested(with_collector(start_delay=4.0))
    made.read(110.0, "planer", 900.0)
    made.run_to(120.0)
    assert made.sent(COLLECTOR) == [(near(114.0), True)]


def test_stop_that_would_leave_no_start_is_put_off() -> None:
    """Two starts an hour: after the second the shut-off delay goes on, but not forever."""
    made = collecting(with_collector(starts_per_hour=2.0, longest_shutoff_delay=60.0))
    told = phases(made)
    made.read(160.0, "planer", 5.0)
    made.read(200.0, "planer", 900.0)
    made.read(210.0, "planer", 5.0)
    made.run_to(250.0)
    assert made.sent(COLLECTOR) == [(near(163.0), False), (near(200.0), True)]
    assert made.sequence.phase is Phase.SHUTTING_OFF
    assert made.sequence.ending.saving_start
    assert made.sequence.phase_until == near(273.0)
    made.read(260.0, "planer", 900.0)
    made.read(270.0, "planer", 5.0)
    made.run_to(400.0)
    # It was needed again: one start saved. Then it stops all the same.
    assert made.sent(COLLECTOR)[2:] == [(near(333.0), False)]
    assert told[-1][1] is Phase.IDLE


def test_late_look_does_not_put_a_stop_off_from_the_past() -> None:
    made = collecting(with_collector(starts_per_hour=2.0, longest_shutoff_delay=60.0))
    made.read(160.0, "planer", 5.0)
    made.read(170.0, "planer", 900.0)
    made.read(180.0, "planer", 5.0)
    made.run_to(182.0)
    made.now = 500.0
    made.run_to(500.0)
    assert made.sent(COLLECTOR)[2:] == [(near(500.0), False)]


def test_stop_on_a_persons_word_is_not_put_off() -> None:
    made = collecting(with_collector(starts_per_hour=1.0))
    made.read(160.0, "planer", 5.0)
    made.run_to(200.0)
    assert made.sequence.ending.saving_start
    then(made, 200.0, made.sequence.stop_by_hand)
    made.run_to(210.0)
    assert made.sent(COLLECTOR) == [(near(200.0), False)]


def test_stop_is_put_off_no_longer_than_until_a_start_is_free() -> None:
    made = collecting(with_collector(starts_per_hour=1.0, longest_shutoff_delay=600.0))
    made.read(3600.0, "planer", 5.0)
    made.run_to(4000.0)
    # Seen to start at 112.25: from 3712.25 on another start is free.
    assert made.sent(COLLECTOR) == [(near(3712.25), False)]


def test_motor_is_not_started_for_a_machine_that_is_stopping() -> None:
    saw, planer, sweep = SHOP.machines
    slow = replace(planer, levels=replace(PROMPT, stop_confirm=4.0))
    made = rested(replace(SHOP, machines=(saw, slow, sweep)))
    made.read(110.0, "planer", 900.0)
    made.read(111.0, "planer", 5.0)
    made.run_to(130.0)
    assert made.sent(COLLECTOR) == []


# A full bin -----------------------------------------------------------------------------


@pytest.mark.parametrize("answer", list(WhenBinFull))
def test_hand_on_the_collector_is_not_fought_with_a_full_bin(
    answer: WhenBinFull,
) -> None:
    made = rested(with_collector(bin_answer=answer))
    then(made, 105.0, lambda: made.sequence.set_bin_full(True))
    made.hand(110.0, COLLECTOR, True)
    made.run_to(200.0)
    assert made.sent(COLLECTOR) == []
    assert made.sequence.phase is Phase.COLLECTING


def test_bin_that_fills_ends_what_was_asked_for_by_hand() -> None:
    made = rested(with_collector(bin_answer=WhenBinFull.FINISH))
    then(made, 110.0, made.sequence.start_by_hand)
    made.run_to(120.0)
    then(made, 120.0, lambda: made.sequence.set_bin_full(True))
    made.run_to(130.0)
    assert made.sent(COLLECTOR)[-1] == (near(123.0), False)
