"""A summary in plain words, for a message on a phone or a card.

Each sentence is a text of its own, for each number of things and for what it leaves out:
what can be joined in English cannot in every language.
"""

from collections.abc import Callable, Mapping
from datetime import date
import math
from typing import Any

from ..filling import duration
from ..shop.record.reasons import NoAir
from ..shop.units import percent as in_percent
from ..wording import Wording

SENTENCES = "summary"
REASONS = "no_air"
NEEDS = "need"
LIMITS = "dust_limit"
"""The lists of texts: the sentences, and the words for each code of the core."""

_NAMED_REASONS = 3
_NAMED_MACHINES = 4
_FULL = 100


def in_words(words: Wording, found: Mapping[str, Any]) -> str:
    """Return a summary as a few plain sentences."""
    return " ".join(
        sentence for tell in _SENTENCES if (sentence := tell(words, found)) is not None
    )


def percent(words: Wording, share: float) -> str:
    """Return a share; 100 % only where nothing is missing."""
    return words.percent(math.floor(in_percent(share)))


def caution(words: Wording) -> str:
    """Return what a figure of dust is not."""
    return words(SENTENCES, "dust_caution")


def _ran(words: Wording, found: Mapping[str, Any]) -> str:
    first, last = (date.fromisoformat(found[day]) for day in ("first_day", "last_day"))
    shop, before = found["shop"], found["before"]
    key = "ran"
    values = {"name": found["name"], "days": words.days(first, last)}
    if shop["run_time"] <= 0:
        return words(SENTENCES, "ran_nothing", **values)
    values["time"] = duration(shop["run_time"])
    if shop["collected_share"] is not None:
        key += "_air"
        values["share"] = percent(words, shop["collected_share"])
    if before["run_time"] > 0:
        key += "_before"
        values["before"] = duration(before["run_time"])
        if before["collected_share"] is not None:
            key += "_air"
            values["share_before"] = percent(words, before["collected_share"])
    return words(SENTENCES, key, **values)


def _lacked(words: Wording, found: Mapping[str, Any]) -> str | None:
    without = {
        reason: seconds
        for reason, seconds in found["shop"]["not_collecting"].items()
        if reason != NoAir.NOT_NEEDED and round(seconds) > 0
    }
    if not without:
        return None
    worst = sorted(without, key=without.__getitem__, reverse=True)
    told = [
        words(
            SENTENCES,
            "without_because",
            time=duration(without[reason]),
            reason=words(REASONS, reason),
        )
        for reason in worst[:_NAMED_REASONS]
    ]
    if others := sum(without[reason] for reason in worst[_NAMED_REASONS:]):
        told.append(words(SENTENCES, "without_others", time=duration(others)))
    return words(SENTENCES, "without", reasons=words.in_a_row(told))


def _little(words: Wording, found: Mapping[str, Any]) -> str | None:
    little = found["shop"]["low_airflow_time"]
    if round(little) <= 0:
        return None
    return words(SENTENCES, "little", time=duration(little))


def _machines(words: Wording, found: Mapping[str, Any]) -> str | None:
    told = []
    for machine in found["machines"]:
        if round(machine["run_time"]) <= 0:
            continue
        values = {"name": machine["name"], "time": duration(machine["run_time"])}
        if machine["collected_share"] is None:
            told.append(words(SENTENCES, "machine", **values))
            continue
        share = percent(words, machine["collected_share"])
        told.append(words(SENTENCES, "machine_air", share=share, **values))
    return _and_more(words, "machines", told, _NAMED_MACHINES)


def _collector(words: Wording, found: Mapping[str, Any]) -> str | None:
    collector = found["collector"]
    if collector["on_time"] <= 0:
        return None
    starts = collector["starts"]
    key = "collector"
    values = {"time": duration(collector["on_time"]), "count": str(starts)}
    if collector["measured"] and collector["energy_kwh"] >= 0.05:
        key += "_energy"
        values["energy"] = words.decimal(f"{collector['energy_kwh']:.1f}")
        if collector["cost"] >= 0.005:
            key += "_cost"
            values["cost"] = words.decimal(f"{collector['cost']:.2f}")
            values["currency"] = collector["currency"]
    return words(SENTENCES, key + {0: "_none", 1: "_one"}.get(starts, ""), **values)


def _bin(words: Wording, found: Mapping[str, Any]) -> str | None:
    state = found["bin"]
    if state is None:
        return None
    key = "bin"
    values = {}
    if state["share"] is None:
        key += "_unknown"
    else:
        values["share"] = words.percent(round(_FULL * min(1.0, state["share"])))
    if state["full_on"] is not None:
        key += "_full"
        values["day"] = words.day(date.fromisoformat(state["full_on"]))
    if often := state["emptyings"]:
        key += {1: "_once", 2: "_twice"}.get(often, "_often")
        values["count"] = str(often)
    return words(SENTENCES, key, **values)


def _alarms(words: Wording, found: Mapping[str, Any]) -> str | None:
    told = [
        row["title"]
        if row["times"] == 1
        else words(SENTENCES, "alarm", title=row["title"], count=str(row["times"]))
        for row in found["alarms"]
    ]
    return _and_more(words, "alarms", told, _NAMED_REASONS)


def _needs(words: Wording, found: Mapping[str, Any]) -> str | None:
    needs = [words(NEEDS, row["kind"], name=row["name"]) for row in found["needs"]]
    if not needs:
        return None
    return words(SENTENCES, "needs", needs=words.in_a_row(needs))


def _dust(words: Wording, found: Mapping[str, Any]) -> str | None:
    dust = found["dust"]
    if dust is None:
        return None
    limits = {limit["limit_id"]: limit["limit"] for limit in dust["limits"]}
    told = words(
        SENTENCES,
        "dust",
        day=words.day(date.fromisoformat(dust["day"])),
        average=words.decimal(f"{dust['average']:.2f}"),
        niosh=words.decimal(f"{limits['niosh']:g}"),
        hardwood=words.decimal(f"{limits['eu_hardwood']:g}"),
    )
    return f"{told} {caution(words)}"


def _and_more(words: Wording, key: str, told: list[str], most: int) -> str | None:
    """Return the first of what is told in a row, and how many more there are."""
    if not told:
        return None
    more = len(told) - most
    if more > 0:
        key += "_more_one" if more == 1 else "_more"
    named = words.in_a_row(told[:most], "semicolon")
    return words(SENTENCES, key, told=named, count=str(more))


_SENTENCES: tuple[Callable[[Wording, Mapping[str, Any]], str | None], ...] = (
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
