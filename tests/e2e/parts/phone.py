"""A phone registered with Home Assistant: a local server gets its pushes, and taps go back."""

from contextlib import AbstractAsyncContextManager
from types import TracebackType
from typing import Any, Self, override

from aiohttp import ClientSession, web

from demo.hub_client import HubClient, Json
from demo.ports import HOST

NAME = "Pocket"


class Phone(AbstractAsyncContextManager["Phone"]):
    """A phone with Home Assistant's companion app."""

    def __init__(self) -> None:
        """Unregistered; as an async context manager it can get pushes."""
        self.pushes: list[Json] = []
        self._webhook = ""

    @override
    async def __aenter__(self) -> Self:
        application = web.Application()
        application.router.add_post("/push", self._take)
        self._runner = web.AppRunner(application)
        await self._runner.setup()
        site = web.TCPSite(self._runner, HOST, 0)
        await site.start()
        self._push_url = f"http://{HOST}:{self._runner.addresses[0][1]}/push"
        return self

    @override
    async def __aexit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        await self._runner.cleanup()

    async def register(self, client: HubClient) -> str:
        """Sign in to Home Assistant as the app does; return the phone's device id."""
        answer = await client.request(
            "POST",
            "mobile_app/registrations",
            {
                "device_id": "pocket-1",
                "app_id": "workshop.pocket",
                "app_name": "Pocket app",
                "app_version": "1.0",
                "device_name": NAME,
                "manufacturer": "Alder",
                "model": "One",
                "os_name": "Pocket",
                "os_version": "1.0",
                "supports_encryption": False,
                "app_data": {"push_token": "t", "push_url": self._push_url},
            },
        )
        self._webhook = f"{client.url}/api/webhook/{answer['webhook_id']}"
        (device,) = [d for d in await client.devices() if d["name"] == NAME]
        device_id: str = device["id"]
        return device_id

    async def tap(self, push: Json, title: str) -> None:
        """Tap the button of a push with this label."""
        (action,) = [
            action["action"]
            for action in push["data"]["actions"]
            if action["title"] == title
        ]
        event: dict[str, Any] = {
            "type": "fire_event",
            "data": {
                "event_type": "mobile_app_notification_action",
                "event_data": {"action": action, "tag": push["data"]["tag"]},
            },
        }
        async with (
            ClientSession() as session,
            session.post(self._webhook, json=event) as answer,
        ):
            answer.raise_for_status()

    async def _take(self, request: web.Request) -> web.Response:
        self.pushes.append(await request.json())
        return web.json_response({}, status=201)
