"""How fast the airflow of a shop is solved, beside SciPy and pandapipes.

Run from anywhere with the project's environment:

    .venv/bin/python benchmarks/airflow.py           # prints the table
    .venv/bin/python benchmarks/airflow.py --check   # and fails where a target is missed

Everything is measured in one run on one machine, so that the ratios can be trusted
even where the times cannot. The networks are shops: a main from which branches leave
one after the other, each with an elbow, a hose and a gate.
"""

import argparse
from collections.abc import Callable
from dataclasses import replace
from functools import partial
import pathlib
from statistics import median
import sys
from time import perf_counter

from custom_components.gatewright.core.airflow import solve

sys.path.insert(0, str(pathlib.Path(__file__).resolve().parent.parent))

from custom_components.gatewright.core.airflow import (
    CALIBRATED,
    Air,
    AirflowFinding,
    Duct,
    DuctSystem,
    Elbow,
    Fan,
    Filter,
    HoseState,
    Junction,
    Network,
    Pickup,
    Pipe,
    PressureReading,
    Sample,
    Seal,
    Separator,
    SlideGate,
    alone,
    bleed_gates,
    calibrate,
    calibrated,
    diagnose,
    lowest_speed,
    pairs,
    what_if,
)
from tests.airflow import oracle, test_pandapipes
from tests.airflow.reference_shop import MACHINES, reference_shop

SPIRAL, HOSE = 9.0e-5, 9.0e-4


def shop(ducts: int, junction: Junction = Junction.STATIC) -> DuctSystem:
    """Return a shop with this many ducts: wings of 20 along a trunk.

    Each wing is a main in ten pieces with a branch at each. The trunk and the collector
    grow with the wings, so that air flows alike in shops of all sizes.
    """
    wings = ducts // 20
    wide = wings**0.5
    parts: list[Duct] = []
    pickups: list[Pickup] = []
    for wing in range(wings):
        behind = (wings - wing) ** 0.5
        for piece in range(10):
            into = None
            if piece:
                into = f"main{wing}.{piece - 1}"
            elif wing:
                into = f"main{wing - 1}.0"
            # The first piece of a wing is its part of the trunk.
            diameter = 0.25 * (behind if not piece else 0.95**piece)
            parts.append(
                Duct(
                    id=f"main{wing}.{piece}",
                    into=into,
                    diameter=diameter,
                    length=2.0,
                    roughness=SPIRAL,
                )
            )
            name = f"{wing}.{piece}"
            parts.append(
                Duct(
                    id=f"branch{name}",
                    into=f"main{name}",
                    diameter=0.125 if piece % 3 else 0.1,
                    length=2.5,
                    roughness=SPIRAL,
                    elbows=(Elbow(),),
                    entry_angle=30.0,
                )
            )
            pickups.append(
                Pickup(
                    id=f"pickup{name}",
                    duct=f"branch{name}",
                    machine=f"machine{name}",
                    pipes=(Pipe(diameter=0.1, length=1.2, roughness=HOSE),),
                    gate=SlideGate(id=f"gate{name}"),
                    required=0.12,
                    transport=17.8,
                )
            )
    points = (
        (0.0, 2550.0),
        (0.15, 2650.0),
        (0.30, 2500.0),
        (0.45, 2100.0),
        (0.60, 1350.0),
        (0.75, 250.0),
    )
    return DuctSystem(
        ducts=tuple(parts),
        pickups=tuple(pickups),
        fan=Fan(points=tuple((q * wings, p) for q, p in points), kind="static"),
        separator=Separator.from_point(0.3 * wings, 350.0),
        filter=Filter.from_point(0.3 * wings, 200.0),
        inlet_diameter=0.25 * wide,
        junction=junction,
    )


def bare(ducts: int) -> DuctSystem:
    """Return the same tree for pandapipes: hoods, ducts and a fan."""
    system = shop(ducts, Junction.TOTAL)
    return DuctSystem(
        ducts=tuple(
            Duct(
                id=duct.id,
                into=duct.into,
                diameter=duct.diameter,
                length=duct.length,
                roughness=duct.roughness,
                # The collector's own loss goes into the last piece of the main.
                extra_k=0.15 * len(duct.elbows) + (3.0 if duct.into is None else 0.0),
                entry_angle=duct.entry_angle,
            )
            for duct in system.ducts
        ),
        pickups=tuple(
            Pickup(id=pickup.id, duct=pickup.duct, entry_k=1.0)
            for pickup in system.pickups
        ),
        fan=Fan.quadratic(test_pandapipes.SHUTOFF, test_pandapipes.FALL, density=1.204),
        air=Air(density=1.204, viscosity=1.813e-5),
        junction=Junction.TOTAL,
    )


