"""The draft of a system's plan: a revisioned document, on disk and for browsers."""

from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from enum import StrEnum
from functools import partial
from typing import TYPE_CHECKING, Any, Final

from homeassistant.core import CALLBACK_TYPE, HomeAssistant, callback
from homeassistant.util.hass_dict import HassKey

from ...const import DOMAIN
from ...core.plan.changes import StoredParts, changes
from ...core.plan.checks import KnownParts, PlanProblem, check
from ...core.plan.document import ShopPlan
from ...core.plan.following import follow
from ...core.plan.layout import lay_out
from ...core.plan.pieces import Pieces
from ...core.plan.reading import read
from ...core.plan.stored_drawing import Stock
from ...core.plan.tree import read_tree
from ...core.plan.writing import write
from ...runtime.store import FileKind, KeptFile
from .parts import known_of, stock_of, stored_of
from .writing import is_writing

if TYPE_CHECKING:
    from ...runtime.system_context import GatewrightConfigEntry, SystemContext

DRAFTS: Final[HassKey[dict[str, PlanDraft]]] = HassKey(f"{DOMAIN}_plans")


class RevisionCause(StrEnum):
    """Why a new revision exists."""

    SAVED = "saved"
    APPLIED = "applied"
    IMPORTED = "imported"
    DISCARDED = "discarded"
    SET_UP = "set_up"


@dataclass(frozen=True, slots=True)
class News:
    """A new revision, its cause, and the connection that made it."""

    revision: int
    cause: RevisionCause
    by: object


class PlanDraft:
    """The draft of one system; it survives a reload.

    `base` is what was stored when drawing and forms were last compared: later changes
    by forms are applied to the drawing. A plan that was never saved is laid out from
    the forms, and isn't on disk.
    """

    def __init__(self, hass: HomeAssistant, entry: GatewrightConfigEntry) -> None:
        self._file = KeptFile(hass, FileKind.PLAN, entry)
        self._listeners: list[Callable[[News], None]] = []
        self.entry = entry
        self.revision = 0
        self.cause = RevisionCause.SET_UP
        self.is_kept = False
        """Whether somebody has saved it."""
        self.plan = ShopPlan()
        self.base = StoredParts(ducts={}, places={}, names={})
        self.stock = Stock(name="", machines={}, served={}, gates={}, ducts={})

    @property
    def known(self) -> KnownParts:
        """What a drawing may be bound to."""
        return known_of(self.stock)

    @property
    def problems(self) -> list[PlanProblem]:
        """The draft's problems."""
        return check(self.plan, Pieces(self.plan), self.known)

    @property
    def differs(self) -> bool:
        """Whether applying it would change something."""
        return bool(changes(read_tree(self.plan), self.base))

    # From and to the disk --------------------------------------------------------

    async def load(self) -> None:
        """Load the file; a damaged one is put aside and reported."""
        kept = await self._file.read()
        if kept is None:
            return
        try:
            plan, base = read(kept["document"]), _stored(kept["base"])
            revision, cause = int(kept["revision"]), RevisionCause(kept["cause"])
        except Exception as err:  # noqa: BLE001 - whatever is wrong with it
            await self._file.put_aside(err)
            return
        self.plan, self.base = plan, base
        self.revision, self.cause = revision, cause
        self.is_kept = True

    async def write(self) -> None:
        """Write at once: what a person is told is saved has to be on disk."""
        await self._file.write(self._kept())

    def _kept(self) -> dict[str, Any]:
        return {
            "revision": self.revision,
            "cause": self.cause.value,
            "document": write(self.plan),
            "base": {
                "ducts": self.base.ducts,
                "places": self.base.places,
                "names": self.base.names,
            },
        }

    # What changes it -------------------------------------------------------------

    @callback
    def set_connected(self, context: SystemContext) -> CALLBACK_TYPE:
        """Follow changes of the set-up; return a function that stops this."""
        stop = context.on_replan(partial(self.follow, context))
        self.follow(context)
        return stop

    @callback
    def follow(self, context: SystemContext) -> None:
        """Apply changes made by forms, except those being applied from the drawing."""
        if is_writing(context.hass, self.entry.entry_id):
            return
        described = context.described
        now, stock = stored_of(described), stock_of(described)
        if (now, stock) == (self.base, self.stock):
            return
        before, self.stock = self.plan, stock
        if self.is_kept:
            self.plan = follow(before, self.base, now, stock)
        else:
            self.plan = lay_out(now.ducts, now.places, stock)
        self.base = now
        if self.plan != before:
            self._renew(RevisionCause.SET_UP, None)
        if self.is_kept:
            self._file.write_soon(self._kept)

    @callback
    def put(self, plan: ShopPlan, cause: RevisionCause, by: object) -> None:
        """Replace the drawing."""
        self.plan = _named_as(plan, self.stock, self.base)
        self.is_kept = True
        self._renew(cause, by)

    @callback
    def applied(self, plan: ShopPlan, context: SystemContext, by: object) -> None:
        """Record that a drawing has been applied."""
        self.base, self.stock = (
            stored_of(context.described),
            stock_of(context.described),
        )
        self.plan = plan
        self.is_kept = True
        self._renew(RevisionCause.APPLIED, by)

    @callback
    def discard(self, by: object) -> None:
        """Discard the drawing; the present set-up is laid out anew."""
        plan = lay_out(self.base.ducts, self.base.places, self.stock)
        self.put(plan, RevisionCause.DISCARDED, by)

    def _renew(self, cause: RevisionCause, by: object) -> None:
        self.revision += 1
        self.cause = cause
        news = News(self.revision, cause, by)
        for listener in tuple(self._listeners):
            listener(news)

    # Who looks at it -------------------------------------------------------------

    @callback
    def listen(self, listener: Callable[[News], None]) -> CALLBACK_TYPE:
        """Notify a listener of each new revision; return a function that removes it."""
        self._listeners.append(listener)
        return partial(self._listeners.remove, listener)


async def async_setup_plan(context: SystemContext) -> CALLBACK_TYPE:
    """Load a system's draft; return a function that lets go of the system."""
    drafts = context.hass.data.setdefault(DRAFTS, {})
    draft = drafts.get(context.entry.entry_id)
    if draft is None:
        draft = drafts[context.entry.entry_id] = PlanDraft(context.hass, context.entry)
        await draft.load()
    return draft.set_connected(context)


async def forget_plan(hass: HomeAssistant, entry: GatewrightConfigEntry) -> None:
    """Delete the draft of a removed system."""
    hass.data.get(DRAFTS, {}).pop(entry.entry_id, None)
    await KeptFile(hass, FileKind.PLAN, entry).remove()


def _named_as(plan: ShopPlan, stock: Stock, base: StoredParts) -> ShopPlan:
    """Return a plan with the system's names of machines and gates."""
    return replace(follow(plan, base, base, stock), more=plan.more)


def _stored(kept: Mapping[str, Any]) -> StoredParts:
    ducts, places, names = (dict(kept[key]) for key in ("ducts", "places", "names"))
    for rows in (ducts, places):
        if not all(isinstance(data, dict) for data in rows.values()):
            raise TypeError("no data of parts")
    return StoredParts(ducts=ducts, places=places, names=names)
