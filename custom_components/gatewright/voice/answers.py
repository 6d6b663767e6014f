"""Short answers about the shop, made to be spoken."""

from collections.abc import Iterable, Sequence

from ..airflow import Verdict
from ..shop.words import Phase
from .spoken_texts import SpokenTexts
from .view import View

_TITLES = 3
"""Alarms told by name; nobody listens to more."""


def who_has_air(texts: SpokenTexts, seen: Sequence[View]) -> str:
    """Say which machines have air."""
    names = [part.name for view in seen for part in view.with_air]
    if names:
        said = texts(
            "air_one" if len(names) == 1 else "air_many", names=texts.join(names)
        )
        for verdict in (Verdict.TOO_LITTLE, Verdict.MARGINAL):
            short = [part.name for view in seen for part in view.worth(verdict)]
            if short:
                said += " " + texts(f"air_{verdict}", names=texts.join(short))
        return said
    if any(view.system.sequence.motor.turning for view in seen):
        return texts("air_none_turning")
    return texts("air_none")


def anything_wrong(texts: SpokenTexts, seen: Sequence[View]) -> str:
    """Say what needs a person, and whether a start is forbidden."""
    titles = [
        view.system.announcer.text(alarm, texts.language).title
        for view in seen
        for alarm in view.alarms
    ]
    said = [_sentence(title) for title in titles[:_TITLES]]
    if (more := len(titles) - _TITLES) > 0:
        said.append(texts("more_one") if more == 1 else texts("more", count=str(more)))
    said += [
        texts("locked_out", name=view.name)
        for view in seen
        if view.system.sequence.lockout
    ]
    return " ".join(said) or texts("nothing_wrong")


def collector_time(texts: SpokenTexts, seen: Sequence[View]) -> str:
    """Say how long the collector ran today."""
    return " ".join(
        _one(texts, seen, "ran_today", view, time=texts.duration(on_time))
        if (on_time := view.on_time_today) > 0
        else _one(texts, seen, "ran_not_today", view)
        for view in seen
    )


def bin_level(texts: SpokenTexts, seen: Sequence[View]) -> str:
    """Say whether the bin is full, and how full it is where that is reckoned."""
    return " ".join(_of_bins(texts, seen))


def clearing(texts: SpokenTexts, name: str, seconds: float) -> str:
    """Say what is done to clear the air."""
    return texts("clearing", name=name, time=texts.duration(seconds))


def resting(seen: Iterable[View]) -> bool:
    """Whether every system is at rest."""
    return all(view.system.sequence.phase is Phase.RESTING for view in seen)


def _of_bins(texts: SpokenTexts, seen: Sequence[View]) -> Iterable[str]:
    for view in seen:
        share = view.bin_share
        if view.bin_full:
            yield _one(texts, seen, "bin_full", view)
        elif share is not None and not (view.bin_full is False and share >= 1):
            percent = str(round(100 * share))
            yield _one(texts, seen, "bin_share", view, percent=percent)
        elif view.bin_full is None:
            yield _one(texts, seen, "bin_unknown", view)
        elif share is None:
            yield _one(texts, seen, "bin_only_not_full", view)
        else:
            yield _one(texts, seen, "bin_not_full", view)


def _one(
    texts: SpokenTexts, seen: Sequence[View], key: str, view: View, **filled: str
) -> str:
    """Say something of a system, by name where there are several."""
    if len(seen) > 1:
        key = f"{key}_of"
    return texts(key, name=view.name, **filled)


def _sentence(text: str) -> str:
    return text if text.endswith((".", "!", "?")) else f"{text}."
