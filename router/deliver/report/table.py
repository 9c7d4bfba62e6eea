"""Tables of the page: whole without a script; with it they sort, filter and show long ones in parts."""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING, Literal

from router.deliver.report.html import Html, el, join

if TYPE_CHECKING:
    from collections.abc import Sequence


@dataclass(frozen=True)
class Column:
    """A column's head and how its cells stand; ``some`` may break lines, ``wide`` ones take the room left."""

    head: str | Html
    kind: Literal["text", "number", "some", "wide", "widest", "tape", "blank"] = "text"
    keep: bool = False
    """Stays where no row has a value: it is filled in by hand."""


@dataclass(frozen=True)
class Row:
    """Cells in the columns' order; ``thing``: what the row is about, as ``head:H1``."""

    cells: Sequence[str | Html | None]
    thing: str | None = None
    class_: str | None = None
    values: Sequence[float | str | None] = field(default_factory=tuple)
    """To sort by, where the cell's text does not do; may be shorter than ``cells``."""
    group: str | None = None
    """What the row can be chosen by, above the table."""


def table(
    columns: Sequence[Column],
    rows: Sequence[Row],
    caption: str | Html,
    *,
    plain: bool = False,
    foot: Row | None = None,
    grouped: str | None = None,
) -> Html:
    """Make a table with its caption, without the columns that no row has a value in.

    ``plain`` ones are short: neither sorted nor filtered. ``grouped``: what rows are chosen by.
    """
    if not rows:
        return el("p", join([el("strong", caption), ": none."]), class_="none")
    kept = [k for k, c in enumerate(columns) if c.keep or any(row.cells[k] for row in rows)]
    columns, rows = [columns[k] for k in kept], [_of(row, kept) for row in rows]
    foot = None if foot is None else _of(foot, kept)
    head = el("tr", *(el("th", c.head, scope="col", class_=_kind(c)) for c in columns))
    body = [
        el(
            "tr",
            *(_cell(c, row, k) for k, c in enumerate(columns)),
            data_thing=row.thing,
            data_group=row.group,
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
    made = el("table", *parts, class_=None if plain else "data", data_grouped=grouped)
    return el(
        "div",
        made,
        class_="scroll",
        tabindex="0",
        role="region",
        aria_label=None if isinstance(caption, Html) else caption,
    )


def _of(row: Row, kept: Sequence[int]) -> Row:
    values = [row.values[k] if k < len(row.values) else None for k in kept]
    return replace(row, cells=[row.cells[k] for k in kept], values=values)


def _kind(column: Column) -> str | None:
    return {"number": "n", "some": "s", "wide": "w", "widest": "w x", "tape": "n tape", "blank": "blank"}.get(
        column.kind
    )


def _cell(column: Column, row: Row, k: int) -> Html:
    value = row.values[k] if k < len(row.values) else None
    return el("td", row.cells[k], class_=_kind(column), data_v=value)
