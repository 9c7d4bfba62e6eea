"""A route as entities: pipe as lines in space, fittings and hangers as blocks."""

from __future__ import annotations

from math import dist
from typing import TYPE_CHECKING, Any, Final

from router.deliver import draw_style as style
from router.deliver.dxf.blocks import fitting_block, hanger_block, mark_unserved, put
from router.deliver.dxf.layers import DIMENSIONS, FITTINGS, HANGERS, dash_name, line_weight
from router.deliver.segments_csv import roles
from router.readers.dxf import names
from router.readers.dxf.carrying import carry
from router.scenario.errors import number_text

if TYPE_CHECKING:
    from ezdxf.document import Drawing
    from ezdxf.layouts.base import BaseLayout

    from router.route.model import Route
    from router.scenario.model import Scenario

MOVED_MM: Final = 0.5


def draw_pieces(doc: Drawing, layout: BaseLayout, route: Route) -> None:
    """Draw all pipe, centre to centre, at its true elevations."""
    role_of = roles(route)
    served = {takeoff.id: takeoff.heads for takeoff in route.takeoffs}
    layers = {"run": names.PIPE_RUNS, "hose": names.PIPE_HOSES}
    for piece in route.pieces:
        attributes: dict[str, Any] = {
            "layer": layers.get(piece.kind, names.PIPE_ARMS),
            "lineweight": line_weight(style.pipe_width(piece.dn)),
        }
        if piece.kind in style.PIECE_DASH:
            attributes["linetype"] = dash_name(doc, style.PIECE_DASH[piece.kind])
        line = layout.add_line(piece.start, piece.end, dxfattribs=attributes)
        record = {"id": piece.id, "dn": piece.dn, "role": role_of[piece.id]}
        record |= {"line": piece.run, "kind": piece.kind}
        if served.get(piece.owner):
            record["heads"] = served[piece.owner]
        carry(line, record)


def draw_parts(doc: Drawing, layout: BaseLayout, scenario: Scenario, route: Route, size: float) -> None:
    """Draw fittings and hangers, and mark heads that are not served."""
    for fitting in route.fittings:
        values = {
            "ID": fitting.id,
            "KIND": style.FITTING_WORDS.get(fitting.kind, fitting.kind),
            "SIZES": " x ".join(f"DN{dn}" for dn in fitting.sizes),
            "OWNER": fitting.owner,
        }
        put(layout, fitting_block(doc, fitting.kind), fitting.at, size, FITTINGS, values)
    for hanger in route.hangers:
        values = {
            "ID": hanger.id,
            "KIND": hanger.kind,
            "STRUCTURE": hanger.structure or "",
            "ROD_MM": "" if hanger.rod is None else number_text(hanger.rod),
        }
        put(layout, hanger_block(doc), hanger.at, size, HANGERS, values)
    results = {head.id: head for head in route.heads}
    for head in scenario.heads:
        result = results.get(head.id)
        if result is None or not result.served:
            mark_unserved(doc, layout, head, size)
        elif dist(head.at, result.inlet) > MOVED_MM:
            # The head stands where the scenario has it; its pipe ends where its tile allows it to go.
            layout.add_line(head.at, result.inlet, dxfattribs={"layer": DIMENSIONS})
