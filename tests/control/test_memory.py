"""What survives a restart, and what comes of it."""

import json
from typing import Any

import pytest

from custom_components.gatewright.core.config import COLLECTOR, SystemConfig
from custom_components.gatewright.core.control.alarms import AlarmKind
from custom_components.gatewright.core.control.enums import Phase
from custom_components.gatewright.core.control.machine import MachinePhase
from custom_components.gatewright.core.control.persistence import restore, save
from custom_components.gatewright.core.control.shop import ShopControl

from .bench import Bench, near
from .test_sequence import SHOP, collecting, rested, shop, then, with_collector


def remembered(made: Bench) -> Any:
    """Return the shop's memory as it comes back from a file."""
    return json.loads(json.dumps(save(made.shop, made.now)))


def restart(
    before: Bench,
    *,
    away: float = 30.0,
    known: bool = False,
    system: SystemConfig | None = None,
) -> Bench:
    """Return a shop that has taken over; none of its entities has come up yet."""
    after = Bench(system or before.system, before.devices, now=before.now + away)
    restore(after.shop, remembered(before), after.now, elapsed=away if known else None)
    after.run_to(after.now)
    return after


def come_up(made: Bench, *parts: str) -> None:
    """Have some entities come up, or all; then look."""
    for part in parts or made.devices:
        made.say(made.devices[part])
    made.run_to(made.now)


@pytest.mark.parametrize("collector_first", [True, False])
@pytest.mark.parametrize("known", [True, False])
def test_run_goes_on_without_a_command(collector_first: bool, known: bool) -> None:
    after = restart(collecting(), known=known)
    assert after.sequence.phase is Phase.COLLECTING
    others = [part for part in after.devices if part != COLLECTOR]
    for parts in ([COLLECTOR], others) if collector_first else (others, [COLLECTOR]):
        come_up(after, *parts)
        after.run_to(after.now + 5.0)
    for machine in ("saw", "planer"):
        after.read(after.now, machine, 900.0 if machine == "planer" else 5.0)
    after.run_to(after.now + 10.0)
    assert after.commands == []
    assert after.sequence.is_collecting("planer", after.now)
    after.read(300.0, "planer", 5.0)
    after.run_to(400.0)
    assert after.sent(COLLECTOR) == [(near(303.0), False)]
    assert after.shop.ledger.of("planer").runs == 1


def test_hand_after_a_restart_is_a_hand() -> None:
    after = restart(collecting())
    come_up(after)
    after.read(after.now, "planer", 900.0)
    after.hand(200.0, COLLECTOR, False)
    after.run_to(230.0)
    assert after.sent(COLLECTOR) == []
    assert after.told(AlarmKind.STOPPED_BY_HAND) == [(near(200.0), True)]


def test_machine_that_stopped_while_nobody_looked_starts_no_motor() -> None:
    """The power was cut, and comes back with the machine's switch off."""
    before = collecting()
    before.devices[COLLECTOR].state = False
    after = restart(before)
    come_up(after)
    after.read(after.now, "planer", 5.0)
    after.run_to(after.now + 30.0)
    assert after.sent(COLLECTOR) == []


def test_person_put_a_gate_somewhere_before() -> None:
    before = rested()
    before.hand(110.0, "saw_gate", True)
    before.run_to(120.0)
    after = restart(before)
    come_up(after)
    after.run_to(300.0)
    assert after.sequence.phase is Phase.IDLE
    assert after.commands == []


