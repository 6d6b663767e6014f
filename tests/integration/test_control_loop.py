"""One way in, one instant for everything that follows, and orders that are used."""

from unittest.mock import patch

from homeassistant.core import HomeAssistant
import pytest

from custom_components.gatewright.core.control.enums import Phase, RefusedError
from custom_components.gatewright.core.control.shop import ShopControl
from custom_components.gatewright.core.inputs import (
    CollectorReported,
    CollectorTurned,
    CommandDispatched,
    GateReported,
    Input,
    MachineReading,
    Mode,
    ModeSet,
    RequestMade,
    TimePassed,
)
from custom_components.gatewright.runtime import control_loop
from custom_components.gatewright.runtime.control_loop import ControlLoop

from .workshop import (
    COLLECTOR,
    PLANER_POWER,
    SAW_GATE,
    SAW_POWER,
    Workshop,
    system_entry,
)


class Clock:
    """A clock that advances by a second at each reading."""

    def __init__(self, start: float) -> None:
        self.reads = 0
        self._start = start

    def __call__(self) -> float:
        self.reads += 1
        return self._start + self.reads


@pytest.fixture
def happened(monkeypatch: pytest.MonkeyPatch) -> list[tuple[Input, float]]:
    """Return the core's events from now on, and their instants."""
    taken: list[tuple[Input, float]] = []
    handle = ShopControl.handle

    def noted(shop: ShopControl, event: Input, now: float) -> bool:
        taken.append((event, now))
        return handle(shop, event, now)

    monkeypatch.setattr(ShopControl, "handle", noted)
    return taken


async def test_all_that_follows_is_of_the_instant_of_the_event(
    hass: HomeAssistant,
    workshop: Workshop,
    happened: list[tuple[Input, float]],
) -> None:
    """A command is sent in the middle of it; a report is an event of its own."""
    entry = system_entry()
    await workshop.start(entry)
    await workshop.pass_time(60)
    happened.clear()
    clock = Clock(entry.runtime_data.loop.now())
    with patch.object(control_loop, "monotonic", clock):
        workshop.watts(SAW_POWER, 1400)
    # The gate reports at once that it is open, so that the collector is next.
    assert workshop.sent() == [("open_cover", SAW_GATE), ("turn_on", COLLECTOR)]
    of_one: dict[float, list[type]] = {}
    for event, now in happened:
        of_one.setdefault(now, []).append(type(event))
    assert list(of_one.values())[:3] == [
        [MachineReading, CommandDispatched],
        [GateReported, CommandDispatched],
        [CollectorReported],
    ]
    # Whatever read the clock meanwhile, including entities, saw the event's instant.
    assert clock.reads == len(of_one)


async def test_what_is_gathered_is_followed_once(
    hass: HomeAssistant, workshop: Workshop, monkeypatch: pytest.MonkeyPatch
) -> None:
    entry = system_entry()
    await workshop.start(entry)
    await workshop.pass_time(60)
    loop = entry.runtime_data.loop
    reported: list[float] = []
    notify = ControlLoop._notify

    def counted(loop: ControlLoop, *args: object) -> None:
        reported.append(loop.now())
        notify(loop, *args)  # type: ignore[arg-type]

    monkeypatch.setattr(ControlLoop, "_notify", counted)
    with loop.gather():
        loop.handle(ModeSet(Mode.AUTOMATIC, on=False))
        with loop.gather():
            loop.handle(ModeSet(Mode.AUTOMATIC, on=True))
        loop.handle(TimePassed())
        assert reported == []
    assert len(reported) == 1
    with loop.gather():
        # An idle reading changes nothing, so nothing has to follow.
        loop.handle(MachineReading("saw", 0.0))
    assert len(reported) == 1


async def test_what_is_refused_changes_nothing(
    hass: HomeAssistant, workshop: Workshop
) -> None:
    entry = system_entry()
    await workshop.start(entry)
    await workshop.pass_time(60)
    loop, sequence = entry.runtime_data.loop, entry.runtime_data.sequence
    loop.handle(ModeSet(Mode.START_BLOCK, on=True))
    for asked in (RequestMade("sweep"), CollectorTurned(True)):
        with pytest.raises(RefusedError):
            loop.handle(asked)
    assert not sequence.demand
    assert sequence.phase is Phase.IDLE
    # It continues as if nothing had been requested.
    loop.handle(ModeSet(Mode.START_BLOCK, on=False))
    workshop.watts(PLANER_POWER, 900)
    await workshop.pass_time(6)
    assert workshop.state(COLLECTOR) == "on"


async def test_after_the_end_it_is_noted_and_nothing_follows(
    hass: HomeAssistant, workshop: Workshop
) -> None:
    entry = system_entry()
    await workshop.start(entry)
    await workshop.pass_time(60)
    runtime = entry.runtime_data
    runtime.stop()
    runtime.loop.handle(RequestMade("sweep"))
    await workshop.pass_time(5)
    assert runtime.sequence.machines["sweep"].requested
    assert workshop.sent() == []
