"""Sends cards a system's snapshot, and afterwards only its changes."""

from collections.abc import Callable, Container
from time import monotonic
from typing import Any

from homeassistant.components import websocket_api
from homeassistant.config_entries import (
    SIGNAL_CONFIG_ENTRY_CHANGED,
    ConfigEntry,
    ConfigEntryChange,
)
from homeassistant.core import CALLBACK_TYPE, Event, HomeAssistant, callback
from homeassistant.exceptions import ServiceValidationError
from homeassistant.helpers import entity_registry as er
from homeassistant.helpers.dispatcher import async_dispatcher_connect
from homeassistant.util.hass_dict import HassKey

from ...const import DOMAIN
from ...core.config import COLLECTOR, GateKind
from ...runtime.permissions import Requester
from ...runtime.system_context import (
    GatewrightConfigEntry,
    SystemContext,
    loaded_system,
)
from ..airflow.manager import AirflowManager
from ..maintenance.manager import MaintenanceManager
from ..plan.drafts import DRAFTS
from .snapshot import GATES, MACHINES, Part, Snapshot, SnapshotBuilder

type Send = Callable[[dict[str, Any]], None]

FEEDS: HassKey[Subscriptions] = HassKey(f"{DOMAIN}_feeds")

_NOT_DRIVEN = (GateKind.HAND.value, GateKind.FIXED.value)


class Subscriptions:
    """The feeds of all systems, each created when first needed."""

    def __init__(self, hass: HomeAssistant, version: str) -> None:
        self._hass = hass
        self._version = version
        self._feeds: dict[str, Subscription] = {}
        async_dispatcher_connect(hass, SIGNAL_CONFIG_ENTRY_CHANGED, self._entry_changed)
        hass.bus.async_listen(
            er.EVENT_ENTITY_REGISTRY_UPDATED, self._entity_registry_updated
        )

    def of(self, entry: ConfigEntry[Any]) -> Subscription:
        """Return the feed of a system."""
        feed = self._feeds.get(entry.entry_id)
        if feed is None:
            feed = self._feeds[entry.entry_id] = Subscription(
                self._hass, entry, self._version
            )
        return feed

    @callback
    def _entry_changed(self, change: ConfigEntryChange, entry: ConfigEntry) -> None:
        removed = change is ConfigEntryChange.REMOVED
        feed = self._feeds.get(entry.entry_id)
        if feed is not None:
            feed.entry_changed(removed=removed)
        if removed:
            self._feeds.pop(entry.entry_id, None)

    @callback
    def _entity_registry_updated(
        self, event: Event[er.EventEntityRegistryUpdatedData]
    ) -> None:
        """Check again when an entity of ours is added, renamed or removed."""
        entity = er.async_get(self._hass).async_get(event.data["entity_id"])
        if entity is None or entity.platform == DOMAIN:
            for feed in self._feeds.values():
                feed.look_again()


