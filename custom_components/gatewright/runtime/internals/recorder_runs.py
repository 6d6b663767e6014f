"""When Home Assistant's recorder was stopped: a table of its own database."""

from homeassistant.core import HomeAssistant
from homeassistant.helpers.recorder import get_instance, session_scope


async def ends_of_runs(hass: HomeAssistant) -> list[float]:
    """Return when the recorder was stopped in order, as s since 1970.

    To be called within a `Reliance`: raises what a changed table makes it raise.
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

    # A column that is gone shows before the database is asked.
    ends = select(RecorderRuns.end).where(RecorderRuns.end.is_not(None))
    with session_scope(hass=hass, read_only=True) as session:
        return [process_timestamp(end).timestamp() for (end,) in session.execute(ends)]
