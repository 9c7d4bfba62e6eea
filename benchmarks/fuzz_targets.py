"""What ``fuzz_readers.py`` feeds: one function a reader, from bytes; and the seeds of each."""

from __future__ import annotations

import copy
import io
import json
import random
import tempfile
import zipfile
from collections.abc import Callable
from pathlib import Path
from typing import Any

ROOT = Path(__file__).parents[1]
SCENARIOS = ROOT / "scenarios"
FOLDER = Path(tempfile.mkdtemp(prefix="fuzz-", dir="/dev/shm" if Path("/dev/shm").is_dir() else None))

ODD: list[Any] = [
    None, True, False, -1, 0, 1, 2, 2.5, 0.001, -0.0, 90, 1e6, -1e9, 1e300, 10**30, "", " ", "x", "B1", "H1",
    "\u202eB1", "a\x00b", "\ud800", "1/2", "DN25", "schedule", "other", [], [1], [1, 2], [1, 2, 3], [[1, 2]],
    [[0, 0], [0, 0]], [[0, 0], [5, 0], [5, 5]], {}, {"id": "B1"}, {"a": {"b": []}}, {"H1": {"run": "B1"}},
    ["wet"], [{"up_to": 50, "joining": "welded"}, {"joining": "welded"}], {"price": 1}, "tee", "optimal",
    float("nan"), float("inf"), ["B1"], [None, None], "T1", "P0001", "F0001", 25, 15, "1e5", "1,5",
]  # fmt: skip
EXTRA = [
    "rules", "weights", "pins", "system", "units", "band", "supply", "tables", "shift", "clearance", "run",
    "kind", "joining", "prices", "id", "styles", "levels", "stations", "trapped", "kept", "stopped_by",
    "take_outs", "hangers", "H1", "B1",
]  # fmt: skip


def _write(name: str, data: bytes | str) -> Path:
    path = FOLDER / name
    path.write_bytes(data if isinstance(data, bytes) else data.encode("utf-8", "surrogatepass"))
    return path


def _json(name: str, data: Any) -> Path:
    return _write(name, json.dumps(data))


def _places(data: Any) -> list[tuple[Any, Any]]:
    if isinstance(data, dict):
        items: list[tuple[Any, Any]] = list(data.items())
    elif isinstance(data, list):
        items = list(enumerate(data))
    else:
        return []
    return [(data, key) for key, _ in items] + [place for _, part in items for place in _places(part)]


class Bytes:
    """Takes numbers off the front of the fuzzer's bytes, so that a change of a byte is one change."""

    def __init__(self, data: bytes) -> None:
        self.data, self.at = data, 0

    def number(self, size: int = 1) -> int:
        """Give the next number, 0 at the end."""
        part = self.data[self.at : self.at + size]
        self.at += size
        return int.from_bytes(part, "big")

    @property
    def more(self) -> bool:
        """Whether bytes are left."""
        return self.at < len(self.data)


def _changed(data: Any, source: Bytes) -> Any:
    """Put odd values in places of plain data: five bytes a change."""
    data = copy.deepcopy(data)
    for _ in range(6):
        options = _places(data)
        if not source.more or not options:
            break
        container, key = options[source.number(2) % len(options)]
        action, choice = source.number(), source.number()
        if action < 40 and isinstance(container, list):
            container.append(copy.deepcopy(container[key]))
        elif action < 60:
            del container[key]
        elif action < 100 and isinstance(container, dict):
            container[EXTRA[choice % len(EXTRA)]] = copy.deepcopy(ODD[source.number() % len(ODD)])
        elif action < 130 and isinstance(container[key], (int, float)):
            container[key] = container[key] * (choice - 128) / 16
        elif action < 150 and len(options) > 1:
            other, name = options[source.number(2) % len(options)]
            container[key] = copy.deepcopy(other[name])
        else:
            container[key] = copy.deepcopy(ODD[choice % len(ODD)])
    return data


# --- scenarios


def scenario_text(data: bytes) -> None:
    """Scenario as bytes of a file; the first byte picks the suffix."""
    from router.scenario import notes, read_scenario

    suffix = (".json", ".yaml", "")[data[0] % 3] if data else ""
    notes(read_scenario(_write(f"s{suffix}", data[1:])))


