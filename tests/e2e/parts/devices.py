"""The MQTT devices of a small workshop: plugs, relays, gates, sensors and a wall button.

They announce themselves in retained discovery messages, report their state, and obey.
What really happened is in `Devices.record`, in order.
"""

from collections.abc import Mapping
import json
import threading
import time
from typing import Any, NamedTuple

from paho.mqtt.client import (
    Client,
    ConnectFlags,
    DisconnectFlags,
    MQTTMessage,
)
from paho.mqtt.enums import CallbackAPIVersion
from paho.mqtt.properties import Properties
from paho.mqtt.reasoncodes import ReasonCode

from demo.ports import HOST

ROOT = "workshop"
AVAILABILITY = f"{ROOT}/available"
STATUS = "homeassistant/status"

REPORTS = 0.5
"""How often a plug reports while it measures power [s]."""
TRAVEL = 0.4
"""How long a gate takes from end to end [s]."""

WORKING = {"planer": 1450.0, "table_saw": 1180.0}
IDLE = 2.0
COLLECTOR_POWER = 1720.0
CLEAN, LOADED = 400.0, 1900.0
"""The pressure across the filter [Pa]."""


class Happening(NamedTuple):
    """An event of a device, at an instant of the monotonic clock."""

    at: float
    device: str
    what: str


class Devices:
    """All devices of the workshop, behind one connection to the broker."""

    def __init__(self, port: int) -> None:
        """Everything idle and closed; `start` connects to the broker."""
        self.record: list[Happening] = []
        self.collector_on = False
        self.running: set[str] = set()
        self.bin_full = False
        self.gates = {"planer_gate": "closed", "table_saw_gate": "closed"}
        self.sweep_gate_on = False
        self.cleaner_on = False
        self.filter_pressure = CLEAN
        self.connected = threading.Event()
        self._port = port
        self._stopped = threading.Event()
        self._lock = threading.RLock()
        self._client = Client(CallbackAPIVersion.VERSION2, client_id="workshop")
        self._client.will_set(AVAILABILITY, "offline", retain=True)
        self._client.reconnect_delay_set(min_delay=1, max_delay=1)
        self._client.on_connect = self._on_connect
        self._client.on_disconnect = self._on_disconnect
        self._client.on_message = self._on_message
        self._reporter = threading.Thread(target=self._report_on, name="plugs")

    def start(self) -> None:
        """Connect, announce everything and report from now on."""
        self._client.connect(HOST, self._port, keepalive=10)
        self._client.loop_start()
        self._reporter.start()

    def stop(self) -> None:
        """Disconnect."""
        self._stopped.set()
        self._reporter.join()
        self._client.disconnect()
        self._client.loop_stop()

    # What people do

    def run(self, machine: str) -> None:
        """Turn a machine on."""
        self.running.add(machine)
        self._happened(machine, "on")
        self._report_plug(machine)

    def rest(self, machine: str) -> None:
        """Turn a machine off."""
        self.running.discard(machine)
        self._happened(machine, "off")
        self._report_plug(machine)

    def fill_bin(self, *, full: bool = True) -> None:
        """Trip the bin sensor, or clear it."""
        self.bin_full = full
        self._happened("bin", "full" if full else "empty")
        self._report_bin()

    def load_filter(self, pressure: float) -> None:
        """Set the pressure of the gauge across the filter [Pa]."""
        self.filter_pressure = pressure
        self._happened("filter", f"{pressure:g} Pa")
        self._report_filter()

    def move_gate(self, gate: str, end: str) -> None:
        """Push a gate to open or closed by hand."""
        self._happened(gate, f"pushed {end}")
        self.gates[gate] = end
        self._report_gate(gate)

    def press(self, kind: str) -> None:
        """Press the button on the wall."""
        self._happened("wall_button", kind)
        self._publish("wall_button/event", json.dumps({"event_type": kind}), False)

    # What happened

    def mark(self) -> int:
        """Return a place in the record, to look from."""
        return len(self.record)

    def happened(self, device: str, since: int = 0) -> list[str]:
        """Return what happened to a device since a place in the record."""
        return [h.what for h in self.record[since:] if h.device == device]

    # The devices

    def _happened(self, device: str, what: str) -> None:
        self.record.append(Happening(time.monotonic(), device, what))

    def _on_connect(
        self,
        client: Client,
        userdata: object,
        flags: ConnectFlags,
        reason: ReasonCode,
        properties: Properties | None,
    ) -> None:
        if reason.is_failure:
            return
        client.subscribe([(f"{ROOT}/+/set", 1), (STATUS, 0)])
        self._announce()
        self.connected.set()

    def _on_disconnect(
        self,
        client: Client,
        userdata: object,
        flags: DisconnectFlags,
        reason: ReasonCode,
        properties: Properties | None,
    ) -> None:
        self.connected.clear()

    def _on_message(
        self, client: Client, userdata: object, message: MQTTMessage
    ) -> None:
        payload = message.payload.decode()
        if message.topic == STATUS:
            if payload == "online":
                self._announce()
            return
        device = message.topic.split("/")[1]
        self._happened(device, f"told {payload}")
        with self._lock:
            self._obey(device, payload)

    def _obey(self, device: str, payload: str) -> None:
        if device == "collector":
            self.collector_on = payload == "ON"
            self._happened(device, "on" if self.collector_on else "off")
            self._report_collector()
        elif device == "air_cleaner":
            self.cleaner_on = payload == "ON"
            self._happened(device, "on" if self.cleaner_on else "off")
            self._report_cleaner()
        elif device == "sweep_gate":
            self.sweep_gate_on = payload == "ON"
            self._happened(device, "open" if self.sweep_gate_on else "closed")
            self._report_sweep_gate()
        else:
            end = "open" if payload == "OPEN" else "closed"
            self.gates[device] = "opening" if end == "open" else "closing"
            self._report_gate(device)
            timer = threading.Timer(TRAVEL, self._arrive, (device, end))
            timer.daemon = True
            timer.start()

    def _arrive(self, device: str, end: str) -> None:
        with self._lock:
            # A newer command may have reversed it.
            if self.gates[device] == {"open": "opening", "closed": "closing"}[end]:
                self.gates[device] = end
                self._happened(device, end)
                self._report_gate(device)

    # What they report

    def _announce(self) -> None:
        for topic, config in discovery():
            self._client.publish(topic, json.dumps(config), qos=1, retain=True)
        self._client.publish(AVAILABILITY, "online", qos=1, retain=True)
        for machine in WORKING:
            self._report_plug(machine)
        for gate in self.gates:
            self._report_gate(gate)
        self._report_sweep_gate()
        self._report_collector()
        self._report_bin()
        self._report_filter()
        self._report_cleaner()

    def _report_on(self) -> None:
        while not self._stopped.wait(REPORTS):
            if self.connected.is_set():
                for machine in tuple(self.running):
                    self._report_plug(machine)
                if self.collector_on:
                    self._report_collector()

    def _report_plug(self, machine: str) -> None:
        # No plug measures the same twice.
        ripple = time.monotonic() % 1
        power = (WORKING[machine] if machine in self.running else IDLE) + ripple
        self._publish(f"{machine}_plug/state", json.dumps({"power": round(power, 1)}))

    def _report_collector(self) -> None:
        power = COLLECTOR_POWER + time.monotonic() % 1 if self.collector_on else 0.0
        state = {
            "state": "ON" if self.collector_on else "OFF",
            "power": round(power, 1),
        }
        self._publish("collector/state", json.dumps(state))

    def _report_gate(self, gate: str) -> None:
        self._publish(f"{gate}/state", self.gates[gate])

    def _report_sweep_gate(self) -> None:
        self._publish("sweep_gate/state", "ON" if self.sweep_gate_on else "OFF")

    def _report_bin(self) -> None:
        self._publish("bin/state", "ON" if self.bin_full else "OFF")

    def _report_filter(self) -> None:
        self._publish("filter/state", str(self.filter_pressure))

    def _report_cleaner(self) -> None:
        self._publish("air_cleaner/state", "ON" if self.cleaner_on else "OFF")

    def _publish(self, topic: str, payload: str, retain: bool = True) -> None:
        self._client.publish(f"{ROOT}/{topic}", payload, qos=1, retain=retain)


