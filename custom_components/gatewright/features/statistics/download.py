"""The statistics as tables to download: every kept run, and every day."""

from abc import abstractmethod
from collections.abc import Iterable
from typing import override

from aiohttp import web
from homeassistant.core import HomeAssistant, callback
from homeassistant.util import dt as dt_util, slugify

from ...core.statistics.runs import day_rows, run_rows
from ...runtime.permissions import Requester
from ...runtime.system_context import GatewrightConfigEntry, SystemContext, system_of
from ...runtime.web import SystemView, signed
from ...texts.csv_table import Row, csv_text
from .manager import StatisticsManager


@callback
def async_setup_downloads(hass: HomeAssistant) -> None:
    """Serve the tables to signed-in users."""
    hass.http.register_view(RunTable)
    hass.http.register_view(DayTable)


@callback
def downloads(hass: HomeAssistant, entry_id: str) -> dict[str, str]:
    """Return the tables' addresses, signed for an hour; none without a server."""
    if "http" not in hass.config.components:
        return {}
    return {view.what: signed(hass, entry_id, view) for view in (RunTable, DayTable)}


class RecordTable(SystemView):
    """A table of one system's statistics, as comma-separated values."""

    what = ""

    @override
    async def answer(
        self, asker: Requester, entry: GatewrightConfigEntry
    ) -> web.Response:
        name = f"{slugify(entry.title)}_{self.what}_{dt_util.now():%Y-%m-%d}.csv"
        return web.Response(
            text=csv_text(self.rows(system_of(entry), asker)),
            content_type="text/csv",
            charset="utf-8",
            headers={"Content-Disposition": f'attachment; filename="{name}"'},
        )

    @abstractmethod
    def rows(self, system: SystemContext, asker: Requester) -> Iterable[Row]:
        """Return the header and the rows of the machines that the user may see."""


class RunTable(RecordTable):
    """Every kept run."""

    url = "/api/gatewright/{entry_id}/runs.csv"
    name = "api:gatewright:runs"
    what = "runs"

    @override
    def rows(self, system: SystemContext, asker: Requester) -> Iterable[Row]:
        runs = (
            run
            for run in system.of(StatisticsManager).keeper.record.runs
            if asker.sees_machine(run.machine_id)
        )
        return run_rows(runs, dt_util.get_default_time_zone())


class DayTable(RecordTable):
    """Every kept day, machine by machine."""

    url = "/api/gatewright/{entry_id}/days.csv"
    name = "api:gatewright:days"
    what = "days"

    @override
    def rows(self, system: SystemContext, asker: Requester) -> Iterable[Row]:
        keeper = system.of(StatisticsManager).keeper
        return day_rows(keeper.calendar, keeper.names, asker.sees_machine)
