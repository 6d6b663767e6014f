"""What is stored of a system, typed: one table of fields, one reader, one writer.

Start with `config.py`. Home Assistant keeps the settings of a system as plain data; a
field of it is declared once, in `system.py` or `parts.py`. All values are SI units and
seconds unless a field says otherwise.
"""

from .config import EntryLike, StoredConfig, Unread, read_config, read_part, read_parts
from .parts import (
    IN_DUCT,
    StoredDuct,
    StoredElbow,
    StoredGate,
    StoredMachine,
    StoredPart,
    StoredPurge,
)
from .system import (
    DischargeKind,
    StoredAir,
    StoredDrive,
    StoredService,
    StoredSystem,
)
from .table import (
    Stored,
    UnreadableError,
    defaults_of,
    keys_of,
    readable_in,
    unreadable_in,
)

__all__ = [
    "IN_DUCT",
    "DischargeKind",
    "EntryLike",
    "Stored",
    "StoredAir",
    "StoredConfig",
    "StoredDrive",
    "StoredDuct",
    "StoredElbow",
    "StoredGate",
    "StoredMachine",
    "StoredPart",
    "StoredPurge",
    "StoredService",
    "StoredSystem",
    "Unread",
    "UnreadableError",
    "defaults_of",
    "keys_of",
    "read_config",
    "read_part",
    "read_parts",
    "readable_in",
    "unreadable_in",
]
