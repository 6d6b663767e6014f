"""Airflow entities: flows, velocities, suction, and problems."""

from collections.abc import Callable, Mapping
from typing import Any

from homeassistant.components.binary_sensor import BinarySensorDeviceClass
from homeassistant.components.sensor import SensorDeviceClass
from homeassistant.const import UnitOfPressure, UnitOfSpeed, UnitOfVolumeFlowRate
from homeassistant.helpers.typing import StateType

from ...const import CONF_SUCTION
from ...core.airflow import AirflowFinding, Solution, Verdict
from ...core.airflow.units import FPM
from ...core.units import HOUR, JOULES_PER_KWH
from ..entities.descriptions import (
    AIRFLOW,
    DIAGNOSTIC,
    DISABLED,
    ENERGY,
    MEASURED,
    PASCALS,
    BinarySensorDescription,
    SensorDescription,
    always,
    one_of,
    sensor,
)
from ..entities.subjects import CollectorSubject, DuctSubject, MachineSubject, Subject
from .diagnosis_data import diagnosis_data
from .units import CUSTOMARY, FEET_PER_MINUTE, units_of


def _in_customary(**fitted: Any) -> Callable[[Subject], Mapping[str, Any]]:
    """Return the US unit to suggest where Home Assistant uses US units."""
    return lambda subject: fitted if units_of(subject.hass) is CUSTOMARY else {}


_FLOW: dict[str, Any] = {
    **MEASURED,
    "device_class": SensorDeviceClass.VOLUME_FLOW_RATE,
    "native_unit_of_measurement": UnitOfVolumeFlowRate.CUBIC_METERS_PER_HOUR,
    "suggested_display_precision": 0,
    "fit_fn": _in_customary(
        suggested_unit_of_measurement=UnitOfVolumeFlowRate.CUBIC_FEET_PER_MINUTE
    ),
}
_PRESSURE: dict[str, Any] = {
    **PASCALS,
    "fit_fn": _in_customary(
        suggested_unit_of_measurement=UnitOfPressure.INH2O,
        suggested_display_precision=2,
    ),
}
_VELOCITY: dict[str, Any] = {
    **MEASURED,
    "device_class": SensorDeviceClass.SPEED,
    "native_unit_of_measurement": UnitOfSpeed.METERS_PER_SECOND,
    "suggested_display_precision": 1,
    # The device class doesn't know the trade's usual unit.
    "fit_fn": _in_customary(
        device_class=None,
        native_unit_of_measurement=FEET_PER_MINUTE,
        suggested_display_precision=0,
    ),
}


# The comparison with a measurement always exists; while the collector is off there's
# nothing to compare.
_COMPARED: dict[str, Any] = {"available_fn": always}


def _air[S: Subject](
    part: type[S], key: str, value_fn: Callable[[S], StateType], **more: Any
) -> SensorDescription[S]:
    """Describe an airflow figure, which is absent where it can't be computed."""
    usual: dict[str, Any] = {
        "exists_fn": lambda subject: subject.airflow.shop is not None,
        "available_fn": lambda subject: value_fn(subject) is not None,
        "follows": AIRFLOW,
    }
    return sensor(part, key, value_fn, **usual | more)


def _solved[S: Subject](
    value: Callable[[S, Solution], float],
) -> Callable[[S], float | None]:
    """Return the reader of a solution: 0 while the collector is off."""

    def read(subject: S) -> float | None:
        if (now := subject.airflow.now) is None:
            return None
        return 0.0 if now.solution is None else value(subject, now.solution)

    return read


def _flow(flow: float | None) -> float | None:
    return None if flow is None else round(flow * HOUR, 1)


def _velocity(subject: Subject, velocity: float) -> float:
    size = FPM if units_of(subject.hass) is CUSTOMARY else 1.0
    return round(velocity / size, 2)


def _collector_flow(_: CollectorSubject, solution: Solution) -> float:
    return round(solution.flow * HOUR, 1)


def _suction(_: CollectorSubject, solution: Solution) -> float:
    return round(solution.suction, 1)


def _main_velocity(collector: CollectorSubject, solution: Solution) -> float:
    return _velocity(collector, solution.main_velocity)


def _in_duct(duct: DuctSubject, solution: Solution) -> float:
    return _velocity(duct, solution.duct_velocity(duct.part))


def _duct_velocity(duct: DuctSubject) -> float | None:
    """Return the velocity in a duct; None in one without a pickup."""
    shop = duct.airflow.shop
    known = shop is not None and duct.part in shop.network.index
    return _solved(_in_duct)(duct) if known else None


