"""What the air does, as entities: flows, velocities, suction, and what is wrong."""

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from decimal import Decimal
from typing import TYPE_CHECKING, Any, override

from homeassistant.components.binary_sensor import (
    BinarySensorDeviceClass,
    BinarySensorEntity,
)
from homeassistant.components.sensor import (
    RestoreSensor,
    SensorDeviceClass,
    SensorEntity,
    SensorEntityDescription,
    SensorStateClass,
)
from homeassistant.const import (
    EntityCategory,
    UnitOfEnergy,
    UnitOfPressure,
    UnitOfSpeed,
    UnitOfVolumeFlowRate,
)
from homeassistant.helpers.typing import StateType

from ..airflow import Finding, Verdict
from ..airflow.units import FPM
from ..const import CONF_FILTER_LOSS, CONF_FILTER_PRESSURE, CONF_SUCTION
from ..entity import GatewrightEntity, Named
from ..shop.plan import COLLECTOR
from ..shop.units import HOUR, JOULES_PER_KWH
from .telling import told_diagnosis
from .units import CUSTOMARY, FEET_PER_MINUTE, units_of

if TYPE_CHECKING:
    from ..engine import Engine
    from .live import AirMonitor

type Value = Callable[[AirMonitor, str], StateType]


@dataclass(frozen=True, kw_only=True)
class AirSensor(SensorEntityDescription):
    """A figure of air; `value` is None where it cannot be computed.

    What is `compared` with a measurement is there all the same: while nothing is pulled
    there is nothing to compare.
    """

    value: Value
    compared: bool = False
    attributes: Callable[[AirMonitor], dict[str, Any]] | None = None


def _flow(flow: float | None) -> float | None:
    return None if flow is None else round(flow * HOUR, 1)


def _collector_flow(air: AirMonitor, _: str) -> float | None:
    if air.now is None:
        return None
    solution = air.now.solution
    return 0.0 if solution is None else _flow(solution.flow)


def _suction(air: AirMonitor, _: str) -> float | None:
    if air.now is None:
        return None
    solution = air.now.solution
    return 0.0 if solution is None else round(solution.suction, 1)


def _main_velocity(air: AirMonitor, _: str) -> float | None:
    if air.now is None:
        return None
    solution = air.now.solution
    return 0.0 if solution is None else solution.main_velocity


def _duct_velocity(air: AirMonitor, duct: str) -> float | None:
    if air.now is None or air.shop is None or duct not in air.shop.network.index:
        return None
    solution = air.now.solution
    return 0.0 if solution is None else solution.duct_velocity(duct)


def _difference(air: AirMonitor, _: str) -> float | None:
    if air.diagnosis is None or air.diagnosis.suction_ratio is None:
        return None
    return round(air.readings[CONF_SUCTION] - air.diagnosis.solution.suction, 1)


def _verdict(air: AirMonitor, machine: str) -> str | None:
    found = air.served_verdict(machine)
    return None if found is None else found.value


def _finding(air: AirMonitor, _: str) -> str | None:
    return None if air.diagnosis is None else air.diagnosis.finding.value


def _suspects(air: AirMonitor) -> dict[str, Any]:
    """Return all causes that fit, and what would tell them apart, as codes."""
    if air.diagnosis is None or air.shop is None:
        return {}
    return told_diagnosis(air.diagnosis, air.shop.names)


_FLOW: dict[str, Any] = {
    "device_class": SensorDeviceClass.VOLUME_FLOW_RATE,
    "state_class": SensorStateClass.MEASUREMENT,
    "native_unit_of_measurement": UnitOfVolumeFlowRate.CUBIC_METERS_PER_HOUR,
    "suggested_display_precision": 0,
}
_PRESSURE: dict[str, Any] = {
    "device_class": SensorDeviceClass.PRESSURE,
    "state_class": SensorStateClass.MEASUREMENT,
    "native_unit_of_measurement": UnitOfPressure.PA,
    "suggested_display_precision": 0,
}
_VELOCITY: dict[str, Any] = {
    "device_class": SensorDeviceClass.SPEED,
    "state_class": SensorStateClass.MEASUREMENT,
    "native_unit_of_measurement": UnitOfSpeed.METERS_PER_SECOND,
    "suggested_display_precision": 1,
}

