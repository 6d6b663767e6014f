"""Texts with placeholders, figures, and pages from templates."""

from jinja2 import DictLoader, UndefinedError
from markupsafe import Markup
import pytest

from custom_components.gatewright.texts.figures import duration
from custom_components.gatewright.texts.pages import PageTexts, _environment, render
from custom_components.gatewright.texts.placeholders import fill
from custom_components.gatewright.texts.texts import Texts


def test_a_time_is_said_in_its_largest_units() -> None:
    assert [duration(s) for s in (0.4, 59.4, 59.6, 3569.0, 3570.0, 7260.0)] == [
        *("0 s", "59 s", "1 min", "59 min", "1 h", "2 h 1 min")
    ]


def test_what_is_put_in_is_not_filled_again() -> None:
    values = {"name": "{seconds}", "seconds": "3"}
    assert fill("{name} took {seconds} s", values) == "{seconds} took 3 s"


def test_a_gap_without_a_value_stays() -> None:
    assert fill("{name} of {system}", {"name": "Saw"}) == "Saw of {system}"


class Sheet(PageTexts):
    """The texts of a page of our own."""

    page = "sheet"


LINE = "component.gatewright.selector.sheet_line.options.name"


def test_only_markup_is_put_into_a_page_unescaped() -> None:
    texts = Sheet({LINE: "<{name}> & {other}"})
    assert texts.html("name", name="<b>", other=Markup("<i>")) == (
        "&lt;&lt;b&gt;&gt; &amp; <i>"
    )
    assert texts.html("name", name="{other}", other="x") == "&lt;{other}&gt; &amp; x"


def test_a_template_escapes_and_misses_nothing(monkeypatch: pytest.MonkeyPatch) -> None:
    templates = {
        "given.html.jinja": "{{ name }}{{ t('name', name=name, other='') }}",
        "missing.html.jinja": "{{ data.nowhere }}",
    }
    environment = _environment().overlay(loader=DictLoader(templates))
    monkeypatch.setattr(
        "custom_components.gatewright.texts.pages._environment", lambda: environment
    )
    texts = Sheet({LINE: "{name}"})
    # An owner's text is never a template.
    assert render("given", texts, name="<{{ 7 * 7 }}>") == "&lt;{{ 7 * 7 }}&gt;" * 2
    with pytest.raises(UndefinedError):
        render("missing", texts, data={})


def test_a_time_that_is_not_known_is_a_dash() -> None:
    assert Texts({}).seconds(None) == "–"
