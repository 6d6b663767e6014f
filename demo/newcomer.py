"""Sets Gatewright up in the virtual workshop like a newcomer: through its forms, with as little typing as possible.

First the forms that add a system: the collector, all machines at once, all gates at
once, then each machine in turn. Afterwards what only a few machines need, each in its
own form.
"""

from collections.abc import Awaitable, Callable, Iterable
from textwrap import shorten
from typing import Any

from .drawing import Draftsman
from .ducting import DuctFitter
from .forms import SAVED, Form, FormError
from .hub_client import HubClient

SYSTEM = "Dust collector"
FLOOR_SWEEP = "Floor sweep"
BENCH_HOOD = "Bench hood"
CARVING_MACHINE_KEY = "carving_machine"
"""A machine with an extractor of its own, which is added later (`purge_scene`)."""

SHUTOFF_DELAY = 3.0
"""The shut-off delay [s]."""
MARGIN = 1.0
"""Added to the observed spin-down time [s]."""
PURGING = 5.0
"""The purge time of the pickup behind the miter saw [s]."""
TRAVEL = 3.0
"""A time in which every gate without position feedback has moved [s]."""

LIMITS = {
    "Miter saw gate": ("miter_saw_gate_open_limit", "miter_saw_gate_shut_limit"),
    "Floor sweep gate": ("floor_sweep_gate_open_limit", "floor_sweep_gate_shut_limit"),
}
GATES = {
    # The rear gate's name has "miter saw" too, but it only purges after it.
    "Miter saw": ["Miter saw gate"],
    "Lathe": ["Bench gate"],
    "Drill press": ["Bench gate"],
    "Orbital sander": ["Hose gate"],
    "Shop vacuum": ["Drop box gate"],
}
"""What the form can't guess from the names."""
DETECTOR = "site_smoke"
WATCHED = {
    "watching": {"air_supply": "site_air_pressure"},
    "bin": {"bin_full": "collector_bin_full", "bin_level": "collector_bin_level"},
    "filter": {"filter_pressure": "collector_filter_pressure"},
}
"""The safety inputs besides the detector, page by page; the limits are the form's own."""
FULL_READING = 90.0
"""The level at which the bin has to be emptied, in percent."""
BIN = {
    "bin_answer": "warn",
    "bin_volume": 160,
    "bin_empty_reading": 0,
    "bin_full_reading": FULL_READING,
}
CONNECTED = {
    "Orbital sander": "orbital_sander_attached",
    "Shop vacuum": "shop_vacuum_attached",
}


