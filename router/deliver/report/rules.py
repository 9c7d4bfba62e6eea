"""Part 9: weights and rules in force, each with its source and how sure it is."""

from __future__ import annotations

from typing import TYPE_CHECKING

from router.check import rules_in_force
from router.deliver.report.html import Html, el, join
from router.deliver.report.lengths import prose
from router.deliver.report.table import Column, Row, table
from router.deliver.report.wording import TERM

if TYPE_CHECKING:
    from router.deliver.report.prepare import Contents

_UNIT = {
    "pipe": "metre",
    "moved": "mm that a line's supply end leaves its wanted level",
    "price": "unit of currency",
}


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
    in_force = [
        Row([r.id.replace("_", " "), prose(r.says), prose(r.limit), prose(r.source), r.grade], class_=None)
        for r in rules_in_force(contents.scenario)
    ]
    return join(
        [
            table(
                [Column("what costs"), Column("points", "number"), Column("for")], rows, "Weights", plain=True
            ),
            table(
                [
                    Column("rule"),
                    Column("what it asks", "wide"),
                    Column("limit", "wide"),
                    Column("source", "wide"),
                    Column("grade"),
                ],
                in_force,
                "Rules in force",
            ),
            el("p", grades, class_="small"),
        ]
    )
