"""The shapes that the platform requires of texts, icons and descriptions.

A shape is called with a value and its location, and yields what is wrong with it.
Written from what the platform's own checker looks for (spring of 2026, checked against
Home Assistant 2026.10.4); like there, whatever isn't in a shape is an error.
"""

from collections.abc import Callable, Iterator, Mapping
import re
from string import Formatter
from typing import Any

import homeassistant.helpers.config_validation as cv
from homeassistant.helpers.selector import TargetSelector, validate_selector
import voluptuous as vol

type Shape = Callable[[Any, str], Iterator[str]]

KEY = re.compile(r"[a-z0-9]+(?:[_-][a-z0-9]+)*")
MARKUP = re.compile(r"<[a-zA-Z/][^>]*>")
"""No markup in a translated text."""
QUOTED = re.compile(r"'\{\w+\}'")
"""An apostrophe begins a literal in the message format."""
ADDRESS = re.compile(r"(?i)\b(?:https?|wss?|mqtts?|ftps?|scp)://|\bwww\.")
"""A URL is a placeholder, so that no translator changes it."""


def text(value: Any, path: str, filled: bool = True) -> Iterator[str]:
    """Check a text for people; `filled`: placeholders are allowed."""
    if not isinstance(value, str) or not value:
        yield f"{path}: not a text"
        return
    if value != value.strip():
        yield f"{path}: space at an end"
    if MARKUP.search(value):
        yield f"{path}: markup"
    if QUOTED.search(value):
        yield f"{path}: a placeholder in quotes"
    if ADDRESS.search(value):
        yield f"{path}: an address"
    if "[%" in value or "%]" in value:
        yield f"{path}: a reference, which only the platform's own texts can have"
    try:
        names = [name for _, name, _, _ in Formatter().parse(value) if name is not None]
    except ValueError as mistake:
        yield f"{path}: {mistake}"
        return
    for name in names:
        if not filled:
            yield f"{path}: nothing is filled in here"
        elif not name.isidentifier():
            yield f"{path}: {{{name}}} is no name"


def fixed(value: Any, path: str) -> Iterator[str]:
    """Check a text without placeholders."""
    return text(value, path, filled=False)


def icon(value: Any, path: str) -> Iterator[str]:
    """Check the name of an icon."""
    if not isinstance(value, str) or not re.fullmatch(r"mdi:[a-z0-9-]+", value):
        yield f"{path}: not an icon"


def each(shape: Shape) -> Shape:
    """Return the shape of a table with keys of our own."""

    def check(value: Any, path: str) -> Iterator[str]:
        if not isinstance(value, dict):
            yield f"{path}: not a table"
            return
        for key, inner in value.items():
            if not isinstance(key, str) or not KEY.fullmatch(key):
                yield f"{path}.{key}: not a key"
            yield from shape(inner, f"{path}.{key}")

    return check


def table(needed: Mapping[str, Shape] = {}, more: Mapping[str, Shape] = {}) -> Shape:
    """Return the shape of a table with these keys and no others."""
    known = {**needed, **more}

    def check(value: Any, path: str) -> Iterator[str]:
        if not isinstance(value, dict):
            yield f"{path}: not a table"
            return
        for key in needed.keys() - value.keys():
            yield f"{path}.{key}: missing"
        for key, inner in value.items():
            if key in known:
                yield from known[key](inner, f"{path}.{key}")
            else:
                yield f"{path}.{key}: has no place here"

    return check


def both(*shapes: Shape) -> Shape:
    """Return the shape that is all of these."""

    def check(value: Any, path: str) -> Iterator[str]:
        for shape in shapes:
            yield from shape(value, path)

    return check


def accepted(schema: Callable[[Any], Any]) -> Shape:
    """Return the shape of what a validator accepts."""

    def check(value: Any, path: str) -> Iterator[str]:
        try:
            schema(value)
        except vol.Invalid as mistake:
            yield f"{path}: {mistake}"

    return check


def anything(value: Any, path: str) -> Iterator[str]:
    """Check that there is something."""
    if value is None:
        yield f"{path}: empty"


# Texts ----------------------------------------------------------------------------------


def _described_fields_exist(value: Any, path: str) -> Iterator[str]:
    for part in (value, *value.get("sections", {}).values()):
        for key in (
            part.get("data_description", {}).keys() - part.get("data", {}).keys()
        ):
            yield f"{path}: describes {key}, which is no field"


FIELDS: Mapping[str, Shape] = {
    "data": each(text),
    "data_description": each(text),
    "description": text,
}
STEP = both(
    table(
        more={
            **FIELDS,
            "title": text,
            "submit": text,
            "menu_options": each(text),
            "menu_option_descriptions": each(text),
            "sections": each(table(more={**FIELDS, "name": text})),
        }
    ),
    _described_fields_exist,
)
FORM: Mapping[str, Shape] = {
    "flow_title": text,
    "error": each(text),
    "abort": each(text),
    "progress": each(text),
    "create_entry": each(text),
}
FLOW = table(
    needed={"step": each(STEP)},
    more={**FORM, "initiate_flow": table({"user": text})},
)
SUBENTRY_FLOW = table(
    needed={
        "step": each(STEP),
        "entry_type": text,
        "initiate_flow": table({"user": text}, {"reconfigure": text}),
    },
    more=FORM,
)


