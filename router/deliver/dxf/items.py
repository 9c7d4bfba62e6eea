"""A scenario's items as entities: places in the geometry, everything else carried beside."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from router.deliver import draw_style as style
from router.deliver.dxf.blocks import head_block, put
from router.deliver.dxf.layers import HATCH
from router.readers.dxf import names
from router.readers.dxf.carrying import carry
from router.readers.dxf.heads import shown
from router.scenario.carried import carried

if TYPE_CHECKING:
    from ezdxf.document import Drawing
    from ezdxf.layouts.base import BaseLayout

    from router.scenario.model import Scenario

HATCH_GAP = 2.4
"""mm on paper between the hatch lines of an obstruction."""


def draw_items(doc: Drawing, layout: BaseLayout, scenario: Scenario, size: float) -> None:
    """Draw obstructions, ceilings, keep-out zones, runs and heads.

    Parameters
    ----------
    doc, layout
        The drawing, and where in it.
    scenario
        In mm.
    size
        mm in the building of 1 mm of a symbol.
    """
    order = ("ceilings", "obstructions", "keep_out", "runs", "heads")
    rows: dict[str, list[tuple[dict[str, Any], dict[str, Any]]]] = {which: [] for which in order}
    for which, record, beside in carried(scenario):
        rows[which].append((record, beside))
    for record, beside in rows["ceilings"]:
        outline = _outline(layout, record["polygon"], names.CEILINGS, record["elevation"], 0.0)
        carry(outline, beside)
    for record, beside in rows["obstructions"]:
        low, high = record["elevations"]
        outline = _outline(layout, record["polygon"], names.OBSTRUCTIONS, low, high - low)
        carry(outline, beside)
        _hatch(layout, record, size)
    for record, beside in rows["keep_out"]:
        low, high = record.get("elevations", (0.0, 0.0))
        carry(_outline(layout, record["polygon"], names.KEEP_OUT, low, high - low), beside)
    for record, beside in rows["runs"]:
        attributes = {"layer": names.RUNS, "elevation": record["elevation"]}
        carry(layout.add_lwpolyline(record["plan"], dxfattribs=attributes), beside)
    for record, beside in rows["heads"]:
        kind = record.get("kind", "pendent")
        block = head_block(doc, kind, dry=record.get("dry", False))
        turn = record.get("facing", 0.0) if kind == "sidewall" else 0.0
        carry(put(layout, block, record["at"], size, names.HEADS, shown(record), turn), beside)


def _outline(layout: BaseLayout, polygon: list[Any], layer: str, z: float, thickness: float) -> Any:
    attributes = {"layer": layer, "elevation": z, "thickness": thickness}
    return layout.add_lwpolyline(polygon, close=True, dxfattribs=attributes)


def _hatch(layout: BaseLayout, record: dict[str, Any], size: float) -> None:
    """Hatch an obstruction by its kind, on a layer of its own."""
    gap = HATCH_GAP * size
    hatch = layout.add_hatch(dxfattribs={"layer": HATCH, "elevation": (0, 0, record["elevations"][0])})
    hatch.dxf.color = 256
    lines = [
        [angle, (0.0, 0.0), _across(angle, gap), []]
        for angle in style.obstruction_hatch(record.get("kind", "obstruction"))
    ]
    hatch.set_pattern_fill("ROUTER", color=256, scale=1.0, definition=lines)
    hatch.paths.add_polyline_path([(x, y) for x, y in record["polygon"]], is_closed=True)


def _across(angle: float, gap: float) -> tuple[float, float]:
    """Give the step from one hatch line to the next."""
    from math import cos, radians, sin

    return (-gap * sin(radians(angle)), gap * cos(radians(angle)))
