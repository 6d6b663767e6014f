"""The page about phones: whom to notify of what."""

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Any, ClassVar, Final, override

from homeassistant.core import HomeAssistant
from homeassistant.helpers import entity_registry as er
from homeassistant.helpers.selector import (
    EntitySelectorConfig,
    Selector,
    SelectSelector,
    SelectSelectorConfig,
    SelectSelectorMode,
    TimeSelector,
)

from ...const import (
    CONF_PHONE_BUTTONS,
    CONF_PHONE_CRITICAL,
    CONF_PHONE_SUMMARY_AT,
    CONF_PHONE_TOPICS,
    CONF_PHONES,
)
from ...core.stored.phones import PhoneTopic, StoredPhones, is_time
from ...runtime.entity_references import to_entity_id, to_stored
from ..field import Answers, Field, FormContext, Values
from ..form import Group
from ..kinds import BooleanField, SettingField
from ..selectors import OfferedEntity
from ..sensor_description import name_of

_NOTIFY: Final = "notify"
_USUAL: Final = StoredPhones()


class OfferedTime(TimeSelector):
    """A time of day that the form validates."""

    @override
    def __call__(self, data: Any) -> str:
        """Return the typed value."""
        return str(data)


@dataclass(frozen=True)
class _PhonesField(Field):
    """The notify entities that get messages."""

    faults: ClassVar[Iterable[str]] = ("no_phone",)

    @override
    def selector(self, context: FormContext, values: Values) -> Selector[Any]:
        offered = {state.entity_id for state in context.hass.states.async_all(_NOTIFY)}
        shown = context.shown.get(self.key) or ()
        return OfferedEntity(
            EntitySelectorConfig(
                include_entities=sorted(offered.union(shown)), multiple=True
            )
        )

    @override
    def load(self, context: FormContext) -> list[str]:
        stored = context.stored.get(self.key, ())
        found = (to_entity_id(context.hass, reference) for reference in stored)
        return [entity_id for entity_id in found if entity_id]

    @override
    def dump(self, answers: Answers) -> list[str] | None:
        hass = answers.context.hass
        kept = answers.context.shown.get(self.key) or ()
        picked = answers.typed.get(self.key) or ()
        for entity_id in picked:
            if entity_id not in kept and not _notifies(hass, entity_id):
                answers.refuse(self.key, "no_phone", name_of(hass, entity_id))
        return [to_stored(hass, entity_id) for entity_id in picked] or None


def _notifies(hass: HomeAssistant, entity_id: str) -> bool:
    known = hass.states.get(entity_id) or er.async_get(hass).async_get(entity_id)
    return known is not None and known.domain == _NOTIFY


@dataclass(frozen=True)
class _TopicsField(Field):
    """The topics of their messages."""

    @override
    def selector(self, context: FormContext, values: Values) -> Selector[Any]:
        return SelectSelector(
            SelectSelectorConfig(
                options=list(PhoneTopic),
                multiple=True,
                translation_key=CONF_PHONE_TOPICS,
                mode=SelectSelectorMode.LIST,
            )
        )

    @override
    def dump(self, answers: Answers) -> list[str]:
        chosen = answers.typed.get(self.key) or ()
        return [topic.value for topic in PhoneTopic if topic in chosen]


@dataclass(frozen=True)
class _TimeOfDayField(Field):
    """A time of day."""

    faults: ClassVar[Iterable[str]] = ("no_time",)

    @override
    def selector(self, context: FormContext, values: Values) -> Selector[Any]:
        return OfferedTime()

    @override
    def dump(self, answers: Answers) -> str | None:
        typed = answers.typed.get(self.key)
        if typed is not None and not is_time(typed):
            answers.refuse(self.key, "no_time")
            return None
        return typed


_TOPICS: Final = [topic.value for topic in _USUAL.topics]

PHONES = Group(
    "phones",
    _PhonesField(CONF_PHONES),
    _TopicsField(CONF_PHONE_TOPICS, new=_TOPICS, omit=_TOPICS),
    _TimeOfDayField(
        CONF_PHONE_SUMMARY_AT, new=_USUAL.summary_at, omit=_USUAL.summary_at
    ),
    SettingField(CONF_PHONE_CRITICAL, new=_USUAL.critical),
    BooleanField(CONF_PHONE_BUTTONS, new=_USUAL.buttons, omit=_USUAL.buttons),
)
