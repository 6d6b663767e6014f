"""Everything that happens to a shop comes in as data, by one way."""

from typing import Any, get_args

import pytest

from custom_components.gatewright.core import inputs
from custom_components.gatewright.core.config import (
    COLLECTOR,
    CollectorConfig,
    GateConfig,
    LinkedDeviceConfig,
    MachineConfig,
    SystemConfig,
    WhenBinFull,
)
from custom_components.gatewright.core.control.alarms import AlarmKind, Condition
from custom_components.gatewright.core.control.enums import Phase, Refusal, RefusedError
from custom_components.gatewright.core.control.persistence import save
from custom_components.gatewright.core.control.shop import ShopControl
from custom_components.gatewright.core.inputs import (
    ActuatorExchanged,
    BinReported,
    BleedGatesChosen,
    CollectorPower,
    CollectorReported,
    CollectorTurned,
    CommandDispatched,
    CommandHeldUp,
    CommandRefused,
    ConditionReported,
    DetectorReported,
    EmptyingTimeFound,
    EntitiesDisabled,
    FireShutdownReset,
    GateMoved,
    GateReported,
    HandGatesChosen,
    HoseReported,
    Input,
    LinkedDeviceReported,
    MachineReading,
    Mode,
    ModeSet,
    PlanChanged,
    RelayReported,
    RequestMade,
    RequestWithdrawn,
    RetryAsked,
    TimePassed,
    WorkForetold,
)

from .bench import LEVELS, Bench, Device

NOW = 1000.0
SMOKE = "binary_sensor.smoke"


def plan(bin_answer: WhenBinFull = WhenBinFull.WARN) -> SystemConfig:
    """Return a saw with a hose, a lamp and a gate."""
    saw = MachineConfig(
        machine_id="saw",
        name="Saw",
        gates=("saw_gate",),
        levels=LEVELS,
        movable=True,
        linked_devices=("lamp",),
    )
    return SystemConfig(
        collector=CollectorConfig(name="Collector", bin_answer=bin_answer),
        gates=(GateConfig(gate_id="saw_gate", name="Saw gate"),),
        machines=(saw,),
        linked_devices=(LinkedDeviceConfig(linked_device_id="lamp", name="Lamp"),),
    )


def at_rest(bin_answer: WhenBinFull = WhenBinFull.WARN) -> ShopControl:
    """Return a shop in which everything has come to rest."""
    parts = (COLLECTOR, "saw_gate", "lamp")
    bench = Bench(plan(bin_answer), {part: Device(part) for part in parts})
    bench.shop.handle(HoseReported("saw", True), 0.0)
    bench.power_up()
    bench.read(1.0, "saw", 0.0)
    bench.run_to(NOW)
    return bench.shop


def kinds(alias: Any) -> set[type]:
    """Return the classes that a union of inputs is made of."""
    found: set[type] = set()
    for member in get_args(getattr(alias, "__value__", alias)):
        found |= {member} if isinstance(member, type) else kinds(member)
    return found


EVENTS: tuple[Input, ...] = (
    MachineReading("saw", 900.0),
    RelayReported("saw", True),
    HoseReported("saw", True),
    WorkForetold("saw", True),
    GateReported("saw_gate", True),
    CollectorReported(True),
    CollectorPower(1200.0),
    LinkedDeviceReported("lamp", True),
    CommandDispatched("saw_gate"),
    CommandHeldUp("saw_gate"),
    CommandRefused("saw_gate"),
    RetryAsked("saw_gate"),
    RequestMade("saw", 60.0),
    RequestWithdrawn("saw"),
    CollectorTurned(True),
    GateMoved("saw_gate", opened=True),
    HandGatesChosen(("saw_gate",)),
    ModeSet(Mode.START_BLOCK, on=True),
    FireShutdownReset(),
    DetectorReported(SMOKE, alarm=True),
    BinReported(full=True),
    ConditionReported(Condition(AlarmKind.AIR_SUPPLY_LOW, COLLECTOR), present=True),
    BleedGatesChosen(frozenset({"saw_gate"})),
    EmptyingTimeFound(4.0),
    PlanChanged(plan()),
    ActuatorExchanged("saw_gate"),
    EntitiesDisabled(frozenset({"saw_gate"})),
    TimePassed(),
)