def issue(value: Any, path: str) -> Iterator[str]:
    """Check an issue: it has either a description or a fix flow."""
    if len({"description", "fix_flow"} & value.keys()) != 1:
        yield f"{path}: either a description or a form"
    yield from table({"title": text}, {"description": text, "fix_flow": FLOW})(
        value, path
    )


FIELD_TEXTS = each(table({"name": text}, {"description": text, "example": text}))
EVENT_TEXTS = each(table({"name": text, "description": text}, {"fields": FIELD_TEXTS}))
STATES = each(fixed)
TEXTS = table(
    more={
        "title": text,
        "config": FLOW,
        "options": FLOW,
        "config_subentries": each(SUBENTRY_FLOW),
        "selector": each(
            table(
                more={
                    "options": each(text),
                    "choices": each(text),
                    "unit_of_measurement": each(text),
                    "fields": each(table({"name": text}, {"description": text})),
                }
            )
        ),
        "entity": each(
            each(
                table(
                    more={
                        "name": text,
                        "state": STATES,
                        "state_attributes": each(
                            table(more={"name": fixed, "state": STATES})
                        ),
                        "unit_of_measurement": fixed,
                    }
                )
            )
        ),
        "device": each(table({"name": text})),
        # Deeper trees are possible; ours has two levels.
        "config_panel": each(each(text)),
        "exceptions": each(table({"message": text})),
        "issues": each(issue),
        "services": each(
            table(
                {"name": text, "description": text},
                {
                    "fields": FIELD_TEXTS,
                    "sections": each(table({"name": text}, {"description": text})),
                },
            )
        ),
        "triggers": EVENT_TEXTS,
        "conditions": EVENT_TEXTS,
        "system_health": table({"info": each(text)}),
        "common": each(text),
    }
)
"""The texts of an integration, in any language."""


# Icons ----------------------------------------------------------------------------------


def _own_states(value: Any, path: str) -> Iterator[str]:
    for state, shown in value.get("state", {}).items():
        if shown == value.get("default"):
            yield f"{path}.state.{state}: the same as at any other time"


def _rising(value: Any, path: str) -> Iterator[str]:
    try:
        steps = [float(step) for step in value]
    except ValueError:
        yield f"{path}: not numbers"
        return
    if steps != sorted(steps):
        yield f"{path}: not in their order"
    for step, shown in value.items():
        yield from icon(shown, f"{path}.{step}")


PICTURED = both(
    table(more={"default": icon, "state": each(icon), "range": _rising}), _own_states
)
ICONS = table(
    more={
        "entity": each(
            each(
                both(
                    table(
                        {"default": icon},
                        {
                            "state": each(icon),
                            "range": _rising,
                            "state_attributes": each(PICTURED),
                        },
                    ),
                    _own_states,
                )
            )
        ),
        "services": each(table(more={"service": icon, "sections": each(icon)})),
        "triggers": each(table({"trigger": icon})),
        "conditions": each(table({"condition": icon})),
    }
)
"""The icons of an integration."""


# Actions, triggers and conditions -------------------------------------------------------

FIELD: Mapping[str, Shape] = {
    "required": accepted(vol.Schema(bool)),
    "default": anything,
    "example": anything,
}
SELECTED: Mapping[str, Shape] = {"selector": accepted(validate_selector)}


def _no_device(value: Any, path: str) -> Iterator[str]:
    # An action is for entities; a filter of devices would be ignored.
    if "device" in value:
        yield f"{path}.device: an action cannot choose devices"


def _or_empty(shape: Shape) -> Shape:
    def check(value: Any, path: str) -> Iterator[str]:
        if value is not None:
            yield from shape(value, path)

    return check


TARGET = accepted(TargetSelector.CONFIG_SCHEMA)
ACTIONS = each(
    _or_empty(
        table(
            more={
                "target": both(TARGET, _no_device),
                "fields": each(table(SELECTED, FIELD)),
            }
        )
    )
)
"""services.yaml, of actions without folded sections or filters: we have none."""
EVENTS = each(
    _or_empty(table({"target": TARGET}, {"fields": each(table(SELECTED, FIELD))}))
)
"""triggers.yaml and conditions.yaml, without what is only an anchor."""


# The manifest ---------------------------------------------------------------------------


def _ours(value: Any, path: str) -> Iterator[str]:
    if not str(value).startswith("https://"):
        yield f"{path}: not a safe address"
    elif re.match(r"https://(?:www\.)?home-assistant\.io/", value):
        yield f"{path}: the platform's own documentation"


MANIFEST = table(
    {
        "domain": accepted(cv.slug),
        "name": text,
        "codeowners": accepted(vol.Schema([vol.Match(r"@\S+$")])),
        "documentation": both(accepted(vol.Url()), _ours),
        "integration_type": accepted(vol.In(("device", "helper", "hub", "service"))),
        "iot_class": accepted(
            vol.In(
                (
                    "assumed_state",
                    "calculated",
                    "cloud_polling",
                    "cloud_push",
                    "local_polling",
                    "local_push",
                )
            )
        ),
        "issue_tracker": both(accepted(vol.Url()), _ours),
        "version": accepted(vol.Match(r"\d+\.\d+\.\d+$")),
    },
    {
        "after_dependencies": accepted(vol.Schema([str])),
        "config_flow": accepted(vol.Schema(bool)),
        "dependencies": accepted(vol.Schema([str])),
        "loggers": accepted(vol.Schema([str])),
        "single_config_entry": accepted(vol.Schema(bool)),
    },
)
"""manifest.json of a custom integration without requirements and without discovery."""
