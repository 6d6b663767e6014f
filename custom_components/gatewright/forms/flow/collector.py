"""The form of a system's collector; its pages are in `settings_pages`."""

from typing import Any, override

from homeassistant.config_entries import ConfigEntry
from homeassistant.core import HomeAssistant

from ... import const
from ...const import CONF_HAND_GATES, CONF_START_WHEN
from ...core.config import CollectorConfig, StartWhen
from ...features.airflow.readable_config import readable_data
from ...features.suggestions.measured import measured_spin_up
from ..entity_picker import COLLECTOR_POWER, COLLECTOR_SWITCH
from ..entity_usage import EntityUsage
from ..field import Answers, FormContext
from ..form import Form, Group
from ..kinds import BooleanField, ChoiceField, EntityField, NameField, PartsField
from ..names import taken_names
from ..numbers import FieldLimits, NumberField
from .collector_air import AIR, DRIVING
from .maintenance import MAINTENANCE
from .monitor_only import CONF_MONITOR_ONLY, WatchOnlyField
from .motor import MOTOR_GROUP
from .part_steps import gate_names
from .phones import PHONES
from .safety_inputs import WATCH

_USUAL = CollectorConfig(name="")


class _StartWhenField(ChoiceField):
    """When the collector starts: the choice can be changed, but not withdrawn.

    A repair may have set it while the form was open.
    """

    @property
    @override
    def owned(self) -> set[str]:
        return set()

    @override
    def dump(self, answers: Answers) -> str | None:
        # An older system that was never asked waits for its gate until its owner
        # decides.
        usual = StartWhen.GATE_OPENING.value if answers.context.new else None
        return super().dump(answers) or usual


COLLECTOR_GROUP = Group(
    "collector",
    NameField(required=True),
    EntityField(const.CONF_SWITCH, COLLECTOR_SWITCH, required=True),
    EntityField(const.CONF_POWER, COLLECTOR_POWER),
    BooleanField(const.CONF_HIDE_WRAPPED, required=True, default=True, new=True),
    WatchOnlyField(CONF_MONITOR_ONLY, required=True, default=False),
    collapsed=False,
)
"""Asked first: what the collector is."""

TIMING_GROUP = Group(
    "timing",
    _StartWhenField(
        CONF_START_WHEN,
        StartWhen,
        required=lambda context: bool(context.shown.get(CONF_START_WHEN)),
    ),
    NumberField(
        const.CONF_SHUTOFF_DELAY, FieldLimits(0, 600), usual=_USUAL.shutoff_delay
    ),
    NumberField(const.CONF_SPIN_DOWN, FieldLimits(0, 600), usual=_USUAL.spin_down),
    NumberField(const.CONF_START_DELAY, FieldLimits(0, 60), usual=_USUAL.start_delay),
    NumberField(const.CONF_CONFIRM, FieldLimits(1, 120), usual=_USUAL.confirm),
    NumberField(const.CONF_SPIN_UP, FieldLimits(0, 60)),
    about=lambda context: {
        "measured_spin_up": measured_spin_up(context.hass, context.system)
    },
)

COLLECTOR = Form(
    COLLECTOR_GROUP,
    MOTOR_GROUP,
    TIMING_GROUP,
    Group("by_hand", PartsField(CONF_HAND_GATES, unknown="unknown_gate")),
    WATCH,
    *MAINTENANCE,
    AIR,
    DRIVING,
    PHONES,
)


def collector_context(hass: HomeAssistant, entry: ConfigEntry[Any]) -> FormContext:
    """Return the form context of a system's collector."""
    return COLLECTOR.begun(
        FormContext(
            hass=hass,
            claims=EntityUsage(hass, entry),
            entry=entry,
            name=entry.title,
            new=False,
            stored=readable_data(entry),
            part_names=gate_names(entry),
            taken=taken_names(hass, entry.entry_id),
        )
    )
