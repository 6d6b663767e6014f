"""A collector that starts while its gate still opens."""

from dataclasses import replace
import json

import pytest

from custom_components.gatewright.core.config import (
    COLLECTOR,
    CollectorConfig,
    GateConfig,
    MachineConfig,
    StartWhen,
    SystemConfig,
    Thresholds,
)
from custom_components.gatewright.core.control.alarms import AlarmKind
from custom_components.gatewright.core.control.enums import Cause, Phase
from custom_components.gatewright.core.control.persistence import restore, save

from .bench import Bench, Device, near

LEVELS = Thresholds(start=150.0, stop=60.0, start_confirm=0.0, stop_confirm=1.0)
SHOP = SystemConfig(
    collector=CollectorConfig(
        name="Collector", spin_down=10.0, hand_gates=("sweep_gate",)
    ),
    gates=(
        GateConfig(gate_id="saw_gate", name="Saw gate", travel=6.0),
        GateConfig(gate_id="sweep_gate", name="Sweep gate", travel=6.0),
        GateConfig(gate_id="blind_gate", name="Blind gate", travel=9.0, feedback=False),
    ),
    machines=(
        MachineConfig(machine_id="saw", name="Saw", gates=("saw_gate",), levels=LEVELS),
        MachineConfig(
            machine_id="drill", name="Drill", gates=("blind_gate",), levels=LEVELS
        ),
    ),
)


def workshop(
    system: SystemConfig = SHOP, *, stroke: float = 4.0, shows: tuple[float, ...] = ()
) -> Bench:
    """Return the shop at rest at 1,000 s; every gate has been seen to open once."""
    bench = Bench(
        system,
        {
            COLLECTOR: Device(COLLECTOR, delay=0.25),
            "saw_gate": Device("saw_gate", delay=0.25, travel=stroke, shows=shows),
            "sweep_gate": Device("sweep_gate", delay=0.25, travel=1.0),
            "blind_gate": Device("blind_gate", delay=0.25, travel=0.5, blind=True),
        },
    )
    bench.power_up()
    for machine in ("saw", "drill"):
        bench.read(1.0, machine, 5.0)
    bench.read(100.0, "saw", 900.0)
    bench.read(150.0, "saw", 5.0)
    bench.run_to(1000.0)
    bench.commands.clear()
    return bench


def cut(made: Bench, at: float, machine: str = "saw", lasts: float = 20.0) -> None:
    made.read(at, machine, 900.0)
    made.read(at + lasts, machine, 5.0)


def test_gate_first_then_the_collector_at_the_same_instant() -> None:
    made = workshop()
    cut(made, 1000.0)
    made.run_to(1003.0)
    # Due to be a third open after 1.5 s, when the impeller has half of its speed.
    [gate, collector] = made.commands
    assert gate == (1000.0, "saw_gate", True)
    assert collector == (near(1000.04, within=0.02), COLLECTOR, True)
    made.run_to(1004.5)
    assert made.sequence.is_collecting("saw", made.now)


@pytest.mark.parametrize(
    ("stroke", "spin_up", "wait"),
    [(2.0, 3.0, 0.0), (5.5, 3.0, 0.54), (6.0, 1.0, 1.7), (6.0, 6.0, 0.0)],
)
def test_how_long_it_waits(stroke: float, spin_up: float, wait: float) -> None:
    """Until a third of the stroke is over before half of the spin-up is."""
    collector = replace(SHOP.collector, spin_up=spin_up)
    made = workshop(replace(SHOP, collector=collector), stroke=stroke)
    cut(made, 1000.0)
    made.run_to(1010.0)
    assert made.sent(COLLECTOR)[0] == (near(1000.0 + wait, within=0.01), True)


def test_owner_of_thin_pipe_has_it_wait() -> None:
    collector = replace(SHOP.collector, start_when=StartWhen.GATE_OPEN)
    made = workshop(replace(SHOP, collector=collector))
    cut(made, 1000.0)
    made.run_to(1010.0)
    assert made.sent(COLLECTOR) == [(near(1004.0), True)]


def test_gate_that_was_never_seen_to_move_is_waited_for() -> None:
    made = workshop()
    made.at(1000.0, lambda: made.sequence.request("saw", made.now))
    made.sequence.gates.renew("saw_gate")
    made.say(made.devices["saw_gate"])
    made.run_to(1010.0)
    assert made.sent(COLLECTOR) == [(near(1004.0), True)]


def test_gate_without_feedback_goes_by_what_was_entered() -> None:
    made = workshop()
    cut(made, 1000.0, "drill")
    made.run_to(1015.0)
    assert made.sent(COLLECTOR) == [(near(1001.7, within=0.01), True)]


