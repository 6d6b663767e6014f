"""Fills in Home Assistant's forms like a person: a field keeps what it shows unless changed."""

from collections.abc import Awaitable, Callable, Iterator, Mapping
from typing import Any, Self

from .hub_client import HubClient, Json

type Send = Callable[[Json, Mapping[str, Any]], Awaitable[Json]]


SAVED = "init"
"""The step after a page of settings: their menu."""


class FormError(Exception):
    """A form rejected the answers, or isn't the expected one."""


class Form:
    """The forms for adding or changing one thing, one after the other."""

    def __init__(self, step: Json, send: Send) -> None:
        self._step = step
        self._send = send
        self.filled = 0
        """How many forms were filled in."""

    @classmethod
    async def add(cls, client: HubClient, domain: str) -> Self:
        """Open the forms that add an integration."""
        return cls(await client.start_flow(domain), client.next_step)

    @classmethod
    async def settings(cls, client: HubClient, entry_id: str, page: str) -> Self:
        """Open a page of the entry's settings; `airflow/fan` is one in a submenu."""
        form = cls(await client.start_options(entry_id), client.next_options_step)
        for option in page.split("/"):
            await form.choose(option)
        return form

    @classmethod
    async def add_part(cls, client: HubClient, entry_id: str, kind: str) -> Self:
        """Open the form that adds one part to it."""
        step = await client.start_subentry_flow(entry_id, kind)
        return cls(step, client.next_subentry_step)

    @classmethod
    async def change_part(
        cls, client: HubClient, entry_id: str, kind: str, part_id: str, page: str
    ) -> Self:
        """Open a page of the form that changes one part of it."""
        step = await client.start_subentry_flow(entry_id, kind, part_id)
        form = cls(step, client.next_subentry_step)
        if form.step == "reconfigure":
            await form.choose(page)
        return form

    @classmethod
    async def repair(cls, client: HubClient, issue: Json) -> Self:
        """Open the form that repairs something."""
        return cls(await client.start_repair(issue), client.next_repair_step)

    @property
    def step(self) -> str:
        """Return the name of the present step; the flow's result if it has ended."""
        if self._step["type"] in {"form", "menu"}:
            return str(self._step["step_id"])
        return str(self._step.get("reason", self._step["type"]))

    @property
    def result(self) -> Json:
        """Return the result of the last form."""
        return self._step

    def placeholder(self, name: str) -> str:
        """Return a placeholder of the form's texts."""
        return str(self._step["description_placeholders"][name])

    def shown(self, name: str) -> Any:
        """Return what a field shows; None if it is empty."""
        return self._shown(self._field(name))

    def offered(self, name: str) -> list[str]:
        """Return the entities that a field offers."""
        entities: list[str] = self._field(name)["selector"]["entity"][
            "include_entities"
        ]
        return entities

    def choices(self, name: str) -> dict[str, str]:
        """Return a field's options, by their labels."""
        options = self._field(name)["selector"]["select"]["options"]
        return {option["label"]: option["value"] for option in options}

    async def fill(self, **answers: Any) -> None:
        """Submit the form with some answers; raises `FormError` if it's rejected.

        Fields without an answer keep what the form shows, and an answer of None empties
        its field.
        """
        if unknown := set(answers) - {field["name"] for _, field in self._fields()}:
            raise FormError(f"{self.step} does not ask for {', '.join(unknown)}")
        filled: Json = {}
        for section, field in self._fields():
            name = field["name"]
            value = answers[name] if name in answers else self._shown(field)
            place = filled if section is None else filled.setdefault(section, {})
            if value is not None:
                place[name] = value
        await self._go_on(filled)

    async def choose(self, option: str) -> None:
        """Choose from a menu."""
        await self._go_on({"next_step_id": option})

    async def _go_on(self, answers: Json) -> None:
        asked = self.step
        self._step = await self._send(self._step, answers)
        self.filled += 1
        if errors := self._step.get("errors"):
            raise FormError(f"{asked} does not take {answers}: {errors}")

    def _fields(self) -> Iterator[tuple[str | None, Json]]:
        """Yield each field with the section that holds it."""
        for field in self._step.get("data_schema") or ():
            if field.get("type") == "expandable":
                for inner in field["schema"]:
                    yield field["name"], inner
            else:
                yield None, field

    def _field(self, name: str) -> Json:
        for _, field in self._fields():
            if field["name"] == name:
                return field
        raise FormError(f"{self.step} does not ask for {name}")

    @staticmethod
    def _shown(field: Json) -> Any:
        described = field.get("description") or {}
        return described.get("suggested_value", field.get("default"))