def test_what_a_person_asked_for_and_forbade() -> None:
    before = rested()
    before.sequence.hand_gates = ("saw_gate",)
    then(before, 110.0, before.sequence.start_by_hand)
    then(before, 111.0, lambda: before.sequence.request("sweep", 111.0, 60.0))
    before.run_to(121.0)
    before.sequence.set_automatic(False)
    after = restart(before)
    assert after.sequence.by_hand
    assert not after.sequence.automatic
    assert after.sequence.hand_gates == ("saw_gate",)
    # 50 s of the request are left: the time away is not known.
    assert after.sequence.machines["sweep"].request_until == near(201.0)
    before.sequence.set_start_block(True)
    before.sequence.set_fire_shutdown(True)
    then(before, 130.0, lambda: None)
    locked = restart(before)
    assert (locked.sequence.start_block, locked.sequence.fire_shutdown) == (True, True)
    come_up(locked)
    assert not locked.sequence.collector_wanted


def test_switched_off_by_hand_before() -> None:
    before = collecting()
    before.hand(160.0, COLLECTOR, False)
    before.run_to(170.0)
    after = restart(before)
    come_up(after)
    after.read(after.now, "planer", 900.0)
    after.read(after.now, "saw", 5.0)
    after.run_to(300.0)
    assert after.sent(COLLECTOR) == []
    # It was told before, and is told no second time.
    assert after.alarms == []
    assert [kind for kind, _ in after.shop.alarms.standing] == [
        AlarmKind.STOPPED_BY_HAND
    ]


def test_clearing_that_waited_for_its_gate_is_not_lost() -> None:
    before = collecting(machine="saw")
    before.read(150.0, "saw", 5.0)
    before.run_to(165.5)
    run = before.sequence.machines["saw"]
    assert run.phase is MachinePhase.PURGING
    assert run.until is None
    after = restart(before, away=1.0, known=True)
    come_up(after)
    after.read(after.now, "saw", 5.0)
    after.run_to(300.0)
    # The sweep's gate opens, and then its purge takes 5 s and the shut-off delay 3 s.
    [opened] = [at for at, target in after.sent("sweep_gate") if target]
    [(off, _)] = after.sent(COLLECTOR)
    assert off == near(opened + 2.0 + 5.0 + 3.0, 0.5)


@pytest.mark.parametrize(("known", "stops_at"), [(True, 262.0), (False, 272.0)])
def test_prolonged_shutoff_delay_goes_on(known: bool, stops_at: float) -> None:
    before = collecting(with_collector(starts_per_hour=1.0, longest_shutoff_delay=99.0))
    before.read(160.0, "planer", 5.0)
    before.run_to(200.0)
    after = restart(before, away=10.0, known=known)
    assert after.sequence.ending.saving_start
    come_up(after)
    after.run_to(400.0)
    assert after.sent(COLLECTOR) == [(near(stops_at), False)]


def test_linked_device_is_switched_off_by_the_next_process() -> None:
    before = collecting(machine="saw")
    after = restart(before)
    come_up(after)
    after.read(200.0, "saw", 5.0)
    after.run_to(400.0)
    # The hold ends at 215, its own shut-off delay at 245.
    assert after.sent("light") == [(near(245.0), False)]


def test_motor_goes_on_resting_and_counting() -> None:
    before = collecting(with_collector(rest=60.0))
    before.read(160.0, "planer", 5.0)
    before.run_to(170.0)
    after = restart(before, away=10.0, known=True)
    come_up(after)
    after.read(after.now, "planer", 900.0)
    after.run_to(300.0)
    # Seen off at 163.25.
    assert after.sent(COLLECTOR) == [(near(223.25), True)]


def test_memory_of_parts_that_are_gone() -> None:
    before = collecting(machine="saw")
    smaller = SystemConfig(
        collector=SHOP.collector,
        gates=SHOP.gates[1:],
        machines=SHOP.machines[1:],
    )
    after = restart(before, system=smaller)
    come_up(after, COLLECTOR, "planer_gate", "sweep_gate")
    after.run_to(400.0)
    assert after.sequence.phase is Phase.IDLE
    assert after.sent(COLLECTOR) == [(near(after.sent(COLLECTOR)[0][0]), False)]
    assert [run.machine_id for run in after.shop.ledger.drain()] == ["saw"]


