"""Serves the cards and the dashboard, and loads them on every frontend page."""

from hashlib import sha256
from pathlib import Path

from homeassistant.components import frontend
from homeassistant.components.http import StaticPathConfig
from homeassistant.core import HomeAssistant
from homeassistant.loader import async_get_integration

from ...const import DOMAIN
from .websocket import async_setup_websocket

_FOLDER = Path(__file__).parents[2] / "frontend"
_ENTRY = "gatewright.js"


async def async_setup_panel(hass: HomeAssistant) -> None:
    """Register the cards' commands and, if there's a frontend, the cards."""
    if frontend.DOMAIN not in hass.config.components:
        async_setup_websocket(hass, "")
        return
    integration = await async_get_integration(hass, DOMAIN)
    fingerprint = await hass.async_add_executor_job(_fingerprint)
    version = f"{integration.version}-{fingerprint}"
    async_setup_websocket(hass, version)
    # The version is in the path, not in a query: modules that import each other then
    # get new addresses as well, and no browser mixes old files with new ones.
    url = f"/{DOMAIN}_static/{version}"
    await hass.http.async_register_static_paths(
        [StaticPathConfig(url, str(_FOLDER), cache_headers=True)]
    )
    frontend.add_extra_js_url(hass, f"{url}/{_ENTRY}")


def _fingerprint() -> str:
    """Return a value that changes with any file of the frontend."""
    digest = sha256()
    for file in sorted(_FOLDER.rglob("*.js")):
        digest.update(file.relative_to(_FOLDER).as_posix().encode())
        digest.update(file.read_bytes())
    return digest.hexdigest()[:12]
