"""Short answers about the shop, to be spoken."""

from collections.abc import Iterable, Sequence

from ...core.airflow import Verdict
from ...core.control.enums import Phase
from ...texts.spoken_texts import SpokenTexts
from .exposed import ExposedShop

_TITLES = 3
"""How many alarms are named; nobody listens to more."""


def where_collecting(texts: SpokenTexts, seen: Sequence[ExposedShop]) -> str:
    """Name the machines with dust collection."""
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


def anything_wrong(texts: SpokenTexts, seen: Sequence[ExposedShop]) -> str:
    """Report what needs attention, and whether starts are blocked."""
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
        if view.system.sequence.start_block
    ]
    return " ".join(said) or texts("nothing_wrong")


def collector_time(texts: SpokenTexts, seen: Sequence[ExposedShop]) -> str:
    """Report how long the collector ran today."""
    return " ".join(
        _one(texts, seen, "ran_today", view, time=texts.duration(on_time))
        if (on_time := view.on_time_today) > 0
        else _one(texts, seen, "ran_not_today", view)
        for view in seen
    )


def bin_level(texts: SpokenTexts, seen: Sequence[ExposedShop]) -> str:
    """Report whether the bin is full, or its estimated fill level."""
    return " ".join(_of_bins(texts, seen))


def purge(texts: SpokenTexts, name: str, seconds: float) -> str:
    """Confirm that the shop's air is being cleared."""
    return texts("clearing", name=name, time=texts.duration(seconds))


def resting(seen: Iterable[ExposedShop]) -> bool:
    """Return whether every system is at rest."""
    return all(view.system.sequence.phase is Phase.IDLE for view in seen)


def _of_bins(texts: SpokenTexts, seen: Sequence[ExposedShop]) -> Iterable[str]:
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
    texts: SpokenTexts,
    seen: Sequence[ExposedShop],
    key: str,
    view: ExposedShop,
    **filled: str,
) -> str:
    """Prefix an answer with the system's name if there are several."""
    if len(seen) > 1:
        key = f"{key}_of"
    return texts(key, name=view.name, **filled)


def _sentence(text: str) -> str:
    return text if text.endswith((".", "!", "?")) else f"{text}."
