"""What a machine's time to air depends on, compared with shops where it's known."""

from dataclasses import replace

import pytest

from custom_components.gatewright.core.config import (
    COLLECTOR,
    CollectorConfig,
    GateConfig,
    GateKind,
    MachineConfig,
    PurgeStep,
    StartWhen,
    SystemConfig,
    Thresholds,
)
from custom_components.gatewright.core.control.machine import MachinePhase
from custom_components.gatewright.core.statistics.time_to_air import (
    Chain,
    JudgedTimeToAir,
    TimeToAirLimit,
    chain_of,
    judge,
    time_to_air,
)
from tests.control.bench import Bench, Device, near, resting_bench

WATTS = 1450.0
RELAY_AND_SPIN_UP = 0.3 + 0.8 * 3.0
"""The floor of a collector of 3 s, worked out by hand [s]."""

EVEN = Chain(stroke=2.7, spin_up=3.0)
"""A gate that takes as long as relay and impeller, and a signal that comes at once."""


@pytest.mark.parametrize(
    ("chain", "floor", "expected"),
    [
        (EVEN, 2.7, 2.7),
        # A compressed-air gate: the impeller takes longer. Reading and spin-up add up.
        (Chain(stroke=0.5, confirmation=0.5, spin_up=3.0), 2.7, 3.2),
        # A servo: the reading is certain long before the gate is open.
        (Chain(stroke=4.0, confirmation=0.5, spin_up=3.0), 4.0, 4.0),
        # A slow one: the collector waits until a third of it is 1.5 s away, and is
        # up to speed before the gate is open all the same.
        (Chain(stroke=12.0, spin_up=3.0), 12.0, 12.0),
        (Chain(stroke=12.0, spin_up=12.0), 12.0, 12.0),
        # No gate.
        (Chain(confirmation=1.0, spin_up=3.0), 2.7, 3.7),
        # One after the other.
        (
            Chain(stroke=4.0, spin_up=3.0, start_when=StartWhen.GATE_OPEN),
            4.0,
            6.7,
        ),
        (Chain(stroke=1.0, confirmation=0.5, start_delay=2.0, spin_up=3.0), 2.7, 5.2),
        (Chain(stroke=1.0, off_time=9.0, spin_up=3.0), 2.7, 11.7),
    ],
)
def test_floor_and_what_to_expect(chain: Chain, floor: float, expected: float) -> None:
    assert chain.floor == pytest.approx(floor)
    assert chain.expected == pytest.approx(expected)
    # Only what the gate doesn't need as well is added to the floor.
    reading = max(0.0, chain.confirmation - max(0.0, chain.stroke - RELAY_AND_SPIN_UP))
    if chain.spin_up == 3.0:
        assert chain.at_best == pytest.approx(floor + reading)
    assert floor <= chain.at_best <= chain.expected


@pytest.mark.parametrize(
    ("changed", "expected"),
    [
        ({}, JudgedTimeToAir(TimeToAirLimit.NOTHING)),
        ({"stroke": 3.1}, JudgedTimeToAir(TimeToAirLimit.NOTHING)),
        ({"stroke": 1.0, "spin_up": 0.5}, JudgedTimeToAir(TimeToAirLimit.NOTHING)),
        ({"stroke": 6.0}, JudgedTimeToAir(TimeToAirLimit.STROKE, 3.3)),
        (
            {"stroke": 6.0, "reported": False},
            JudgedTimeToAir(TimeToAirLimit.ENTERED_STROKE, 3.3),
        ),
        ({"stroke": 1.0}, JudgedTimeToAir(TimeToAirLimit.SPIN_UP, 1.7)),
        (
            {"stroke": 1.0, "confirmation": 3.0},
            JudgedTimeToAir(TimeToAirLimit.CONFIRMATION, 3.0),
        ),
        ({"reporting": 10.0}, JudgedTimeToAir(TimeToAirLimit.REPORTING, 9.0)),
        ({"reporting": 1.0}, JudgedTimeToAir(TimeToAirLimit.NOTHING)),
        # A doubtful reading waits for the next report: that is the plug's time too.
        (
            {"reporting": 5.0, "confirmation": 3.0},
            JudgedTimeToAir(TimeToAirLimit.REPORTING, 6.0),
        ),
        ({"start_delay": 2.0}, JudgedTimeToAir(TimeToAirLimit.START_DELAY, 2.0)),
        (
            {"off_time": 20.0, "start_delay": 2.0},
            JudgedTimeToAir(TimeToAirLimit.MIN_OFF_TIME, 20.0),
        ),
        (
            {"start_when": StartWhen.GATE_OPEN},
            JudgedTimeToAir(TimeToAirLimit.GATE_OPEN, 2.7),
        ),
        # A setting is easier to change than a gate: of two equal savings it comes first.
        (
            {"start_when": StartWhen.GATE_OPEN, "stroke": 2.7, "spin_up": 2.125},
            JudgedTimeToAir(TimeToAirLimit.GATE_OPEN, 2.0),
        ),
    ],
)
def test_what_would_help_most_is_named(
    changed: dict[str, object], expected: JudgedTimeToAir
) -> None:
    found = judge(replace(EVEN, **changed))  # type: ignore[arg-type]
    assert found.limit is expected.limit
    assert found.saves == pytest.approx(expected.saves)


