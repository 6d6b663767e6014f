"""Selectors that leave validation to the form.

Home Assistant's own checks answer in English, one kind at a time, and can't point to a
field in a section. So these only offer; the form validates everything at once, with its
own texts.
"""

from collections.abc import Iterable, Mapping
from typing import Any, cast, override

from homeassistant.helpers.selector import (
    EntitySelector,
    EntitySelectorConfig,
    NumberSelector,
    SelectOptionDict,
    SelectSelector,
    SelectSelectorConfig,
    SelectSelectorMode,
    TextSelector,
)


class OfferedEntity(EntitySelector):
    """Offers a list of entities, but accepts any; the form validates them."""

    @override
    def __call__(self, data: Any) -> str | list[str]:
        """Return the chosen entity or entities, without duplicates."""
        config = EntitySelectorConfig(multiple=self.config["multiple"])
        return _once(EntitySelector(config)(data))


class OfferedChoice(SelectSelector):
    """A choice of several values, without duplicates."""

    @override
    def __call__(self, data: Any) -> Any:
        """Return what was chosen."""
        return _once(super().__call__(data))


class OfferedPart(SelectSelector):
    """Offers parts, but accepts any; the form validates them."""

    @override
    def __call__(self, data: Any) -> str:
        """Return the chosen part."""
        return str(data)


class OfferedTexts(TextSelector):
    """Any number of texts, without duplicates."""

    @override
    def __call__(self, data: Any) -> Any:
        """Return the typed texts."""
        return _once(super().__call__(data))


class OfferedNumber(NumberSelector):
    """Shows limits, but accepts any number; the form validates it."""

    @override
    def __call__(self, data: Any) -> float:
        """Return the number."""
        return NumberSelector()(data)


def _once[T](value: T) -> T:
    """Return a list without duplicates; anything else unchanged."""
    if isinstance(value, list):
        return cast("T", list(dict.fromkeys(value)))
    return value


def choice_field(name: str, options: Iterable[str]) -> SelectSelector:
    """Return a choice of several words, translated under `selector.<name>`."""
    return SelectSelector(
        SelectSelectorConfig(
            options=list(options),
            translation_key=name,
            mode=SelectSelectorMode.DROPDOWN,
        )
    )


def parts_field(parts: Mapping[str, str]) -> SelectSelector:
    """Return a choice of any of the gates or machines, by id."""
    return OfferedChoice(
        SelectSelectorConfig(
            options=part_options(parts),
            multiple=True,
            mode=SelectSelectorMode.DROPDOWN,
        )
    )


def part_options(parts: Mapping[str, str]) -> list[SelectOptionDict]:
    """Return parts, by id, as options in the order of their names."""
    return [
        SelectOptionDict(value=part_id, label=name)
        for part_id, name in sorted(parts.items(), key=lambda item: item[1])
    ]


def states_field(known: Iterable[str]) -> SelectSelector:
    """Return a choice of an entity's states; others can be typed."""
    return OfferedChoice(
        SelectSelectorConfig(
            options=list(known),
            multiple=True,
            custom_value=True,
            mode=SelectSelectorMode.DROPDOWN,
        )
    )
