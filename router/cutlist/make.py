"""From a scenario and a route to its cut list, step by step."""

from __future__ import annotations

from math import dist
from typing import TYPE_CHECKING

from router.cutlist.ends import Ends
from router.cutlist.fittings import fitting_lines
from router.cutlist.ordered import ordered_of
from router.cutlist.pieces import Cutter
from router.cutlist.records import CutList, HangerLine
from router.cutlist.stock import mark, nest_cuts, saw_units, stock_units
from router.cutlist.totals import Adding
from router.trade.tables import Tables

if TYPE_CHECKING:
    from router.route.model import Route
    from router.scenario.model import Scenario


def cut_list(scenario: Scenario, route: Route) -> CutList:
    """Work out what the shop cuts, buys and counts for a route.

    Parameters
    ----------
    scenario
        The one that the route answers, in mm.
    route
        Computed or read from a drawing. Its make-ups are taken as they are; where
        the tables give another one, that is remarked.

    Returns
    -------
    CutList
        Every pipe piece as one cut or several, in the route's order.

    Raises
    ------
    ValueError
        If ``rules.stock_lengths`` or ``rules.saw_cut`` cannot be.
    """
    standard = scenario.system.standard
    tables = Tables(standard, scenario.rules.tables)
    stocks, saw = stock_units(scenario.rules, standard), saw_units(scenario.rules, standard)
    ends = Ends(scenario, route, tables)
    cutter = Cutter(ends, stocks[0])
    cutter.make()
    cuts, groups = mark(cutter.cuts)
    nested = [cut for cut in cuts if 0 < cut.units <= stocks[0]]
    bars, sizes = nest_cuts(nested, stocks, saw)
    ordered = ordered_of(ends)
    fittings = fitting_lines(ends)
    adding = Adding(ends)
    adding.pipe(cuts, sizes)
    adding.fittings(fittings)
    adding.couplings(cutter.couplings)
    adding.ordered(ordered)
    adding.hangers_and_drains()
    adding.work(cuts, bars)
    adding.sum_up()
    remarks = cutter.remarks
    arms = sum(takeoff.hangers for takeoff in route.takeoffs)
    if arms and not route.hangers:
        remarks.append(f"the route gives no hangers by place; its arms need {arms}")
    if adding.unpriced:
        remarks.append(f"not in the price table: {', '.join(dict.fromkeys(adding.unpriced))}")
    return CutList(
        scenario=scenario.name,
        standard=standard,
        caution=route.caution,
        saw_units=saw,
        stock_units=stocks,
        cuts=cuts,
        ordered=ordered,
        groups=groups,
        bars=bars,
        stock=sizes,
        not_nested=[cut for cut in cuts if not 0 < cut.units <= stocks[0]],
        fittings=fittings,
        couplings=cutter.couplings,
        hangers=_hangers(route),
        drains=route.low_sections,
        totals=adding.lines,
        currency=scenario.prices.currency if scenario.prices is not None else "",
        remarks=remarks,
    )


def _hangers(route: Route) -> list[HangerLine]:
    """Give the hangers with their pipe's size and the distance from its start."""
    pieces = {piece.id: piece for piece in route.pieces}
    lines = []
    for hanger in route.hangers:
        piece = pieces.get(hanger.piece)
        along = dist(piece.start, hanger.at) if piece is not None else None
        lines.append(HangerLine(hanger, piece.dn if piece is not None else None, along))
    return lines
