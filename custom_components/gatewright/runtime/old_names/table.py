"""The names that changed after version 0.1.0: old name first, then the new one.

The old names work until version 0.3. All of them are in this folder, which can then be
deleted.
"""

from collections.abc import Mapping
from typing import Final

type Renamed = Mapping[str, str]

COLLECTOR_PHASES: Final[Renamed] = {
    "resting": "idle",
    "run_on": "shutting_off",
    "coasting": "spinning_down",
}
"""States of the collector's phase."""

MACHINE_PHASES: Final[Renamed] = {"clearing": "purging"}
"""States of a machine's phase."""

PHASES: Final[Mapping[str, Renamed]] = {
    "collector_phase": COLLECTOR_PHASES,
    "machine_phase": MACHINE_PHASES,
}
"""States of entities, by translation key."""

CAUSES: Final[Renamed] = {
    "clearing": "purge",
    "run_on_over": "shutoff_delay_over",
    "lockout": "start_block",
    "emergency": "fire_shutdown",
    "came_on_by_itself": "unexpected_start",
    "went_off_by_itself": "unexpected_stop",
}
"""Why the collector started or stopped: event data."""

ALARMS: Final[Renamed] = {
    "hand_gate_shut": "hand_gate_closed",
    "collector_by_itself": "collector_unexpected_start",
    "attached_lost": "hose_signal_lost",
    "emergency": "fire_shutdown",
    "companion_not_switching": "linked_device_not_switching",
    "shop_away": "workshop_offline",
    "not_enough_air": "not_enough_airflow",
    "upkeep_not_switching": "maintenance_not_switching",
}
"""Kinds of alarms: attributes, event data, trigger options."""

REASONS: Final[Renamed] = {
    "emergency": "fire_shutdown",
    "lockout": "start_block",
    "not_attached": "not_connected",
    "motor_resting": "min_off_time",
    "collector_unreachable": "collector_offline",
    "gate_unreachable": "gate_offline",
    "gate_shut_by_hand": "gate_closed_by_hand",
    "too_little_air": "low_airflow",
}
"""Why dust collection was missing: keys of attributes and of the summary."""

ENDINGS: Final[Renamed] = {"lockout": "start_block", "emergency": "fire_shutdown"}
"""How a check of the gates ended: an action's response."""

GATE_SETS: Final[Renamed] = {"clearing": "purge"}
"""Why gates are open together: the assessment's response."""

ANSWER_KEYS: Final[Renamed] = {
    "air_time": "collecting_time",
    "coverage": "collected_share",
    "has_air": "collecting",
    "too_little_air": "low_airflow_time",
    "without": "not_collecting",
    "would_have": "simulated",
}
"""Keys of attributes, event data and action responses."""

ACTIONS: Final[Renamed] = {
    "request_air": "turn_on_collection",
    "withdraw_air": "turn_off_collection",
    "lock_out": "block_starts",
    "lift_lockout": "allow_starts",
    "reset_emergency": "reset_fire_shutdown",
    "rehearse": "simulate",
    "summary": "get_summary",
    "assess": "assess_airflow",
    "mark_emptied": "mark_bin_emptied",
    "mark_cleaned": "mark_filter_cleaned",
    "mark_replaced": "mark_filter_replaced",
}

FIELDS: Final[Renamed] = {
    "run_on": "shutoff_delay",
    "coast": "spin_down",
    "start_settle": "start_confirm_time",
    "stop_settle": "stop_confirm_time",
}
"""Fields of actions, including those of each machine."""

TRIGGERS: Final[Renamed] = {
    "machine_got_air": "machine_collection_started",
    "machine_lost_air": "machine_collection_lost",
}

CONDITIONS: Final[Renamed] = {
    "has_air": "is_collecting",
    "is_at_rest": "is_idle",
    "is_locked_out": "is_start_blocked",
}

INTENTS: Final[Renamed] = {"GatewrightWhoHasAir": "GatewrightWhereCollecting"}

ENTITIES: Final[Mapping[str, Renamed]] = {
    "binary_sensor": {
        "air": "collecting",
        "air_too_low": "airflow_too_low",
        "attached": "connected",
        "walk": "system_check",
        "would_run": "simulated_running",
    },
    "sensor": {
        "air_finding": "airflow_finding",
        "air_time": "collecting_time",
        "air_verdict": "airflow_verdict",
        "coverage": "collected_share",
        "coverage_day": "collected_share_day",
        "coverage_month": "collected_share_month",
        "coverage_week": "collected_share_week",
        "last_walk": "last_system_check",
        "little_air": "low_airflow_time",
        "walk_findings": "system_check_findings",
        "without_air": "not_collecting_time",
        "would_coverage": "simulated_collected_share",
        "would_on_time": "simulated_on_time",
        "would_starts": "simulated_starts",
    },
    "switch": {"lockout": "start_block", "watch_only": "monitor_only"},
}
"""The ends of unique ids, by platform. Entity ids don't change."""


def old_of(renamed: Renamed) -> dict[str, str]:
    """Return the table reversed: the old name of each new one."""
    return {new: old for old, new in renamed.items()}
