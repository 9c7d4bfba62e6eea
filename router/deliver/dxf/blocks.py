"""Blocks of heads, fittings and hangers: our symbols, with attributes that are not shown."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, Final

from router.deliver.draw_hangers import hanger_on_plan
from router.deliver.draw_symbols import draw_fitting, draw_head, draw_unserved
from router.deliver.dxf.layers import INK, PLAIN, UNSERVED
from router.deliver.dxf.transcribe import Symbols, symbol
from router.readers.dxf.carrying import plain
from router.readers.dxf.names import HEAD_TAGS

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping, Sequence

    from ezdxf.document import Drawing
    from ezdxf.layouts.base import BaseLayout

    from router.scenario.model import Head

FITTING_TAGS: Final = ("ID", "KIND", "SIZES", "OWNER")
HANGER_TAGS: Final = ("ID", "KIND", "STRUCTURE", "ROD_MM")
UNSERVED_TAGS: Final = ("ID",)


def head_block(doc: Drawing, kind: str, *, dry: bool) -> str:
    """Give the block of a kind of head, made where it is new; a sidewall's water goes along its +x.

    Returns
    -------
    str
        Its name.
    """
    name = f"ROUTER-HEAD-{kind.upper()}{'-DRY' if dry else ''}"
    tags = list(HEAD_TAGS.values())
    return _made(doc, name, tags, lambda canvas: draw_head(canvas, (0.0, 0.0), kind, dry=dry, facing=0.0))


def fitting_block(doc: Drawing, kind: str) -> str:
    """Give the block of a kind of fitting, made where it is new."""
    name = f"ROUTER-FITTING-{kind.upper().replace('_', '-')}"
    return _made(doc, name, FITTING_TAGS, lambda canvas: draw_fitting(canvas, (0.0, 0.0), kind))


def hanger_block(doc: Drawing) -> str:
    """Give the block of a hanger, made where it is new."""
    return _made(doc, "ROUTER-HANGER", HANGER_TAGS, lambda canvas: hanger_on_plan(canvas, (0.0, 0.0)))


def unserved_block(doc: Drawing) -> str:
    """Give the block that marks a head that is not served, made where it is new."""
    name = "ROUTER-HEAD-NOT-SERVED"
    return _made(doc, name, UNSERVED_TAGS, lambda canvas: draw_unserved(canvas, (0.0, 0.0)))


def _made(doc: Drawing, name: str, tags: Sequence[str], draw: Callable[[Symbols], None]) -> str:
    if name not in doc.blocks:
        canvas = Symbols()
        draw(canvas)
        _tags(symbol(doc, name, canvas), tags)
    return name


def _tags(block: Any, tags: Sequence[str]) -> None:
    """Define attributes one below the other, not shown: the drawing's texts say what is to be read."""
    for k, tag in enumerate(tags):
        block.add_attdef(
            tag,
            insert=(2.0, -2.5 * (k + 1)),
            height=1.8,
            dxfattribs={"layer": "0", "style": PLAIN, "flags": 1, "color": INK},
        )


def put(
    layout: BaseLayout,
    block: str,
    at: Sequence[float],
    size: float,
    layer: str,
    values: Mapping[str, str],
    turn: float = 0.0,
) -> Any:
    """Insert a block at a point in mm, ``size`` mm to one of its units, with its attributes.

    Returns
    -------
    ezdxf insert
    """
    attributes = {"layer": layer, "xscale": size, "yscale": size, "zscale": size, "rotation": turn}
    insert = layout.add_blockref(block, tuple(at), dxfattribs=attributes)
    insert.add_auto_attribs({tag: plain(text) for tag, text in values.items()})
    for attribute in insert.attribs:
        attribute.dxf.layer = layer
    return insert


def mark_unserved(doc: Drawing, layout: BaseLayout, head: Head, size: float) -> None:
    """Mark a head that is not served."""
    put(layout, unserved_block(doc), head.at, size, UNSERVED, {"ID": head.id})
