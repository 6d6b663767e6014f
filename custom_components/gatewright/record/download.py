"""The record as tables to download: every run that is kept, and every day."""

from abc import abstractmethod
from collections.abc import Iterable
from datetime import timedelta
from http import HTTPStatus
from typing import TYPE_CHECKING, override

from aiohttp import web
from homeassistant.components.http import KEY_HASS, KEY_HASS_USER, HomeAssistantView
from homeassistant.components.http.auth import async_sign_path
from homeassistant.config_entries import ConfigEntryState
from homeassistant.core import HomeAssistant, callback
from homeassistant.util import dt as dt_util, slugify

from ..cards.feed import may_see
from ..const import DOMAIN
from ..shop.record.runs import Row, csv_text, day_rows, run_rows

if TYPE_CHECKING:
    from ..engine import Engine

_SIGNED_FOR = timedelta(hours=1)


@callback
def async_setup_downloads(hass: HomeAssistant) -> None:
    """Serve the tables, to somebody who is signed in."""
    hass.http.register_view(RunTable)
    hass.http.register_view(DayTable)


@callback
def downloads(hass: HomeAssistant, entry_id: str) -> dict[str, str]:
    """Return the addresses of the tables, signed for an hour; none without a server."""
    if "http" not in hass.config.components:
        return {}
    return {
        view.what: async_sign_path(
            hass, view.url.format(entry_id=entry_id), _SIGNED_FOR
        )
        for view in (RunTable, DayTable)
    }


class RecordTable(HomeAssistantView):
    """A table of one system's record, as comma-separated values."""

    requires_auth = True
    what = ""

    async def get(self, request: web.Request, entry_id: str) -> web.Response:
        """Return it; not found where there is no such system, or none to be seen."""
        hass = request.app[KEY_HASS]
        entry = hass.config_entries.async_get_entry(entry_id)
        if (
            entry is None
            or entry.domain != DOMAIN
            or entry.state is not ConfigEntryState.LOADED
            or not may_see(hass, request[KEY_HASS_USER], entry)
        ):
            return web.Response(status=HTTPStatus.NOT_FOUND)
        name = f"{slugify(entry.title)}_{self.what}_{dt_util.now():%Y-%m-%d}.csv"
        return web.Response(
            text=csv_text(self.rows(entry.runtime_data)),
            content_type="text/csv",
            charset="utf-8",
            headers={"Content-Disposition": f'attachment; filename="{name}"'},
        )

    @abstractmethod
    def rows(self, engine: Engine) -> Iterable[Row]:
        """Return the header and the rows."""


class RunTable(RecordTable):
    """Every run that is kept."""

    url = "/api/gatewright/{entry_id}/runs.csv"
    name = "api:gatewright:runs"
    what = "runs"

    @override
    def rows(self, engine: Engine) -> Iterable[Row]:
        keeper = engine.record.keeper
        return run_rows(keeper.record.runs, dt_util.get_default_time_zone())


class DayTable(RecordTable):
    """Every day that is kept, machine by machine."""

    url = "/api/gatewright/{entry_id}/days.csv"
    name = "api:gatewright:days"
    what = "days"

    @override
    def rows(self, engine: Engine) -> Iterable[Row]:
        keeper = engine.record.keeper
        return day_rows(keeper.calendar, keeper.names)