LEVELS = Thresholds(start=150.0, stop=60.0)


def shop(
    start_when: StartWhen = StartWhen.GATE_OPENING,
    *,
    levels: Thresholds = LEVELS,
    start_delay: float = 0.0,
    stroke: float = 2.0,
    feedback: bool = True,
    kind: GateKind = GateKind.POWERED,
    collect_while_running: bool = True,
) -> Bench:
    """Return a bench with a saw at one gate and a pickup, at rest at 0, its gate seen."""
    system = SystemConfig(
        collector=CollectorConfig(
            name="Collector",
            start_when=start_when,
            start_delay=start_delay,
            shutoff_delay=2.0,
        ),
        gates=(
            GateConfig(
                gate_id="gate",
                name="Gate",
                travel=2.0 * stroke,
                feedback=feedback,
                kind=kind,
            ),
        ),
        machines=(
            MachineConfig(
                machine_id="saw",
                name="Saw",
                gates=("gate",),
                levels=levels,
                collect_while_running=collect_while_running,
                purge=() if collect_while_running else (PurgeStep(gates=("gate",)),),
            ),
            MachineConfig(machine_id="sweep", name="Sweep", gates=("gate",)),
        ),
    )
    device = Device("gate", travel=stroke, blind=not feedback)
    bench = Bench(system, {COLLECTOR: Device(COLLECTOR), "gate": device}, now=-200.0)
    bench.power_up()
    bench.read(-199.0, "saw", 5.0)
    bench.at(-150.0, lambda: bench.sequence.request("sweep", bench.now))
    bench.at(-140.0, lambda: bench.sequence.withdraw("sweep"))
    bench.run_to(0.0)
    bench.shop.ledger.drain()
    return bench


def measured(bench: Bench) -> float | None:
    """Return the time to air of the saw that starts at 10."""
    bench.read(10.0, "saw", WATTS)
    bench.read(40.0, "saw", 5.0)
    bench.run_to(100.0)
    [run] = [run for run in bench.shop.ledger.drain() if run.machine_id == "saw"]
    return run.time_to_air


@pytest.mark.parametrize(
    "how",
    [
        {},
        {"stroke": 8.0},
        {"start_when": StartWhen.GATE_OPEN},
        {"start_delay": 3.0},
        {"levels": Thresholds(start=150.0, stop=60.0, start_confirm=2.0)},
        {
            "levels": Thresholds(
                start=150.0, stop=60.0, start_confirm=2.0, certain=900.0
            )
        },
        {"feedback": False, "stroke": 3.0},
        {"feedback": False, "stroke": 3.0, "start_when": StartWhen.GATE_OPEN},
    ],
)
def test_what_is_expected_is_what_comes(how: dict[str, object]) -> None:
    """The core itself takes as long as its parts say."""
    bench = shop(**how)  # type: ignore[arg-type]
    chain = chain_of(bench.sequence, "saw")
    assert chain is not None
    took = measured(bench)
    assert took == pytest.approx(chain.expected, abs=0.31)
    timing = time_to_air(bench.shop, "saw")
    assert timing is not None
    assert (timing.latest, timing.usual, timing.runs) == (took, took, 1)
    assert chain.floor <= chain.expected