def discovery() -> list[tuple[str, dict[str, Any]]]:
    """Return the discovery messages: topics and contents."""
    power: dict[str, Any] = {
        "name": "Power",
        "device_class": "power",
        "unit_of_measurement": "W",
        "state_class": "measurement",
        "value_template": "{{ value_json.power }}",
    }
    relay: dict[str, Any] = {"name": None}
    found: list[tuple[str, dict[str, Any]]] = []

    def add(
        kind: str, key: str, device: str, more: Mapping[str, Any], part: str = ""
    ) -> None:
        unique = f"{key}{part}"
        found.append(
            (
                f"homeassistant/{kind}/{unique}/config",
                {
                    "unique_id": unique,
                    "availability_topic": AVAILABILITY,
                    "state_topic": f"{ROOT}/{key}/state",
                    "device": {"identifiers": [key], "name": device},
                    **more,
                },
            )
        )

    for machine in WORKING:
        name = machine.replace("_", " ").capitalize()
        add("sensor", f"{machine}_plug", f"{name} plug", power, "_power")
        gate = f"{machine}_gate"
        kind, how = (
            ("cover", {"device_class": "damper"})
            if machine == "planer"
            else ("valve", {"reports_position": False})
        )
        add(
            kind,
            gate,
            f"{name} gate actuator",
            {**relay, **how, "command_topic": f"{ROOT}/{gate}/set"},
        )
    add(
        "switch",
        "sweep_gate",
        "Floor sweep gate relay",
        {**relay, "command_topic": f"{ROOT}/sweep_gate/set"},
    )
    add(
        "switch",
        "collector",
        "Collector relay",
        {
            **relay,
            "command_topic": f"{ROOT}/collector/set",
            "value_template": "{{ value_json.state }}",
        },
    )
    add("sensor", "collector", "Collector relay", power, "_power")
    add(
        "switch",
        "air_cleaner",
        "Air cleaner",
        {**relay, "command_topic": f"{ROOT}/air_cleaner/set"},
    )
    gauge = {"device_class": "pressure", "unit_of_measurement": "Pa"}
    add("sensor", "filter", "Filter gauge", {**relay, **gauge})
    add("binary_sensor", "bin", "Bin level", {**relay, "device_class": "problem"})
    add(
        "event",
        "wall_button",
        "Wall button",
        {
            **relay,
            "device_class": "button",
            "event_types": ["press_end", "long_press_start", "multi_press_end"],
            "state_topic": f"{ROOT}/wall_button/event",
        },
    )
    return found