def say(text: str) -> None:
    """Print a line."""
    sys.stdout.write(f"{text}\n")


def timed(call: Callable[[], object], seconds: float, least: int = 3) -> float:
    """Return the median time (s) of a call, measured for about this many seconds."""
    call()
    times: list[float] = []
    end = perf_counter() + seconds
    while len(times) < least or perf_counter() < end:
        start = perf_counter()
        call()
        times.append(perf_counter() - start)
    return median(times)


def decisions(target: Callable[[bool, str], None]) -> None:
    """Print the effect of a shop's details and faults, in the tests' reference shop."""
    names = [row[0] for row in MACHINES]

    def flows(system: DuctSystem) -> list[float]:
        network = Network(system)
        return [solve(network, {f"{name}_gate"}).flow_of(name) for name in names]

    plain = flows(reference_shop())

    def change(system: DuctSystem) -> tuple[float, float]:
        found = [
            100 * (q / was - 1) for q, was in zip(flows(system), plain, strict=True)
        ]
        return min(found), max(found)

    say("What decides in a shop of eight machines: change of each one's flow, %")
    for name, system, low, high in (
        ("hoses relaxed", reference_shop(state=HoseState.RELAXED), -16, -6),
        ("hoses hanging", reference_shop(state=HoseState.HANGING), -21, -10),
        ("gates usual", reference_shop(seal=Seal.USUAL), -8, -5),
        ("gates worn", reference_shop(seal=Seal.WORN), -14, -9),
        ("stamped elbows", reference_shop(construction="stamped"), 0, 4),
        ("elbow at the inlet", reference_shop(inlet_k=1.2), -5, -2),
        ("no static regain", reference_shop(regain=0.0), -9, -3),
        ("filter loaded 3 times", reference_shop(loading=3.0), -10, -6),
    ):
        least, most = change(system)
        target(low <= least <= most <= high, f"{name:22s} {least:6.1f} to {most:5.1f}")

    say("One suction gauge, read with every machine in turn: the first cause")
    saw = replace_pickup(reference_shop(), "table_saw", 2.2)
    weak = reference_shop()
    weak = replace(
        weak,
        fan=replace(weak.fan, points=tuple((q, 0.8 * p) for q, p in weak.fan.points)),
    )
    entered = Network(reference_shop())
    for title, system, finding in (
        (
            "filter loaded 4 times",
            reference_shop(loading=4.0),
            AirflowFinding.FILTER_LOADED,
        ),
        ("fan gives 80 %", weak, AirflowFinding.WEAK_FAN),
        ("saw lost a fifth", saw, AirflowFinding.BLOCKED),
        ("nothing wrong", reference_shop(), AirflowFinding.AS_EXPECTED),
    ):
        really = Network(system)
        gates = [frozenset({f"{name}_gate"}) for name in reversed(names)]
        readings = [
            PressureReading(gates=g, suction=solve(really, g).suction) for g in gates
        ]
        work = partial(
            diagnose,
            entered,
            gates[-1],
            suction=readings[-1].suction,
            before=readings[:-1],
            tolerance=CALIBRATED,
        )
        found = work()
        spent = timed(work, 0.5, 1)
        target(
            found.findings[0] is finding,
            f"{title:22s} {found.finding.value}, first {found.findings[0].value}; "
            f"{spent * 1e3:.0f} ms",
        )

    scales = dict(zip(names, (1.3, 0.9, 1.0, 1.2, 1.6, 1.1, 0.8, 1.4), strict=True))
    really = calibrated(entered, 0.85, scales)
    samples = [
        Sample(gates=g, suction=solve(really, g).suction)
        for g in (frozenset({f"{name}_gate"}) for name in names)
    ]
    samples += [
        Sample(
            gates={f"{name}_gate"},
            pickup=name,
            flow=solve(really, {f"{name}_gate"}).flow_of(name),
        )
        for name in ("planer", "lathe")
    ]
    say("Calibration by a gauge at eight machines and two ports")
    fit = calibrate(entered, samples)
    spent = timed(lambda: calibrate(entered, samples), 1.0, 1)
    target(
        fit.error_after < 0.3 * fit.error_before,
        f"readings off by {fit.error_before:.1%} before, {fit.error_after:.1%} after; "
        f"fan {fit.fan.value:.2f} +- {fit.fan.error:.2f} (0.85); {spent * 1e3:.0f} ms",
    )