def scenario_data(data: bytes) -> None:
    """Scenario as data with odd values in it; what is read must be written and read back the same."""
    from router.scenario import notes, parse_scenario
    from router.scenario.write import scenario_data as plain

    source = Bytes(data)
    names = ("minimal", "clinic_corridor", "loading_dock", "variants/loading_dock_pinned", "minimal")
    base = _CACHE(names[source.number() % len(names)])
    scenario = parse_scenario(_changed(base, source))
    notes(scenario)
    again = parse_scenario(plain(scenario))
    if again != scenario:
        raise AssertionError("read back otherwise")


def scenario_routed(data: bytes) -> None:
    """Ask of a changed small scenario that is accepted what needs no solving."""
    from router.check import rules_in_force
    from router.deliver.tables import scenario_table
    from router.scenario import parse_scenario

    scenario = parse_scenario(_changed(_CACHE("minimal"), Bytes(data)))
    rules_in_force(scenario)
    scenario_table(scenario)


# --- routes


def route_text(data: bytes) -> None:
    """Route file as bytes."""
    from router.deliver.route_json import read_route

    read_route(_write("r.json", data))


def route_data(data: bytes) -> None:
    """Route as data with odd values in it, read for drawing, and judged where it can be judged."""
    from router.check import check_route
    from router.deliver.any_route import read_any_route

    scenario, route = _routed()
    path = _json("r.json", _changed(route, Bytes(data)))
    check_route(scenario, read_any_route(scenario, path, whole=False).route)


def route_whole(data: bytes) -> None:
    """Route that passes for whole: compared, cut and drawn."""
    from router.compare import compare
    from router.cutlist.make import cut_list
    from router.deliver.any_route import read_any_route
    from router.deliver.draw import draw_svg

    scenario, route = _routed()
    path = _json("r.json", _changed(route, Bytes(data)))
    found = read_any_route(scenario, path).route
    compare(scenario, [("a", found), ("b", found)])
    cut_list(scenario, found)
    draw_svg(scenario, found)


def drawing(data: bytes) -> None:
    """Read a person's drawing (CSV) as bytes, and infer its route."""
    from router.deliver.any_route import read_any_route

    read_any_route(_read("minimal"), _write("d.csv", data))


# --- tables


def csv_folder(data: bytes) -> None:
    """Three tables, divided by a line of three percent signs."""
    from router.readers import read_csv_folder

    parts = [*data.split(b"%%%\n"), b"", b""][:3]
    for name, part in zip(("heads", "pipes", "obstructions"), parts, strict=True):
        _write(f"{name}.csv", part)
    read_csv_folder(FOLDER)


def table_csv(data: bytes) -> None:
    """Heads and obstructions as CSV, put into a scenario."""
    from router.readers.into import into
    from router.readers.tables import tables_drawn

    heads, _, solids = data.partition(b"%%%\n")
    a, b = _write("h.csv", heads), _write("o.csv", solids) if solids else None
    into(_read("minimal"), tables_drawn(a, b, None))


def table_xlsx(data: bytes) -> None:
    """Read a workbook; the first byte says which part the rest replaces, 255: the whole file."""
    from router.readers.into import into
    from router.readers.tables import tables_drawn

    which = data[0] if data else 255
    if which == 255:
        raw = data[1:]
    else:
        parts = dict(_workbook())
        names = list(parts)
        parts[names[which % len(names)]] = data[1:]
        out = io.BytesIO()
        with zipfile.ZipFile(out, "w") as archive:
            for name, part in parts.items():
                archive.writestr(name, part)
        raw = out.getvalue()
    into(_read("minimal"), tables_drawn(_write("h.xlsx", raw), None, None))


# --- drawings and models


def dxf(data: bytes) -> None:
    """Read a drawing (DXF) as text, and make the scenario of it."""
    from router.readers.dxf import read_dxf
    from router.readers.floor import floor

    floor(read_dxf(_write("d.dxf", data)))


def dxf_lines(data: bytes) -> None:
    """Read a drawing of ours with lines changed, its frame left whole."""
    from router.readers.dxf import read_dxf
    from router.readers.floor import floor

    lines = list(_dxf_lines())
    start = lines.index(b"ENTITIES")
    floor(read_dxf(_write("d.dxf", b"\n".join(_cut_up(lines, start, Bytes(data))))))


