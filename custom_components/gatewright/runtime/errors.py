"""Translated errors for refused requests."""

from homeassistant.exceptions import ServiceValidationError

from ..const import DOMAIN
from ..core.control.enums import RefusedError


def validation_error(key: str, **names: str) -> ServiceValidationError:
    """Return the error with the text `key` under `exceptions` and its placeholders."""
    return ServiceValidationError(
        translation_domain=DOMAIN, translation_key=key, translation_placeholders=names
    )


def refusal_error(err: RefusedError, name: str) -> ServiceValidationError:
    """Return the error that says why the shop refused something to `name`."""
    return validation_error(f"refused_{err.why.value}", name=name)
