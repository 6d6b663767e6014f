"""Runs as the statistics keep them."""

from custom_components.gatewright.core.statistics.runs import KeptRun


def kept_run(machine_id: str, began: float, ended: float) -> KeptRun:
    """Return a run of a machine with dust collection all the time; times in s."""
    return KeptRun(
        machine_id=machine_id,
        name=machine_id.title(),
        began=began,
        ended=ended,
        run_time=ended - began,
        collecting_time=ended - began,
        cuts=1,
        without={},
    )