def stick(made: Bench, gate: str = "saw_gate") -> None:
    made.devices[gate].jams = 0.0


def test_overdue_gate() -> None:
    """The collector stops at once, another gate opens for the spin-down, told once."""
    made = workshop()
    stick(made)
    for n in range(5):
        cut(made, 1000.0 + 100.0 * n)
    made.run_to(1500.0)
    # Its stroke is 4 s, and 1.2 s more is too much. No other start against it.
    assert made.sent(COLLECTOR) == [
        (near(1000.04, within=0.02), True),
        (near(1005.2, within=0.01), False),
    ]
    assert made.sent("sweep_gate")[0] == (near(1005.2, within=0.01), True)
    told = made.told(AlarmKind.GATE_NOT_MOVING)
    assert [raised for at, raised in told if at < 1020.0] == [True]
    # It opens once: from then on it is counted on again.
    made.devices["saw_gate"].jams = None
    made.devices["saw_gate"].state = False
    made.say(made.devices["saw_gate"])
    cut(made, 1600.0)
    cut(made, 1700.0)
    made.run_to(1750.0)
    starts = [at for at, target in made.sent(COLLECTOR, 1500.0) if target]
    assert starts == [near(1604.0, within=0.3), near(1700.04, within=0.02)]


def test_failed_gate_stays_failed_over_a_restart() -> None:
    made = workshop()
    stick(made)
    cut(made, 1000.0)
    made.run_to(1090.0)
    after = workshop()
    after.now = 1100.0
    after.commands.clear()
    restore(after.shop, save(made.shop, made.now), 1100.0)
    stick(after)
    after.forget_orders()
    after.power_up()
    cut(after, 1110.0)
    after.run_to(1160.0)
    assert after.sent(COLLECTOR) == []


def restarted(made: Bench, at: float, *, old: bool = False) -> Bench:
    """Return another process with the shop's memory, one from 0.1.0 where it is `old`."""
    memory = json.loads(json.dumps(save(made.shop, made.now)))
    if old:
        del memory["early"]
        del memory["gates"]["saw_gate"]["travel"]["told_age"]
    after = Bench(SHOP, made.devices, now=at)
    restore(after.shop, memory, at)
    after.read(at, "saw", 900.0)
    after.read(at, "drill", 5.0)
    return after


def test_restart_during_an_early_start_gives_the_gate_no_more_time() -> None:
    made = workshop()
    stick(made)
    cut(made, 1000.0)
    made.run_to(1002.0)
    after = restarted(made, 1010.0)
    after.power_up()
    after.run_to(1060.0)
    # Of its 5.2 s it had used 2 before.
    assert after.sent(COLLECTOR)[0] == (near(1013.2, within=0.01), False)
    assert after.switchings[-1].cause is Cause.NO_GATE_OPEN
    assert after.sent("sweep_gate")[0] == (near(1013.2, within=0.01), True)
    # It is not started against that gate once more.
    assert not [at for at, target in after.sent(COLLECTOR) if target]


def test_restart_during_an_early_start_with_the_gate_offline_opens_another() -> None:
    made = workshop()
    cut(made, 1000.0)
    made.run_to(1002.0)
    after = restarted(made, 1010.0)
    after.devices["saw_gate"].reachable = False
    after.power_up()
    after.run_to(1060.0)
    assert after.sent("sweep_gate") == [(1010.0, True)]
    assert after.sent(COLLECTOR) == []


def test_restart_during_an_early_start_whose_gate_opens_stops_nothing() -> None:
    made = workshop()
    cut(made, 1000.0)
    made.run_to(1002.0)
    after = restarted(made, 1003.0)
    after.devices["saw_gate"].reachable = False
    after.power_up()
    after.back(1004.0, "saw_gate", True)
    after.run_to(1060.0)
    assert after.sent(COLLECTOR) == []
    assert after.sequence.phase is Phase.COLLECTING
    assert not after.sequence.origin.early


def test_memory_that_says_nothing_of_an_early_start_is_taken_up() -> None:
    """As 0.1.0 wrote it: the gate is judged by its tries."""
    made = workshop()
    stick(made)
    cut(made, 1000.0)
    made.run_to(1002.0)
    after = restarted(made, 1010.0, old=True)
    assert not after.sequence.origin.early
    after.power_up()
    after.run_to(1014.0)
    assert after.sent(COLLECTOR) == []


