"""Scenarios that are broken in one place each."""

from __future__ import annotations

import math
from typing import Any

from case import GONE, MINIMAL, TREE, Case, as_json, changed

NAN, INF = math.nan, math.inf
SQUARE = [[0, 0], [900, 0], [900, 900], [0, 900]]
PENTAGRAM = [[0, 900], [560, -800], [-900, 300], [900, 300], [-560, -800]]

VALUES: list[tuple[str, str, Any, tuple[str, ...]]] = [
    # name, where in TREE, what is put there, what the message must hold
    # wrong types
    ("elevation a word", "runs.1.elevation", "high", ("runs[1].elevation: run B", '"high" mm', "a number")),
    ("elevation a number as text", "runs.1.elevation", "3000", ("runs[1].elevation: run B", '"3000" mm')),
    ("elevation true", "runs.1.elevation", True, ("runs[1].elevation: run B", "true mm", "a number in mm")),
    ("elevation null", "runs.1.elevation", None, ("runs[1].elevation: run B", "null mm", "a number in mm")),
    ("elevation a list", "runs.1.elevation", [3000], ("runs[1].elevation: run B", "[3000] mm")),
    ("elevation missing", "runs.1.elevation", GONE, ("runs[1].elevation: run B", "elevation is missing")),
    ("id a number", "runs.1.id", 7, ("runs[1].id: run 7", "text in quotes expected")),
    ("id missing", "heads.0.id", GONE, ("heads[0].id: head without id", "id is missing")),
    ("a head a number", "heads.1", 5, ("heads[1]: head without id: 5", "an object expected")),
    ("a head null", "heads.1", None, ("heads[1]: head without id: null", "an object expected")),
    ("heads an object", "heads", {"H1": [0, 0, 0]}, ("heads: {H1}", "a list expected")),
    ("heads null", "heads", None, ("heads: null", "a list expected")),
    ("runs a word", "runs", "B", ('runs: "B"', "a list expected")),
    ("at two numbers", "heads.0.at", [2500, 2000], ("heads[0].at[2]: head H1", "[x, y, z] expected")),
    ("at four numbers", "heads.0.at", [1, 2, 3, 4], ("heads[0].at: head H1", "[1, 2, 3, 4] mm", "too many")),
    ("at an object", "heads.0.at", {"x": 1}, ("heads[0].at: head H1", "{x} mm", "a list of numbers")),
    ("at a text in it", "heads.0.at.1", "2 m", ("heads[0].at[1]: head H1", '"2 m" mm', "a number in mm")),
    ("dry a word", "heads.0.dry", "yes", ("heads[0].dry: head H1", '"yes"', "true or false")),
    ("kind unknown", "heads.0.kind", "hanging", ("heads[0].kind: head H1", '"hanging"', "'pendent'")),
    ("kind in capitals", "heads.0.kind", "Pendent", ("heads[0].kind: head H1", '"Pendent"', "'pendent'")),
    ("polygon flat", "obstructions.0.polygon", [1, 2, 3, 4], ("obstructions[0].polygon", "1 mm", "a list")),
    ("rules a list", "rules", [], ("rules: rules: []", "an object expected")),
    ("weights a number", "weights", 3, ("weights: weights: 3", "an object expected")),
    ("a weight as text", "weights.pipe", "20", ("weights.pipe: weights", '"20"', "a number expected")),
    ("bends half a one", "rules.hose_max_bends", 2.5, ("rules.hose_max_bends", "2.5", "a whole number")),
    ("pins a list", "pins", [], ("pins: pins: []", "an object with heads and runs expected")),
    ("unknown field", "heads.0.colour", "red", ("heads[0].colour: head H1", '"red"', "unknown field")),
    ("field misspelt", "rules.clearence", 5, ("rules.clearence: rules: 5", "did you mean clearance?")),
    # numbers that are none
    ("a NaN", "heads.0.at.0", NAN, ("heads[0].at[0]: head H1: nan", "a finite number")),
    ("an infinity", "runs.0.elevation", INF, ("runs[0].elevation: run M: inf", "a finite number")),
    ("minus infinity", "rules.clearance", -INF, ("rules.clearance: rules: -inf", "a finite number")),
    ("a number of 400 digits", "heads.0.at.0", 10**400, ("heads[0].at[0]: head H1", "401 digits")),
    # numbers beyond any building
    ("1e9 in a place", "heads.0.at.0", 1e9, ("heads[0].at[0]: head H1: 1000000000 mm", "10 km")),
    ("-1e9 in a plan", "runs.2.plan.1.1", -1e9, ("runs[2].plan[1][1]: run C: -1000000000 mm", "10 km")),
    ("1e9 in a polygon", "obstructions.0.polygon.2.0", 1e9, ("obstructions[0].polygon[2][0]", "obstruction D")),
    ("1e9 as elevation", "runs.1.elevation", 1e9, ("runs[1].elevation: run B: 1000000000 mm", "10 km")),
    ("1e9 in elevations", "obstructions.0.elevations.1", 1e9, ("obstructions[0].elevations[1]", "mm", "10 km")),
    ("1e9 of a ceiling", "ceilings.0.elevation", 1e9, ("ceilings[0].elevation: ceiling K", "mm", "10 km")),
    ("1e300", "heads.1.at.2", 1e300, ("heads[1].at[2]: head H2: 1e+300 mm", "10 km")),
    ("a shift of 100 km", "heads.0.shift", 1e8, ("heads[0].shift: head H1: 100000000 mm", "10 km")),
    ("head 2 km up", "heads.0.at.2", 2e6, ("heads[0].at[2]: head H1: 2000000 mm", "more than any drop")),
    ("run 8 km up", "runs.0.elevation", 8e6, ("runs[0].elevation: run M: 8000000 mm", "no elevation of")),
    ("run 3 km down", "runs.0.elevation", -3e6, ("runs[0].elevation: run M: -3000000 mm", "no elevation of")),
    ("head 6 km away", "heads.1.at.0", 6e6, ("heads[1].at: head H2: [6000000, 5000] mm", "6 km wide")),
    ("duct 3 km up", "obstructions.0.elevations", [3e6, 3.1e6],
     ("obstructions[0].elevations: obstruction D: [3000000, 3100000] mm", "2.997 km", "any building")),
    # units
    ("mm under m", "units", "m", ('is units "m" right?', "mm", "head H1")),
    ("mm under ft", "units", "ft", ('is units "ft" right?', "mm")),
    ("unit unknown", "units", "cm", ('units: "cm"', "'mm', 'm', 'in' or 'ft' expected")),
    ("unit in capitals", "units", "MM", ('units: "MM"', "'mm', 'm', 'in' or 'ft' expected")),
    ("unit a list", "units", ["mm"], ('units: ["mm"]', "'mm', 'm', 'in' or 'ft' expected")),
    ("unit null", "units", None, ("units: null", "'mm', 'm', 'in' or 'ft' expected")),
    # format and version
    ("version 2", "version", 2, ("version: 2", "1 expected")),
    ("version as text", "version", "1", ('version: "1"', "1 expected")),
    ("version true", "version", True, ("version: true", "1 expected")),
    ("version null", "version", None, ("version: null", "1 expected")),
    ("format of another", "format", "other/scenario", ('format: "other/scenario"', "branch-drop-router")),
    ("format of a route", "format", "branch-drop-router/route", ('"branch-drop-router/route"', "scenario")),
    ("format a number", "format", 1, ("format: 1", "branch-drop-router/scenario")),
    # ids
    ("run id twice", "runs.2.id", "B", ("runs[2].id: run B", '"B"', "duplicate id, already used by runs[1]")),
    ("head id twice", "heads.2.id", "H1", ("heads[2].id: head H1", "already used by heads[0]")),
    ("id empty", "heads.1.id", "", ('heads[1].id: head: ""', "the id is empty")),
    ("id of blanks", "heads.1.id", "  ", ('heads[1].id: head: "  "', "the id is empty")),
    ("id with a turning mark", "heads.1.id", "H\u202e2", ("heads[1].id: head H2: \"H\\u202e2\"", "U+202E, character 2")),
    ("id with a zero byte", "heads.1.id", "H\x002", ("heads[1].id", "H\\u00002", "U+0000")),
    ("id with an escape", "heads.1.id", "\x1b[31mH2", ("heads[1].id", "\\u001b[31mH2", "U+001B")),
    ("id with half a character", "heads.1.id", "H\ud8002", ("heads[1].id", "H\\ud8002", "U+D800", "half a")),
    ("id with a line end", "heads.1.id", "H2\nx", ("heads[1].id: head H2\\u000ax", "one line")),
    ("id of a million letters", "heads.1.id", "H" * 10**6, ("heads[1].id: head HHHH", "1000000 characters")),
    ("key with a turning mark", "pins.heads.H\u202e1", {}, ("pins.heads.H\\u202e1", "U+202E")),
    ("zone id twice", "keep_out.+", TREE["keep_out"][0], ("keep_out[1].id: keep-out zone Z", "duplicate id")),
    # the tree
    ("supplied by itself", "runs.1.supply", "B", ("runs[1].supply: run B: B <- B", "in a circle")),
    ("a ring of two", "runs.0.supply", "B", ("runs[0].supply: run M: M <- B <- M", "in a circle")),
    ("supply missing", "runs.1.supply", "X", ('runs[1].supply: run B: "X"', "no such run; runs are M, B, C")),
    ("supply an accent off", "runs.1.supply", "\u041c", ("runs[1].supply: run B", "no such run")),
    ("head on a run that is none", "heads.0.run", "b", ('heads[0].run: head H1: "b"', "runs are M, B, C")),
    ("starts off its supply", "runs.1.plan.0", [3000, 400], ("runs[1].plan[0]: run B: 400 mm", "at most 5 mm")),
    # plans and polygons
    ("run without length", "runs.1.plan", [[3000, 0], [3000, 0]], ("runs[1].plan[1]: run B: 0 mm", "repeated")),
    ("run of a point", "runs.1.plan", [[3000, 0]], ("runs[1].plan: run B: 1 points", "at least 2 points")),
    ("run without points", "runs.1.plan", [], ("runs[1].plan: run B: 0 points", "at least 2 points")),
    ("run of half a mm", "runs.1.plan", [[3000, 0], [3000, 0.5]], ("runs[1].plan[1]: run B: 0.5 mm", "1 mm")),
    ("plan there and back", "runs.1.plan", [[3000, 0], [3000, 8000], [3000, 1000]],
     ("runs[1].plan: run B: 3 points", "crosses or touches itself")),
    ("plan in 3D", "runs.1.plan", [[3000, 0, 3000], [3000, 8000, 3000]], ("runs[1].plan[0]: run B", "too many")),
    ("polygon a bow tie", "obstructions.0.polygon", [[0, 0], [900, 900], [900, 0], [0, 900]],
     ("obstructions[0].polygon: obstruction D: Self-intersection[450 450] mm", "crosses itself")),
    ("polygon a star", "ceilings.0.polygon", PENTAGRAM, ("ceilings[0].polygon: ceiling K", "crosses itself")),
    ("zone a bow tie", "keep_out.0.polygon", [[0, 0], [900, 900], [900, 0], [0, 900]],
     ("keep_out[0].polygon: keep-out zone Z", "mm", "crosses itself")),
    ("polygon of two corners", "obstructions.0.polygon", SQUARE[:2],
     ("obstructions[0].polygon: obstruction D: 2 points", "at least 3")),
    ("polygon of a line", "obstructions.0.polygon", [[0, 0], [500, 0], [900, 0]],
     ("obstructions[0].polygon: obstruction D: 0 mm2", "no area")),
    ("polygon empty", "obstructions.0.polygon", [], ("obstructions[0].polygon: obstruction D: 0 points", "3")),
    ("elevations reversed", "obstructions.0.elevations", [3200, 2900],
     ("obstructions[0].elevations: obstruction D: [3200, 2900] mm", "reversed")),
    ("elevations alike", "obstructions.0.elevations", [2900, 2900], ("[2900, 2900] mm", "no height")),
    ("zone reversed", "keep_out.0.elevations", [9, 1], ("keep_out[0].elevations: keep-out zone Z: [9, 1] mm",)),
    ("band reversed", "runs.1.band", [3300, 2800], ("runs[1].band: run B: [3300, 2800] mm", "lowest level first")),
    ("band without the level", "runs.1.band", [3100, 3300], ("runs[1].band: run B", "mm", "does not contain")),
    # heads
    ("head in a duct", "heads.1.at", [3500, 3200, 3000],
     ("heads[1].at: head H2: [3500, 3200, 3000] mm", "inside obstruction D (2900 to 3200 mm)")),
    ("two heads in one", "heads.1.at", [2500, 2000, 2700], ("heads[1].at: head H2", "the same place as head H1")),
    ("two heads 3 mm apart", "heads.1.at", [2503, 2000, 2700], ("heads[1].at: head H2", "3 mm from head H1")),
    ("sidewall without facing", "heads.2.facing", GONE, ("heads[2].facing: head H3", "a sidewall needs facing")),
    ("pendent with facing", "heads.0.facing", 90, ("heads[0].facing: head H1: 90 deg", "only sidewalls")),
    ("facing 400", "heads.2.facing", 400, ("heads[2].facing: head H3: 400 deg", "-360 to 360")),
    ("K of 0", "heads.0.k_factor", 0, ("heads[0].k_factor: head H1: 0", "more than 0 expected (gpm/psi^0.5)")),
    ("K below 0", "heads.0.k_factor", -5.6, ("heads[0].k_factor: head H1: -5.6", "more than 0")),
    ("shift below 0", "heads.0.shift", -1, ("heads[0].shift: head H1: -1 mm", "0 or more")),
    ("thread unknown", "heads.0.thread", "5/8", ('heads[0].thread: head H1: "5/8"', "NPS")),
    ("thread too large", "heads.0.thread", 50, ("heads[0].thread: head H1: DN50", "larger than the arms")),
    ("barrel of a head not dry", "heads.0.exposed", 300, ("heads[0].exposed: head H1: 300 mm", "not dry")),
    # sizes
    ("size unknown", "runs.1.size", 33, ("runs[1].size: run B: 33", "not a size")),
    ("size 0", "runs.1.size", 0, ("runs[1].size: run B: 0", "not a size")),
    ("size a word", "runs.1.size", "large", ('runs[1].size: run B: "large"', "not a size")),
    ("size larger than its supply", "runs.1.size", 100, ("runs[1].size: run B: DN100", "sizes never grow")),
    ("size below the arms", "runs.1.size", 20, ("runs[1].size: run B: DN20", "arms are DN25")),
    ("arm size a fraction of 0", "rules.arm_size", "1/0", ('rules.arm_size: rules: "1/0"', "NPS")),
    # rules, weights, prices, pins, system
    ("clearance below 0", "rules.clearance", -5, ("rules.clearance: rules: -5 mm", "0 or more")),
    ("reach 0", "rules.reach", 0, ("rules.reach: rules: 0 mm", "more than 0")),
    ("no stock lengths", "rules.stock_lengths", [], ("rules.stock_lengths: rules: [] mm", "at least one")),
    ("no styles", "rules.styles", [], ("rules.styles: rules: []", "at least one of straight_drop")),
    ("style unknown", "rules.styles", ["loop"], ('rules.styles[0]: rules: "loop"', "no such style")),
    ("table unknown", "rules.tables", {"magic": 1}, ("rules.tables.magic: rules: 1", "magic")),
    ("table a word", "rules.tables", {"take_out_tee": "x"}, ("rules.tables.take_out_tee", '"x"')),
    ("weight below 0", "weights.fitting", -1, ("weights.fitting: weights: -1 points", "0 or more")),
    ("weight NaN", "weights.fitting", NAN, ("weights.fitting: weights: nan", "a finite number")),
    ("weight unknown", "weights.fittings", 1, ("weights.fittings: weights: 1", "did you mean fitting?")),
    ("price below 0", "prices.pipe.25.price", -4, ("prices.pipe.25.price: prices: -4 EUR", "0 or more")),
    ("minutes below 0", "prices.pipe.25.minutes", -1, ("prices.pipe.25.minutes: prices: -1 min", "0 or more")),
    ("price as text", "prices.pipe.25.price", "4,00", ('prices.pipe.25.price: prices: "4,00"', "a number")),
    ("price of a size that is none", "prices.pipe.26", {"price": 1}, ('prices.pipe.26: prices: "26"', "NPS")),
    ("size priced twice", "prices.pipe.1", {"price": 1}, ('prices.pipe.1: prices: "1"', "the same size")),
    ("fitting unknown", "prices.fittings.knee", {}, ('prices.fittings.knee: prices: "knee"', "kinds are")),
    ("a price for nothing", "prices", {"as_objective": True}, ("prices.as_objective", "true", "at least one price")),
    ("pin of a head that is none", "pins.heads.H9", {}, ('pins.heads.H9: head H9: "H9"', "no such head")),
    ("pin of a run that is none", "pins.runs.X", {}, ('pins.runs.X: run X: "X"', "no such run")),
    ("pin off its run", "pins.heads.H1", {"stations": [8001, 9000]},
     ("pins.heads.H1.stations: head H1: [8001, 9000] mm", "0 to 8000 mm")),
    ("pin out of the band", "pins.runs.B", {"level": 3301}, ("pins.runs.B.level: run B: 3301 mm", "2700 to")),
    ("pressure 0", "system.pressure", 0, ("system.pressure: system: 0 bar", "more than 0")),
    ("falling pitch", "system.pitch_branch", -4, ("system.pitch_branch: system: -4 mm/m", "0 to 100")),
    ("joining gaps", "system.joining", [{"up_to": 50, "joining": "threaded"}],
     ("system.joining[0].up_to: system: DN50", "leaves up_to out")),
    ("joining of nothing", "system.joining", [], ("system.joining: system: []", "at least 1 expected")),
    ("hazard unknown", "system.hazard", "extra", ('system.hazard: system: "extra"', "'light' or 'ordinary'")),
    # lists without anything
    ("no heads", "heads", [], ("heads: []", "at least 1 expected")),
    ("no runs", "runs", [], ("runs: []", "at least 1 expected")),
    ("name missing", "name", GONE, ("name", "name is missing")),
    ("name with a bell", "name", "a\x07b", ("name", '"a\\u0007b"', "U+0007")),
    ("reason with a turning mark", "keep_out.0.why", "a\u2066b", ("keep_out[0].why: keep-out zone Z", "U+2066")),
]  # fmt: skip

