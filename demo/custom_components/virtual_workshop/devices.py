"""The devices of the virtual workshop."""

from homeassistant.helpers.device_registry import DeviceInfo

from .entity import device
from .model.layout import SITE, GateKind, GateSpec, Layout, MachineSpec, MeterKind

_GATE_MODELS = {
    GateKind.COVER: "Gate motor with position",
    GateKind.VALVE: "Gate motor",
    GateKind.SWITCH: "Gate solenoid",
    GateKind.HAND: "Gate contact",
}


def gate(spec: GateSpec) -> DeviceInfo:
    """Describe the actuator of a gate."""
    return device(spec.key, spec.name, spec.area, _GATE_MODELS[spec.kind])


def meter(spec: MachineSpec) -> DeviceInfo:
    """Describe the plug or the clamp at a machine."""
    clamp = spec.meter_kind is MeterKind.CLAMP
    name = spec.meter_name or f"{spec.name} {'clamp' if clamp else 'plug'}"
    model = "Current clamp" if clamp else "Smart plug"
    return device(spec.key, name, spec.area, model)


def contact(spec: MachineSpec) -> DeviceInfo:
    """Describe the contact that detects a movable machine's hose."""
    name = spec.contact_name or f"{spec.name} hose contact"
    return device(f"{spec.key}_contact", name, spec.area, "Contact")


def collector_relay(layout: Layout) -> DeviceInfo:
    """Describe the relay with a meter that switches the collector."""
    spec = layout.collector
    return device("collector", f"{spec.name} relay", spec.area, "Metering contactor")


def tachometer(layout: Layout) -> DeviceInfo:
    """Describe the sensor at the impeller."""
    spec = layout.collector
    return device(
        "tachometer", f"{spec.name} tachometer", spec.area, "Impeller tachometer"
    )


def bin_sensor(layout: Layout) -> DeviceInfo:
    """Describe the sensor in the bin's lid."""
    spec = layout.collector
    return device("bin_sensor", f"{spec.name} bin sensor", spec.area, "Bin sensor")


def filter_gauge(layout: Layout) -> DeviceInfo:
    """Describe the pressure gauge over the filter."""
    spec = layout.collector
    return device(
        "filter_gauge", f"{spec.name} filter gauge", spec.area, "Pressure gauge"
    )


def air_gauge(layout: Layout) -> DeviceInfo:
    """Describe the gauge at the compressed air."""
    spec = layout.collector
    return device(f"{SITE}_air", "Compressed air gauge", spec.area, "Pressure gauge")


def smoke_detector(layout: Layout) -> DeviceInfo:
    """Describe the smoke detector."""
    spec = layout.collector
    return device(f"{SITE}_smoke", "Plant smoke detector", spec.area, "Smoke detector")
