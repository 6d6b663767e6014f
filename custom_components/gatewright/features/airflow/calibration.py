"""Turns calibration readings into stored figures, and applies them to the network."""

from collections.abc import Mapping, Sequence
from enum import StrEnum
from typing import Any

from homeassistant.core import HomeAssistant

from ...core.airflow import (
    Calibration,
    Network,
    Sample,
    calibrate,
    calibrated,
    flow_by_hood_suction,
    flow_by_velocity,
)
from ...texts.texts import Texts
from .needs import MachineNeed


class How(StrEnum):
    """How a reading was taken."""

    GAUGE = "gauge"
    VELOCITY = "velocity"
    HOOD = "hood"


def sample(
    network: Network,
    need: MachineNeed,
    gates: Mapping[str, float],
    speed: float,
    how: How,
    figure: float,
) -> Sample:
    """Return a reading (Pa, or m/s in the port) with a machine's gates open."""
    if how is How.GAUGE:
        return Sample(gates=dict(gates), speed=speed, suction=figure)
    pickup = need.pickups[0]
    if how is How.VELOCITY:
        flow = flow_by_velocity(network, pickup, figure)
    else:
        flow = flow_by_hood_suction(network, pickup, figure)
    return Sample(gates=dict(gates), speed=speed, pickup=pickup, flow=flow)


def fitted(network: Network, samples: Sequence[Sample]) -> Calibration:
    """Fit the entered figures to the readings; takes seconds in a large shop."""
    return calibrate(network, samples)


def store_of(found: Calibration, when: str) -> dict[str, Any]:
    """Return what is stored beside the entered figures."""
    return {
        "when": when,
        "fan": [found.fan.value, found.fan.error],
        "branches": {
            name: [scale.value, scale.error] for name, scale in found.branches.items()
        },
        "before": found.error_before,
        "after": found.error_after,
    }


def apply_to(network: Network, stored: Mapping[str, Any] | None) -> Network:
    """Return a network with the stored calibration applied, if there is one."""
    if stored is None:
        return network
    branches = {name: value for name, (value, _) in stored["branches"].items()}
    return calibrated(network, stored["fan"][0], branches)


def calibration_data(
    stored: Mapping[str, Any] | None, names: Mapping[str, str]
) -> dict[str, Any] | None:
    """Return a stored calibration as plain data; None without one."""
    if stored is None:
        return None
    return {
        "when": stored["when"],
        "fan": {"scale": stored["fan"][0], "error": stored["fan"][1]},
        "branches": [
            {"name": names[name], "scale": value, "error": error}
            for name, (value, error) in stored["branches"].items()
            if name in names
        ],
        "error_before": stored["before"],
        "error_after": stored["after"],
    }


def summary(hass: HomeAssistant, found: Calibration, names: Mapping[str, str]) -> str:
    """Summarize a calibration as lines of text."""
    texts = Texts.cached(hass)

    def share(value: float) -> str:
        return f"{100 * value:.0f}"

    lines = [
        texts(
            "calibrated",
            "fan",
            share=share(found.fan.value),
            error=share(found.fan.value * found.fan.error),
        )
    ]
    lines += [
        texts(
            "calibrated",
            "branch",
            name=names.get(name, name),
            share=share(scale.value),
            error=share(scale.value * scale.error),
        )
        for name, scale in found.branches.items()
    ]
    lines.append(
        texts(
            "calibrated",
            "errors",
            before=share(found.error_before),
            after=share(found.error_after),
        )
    )
    if any(compared.doubtful for compared in found.samples):
        lines.append(texts("calibrated", "doubtful"))
    return "\n".join(f"- {text}" for text in lines)
