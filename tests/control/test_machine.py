"""The small machine that every machine of the shop has."""

import json

import pytest

from custom_components.gatewright.core.config import (
    MachineConfig,
    PurgeStep,
    Thresholds,
)
from custom_components.gatewright.core.control.machine import Machine, MachinePhase

LEVELS = Thresholds(
    start=150.0, stop=60.0, start_confirm=0.0, stop_confirm=0.0, dropout=30.0
)
STEPS = (
    PurgeStep(gates=("sweep",), duration=5.0),
    PurgeStep(gates=("bin", "sweep"), duration=3.0),
)
SAW = MachineConfig(
    machine_id="saw",
    name="Saw",
    gates=("saw",),
    levels=LEVELS,
    hold=15.0,
    purge=STEPS,
)


class Bench:
    """Runs one machine and writes down its phases."""

    def __init__(self, plan: MachineConfig = SAW) -> None:
        self.run = Machine(plan, 0.0)
        self.automatic = self.allowed = self.air = True
        self.told: list[tuple[float, str]] = []
        if self.run.sensor is not None:
            self.run.sensor.read(5.0, 0.0)
        if plan.movable:
            self.run.set_connected(True, 0.0)
        self.look(0.0)

    def look(self, now: float) -> None:
        self.run.advance(
            now,
            automatic=self.automatic,
            allowed=self.allowed,
            air=lambda: self.air,
            patience=20.0,
            spin_down=10.0,
        )
        phase = self.run.phase.value
        if self.run.phase is MachinePhase.PURGING:
            phase += f" {self.run.step}"
        if not self.told or self.told[-1][1] != phase:
            self.told.append((now, phase))

    def to(self, end: float) -> None:
        """Let time pass, looking only when the machine asks for it."""
        now = 0.0 if not self.told else self.now
        while (due := self.run.due_after(now)) is not None and due <= end:
            now = due
            self.look(now)
        self.now = end

    now = 0.0

    def read(self, now: float, value: float | None) -> None:
        self.to(now)
        assert self.run.sensor is not None
        self.run.sensor.read(value, now)
        self.look(now)


@pytest.fixture
def saw() -> Bench:
    made = Bench()
    made.read(10.0, 900.0)
    return made


def test_work_hold_and_clearing(saw: Bench) -> None:
    saw.read(20.0, 5.0)
    saw.to(100.0)
    assert saw.told == [
        (0.0, "idle"),
        (10.0, "running"),
        (20.0, "holding"),
        (35.0, "purging 0"),
        (40.0, "purging 1"),
        (43.0, "idle"),
    ]
    assert saw.run.quiet(saw.told[-1][0])


def test_cut_within_the_hold_begins_it_anew(saw: Bench) -> None:
    """Common practice, no source."""
    saw.read(20.0, 5.0)
    saw.read(30.0, 900.0)
    saw.read(32.0, 5.0)
    saw.to(46.9)
    assert saw.told[-1] == (32.0, "holding")
    saw.to(100.0)
    assert saw.told[-3][0] == 47.0


def test_start_that_is_being_confirmed_is_waited_for() -> None:
    levels = Thresholds(start=150.0, stop=60.0, start_confirm=2.0, stop_confirm=0.0)
    made = Bench(
        MachineConfig(
            machine_id="saw", name="Saw", gates=("saw",), levels=levels, hold=15.0
        )
    )
    made.read(10.0, 900.0)
    made.read(20.0, 5.0)
    made.read(34.0, 900.0)
    made.to(60.0)
    assert made.told[-2:] == [(20.0, "holding"), (36.0, "running")]
    made.read(70.0, 5.0)
    made.read(84.0, 900.0)
    made.read(85.5, 5.0)
    assert made.told[-1] == (85.5, "idle")


@pytest.mark.parametrize("during", [22.0, 36.0])
def test_new_start_during_hold_or_clearing(saw: Bench, during: float) -> None:
    saw.read(20.0, 5.0)
    saw.read(during, 900.0)
    assert saw.told[-1] == (during, "running")
    assert saw.run.wanted_gates == ("saw",)


def test_purge_waits_for_its_suction_and_not_forever(saw: Bench) -> None:
    saw.air = False
    saw.read(20.0, 5.0)
    saw.to(45.0)
    assert saw.told[-1] == (35.0, "purging 0")
    saw.air = True
    saw.look(46.0)
    saw.air = False
    saw.to(100.0)
    # Step 0 has its 5 s from 46 on; step 1 is dropped after 20 s without suction.
    assert saw.told[-2:] == [(51.0, "purging 1"), (71.0, "idle")]


def test_request() -> None:
    made = Bench()
    made.run.request(5.0, 30.0)
    made.look(5.0)
    assert made.run.wants_collection
    made.to(100.0)
    # A request is not held for: nobody asks for a pause.
    assert [phase for _, phase in made.told] == [
        "idle",
        "running",
        "purging 0",
        "purging 1",
        "idle",
    ]
    assert made.told[2][0] == 35.0


