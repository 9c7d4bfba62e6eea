"""The two reference pages, written from the code itself: ``rules.md`` and ``formats.md``.

python docs/reference.py            writes both
python docs/reference.py --check    ends with 1 where one of them is out of date
"""

from __future__ import annotations

import argparse
import re
import sys
from pathlib import Path
from typing import TYPE_CHECKING, Any

from router.building.route import route_scenario
from router.check import rules_in_force
from router.cutlist import cut_list
from router.cutlist.sheets import sheets
from router.deliver.cutlist_xlsx import FORMAT as XLSX_FORMAT
from router.deliver.cutlist_xlsx import VERSION as XLSX_VERSION
from router.deliver.dxf.write import VERSION as DXF_WRITTEN
from router.deliver.schemas import SCHEMAS, version_of
from router.readers.dxf.mapping import DxfMapping
from router.readers.ifc.limits import SCHEMAS as IFC_READ
from router.readers.ifc.mapping import Mapping as ModelMapping
from router.readers.tables.columns import Columns
from router.route.schema import route_schema
from router.scenario import read_scenario, scenario_schema
from router.trade.published import load
from router.trade.styles import EXEMPTIONS, RULES

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping

HERE = Path(__file__).parent
ROOT = HERE.parent
MADE = "<!-- written by docs/reference.py: do not edit by hand -->\n"

Json = dict[str, Any]


def table(columns: Iterable[str], rows: Iterable[Iterable[str]]) -> str:
    """Write a Markdown table; bars in cells are escaped."""
    columns = list(columns)
    lines = ["| " + " | ".join(columns) + " |", "|" + "---|" * len(columns)]
    lines += ["| " + " | ".join(cell.replace("|", "\\|") for cell in row) + " |" for row in rows]
    return "\n".join(lines) + "\n"


def prose(text: str) -> str:
    """Turn a docstring's text into Markdown."""
    text = re.sub(r":\w+:`~?([^`]+)`", r"`\1`", text.replace("``", "`"))
    return text.strip()


# -- rules ----------------------------------------------------------------------------------


def rules_page() -> str:
    """Every rule of the referee, every rule on styles, every table, each with source and grade."""
    parts = [
        "# The rules and where they come from\n",
        MADE,
        "Values are paraphrased and partly from memory. The local code, the listing of each product and a\n"
        "licensed practitioner decide; a scenario can override every value (`rules`, `rules.tables`).\n"
        "Limits for your own scenario: `branch-router rules SCENARIO`.\n",
        "**Grades.** A: a published sheet was seen that says so. B: from memory, checked in part. C: from\n"
        "memory. D: from memory or assumed, doubtful: give your own. none: common practice, or what a route\n"
        "means here.\n",
        "## What the referee judges\n",
        "Each rule is a file of its own in `router/check/rules/` and shares no code with the search. The\n"
        "limits shown are those of the demo, a dry system (`scenarios/loading_dock.json`).\n",
    ]
    rules = rules_in_force(read_scenario(ROOT / "scenarios" / "loading_dock.json"))
    parts.append(
        table(
            ("rule", "what it says", "limit in the demo", "source", "grade"),
            ((f"`{r.id}`", r.says, r.limit, r.source, r.grade) for r in rules),
        )
    )
    parts += [
        "## Which styles are allowed\n",
        "In this order; the first that refuses a style is named as the reason.\n",
        table(
            ("rule", "what it says", "source", "grade"),
            ((f"`{r.id}`", r.text, r.source, r.grade) for r in (*RULES, *EXEMPTIONS)),
        ),
        "## Tables of values\n",
        "In the unit that their source prints. `rules.tables` overrides single rows, in the same unit:\n"
        '`{"threaded_90": {"1": 1.5}}`.\n',
        table(
            ("table", "unit", "by", "rows", "source", "grade", "rows with another grade"),
            (
                (
                    f"`{name}`",
                    t.unit,
                    t.keys,
                    str(len(t.values)),
                    t.source,
                    t.sure,
                    ", ".join(f"{row}: {grade}" for row, grade in sorted(t.sure_rows.items(), key=str)),
                )
                for name, t in sorted(load().items())
            ),
        ),
    ]
    return "\n".join(parts)


# -- formats --------------------------------------------------------------------------------


