"""A summary in plain words, for a message on a phone or a card."""

from collections.abc import Callable, Mapping
from datetime import date
import math
from typing import Any, Final

from ..filling import duration
from ..shop.record.reasons import NoAir
from ..shop.upkeep.keeper import NeedKind

CAUTION: Final = (
    "A low-cost optical sensor counts fine particles at one place. It is no compliance "
    "measurement: the limits are for dust collected on a filter where you breathe."
)

REASONS: Final = {
    NoAir.EMERGENCY: "emergency",
    NoAir.LOCKOUT: "locked out",
    NoAir.NOT_NEEDED: "needs none",
    NoAir.NOT_ATTACHED: "not attached",
    NoAir.AUTOMATIC_OFF: "automatic off",
    NoAir.OFF_BY_HAND: "collector off by hand",
    NoAir.MOTOR_RESTING: "motor had to rest",
    NoAir.COLLECTOR_NOT_STARTING: "collector did not start",
    NoAir.COLLECTOR_UNREACHABLE: "collector out of reach",
    NoAir.STARTING: "collector starting",
    NoAir.NO_GATE_OPEN: "no gate open",
    NoAir.GATE_STUCK: "gate stuck",
    NoAir.GATE_UNREACHABLE: "gate out of reach",
    NoAir.GATE_SHUT_BY_HAND: "gate shut by hand",
    NoAir.GATE_MOVING: "gate still moving",
    NoAir.TOO_LITTLE_AIR: "too little air",
    NoAir.UNKNOWN: "reason unknown",
}

NEEDS: Final = {
    NeedKind.BIN_NEARLY_FULL: "the bin is nearly full",
    NeedKind.BIN_FULL: "empty the bin",
    NeedKind.FILTER_CLEAN: "clean the filter",
    NeedKind.FILTER_REPLACE: "replace the filter",
    NeedKind.SERVICE_DUE: "{name} is due",
}

LIMITS: Final = {
    "osha_total": "OSHA, total dust",
    "osha_respirable": "OSHA, respirable dust",
    "niosh": "NIOSH, recommended",
    "acgih": "ACGIH, recommended",
    "acgih_red_cedar": "ACGIH, western red cedar",
    "eu_hardwood": "EU, hardwood",
    "gb_hardwood": "Great Britain, hardwood",
    "gb_softwood": "Great Britain, softwood",
}

_NAMED_REASONS = 3
_NAMED_MACHINES = 4
_FULL = 100


def in_words(found: Mapping[str, Any]) -> str:
    """Return a summary as a few plain sentences."""
    return " ".join(
        sentence for tell in _SENTENCES if (sentence := tell(found)) is not None
    )


def days_in_words(first: date, last: date) -> str:
    """Return a day, or a first and a last one, as a person says it."""
    if first == last:
        return f"{first:%A}, {first:%B} {first.day}"
    if first.year != last.year:
        return (
            f"{first:%B} {first.day}, {first.year} to {last:%B} {last.day}, {last.year}"
        )
    end = f"{last.day}" if first.month == last.month else f"{last:%B} {last.day}"
    return f"{first:%B} {first.day} to {end}"


def percent(share: float) -> str:
    """Return a share; 100 % only where nothing is missing."""
    whole = math.floor(share * _FULL + 1e-9)
    return f"{whole}%"


def _ran(found: Mapping[str, Any]) -> str:
    days = days_in_words(
        date.fromisoformat(found["first_day"]), date.fromisoformat(found["last_day"])
    )
    shop, before = found["shop"], found["before"]
    if shop["run_time"] <= 0:
        return f"{found['name']}, {days}: no machine ran."
    text = f"{found['name']}, {days}: machines ran for {duration(shop['run_time'])}"
    if shop["coverage"] is not None:
        text += f", {percent(shop['coverage'])} of it with air"
    if before["run_time"] > 0:
        share = before["coverage"]
        text += f" (before: {duration(before['run_time'])}"
        text += ")" if share is None else f", {percent(share)})"
    return f"{text}."


