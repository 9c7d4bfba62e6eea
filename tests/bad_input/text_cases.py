"""Scenario files that are broken as text: syntax, encoding, nesting, doubled keys, YAML's surprises."""

from __future__ import annotations

import json

from bad_input.case import MINIMAL, Case, written

SMALL = json.dumps(MINIMAL, indent=1)
FLAT = json.dumps(MINIMAL)
YAML = """\
name: Three heads
runs:
- {id: B1, plan: [[0, 0], [8600, 0]], elevation: 3200}
heads:
- {id: H1, at: [1500, 0, 2700]}
"""
LAUGHS = "a: &a [x,x,x,x,x,x,x,x]\n" + "".join(
    f"{chr(k + 1)}: &{chr(k + 1)} [{','.join(['*' + chr(k)] * 8)}]\n" for k in range(97, 107)
)
IN_JSON: list[tuple[str, str | bytes, tuple[str, ...]]] = [
    ("empty", "", ("the file is empty",)),
    ("blank", " \n\t\n", ("the file is empty",)),
    ("cut off", SMALL[:-40], ("not valid JSON at column",)),
    ("comma too many", SMALL.replace("3200\n", "3200,\n"), ("line 21", "not valid JSON at column")),
    ("comma missing", SMALL.replace('"mm",', '"mm"'),
     ("line 7", "not valid JSON at column 2: expecting ','")),
    ("two objects", SMALL + "{}", ("not valid JSON", "extra data")),
    ("a remark", SMALL.replace("{", "{ // ours", 1), ("line 1", "not valid JSON at column 3")),
    ("quotes of one stroke", SMALL.replace('"', "'"), ("line 2", "not valid JSON at column 2")),
    ("a zero byte", SMALL.replace('"mm"', '"m\0m"'), ("not valid JSON", "invalid control character")),
    ("NaN as a word", SMALL.replace("3200", "NaN"), ("runs[0].elevation: run B1: nan", "a finite number")),
    ("1e999", SMALL.replace("3200", "1e999"), ("runs[0].elevation: run B1: inf", "a finite number")),
    ("100,000 digits", FLAT.replace("3200", "1" * 100_000), (
        "line 1", "runs[0].elevation: run B1: 111111111111... (100000 digits)", "a finite number")),
    ("a key twice", SMALL.replace('"units": "mm"', '"units": "mm", "units": "in"'), (
        'line 6: units: "units"', "stands twice")),
    ("a head's key twice", FLAT.replace('"id": "H2"', '"id": "H2", "id": "H9"'), (
        'heads[1].id: head H2: "id"', "stands twice")),
    ("41 levels", FLAT.replace("[[0, 0], [8600, 0]]", "[" * 41 + "]" * 41),
     ("levels", "at most 40", "runs[0]")),
    ("100,000 levels", '{"a":' + "[" * 100_000, ("over 40 levels", "at most 40 (column 45)")),
    ("levels of objects", '{"a":' * 50_000 + "1" + "}" * 50_000, ("over 40 levels", "nested too deep")),
    ("UTF-16", SMALL.encode("utf-16"), ("0xff", "is not UTF-8 text (byte 0), but UTF-16")),
    ("UTF-32", SMALL.encode("utf-32"), ("0xff", "is not UTF-8 text")),
    ("Latin-1", SMALL.replace("Three", "Drei für").encode("latin-1"), ("line 4", "0xfc", "is not UTF-8")),
    ("a picture", b"\x89PNG\r\n\x1a\n" + bytes(200), ("0x89", "is not UTF-8 text (byte 0)")),
    ("half a character", FLAT.replace('"H2"', '"H\\ud800"'), ("heads[1].id", "H\\ud800", "half a character")),
    ("a story of 5 MB, and no runs", json.dumps({"name": "a", "story": "x" * 5_000_000}),
     ("runs is missing",)),
    ("a unit of 1 MB", FLAT.replace('"mm"', f'"{"m" * 10**6}"'), ('units: "mmmm', "'mm', 'm', 'in' or 'ft'")),
    ("a field of 1 MB", FLAT.replace('"units"', f'"{"u" * 10**6}"'), ("uuu...", "unknown field")),
]  # fmt: skip
IN_YAML: list[tuple[str, str, tuple[str, ...]]] = [
    ("YAML cut off", YAML + "- {id: H2, at: [", ("not valid YAML at column",)),
    ("YAML with a tab", YAML.replace("- {id: H1", "\t- {id: H1"), ("line 5", "not valid YAML at column 1")),
    ("YAML wrongly indented", YAML + "  - x\n - y\n", ("not valid YAML",)),
    ("a tag that builds", YAML + "story: !!python/object/apply:os.system ['touch owned']\n", (
        "line 6: story", "os.system", "tags are not accepted")),
    ("a tag of a list", YAML.replace("at: [", "at: !!python/tuple ["), (
        "heads[0].at: head H1: tag:yaml.org,2002:python/tuple", "tags are not accepted")),
    ("a tag of one's own", YAML.replace("3200", "!mm 3200"),
     ("runs[0].elevation: run B1: !mm", "tags are not")),
    ("a number by force", YAML.replace("3200", "!!int high"), ('runs[0].elevation: run B1: "high" mm',)),
    ("a yes", YAML + "system: {heated: yes}\n", ('system.heated: system: "yes"', "true or false expected")),
    ("an off", YAML + "rules: {allow_cross: off}\n", ('rules.allow_cross: rules: "off"', "true or false")),
    ("sixty-fold", YAML.replace("3200", "12:30"),
     ('runs[0].elevation: run B1: "12:30" mm', "a number in mm")),
    ("underscores", YAML.replace("3200", "3_200"),
     ('runs[0].elevation: run B1: "3_200" mm', "a number in mm")),
    ("hexadecimal", YAML.replace("3200", "0xC80"),
     ('runs[0].elevation: run B1: "0xC80" mm', "a number in mm")),
    ("an id that is a number", YAML.replace("id: H1", "id: 017"), ("heads[0].id: head 17: 17", "in quotes")),
    ("an id that is null", YAML.replace("id: H1", "id: ~"),
     ("heads[0].id: head without id: null", "in quotes")),
    ("an id that is true", YAML.replace("id: H1", "id: true"), ("heads[0].id: head True: true", "in quotes")),
    ("a date", YAML.replace("id: H1", "at: 2030-01-31"), ("heads[0].at", "stands twice")),
    ("not a number", YAML.replace("3200", ".nan"), ("runs[0].elevation: run B1: nan", "a finite number")),
    ("infinite", YAML.replace("3200", "-.inf"), ("runs[0].elevation: run B1: -inf", "a finite number")),
    ("a key twice in YAML", YAML + "name: again\n", ('line 6: name: "name"', "stands twice")),
    ("merged", YAML + "rules: {<<: {reach: 1}}\n", ("rules.<<: rules: {reach}", "unknown field")),
    ("two documents", YAML + "---\n" + YAML, ("not valid YAML", "line 6")),
    ("an alias of nothing", YAML + "story: *a\n", ("line 6", "not valid YAML", "undefined alias")),
    ("an alias of itself", YAML + "pins: &a [*a]\n", ("pins", "levels", "at most 40")),
    ("aliases that multiply", LAUGHS, ("300000 values", "the aliases may multiply")),
    ("YAML 2,000 levels", "a: " + "[" * 2000, ("not valid YAML", "nesting")),
    ("YAML 100,000 digits", YAML.replace("3200", "1" * 100_000),
     ("run B1: 111111111111... (100000 digits)",)),
    ("YAML of 5 MB", YAML + "# " + "x" * 5_000_000, ("4.8 MB", "too large for YAML", "write it as JSON")),
    ("a list as a key", YAML + "? [a]\n: b\n", ("(a list or mapping)", "unknown field")),
    ("a zero byte in YAML", YAML + "story: a\0b\n", ("not valid YAML", "unacceptable character")),
    ("just words", "hello", ("a scenario is one object",)),
]  # fmt: skip
CASES = [Case(name, "scenario", written("bad.json", text), says) for name, text, says in IN_JSON]
CASES += [Case(name, "scenario", written("bad.yaml", text), says) for name, text, says in IN_YAML]
