"""The airflow of a system as a printable page and as a table."""

from abc import abstractmethod
from collections.abc import Iterator
from functools import partial
from typing import override

from aiohttp import web
from homeassistant.core import HomeAssistant, callback
from homeassistant.util import dt as dt_util

from ...runtime.permissions import Requester
from ...runtime.system_context import GatewrightConfigEntry, SystemContext, system_of
from ...runtime.web import SystemView, signed
from ...texts.csv_table import Row, csv_text
from ...texts.figures import date_and_time
from .actions import SizingView
from .assessment import assessment, seen_of
from .data import Data
from .ducts import AirShop
from .manager import AirflowManager
from .report_page import page
from .report_texts import ReportTexts
from .units import AirUnits, units_of


def shop_for(asker: Requester, system: SystemContext) -> AirShop | None:
    """Return a system's airflow as a user may see it; None before it's described."""
    if (shop := system.of(AirflowManager).shop) is None:
        return None
    seen = frozenset(part for part in shop.names if asker.sees_part(system, part))
    return seen_of(shop, seen)


async def assess_all(system: SystemContext, shop: AirShop) -> Data:
    """Compute the assessment in a thread, so that the event loop stays free."""
    air = system.of(AirflowManager)
    speed = air.speed()
    # If we set the speed, the shop is assessed at the speeds that it can reach.
    rated = 1.0 if speed is None or air.controls_speed else speed
    work = partial(
        assessment,
        shop,
        speed=rated,
        met=tuple(air.seen),
        diagnosis=air.diagnosis,
    )
    return await system.hass.async_add_executor_job(work)


@callback
def async_setup_report(hass: HomeAssistant) -> None:
    """Serve the pages to users who are signed in."""
    hass.http.register_view(AirReport)
    hass.http.register_view(AirTable)


@callback
def addresses(hass: HomeAssistant, entry_id: str) -> dict[str, str]:
    """Return the addresses of the pages and the table, signed for an hour."""
    return {
        "sizing": signed(hass, entry_id, SizingView),
        "report": signed(hass, entry_id, AirReport),
        "table": signed(hass, entry_id, AirTable),
    }


class AirView(SystemView):
    """A page about a system's airflow."""

    content_type = ""

    @override
    async def answer(
        self, asker: Requester, entry: GatewrightConfigEntry
    ) -> web.Response | None:
        if (shop := shop_for(asker, system_of(entry))) is None:
            return None
        data = await assess_all(system_of(entry), shop)
        return web.Response(
            text=await self.write(asker.hass, shop, data),
            content_type=self.content_type,
            charset="utf-8",
        )

    @abstractmethod
    async def write(self, hass: HomeAssistant, shop: AirShop, data: Data) -> str:
        """Return the response's text."""


class AirReport(AirView):
    """The printable page, in Home Assistant's language."""

    url = "/api/gatewright/{entry_id}/airflow"
    name = "api:gatewright:airflow"
    content_type = "text/html"

    @override
    async def write(self, hass: HomeAssistant, shop: AirShop, data: Data) -> str:
        when = date_and_time(dt_util.utcnow())
        texts = await ReportTexts.load(hass)
        return await hass.async_add_executor_job(
            page, shop, data, units_of(hass), when, texts
        )


class AirTable(AirView):
    """The same figures as comma-separated values for programs, with English columns."""

    url = "/api/gatewright/{entry_id}/airflow.csv"
    name = "api:gatewright:airflow:table"
    content_type = "text/csv"

    @override
    async def write(self, hass: HomeAssistant, shop: AirShop, data: Data) -> str:
        return table(data, units_of(hass))


def table(data: Data, units: AirUnits) -> str:
    """Return each combination as one row per machine served in it."""
    return csv_text(_rows(data, units))


def _rows(data: Data, units: AirUnits) -> Iterator[Row]:
    yield (
        "combination",
        "kind",
        "machine",
        f"flow ({units.flow.sign})",
        f"required ({units.flow.sign})",
        "enough",
        "verdict",
        f"collector flow ({units.flow.sign})",
        f"suction ({units.pressure.sign})",
        f"main velocity ({units.velocity.sign})",
        f"main needs ({units.velocity.sign})",
        "main ok",
        "main verdict",
        "slow in",
        "transit (s)",
    )
    rows = [(row["name"], "alone", [row], row) for row in data["machines"]]
    for row in data["pairs"]:
        name = " + ".join(machine["name"] for machine in row["machines"])
        rows.append((name, "together", row["machines"], row))
    rows += [
        (row["name"], row["kind"], [None], row)
        for row in data["combinations"]
        if row["kind"] in ("purge", "seen")
    ]
    for name, kind, machines, row in rows:
        for machine in machines:
            own: Row = ("", "", "", "", "")
            if machine is not None:
                own = (
                    machine["name"],
                    units.flow.number(machine["flow"]),
                    units.flow.number(machine["required"]),
                    _word(machine["enough"]),
                    machine["verdict"],
                )
            yield (
                name,
                kind,
                *own,
                units.flow.number(row.get("flow_at_fan", row["flow"])),
                units.pressure.number(row["suction"]),
                units.velocity.number(row["main_velocity"]),
                units.velocity.number(row["main_needed"]),
                _word(row["main_ok"]),
                row["main_verdict"],
                "; ".join(row["slow"]),
                round(row["transit"], 1),
            )


def _word(value: bool) -> str:
    return "yes" if value else "no"
