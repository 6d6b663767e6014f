"""Machines and plugs to learn from, with the sources of their power.

Currents at full load and with a locked rotor are those of the National Electrical Code
(NFPA 70), Tables 430.248 and 430.251(A), single-phase motors at 115 and 230 V. That a
free-running motor takes a third to a half of its full-load current is common practice
with no published source. Electronics in standby take from less than 1 W to as much as
25 W: Meier, Huber and Rosen, "Reducing Leaking Electricity to 1 Watt", Lawrence
Berkeley National Laboratory (1998). Everything else is invented.
"""

from dataclasses import dataclass, field, replace

from .plugs import SORTS, Sort
from .traces import Habit, Lamp, Motor, Plug, Trace, make_trace

FULL_LOAD = {
    # hp: A at 230 V
    0.5: 4.9,
    0.75: 6.9,
    1.0: 8.0,
    1.5: 10.0,
    2.0: 12.0,
    3.0: 17.0,
    5.0: 28.0,
}
LOCKED_ROTOR = {
    0.5: 29.4,
    0.75: 41.4,
    1.0: 48.0,
    1.5: 60.0,
    2.0: 72.0,
    3.0: 102.0,
    5.0: 168.0,
}
LEAKING = (0.3, 1.0, 5.0, 25.0)
"""Watts of electronics in standby."""


@dataclass(frozen=True, kw_only=True)
class Case:
    """A machine on a plug with some use; `days` to learn from and as many to judge by.

    With a `sort` of reporting, the plug's own readings go through it.
    """

    name: str
    motor: Motor
    plug: Plug = field(default_factory=Plug)
    habit: Habit = field(default_factory=Habit)
    lamps: tuple[Lamp, ...] = ()
    unit: str = "W"
    days: float = 2.0
    sort: Sort | None = None

    def trace(self, seed: int) -> Trace:
        trace = make_trace(
            self.motor,
            self.plug,
            habit=self.habit,
            lamps=self.lamps,
            days=self.days,
            seed=seed,
        )
        if self.sort is None:
            return trace
        return replace(
            trace,
            history=self.sort.report(trace.history, trace.until),
            interval=self.sort.interval or trace.interval,
        )


def current_cases() -> list[Case]:
    """Return induction motors of every size at 230 V behind a current clamp."""
    return [
        Case(
            name=f"{power:g} hp, {interval:g} s",
            motor=Motor(
                free=share * FULL_LOAD[power],
                work=FULL_LOAD[power],
                standby=0.03,
                inrush=LOCKED_ROTOR[power],
                inrush_time=0.4,
            ),
            plug=Plug(interval=interval, digits=2),
            unit="A",
        )
        for power, share, interval in zip(
            FULL_LOAD,
            (0.5, 0.33, 0.45, 0.4, 0.35, 0.5, 0.33),
            (1.0, 2.0, 10.0, 1.0, 5.0, 30.0, 2.0),
            strict=True,
        )
    ]


SAW = Motor(free=620, work=1850, standby=3, inrush=5200, inrush_time=0.6)
SANDER = Motor(free=190, work=320, standby=0.5, inrush=700)
CHARGER = Lamp(draws=60, stays=3000, times=2, asleep=4)
LAMP = Lamp(draws=40, stays=10_000, times=1)


def power_cases() -> list[Case]:
    """Return machines behind plugs that read power, each with a difficulty."""
    return [
        *(
            Case(
                name=f"asleep at {watts:g} W",
                motor=Motor(free=350, work=1100, standby=watts, inrush=3000),
                plug=Plug(interval=3),
            )
            for watts in LEAKING
        ),
        *(
            Case(name=f"reports every {interval:g} s", motor=SAW, plug=plug)
            for interval in (0.5, 2.0, 5.0, 10.0, 30.0, 60.0)
            for plug in [Plug(interval=interval)]
        ),
        *(
            Case(
                name=f"averages over {interval:g} s",
                motor=SAW,
                plug=Plug(interval=interval, averaging=True),
            )
            for interval in (1.0, 5.0, 20.0)
        ),
        Case(name="noisy", motor=SANDER, plug=Plug(noise=0.06)),
        Case(name="whole watts", motor=SAW, plug=Plug(digits=0, noise=0.005)),
        Case(name="spikes", motor=SAW, plug=Plug(spikes=0.5, spike=9000)),
        Case(
            name="spikes on a slow plug",
            motor=SANDER,
            plug=Plug(interval=10, spikes=0.3, spike=9000),
        ),
        Case(name="false zeros", motor=SAW, plug=Plug(interval=2, zeros=10)),
        Case(name="outages", motor=SAW, plug=Plug(interval=2, outages=4)),
        Case(
            name="minutes a month",
            motor=SAW,
            plug=Plug(interval=2, heartbeat=300),
            habit=Habit(runs=0.4, shortest=20, longest=90),
            days=30,
        ),
        Case(name="a lamp beside a sander", motor=SANDER, lamps=(LAMP,)),
        Case(name="a charger beside a sander", motor=SANDER, lamps=(CHARGER,)),
        Case(
            name="a charger and a lamp beside a saw", motor=SAW, lamps=(CHARGER, LAMP)
        ),
        Case(
            name="a charger on a slow plug",
            motor=Motor(free=400, work=1200, inrush=3300),
            plug=Plug(interval=10),
            lamps=(CHARGER,),
        ),
        Case(
            name="a small drill", motor=Motor(free=100, work=180), plug=Plug(interval=2)
        ),
        Case(
            name="variable speed",
            motor=Motor(free=100, work=950, standby=12),
            plug=Plug(interval=2),
        ),
        Case(
            name="never under load",
            motor=Motor(free=500, work=510, standby=1),
            habit=Habit(busy=0.0),
        ),
    ]


SHORT_CUTS = Habit(runs=40, shortest=1.0, longest=12.0)
SMALL = Motor(free=132, work=166, inrush=1000, inrush_time=2.0)
LONG_RUNS = Habit(runs=8, shortest=200, longest=2400)
WASHER = Motor(free=40, work=260, standby=4, heater=2000)
PRESS = Motor(free=350, work=600, standby=9, heater=1200)


def reported_cases() -> list[Case]:
    """Return machines behind every kind of reporting: what each makes hard."""
    return [
        Case(name=f"{name}, {sort.name}", motor=motor, habit=habit, sort=sort)
        for name, motor, habit in (
            ("short cuts", SAW, SHORT_CUTS),
            ("a small motor with inrush", SMALL, LONG_RUNS),
            ("motor and heater", WASHER, LONG_RUNS),
            ("a press", PRESS, LONG_RUNS),
        )
        for sort in SORTS
    ]
