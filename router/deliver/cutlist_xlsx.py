"""Cut list as one workbook, a sheet per table, ready to print."""

from __future__ import annotations

import io
from datetime import UTC, datetime
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Sequence

    from router.cutlist.cells import Sheet

_CREATED = datetime(2000, 1, 1, tzinfo=UTC).replace(tzinfo=None)
"""The same for every workbook, so that the same route gives the same bytes."""
FORMAT = "branch-drop-router/cutlist"
VERSION = 1
_WIDEST = 60
_HEADER = "#D9D9D9"
_FOOTER_MOST = 240
"""A footer holds 255 characters."""


def workbook(sheets: Sequence[Sheet], title: str, caution: str) -> bytes:
    """Write a workbook.

    Parameters
    ----------
    sheets
        Tables in the order of the sheets.
    title
        Stands at the head of every printed page.
    caution
        Its first sentence stands at the foot of every printed page.

    Returns
    -------
    bytes
        Text is always written as text, never as a formula, a link or a number.
    """
    out = io.BytesIO()
    import xlsxwriter  # only a workbook needs it

    book = xlsxwriter.Workbook(
        out,
        {
            "in_memory": True,
            "strings_to_formulas": False,
            "strings_to_urls": False,
            "strings_to_numbers": False,
        },
    )
    book.set_properties({"title": title, "created": _CREATED, "comments": caution})
    book.set_custom_property("format", FORMAT)
    book.set_custom_property("version", VERSION)
    header = book.add_format(
        {"bold": True, "bg_color": _HEADER, "bottom": 1, "text_wrap": True, "valign": "top"}
    )
    text = book.add_format({"text_wrap": True, "valign": "top"})
    number = book.add_format({"valign": "top", "num_format": "#,##0.0#"})
    whole = book.add_format({"valign": "top", "num_format": "#,##0"})
    foot = caution.split(". ")[0][:_FOOTER_MOST].replace("&", "&&")
    for sheet in sheets:
        page = book.add_worksheet(sheet.name)
        for k, name in enumerate(sheet.columns):
            page.write_string(0, k, name, header)
        for r, row in enumerate(sheet.rows, start=1):
            for k, cell in enumerate(row):
                if cell is None or cell == "":
                    page.write_blank(r, k, None, text)
                elif isinstance(cell, str):
                    page.write_string(r, k, cell, text)
                else:
                    page.write_number(r, k, cell, whole if float(cell).is_integer() else number)
        for k, width in enumerate(_widths(sheet)):
            page.set_column(k, k, width)
        page.freeze_panes(1, 0)
        if sheet.rows:
            page.autofilter(0, 0, len(sheet.rows), len(sheet.columns) - 1)
        page.set_landscape()
        page.set_paper(9)
        page.fit_to_pages(1, 0)
        page.repeat_rows(0)
        page.set_header(f"&L{title.replace('&', '&&')[:_FOOTER_MOST]}&R&A")
        page.set_footer(f"&L{foot}&RPage &P of &N")
    book.close()
    return out.getvalue()


def _widths(sheet: Sheet) -> list[int]:
    """Columns as wide as what stands in them; long text is wrapped."""
    found = []
    for k, name in enumerate(sheet.columns):
        longest = max((len(str(row[k])) for row in sheet.rows if row[k] is not None), default=0)
        words = max(len(word) for word in name.split())
        found.append(min(max(longest, words) + 2, _WIDEST))
    return found
