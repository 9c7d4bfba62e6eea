"""Route files that are broken in one place each; the sound one is made once, by ``router route``."""

from __future__ import annotations

import json
import math
from typing import TYPE_CHECKING, Any

from bad_input.case import GONE, MINIMAL, Case, changed

if TYPE_CHECKING:
    from pathlib import Path

NAN = math.nan
FAR = {"id": "P0001", "kind": "run"}

VALUES: list[tuple[str, str, Any, tuple[str, ...]]] = [
    # name, where, what is put there, what the message must hold
    ("length a word", "pieces.0.length", "long", ('pieces[0].length: piece P0001: "long" mm', "a number")),
    ("length null", "pieces.0.length", None, ("pieces[0].length: piece P0001: null mm", "a number")),
    ("size a half", "pieces.0.dn", 25.5, ("pieces[0].dn: piece P0001: 25.5",)),
    ("size 0", "pieces.0.dn", 0, ("pieces[0].dn: piece P0001: 0 DN", "1 to 1000 expected")),
    ("size -25", "fittings.0.sizes.0", -25, ("fittings[0].sizes[0]: fitting F0001: -25 DN", "1 to 1000")),
    ("start NaN", "pieces.0.start.0", NAN, ("pieces[0].start[0]: piece P0001: nan", "a finite number")),
    ("start 1e9", "pieces.0.start.0", 1e9, ("pieces[0].start[0]: piece P0001: 1000000000 mm", "10 km")),
    ("inlet 1e9", "heads.0.inlet.2", -1e9, ("heads[0].inlet[2]: head H1: -1000000000 mm", "10 km")),
    ("fitting 1e9", "fittings.1.at.1", 1e9, ("fittings[1].at[1]: fitting F0002: 1000000000 mm", "10 km")),
    ("station 1e9", "takeoffs.0.station", 1e9, ("takeoffs[0].station: takeoff T001: 1000000000 mm", "10 km")),
    ("built to 1e9", "runs.0.built_to", 1e9, ("runs[0].built_to: run B1: 1000000000 mm", "10 km")),
    ("start in plan", "pieces.0.start", [0, 0], ("pieces[0].start[2]: piece P0001", "too few values")),
    ("pitch null", "runs.0.pitch", None, ("runs[0].pitch: run B1: null mm/m", "a number expected")),
    ("served a word", "heads.1.served", "yes", ('heads[1].served: head H2: "yes"', "true or false")),
    ("served missing", "heads.1.served", GONE, ("heads[1].served: head H2", "served is missing")),
    ("a field more", "heads.1.colour", 3, ("heads[1].colour: head H2: 3", "unknown field")),
    ("pieces an object", "pieces", {}, ("pieces: {}", "a list expected")),
    ("heads null", "heads", None, ("heads: null", "a list expected")),
    ("runs missing", "runs", GONE, ("runs", "runs is missing")),
    ("a piece null", "pieces.1", None, ("pieces[1]: piece without id: null", "an object expected")),
    ("kind unknown", "pieces.0.kind", "tube", ('pieces[0].kind: piece P0001: "tube"', "'run', 'nipple'")),
    ("side unknown", "takeoffs.0.side", "up", ('takeoffs[0].side: takeoff T001: "up"', "'left', 'right'")),
    ("status unknown", "status", "best", ('status: "best"', "'optimal', 'feasible' or 'infeasible'")),
    ("version 9", "version", 9, ("version: 9", "version 1")),
    ("version as text", "version", "1", ('version: "1"', "version 1")),
    ("format of a scenario", "format", "branch-drop-router/scenario", ("not a route file", "router/route")),
    ("format null", "format", None, ("format: null", "not a route file")),
    ("head twice", "heads.1.id", "H1",
     ('heads[1].id: head H1: "H1"', "duplicate id, already used by heads[0]")),
    ("run twice", "runs.+", "the first of runs", ('runs[1].id: run B1: "B1"', "already used by runs[0]")),
    ("piece twice", "pieces.2.id", "P0001",
     ('pieces[2].id: piece P0001: "P0001"', "already used by pieces[0]")),
    ("fitting twice", "fittings.1.id", "F0001",
     ("fittings[1].id: fitting F0001", "already used by fittings[0]")),
    ("takeoff twice", "takeoffs.1.id", "T001",
     ("takeoffs[1].id: takeoff T001", "already used by takeoffs[0]")),
    ("a turning mark in an id", "pieces.0.id", "P\u202e", ("pieces[0].id: piece P", "P\\u202e", "U+202E")),
    ("half a character", "scenario", "a\udc00", ("scenario", "\\udc00", "half a character")),
    ("count of 2.5 heads", "counts.heads", 2.5, ("counts.heads: 2.5",)),
    ("pipe of many m", "counts.pipe_m.25", "much", ('counts.pipe_m.25: "much"', "a number")),
    ("value infinite", "objective.value", math.inf, ("objective.value: inf", "a finite number")),
    ("a name of 1 MB", "pieces.0.kind", "x" * 10**6, ("pieces[0].kind: piece P0001", "xxx...")),
]  # fmt: skip
OTHERS: list[tuple[str, str, Any, tuple[str, ...]]] = [
    ("a head that is none", "heads.0.id", "H9", ("heads[0].id: head H9: H9", "no such head in the scenario")),
    ("a run that is none", "takeoffs.0.run", "X", ("takeoffs[0].run: takeoff T001: X", "no such run")),
    (
        "a fitting that is none",
        "pieces.0.fittings.1",
        "F9",
        ("pieces[0].fittings: piece P0001: F9", "no such"),
    ),
    ("a style that is none", "heads.0.style", "loop", ("heads[0].style: head H1: loop", "no such style")),
]
TEXTS: list[tuple[str, Any, tuple[str, ...]]] = [
    ("empty", lambda text: "", ("the file is empty; a route in JSON",)),
    ("cut off", lambda text: text[:-300], ("not valid JSON at column",)),
    ("a list", lambda text: f"[{text}]", ("(file)", "a route is one object")),
    ("a key twice", lambda text: text.replace('"dn":', '"dn": 25, "dn":', 1), (
        "pieces[0].dn: piece P0001", "stands twice")),
    ("deep", lambda text: '{"pieces":' + "[" * 99_999, ("over 40 levels", "nested too deep")),
    ("UTF-16", lambda text: text.encode("utf-16"), ("0xff", "is not UTF-8 text")),
    ("binary", lambda text: bytes(range(256)) * 9, ("0x80", "is not UTF-8 text")),
    ("30 pieces of nothing", lambda text: json.dumps({**json.loads(text), "pieces": [{}] * 30}), (
        "300 faults", "and 280 more")),
]  # fmt: skip


