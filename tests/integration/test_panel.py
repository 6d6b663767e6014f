"""The cards' files have a URL that changes with them."""

from pathlib import Path
from unittest.mock import patch

from homeassistant.components.frontend import DATA_EXTRA_MODULE_URL
from homeassistant.core import HomeAssistant
from homeassistant.setup import async_setup_component
from pytest_homeassistant_custom_component.typing import (
    ClientSessionGenerator,
    WebSocketGenerator,
)

from custom_components.gatewright.features.cards import panel

from .workshop import Workshop, system_entry


async def test_every_page_loads_the_cards(
    hass: HomeAssistant,
    workshop: Workshop,
    hass_client: ClientSessionGenerator,
    hass_ws_client: WebSocketGenerator,
) -> None:
    assert await async_setup_component(hass, "frontend", {})
    await workshop.start(system_entry())
    ours = [url for url in hass.data[DATA_EXTRA_MODULE_URL].urls if "gatewright" in url]
    assert len(ours) == 1
    folder = ours[0].removesuffix("/gatewright.js")
    version = folder.rpartition("/")[2]
    assert version.startswith("0.")

    client = await hass_client()
    for file in ("gatewright.js", "i18n.js"):
        answer = await client.get(f"{folder}/{file}")
        assert answer.status == 200
        assert "javascript" in answer.headers["Content-Type"]
        assert "max-age" in answer.headers["Cache-Control"]
    assert (await client.get("/gatewright_static/0.0/gatewright.js")).status == 404

    socket = await hass_ws_client(hass)
    await socket.send_json_auto_id({"type": "gatewright/subscribe"})
    assert (await socket.receive_json())["success"]
    assert (await socket.receive_json())["event"]["version"] == version


def test_any_change_of_a_file_changes_the_address(tmp_path: Path) -> None:
    entry, words = tmp_path / "gatewright.js", tmp_path / "i18n.js"
    seen = []
    with patch.object(panel, "_FOLDER", tmp_path):
        for file, text in ((entry, "1"), (words, "2"), (words, "3"), (entry, "4")):
            file.write_text(text, "utf-8")
            seen.append(panel._fingerprint())
        entry.rename(tmp_path / "other.js")
        seen.append(panel._fingerprint())
    assert len(set(seen)) == len(seen)
