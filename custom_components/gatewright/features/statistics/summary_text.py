"""The summary of a period as sentences, for a message or a card.

Each sentence is a text of its own, for each count and each omitted part: what can be
joined in English can't be in every language.
"""

from collections.abc import Callable, Mapping
from datetime import date
from typing import Any

from ...core.statistics.not_collecting import NotCollectingReason
from ...texts.figures import duration
from ...texts.texts import Texts

SENTENCES = "summary"
REASONS = "no_air"
NEEDS = "need"
LIMITS = "dust_limit"
"""The lists of texts: the sentences, and the texts of the core's codes."""

_NAMED_REASONS = 3
_NAMED_MACHINES = 4


def summary_text(texts: Texts, found: Mapping[str, Any]) -> str:
    """Return a summary as a few plain sentences."""
    return " ".join(
        sentence for tell in _SENTENCES if (sentence := tell(texts, found)) is not None
    )


def caution(texts: Texts) -> str:
    """Return what a dust reading doesn't show."""
    return texts(SENTENCES, "dust_caution")


def _ran(texts: Texts, found: Mapping[str, Any]) -> str:
    first, last = (date.fromisoformat(found[day]) for day in ("first_day", "last_day"))
    shop, before = found["shop"], found["before"]
    key = "ran"
    values = {"name": found["name"], "days": texts.days(first, last)}
    if shop["run_time"] <= 0:
        return texts(SENTENCES, "ran_nothing", **values)
    values["time"] = duration(shop["run_time"])
    if shop["collected_share"] is not None:
        key += "_air"
        values["share"] = texts.share(shop["collected_share"])
    said = texts(SENTENCES, key, **values)
    if before["run_time"] <= 0:
        return said
    key = "before"
    values = {"before": duration(before["run_time"])}
    if before["collected_share"] is not None:
        key += "_air"
        values["share_before"] = texts.share(before["collected_share"])
    return f"{said} {texts(SENTENCES, key, **values)}"


def _lacked(texts: Texts, found: Mapping[str, Any]) -> str | None:
    without = {
        reason: seconds
        for reason, seconds in found["shop"]["not_collecting"].items()
        if reason != NotCollectingReason.NOT_NEEDED and round(seconds) > 0
    }
    if not without:
        return None
    worst = sorted(without, key=without.__getitem__, reverse=True)
    listed = [
        texts(
            SENTENCES,
            "without_because",
            time=duration(without[reason]),
            reason=texts(REASONS, reason),
        )
        for reason in worst[:_NAMED_REASONS]
    ]
    if others := sum(without[reason] for reason in worst[_NAMED_REASONS:]):
        listed.append(texts(SENTENCES, "without_others", time=duration(others)))
    return texts(SENTENCES, "without", reasons=texts.join(listed))


def _little(texts: Texts, found: Mapping[str, Any]) -> str | None:
    little = found["shop"]["low_airflow_time"]
    if round(little) <= 0:
        return None
    return texts(SENTENCES, "little", time=duration(little))


def _machines(texts: Texts, found: Mapping[str, Any]) -> str | None:
    listed = []
    for machine in found["machines"]:
        if round(machine["run_time"]) <= 0:
            continue
        values = {"name": machine["name"], "time": duration(machine["run_time"])}
        if machine["collected_share"] is None:
            listed.append(texts(SENTENCES, "machine", **values))
            continue
        share = texts.share(machine["collected_share"])
        listed.append(texts(SENTENCES, "machine_air", share=share, **values))
    return _and_more(texts, "machines", listed, _NAMED_MACHINES)


def _collector(texts: Texts, found: Mapping[str, Any]) -> str | None:
    collector = found["collector"]
    if collector["on_time"] <= 0:
        return None
    often = collector["starts"]
    starts = "starts" + {0: "_none", 1: "_one"}.get(often, "")
    key = "collector"
    values = {
        "time": duration(collector["on_time"]),
        "starts": texts(SENTENCES, starts, count=str(often)),
    }
    if collector["measured"] and collector["energy_kwh"] >= 0.05:
        key += "_energy"
        values["energy"] = texts.decimal(f"{collector['energy_kwh']:.1f}")
        if collector["cost"] >= 0.005:
            key += "_cost"
            values["cost"] = texts.decimal(f"{collector['cost']:.2f}")
            values["currency"] = collector["currency"]
    return texts(SENTENCES, key, **values)


def _bin(texts: Texts, found: Mapping[str, Any]) -> str | None:
    state = found["bin"]
    if state is None:
        return None
    key = "bin"
    values = {}
    if state["share"] is None:
        key += "_unknown"
    else:
        values["share"] = texts.nearest_share(min(1.0, state["share"]))
    if state["full_on"] is not None:
        key += "_full"
        values["day"] = texts.day(date.fromisoformat(state["full_on"]))
    said = texts(SENTENCES, key, **values)
    if often := state["emptyings"]:
        emptied = "emptied" + {1: "_once", 2: "_twice"}.get(often, "_often")
        said += f" {texts(SENTENCES, emptied, count=str(often))}"
    return said


def _alarms(texts: Texts, found: Mapping[str, Any]) -> str | None:
    listed = [
        row["title"]
        if row["times"] == 1
        else texts(SENTENCES, "alarm", title=row["title"], count=str(row["times"]))
        for row in found["alarms"]
    ]
    return _and_more(texts, "alarms", listed, _NAMED_REASONS)


def _needs(texts: Texts, found: Mapping[str, Any]) -> str | None:
    needs = [texts(NEEDS, row["kind"], name=row["name"]) for row in found["needs"]]
    if not needs:
        return None
    return texts(SENTENCES, "needs", needs=texts.join(needs))


def _dust(texts: Texts, found: Mapping[str, Any]) -> str | None:
    dust = found["dust"]
    if dust is None:
        return None
    limits = {limit["limit_id"]: limit["limit"] for limit in dust["limits"]}
    sentence = texts(
        SENTENCES,
        "dust",
        day=texts.day(date.fromisoformat(dust["day"])),
        average=texts.decimal(f"{dust['average']:.2f}"),
        niosh=texts.decimal(f"{limits['niosh']:g}"),
        hardwood=texts.decimal(f"{limits['eu_hardwood']:g}"),
    )
    return f"{sentence} {caution(texts)}"


def _and_more(texts: Texts, key: str, listed: list[str], most: int) -> str | None:
    """Return the first items in a row, and the number of the others."""
    if not listed:
        return None
    more = len(listed) - most
    if more > 0:
        key += "_more_one" if more == 1 else "_more"
    named = texts.join(listed[:most], "semicolon")
    return texts(SENTENCES, key, told=named, count=str(more))


_SENTENCES: tuple[Callable[[Texts, Mapping[str, Any]], str | None], ...] = (
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
