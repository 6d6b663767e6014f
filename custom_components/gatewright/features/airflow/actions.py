"""The action that sizes ducts, and its result as a page."""

from collections.abc import Mapping
from typing import Any, Final, override

from aiohttp import web
from homeassistant.const import ATTR_CONFIG_ENTRY_ID
from homeassistant.core import (
    HomeAssistant,
    ServiceCall,
    ServiceResponse,
    SupportsResponse,
    callback,
)
from homeassistant.exceptions import ServiceValidationError
from homeassistant.helpers import config_validation as cv
from homeassistant.util import dt as dt_util
from homeassistant.util.hass_dict import HassKey
import voluptuous as vol

from ...const import DOMAIN
from ...core.airflow import AirflowError, Fan
from ...core.airflow.sizing import PIECE_LENGTH, SERIES, USUAL_WASTE, Rules
from ...core.airflow.units import FOOT
from ...core.kinds import MachineKind
from ...runtime.errors import validation_error
from ...runtime.permissions import Permission, Requester, register_action
from ...runtime.system_context import GatewrightConfigEntry, system_of
from ...runtime.web import SystemView, signed
from ...texts.figures import date_and_time
from .data import Data
from .sizing_data import sizing
from .sizing_page import sizing_page
from .sizing_request import ListedMachine, SizingRequest, make_request
from .sizing_texts import SizingTexts, sizing_text
from .units import CUSTOMARY, AirUnits, units_of

SERVICE_SIZE_DUCTS: Final = "size_ducts"

_MACHINES = "machines"
_MACHINE = "machine"
_DISTANCE = "distance"
_KIND = "kind"
_FLOW = "flow"
_PORT = "port"
_BRANCH = "branch"
_HOSE = "hose"
_TOGETHER = "together"
_SERIES = "series"
_SIZES = "sizes"
_MARGIN = "margin"
_BLEED = "bleed"
_BALANCED = "balanced"
_USE_FAN = "use_fan"
_FANS = "fans"
_NAME = "name"
_POINTS = "points"
_WASTE = "waste"

_LAST: HassKey[dict[tuple[str, str], Mapping[str, Any]]] = HassKey(f"{DOMAIN}_sizing")
"""The last sizing request for a system, for its page."""

_MOST_MACHINES = 60

_positive = vol.All(vol.Coerce(float), vol.Range(min=0, min_included=False))

_SCHEMA = vol.Schema(
    {
        vol.Required(ATTR_CONFIG_ENTRY_ID): cv.string,
        vol.Optional(_MACHINES, default=list): vol.All(
            cv.ensure_list,
            vol.Length(max=_MOST_MACHINES),
            [
                {
                    vol.Required(_MACHINE): vol.All(
                        cv.string, vol.Strip, vol.Length(min=1)
                    ),
                    vol.Required(_DISTANCE): _positive,
                    vol.Optional(_KIND): vol.Coerce(MachineKind),
                    vol.Optional(_FLOW): _positive,
                    vol.Optional(_PORT): _positive,
                    vol.Optional(_BRANCH): vol.All(vol.Coerce(float), vol.Range(min=0)),
                    vol.Optional(_HOSE): vol.All(vol.Coerce(float), vol.Range(min=0)),
                }
            ],
        ),
        vol.Optional(_TOGETHER, default=list): vol.All(
            cv.ensure_list,
            [{vol.Required(_MACHINES): vol.All(cv.ensure_list, [cv.string])}],
        ),
        vol.Optional(_SERIES): vol.In(tuple(SERIES)),
        vol.Optional(_SIZES): vol.All(cv.ensure_list, vol.Length(min=1), [_positive]),
        vol.Optional(_MARGIN): vol.All(vol.Coerce(float), vol.Range(min=0, max=100)),
        vol.Optional(_BLEED, default=False): cv.boolean,
        vol.Optional(_BALANCED, default=False): cv.boolean,
        vol.Optional(_USE_FAN, default=True): cv.boolean,
        vol.Optional(_FANS, default=list): vol.All(
            cv.ensure_list,
            [
                {
                    vol.Required(_NAME): cv.string,
                    vol.Required(_POINTS): [
                        vol.All([vol.Coerce(float)], vol.Length(min=2, max=2))
                    ],
                }
            ],
        ),
        vol.Optional(_WASTE, default=round(100 * USUAL_WASTE)): vol.All(
            vol.Coerce(float), vol.Range(min=0, max=100)
        ),
    }
)


@callback
def async_setup_sizing(hass: HomeAssistant) -> None:
    """Register the action."""
    hass.data[_LAST] = {}
    register_action(
        hass,
        SERVICE_SIZE_DUCTS,
        _size_ducts,
        _SCHEMA,
        deed=Permission.READ,
        supports_response=SupportsResponse.ONLY,
    )


@callback
def async_setup_sizing_page(hass: HomeAssistant) -> None:
    """Serve the page."""
    hass.http.register_view(SizingView)


