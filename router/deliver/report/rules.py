"""Part 9: weights and rules in force, each with its source and how sure it is."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING

from router.check import rules_in_force
from router.deliver.report.html import Html, el, join
from router.deliver.report.lengths import prose
from router.deliver.report.table import Column, Row, table
from router.deliver.report.wording import TERM, count, size

if TYPE_CHECKING:
    from router.deliver.report.prepare import Contents
    from router.trade.sizes import Standard

_UNIT = {
    "pipe": "metre",
    "moved": "mm that a line's supply end leaves its wanted level",
    "price": "unit of currency",
}
OF_THE_RECORD = frozenset({"connected", "kept", "counts", "objective"})
"""Rules that say what a route's record is, not what is built; a person has nothing to decide of them."""


def sized(text: str, standard: Standard) -> str:
    """Write nominal sizes of a text as the job has them: ``DN25`` is 1 in. in an inch job."""
    return re.sub(r"\bDN(\d+)", lambda m: size(int(m[1]), standard), text) if standard == "inch" else text


def rules(contents: Contents) -> Html:
    """List what the route was asked to respect, and what things were worth."""
    weights = contents.scenario.weights
    worth = {term.name: term.weight for term in contents.shown[0].verdict.terms}
    rows = []
    for field in type(weights).model_fields:
        # a weight that is not given follows from the others: the referee's term has it
        value = worth.get(field, getattr(weights, field))
        each = _UNIT.get(field, "each")
        if value is None:
            continue
        text = f"{value:,.6g}" if value < 1e6 else f"{value:,.0f}"
        rows.append(Row([TERM.get(field, field.replace("_", " ")), text, each], values=[None, value]))
    grades = (
        "Grade A: a published sheet was seen that says so. B: from memory, checked in part. C: from memory. "
        "D: from memory or assumed, doubtful. None: common practice or the scenario's own."
    )
    standard = contents.scenario.system.standard
    asked: list[Row] = []
    own: list[Row] = []
    for r in rules_in_force(contents.scenario):
        cells = [
            r.id.replace("_", " "),
            *(prose(sized(text, standard)) for text in (r.says, r.limit, r.source)),
        ]
        (own if r.id in OF_THE_RECORD else asked).append(Row([*cells, r.grade]))
    columns = [
        Column("rule"),
        Column("what it asks", "wide"),
        Column("limit", "wide"),
        Column("source", "wide"),
        Column("grade"),
    ]
    return join(
        [
            table(
                [Column("what costs"), Column("points", "number"), Column("for")], rows, "Weights", plain=True
            ),
            table(columns, asked, "Rules in force"),
            el(
                "details",
                el("summary", f"{count(len(own), 'rule')} more on what a route file must say of itself"),
                table(columns, own, "Rules on the record", plain=True),
            ),
            el("p", grades, class_="small"),
        ]
    )