WHOLE: list[tuple[str, Any, tuple[str, ...]]] = [
    # name, data, what the message must hold
    ("a list", [MINIMAL], ("(file)", "a scenario is one object")),
    ("a number", 3, ("(file): 3", "a scenario is one object")),
    ("a text", "minimal", ('"minimal"', "a scenario is one object")),
    ("null", None, ("(file): null", "a scenario is one object")),
    ("nothing in it", {}, ("name is missing", "runs is missing", "heads is missing")),
    ("m under mm", changed(
        MINIMAL, ("runs.0.plan", [[0, 0], [8.6, 0]]), ("runs.0.elevation", 3.2), ("obstructions", []),
        ("heads", [{"id": "H1", "at": [1.5, 0, 2.7]}]),
    ), ("runs[0].plan: run B1: 8.6 mm", "less than a takeoff takes", 'is units "mm" right?')),
    ("mm under in", changed(MINIMAL, ("units", "in")), (
        "heads[0].at: head H1: [38100, 0, 68580] mm", "12.7 m from run B1", 'is units "in" right?')),
    ("mm under m in elevations only", changed(
        MINIMAL, ("units", "m"), ("runs.0.plan", [[0, 0], [8.6, 0]]), ("obstructions", []),
        ("heads", [{"id": "H1", "at": [1.5, 0, 2700]}]),
    ), ("heads[0].at[2]: head H1: 2700000 mm", "500 m above or below", 'is units "m" right')),
    ("a head in mm among m", changed(
        MINIMAL, ("units", "m"), ("runs.0.plan", [[0, 0], [8.6, 0]]), ("runs.0.elevation", 3.2),
        ("obstructions", []), ("heads", [{"id": "H1", "at": [1.5, 0, 2.7]}, {"id": "H2", "at": [4800, 0, 2700]}]),
    ), ("heads[1].at[2]: head H2: 2700000 mm", "2696.8 m", "the same all through?")),
    ("an inch head among ft", changed(
        MINIMAL, ("units", "ft"), ("runs.0.plan", [[0, 0], [28, 0]]), ("runs.0.elevation", 10.5),
        ("obstructions", []), ("heads", [{"id": "H1", "at": [5, 0, 9]}, {"id": "H2", "at": [190, 0, 126]}]),
    ), ("heads[1].at[2]: head H2: 38404.8 mm", "35.204 m", 'is units "ft" right')),
    ("a ring of three", changed(
        TREE, ("runs.0.supply", "C"), ("runs.2.supply", "B"), ("runs.2.plan.0", [3000, 4000])
    ), ("runs[0].supply: run M: M <- C <- B <- M", "in a circle")),
    ("heads of every fault at once", changed(TREE, ("heads", [{"id": k} for k in range(500)])), (
        "1000 faults", "heads[0].at: head 0: at is missing", "and 900 more")),
]  # fmt: skip

CASES = [
    Case(name, "scenario", as_json("bad.json", changed(TREE, (path, value))), says)
    for name, path, value, says in VALUES
] + [Case(name, "scenario", as_json("bad.json", data), says) for name, data, says in WHOLE]
