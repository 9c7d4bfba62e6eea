"""Fittings by kind and sizes, named as the trade names them: ``tee 2 x 2 x 1`` is run x run x outlet."""

from __future__ import annotations

from collections import defaultdict
from math import acos, degrees
from typing import TYPE_CHECKING

from router.cutlist.ends import WORDS, dot, openings
from router.cutlist.records import FittingLine
from router.trade.reducing import bushings_for
from router.trade.sizes import label, nps

if TYPE_CHECKING:
    from collections.abc import Iterable

    from router.cutlist.ends import Ends
    from router.route.model import Fitting
    from router.trade.sizes import Standard

_ORDER = tuple(WORDS)


def sizes_text(sizes: Iterable[int], standard: Standard) -> str:
    """Write sizes as on a fitting: ``2 x 2 x 1 in.`` or ``DN50 x 50 x 25``."""
    sizes = tuple(sizes)
    if not sizes:
        return ""
    if len(sizes) == 1:
        return label(sizes[0], standard)
    if standard == "inch":
        return " x ".join(nps(dn) for dn in sizes) + " in."
    return "DN" + " x ".join(str(dn) for dn in sizes)


def named_sizes(ends: Ends, fitting: Fitting) -> tuple[int, ...]:
    """Give a fitting's sizes in the trade's order.

    Tee and cross: the run's two, larger first, then the outlets. Elbow and
    reducer: larger, smaller (one size if they are equal). Outlet: the pipe that it
    sits on, then its own.
    """
    kind, sizes = fitting.kind, fitting.sizes
    if kind == "outlet":
        seat = ends.seats.get(fitting.id)
        return ((seat[0].dn,) if seat is not None else ()) + (min(sizes),) if sizes else ()
    if kind in ("tee", "cross"):
        found = openings(fitting)
        return tuple(sizes[k] for k in (*found.along, *sorted(found.out, key=lambda k: -sizes[k])))
    order = tuple(sorted(sizes, reverse=True))
    if kind in ("reducer", "reducing_coupling"):
        return order
    return order if len(set(order)) > 1 else order[:1]


def word_of(fitting: Fitting, joining: str) -> str:
    """Name a fitting's kind as made for a joining method."""
    welded = joining in ("welded", "butt_weld")
    if fitting.kind == "outlet":
        return "mechanical tee" if joining == "grooved" else "welded outlet"
    if fitting.kind == "reducer":
        return "reducer at head"
    if fitting.kind == "reducing_coupling" and joining != "threaded":
        return "concentric reducer"
    if fitting.kind == "elbow_odd" and len(fitting.directions) == 2:
        cosine = max(-1.0, min(1.0, -dot(fitting.directions[0], fitting.directions[1])))
        return f"elbow {degrees(acos(cosine)):.0f}, made for the angle"
    word = WORDS[fitting.kind]
    return f"butt weld {word}" if welded and fitting.kind not in ("plug", "cap") else word


def fitting_lines(ends: Ends) -> list[FittingLine]:
    """Give all fittings of a route by kind, sizes and joining."""
    standard = ends.scenario.system.standard
    alike: dict[tuple[int, str, tuple[int, ...], str], list[Fitting]] = defaultdict(list)
    for fitting in ends.route.fittings:
        joining = ends.fitting_joining(fitting)
        sizes = named_sizes(ends, fitting)
        alike[_ORDER.index(fitting.kind), word_of(fitting, joining), sizes, joining].append(fitting)
    lines = []
    for key in sorted(alike, key=lambda k: (k[0], k[1], tuple(-dn for dn in k[2]), k[3])):
        _, word, sizes, joining = key
        members = alike[key]
        kind = members[0].kind
        bushings: tuple[tuple[int, int], ...] = ()
        if joining == "threaded" and kind in ("tee", "cross", "elbow_90"):
            bushings = _bushings(kind, sizes, ends)
        lines.append(
            FittingLine(
                kind=kind,
                word=word,
                sizes=sizes_text(sizes, standard),
                joining="" if kind in ("plug", "cap") else joining.replace("_", " "),
                quantity=len(members),
                ids=tuple(fitting.id for fitting in members),
                bushings=bushings,
            )
        )
    return lines


def _bushings(kind: str, sizes: tuple[int, ...], ends: Ends) -> tuple[tuple[int, int], ...]:
    """Give the bushings of a fitting; none for one that a drawing leaves without an opening."""
    if len(sizes) == 1:
        return ()
    try:
        return tuple(bushings_for(kind, list(sizes), ends.tables))
    except ValueError:
        return ()
