"""A system's set-up as a file to download, for administrators."""

import json
from typing import override

from aiohttp import web
from homeassistant.core import HomeAssistant, callback
from homeassistant.util import dt as dt_util, slugify

from ...runtime.permissions import Permission, Requester
from ...runtime.system_context import GatewrightConfigEntry
from ...runtime.web import SystemView, signed
from .exporting import exported


class SetupDownload(SystemView):
    """The set-up of one system."""

    url = "/api/gatewright/{entry_id}/setup.json"
    name = "api:gatewright:setup"
    deed = Permission.STORE

    @override
    async def answer(
        self, asker: Requester, entry: GatewrightConfigEntry
    ) -> web.Response:
        name = f"{slugify(entry.title)}_setup_{dt_util.now():%Y-%m-%d}.json"
        return web.Response(
            text=json.dumps(await exported(asker.hass, entry), indent=1),
            content_type="application/json",
            charset="utf-8",
            headers={"Content-Disposition": f'attachment; filename="{name}"'},
        )


@callback
def async_setup_download(hass: HomeAssistant) -> None:
    """Serve the file to signed-in users."""
    hass.http.register_view(SetupDownload)


@callback
def download(hass: HomeAssistant, entry_id: str) -> str | None:
    """Return the address of the file, signed for an hour; None without a server."""
    if "http" not in hass.config.components:
        return None
    return signed(hass, entry_id, SetupDownload)
