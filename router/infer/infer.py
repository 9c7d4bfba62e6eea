"""A person's drawing becomes a route that can be judged and compared like any other."""

from __future__ import annotations

import hashlib
import platform
from dataclasses import dataclass
from typing import TYPE_CHECKING

import router
from router.infer import assign, meets, trees
from router.infer.build import Builder
from router.infer.lines import run_lines
from router.infer.nudge import Nudge
from router.infer.places import Places
from router.infer.raised import solids_of
from router.infer.remarks import Remark, Remarks
from router.infer.spacing import Spacing
from router.route.low_sections import LowSections
from router.route.model import Objective, Proof, Route
from router.route.pricing import price_of_parts
from router.route.totals import count, prices_of, terms_of
from router.scenario.write import scenario_text
from router.trade.tables import Tables

if TYPE_CHECKING:
    from router.infer.meets import Manner
    from router.readers.segments import Segment
    from router.scenario.model import Scenario

TOLERANCE_MM = 3.0
"""How far apart two places of a drawing may be that are meant as one. Common practice, no source."""

TRIALS = 3
SCOPE = "a drawing as read: its fittings are inferred from how its pipes meet, and nothing is proven"


@dataclass(frozen=True)
class Inferred:
    """A route and everything that was remarked while reading it from a drawing."""

    route: Route
    remarks: list[Remark]


def infer_route(
    scenario: Scenario,
    segments: list[Segment],
    tolerance: float = TOLERANCE_MM,
    manner: Manner | None = None,
) -> Inferred:
    """Read a route off a plain drawing.

    Parameters
    ----------
    scenario
        In mm; its runs say which pipe is run pipe, its heads which ends are served.
    segments
        Straight pipes, in any order, either end first.
    tolerance
        How far apart in mm two places may be drawn that are meant as one.
    manner
        ``centres``: pipes are drawn to the centres of their fittings; ``faces``:
        they stop at the fittings' faces. Default: as most ends of the drawing show.

    Returns
    -------
    Inferred
        A route with status ``feasible`` and bound 0, and the remarks.
    """
    remarks = Remarks()
    tables = Tables(scenario.system.standard, scenario.rules.tables)
    for segment in segments:
        if segment.dn not in tables.sizes:
            said = f"DN{segment.dn} is no size of pipe here" if segment.dn else "no size is given"
            remarks.add("size", segment.id, f"{segment.id}: {said}", segment.a)
    lines = run_lines(scenario, segments)
    drawing = meets.join(segments, tolerance, remarks, manner)
    assigned = assign.assign(drawing, scenario, lines, tolerance, remarks)
    grown = trees.grow(drawing, assigned, lines, tolerance, remarks)
    places = Places(drawing, assigned, grown, scenario, lines, tolerance, remarks)
    places.snap()
    solids = solids_of(scenario)
    nudge = Nudge(places, scenario, tables, solids, solids_of(scenario, ceilings=False), remarks)
    nudge.runs()
    spacing = Spacing(places, scenario, tables, remarks)
    for _ in range(TRIALS):
        places.part()
        trial = Builder(places, scenario, tables, solids, Remarks())
        trial.make()
        moved = nudge.arms(trial)
        if not (spacing.settle(trial) or moved):
            break
    places.part()
    places.report()
    builder = Builder(places, scenario, tables, solids, remarks)
    builder.make()
    return Inferred(_route(builder, scenario), remarks.found)


def _route(builder: Builder, scenario: Scenario) -> Route:
    heads = builder.heads()
    pieces = [builder.shop.finish_piece(draft) for draft in builder.shop.drafts]
    fittings = [builder.shop.finish_joint(joint) for joint in builder.shop.joints]
    takeoffs = builder.finish_takeoffs()
    runs = [builder.runs[run.id] for run in scenario.runs if run.id in builder.runs]
    low = LowSections(scenario, builder.shop.tables, runs, takeoffs, pieces).find()
    price = price_of_parts(scenario, pieces, fittings, takeoffs, low)
    counts = count(heads, takeoffs, runs, pieces, fittings, low, price)
    terms = terms_of(counts, takeoffs, runs, scenario, prices_of(scenario))
    value = round(sum(term.cost for term in terms), 3)
    return Route(
        scenario=scenario.name,
        scenario_sha256=hashlib.sha256(scenario_text(scenario).encode()).hexdigest(),
        status="feasible",
        objective=Objective(value=value, bound=0.0, gap=value, terms=terms),
        proof=Proof(scope=SCOPE, closed_by="nothing", candidates=0, levels=0, stations=0),
        counts=counts,
        heads=heads,
        takeoffs=takeoffs,
        runs=runs,
        pieces=pieces,
        fittings=fittings,
        low_sections=low,
        versions={"branch-drop-router": router.__version__, "python": platform.python_version()},
    )
