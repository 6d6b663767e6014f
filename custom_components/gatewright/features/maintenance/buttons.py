"""Buttons that report work as done: emptied, cleaned, replaced, serviced."""

from collections.abc import Callable
from typing import Any

from ..entities.descriptions import MAINTENANCE, ButtonDescription
from ..entities.subjects import CollectorSubject, ServiceSubject
from .config import replaces_filter
from .manager import MaintenanceManager


def _button(
    key: str,
    press: Callable[[MaintenanceManager], None],
    exists: Callable[[MaintenanceManager], bool],
    **more: Any,
) -> ButtonDescription[CollectorSubject]:
    return ButtonDescription(
        key=key,
        part=CollectorSubject,
        exists_fn=lambda c: exists(c.maintenance),
        press_fn=lambda c: press(c.maintenance),
        follows=MAINTENANCE,
        **more,
    )


def _has_filter(maintenance: MaintenanceManager) -> bool:
    return maintenance.keeper.filter is not None


BUTTONS: tuple[ButtonDescription[Any], ...] = (
    _button(
        "bin_emptied",
        MaintenanceManager.bin_emptied,
        lambda maintenance: maintenance.keeper.bin is not None,
    ),
    _button("filter_cleaned", MaintenanceManager.filter_cleaned, _has_filter),
    _button(
        "filter_replaced",
        MaintenanceManager.filter_replaced,
        _has_filter,
        # If the filter's life is known, the button asks for a new filter.
        enabled_fn=lambda c: replaces_filter(c.maintenance.keeper.plan),
    ),
    _button(
        "filter_clean",
        MaintenanceManager.clean_filter,
        lambda maintenance: maintenance.keeper.cleaning is not None,
    ),
    ButtonDescription(
        key="done",
        translation_key="service_done",
        part=ServiceSubject,
        press_fn=lambda service: service.maintenance.service_done(service.service_id),
    ),
)
