"""Tables of the page: whole without a script; with it they sort, filter and show long ones in parts."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Literal

from router.deliver.report.html import Html, el, join

if TYPE_CHECKING:
    from collections.abc import Sequence


@dataclass(frozen=True)
class Column:
    """A column's head and how its cells stand; ``some`` may break lines, ``wide`` ones take the room left."""

    head: str | Html
    kind: Literal["text", "number", "some", "wide", "widest"] = "text"


@dataclass(frozen=True)
class Row:
    """Cells in the columns' order; ``thing``: what the row is about, as ``head:H1``."""

    cells: Sequence[str | Html | None]
    thing: str | None = None
    class_: str | None = None
    values: Sequence[float | str | None] = field(default_factory=tuple)
    """To sort by, where the cell's text does not do; may be shorter than ``cells``."""


def table(
    columns: Sequence[Column],
    rows: Sequence[Row],
    caption: str | Html,
    *,
    plain: bool = False,
    foot: Row | None = None,
) -> Html:
    """Make a table with its caption; ``plain`` ones are short: neither sorted nor filtered."""
    if not rows:
        return el("p", join([el("strong", caption), ": none."]), class_="none")
    head = el("tr", *(el("th", c.head, scope="col", class_=_kind(c)) for c in columns))
    body = [
        el(
            "tr",
            *(_cell(c, row, k) for k, c in enumerate(columns)),
            data_thing=row.thing,
            class_=row.class_,
        )
        for row in rows
    ]
    parts = [
        el(
            "caption",
            caption,
            join([" ", el("span", f"{len(rows):,} rows", class_="rows")]) if len(rows) > 12 else None,
        ),
        el("thead", head),
        el("tbody", *body),
    ]
    if foot is not None:
        parts.append(el("tfoot", el("tr", *(_cell(c, foot, k) for k, c in enumerate(columns)))))
    made = el("table", *parts, class_=None if plain else "data")
    return el(
        "div",
        made,
        class_="scroll",
        tabindex="0",
        role="region",
        aria_label=None if isinstance(caption, Html) else caption,
    )


def _kind(column: Column) -> str | None:
    return {"number": "n", "some": "s", "wide": "w", "widest": "w x"}.get(column.kind)


def _cell(column: Column, row: Row, k: int) -> Html:
    value = row.values[k] if k < len(row.values) else None
    return el("td", row.cells[k], class_=_kind(column), data_v=value)
