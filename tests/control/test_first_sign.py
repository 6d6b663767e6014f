"""Gates that open before a machine is known to run."""

from dataclasses import replace

import pytest

from custom_components.gatewright.core.config import (
    COLLECTOR,
    CollectorConfig,
    GateConfig,
    MachineConfig,
    SystemConfig,
    Thresholds,
)

from .bench import Bench, Device, near

SLOW = Thresholds(start=150.0, stop=60.0, start_confirm=5.0, stop_confirm=4.0)
SHOP = SystemConfig(
    collector=CollectorConfig(name="Collector", spin_down=10.0, spin_up=0.0),
    gates=(
        GateConfig(gate_id="saw_gate", name="Saw gate", travel=1.0),
        GateConfig(gate_id="planer_gate", name="Planer gate", travel=1.0),
    ),
    machines=(
        MachineConfig(
            machine_id="saw",
            name="Saw",
            gates=("saw_gate",),
            levels=SLOW,
            early_signal=True,
            movable=True,
        ),
        MachineConfig(
            machine_id="planer",
            name="Planer",
            gates=("planer_gate",),
            levels=replace(SLOW, start_confirm=0.0),
        ),
    ),
)


def rested(system: SystemConfig = SHOP) -> Bench:
    """Return the shop at rest at 100 s, with its hose connected."""
    bench = Bench(
        system,
        {
            COLLECTOR: Device(COLLECTOR, delay=0.1),
            "saw_gate": Device("saw_gate", delay=0.1, travel=1.0),
            "planer_gate": Device("planer_gate", delay=0.1, travel=1.0),
        },
    )
    bench.power_up()
    bench.sequence.set_connected("saw", True, 0.0)
    for machine in ("saw", "planer"):
        bench.read(1.0, machine, 5.0)
    bench.run_to(100.0)
    bench.commands.clear()
    return bench


def test_first_sign_opens_the_gate_and_no_more() -> None:
    made = rested()
    made.read(100.0, "saw", 900.0)
    made.run_to(104.9)
    assert made.commands == [(near(100.0), "saw_gate", True)]
    assert made.shop.ledger.of("saw").cuts == 0
    made.run_to(106.0)
    assert made.sent(COLLECTOR) == [(near(105.0), True)]
    assert made.shop.ledger.of("saw").cuts == 1


def test_sign_that_comes_to_nothing_acts_once_per_spin_down() -> None:
    made = rested()
    for at in (100.0, 103.0, 106.0, 113.0):
        made.read(at, "saw", 900.0)
        made.read(at + 0.3, "saw", 5.0)
    made.run_to(130.0)
    assert made.sent("saw_gate") == [
        (near(100.0), True),
        (near(100.3), False),
        (near(113.0), True),
        (near(113.3), False),
    ]
    assert made.sent(COLLECTOR) == []


def test_sign_during_the_rest_acts_when_that_is_over() -> None:
    made = rested()
    made.read(100.0, "saw", 900.0)
    made.read(100.3, "saw", 5.0)
    made.read(109.0, "saw", 900.0)
    made.run_to(111.0)
    assert made.sent("saw_gate")[-1] == (near(110.3), True)


@pytest.mark.parametrize(
    "forbid",
    [
        lambda s: s.set_automatic(False),
        lambda s: s.set_start_block(True),
        lambda s: s.set_fire_shutdown(True),
        lambda s: s.set_connected("saw", False, 98.0),
        lambda s: setattr(s, "suspended", True),
    ],
    ids=["not automatic", "start block", "fire", "hose off", "system check"],
)
def test_when_it_does_not_act(forbid: object) -> None:
    assert callable(forbid)
    made = rested()
    made.at(100.0, lambda: forbid(made.sequence))
    made.read(101.0, "saw", 900.0)
    made.run_to(104.0)
    assert made.commands == []


def test_gate_that_a_person_moved_is_left() -> None:
    made = rested()
    made.at(
        100.0, lambda: made.sequence.move_gate("saw_gate", opened=True, now=made.now)
    )
    made.at(
        103.0, lambda: made.sequence.move_gate("saw_gate", opened=False, now=made.now)
    )
    made.read(106.0, "saw", 900.0)
    made.run_to(110.5)
    assert made.sent("saw_gate", 105.0) == []
    # A start that is confirmed is another matter.
    made.run_to(112.0)
    assert made.sent("saw_gate", 105.0) == [(near(111.0), True)]


def test_it_is_no_gate_for_another_machine() -> None:
    """Neither does the collector start on it, nor does another gate close for it."""
    made = rested()
    made.devices["planer_gate"].travel = 1000.0
    made.read(100.0, "saw", 900.0)
    made.read(101.5, "planer", 900.0)
    made.run_to(104.5)
    assert made.devices["saw_gate"].state is True
    assert made.sent(COLLECTOR) == []


def test_sign_while_another_machine_works() -> None:
    made = rested()
    made.read(100.0, "planer", 900.0)
    made.read(120.0, "saw", 900.0)
    made.read(122.0, "saw", 5.0)
    made.run_to(125.0)
    assert made.sent("saw_gate") == [(near(120.0), True), (near(122.0), False)]
    assert made.sent("planer_gate") == [(near(100.0), True)]
    assert len(made.sent(COLLECTOR)) == 1


def test_foretold_work_opens_the_gate_and_no_more() -> None:
    made = rested()
    made.at(100.0, lambda: made.sequence.report_early_signal("saw", True, made.now))
    made.run_to(2000.0)
    # After two seconds, for half an hour.
    assert made.commands == [
        (near(102.0), "saw_gate", True),
        (near(1900.0), "saw_gate", False),
    ]
    made.at(2000.0, lambda: made.sequence.report_early_signal("saw", False, made.now))
    made.at(2001.0, lambda: made.sequence.report_early_signal("saw", True, made.now))
    made.at(2002.0, lambda: made.sequence.report_early_signal("saw", None, made.now))
    made.run_to(2100.0)
    assert len(made.commands) == 2


def test_foretold_work_waits_for_the_machine_that_runs() -> None:
    made = rested()
    made.at(100.0, lambda: made.sequence.report_early_signal("saw", True, made.now))
    made.read(110.0, "planer", 900.0)
    made.read(130.0, "planer", 5.0)
    made.run_to(200.0)
    moves = [(target, at) for at, target in made.sent("saw_gate")]
    assert [target for target, _ in moves] == [True, False, True]
    # Closed once the planer's gate is open, and open again when all rests.
    assert 111.0 <= moves[1][1] < 112.0
    assert moves[2][1] >= 134.0