_LINES = [
    b"nan", b"1e999", b"-1", b"0", b"", b"\xff\xfe", b"99999999999999999999", b"{", b"INSERT", b"LWPOLYLINE",
    b"CIRCLE", b"3DFACE", b"POLYLINE", b"HATCH", b"ARC", b"LINE", b"ELLIPSE", b"SPLINE", b"TEXT", b"MTEXT",
    b"SOLID", b"MESH", b"POINT", b"VERTEX", b"SEQEND", b"ATTRIB", b" 10", b" 20", b" 30", b" 38", b" 39",
    b" 42", b" 41", b" 50", b" 66", b" 70", b" 90", b"210", b"220", b"230", b"1e7", b"ROUTER-RUNS", b"\xd8",
]  # fmt: skip


def _cut_up(lines: list[bytes], start: int, source: Bytes) -> list[bytes]:
    for _ in range(8):
        if not source.more:
            break
        span = len(lines) - 6 - start
        k = start + source.number(3) % max(span, 1)
        action, choice = source.number() % 5, source.number()
        if action == 0:
            del lines[k]
        elif action == 1:
            lines.insert(k, lines[start + choice * 17 % max(span, 1)])
        elif action == 2:
            lines[k] = _LINES[choice % len(_LINES)]
        elif action == 3:
            lines[k], lines[k + 1] = lines[k + 1], lines[k]
        else:
            lines[k:k] = lines[k : k + 2 * (choice % 8)]
    return lines


def ifc_scan(data: bytes) -> None:
    """Look at a model's text before it is parsed, and unpack an archive."""
    from router.readers.ifc.limits import DEFAULT
    from router.readers.ifc.scan import scan
    from router.readers.ifc.zipped import unpack

    if data[:2] == b"PK":
        unpack(_write("m.ifczip", data), FOLDER / "out.ifc", DEFAULT)
    scan(_write("m.ifc", data), DEFAULT)


_TOKENS = [
    b"$", b"*", b"0.", b"-1.", b"1.E300", b"1.E-30", b"NAN", b"()", b"((0.,0.))", b"'x'", b"''", b".T.",
    b".U.", b"#1", b"#999999", b"(#1)", b"25", b"'\\X2\\D800\\X0\\'", b"IFCLABEL('x')", b"IFCREAL(1.)",
    b"10000000000.",
]  # fmt: skip


def ifc_read(data: bytes) -> None:
    """Everything on our side of the parser, in this process: values of a model's statements changed."""
    from dataclasses import asdict

    from router.readers.floor import floor
    from router.readers.ifc.assemble import Assembly
    from router.readers.ifc.child import DAMAGED
    from router.readers.ifc.child import read as child_read
    from router.readers.ifc.found import from_plain
    from router.readers.ifc.limits import DEFAULT
    from router.readers.ifc.mapping import Mapping
    from router.readers.ifc.scan import scan

    path = _write("m.ifc", _tokens_changed(_model(), Bytes(data)))
    mapping = Mapping(broken="note")
    job = {
        "path": str(path), "name": "m.ifc", "statements": scan(path, DEFAULT),
        "mapping": mapping.model_dump(mode="json"), "limits": asdict(DEFAULT),
    }  # fmt: skip
    import contextlib

    with contextlib.redirect_stdout(io.StringIO()):
        try:
            result = child_read(job)
        except DAMAGED:
            return
    if "fault" not in result:
        plain = json.loads(json.dumps(result["found"]))
        floor(Assembly([from_plain(plain)], mapping, DEFAULT, "m").assemble())


def ifc_child(data: bytes) -> None:
    """Read the same by way of the reading process, as a person's import goes."""
    from router.readers.floor import floor
    from router.readers.ifc import read_ifc

    floor(read_ifc([_write("m.ifc", _tokens_changed(_model(), Bytes(data)))]))


def _tokens_changed(model: bytes, source: Bytes) -> bytes:
    import re

    start = model.index(b"DATA;")
    spots = list(re.finditer(rb"(?<=[(,])[^(),;]+(?=[),])", model[start:]))
    changes: dict[int, bytes] = {}
    for _ in range(8):
        if not source.more:
            break
        changes[source.number(2) % len(spots)] = _TOKENS[source.number() % len(_TOKENS)]
    for k in sorted(changes, reverse=True):
        a, b = spots[k].span()
        model = model[: start + a] + changes[k] + model[start + b :]
    return model


