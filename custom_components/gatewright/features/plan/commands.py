"""The plan's websocket commands that read: draft, figures, sizes, changes, file."""

from collections.abc import Callable, Coroutine, Mapping
from dataclasses import dataclass, replace
from functools import partial
import re
from typing import Any, Final

from homeassistant.components import websocket_api
from homeassistant.core import HomeAssistant, callback
from homeassistant.util.unit_system import US_CUSTOMARY_SYSTEM
import voluptuous as vol

from ...core.airflow import HOODS, MATERIALS, HoseState, Seal
from ...core.airflow.sizing import SERIES, Rules
from ...core.kinds import MachineKind
from ...core.plan.changes import changes
from ...core.plan.checks import ERROR, PlanProblem, check
from ...core.plan.document import MACHINE, ShopPlan
from ...core.plan.fields import UnreadablePlanError
from ...core.plan.pieces import Pieces
from ...core.plan.reading import CONSTRUCTIONS, read
from ...core.plan.tree import read_tree
from ...core.plan.writing import write
from ...runtime.parsing import number
from ...runtime.permissions import Permission, Requester, register_command
from ...runtime.system_context import GatewrightConfigEntry, SystemContext, system_of
from ..airflow.data import Data
from ..airflow.ducts import read_fan
from ..airflow.needs import IN_DUCT
from ..cards.subscription import send_absence, system_asked_for
from .draft_shop import DraftShop, draft_shop
from .drafts import DRAFTS, News, PlanDraft
from .figures import figures
from .seen import seen_plan
from .sizes import SizingWish, proposal
from .texts import PlanTexts

REFUSED: Final = "refused"

_LANGUAGE = vol.Optional("language")
_MOST_RUNNING: Final = 200

OF_SYSTEM: Final[Mapping[Any, Any]] = {vol.Required("entry_id"): str, _LANGUAGE: str}

_ITEMS = vol.All([str], vol.Length(max=_MOST_RUNNING))
_DRAWN: Final[Mapping[Any, Any]] = {**OF_SYSTEM, vol.Optional("document"): dict}


@dataclass(frozen=True, slots=True)
class PlanCommand:
    """A command about a plan: its user, its system, and the texts of its answer."""

    hass: HomeAssistant
    connection: websocket_api.ActiveConnection
    msg: Data
    asker: Requester
    entry: GatewrightConfigEntry
    draft: PlanDraft
    texts: PlanTexts

    @property
    def system(self) -> SystemContext:
        """The system."""
        return system_of(self.entry)

    def plan(self) -> ShopPlan:
        """Return the plan that was sent along, or else the draft.

        Raises `UnreadablePlanError`.
        """
        sent = self.msg.get("document")
        return self.draft.plan if sent is None else read(sent)

    def checked(self, plan: ShopPlan) -> tuple[Pieces, list[PlanProblem]]:
        """Return the tree of a drawing, and its problems."""
        pieces = Pieces(plan)
        return pieces, check(plan, pieces, self.draft.known)

    def shop(self) -> tuple[ShopPlan, list[PlanProblem], DraftShop]:
        """Return the drawing, its problems, and the system that it makes."""
        plan = self.plan()
        pieces, problems = self.checked(plan)
        config = self.system.described
        return plan, problems, draft_shop(plan, config, self.draft.known, pieces)

    def seen(self, plan: ShopPlan) -> ShopPlan:
        """Return a drawing as the user may see it."""
        return seen_plan(plan, self.asker, self.system)

    def document(self, plan: ShopPlan) -> Data:
        """Return the same as a document."""
        return write(self.seen(plan))


type PlanAnswer = Callable[[PlanCommand], Coroutine[Any, Any, Data]]


