"""A diagnosis as codes and SI figures, for attributes, actions and reports."""

from collections.abc import Mapping
from typing import Any

from ...core.airflow import AirflowFinding, Diagnosis


def diagnosis_data(diagnosis: Diagnosis, names: Mapping[str, str]) -> dict[str, Any]:
    """Return all possible causes, likeliest first, and what would tell them apart.

    Suctions in Pa, flows in m3/s. `size` is the filter's loading, the fan's or the
    gauge's share of the expected value, or the hole in m2; `lost` is the missing share
    of the collector's flow.
    """
    return {
        "suspects": [
            {
                "finding": suspect.finding.value,
                "part": names.get(suspect.element, ""),
                "size": float(f"{suspect.size:.3g}"),
                "likelihood": round(suspect.likelihood, 2),
                "lost": round(suspect.lost, 3),
            }
            for suspect in diagnosis.suspects
            if suspect.finding is not AirflowFinding.AS_EXPECTED
            or len(diagnosis.suspects) == 1
        ]
        if diagnosis.finding is not AirflowFinding.AS_EXPECTED
        else [],
        "checks": [
            {
                "do": check.kind.value,
                "gates": sorted(names[gate] for gate in check.gates if gate in names),
                "part": names.get(check.pickup, ""),
                "expected": [float(f"{value:.4g}") for value in check.expected],
            }
            for check in diagnosis.checks
        ],
    }
