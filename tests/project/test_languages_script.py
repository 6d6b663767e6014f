"""The translators' command finds translators' mistakes."""

import json
from pathlib import Path
from types import ModuleType

import pytest

from .scripts_as_modules import load_script

ENGLISH = {"a.b": "Enter {what}.", "a.c": "Yes"}


@pytest.fixture(scope="module")
def languages() -> ModuleType:
    """Return the script as a module."""
    return load_script(Path(__file__).parents[2] / "scripts/languages")


@pytest.mark.parametrize(
    ("other", "expected"),
    [
        ({"a.b": "{what} eingeben.", "a.c": "Ja"}, []),
        ({"a.b": "{what} eingeben."}, ["missing: a.c"]),
        ({**ENGLISH, "a.d": "Nein"}, ["left over: a.d"]),
        (
            {**ENGLISH, "a.b": "{was} eingeben."},
            ["placeholders: a.b needs what, has was"],
        ),
        ({**ENGLISH, "a.b": "Eingeben."}, ["placeholders: a.b needs what, has none"]),
        ({**ENGLISH, "a.c": " "}, ["empty: a.c"]),
    ],
)
def test_faults(
    languages: ModuleType, other: dict[str, str], expected: list[str]
) -> None:
    assert languages.faults(ENGLISH, other) == expected


def test_our_languages_are_complete(
    languages: ModuleType, capsys: pytest.CaptureFixture[str]
) -> None:
    assert languages.main([]) == 0
    assert " 0 to look at" in capsys.readouterr().out


def test_unfinished_language_is_reported(
    languages: ModuleType,
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
) -> None:
    monkeypatch.setattr(languages, "TEXTS", tmp_path)
    monkeypatch.setattr(languages, "SENTENCES", tmp_path)
    many = {f"k{number}": "text" for number in range(30)}
    (tmp_path / "en.json").write_text(json.dumps({"a": many}))
    (tmp_path / "nl.json").write_text(json.dumps({"a": {"k0": "tekst"}}))
    assert languages.main([]) == 1
    reported = capsys.readouterr().out
    assert "nl: 30 texts, 30 to look at" in reported
    assert "scripts/languages nl" in reported
    assert languages.main(["nl"]) == 1
    reported = capsys.readouterr().out
    assert "missing: a.k29" in reported
    assert "missing: sentences/nl.yaml" in reported
    assert languages.main(["xx"]) == 2