class Subscription:
    """The feed for all cards of one system; it lives as long as the config entry.

    Every message has `now`, Home Assistant's monotonic clock. The first one, and each
    after a reload, has a `state` and is complete; any other has the changed fields,
    with null for a part that is gone.
    """

    def __init__(
        self, hass: HomeAssistant, entry: ConfigEntry[Any], version: str
    ) -> None:
        self._hass = hass
        self._entry = entry
        self._version = version
        self._readers: list[_Subscriber] = []
        self._system: SystemContext | None = None
        self._builder: SnapshotBuilder | None = None
        self._unlisten: dict[str, CALLBACK_TYPE] = {}
        self._unfollow: list[CALLBACK_TYPE] = []
        self._touched: set[str] = set()
        self._everything = False
        self._flushing = False
        self._removed = False
        self._set_connected()

    @callback
    def add(self, asker: Requester, send: Send) -> CALLBACK_TYPE:
        """Send a subscriber the snapshot and its changes; return how to unsubscribe."""
        reader = _Subscriber(asker, send)
        self._readers.append(reader)
        self._begin([reader])

        @callback
        def remove() -> None:
            self._readers.remove(reader)

        return remove

    @callback
    def entry_changed(self, *, removed: bool) -> None:
        """Follow the config entry: loaded, unloaded, renamed, removed."""
        before = self._system
        self._removed = removed
        self._set_connected()
        if self._system is None or self._system is not before:
            self._begin(self._readers)
        else:
            self.look_again()

    @callback
    def look_again(self) -> None:
        """Check every part at the end of this turn of the event loop."""
        self._everything = True
        self._soon()

    def _set_connected(self) -> None:
        """Subscribe to the system that now runs the entry."""
        system = None if self._removed else loaded_system(self._entry)
        if system is self._system:
            return
        for stop in (*self._unlisten.values(), *self._unfollow):
            stop()
        self._unlisten.clear()
        self._unfollow.clear()
        self._system = system
        self._builder = None
        if system is not None:
            self._builder = SnapshotBuilder(self._hass, system)
            self._listen(system, self._builder)
            self._unfollow = [
                system.on_replan(self._replanned),
                system.of(AirflowManager).listen(self._soon),
                system.of(MaintenanceManager).listen_to(self._soon),
            ]
            if draft := self._hass.data.get(DRAFTS, {}).get(self._entry.entry_id):
                self._unfollow.append(draft.listen(lambda _: self._soon()))

    def _listen(self, system: SystemContext, builder: SnapshotBuilder) -> None:
        """Subscribe to every present part, and unsubscribe from those that are gone."""
        parts = {COLLECTOR, *builder.gate_ids(), *builder.machine_ids()}
        for gone in self._unlisten.keys() - parts:
            self._unlisten.pop(gone)()
        for part in parts - self._unlisten.keys():
            self._unlisten[part] = system.listen(part, self._toucher(part))

    def _toucher(self, part: str) -> Callable[[], None]:
        @callback
        def touch() -> None:
            self._touched.add(part)
            self._soon()

        return touch

    @callback
    def _replanned(self) -> None:
        if self._system is not None and self._builder is not None:
            self._listen(self._system, self._builder)
            self.look_again()

    def _soon(self) -> None:
        if not self._flushing:
            self._flushing = True
            self._hass.loop.call_soon(self._flush)

    @callback
    def _flush(self) -> None:
        """Send all changes of one turn of the event loop in one message."""
        touched, self._touched = self._touched, set()
        everything, self._everything = self._everything, False
        self._flushing = False
        if self._builder is None or not self._readers:
            return
        now = monotonic()
        picture = self._builder.picture(now, None if everything else touched)
        for reader in self._readers:
            reader.update(picture, now)

    def _begin(self, readers: list[_Subscriber]) -> None:
        """Send the complete snapshot, or why there is none."""
        now = monotonic()
        head = {"entry_id": self._entry.entry_id, "version": self._version}
        if self._builder is None:
            absent = {**head, "state": self._absence(), "name": self._entry.title}
            for reader in readers:
                reader.send({"now": round(now, 3), **absent})
            return
        picture = self._builder.picture(now, None)
        for reader in readers:
            reader.begin(picture, now, {**head, "state": "running"})

    def _absence(self) -> str:
        if self._removed:
            return "removed"
        return "disabled" if self._entry.disabled_by else self._entry.state.value