def _difference(collector: CollectorSubject) -> float | None:
    """Return the measured minus the computed suction, Pa."""
    air = collector.airflow
    if air.diagnosis is None or air.diagnosis.suction_ratio is None:
        return None
    return round(air.readings[CONF_SUCTION] - air.diagnosis.solution.suction, 1)


def _finding(collector: CollectorSubject) -> str | None:
    diagnosis = collector.airflow.diagnosis
    return None if diagnosis is None else diagnosis.finding.value


def _suspects(collector: CollectorSubject) -> dict[str, Any]:
    """Return all possible causes, and what would tell them apart, as codes."""
    air = collector.airflow
    if air.diagnosis is None or air.shop is None:
        return {}
    return diagnosis_data(air.diagnosis, air.shop.names)


def _has_gauge(collector: CollectorSubject) -> bool:
    return (
        collector.airflow.shop is not None
        and collector.settings.air.suction is not None
    )


def _can_find(collector: CollectorSubject) -> bool:
    settings = collector.settings
    return _has_gauge(collector) or (
        collector.airflow.shop is not None
        and settings.watching.filter_pressure is not None
        and settings.air.filter_loss is not None
    )


def _machine_flow(machine: MachineSubject) -> float | None:
    return _flow(machine.airflow.machine_flow(machine.part))


def _flow_alone(machine: MachineSubject) -> float | None:
    return _flow(machine.airflow.machine_alone(machine.part))


def _is_placed(machine: MachineSubject) -> bool:
    return machine.need is not None


def _is_judged(machine: MachineSubject) -> bool:
    """Return whether a machine's flow and its need are both known."""
    return machine.need is not None and bool(machine.need.required)


def _verdict(machine: MachineSubject) -> str | None:
    found = machine.airflow.served_verdict(machine.part)
    return None if found is None else found.value


def _restore_saved(collector: CollectorSubject, kilowatt_hours: float) -> None:
    collector.airflow.control.recall(kilowatt_hours * JOULES_PER_KWH)


SENSORS: tuple[SensorDescription[Any], ...] = (
    _air(CollectorSubject, "airflow", _solved(_collector_flow), **_FLOW),
    _air(CollectorSubject, "suction", _solved(_suction), **_PRESSURE),
    _air(CollectorSubject, "main_velocity", _solved(_main_velocity), **_VELOCITY),
    # The energy that a lower speed saved in the air: the least that was saved.
    _air(
        CollectorSubject,
        "energy_saved",
        lambda c: round(c.airflow.control.saved / JOULES_PER_KWH, 4),
        exists_fn=lambda c: c.airflow.shop is not None and c.airflow.controls_speed,
        restore_fn=_restore_saved,
        suggested_display_precision=2,
        **ENERGY,
    ),
    _air(
        CollectorSubject,
        "suction_difference",
        _difference,
        exists_fn=_has_gauge,
        **_COMPARED,
        **_PRESSURE,
        **DIAGNOSTIC,
        **DISABLED,
    ),
    _air(
        CollectorSubject,
        "airflow_finding",
        _finding,
        exists_fn=_can_find,
        attributes_fn=_suspects,
        **_COMPARED,
        **DIAGNOSTIC,
        **DISABLED,
        **one_of(AirflowFinding),
    ),
    # The map shows each machine's flow, and whether it's enough.
    _air(
        MachineSubject,
        "airflow",
        _machine_flow,
        exists_fn=_is_placed,
        **_FLOW,
        **DISABLED,
    ),
    _air(
        MachineSubject,
        "airflow_alone",
        _flow_alone,
        exists_fn=_is_placed,
        **_FLOW,
        **DIAGNOSTIC,
        **DISABLED,
    ),
    _air(
        MachineSubject,
        "airflow_verdict",
        _verdict,
        exists_fn=_is_judged,
        **_COMPARED,
        **DISABLED,
        **one_of(Verdict),
    ),
    _air(
        DuctSubject, "velocity", _duct_velocity, **_VELOCITY, **DIAGNOSTIC, **DISABLED
    ),
)

TOO_LOW = BinarySensorDescription(
    key="airflow_too_low",
    part=MachineSubject,
    device_class=BinarySensorDeviceClass.PROBLEM,
    exists_fn=_is_judged,
    available_fn=lambda m: m.airflow.too_low(m.part) is not None,
    follows=AIRFLOW,
    value_fn=lambda m: m.airflow.too_low(m.part),
)