# --- small files and words


def mappings(data: bytes) -> None:
    """Files of columns and of mappings; the first byte picks which."""
    from router.readers.dxf import read_dxf_mapping
    from router.readers.ifc import read_mapping
    from router.readers.tables import read_columns

    which = data[0] if data else 0
    path = _write(("m.yaml", "m.json")[which // 3 % 2], data[1:])
    (read_columns, read_mapping, read_dxf_mapping)[which % 3](path)


def spelled(data: bytes) -> None:
    """Words of tables and drawings."""
    from router.readers.spelled import brackets, k_factors, kinds, lengths, numbers, sizes
    from router.trade.sizes import parse_size

    text = data[1:].decode("utf-8", "surrogateescape")
    mark: Any = (None, ".", ",")[data[0] % 3] if data else None
    marks = numbers.Marks(said=mark)
    marks.learn([text, text[: len(text) // 2]])
    calls: list[Callable[[], object]] = [
        lambda: lengths.length(text, "mm", marks), lambda: lengths.length(text, "ft", marks),
        lambda: lengths.number(text, marks, ("deg",)), lambda: lengths.unit_word(text),
        lambda: sizes.size(text), lambda: parse_size(text), lambda: k_factors.k_unit(text),
        lambda: kinds.solid_kind(text), lambda: kinds.head_kind(text), lambda: brackets.parted(text),
    ]  # fmt: skip
    for call in calls:
        try:
            call()
        except (numbers.Unclear, ValueError) as error:
            if type(error) not in (numbers.Unclear, ValueError):
                raise


# --- what they start from


def _cache(function: Callable[..., Any]) -> Callable[..., Any]:
    kept: dict[Any, Any] = {}

    def inner(*args: Any) -> Any:
        if args not in kept:
            kept[args] = function(*args)
        return kept[args]

    return inner


@_cache
def _CACHE(name: str) -> Any:
    return json.loads((SCENARIOS / f"{name}.json").read_text(encoding="utf-8"))


@_cache
def _read(name: str) -> Any:
    from router.scenario import read_scenario

    return read_scenario(SCENARIOS / f"{name}.json")


@_cache
def _routed() -> tuple[Any, Any]:
    from router.building.route import route_scenario
    from router.deliver.route_json import route_text as text

    scenario = _read("minimal")
    return scenario, json.loads(text(route_scenario(scenario)[0]))


@_cache
def _workbook() -> Any:
    import openpyxl

    book = openpyxl.Workbook()
    sheet: Any = book.active
    sheet.title = "heads"
    for row in (
        ["id", "x", "y", "z", "kind"],
        ["H1", 1500, 0, 2700, "pendent"],
        ["H2", "4,8 m", 400, 2700, ""],
    ):
        sheet.append(row)
    out = io.BytesIO()
    book.save(out)
    with zipfile.ZipFile(out) as archive:
        return {name: archive.read(name) for name in archive.namelist()}


@_cache
def _dxf_lines() -> Any:
    from router.deliver.dxf import scenario_dxf

    return scenario_dxf(_read("loading_dock")).encode().split(b"\n")


@_cache
def _model() -> bytes:
    """Two heads, their pipes, a line and a beam."""
    path = FOLDER / "seed.ifc"
    import sys

    sys.path.insert(0, str(ROOT / "tests" / "readers" / "ifc"))
    from building import Building, box

    building = Building()
    building.head("H1", (0.0, 0.0, 2500.0), type_name="Sprinkler pendent")
    building.pipe("P1", (0.0, 0.0, 2500.0), (0.0, 0.0, 3000.0), 33.4)
    building.pipe("P2", (-3000.0, 0.0, 3000.0), (3000.0, 0.0, 3000.0), 42.2)
    building.solid("beam", "B1", box(500, -900, 700, 3000), 3100, 3300)
    return bytes(building.write(path).read_bytes())


Target = Callable[[bytes], None]
TARGETS: dict[str, tuple[Target, float]] = {
    "scenario_text": (scenario_text, 3.0),
    "scenario_data": (scenario_data, 3.0),
    "scenario_routed": (scenario_routed, 1.0),
    "route_text": (route_text, 1.0),
    "route_data": (route_data, 2.0),
    "route_whole": (route_whole, 1.0),
    "drawing": (drawing, 3.0),
    "csv_folder": (csv_folder, 2.0),
    "table_csv": (table_csv, 2.0),
    "table_xlsx": (table_xlsx, 2.0),
    "dxf": (dxf, 1.0),
    "dxf_lines": (dxf_lines, 3.0),
    "ifc_scan": (ifc_scan, 0.5),
    "ifc_read": (ifc_read, 3.0),
    "ifc_child": (ifc_child, 1.0),
    "mappings": (mappings, 1.0),
    "spelled": (spelled, 1.0),
}
"""By name: the target, and its share of the time."""


def seeds(name: str) -> list[bytes]:
    """Give the inputs that a target starts from."""
    rng = random.Random(name)
    plans = [bytes(rng.randrange(256) for _ in range(5 * k + 1)) for k in range(1, 9)]
    small = (SCENARIOS / "minimal.json").read_bytes()
    if name == "scenario_text":
        import yaml

        spelled_yaml = yaml.safe_dump(json.loads(small)).encode()
        dock = (SCENARIOS / "loading_dock.json").read_bytes()
        return [b"\0" + small, b"\1" + spelled_yaml, b"\2" + small, b"\0" + dock, b"\1a: &a [*a, !!int 3]"]
    if name == "route_text":
        return [json.dumps(_routed()[1]).encode()]
    if name == "drawing":
        return [
            b"id,x1,y1,z1,x2,y2,z2,size\nA,0,0,3200,8600,0,3200,32\nB,1500,0,3200,1500,0,2700,25\n",
            b"x1,y1,z1,x2,y2,z2,dn,role,line_id,head_ids\n0,0,3200,8600,0,3200,32,branch,B1,\n"
            b"4800,0,3200,4800,400,3200,25,head_arm,,H2\n4800,400,3200,4800,400,2700,25,head_arm,,H2\n",
        ]
    if name == "csv_folder":
        files = [
            (SCENARIOS / "workshop" / f"{one}.csv").read_bytes() for one in ("heads", "pipes", "obstructions")
        ]
        few = [b"".join(part.splitlines(keepends=True)[:6]) for part in files]
        return [b"%%%\n".join(few)]
    if name == "table_csv":
        solids = b"id,kind,x1,y1,x2,y2,bottom,top\nD,duct,0,0,3000,500,3000,3300\n"
        return [
            b"id,x,y,z,kind\nH1,1500,0,2700,pendent\nH2,4800,400,2700,\n%%%\n" + solids,
            b"id;x [m];y [m];z [m];K [l/min/bar^0.5]\nH1;1,5;0;2,7;80\nH2;4,8;0,4;2,7;115\n",
        ]
    if name == "table_xlsx":
        return [bytes([k]) + part for k, part in enumerate(_workbook().values())]
    if name == "dxf":
        return [b"\n".join(_dxf_lines())]
    if name == "ifc_scan":
        out = io.BytesIO()
        with zipfile.ZipFile(out, "w") as archive:
            archive.writestr("m.ifc", _model())
        return [_model(), out.getvalue()]
    if name == "mappings":
        folder = SCENARIOS / "coordination"
        return [
            b"\0" + (folder / "columns.yaml").read_bytes(), b"\2" + (folder / "layers.yaml").read_bytes(),
            b'\4{"head_words": ["sprinkler"], "box": {"x": [0, 1]}, "origin": [0, 0, 0]}',
            b'\5{"units": "mm", "layers": {"A*": {"holds": "heads", "blocks": {"B": {"kind": "upright"}}}}}',
            b'\3{"heads": {"columns": {"id": "No"}, "words": {"kind": {"a": "pendent"}}, "skip_rows": 2}}',
        ]  # fmt: skip
    if name == "spelled":
        words = ["1,234", "12'-6\"", "12 ft 6 1/2 in", "3,5 m", "DN32", "1-1/4", "½", "K 80 l/min/bar^0.5"]
        return [
            b"\0" + word.encode() for word in [*words, "Höhe (mm)", "Cable trays", "1 1/2 in.", "-7e3 mm"]
        ]
    return plans
