"""Elements of the page. Whatever is not :class:`Html` already is escaped."""

from __future__ import annotations

from html import escape
from typing import TYPE_CHECKING

from router.deliver.draw_canvas import clean

if TYPE_CHECKING:
    from collections.abc import Iterable

Child = "str | Html | None"
_VOID = frozenset({"meta", "input", "br", "col", "img"})


class Html(str):
    """Finished markup: safe to put into the page as it is."""

    __slots__ = ()


def safe(text: str | Html | None) -> Html:
    """Escape a text, unless it is markup; controls and marks that turn the reading direction are dropped."""
    if text is None:
        return Html("")
    return text if isinstance(text, Html) else Html(escape(clean(text), quote=True))


def el(tag: str, *children: str | Html | None, **attributes: str | float | bool | None) -> Html:
    """Make an element.

    Parameters
    ----------
    tag
        Its name.
    children
        Texts are escaped, markup is kept, ``None`` is left out.
    attributes
        ``class_`` is class, ``data_mm`` is data-mm; ``True`` is a bare attribute,
        ``None`` and ``False`` are left out.

    Returns
    -------
    Html
    """
    parts = []
    for name, value in attributes.items():
        if value is None or value is False:
            continue
        key = name.rstrip("_").replace("_", "-")
        parts.append(f" {key}" if value is True else f' {key}="{safe(_text(value))}"')
    start = f"<{tag}{''.join(parts)}>"
    if tag in _VOID:
        return Html(start)
    return Html(f"{start}{''.join(safe(child) for child in children)}</{tag}>")


def _text(value: str | float) -> str:
    return value if isinstance(value, str) else f"{value:g}" if isinstance(value, float) else str(value)


def join(parts: Iterable[str | Html | None], between: str | Html = "") -> Html:
    """Put parts after each other; ``None`` is left out."""
    return Html(safe(between).join(safe(part) for part in parts if part is not None))


def name(text: str) -> Html:
    """Write a name that the designer gave: its own reading direction, never the page's."""
    return el("bdi", text)


def paragraphs(texts: Iterable[str | Html | None], **attributes: str | None) -> Html:
    """Make a paragraph of each text that there is."""
    return join(el("p", text, **attributes) for text in texts if text)


def bullets(items: Iterable[str | Html], **attributes: str | None) -> Html:
    """Make a list."""
    return el("ul", *(el("li", item) for item in items), **attributes)