def replace_pickup(system: DuctSystem, name: str, more: float) -> DuctSystem:
    """Return a shop with one hood that resists more."""
    pickups = tuple(
        replace(p, entry_k=p.entry_k + more) if p.id == name else p
        for p in system.pickups
    )
    return replace(system, pickups=pickups)


def main() -> int:
    """Measure, print, and return whether the targets are met."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument(
        "--check", action="store_true", help="fail where a target is missed"
    )
    parser.add_argument(
        "--quick", action="store_true", help="ours alone, without the other packages"
    )
    options = parser.parse_args()
    missed: list[str] = []

    def target(met: bool, text: str) -> None:
        say(f"  {'ok    ' if met else 'MISSED'} {text}")
        if not met:
            missed.append(text)

    say("One solve with every gate open, median")
    ours: dict[int, float] = {}
    for ducts in (20, 40, 100, 200, 400):
        network = Network(shop(ducts))
        gates = frozenset(network.gates)
        ours[ducts] = timed(partial(solve, network, gates), 1.0)
        two = timed(partial(solve, network, frozenset(sorted(gates)[:2])), 0.3)
        compiled = timed(partial(Network, shop(ducts)), 0.3)
        say(
            f"  {ducts:4d} ducts {ours[ducts] * 1e3:8.3f} ms, "
            f"{solve(network, gates).passes} passes; two gates {two * 1e3:7.3f} ms; "
            f"compiling {compiled * 1e3:7.3f} ms"
        )
    target(ours[20] <= 0.5e-3, f"20 ducts in at most 0.5 ms: {ours[20] * 1e3:.3f} ms")
    growth = ours[200] / ours[20]
    target(growth <= 10.0, f"200 ducts at most 10 times 20 ducts: {growth:.1f} times")

    say("A shop of 20 machines, 40 ducts")
    network = Network(shop(40))
    gate = frozenset({"gate1.9"})
    every = timed(lambda: [result.ok for _, result in pairs(network)], 2.0)
    one = timed(lambda: [result.ok for _, result in alone(network)], 0.5)
    say(f"  all 190 pairs assessed {every * 1e3:8.1f} ms")
    say(f"  each one alone         {one * 1e3:8.1f} ms")
    for name, call in (
        ("gates for relief", lambda: bleed_gates(network, gate)),
        ("what if", lambda: what_if(network, gate)),
        ("lowest speed", lambda: lowest_speed(network, gate)),
    ):
        say(f"  {name:22s} {timed(call, 0.5) * 1e3:8.1f} ms")
    target(every <= 0.2, f"all pairs in at most 200 ms: {every * 1e3:.0f} ms")

    decisions(target)

    if not options.quick:
        say("The same network here, in SciPy and in pandapipes (20 ducts)")
        system = bare(20)
        network = Network(system)
        here = timed(lambda: solve(network, ()), 1.0)
        equations = timed(lambda: oracle.solve(system, ()), 2.0)
        net, inlet = test_pandapipes.build(system)
        pipes = timed(lambda: test_pandapipes.run(net), 3.0)
        solution = solve(network, ())
        answer = oracle.solve(system, ())
        theirs = -float(net.res_junction["p_bar"].loc[inlet]) * 1e5
        say(f"  here       {here * 1e3:9.3f} ms  {solution.fan_pressure:8.2f} Pa")
        say(
            f"  SciPy      {equations * 1e3:9.3f} ms  {equations / here:6.0f} times, "
            f"flow off by {abs(answer.total / solution.flow - 1):.1e}"
        )
        say(
            f"  pandapipes {pipes * 1e3:9.3f} ms  {pipes / here:6.0f} times, "
            f"pressure off by {abs(theirs / solution.fan_pressure - 1):.1e}"
        )
        target(
            pipes >= 30 * here, f"30 times faster than pandapipes: {pipes / here:.0f}"
        )
    return 1 if missed and options.check else 0


if __name__ == "__main__":
    sys.exit(main())