def test_alarm_of_a_kind_that_is_unknown_is_forgotten() -> None:
    memory = {**remembered(rested()), "alarms": [["of_another_age", "gate"]]}
    after = ShopControl(SHOP, 0.0)
    restore(after, memory, 0.0)
    assert after.alarms.standing == {}


def test_memory_from_before_anything_was_heard() -> None:
    before = Bench(SHOP, shop().devices)
    before.devices[COLLECTOR].state = True
    before.run_to(1.0)
    after = restart(before)
    come_up(after)
    after.run_to(200.0)
    # It is still the first time: a collector found on is its owner's.
    assert after.sequence.by_hand


def saw_unwritten(*, stops: float | None = None) -> Bench:
    """Return a shop after a crash just when the saw got dust collection: that was not written.

    `stops` is when the planer had stopped, if it had.
    """
    before = collecting()
    if stops is not None:
        before.read(stops, "planer", 5.0)
    before.run_to(153.0)
    memory = remembered(before)
    before.read(153.0, "saw", 900.0)
    before.run_to(156.0)
    assert before.sequence.is_collecting("saw", before.now)
    after = Bench(before.system, before.devices, now=170.0)
    restore(after.shop, memory, after.now)
    after.run_to(after.now)
    return after


def test_machine_that_was_not_written_down_keeps_the_collector_on() -> None:
    after = saw_unwritten(stops=152.0)
    assert after.sequence.phase is Phase.SHUTTING_OFF
    come_up(after)
    # The shut-off delay of the planer is over before the saw's plug is heard of.
    after.read(176.0, "planer", 5.0)
    after.read(180.0, "saw", 900.0)
    after.run_to(190.0)
    assert after.sent(COLLECTOR) == []
    assert after.sent("saw_gate") == []
    assert after.sequence.is_collecting("saw", after.now)


def test_machine_that_was_not_written_down_keeps_its_gate() -> None:
    after = saw_unwritten()
    come_up(after)
    after.read(171.0, "planer", 900.0)
    after.read(180.0, "saw", 900.0)
    after.run_to(190.0)
    assert after.commands == []
    assert after.sequence.is_collecting("saw", after.now)
    after.read(200.0, "saw", 5.0)
    after.run_to(300.0)
    # Once all machines are known the gates are made and broken as ever.
    assert [target for _, target in after.sent("saw_gate")] == [False]


def test_shutoff_delay_from_before_ends_once_every_machine_is_known_to_stand() -> None:
    after = saw_unwritten(stops=152.0)
    come_up(after)
    after.read(175.0, "planer", 5.0)
    after.read(178.0, "saw", 5.0)
    after.run_to(200.0)
    assert after.sent(COLLECTOR) == [(near(178.0), False)]


def test_shutoff_delay_from_before_waits_no_longer_than_for_a_reading_to_be_lost() -> (
    None
):
    after = saw_unwritten(stops=152.0)
    come_up(after)
    after.read(175.0, "planer", 5.0)
    after.run_to(300.0)
    # The saw's plug never comes: its dropout time counts from the new process.
    assert after.sent(COLLECTOR) == [(near(170.0 + 60.0), False)]


def test_person_who_stops_the_collector_does_not_wait_for_readings() -> None:
    after = saw_unwritten(stops=152.0)
    come_up(after)
    then(after, 171.0, after.sequence.stop_by_hand)
    after.run_to(180.0)
    assert after.sent(COLLECTOR) == [(near(172.0), False)]


@pytest.mark.parametrize(("known", "since"), [(True, 160.0), (False, 190.0)])
def test_alarm_stands_since_it_was_raised(known: bool, since: float) -> None:
    before = collecting()
    before.hand(160.0, COLLECTOR, False)
    before.run_to(170.0)
    after = restart(before, away=30.0, known=known)
    # How long a restart took nobody knows: it counts for nothing.
    [alarm] = after.shop.alarms.standing.values()
    assert alarm.raised_at == near(since)
