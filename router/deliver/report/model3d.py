"""What 3D view and tooltips need, as compact JSON: one column a field, places to a tenth of a mm."""

from __future__ import annotations

import json
from typing import TYPE_CHECKING, Any

from router.cutlist.lengths import length_text, to_mm
from router.deliver.draw_canvas import clean
from router.deliver.report.html import Html
from router.deliver.report.storeys import storeys
from router.deliver.report.wording import PIECE, size, style_name

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence

    from router.deliver.report.prepare import Contents, Shown

Column = list[Any]


def model_json(contents: Contents) -> Html:
    """Give the data of the page as JSON that can stand within a script element.

    Returns
    -------
    Html
        No ``<``, ``>`` or ``&`` in it, nor line separators.
    """
    scenario, standard = contents.scenario, contents.scenario.system.standard
    dns = sorted({p.dn for s in contents.shown for p in s.route.pieces})
    data = {
        "name": scenario.name,
        "sizes": {str(dn): [size(dn, standard), _od(contents, dn)] for dn in dns},
        "styles": {t.style: style_name(t.style) for s in contents.shown for t in s.route.takeoffs},
        "kinds": PIECE,
        "runs": [run.id for run in scenario.runs],
        "storeys": [sorted(s.runs) for s in storeys(scenario, contents.shown[0].route)],
        "heads": {
            "id": [head.id for head in scenario.heads],
            "kind": [f"{'dry ' if head.dry else ''}{head.kind}" for head in scenario.heads],
            "facing": [head.facing for head in scenario.heads],
        },
        "obstructions": [
            {
                "id": o.id,
                "kind": o.kind,
                "plan": [_tenth(p) for p in o.polygon],
                "z": _tenth(o.elevations),
                "clearance": scenario.rules.clearance if o.clearance is None else o.clearance,
            }
            for o in scenario.obstructions
        ],
        "ceilings": [
            {"id": c.id, "plan": [_tenth(p) for p in c.polygon], "z": round(c.elevation, 1)}
            for c in scenario.ceilings
        ],
        "routes": [_route(contents, shown) for shown in contents.shown],
    }
    text = json.dumps(_cleaned(data), ensure_ascii=False, separators=(",", ":"), allow_nan=False)
    for bad in "<>&\u2028\u2029":
        text = text.replace(bad, f"\\u{ord(bad):04x}")
    return Html(text)


def _cleaned(value: Any) -> Any:
    """Clean every text as the page's own are cleaned, so that names are found again."""
    if isinstance(value, str):
        return clean(value)
    if isinstance(value, dict):
        return {clean(k): _cleaned(v) for k, v in value.items()}
    return [_cleaned(v) for v in value] if isinstance(value, list) else value


def _od(contents: Contents, dn: int) -> float:
    try:
        return round(contents.tables.od(dn), 1)
    except (KeyError, ValueError):
        return float(dn)


def _tenth(values: Iterable[float]) -> list[float]:
    return [int(v) if (v := round(value, 1)) == int(v) else v for value in values]


def _route(contents: Contents, shown: Shown) -> dict[str, Any]:
    route = shown.route
    marks = _marks(contents, shown)
    at = {takeoff.id: k for k, takeoff in enumerate(route.takeoffs)}
    pieces, fittings = route.pieces, route.fittings
    findings = shown.verdict.findings
    return {
        "name": shown.name,
        "takeoffs": {
            "id": [t.id for t in route.takeoffs],
            "run": [t.run for t in route.takeoffs],
            "style": [t.style for t in route.takeoffs],
            "heads": [t.heads for t in route.takeoffs],
            "runs": [t.child_runs for t in route.takeoffs],
        },
        "pieces": {
            "id": [p.id for p in pieces],
            "kind": [p.kind for p in pieces],
            "run": [p.run for p in pieces],
            "takeoff": [at.get(p.owner, -1) for p in pieces],
            "dn": [p.dn for p in pieces],
            "a": _flat(p.start for p in pieces),
            "b": _flat(p.end for p in pieces),
            "length": [round(p.length, 1) for p in pieces],
            "mark": [marks.get(p.id, ("", None, ""))[0] for p in pieces],
            "cut": [marks.get(p.id, ("", None, ""))[1] for p in pieces],
            "cutText": [marks.get(p.id, ("", None, ""))[2] for p in pieces],
        },
        "fittings": {
            "id": [f.id for f in fittings],
            "kind": [f.kind for f in fittings],
            "run": [f.run for f in fittings],
            "takeoff": [at.get(f.owner, -1) for f in fittings],
            "at": _flat(f.at for f in fittings),
            "ways": [[round(c, 3) for d in f.directions for c in d] for f in fittings],
            "sizes": [f.sizes for f in fittings],
        },
        "heads": {
            "id": [h.id for h in route.heads],
            "served": [int(h.served) for h in route.heads],
            "run": [h.run for h in route.heads],
            "takeoff": [at.get(h.takeoff or "", -1) for h in route.heads],
            "at": _flat(h.inlet for h in route.heads),
        },
        "hangers": {
            "id": [h.id for h in route.hangers],
            "run": [h.run for h in route.hangers],
            "piece": [h.piece for h in route.hangers],
            "at": _flat(h.at for h in route.hangers),
            "rod": [None if h.rod is None else round(h.rod, 1) for h in route.hangers],
            "from": [h.structure for h in route.hangers],
        },
        "changes": {
            "id": [c.id for r in route.runs for c in r.level_changes],
            "run": [r.id for r in route.runs for _ in r.level_changes],
            "pieces": [c.pieces for r in route.runs for c in r.level_changes],
            "fittings": [c.fittings for r in route.runs for c in r.level_changes],
        },
        "findings": {
            "about": [f.element for f in findings],
            "against": [f.against for f in findings],
            "severity": [f.severity for f in findings],
            "text": [f.text for f in findings],
        },
    }


def _flat(places: Iterable[Sequence[float]]) -> Column:
    return [part for at in places for part in _tenth(at)]


def _marks(contents: Contents, shown: Shown) -> dict[str, tuple[str, float | None, str]]:
    """Mark, cut length (mm) and its spelling by piece; of a piece made of several cuts their marks."""
    if shown.cuts is None:
        return {}
    standard = contents.scenario.system.standard
    found: dict[str, tuple[str, float | None, str]] = {}
    for cut in shown.cuts.cuts:
        text = length_text(cut.units, standard)
        if cut.piece in found:
            mark, _, before = found[cut.piece]
            found[cut.piece] = (f"{mark} + {cut.mark}", None, f"{before} + {text}")
        else:
            found[cut.piece] = (cut.mark, round(to_mm(cut.units, standard), 1), text)
    for item in shown.cuts.ordered:
        found.setdefault(item.tag, ("to order", round(item.face, 1), ""))
    return found