@callback
def register_plan_command(
    hass: HomeAssistant,
    name: str,
    fields: Mapping[Any, Any],
    answer: PlanAnswer,
    *,
    deed: Permission = Permission.READ,
) -> None:
    """Register a command about one system's plan."""

    async def handle(
        hass: HomeAssistant,
        connection: websocket_api.ActiveConnection,
        msg: Data,
        asker: Requester,
    ) -> None:
        entry = system_asked_for(asker, connection, msg)
        if entry is None:
            return
        draft = hass.data[DRAFTS][entry.entry_id]
        texts = await PlanTexts.read(hass, msg.get("language"))
        asked = PlanCommand(hass, connection, msg, asker, entry, draft, texts)
        try:
            found = await answer(asked)
        except UnreadablePlanError as err:
            rows = [texts.refusal(refusal) for refusal in err.refusals]
            found = {"saved": False, "available": False, "possible": False}
            found |= {"reason": REFUSED, "why": REFUSED, "problems": rows}
        connection.send_result(msg["id"], found)

    register_command(hass, f"plan/{name}", fields, handle, deed=deed)


@callback
def async_setup_reading(hass: HomeAssistant) -> None:
    """Register the read-only commands."""
    register = partial(register_plan_command, hass)
    register("get", OF_SYSTEM, answer_get)
    register(
        "compute",
        {
            **_DRAWN,
            vol.Optional("running", default=list): _ITEMS,
            vol.Optional("speed", default=1.0): number(0.1, 1.5),
            vol.Optional("all", default=False): bool,
        },
        _compute,
    )
    register(
        "size",
        {
            **_DRAWN,
            vol.Optional("series"): vol.In(tuple(SERIES)),
            vol.Optional("sizes"): vol.All(
                [number(0.02, 1.0)], vol.Length(min=1, max=20)
            ),
            vol.Optional("margin"): number(0, 100),
            vol.Optional("together", default=list): vol.All(
                [_ITEMS], vol.Length(max=60)
            ),
            vol.Optional("bleed", default=False): bool,
            vol.Optional("use_fan", default=True): bool,
            vol.Optional("keep", default=False): bool,
            vol.Optional("take"): [str],
        },
        _size,
    )
    register("preview", _DRAWN, _preview)
    register("export", OF_SYSTEM, _export)
    register_command(
        hass, "plan/subscribe", OF_SYSTEM, _subscribe, deed=Permission.READ
    )


async def answer_get(asked: PlanCommand) -> Data:
    """Return the draft, and the parts to draw with."""
    draft, system = asked.draft, asked.system
    config, sees = system.described, asked.asker.sees_part
    customary = asked.hass.config.units is US_CUSTOMARY_SYSTEM
    computable = read_fan(config.system.air) is not None
    return {
        "revision": draft.revision,
        "document": asked.document(draft.plan),
        "stored": draft.is_kept,
        "editable": asked.asker.administers,
        "problems": asked.texts.problems(draft.problems, asked.seen(draft.plan)),
        "differs": draft.differs,
        "machines": [
            {
                "id": machine_id,
                "name": machine.name,
                "kind": machine.kind.value,
                "gates": list(machine.gates),
                "required_flow": machine.required_flow,
            }
            for machine_id, machine in config.machines.items()
            if sees(system, machine_id)
        ],
        "gates": [
            {"id": gate_id, "name": gate.name, "kind": gate.kind.value}
            for gate_id, gate in config.gates.items()
            if sees(system, gate_id)
        ],
        "ducts": [
            {"id": duct_id, "name": duct.name} for duct_id, duct in config.ducts.items()
        ],
        "units": "us" if customary else "metric",
        "sizes": list(SERIES["inch" if customary else "metric"]),
        "choices": {
            "materials": list(MATERIALS),
            "constructions": list(CONSTRUCTIONS),
            "hoods": [hood for hood in HOODS if hood != IN_DUCT],
            "seals": [seal.value for seal in Seal],
            "hose_states": [state.value for state in HoseState],
            "kinds": [kind.value for kind in MachineKind],
        },
        "computable": computable,
        "why": "" if computable else "no_fan",
    }