def kind_of(field: Json) -> str:
    """Say in words what a field of a JSON Schema holds."""
    if "$ref" in field:
        name = field["$ref"].rsplit("/", 1)[1]
        return f"[{name}](#{name.lower()})"
    if "const" in field:
        return f"`{field['const']}`"
    if "enum" in field:
        return ", ".join(f"`{value}`" for value in field["enum"])
    if "anyOf" in field:
        return " or ".join(dict.fromkeys(kind_of(part) for part in field["anyOf"]))
    if field.get("type") == "array":
        if "prefixItems" in field:
            return f"[{', '.join(kind_of(part) for part in field['prefixItems'])}]"
        return f"list of {kind_of(field.get('items', {}))}"
    if field.get("type") == "object":
        inner = field.get("additionalProperties")
        return f"by name: {kind_of(inner)}" if isinstance(inner, dict) else "by name"
    words = {"null": "nothing", "boolean": "yes or no", "string": "text", "integer": "whole number"}
    return words.get(field.get("type", ""), field.get("type", "any"))


def default_of(name: str, field: Json, required: Iterable[str]) -> str:
    """Say what a field is where it is left out."""
    if name in required:
        return "needed"
    value = field.get("default", "")
    if value is None:
        return "none"
    return "" if value == "" else f"`{str(value).lower() if isinstance(value, bool) else value}`"


def record(name: str, schema: Json, depth: str = "###") -> str:
    """One record: its text and a table of its fields."""
    parts = [f"{depth} {name}\n"]
    if schema.get("description"):
        parts.append(prose(schema["description"]) + "\n")
    fields: Mapping[str, Json] = schema.get("properties", {})
    needed = schema.get("required", [])
    rows = [
        (f"`{key}`", kind_of(field), default_of(key, field, needed), prose(field.get("description", "")))
        for key, field in fields.items()
    ]
    parts.append(table(("field", "holds", "default", "unit and remarks"), rows))
    return "\n".join(parts)


def schema_part(schema: Json, title: str) -> list[str]:
    """All records of a schema, the whole file's first."""
    parts = [record(title, schema)]
    parts += [record(name, part) for name, part in sorted(schema.get("$defs", {}).items())]
    return parts


def formats_page() -> str:
    """Every file that is read or written."""
    parts = [
        "# The files\n",
        MADE,
        "JSON files have published schemas: `branch-router schema NAME`, with the name of the table below.\n",
        *_all_files(),
        "## The scenario\n",
        "JSON or YAML. Lengths in `units` (mm, m, in or ft); defaults are in mm. Sizes as DN or\n"
        "nominal inches.\n",
        *schema_part(scenario_schema(), "The whole scenario"),
        "## The route\n",
        "What `branch-router route` writes. All lengths in mm, whatever the scenario's units.\n",
        *schema_part(route_schema(), "The whole route"),
        "## A person's drawing\n",
        "A CSV table of straight pipes, one a row, in mm and DN: `x1,y1,z1,x2,y2,z2,size` and if you like\n"
        "`id` and `role` (`main`, `branch`, `head_arm`). Fittings are not drawn: how pipes meet tells them.\n"
        "`branch-router infer` reads it, `export` writes one; `import ifc` and `import dxf` write what they\n"
        "find.\n",
        "## Tables that become a scenario\n",
        "`branch-router import csv DIR` reads three CSV tables, in mm and DN (`scenarios/workshop` is a\n"
        "small one):\n",
        table(
            ("file", "columns"),
            (
                (f"`{path.name}`", f"`{path.read_text(encoding='utf-8').splitlines()[0]}`")
                for path in sorted((ROOT / "scenarios" / "workshop").glob("*.csv"))
            ),
        ),
        "`branch-router import table` takes tables with headers of any names, as CSV or XLSX, in mm, cm, m,\n"
        "in or ft, with decimal points or commas, by this file (`--columns`; all of it optional):\n",
        *schema_part(Columns.model_json_schema(), "The columns of tables"),
        "## Models and drawings\n",
        "Mapping files (YAML or JSON, `--mapping`) tell `branch-router import ifc` and `import dxf` what is\n"
        "what. Models need none; a drawing needs one unless it is ours.\n",
        *schema_part(ModelMapping.model_json_schema(), "Mapping of models"),
        *schema_part(DxfMapping.model_json_schema(), "Mapping of drawings"),
        "## The cut list\n",
        "`branch-router cutlist` writes these as CSV files and as sheets of `cutlist.xlsx`:\n",
        table(("file", "columns"), _cut_list_columns()),
    ]
    return "\n".join(parts)