def test_request_on_a_machine_that_runs(saw: Bench) -> None:
    saw.run.request(12.0, None)
    saw.look(12.0)
    saw.run.withdraw()
    saw.look(14.0)
    assert saw.told[-1] == (10.0, "running")
    saw.run.request(15.0, None)
    saw.read(20.0, 5.0)
    assert saw.run.phase is MachinePhase.RUNNING
    saw.run.withdraw()
    saw.look(30.0)
    assert saw.told[-1] == (30.0, "purging 0")


@pytest.mark.parametrize("during", [15.0, 22.0, 36.0])
def test_leaving_it_to_people_ends_what_the_machine_began(
    saw: Bench, during: float
) -> None:
    saw.to(20.0)
    if during > 20.0:
        saw.read(20.0, 5.0)
    saw.to(during)
    saw.automatic = False
    saw.look(during)
    assert saw.run.phase is MachinePhase.IDLE
    saw.automatic = True
    saw.look(during + 1.0)
    assert saw.run.phase is (
        MachinePhase.IDLE if during > 20.0 else MachinePhase.RUNNING
    )


def test_request_is_served_and_cleared_without_automatic(saw: Bench) -> None:
    saw.automatic = False
    saw.look(11.0)
    saw.run.request(12.0, None)
    saw.look(12.0)
    saw.run.withdraw()
    saw.look(14.0)
    # It still runs, on its own: there is nothing to clear yet.
    assert saw.told[-1] == (14.0, "idle")
    saw.read(20.0, 5.0)
    saw.run.request(21.0, None)
    saw.look(21.0)
    saw.run.withdraw()
    saw.look(25.0)
    saw.to(60.0)
    assert saw.told[-3:] == [
        (25.0, "purging 0"),
        (30.0, "purging 1"),
        (33.0, "idle"),
    ]


@pytest.mark.parametrize("requested", [True, False])
def test_nothing_is_allowed_under_start_block(saw: Bench, requested: bool) -> None:
    if requested:
        saw.run.request(12.0, None)
    saw.allowed = False
    saw.look(13.0)
    assert saw.run.phase is MachinePhase.IDLE
    assert not saw.run.requested
    assert not saw.run.wants_collection
    assert saw.run.in_use
    assert not saw.run.quiet(saw.told[-1][0])


def test_detached_machine_is_idle_whatever_it_says() -> None:
    made = Bench(
        MachineConfig(
            machine_id="hose", name="Hose", gates=("saw",), levels=LEVELS, movable=True
        )
    )
    made.read(10.0, 900.0)
    made.run.request(11.0, None)
    made.run.set_connected(False, 11.0)
    made.look(12.0)
    made.look(13.0)
    assert made.run.phase is MachinePhase.IDLE
    assert not made.run.senses_running
    assert not made.run.in_use
    assert not made.run.requested
    assert not made.run.unclear
    # What is not known leaves it as it was.
    made.run.set_connected(None, 14.0)
    made.look(14.0)
    made.run.set_connected(True, 18.0)
    made.look(20.0)
    made.run.set_connected(None, 30.0)
    made.look(30.0)
    assert made.told[-2:] == [(13.0, "idle"), (20.0, "running")]
    lost = []
    for now in (89.0, 90.0):
        made.to(now)
        lost.append(made.run.hose.lost)
    made.run.set_connected(True, 90.0)
    lost.append(made.run.hose.lost)
    assert lost == [False, True, False]


def test_hose_whose_contact_bounces() -> None:
    """Neither ends a bounce a request, nor counts a chattering contact cuts."""
    made = Bench(
        MachineConfig(
            machine_id="hose", name="Hose", gates=("saw",), levels=LEVELS, movable=True
        )
    )
    made.run.request(5.0, None)
    made.read(10.0, 900.0)
    for number in range(33):
        made.run.set_connected(bool(number % 2), 20.0 + 0.2 * number)
        made.look(20.0 + 0.2 * number)
    made.run.set_connected(True, 27.0)
    made.look(40.0)
    assert made.run.requested
    assert [phase for _, phase in made.told if phase != "idle"] == ["running"]


def test_who_asks_has_the_contacts_word_taken_at_once() -> None:
    made = Bench(
        MachineConfig(machine_id="hose", name="Hose", gates=("saw",), movable=True)
    )
    made.run.set_connected(False, 10.0)
    made.look(20.0)
    assert not made.run.trust_hose()
    made.run.set_connected(True, 30.0)
    assert not made.run.is_connected
    assert made.run.trust_hose()