class Newcomer:
    """Sets a system up for the first time."""

    def __init__(
        self,
        client: HubClient,
        tell: Callable[[str], None],
        *,
        add: Callable[[HubClient, str], Awaitable[Form]] = Form.add,
    ) -> None:
        """Use a Home Assistant; `tell` gets a line about each step.

        `add` opens the forms that add an integration.
        """
        self._client = client
        self._tell = tell
        self._add = add
        self._ids: dict[str, str] = {}

    async def set_up(self, spin_down: float) -> str:
        """Set the system up; return the id of its entry.

        `coast` is the observed spin-down time [s].
        """
        self._ids = await self._client.entity_ids("virtual_workshop")
        entry_id = await self._add_system()
        await self._finish_collector(entry_id, spin_down)
        parts = {
            part["title"]: part["subentry_id"]
            for part in await self._client.subentries(entry_id)
        }
        for name, contact in CONNECTED.items():
            await self._change(
                entry_id, parts[name], "more", attached=self._ids[contact]
            )
        await self._change(
            entry_id,
            parts["Miter saw"],
            "afterwards",
            clearing_1_gates=[parts["Miter saw rear gate"]],
            clearing_1_time=PURGING,
        )
        self._tell(
            "the movable machines got their contacts, the miter saw its rear gate"
        )
        await DuctFitter(self._client, self._tell).fit(entry_id)
        await Draftsman(self._client, self._tell).draw(entry_id)
        return entry_id

    async def _add_system(self) -> str:
        form = await self._add(self._client, "gatewright")
        await form.fill(
            name=SYSTEM,
            switch=self._ids["collector_relay"],
            power=self._ids["collector_power"],
        )
        machines = self._named(
            ("_power", "_current"), but=("collector_", CARVING_MACHINE_KEY)
        )
        pickups = [FLOOR_SWEEP, BENCH_HOOD]
        self._tell(f"picked the sensors of {len(machines)} machines, named 2 pickups")
        await form.fill(
            machines=_those_offered(form, "machines", machines), pickups=pickups
        )
        gates = self._named(("_gate_actuator", "_gate_relay"))
        contacts = self._named(("_gate_contact",))
        self._tell(f"picked {len(gates)} powered gates and 1 moved by hand")
        await form.fill(
            gates=_those_offered(form, "gates", gates),
            hand_sensors=_those_offered(form, "hand_sensors", contacts),
            ask_positions=True,
        )
        while form.step == "gate":
            await self._describe_gate(form)
        while form.step == "machine":
            await self._describe_machine(form)
        if form.step == "levels":
            # Home Assistant's history already shows when a machine runs.
            found = form.placeholder("found").split("\n\n")
            for name in form.choices("accepted"):
                line = next(line for line in found if line.startswith(f"**{name}:**"))
                reported = shorten(line.replace("**", ""), 58, placeholder=" …")
                self._tell(f"accepted as found: {reported}")
            await form.fill()
        if form.step == "unused_gates":
            # The rear gate of the miter saw: it's chosen for the purge later.
            await form.choose("finish")
        if form.step != "create_entry":
            raise FormError(f"The forms end with {form.step}")
        entry_id: str = form.result["result"]["entry_id"]
        self._tell(f"the system was created after {form.filled} forms")
        return entry_id

    def _named(self, ends: tuple[str, ...], but: tuple[str, ...] = ()) -> list[str]:
        """Return the workshop's entities with these names."""
        return [
            entity_id
            for name, entity_id in self._ids.items()
            if name.endswith(ends) and not name.startswith(but)
        ]

    async def _describe_gate(self, form: Form) -> None:
        """Describe how a gate without a position reports where it is."""
        opened, closed = LIMITS.get(form.shown("name"), (None, None))
        await form.fill(
            open_sensor=opened and self._ids[opened],
            shut_sensor=closed and self._ids[closed],
            travel=TRAVEL,
        )

    async def _describe_machine(self, form: Form) -> None:
        """Accept a machine's suggestions, and choose its gates where they can't be guessed."""
        gates = form.choices("gates")
        chosen = GATES.get(form.shown("name"))
        answers: dict[str, Any] = {}
        if chosen is not None:
            answers["gates"] = [gates[gate] for gate in chosen]
        await form.fill(**answers)

    async def _finish_collector(self, entry_id: str, spin_down: float) -> None:
        form = await Form.settings(self._client, entry_id, "collector")
        gates = form.choices("hand_gates")
        await self._fill(form, hand_gates=[gates[f"{FLOOR_SWEEP} gate"]])
        coast = spin_down + MARGIN
        form = await Form.settings(self._client, entry_id, "timing")
        await self._fill(form, run_on=SHUTOFF_DELAY, coast=coast)
        for page, others in WATCHED.items():
            form = await Form.settings(self._client, entry_id, page)
            answers: dict[str, Any] = {}
            for field, seen in others.items():
                [answers[field]] = _those_offered(form, field, [self._ids[seen]])
            if page == "watching":
                answers["emergency"] = _those_offered(
                    form, "emergency", [self._ids[DETECTOR]]
                )
            if page == "bin":
                answers |= BIN
            await self._fill(form, **answers)
        self._tell(f"run-on is {SHUTOFF_DELAY:g} s, coast {coast:g} s")
        self._tell("a smoke detector, bin, compressed air and filter are watched")
        self._tell("the bin's filling is forecast")

    async def _fill(self, form: Form, **answers: Any) -> None:
        await form.fill(**answers)
        _expect(form, SAVED)

    async def _change(
        self, entry_id: str, machine_id: str, page: str, **answers: Any
    ) -> None:
        form = await Form.change_part(
            self._client, entry_id, "machine", machine_id, page
        )
        await form.fill(**answers)
        _expect(form, "reconfigure_successful")


def _those_offered(form: Form, name: str, wanted: Iterable[str]) -> list[str]:
    """Return the wanted options if the field offers all of them: a person can pick nothing else."""
    chosen = list(wanted)
    if missing := set(chosen) - set(form.offered(name)):
        raise FormError(f"{form.step} does not offer {', '.join(sorted(missing))}")
    return chosen


def _expect(form: Form, end: str) -> None:
    if form.step != end:
        raise FormError(f"The form ends with {form.step}, not with {end}")
