"""Purge after the work: it counts from the moment that there is suction."""

from dataclasses import replace

from custom_components.gatewright.core.config import PurgeStep
from custom_components.gatewright.core.control.enums import Phase
from custom_components.gatewright.core.control.machine import MachinePhase

from .bench import Bench, field_bench, near


def test_step_through_a_gate_that_is_open_already_counts_at_once() -> None:
    plain = field_bench(now=-100.0)
    planer, *others = plain.system.machines
    cleared = replace(planer, purge=(PurgeStep(gates=("planer_gate",), duration=5.0),))
    bench = Bench(
        replace(plain.system, machines=(cleared, *others)), plain.devices, now=-100.0
    )
    bench.power_up()
    bench.read(-50.0, "planer", 1450.0)
    bench.read(10.0, "planer", 5.0)
    phases: list[tuple[float, MachinePhase]] = []

    def watch(bench: Bench) -> None:
        phase = bench.sequence.machines["planer"].phase
        if not phases or phases[-1][1] is not phase:
            phases.append((bench.now, phase))

    bench.after_step = watch
    bench.run_to(100.0)
    # Stopped at 14 by its confirmation time; nothing else happens that could wake the shop.
    assert phases[-2:] == [
        (near(14.0), MachinePhase.PURGING),
        (near(19.0), MachinePhase.IDLE),
    ]
    assert bench.sequence.phase is Phase.IDLE