def test_machine_with_its_own_extractor_is_only_cleared() -> None:
    plan = MachineConfig(
        machine_id="vacuum",
        name="Vacuum",
        levels=LEVELS,
        collect_while_running=False,
        purge=STEPS[:1],
    )
    made = Bench(plan)
    made.read(10.0, 900.0)
    assert made.run.runs_linked_devices
    assert not made.run.wants_collection
    wanted = [made.run.wanted_gates]
    made.run.request(12.0, None)
    made.look(12.0)
    # Asked for by hand it is served through the gates of its purge.
    wanted.append(made.run.wanted_gates)
    made.run.withdraw()
    made.read(20.0, 5.0)
    wanted.append(made.run.wanted_gates)
    assert wanted == [(), ("sweep",), ("sweep",)]
    made.to(60.0)
    assert made.told[-2:] == [(20.0, "purging 0"), (25.0, "idle")]


def test_pickup_without_a_reading() -> None:
    made = Bench(MachineConfig(machine_id="sweep", name="Sweep", gates=("sweep",)))
    assert made.run.quiet(made.told[-1][0])
    assert not made.run.unclear
    assert not made.run.starting
    made.run.request(5.0, None)
    made.look(5.0)
    assert made.run.in_use
    assert made.run.proven
    made.run.withdraw()
    made.look(9.0)
    assert made.told[-1] == (9.0, "idle")


@pytest.mark.parametrize(
    ("value", "proven"), [(900.0, True), (None, False), (5.0, False)]
)
def test_demand_that_starts_a_motor(value: float | None, proven: bool) -> None:
    """A reading that is missing, or says that the machine stops, starts none."""
    levels = Thresholds(start=150.0, stop=60.0, start_confirm=0.0, stop_confirm=4.0)
    made = Bench(
        MachineConfig(machine_id="saw", name="Saw", gates=("saw",), levels=levels)
    )
    made.read(10.0, 900.0)
    made.read(20.0, value)
    assert made.run.wants_collection
    assert made.run.proven is proven
    made.run.request(21.0, None)
    assert made.run.proven


def test_stop_on_a_persons_word() -> None:
    made = Bench()
    made.read(10.0, 900.0)
    made.run.give_up_waiting()
    phases = [made.run.phase]
    made.read(20.0, 5.0)
    made.run.give_up_waiting()
    phases.append(made.run.phase)
    assert phases == [MachinePhase.RUNNING, MachinePhase.IDLE]
    made.run.request(30.0, None)
    made.look(30.0)
    made.run.withdraw()
    made.run.give_up_waiting()
    assert made.run.phase is MachinePhase.IDLE


def test_left_on(saw: Bench) -> None:
    saw.run.replan(
        MachineConfig(machine_id="saw", name="Saw", levels=LEVELS, run_limit=60.0)
    )
    assert saw.run.due_after(50.0) == 70.0
    assert not saw.run.left_on(69.0)
    assert saw.run.left_on(70.0)
    saw.read(80.0, 5.0)
    assert not saw.run.left_on(200.0)


def test_changed_plan_ends_a_step_that_is_gone(saw: Bench) -> None:
    saw.read(20.0, 5.0)
    saw.to(41.0)
    assert saw.run.step == 1
    changed = MachineConfig(
        machine_id="saw", name="Saw", levels=LEVELS, purge=STEPS[:1]
    )
    saw.run.replan(changed)
    assert saw.run.phase is MachinePhase.IDLE


@pytest.mark.parametrize(
    ("at", "air", "expected"),
    [
        (15.0, True, [(100.0, "running")]),
        # 11 s of the hold are left, less the 2 s away.
        (24.0, True, [(100.0, "holding"), (109.0, "purging 0")]),
        # 3 s of the step are left, less the 2 s away.
        (37.0, True, [(100.0, "purging 0"), (101.0, "purging 1")]),
        # A step that waits for its suction waits on: 17 s less the 2 s away.
        (38.0, False, [(100.0, "purging 0"), (115.0, "purging 1")]),
    ],
)
def test_restart(
    saw: Bench, at: float, air: bool, expected: list[tuple[float, str]]
) -> None:
    if at > 20.0:
        saw.read(20.0, 5.0)
    saw.air = air
    saw.to(at)
    saw.look(at)
    kept = json.loads(json.dumps(saw.run.remember(at)))
    after = Bench()
    after.told.clear()
    after.air = air
    after.run.recall(kept, 100.0, passed=2.0)
    after.now = 100.0
    after.look(100.0)
    after.to(116.0)
    assert after.told[: len(expected)] == expected


def test_restart_of_a_request_and_of_what_was_known() -> None:
    made = Bench()
    made.read(10.0, 900.0)
    made.run.request(10.0, 60.0)
    kept = json.loads(json.dumps(made.run.remember(30.0)))
    after = Machine(SAW, 100.0)
    after.recall(kept, 100.0, passed=5.0)
    assert after.request_until == 135.0
    assert after.running_since == 75.0
    assert after.senses_running
    assert after.sensor is not None
    assert after.sensor.missing
    bare = Machine(MachineConfig(machine_id="saw", name="Saw", gates=("saw",)), 100.0)
    bare.recall({**kept, "phase": "purging", "step": 1}, 100.0, passed=0.0)
    # There is no such step any more.
    assert bare.phase is MachinePhase.IDLE