def _lacked(found: Mapping[str, Any]) -> str | None:
    without = {
        reason: seconds
        for reason, seconds in found["shop"]["without"].items()
        if reason != NoAir.NOT_NEEDED and round(seconds) > 0
    }
    if not without:
        return None
    worst = sorted(without, key=without.__getitem__, reverse=True)
    told = [
        f"{duration(without[reason])} ({REASONS[NoAir(reason)]})"
        for reason in worst[:_NAMED_REASONS]
    ]
    if others := sum(without[reason] for reason in worst[_NAMED_REASONS:]):
        told.append(f"{duration(others)} for other reasons")
    return f"Without air: {', '.join(told)}."


def _little(found: Mapping[str, Any]) -> str | None:
    little = found["shop"]["too_little_air"]
    if round(little) <= 0:
        return None
    return f"For {duration(little)} the air was less than the machine asks for."


def _machines(found: Mapping[str, Any]) -> str | None:
    told = []
    for machine in found["machines"]:
        if round(machine["run_time"]) <= 0:
            continue
        text = f"{machine['name']} {duration(machine['run_time'])}"
        if machine["coverage"] is not None:
            text += f", {percent(machine['coverage'])}"
        told.append(text)
    if not told:
        return None
    more = len(told) - _NAMED_MACHINES
    tail = f"; and {more} more" if more > 0 else ""
    return f"{'; '.join(told[:_NAMED_MACHINES])}{tail}."


def _collector(found: Mapping[str, Any]) -> str | None:
    collector = found["collector"]
    if collector["on_time"] <= 0:
        return None
    text = f"The collector ran for {duration(collector['on_time'])}"
    text += f" in {_count(collector['starts'], 'start')}"
    if collector["measured"] and collector["energy_kwh"] >= 0.05:
        text += f" and took {collector['energy_kwh']:.1f} kWh"
        if collector["cost"] >= 0.005:
            text += f" ({collector['cost']:.2f} {collector['currency']})"
    return f"{text}."


def _bin(found: Mapping[str, Any]) -> str | None:
    state = found["bin"]
    if state is None:
        return None
    text = f"The bin is about {min(1.0, state['share']):.0%} full"
    if state["full_on"] is not None:
        full_on = date.fromisoformat(state["full_on"])
        text += f" and will be full about {full_on:%B} {full_on.day}"
    if state["emptyings"]:
        times = {1: "once", 2: "twice"}
        often = times.get(state["emptyings"], f"{state['emptyings']} times")
        text += f"; it was emptied {often}"
    return f"{text}."


def _alarms(found: Mapping[str, Any]) -> str | None:
    alarms = found["alarms"]
    if not alarms:
        return None
    told = [
        row["title"] + (f" ({row['times']} times)" if row["times"] > 1 else "")
        for row in alarms[:_NAMED_REASONS]
    ]
    more = len(alarms) - _NAMED_REASONS
    tail = f"; and {more} more" if more > 0 else ""
    return f"Alarms: {'; '.join(told)}{tail}."


def _needs(found: Mapping[str, Any]) -> str | None:
    needs = [
        NEEDS[NeedKind(row["kind"])].format(name=row["name"]) for row in found["needs"]
    ]
    return f"To see to: {', '.join(needs)}." if needs else None


def _dust(found: Mapping[str, Any]) -> str | None:
    dust = found["dust"]
    if dust is None:
        return None
    day = date.fromisoformat(dust["day"])
    limits = {limit["limit_id"]: limit for limit in dust["limits"]}
    return (
        f"Dust on {day:%B} {day.day}, the dustiest day: {dust['average']:.2f} mg/m³ as a "
        f"mean over 8 h. NIOSH recommends at most {limits['niosh']['limit']:g}, the EU "
        f"allows {limits['eu_hardwood']['limit']:g} of hardwood. {CAUTION}"
    )


_SENTENCES: tuple[Callable[[Mapping[str, Any]], str | None], ...] = (
    _ran,
    _lacked,
    _little,
    _machines,
    _collector,
    _bin,
    _alarms,
    _needs,
    _dust,
)


def _count(number: int, what: str) -> str:
    return f"{number} {what}" if number == 1 else f"{number} {what}s"