def test_every_kind_of_input_is_tried_here() -> None:
    assert {type(event) for event in EVENTS} == kinds(Input)
    made = {
        thing
        for thing in vars(inputs).values()
        if isinstance(thing, type) and thing.__module__ == inputs.__name__
    }
    assert made - kinds(Input) == {inputs.ActuatorInput, Mode}


@pytest.mark.parametrize("event", EVENTS, ids=lambda event: type(event).__name__)
def test_every_input_is_frozen_and_taken(event: Input) -> None:
    shop = at_rest()
    shop.handle(event, NOW)
    shop.advance(NOW)
    for name in type(event).__match_args__:
        with pytest.raises(AttributeError):
            setattr(event, name, None)


def test_only_what_changes_something_has_to_be_followed() -> None:
    shop = at_rest()
    assert not shop.handle(MachineReading("saw", 0.0), NOW)
    assert shop.handle(MachineReading("saw", 900.0), NOW)
    assert not shop.handle(EmptyingTimeFound(9.0), NOW)
    assert shop.sequence.least_shutoff_delay == 9.0
    assert shop.handle(TimePassed(), NOW)


@pytest.mark.parametrize(
    ("before", "event", "why"),
    [
        (ModeSet(Mode.START_BLOCK, True), RequestMade("saw"), Refusal.START_BLOCK),
        (ModeSet(Mode.START_BLOCK, True), CollectorTurned(True), Refusal.START_BLOCK),
        (DetectorReported(SMOKE, True), RequestMade("saw"), Refusal.FIRE_SHUTDOWN),
        (DetectorReported(SMOKE, True), FireShutdownReset(), Refusal.FIRE_SHUTDOWN),
        (BinReported(True), RequestMade("saw"), Refusal.BIN_FULL),
        (None, GateMoved("nowhere", opened=True), Refusal.NOT_POWERED),
    ],
)
def test_a_refusal_leaves_everything_as_it_was(
    before: Input | None, event: Input, why: Refusal
) -> None:
    shop = at_rest(WhenBinFull.REFUSE)
    if before is not None:
        shop.handle(before, NOW)
        shop.advance(NOW)
    was = save(shop, NOW)
    with pytest.raises(RefusedError) as refused:
        shop.handle(event, NOW)
    assert refused.value.why is why
    shop.advance(NOW)
    assert save(shop, NOW) == was


def test_a_shutdown_is_reset_once_no_detector_gives_the_alarm() -> None:
    shop = at_rest()
    for detector in (SMOKE, "binary_sensor.spark"):
        shop.handle(DetectorReported(detector, True), NOW)
    shop.handle(DetectorReported(SMOKE, False), NOW)
    # A detector that says nothing leaves things as they were.
    shop.handle(DetectorReported("binary_sensor.spark", None), NOW)
    with pytest.raises(RefusedError):
        shop.handle(FireShutdownReset(), NOW)
    assert shop.sequence.fire_shutdown
    shop.handle(DetectorReported("binary_sensor.spark", False), NOW)
    assert shop.sequence.fire_shutdown
    shop.handle(FireShutdownReset(), NOW)
    assert not shop.sequence.fire_shutdown


def test_a_person_turns_the_collector_on_and_everything_off() -> None:
    shop = at_rest()
    shop.handle(CollectorTurned(True), NOW)
    shop.advance(NOW)
    assert shop.sequence.phase is Phase.OPENING
    shop.handle(CollectorTurned(False), NOW)
    shop.advance(NOW)
    assert not shop.sequence.demand