async def _compute(asked: PlanCommand) -> Data:
    """Return figures; computed in a thread, since a large plan takes a while."""
    msg = asked.msg

    def computed() -> tuple[ShopPlan, list[PlanProblem], Data]:
        plan, problems, shop = asked.shop()
        found = figures(
            asked.hass,
            shop,
            msg["running"],
            speed=msg["speed"],
            everything=msg["all"],
        )
        return plan, problems, found

    plan, problems, found = await asked.hass.async_add_executor_job(computed)
    return _answer_of(asked, found, problems, plan)


async def _size(asked: PlanCommand) -> Data:
    msg, config = asked.msg, asked.system.described
    plan, problems, shop = await asked.hass.async_add_executor_job(asked.shop)
    customary = asked.hass.config.units is US_CUSTOMARY_SYSTEM
    series = SERIES[msg.get("series", "inch" if customary else "metric")]
    margin = msg.get("margin", config.system.air.margin)
    set_target = SizingWish(
        rules=Rules(
            sizes=tuple(sorted(set(msg["sizes"]))) if "sizes" in msg else series,
            margin=1.0 + margin / 100.0,
            bleed=msg["bleed"],
            fan=msg["use_fan"],
        ),
        together=msg["together"],
        take=msg.get("take"),
        keep=msg["keep"],
        customary=customary,
    )
    if not asked.asker.administers:
        sees = partial(asked.asker.sees_part, asked.system)
        seen = [part for part in config.parts if sees(part)]
        set_target = replace(set_target, seen=frozenset({*seen, *shop.tree.ducts}))
        shop = replace(shop, plan=asked.seen(plan))
    found = await asked.hass.async_add_executor_job(
        proposal, asked.hass, shop, set_target
    )
    if "document" in found:
        found["document"] = write(found["document"])
    return _answer_of(asked, found, problems, plan)


def _answer_of(
    asked: PlanCommand, found: Data, problems: list[PlanProblem], plan: ShopPlan
) -> Data:
    seen = asked.seen(plan)
    if "at" in found:
        found["text"] = asked.texts.impossible(found["at"], seen)
    return {**found, "problems": asked.texts.problems(problems, seen)}


async def _preview(asked: PlanCommand) -> Data:
    plan = asked.plan()
    pieces, problems = asked.checked(plan)
    tree = read_tree(plan, pieces)
    base = asked.draft.base
    rows = asked.texts.changes(changes(tree, base), tree, base, asked.entry.title)
    if not asked.asker.administers:
        # Only gates that the user may see.
        sees = partial(asked.asker.sees_part, asked.system)
        rows = [row for row in rows if row["part"] is None or sees(row["part"])]
    return {
        "revision": asked.draft.revision,
        "changes": rows,
        "planned": [
            *(i.id for i in plan.items if i.type == MACHINE and not i.bound),
            *(gate.id for gate in plan.gates if not gate.bound),
        ],
        "problems": asked.texts.problems(problems, asked.seen(plan)),
        "possible": not any(problem.severity == ERROR for problem in problems),
    }


async def _export(asked: PlanCommand) -> Data:
    name = re.sub(r"[^\w-]+", "-", asked.entry.title.casefold()).strip("-")
    plan = replace(asked.draft.plan, name=asked.entry.title)
    return {
        "filename": f"{name or 'gatewright'}-plan.json",
        "content": asked.document(plan),
    }


@callback
def _subscribe(
    hass: HomeAssistant,
    connection: websocket_api.ActiveConnection,
    msg: Data,
    asker: Requester,
) -> None:
    """Notify a subscriber of each new revision."""
    entry = system_asked_for(asker, connection, msg)
    if entry is None:
        return
    draft = hass.data[DRAFTS].get(entry.entry_id)
    if draft is None:
        send_absence(connection, msg)
        return

    @callback
    def send(news: News) -> None:
        event = {
            "revision": news.revision,
            "cause": news.cause.value,
            "mine": news.by is connection,
        }
        connection.send_message(websocket_api.event_message(msg["id"], event))

    connection.subscriptions[msg["id"]] = draft.listen(send)
    connection.send_result(msg["id"])
    now = {"revision": draft.revision, "cause": "now", "mine": False}
    connection.send_message(websocket_api.event_message(msg["id"], now))