def test_position_that_lags_stops_the_collector_at_half_speed() -> None:
    made = workshop(stroke=4.0, shows=(0.1, 0.2, 0.4, 0.8))
    made.devices["saw_gate"].jams = 0.2
    cut(made, 1000.0)
    made.run_to(1004.0)
    # Positions come 1.6 s apart at most, the last one at 1.05 s: it is judged by the
    # next that does not come, not only when the stroke is overdue.
    assert made.sent(COLLECTOR)[0] == (near(1000.04, within=0.02), True)
    [stop] = [at for at, target in made.sent(COLLECTOR) if not target]
    assert 1001.8 < stop < 1003.9


def test_gate_stuck_half_way_is_a_way_in() -> None:
    made = workshop(stroke=4.0, shows=(0.1, 0.2, 0.4, 0.5, 0.8))
    made.devices["saw_gate"].jams = 0.5
    cut(made, 1000.0, lasts=40.0)
    made.run_to(1030.0)
    assert [target for _, target in made.sent(COLLECTOR)] == [True]
    assert made.sequence.phase is Phase.COLLECTING
    # It is told all the same, and the machine does not count as collecting.
    assert made.told(AlarmKind.GATE_NOT_MOVING)
    assert not made.sequence.is_collecting("saw", made.now)


def test_gate_that_was_half_open_before_a_restart_is_heard_of_first() -> None:
    """What an earlier process saw is not enough for a start, here as elsewhere."""
    shows = (0.1, 0.2, 0.4, 0.5, 0.8)
    made = workshop(shows=shows)
    made.devices["saw_gate"].jams = 0.5
    cut(made, 1000.0, lasts=90.0)
    made.run_to(1050.0)
    after = Bench(SHOP, made.devices, now=1055.0)
    restore(after.shop, save(made.shop, made.now), after.now)
    after.devices[COLLECTOR].state = after.devices["saw_gate"].reachable = False
    after.power_up()
    after.read(1056.0, "saw", 900.0)
    after.run_to(1060.0)
    assert after.sequence.phase is Phase.OPENING
    assert after.sent(COLLECTOR) == []
    after.back(1061.0, "saw_gate", None)
    after.run_to(1070.0)
    assert after.sent(COLLECTOR) == [(1061.0, True)]


@pytest.mark.parametrize("how", ["refused", "away"])
def test_gate_that_did_not_take_its_command_is_not_counted_on(how: str) -> None:
    made = workshop()
    cut(made, 1000.0, lasts=300.0)
    if how == "refused":
        made.at(1000.5, lambda: made.sequence.refused("saw_gate"))
    else:
        made.away(1000.5, "saw_gate")
    made.devices["saw_gate"].jams = 0.0
    made.run_to(1020.0)
    assert made.sent(COLLECTOR) == [
        (near(1000.04, within=0.02), True),
        (near(1000.5), False),
    ]


def test_person_who_starts_it_is_served_when_the_late_gate_opens() -> None:
    made = workshop()
    made.devices["sweep_gate"].travel = 5.0
    cut(made, 1000.0)
    made.run_to(1100.0)
    made.commands.clear()
    made.at(1100.0, made.sequence.start_by_hand)
    made.run_to(1130.0)
    # Never seen to move: it is waited for, and the target stays.
    assert made.sent(COLLECTOR) == [(near(1105.0), True)]


def test_impeller_that_still_turns_needs_its_way_meanwhile() -> None:
    """With nothing open while it may turn, there is no start but on an open gate."""
    made = workshop()
    cut(made, 1000.0)
    made.run_to(1025.0)
    assert made.sequence.phase is Phase.SPINNING_DOWN
    made.hand(1026.0, "saw_gate", False)
    made.read(1026.0, "saw", 900.0)
    made.run_to(1027.0)
    opened = [at for at, target in made.sent(COLLECTOR, 1026.0) if target]
    assert not opened


def test_person_who_opens_the_gate_as_well_stops_nothing() -> None:
    """Pressed on the screen while it opens already, for the machine or by hand."""
    made = workshop()
    cut(made, 1000.0)
    made.at(
        1002.0, lambda: made.sequence.move_gate("saw_gate", opened=True, now=1002.0)
    )
    made.run_to(1010.0)
    assert made.sent(COLLECTOR) == [(near(1000.04, within=0.02), True)]
    assert made.sent("saw_gate") == [(near(1000.0), True)]
    assert made.sent("sweep_gate") == made.sent("blind_gate") == []


def test_gate_that_a_person_opens_on_the_screen_can_jam_like_any_other() -> None:
    made = workshop()
    cut(made, 1000.0)
    made.at(
        1000.5, lambda: made.sequence.move_gate("saw_gate", opened=True, now=1000.5)
    )
    made.devices["saw_gate"].deaf = True
    made.run_to(1010.0)
    [started, stopped] = made.sent(COLLECTOR)[:2]
    assert started == (near(1000.04, within=0.02), True)
    assert stopped[1] is False
    assert stopped[0] < 1006.0