def _all_files() -> list[str]:
    """Every file that the tool writes or reads, with its format and version."""
    ours = [
        (f"`{name}`", *WHERE[name], f"`branch-drop-router/{name}`", str(version_of(make())))
        for name, make in SCHEMAS.items()
    ]
    return [
        "## All files, and versions\n",
        "Every JSON file of ours says its `format` and `version`; files that people write may leave both\n"
        "out. A file of a version that is not read is refused in one line, which says what is read and what\n"
        "to do; a field that a version does not know is refused by its name. The schemas are held in\n"
        "`tests/schemas`: what older files or older readers would not bear raises the version. All routes\n"
        "and scenarios since 0.1.0 are version 1 and are read; a route of 0.1.0 lacks terms of the\n"
        "objective, which is said.\n",
        table(("name", "file", "written by", "read by", "format", "version"), ours),
        "Other files have the version that their standard or their first row gives them:\n",
        table(("file", "written by", "read by", "version"), OTHER_FILES),
    ]


def _cut_list_columns() -> list[tuple[str, str]]:
    scenario = read_scenario(ROOT / "scenarios" / "minimal.json")
    route, _ = route_scenario(scenario)
    return [
        (f"`{sheet.name}.csv`", ", ".join(f"`{name}`" for name in sheet.columns))
        for sheet in sheets(cut_list(scenario, route))
    ]


ROUTE_READERS = "`check`, `compare`, `explain`, `draw`, `cutlist`, `report`, `export`, `route --keep`"
WHERE = {
    "scenario": ("`.json`, `.yaml`", "`import`", "all commands"),
    "route": ("`.json`", "`route`, `infer`, `alternatives`", ROUTE_READERS),
    "verdict": ("`.json`", "`check --json`", ""),
    "changes": ("`.json`", "`route --keep OLD --changes`", ""),
    "comparison": ("`.json`", "`compare --json`", ""),
    "alternatives": ("`alternatives.json`", "`alternatives`", "`alternatives` (which older routes go)"),
    "reasons": ("`.json`", "`explain --json`", ""),
    "times": ("`.json`", "`route --times`", ""),
    "model-mapping": ("`.json`, `.yaml`", "you", "`import ifc --mapping`"),
    "drawing-mapping": ("`.json`, `.yaml`", "you", "`import dxf --mapping`"),
    "columns": ("`.json`, `.yaml`", "you", "`import table --columns`"),
}
"""By name of a schema: file, who writes it, who reads it."""

HEADER_ROW = "the header row: columns are found by name, never by place; new ones come last"
OTHER_FILES = [
    ("price table, pins, weights", "you", "all commands", "parts of the scenario, versioned with it"),
    (
        "pipes as a drawing, `.csv`",
        "`export`, `import` (`..._drawn.csv`)",
        f"`infer`, {ROUTE_READERS}",
        HEADER_ROW,
    ),
    ("changes, `.csv`", "`route --keep OLD --changes`", "", HEADER_ROW),
    ("cut list, `.csv`", "`cutlist`", "", HEADER_ROW),
    (
        "cut list, `cutlist.xlsx`",
        "`cutlist`",
        "",
        f"document properties `format` (`{XLSX_FORMAT}`) and `version` ({XLSX_VERSION})",
    ),
    ("tables, `.csv`, `.xlsx`", "you", "`import csv`, `import table`", "the header row; see below"),
    (
        "model, `.ifc`, `.ifczip`",
        "`export`",
        "`import ifc`",
        f"written: IFC4; read: {', '.join(IFC_READ)}. What ours carry in `BranchRouter_` sets says the "
        "version of the scenario",
    ),
    (
        "drawing, `.dxf`",
        "`export`",
        "`import dxf`",
        f"written: DXF {DXF_WRITTEN}. What ours carry as extended data says the version of the scenario",
    ),
    ("topics, `.bcf`, `.bcfzip`", "`export`", "", "BCF 2.1 (`bcf.version` in the archive)"),
    (
        "drawings, `.svg`, `.pdf`",
        "`draw`, `compare --picture`, `alternatives`",
        "",
        "to be looked at; nothing reads them",
    ),
    ("report, `.html`", "`report`", "", "to be looked at; what its scripts read is private to the page"),
    ("schema, `.json`", "`schema -o`", "", "JSON Schema, draft 2020-12"),
]


PAGES = {"rules.md": rules_page, "formats.md": formats_page}


def main() -> int:
    """Write the pages, or check them."""
    parser = argparse.ArgumentParser(description="Write the two reference pages from the code.")
    parser.add_argument("--check", action="store_true")
    check = parser.parse_args().check
    stale = []
    for name, page in PAGES.items():
        text, path = page(), HERE / name
        if not check:
            path.write_text(text, encoding="utf-8")
        elif not path.exists() or path.read_text(encoding="utf-8") != text:
            stale.append(name)
    if stale:
        print(f"out of date: {', '.join(stale)}; run python docs/reference.py", file=sys.stderr)
    return 1 if stale else 0


if __name__ == "__main__":
    sys.exit(main())