def _values(path: str, value: Any) -> Any:
    def make(folder: Path) -> Path:
        sound = json.loads((folder / "route.json").read_text(encoding="utf-8"))
        given = sound["runs"][0] if value == "the first of runs" else value
        (folder / "bad.json").write_text(
            json.dumps(changed(sound, (path, given)), indent=1), encoding="utf-8"
        )
        return folder / "bad.json"

    return make


def _texts(change: Any) -> Any:
    def make(folder: Path) -> Path:
        text = change((folder / "route.json").read_text(encoding="utf-8"))
        (folder / "bad.json").write_bytes(text if isinstance(text, bytes) else text.encode())
        return folder / "bad.json"

    return make


def _by_size(folder: Path) -> Path:
    """A scenario whose joining hangs on sizes, and a route that does not say which holds."""
    ranges = [{"up_to": 50, "joining": "threaded"}, {"joining": "grooved"}]
    (folder / "by_size.json").write_text(json.dumps(changed(MINIMAL, ("system.joining", ranges))))
    return _values("runs.0.joining", None)(folder)  # type: ignore[no-any-return]


CASES = [Case(f"route: {name}", "route", _values(path, value), says) for name, path, value, says in VALUES]
CASES += [Case(f"route: {name}", "route", _texts(change), says) for name, change, says in TEXTS]
CASES += [
    Case(f"route: {name}", "route of another", _values(path, value), says)
    for name, path, value, says in OTHERS
]
CASES.append(
    Case(
        "route: joining open",
        "route by size",
        _by_size,
        ("runs[0].joining: run B1: null", "joining is missing"),
    )
)
