"""Talks to a running Home Assistant: single requests over REST, subscriptions over a websocket."""

from collections.abc import Collection, Mapping
from types import TracebackType
from typing import Any, Self

import aiohttp

from .hub_socket import HubSocket
from .hub_states import StateWatch

type Json = dict[str, Any]


class RequestError(Exception):
    """Home Assistant refused a request; the message has its answer."""

    def __init__(self, method: str, path: str, status: int, answer: str) -> None:
        super().__init__(f"{method} {path}: {status} {answer}")
        self.status = status
        self.answer = answer


class HubClient:
    """A signed-in client. Use it as an async context manager: it then has `socket` and `states`."""

    socket: HubSocket
    states: StateWatch

    def __init__(self, url: str, token: str) -> None:
        self.url = url
        self._token = token

    async def __aenter__(self) -> Self:
        """Connect, and subscribe to all states."""
        self._session = aiohttp.ClientSession(
            headers={"Authorization": f"Bearer {self._token}"},
            timeout=aiohttp.ClientTimeout(60),
        )
        try:
            self.socket = await HubSocket.connect(self._session, self.url, self._token)
            self.states = await StateWatch.start(self.socket)
        except BaseException:
            await self._session.close()
            raise
        return self

    async def __aexit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        """Disconnect."""
        await self.socket.close()
        await self._session.close()

    async def request(
        self, method: str, path: str, body: Mapping[str, Any] | None = None
    ) -> Any:
        """Send a REST request below `/api/`; return the answer. Raises `RequestError`."""
        async with self._session.request(
            method, f"{self.url}/api/{path}", json=body
        ) as answer:
            if not answer.ok:
                raise RequestError(method, path, answer.status, await answer.text())
            return await answer.json()

    async def call(
        self,
        action: str,
        entity_id: str | list[str] | None = None,
        /,
        **data: Any,
    ) -> Json:
        """Call an action such as `cover.open_cover`, and wait until it's done; return its response, if any.

        Raises `CommandError` if the action fails.
        """
        domain, service = action.split(".")
        target = {} if entity_id is None else {"entity_id": entity_id}
        answer: Json = await self.socket.command(
            "call_service",
            domain=domain,
            service=service,
            service_data=data,
            target=target,
        )
        return answer

    async def ask(self, action: str, /, **data: Any) -> Json:
        """Call an action for its response."""
        domain, service = action.split(".")
        answer = await self.socket.command(
            "call_service",
            domain=domain,
            service=service,
            service_data=data,
            return_response=True,
        )
        response: Json = answer["response"]
        return response

    async def truth(self) -> Json:
        """Return the record of the virtual workshop."""
        return await self.ask("virtual_workshop.get_truth")

    async def converse(self, text: str, language: str = "en") -> Json:
        """Say a sentence to Home Assistant's voice assistant; return its response."""
        answer = await self.request(
            "POST", "conversation/process", {"text": text, "language": language}
        )
        response: Json = answer["response"]
        return response

    # Setting up

    async def start_flow(self, domain: str) -> Json:
        """Start to add an integration; return the first step."""
        step: Json = await self.request(
            "POST", "config/config_entries/flow", {"handler": domain}
        )
        return step

    async def next_step(self, step: Json, answers: Mapping[str, Any]) -> Json:
        """Fill in a step of a flow; return the next one."""
        following: Json = await self.request(
            "POST", f"config/config_entries/flow/{step['flow_id']}", answers
        )
        return following

    async def start_subentry_flow(
        self, entry_id: str, kind: str, subentry_id: str | None = None
    ) -> Json:
        """Start to add or change a subentry of some kind; return the first step."""
        body: Json = {"handler": [entry_id, kind]}
        if subentry_id is not None:
            body["subentry_id"] = subentry_id
        step: Json = await self.request(
            "POST", "config/config_entries/subentries/flow", body
        )
        return step

    async def next_subentry_step(self, step: Json, answers: Mapping[str, Any]) -> Json:
        """Fill in a step of a subentry flow; return the next one."""
        following: Json = await self.request(
            "POST", f"config/config_entries/subentries/flow/{step['flow_id']}", answers
        )
        return following

    async def start_options(self, entry_id: str) -> Json:
        """Start to change an entry's options; return the first step."""
        step: Json = await self.request(
            "POST", "config/config_entries/options/flow", {"handler": entry_id}
        )
        return step

    async def next_options_step(self, step: Json, answers: Mapping[str, Any]) -> Json:
        """Fill in a step of an options flow; return the next one."""
        following: Json = await self.request(
            "POST", f"config/config_entries/options/flow/{step['flow_id']}", answers
        )
        return following

    async def issues(self, domain: str) -> list[Json]:
        """Return an integration's repair issues."""
        found: Json = await self.socket.command("repairs/list_issues")
        return [issue for issue in found["issues"] if issue["domain"] == domain]

    async def start_repair(self, issue: Json) -> Json:
        """Start a repair; return the first step."""
        step: Json = await self.request(
            "POST",
            "repairs/issues/fix",
            {"handler": issue["domain"], "issue_id": issue["issue_id"]},
        )
        return step

    async def next_repair_step(self, step: Json, answers: Mapping[str, Any]) -> Json:
        """Fill in a step of a repair; return the next one."""
        following: Json = await self.request(
            "POST", f"repairs/issues/fix/{step['flow_id']}", answers
        )
        return following

    async def entries(self, domain: str | None = None) -> list[Json]:
        """Return the config entries, of one domain if given."""
        fields = {} if domain is None else {"domain": domain}
        entries: list[Json] = await self.socket.command("config_entries/get", **fields)
        return entries

    async def subentries(self, entry_id: str) -> list[Json]:
        """Return the subentries of an entry."""
        found: list[Json] = await self.socket.command(
            "config_entries/subentries/list", entry_id=entry_id
        )
        return found

    async def remove_subentry(self, entry_id: str, subentry_id: str) -> None:
        """Remove a subentry."""
        await self.socket.command(
            "config_entries/subentries/delete",
            entry_id=entry_id,
            subentry_id=subentry_id,
        )

    async def reload_entry(self, entry_id: str) -> None:
        """Reload a config entry, and wait for it."""
        await self.request("POST", f"config/config_entries/entry/{entry_id}/reload")

    async def remove_entry(self, entry_id: str) -> None:
        """Remove a config entry."""
        await self.request("DELETE", f"config/config_entries/entry/{entry_id}")

    async def entities(self) -> list[Json]:
        """Return the entity registry."""
        found: list[Json] = await self.socket.command("config/entity_registry/list")
        return found

    async def entity_ids(self, platform: str) -> dict[str, str]:
        """Return the entity ids of one integration, by unique id."""
        return {
            entity["unique_id"]: entity["entity_id"]
            for entity in await self.entities()
            if entity["platform"] == platform
        }

    async def enabled(self, platform: str) -> list[str]:
        """Return the enabled entities of one integration."""
        return [
            entity["entity_id"]
            for entity in await self.entities()
            if entity["platform"] == platform and entity["disabled_by"] is None
        ]

    async def enable(self, entity_ids: Collection[str]) -> None:
        """Enable entities, and wait until they exist."""
        for entity_id in entity_ids:
            await self.socket.command(
                "config/entity_registry/update", entity_id=entity_id, disabled_by=None
            )
        await self.states.until(
            lambda: all(entity_id in self.states for entity_id in entity_ids),
            40,
            what="the entities that were enabled",
        )

    async def devices(self) -> list[Json]:
        """Return the device registry."""
        found: list[Json] = await self.socket.command("config/device_registry/list")
        return found

    async def areas(self) -> list[Json]:
        """Return the area registry."""
        found: list[Json] = await self.socket.command("config/area_registry/list")
        return found
