"""Narrates what an owner would notice, from the changes of Home Assistant's entities."""

from collections.abc import Callable

from .custom_components.virtual_workshop.model.layout import MeterKind
from .hub_states import StateChange
from .shop_floor import LEVELS, ShopFloor
from .timeline import Timeline

type Tell = Callable[[StateChange], None]

_MACHINE = {
    "running": "is noticed",
    "holding": "stands; its gates wait for the next cut",
    "purging": "is done; now it is cleared up after it",
    "idle": "needs no more air",
}
_COLLECTOR = {
    "opening": "is wanted; it waits for a gate to be open",
    "collecting": "is to run",
    "shutting_off": "runs on to empty the duct",
    "spinning_down": "is to stop; the gates stay as they are while it coasts",
    "idle": "is at rest",
}
_GATE = {
    "opening": "opens",
    "open": "is open",
    "closing": "shuts",
    "closed": "is shut",
}


class Narrator:
    """Listens to a workshop and writes its timeline."""

    def __init__(self, floor: ShopFloor, timeline: Timeline) -> None:
        self._hear = timeline.hear
        self._tells: dict[str, Tell] = {}
        for name, key in floor.machine_keys.items():
            clamp = floor.layout.machines[key].meter_kind is MeterKind.CLAMP
            self._tells[floor.reading(name)] = self._draw(
                name, "A" if clamp else "W", LEVELS[floor.spec(name).meter_kind]
            )
        for name in floor.machine_names:
            self._tells[floor.own("phase", name)] = self._words(
                "Machine", name, _MACHINE
            )
        for name in floor.gate_keys:
            self._tells[floor.own("gate", name)] = self._words("Gate", name, _GATE)
        self._tells[floor.own("phase")] = self._words("Collector", "", _COLLECTOR)
        self._tells[floor.seen("collector_relay")] = self._words(
            "Collector", "", {"on": "is on", "off": "is off and coasts"}
        )
        self._tells[floor.seen("collector_impeller_turning")] = self._words(
            "Collector", "", {"off": "has stopped turning"}
        )
        for name in floor.part_names:
            self._tells[floor.own("problem", name)] = self._alarm(name)
        self._tells[floor.own("problem")] = self._alarm("")
        floor.listeners.append(self._take)

    def _take(self, change: StateChange) -> None:
        if tell := self._tells.get(change.entity_id):
            tell(change)

    def _words(self, who: str, name: str, words: dict[str, str]) -> Tell:
        """Narrate each new state; states that come and go with a restart don't count."""

        def tell(change: StateChange) -> None:
            if not change.is_new_state or _is_nothing(change.old):
                return
            if what := words.get(change.new or ""):
                self._hear(change.at, who, f"{name} {what}".strip())

        return tell

    def _draw(self, name: str, unit: str, levels: tuple[float, float]) -> Tell:
        """Narrate when a reading rises to the level at which its machine runs, and when it falls again."""
        start, stop = levels
        high = False

        def tell(change: StateChange) -> None:
            nonlocal high
            try:
                value = float(change.new or "")
            except ValueError:
                if change.is_new_state and not _is_nothing(change.old):
                    self._hear(change.at, "Plug", f"{name}: {change.new}")
                return
            if (value >= start and not high) or (value <= stop and high):
                high = not high
                self._hear(change.at, "Plug", f"{name}: {value:,.6g} {unit}")

        return tell

    def _alarm(self, name: str) -> Tell:
        """Narrate active alarms; the system's sensor has all parts' alarms, of which only its own count."""
        standing: set[str] = set()

        def tell(change: StateChange) -> None:
            alarms = set(change.attributes.get("alarms") or ())
            if name:
                for alarm in sorted(alarms - standing):
                    self._hear(change.at, "Alarm", f"{name}: {_plain(alarm)}")
                for alarm in sorted(standing - alarms):
                    self._hear(change.at, "Alarm", f"{name}: no longer {_plain(alarm)}")
            elif change.new == "on" and change.is_new_state:
                self._hear(change.at, "Alarm", "the system reports a problem")
            elif change.old == "on" and change.new == "off":
                self._hear(change.at, "Alarm", "no problem is left")
            standing.clear()
            standing.update(alarms)

        return tell


def _is_nothing(state: str | None) -> bool:
    return state in {None, "unknown", "unavailable"}


def _plain(code: str) -> str:
    return code.replace("_", " ")
