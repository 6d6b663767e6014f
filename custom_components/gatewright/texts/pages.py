"""Printable pages, rendered from our own templates."""

from functools import cache
from typing import Any, ClassVar

from jinja2 import Environment, PackageLoader, StrictUndefined
from markupsafe import Markup

from .placeholders import pieces
from .texts import Texts


class PageTexts(Texts):
    """The texts of a page; `page` is the prefix of its lists' names."""

    page: ClassVar[str]

    def of(self, kind: str, key: str, **values: str) -> str:
        """Return a text of one of the page's lists."""
        return self(f"{self.page}_{kind}", key, **values)

    def line(self, key: str, **values: str) -> str:
        """Return one of the page's lines."""
        return self.of("line", key, **values)

    def html(self, key: str, **values: str) -> Markup:
        """Return a line for a template; only markup among its values is unescaped."""
        return Markup().join(pieces(self.line(key), values))


@cache
def _environment() -> Environment:
    return Environment(
        loader=PackageLoader(__package__),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
        auto_reload=False,
    )


def render(template: str, texts: PageTexts, **values: Any) -> str:
    """Render a page; it may read files, so call it in a thread."""
    found = _environment().get_template(f"{template}.html.jinja")
    return found.render(t=texts.html, texts=texts, **values)