def test_a_gate_is_taken_as_it_moves_and_not_as_it_was_entered() -> None:
    chain = chain_of(shop(stroke=2.0).sequence, "saw")
    assert chain is not None
    assert (chain.gate_id, chain.stroke, chain.reported) == ("gate", near(2.0), True)
    chain = chain_of(shop(stroke=2.0, feedback=False).sequence, "saw")
    assert chain is not None
    # Its relay's response is added to the entered time.
    assert (chain.stroke, chain.reported) == (near(4.3), False)
    by_hand = chain_of(shop(kind=GateKind.HAND).sequence, "saw")
    assert by_hand is not None
    assert (by_hand.gate_id, by_hand.stroke) == (None, 0.0)


def test_who_has_none() -> None:
    bench = shop(collect_while_running=False)
    assert chain_of(bench.sequence, "sweep") is None
    assert time_to_air(bench.shop, "saw") is None


def test_a_plug_that_reports_seldom_is_what_limits() -> None:
    bench = shop(levels=Thresholds(start=150.0, stop=60.0, start_confirm=3.0))
    for number in range(12):
        bench.read(10.0 + 5.0 * number, "saw", WATTS + number)
    bench.read(90.0, "saw", 5.0)
    bench.run_to(120.0)
    timing = time_to_air(bench.shop, "saw")
    assert timing is not None
    assert timing.chain.reporting == 5.0
    assert timing.judged.limit is TimeToAirLimit.REPORTING


def test_a_motor_that_usually_has_to_rest() -> None:
    sequence = shop().sequence
    chain = chain_of(sequence, "saw", [0.0, 12.0, 14.0])
    assert chain is not None
    assert chain.off_time == 12.0
    judged = judge(chain)
    assert judged.limit is TimeToAirLimit.MIN_OFF_TIME
    assert judged.saves == near(12.0)


# Measured in the shop ---------------------------------------------------------------


def test_second_machine_at_a_running_collector_waits_for_its_gate_only() -> None:
    bench = resting_bench(used=True)
    bench.shop.ledger.drain()
    bench.read(10.0, "planer", WATTS)
    bench.read(60.0, "tablesaw", WATTS)
    for machine in ("planer", "tablesaw"):
        bench.read(100.0, machine, 5.0)
    bench.run_to(200.0)
    times = {run.machine_id: run.time_to_air for run in bench.shop.ledger.drain()}
    # 1 s until the start is certain, 2.7 s for the collector; the gate takes 3 s.
    assert times["planer"] == near(3.7)
    assert times["tablesaw"] == near(3.0)


def test_machine_whose_gate_is_open_beside_another_has_no_time_to_wait() -> None:
    bench = shop()
    bench.at(5.0, lambda: bench.sequence.request("sweep", bench.now))
    assert measured(bench) == 0.0


def test_machine_found_going_after_a_restart_has_none() -> None:
    bench = shop()
    bench.read(10.0, "saw", None)
    bench.read(20.0, "saw", WATTS)
    bench.read(40.0, "saw", 5.0)
    bench.run_to(100.0)
    [run] = [run for run in bench.shop.ledger.drain() if run.machine_id == "saw"]
    assert run.collecting_time > 0
    assert run.time_to_air is None


@pytest.mark.parametrize("back_at", [15.0, 30.0])
def test_a_wait_for_a_person_is_no_time_to_air(back_at: float) -> None:
    bench = shop()
    bench.at(5.0, lambda: bench.sequence.set_automatic(False))
    bench.at(back_at, lambda: bench.sequence.set_automatic(True))
    assert measured(bench) is None


def test_collector_switched_off_by_hand() -> None:
    bench = shop()
    bench.at(11.0, bench.sequence.stop_by_hand)
    bench.at(20.0, lambda: bench.sequence.request("saw", bench.now))
    bench.at(25.0, lambda: bench.sequence.withdraw("saw"))
    assert measured(bench) is None
    assert bench.sequence.machines["saw"].phase is MachinePhase.IDLE
