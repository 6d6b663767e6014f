"""What a person says with a button: emptied, cleaned, replaced, seen to."""

from typing import Any

from ..descriptions import MAINTENANCE, ButtonDescription
from ..subjects import CollectorSubject, ServiceSubject

BUTTONS: tuple[ButtonDescription[Any], ...] = (
    ButtonDescription(
        key="bin_emptied",
        part=CollectorSubject,
        exists_fn=lambda collector: collector.maintenance.keeper.bin is not None,
        press_fn=lambda collector: collector.maintenance.bin_emptied(),
        follows=MAINTENANCE,
    ),
    ButtonDescription(
        key="filter_cleaned",
        part=CollectorSubject,
        exists_fn=lambda collector: collector.maintenance.keeper.filter is not None,
        press_fn=lambda collector: collector.maintenance.filter_cleaned(),
        follows=MAINTENANCE,
    ),
    ButtonDescription(
        key="filter_replaced",
        part=CollectorSubject,
        exists_fn=lambda collector: collector.maintenance.keeper.filter is not None,
        press_fn=lambda collector: collector.maintenance.filter_replaced(),
        follows=MAINTENANCE,
    ),
    ButtonDescription(
        key="filter_clean",
        part=CollectorSubject,
        exists_fn=lambda collector: collector.maintenance.keeper.cleaning is not None,
        press_fn=lambda collector: collector.maintenance.clean_filter(),
        follows=MAINTENANCE,
    ),
    ButtonDescription(
        key="done",
        translation_key="upkeep_service_done",
        part=ServiceSubject,
        press_fn=lambda service: service.maintenance.service_done(service.service_id),
    ),
)
