"""A route as entities: pipe as lines in space, fittings and hangers as blocks."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from router.deliver import draw_style as style
from router.deliver.dxf.blocks import fitting_block, hanger_block, mark_unserved, put
from router.deliver.dxf.layers import FITTINGS, HANGERS, dash_name, line_weight
from router.readers.dxf import names
from router.readers.dxf.carrying import carry
from router.scenario.errors import number_text

if TYPE_CHECKING:
    from ezdxf.document import Drawing
    from ezdxf.layouts.base import BaseLayout

    from router.route.model import Piece, Route
    from router.scenario.model import Scenario


def draw_pieces(doc: Drawing, layout: BaseLayout, route: Route) -> None:
    """Draw all pipe, centre to centre, at its true elevations."""
    feeding = {takeoff.run for takeoff in route.takeoffs if takeoff.child_runs}
    between = {takeoff.id for takeoff in route.takeoffs if takeoff.child_runs}
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
        record = {"id": piece.id, "dn": piece.dn, "role": _role(piece, feeding, between)}
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
    served = {head.id for head in route.heads if head.served}
    for head in scenario.heads:
        if head.id not in served:
            mark_unserved(doc, layout, head, size)


def _role(piece: Piece, feeding: set[str], between: set[str]) -> str:
    """Give a piece the role that it has in a drawing of segments (``router.deliver.segments_csv``)."""
    if piece.kind == "run":
        return "main" if piece.run in feeding else "branch"
    if piece.kind == "hose":
        return "hose"
    return "main" if piece.owner in between else "head_arm"
