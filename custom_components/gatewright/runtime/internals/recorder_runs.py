"""When Home Assistant's recorder stopped: a table of its own database."""

from homeassistant.core import HomeAssistant
from homeassistant.helpers.recorder import get_instance, session_scope


async def ends_of_runs(hass: HomeAssistant) -> list[float]:
    """Return when the recorder was stopped properly, as s since 1970.

    Call it within a `Reliance`: it raises whatever a changed table causes.
    """
    return await get_instance(hass).async_add_executor_job(_ends, hass)


def _ends(hass: HomeAssistant) -> list[float]:
    # Not loaded before Home Assistant has a recorder.
    from homeassistant.components.recorder.db_schema import (  # noqa: PLC0415
        RecorderRuns,
    )
    from homeassistant.components.recorder.models import (  # noqa: PLC0415
        process_timestamp,
    )
    from sqlalchemy import select  # noqa: PLC0415

    # A missing column shows before the database is queried.
    ends = select(RecorderRuns.end).where(RecorderRuns.end.is_not(None))
    with session_scope(hass=hass, read_only=True) as session:
        return [process_timestamp(end).timestamp() for (end,) in session.execute(ends)]
