"""The virtual workshop in a real Home Assistant process: it reacts, and it survives the process."""

from pathlib import Path
import time

import aiohttp
import pytest

from demo.hub import Hub, HubError
from demo.hub_client import RequestError
from demo.hub_directory import HubDirectory, prepare, reopen
from demo.hub_socket import CommandError, HubGoneError
from demo.hub_states import PATIENCE


@pytest.fixture
def directory(tmp_path: Path) -> HubDirectory:
    """Prepare a Home Assistant with nothing but the workshop."""
    return prepare(tmp_path / "hub", components=["virtual_workshop"])


async def sign_in_as_a_visitor(url: str) -> str:
    """Do what the page does for a visitor; return the resulting token."""
    client = {"client_id": f"{url}/"}
    async with aiohttp.ClientSession() as session:
        async with session.get(f"{url}/auth/providers") as answer:
            providers = (await answer.json())["providers"]
        # The page takes the first one.
        first = providers[0]
        assert first["type"] == "trusted_networks"
        flow = {
            **client,
            "handler": [first["type"], first["id"]],
            "redirect_uri": f"{url}/?auth_callback=1",
        }
        async with session.post(f"{url}/auth/login_flow", json=flow) as answer:
            step = await answer.json()
        assert step["type"] == "create_entry", step
        grant = {**client, "grant_type": "authorization_code", "code": step["result"]}
        async with session.post(f"{url}/auth/token", data=grant) as answer:
            token: str = (await answer.json())["access_token"]
    return token


async def test_a_working_day_with_two_restarts(directory: HubDirectory) -> None:
    hub = Hub(directory)
    async with hub:
        async with hub.client() as client:
            states = client.states
            await states.until(
                lambda: "valve.machine_room_planer_gate_actuator" in states
            )
            ids = await client.entity_ids("virtual_workshop")
            power, gate = ids["planer_power"], ids["planer_gate_actuator"]
            assert power == "sensor.machine_room_planer_plug_power"
            await states.until(lambda: states.number(power) is not None)
            assert 15 < (states.number(power) or 0) < 30

            await client.call("virtual_workshop.run_machine", machine="planer")
            reaction = await states.until(lambda: (states.number(power) or 0) > 1000, 5)
            # The plug measures once a second, and Home Assistant gets another one.
            assert reaction < 2.0 * PATIENCE

            began = time.monotonic()
            await client.call("valve.open_valve", gate)
            await states.until_state(gate, "open", 10)
            assert time.monotonic() - began > 3.0
            seen = [change.new for change in states.history(gate)]
            assert seen[-2:] == ["opening", "open"]

            await client.call("switch.turn_on", ids["collector_relay"])
            speed = ids["collector_speed"]
            await states.until(lambda: (states.number(speed) or 0) > 2700, 10)
            before = await client.truth()
            assert before["starts_none_open"] == 0

            await client.call(
                "virtual_workshop.break", part="jointer_gate", fault="command_error"
            )
            with pytest.raises(CommandError, match="did not answer"):
                await client.call("cover.open_cover", ids["jointer_gate_actuator"])
            with pytest.raises(RequestError, match="404"):
                await client.request("GET", "nothing")
            with pytest.raises(HubError, match="runs already"):
                await hub.start()

            # A proper restart, which an open connection notices.
            await hub.stop()
            with pytest.raises(HubGoneError):
                await states.until(lambda: False, 10)

        await hub.start()
        async with hub.client() as client:
            states = client.states
            await states.until(lambda: (states.number(power) or 0) > 1000, 10)
            assert states.state(gate) == "open"
            assert states.state(ids["collector_relay"]) == "on"
            after = await client.truth()
            gone = after["now"] - before["now"]
            ran = (
                after["machines"]["planer"]["with_air"]
                - before["machines"]["planer"]["with_air"]
            )
            assert ran == pytest.approx(gone, abs=0.01)
            assert after["motor_starts"] == 1
            assert after["standing"]["faults"] == {"jointer_gate": ["command_error"]}

            # A command reaches the world before it's answered, even if the plug is pulled then.
            await client.call("virtual_workshop.stop_machine", machine="planer")
            await client.call("switch.turn_off", ids["collector_relay"])
        hub.kill()
        assert hub.pid is None
        assert await hub.stop() == 0.0

        # Another program finds the prepared directory again.
        hub = Hub(reopen(directory.path))
    async with hub:
        async with hub.client() as client:
            await client.states.until_state(ids["collector_relay"], "off", 10)
            record = await client.truth()
            assert record["standing"]["machines"]["planer"]["running"] is False
            assert record["commands"]["collector"] == {"on": 1, "off": 1}
            assert record["turning_all_shut"] == 0

        token = await sign_in_as_a_visitor(directory.url)
        async with aiohttp.ClientSession(
            headers={"Authorization": f"Bearer {token}"}
        ) as session:
            async with session.get(f"{directory.url}/api/config") as answer:
                assert (await answer.json())["location_name"] == "Alder Yard"
            async with session.get(directory.url) as answer:
                assert "<home-assistant>" in await answer.text()
        troubles = hub.troubles(all_starts=True)
        # The command that was made to fail is in the log, and nothing else.
        assert len(troubles) == 1, troubles
        assert troubles[0].text.endswith("jointer_gate did not answer")
        await hub.stop()


async def test_home_assistant_that_cannot_start_says_why(
    directory: HubDirectory,
) -> None:
    (directory.path / "configuration.yaml").write_text("homeassistant: [", "utf-8")
    hub = Hub(directory, hass=Path("/bin/false"))
    with pytest.raises(HubError, match="ended at once"):
        await hub.start()
