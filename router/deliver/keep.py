"""An older route that is kept: how it is read, how what changed is told and written."""

from __future__ import annotations

import csv
import io
import json
from typing import TYPE_CHECKING

from rich.console import Group, RenderableType
from rich.table import Table
from rich.text import Text

from router.deliver.any_route import AnyRoute, read_any_route
from router.deliver.cutlist_csv import cell_text
from router.deliver.files import save
from router.deliver.route_json import RouteError
from router.scenario.errors import Fault

if TYPE_CHECKING:
    from pathlib import Path

    from router.route.kept import Change, Kept
    from router.route.model import Route
    from router.scenario.model import Scenario

FORMAT = "branch-drop-router/changes"
VERSION = 1
_WHAT = {
    "new": "new",
    "gone": "gone",
    "moved": "moved",
    "outlet_stays": "outlet stays",
    "unserved": "not served",
    "served_again": "served again",
}
_COLUMNS = ("kind", "id", "what", "before", "now", "moved mm", "points", "why", "rule", "against")


def read_older(scenario: Scenario, path: Path) -> AnyRoute:
    """Read the route to be kept: of this scenario, of an older state of it, or a drawing.

    Raises
    ------
    RouteError
        If it cannot be used, or has no head of the scenario (heads are matched by their ids).
    """
    found = read_any_route(scenario, path, whole=False)
    ids = {head.id for head in scenario.heads}
    if not any(head.id in ids for head in found.route.heads):
        names = [head.id for head in found.route.heads]
        some = ", ".join(names[:5]) + (f" and {len(names) - 5} more" if len(names) > 5 else "")
        message = "none of its heads is in the scenario; heads are matched by their ids"
        raise RouteError([Fault("heads", "", some, "", message)], str(path))
    return found


def changes_text(kept: Kept, suffix: str) -> str:
    """Give the changes as JSON or as a table (``.csv``)."""
    if suffix != ".csv":
        data = {"format": FORMAT, "version": VERSION, **kept.model_dump(mode="json")}
        return json.dumps(data, indent=2, ensure_ascii=False) + "\n"
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\n")
    writer.writerow(_COLUMNS)
    for c in kept.changes:
        moved = "" if c.moved is None else float(f"{c.moved:g}")
        points = float(f"{c.points:g}")
        row = (c.kind, c.id, _WHAT[c.what], c.before, c.now, moved, points, c.why, c.rule, c.against)
        writer.writerow([cell_text(cell) for cell in row])
    return out.getvalue()


def write_changes(kept: Kept, path: Path) -> None:
    """Write the changes, whole or not at all."""
    save(path, changes_text(kept, path.suffix.lower()))


def changes_table(route: Route, more: str = "") -> RenderableType:
    """Lay out what was kept and what changed. ``more``: one line more."""
    kept = route.kept
    assert kept is not None
    head = (
        f"kept: {kept.heads_kept} of {kept.heads} heads, {kept.runs_kept} of {kept.runs} runs, "
        f"{kept.level_changes_kept} of {kept.level_changes} level changes, "
        f"{kept.pieces_kept} of {kept.pieces} pieces of pipe exactly as they were"
    )
    parts: list[RenderableType] = [Text(head, style="bold")]
    if kept.changes:
        parts.append(_table(kept.changes))
    else:
        parts.append(Text("nothing changed"))
    if more:
        parts.append(Text(more))
    return Group(*parts)


def _table(changes: list[Change]) -> Table:
    table = Table("", "what", "before", "now", "moved mm", "why", box=None, pad_edge=False)
    for c in changes:
        kind = {"head": "", "run": "run ", "level_change": "level change "}[c.kind]
        moved = "" if c.moved is None else f"{c.moved:,.0f}"
        row = (f"{kind}{c.id}", _WHAT[c.what], c.before, c.now, moved, c.why)
        table.add_row(*(Text(part) for part in row))
    return table


def cost_of_keeping(kept: Route, free: Route) -> str:
    """Say what keeping costs against routing anew, the changes themselves not counted."""
    record = kept.kept
    if record is None or "optimal" not in (kept.status, free.status) or kept.status != free.status:
        return ""
    more = kept.objective.value - record.points - free.objective.value
    if more <= 0.005:
        return "keeping costs nothing: routed anew it costs as much"
    points = f"{more:,.0f}"
    return f"keeping costs {points} point{'' if points == '1' else 's'} more than routing anew"
