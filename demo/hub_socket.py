"""A websocket connection to Home Assistant: commands with answers, and subscriptions."""

import asyncio
from collections.abc import Callable
import contextlib
from itertools import count
from typing import Any, Self

import aiohttp


class CommandError(Exception):
    """Home Assistant refused a command; `code` is its short reason."""

    def __init__(self, command: str, error: dict[str, Any]) -> None:
        super().__init__(f"{command}: {error.get('code')}: {error.get('message')}")
        self.code = error.get("code")


class HubGoneError(ConnectionError):
    """The connection ended, as when Home Assistant stops."""


class HubSocket:
    """An open, signed-in connection."""

    def __init__(self, socket: aiohttp.ClientWebSocketResponse) -> None:
        self._socket = socket
        self._ids = count(1)
        self._waiting: dict[int, asyncio.Future[Any]] = {}
        self._subscribers: dict[int, Callable[[dict[str, Any]], None]] = {}
        self.closed = asyncio.Event()
        self._reader = asyncio.create_task(self._read())

    @classmethod
    async def connect(
        cls, session: aiohttp.ClientSession, url: str, token: str
    ) -> Self:
        """Open a connection and sign in."""
        # A list of all states is larger than the usual limit of one message.
        socket = await session.ws_connect(f"{url}/api/websocket", max_msg_size=0)
        await socket.receive_json()
        await socket.send_json({"type": "auth", "access_token": token})
        answer = await socket.receive_json()
        if answer["type"] != "auth_ok":
            await socket.close()
            raise HubGoneError(f"Home Assistant refuses the token: {answer}")
        return cls(socket)

    async def command(self, command: str, **fields: Any) -> Any:
        """Send a command and return its result; raises `CommandError` or `HubGoneError`."""
        return await self._send(next(self._ids), command, fields)

    async def subscribe(
        self, command: str, listen: Callable[[dict[str, Any]], None], **fields: Any
    ) -> None:
        """Send a command that subscribes to something, and pass on each of its events."""
        number = next(self._ids)
        self._subscribers[number] = listen
        await self._send(number, command, fields)

    async def close(self) -> None:
        """End the connection."""
        await self._socket.close()
        self._reader.cancel()
        with contextlib.suppress(asyncio.CancelledError):
            await self._reader

    async def _send(self, number: int, command: str, fields: dict[str, Any]) -> Any:
        if self.closed.is_set():
            raise HubGoneError(f"{command}: Home Assistant is gone")
        answer: asyncio.Future[Any] = asyncio.get_running_loop().create_future()
        self._waiting[number] = answer
        try:
            await self._socket.send_json({"id": number, "type": command, **fields})
            message = await answer
        except aiohttp.ClientError as err:
            raise HubGoneError(f"{command}: Home Assistant is gone") from err
        finally:
            self._waiting.pop(number, None)
        if not message["success"]:
            raise CommandError(command, message["error"])
        return message["result"]

    async def _read(self) -> None:
        """Pass each message to whoever waits for it."""
        try:
            async for frame in self._socket:
                if frame.type is not aiohttp.WSMsgType.TEXT:
                    continue
                content = frame.json()
                for message in content if isinstance(content, list) else [content]:
                    self._hand_over(message)
        finally:
            self.closed.set()
            for waiting in self._waiting.values():
                if not waiting.done():
                    waiting.set_exception(HubGoneError("Home Assistant is gone"))

    def _hand_over(self, message: dict[str, Any]) -> None:
        number = message.get("id", 0)
        if message["type"] == "event" and number in self._subscribers:
            self._subscribers[number](message["event"])
        elif message["type"] == "result" and number in self._waiting:
            waiting = self._waiting[number]
            if not waiting.done():
                waiting.set_result(message)