COLLECTOR_AIR = (
    AirSensor(key="airflow", translation_key="airflow", value=_collector_flow, **_FLOW),
    AirSensor(key="suction", translation_key="suction", value=_suction, **_PRESSURE),
    AirSensor(
        key="main_velocity",
        translation_key="main_velocity",
        value=_main_velocity,
        **_VELOCITY,
    ),
)
SUCTION_DIFFERENCE = AirSensor(
    key="suction_difference",
    translation_key="suction_difference",
    entity_category=EntityCategory.DIAGNOSTIC,
    value=_difference,
    compared=True,
    **_PRESSURE,
)
FINDING = AirSensor(
    key="airflow_finding",
    translation_key="airflow_finding",
    device_class=SensorDeviceClass.ENUM,
    options=[finding.value for finding in Finding],
    entity_category=EntityCategory.DIAGNOSTIC,
    value=_finding,
    compared=True,
    attributes=_suspects,
)
MACHINE_AIR = (
    AirSensor(
        key="airflow",
        translation_key="airflow",
        value=lambda air, machine: _flow(air.machine_flow(machine)),
        **_FLOW,
    ),
    AirSensor(
        key="airflow_alone",
        translation_key="airflow_alone",
        entity_category=EntityCategory.DIAGNOSTIC,
        value=lambda air, machine: _flow(air.machine_alone(machine)),
        **_FLOW,
    ),
)
MACHINE_VERDICT = AirSensor(
    key="airflow_verdict",
    translation_key="airflow_verdict",
    device_class=SensorDeviceClass.ENUM,
    options=[verdict.value for verdict in Verdict],
    value=_verdict,
    compared=True,
)
DUCT_VELOCITY = AirSensor(
    key="velocity",
    translation_key="velocity",
    entity_category=EntityCategory.DIAGNOSTIC,
    entity_registry_enabled_default=False,
    value=_duct_velocity,
    **_VELOCITY,
)


def collector_sensors(engine: Engine) -> Iterator[GatewrightEntity]:
    """Yield the collector's figures, where they can be computed at all."""
    if engine.air.shop is None:
        return
    data = engine.described.data
    for description in COLLECTOR_AIR:
        yield AirFigure(engine, COLLECTOR, description)
    if engine.air.controls_speed:
        yield EnergySaved(engine)
    if CONF_SUCTION in data:
        yield AirFigure(engine, COLLECTOR, SUCTION_DIFFERENCE)
    if CONF_SUCTION in data or (
        CONF_FILTER_PRESSURE in data and CONF_FILTER_LOSS in data
    ):
        yield AirFigure(engine, COLLECTOR, FINDING)


def machine_sensors(engine: Engine, machine_id: str) -> Iterator[GatewrightEntity]:
    """Yield a machine's figures, where all its gates sit on ducts."""
    shop = engine.air.shop
    if shop is not None and (need := shop.needs[machine_id]).placed:
        for description in MACHINE_AIR:
            yield AirFigure(engine, machine_id, description)
        if need.required:
            yield AirFigure(engine, machine_id, MACHINE_VERDICT)


def duct_sensors(engine: Engine, duct_id: str) -> Iterator[GatewrightEntity]:
    """Yield a duct's figures."""
    if engine.air.shop is not None:
        yield AirFigure(engine, duct_id, DUCT_VELOCITY)


def machine_binary_sensors(
    engine: Engine, machine_id: str
) -> Iterator[GatewrightEntity]:
    """Yield whether a machine gets too little air, where it is known what it needs."""
    shop = engine.air.shop
    if shop is not None and (need := shop.needs[machine_id]).placed and need.required:
        yield AirTooLow(engine, machine_id)