async def _size_ducts(call: ServiceCall, asker: Requester) -> ServiceResponse:
    """Return the sizes of a system's pipes, and what to buy."""
    entry = asker.system(call.data[ATTR_CONFIG_ENTRY_ID])
    hass = call.hass
    try:
        request = _request(asker, entry, call.data)
        found = await _sized(hass, request)
    except AirflowError as err:
        raise _refused(asker, entry, err) from err
    units = units_of(hass)
    texts = await SizingTexts.load(hass)
    answer: Data = {**found, "text": sizing_text(found, units, texts)}
    hass.data[_LAST][_key(asker, entry)] = call.data
    if "http" in hass.config.components:
        answer["addresses"] = {"sizing": signed(hass, entry.entry_id, SizingView)}
    return answer


async def _sized(hass: HomeAssistant, request: SizingRequest) -> Data:
    """Size the system in a thread, so that the event loop stays free."""
    return await hass.async_add_executor_job(sizing, request)


def _key(asker: Requester, entry: GatewrightConfigEntry) -> tuple[str, str]:
    """Return the key that a user's last request is kept under."""
    return entry.entry_id, "" if asker.user is None else asker.user.id


def _refused(
    asker: Requester, entry: GatewrightConfigEntry, err: AirflowError
) -> ServiceValidationError:
    seen = asker.sees_part(system_of(entry), err.element)
    part = entry.subentries.get(err.element) if seen else None
    name = err.element or entry.title if part is None else part.title
    return validation_error("sizing_impossible", name=name, reason=str(err))


def _request(
    asker: Requester, entry: GatewrightConfigEntry, data: Mapping[str, Any]
) -> SizingRequest:
    units = units_of(asker.hass)
    rules = Rules(
        sizes=_sizes(data, units),
        margin=1.0 + data.get(_MARGIN, _usual_margin(entry)) / 100.0,
        bleed=data[_BLEED],
        balanced=data[_BALANCED],
        fan=data[_USE_FAN] and not data[_BALANCED],
    )
    return make_request(
        asker,
        entry,
        rules,
        machines=[_listed(row, units) for row in data[_MACHINES]],
        together=[row[_MACHINES] for row in data[_TOGETHER]],
        fans={
            row[_NAME]: Fan(
                points=tuple(
                    (flow * units.flow.size, pressure * units.pressure.size)
                    for flow, pressure in row[_POINTS]
                ),
                kind="static",
            )
            for row in data[_FANS]
        },
        waste=data[_WASTE] / 100.0,
        piece=10 * FOOT if units is CUSTOMARY else PIECE_LENGTH,
    )


def _usual_margin(entry: GatewrightConfigEntry) -> float:
    """Return the system's margin in percent."""
    return system_of(entry).described.system.air.margin


def _sizes(data: Mapping[str, Any], units: AirUnits) -> tuple[float, ...]:
    if _SIZES in data:
        return tuple(sorted({size * units.width.size for size in data[_SIZES]}))
    usual = "inch" if units is CUSTOMARY else "metric"
    return SERIES[data.get(_SERIES, usual)]


def _listed(row: Mapping[str, Any], units: AirUnits) -> ListedMachine:
    def metres(key: str, size: float) -> float | None:
        return row[key] * size if key in row else None

    return ListedMachine(
        name=row[_MACHINE],
        distance=row[_DISTANCE] * units.length.size,
        kind=row.get(_KIND),
        flow=metres(_FLOW, units.flow.size),
        port=metres(_PORT, units.width.size),
        branch=metres(_BRANCH, units.length.size),
        hose=metres(_HOSE, units.length.size),
    )


class SizingView(SystemView):
    """The printable page: the last request, or else the system's own ducts."""

    url = "/api/gatewright/{entry_id}/sizing"
    name = "api:gatewright:sizing"

    @override
    async def answer(
        self, asker: Requester, entry: GatewrightConfigEntry
    ) -> web.Response | None:
        hass = asker.hass
        last = hass.data[_LAST]
        # A request without a user, such as a script's, is open to everybody who may see
        # the system. It's computed again with the rights of whoever opens the page.
        asked = last.get(_key(asker, entry)) or last.get((entry.entry_id, ""))
        if asked is None:
            asked = _SCHEMA({ATTR_CONFIG_ENTRY_ID: entry.entry_id})
        try:
            found = await _sized(hass, _request(asker, entry, asked))
        except AirflowError, ServiceValidationError:
            # There is nothing to size, or no longer. The action says why; a page
            # doesn't.
            return None
        when = date_and_time(dt_util.utcnow())
        texts = await SizingTexts.load(hass)
        page = await hass.async_add_executor_job(
            sizing_page, found, units_of(hass), when, texts
        )
        return web.Response(
            text=page,
            content_type="text/html",
            charset="utf-8",
        )
