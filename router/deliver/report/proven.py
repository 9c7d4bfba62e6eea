"""Part 7: what was proven, over what, and what was not."""

from __future__ import annotations

from typing import TYPE_CHECKING

from router.deliver.report.html import Html, bullets, el, join
from router.deliver.report.lengths import long, mm, prose
from router.deliver.report.table import Column, Row, table
from router.deliver.report.wording import TERM, count

if TYPE_CHECKING:
    from router.deliver.report.prepare import Shown
    from router.route.model import Term

STEP = {
    "relaxation": "by the dynamic programme alone: its best choice had no clash",
    "styles": "by the exact programme over styles: how many styles stand on a line raised its cost",
    "model_one_run": "by the constraint model, the line alone, because pieces would have clashed",
    "model_several_runs": "by the constraint model, together with lines that it clashes with",
    "unproven": "not proven: time ran out, or the bound stays below",
}


def proven(shown: Shown) -> Html:
    """Say what the claim is and how far it goes."""
    route = shown.route
    if shown.drawn:
        return join(
            [
                el(
                    "p",
                    "This route is a person's drawing. The referee judged it by the same rules; whether a "
                    "cheaper one exists was not asked.",
                    class_="lead",
                ),
                _terms(shown),
            ]
        )
    value = route.objective
    gap = value.value - value.bound
    share = gap / value.value if value.value else 0.0
    claims = {
        "optimal": f"No choice among the candidates costs less than {value.value:,.0f} points. "
        "Proven: bound and value are equal.",
        "feasible": f"The route costs {value.value:,.0f} points. No choice among the candidates can cost "
        f"less than {value.bound:,.0f}, so it is at most {gap:,.0f} points ({share:.1%}) too dear.",
        "infeasible": "No head can be served under the rules given.",
    }
    closed = [
        f"{count(n, 'line')} {STEP.get(step, step.replace('_', ' '))}"
        for step, n in route.proof.lines_closed.items()
        if n
    ]
    proof = route.proof
    return join(
        [
            el("p", claims[route.status], class_="lead"),
            el("h3", "How each line was decided", class_="sub") if closed else None,
            bullets(closed) if closed else None,
            el("h3", "Over what", class_="sub"),
            el(
                "p",
                f"{proof.candidates:,} candidates, {proof.levels:,} levels and {proof.stations:,} stations. ",
                prose(proof.scope),
            ),
            el("h3", "What is not proven", class_="sub"),
            bullets(
                [
                    "What the candidates leave out: a forbidden style, a station between two tried.",
                    "That the values of the tables fit the products bought; each has its grade.",
                    "Anything hydraulic: flow, pressure and discharge were not looked at.",
                    "That the building is as the scenario says.",
                ]
            ),
            _terms(shown),
        ]
    )


def _terms(shown: Shown) -> Html:
    drawn = {term.name: term for term in shown.route.objective.terms}
    rows = []
    for term in shown.verdict.terms:
        if not (term.amount or term.cost):
            continue
        least = drawn[term.name].least if term.name in drawn and not shown.drawn else None
        rows.append(
            Row(
                [
                    TERM.get(term.name, term.name.replace("_", " ")),
                    _amount(term, term.amount),
                    f"{term.weight:,.6g}",
                    f"{term.cost:,.0f}",
                    "" if least is None else _amount(term, least),
                ],
                values=[None, term.amount, term.weight, term.cost, least],
            )
        )
    columns = [
        Column("what costs"),
        Column("amount", "number"),
        Column("points for each", "number"),
        Column("points", "number"),
        Column("least possible alone", "number"),
    ]
    foot = Row(["all", None, None, f"{shown.verdict.value:,.0f}", None])
    note = (
        "Recounted by the referee. The last column: no route that serves as many heads has less of this one "
        "thing (the rest ignored); empty where it was not worked out."
    )
    return join(
        [
            table(columns, rows, "What the route costs, in points", plain=True, foot=foot),
            el("p", note, class_="small"),
        ]
    )


def _amount(term: Term, value: float) -> Html | str:
    if term.unit == "m":
        return long(value)
    if term.unit == "mm":
        return mm(value)
    return f"{value:,.6g}"