class AirEntity(GatewrightEntity):
    """An entity that is written when the air has changed, not only its part."""

    def __init__(self, engine: Engine, part: str, named: Named) -> None:
        """Belong to the collector, or to the device of a machine or duct."""
        subentry_id = None if part == COLLECTOR else part
        super().__init__(engine, part, named, subentry_id=subentry_id)

    @override
    async def async_added_to_hass(self) -> None:
        """Follow the air as well."""
        await super().async_added_to_hass()
        self.async_on_remove(self.engine.air.listen(self._part_changed))


class AirFigure(AirEntity, SensorEntity):
    """A figure of air."""

    entity_description: AirSensor

    def __init__(self, engine: Engine, part: str, description: AirSensor) -> None:
        """Show what the description says, in the hub's units."""
        super().__init__(engine, part, description)
        self._size = 1.0
        if units_of(engine.hass) is not CUSTOMARY:
            return
        match description.device_class:
            case SensorDeviceClass.VOLUME_FLOW_RATE:
                self._attr_suggested_unit_of_measurement = (
                    UnitOfVolumeFlowRate.CUBIC_FEET_PER_MINUTE
                )
            case SensorDeviceClass.PRESSURE:
                self._attr_suggested_unit_of_measurement = UnitOfPressure.INH2O
                self._attr_suggested_display_precision = 2
            case SensorDeviceClass.SPEED:
                # The device class does not know the unit that the trade counts in.
                self._attr_device_class = None
                self._attr_native_unit_of_measurement = FEET_PER_MINUTE
                self._attr_suggested_display_precision = 0
                self._size = FPM

    @property
    @override
    def available(self) -> bool:
        return self.entity_description.compared or self._value() is not None

    @property
    @override
    def extra_state_attributes(self) -> dict[str, Any] | None:
        told = self.entity_description.attributes
        return None if told is None else told(self.engine.air)

    @property
    @override
    def native_value(self) -> StateType:
        value = self._value()
        if self.entity_description.device_class is not SensorDeviceClass.SPEED:
            return value
        return round(value / self._size, 2) if isinstance(value, float) else None

    def _value(self) -> StateType:
        return self.entity_description.value(self.engine.air, self.part)


class AirTooLow(AirEntity, BinarySensorEntity):
    """Whether a machine in use gets less air than it needs."""

    _attr_device_class = BinarySensorDeviceClass.PROBLEM
    _attr_translation_key = "airflow_too_low"

    def __init__(self, engine: Engine, machine_id: str) -> None:
        """Belong to the machine."""
        super().__init__(engine, machine_id, "airflow_too_low")

    @property
    @override
    def available(self) -> bool:
        return self.is_on is not None

    @property
    @override
    def is_on(self) -> bool | None:
        return self.engine.air.too_low(self.part)


class EnergySaved(AirEntity, RestoreSensor):
    """What a lower speed spared the air, against the rated one: the least it saves."""

    _attr_device_class = SensorDeviceClass.ENERGY
    _attr_native_unit_of_measurement = UnitOfEnergy.KILO_WATT_HOUR
    _attr_state_class = SensorStateClass.TOTAL_INCREASING
    _attr_suggested_display_precision = 2
    _attr_translation_key = "energy_saved"

    def __init__(self, engine: Engine) -> None:
        """Belong to the collector."""
        super().__init__(engine, COLLECTOR, "energy_saved")

    @override
    async def async_added_to_hass(self) -> None:
        """Go on from what was saved before."""
        last = await self.async_get_last_sensor_data()
        if last is not None and isinstance(last.native_value, int | float | Decimal):
            self.engine.air.control.recall(float(last.native_value) * JOULES_PER_KWH)
        await super().async_added_to_hass()

    @property
    @override
    def native_value(self) -> float:
        return round(self.engine.air.control.saved / JOULES_PER_KWH, 4)
