"""What a person says with a button: emptied, cleaned, replaced, seen to."""

from collections.abc import Callable
from typing import Any

from ..descriptions import MAINTENANCE, ButtonDescription
from ..subjects import CollectorSubject, ServiceSubject
from .hub import UpkeepHub


def _button(
    key: str, press: Callable[[UpkeepHub], None], exists: Callable[[UpkeepHub], bool]
) -> ButtonDescription[CollectorSubject]:
    return ButtonDescription(
        key=key,
        part=CollectorSubject,
        exists_fn=lambda c: exists(c.maintenance),
        press_fn=lambda c: press(c.maintenance),
        follows=MAINTENANCE,
    )


def _has_filter(hub: UpkeepHub) -> bool:
    return hub.keeper.filter is not None


BUTTONS: tuple[ButtonDescription[Any], ...] = (
    _button(
        "bin_emptied", UpkeepHub.bin_emptied, lambda hub: hub.keeper.bin is not None
    ),
    _button("filter_cleaned", UpkeepHub.filter_cleaned, _has_filter),
    _button("filter_replaced", UpkeepHub.filter_replaced, _has_filter),
    _button(
        "filter_clean",
        UpkeepHub.clean_filter,
        lambda hub: hub.keeper.cleaning is not None,
    ),
    ButtonDescription(
        key="done",
        translation_key="service_done",
        part=ServiceSubject,
        press_fn=lambda service: service.maintenance.service_done(service.service_id),
    ),
)