class _Subscriber:
    """One subscription: what its user may see, and what was already sent."""

    def __init__(self, asker: Requester, send: Send) -> None:
        self._asker = asker
        self._sent: dict[str, dict[str, Part]] = {}
        self._rest: dict[str, object] = {}
        self.send = send

    def begin(self, picture: Snapshot, now: float, head: dict[str, Any]) -> None:
        """Send the complete snapshot."""
        self._sent = {GATES: {}, MACHINES: {}, COLLECTOR: {}}
        self._rest = {"ducts": [], "flows": None, "upkeep": None, "drawn": False}
        self.send({"now": round(now, 3), **head, **self._difference(picture)})

    def update(self, picture: Snapshot, now: float) -> None:
        """Send what differs from the last message, if anything."""
        if changes := self._difference(picture):
            self.send({"now": round(now, 3), **changes})

    def _difference(self, picture: Snapshot) -> dict[str, Any]:
        changes: dict[str, Any] = {}
        system = {**picture.system, "control": self._controls(picture.system)}
        if changed := self._news(COLLECTOR, COLLECTOR, system):
            changes["system"] = changed
        if gates := self._parts(GATES, picture.gates, picture.known):
            changes[GATES] = gates
        if machines := self._parts(MACHINES, picture.machines, picture.known):
            changes[MACHINES] = machines
        visible = {COLLECTOR, *self._sent[GATES], *self._sent[MACHINES]}
        alarms = [
            alarm
            for alarm in picture.alarms
            if alarm["part"] in visible
            or ("entity" in alarm and self._asker.reads(alarm["entity"]))
        ]
        flows = picture.flows
        if flows is not None:
            seen = self._sent[MACHINES]
            machines = {m: flow for m, flow in flows["machines"].items() if m in seen}
            flows = {**flows, "machines": machines}
        for key, value in (
            ("alarms", alarms),
            ("ducts", self._ducts(picture.ducts)),
            ("flows", flows),
            ("upkeep", picture.maintenance),
            ("drawn", picture.drawn),
        ):
            if key not in self._rest or self._rest[key] != value:
                self._rest[key] = changes[key] = value
        return changes

    def _parts(
        self, kind: str, parts: dict[str, Part], known: Container[str]
    ) -> dict[str, Part | None]:
        changes: dict[str, Part | None] = {}
        for part_id, part in parts.items():
            if not self._sees(part):
                continue
            control = part["kind"] not in _NOT_DRIVEN and self._controls(part)
            if changed := self._news(kind, part_id, {**part, "control": control}):
                changes[part_id] = changed
        sent = self._sent[kind]
        for gone in [
            part_id
            for part_id in sent
            if part_id not in known
            or (part_id in parts and not self._sees(parts[part_id]))
        ]:
            del sent[gone]
            changes[gone] = None
        return changes

    def _ducts(self, ducts: list[Part]) -> list[Part]:
        """Return the ducts, without hidden gates on them."""
        seen = self._sent[GATES]
        return [
            {**duct, "gates": [gate for gate in duct["gates"] if gate in seen]}
            for duct in ducts
        ]

    def _news(self, kind: str, part_id: str, part: Part) -> Part:
        """Return the changed fields of a part."""
        before = self._sent[kind].get(part_id)
        self._sent[kind][part_id] = part
        if before is None:
            return part
        return {
            key: value
            for key, value in part.items()
            if key not in before or before[key] != value
        }

    def _sees(self, part: Part) -> bool:
        # An opening that never moves has no entity, so nothing to hide.
        if part["kind"] == GateKind.FIXED:
            return True
        return self._asker.reads(part["entity"])

    def _controls(self, part: Part) -> bool:
        return self._asker.controls(part["entity"])


def system_asked_for(
    asker: Requester, connection: websocket_api.ActiveConnection, msg: dict[str, Any]
) -> GatewrightConfigEntry | None:
    """Return the system that a command names; None after sending an error.

    The system is loaded, and the user may see it.
    """
    try:
        return asker.system(msg["entry_id"])
    except ServiceValidationError:
        send_absence(connection, msg)
        return None


def send_absence(
    connection: websocket_api.ActiveConnection, msg: dict[str, Any]
) -> None:
    """Answer that there's no such system, or none that the user may see."""
    connection.send_error(
        msg["id"], websocket_api.ERR_NOT_FOUND, "There is no such system"
    )
