from __future__ import annotations

from typing import TYPE_CHECKING, Any

import pytest

from router.scenario import Fault, ScenarioError, notes, parse_scenario, read_scenario

if TYPE_CHECKING:
    from collections.abc import Callable
    from pathlib import Path

    FaultsOf = Callable[[Any], list[Fault]]


def put(data: Any, path: str, value: Any) -> None:
    """Set a value at a path such as ``runs.1.supply``; an existing list may be appended to with ``+``."""
    *way, last = path.split(".")
    for part in way:
        data = data[int(part)] if isinstance(data, list) else data.setdefault(part, {})
    if last == "+":
        data.append(value)
    elif isinstance(data, list):
        data[int(last)] = value
    else:
        data[last] = value


SQUARE = [[0, 0], [1, 0], [1, 1], [0, 1]]
THIRD_RUN = {"id": "T", "plan": [[3000, 900], [6000, 900]], "elevation": 3000, "supply": "B"}

CASES = [
    # what is set, to what; place, item, value, unit, part of the message
    ("runs.1.id", "M", "runs[1].id", "run M", '"M"', "", "duplicate id, already used by runs[0]"),
    ("heads.1.id", "H1", "heads[1].id", "head H1", '"H1"', "", "duplicate id"),
    ("heads.1.id", " ", "heads[1].id", "head", '" "', "", "the id is empty"),
    ("runs.1.supply", "X", "runs[1].supply", "run B", '"X"', "", "no such run; runs are M, B"),
    ("runs.0.supply", "B", "runs[0].supply", "run M", "M <- B <- M", "", "in a circle"),
    ("runs.0.supply", "M", "runs[0].supply", "run M", "M <- M", "", "in a circle"),
    ("runs.1.plan.0", [3000, 300], "runs[1].plan[0]", "run B", "300", "mm", "off its supply M; at most 5 mm"),
    ("runs.0.plan", [[0, 0]], "runs[0].plan", "run M", "1", "points", "at least 2 points"),
    ("runs.0.plan.1", [0, 0.5], "runs[0].plan", "run M", "0.5", "mm", "no length"),
    ("runs.0.plan.+", [9000, 0.2], "runs[0].plan[2]", "run M", "0.2", "mm", "repeated plan point"),
    (
        "runs.1.plan",
        [[3000, 0], [3000, 4000], [1000, 4000], [1000, 2000], [5000, 2000]],
        "runs[1].plan",
        "run B",
        "5 points",
        "",
        "crosses or touches itself",
    ),
    ("runs.1.band", [3100, 2900], "runs[1].band", "run B", "[3100, 2900]", "mm", "reversed"),
    ("runs.1.band", [3001, 3100], "runs[1].band", "run B", "[3001, 3100]", "mm", "elevation 3000 mm"),
    ("runs.1.supply_elevation", 3000, "runs[1].supply_elevation", "run B", "3000", "mm", "only a root run"),
    ("runs.1.size", 20, "runs[1].size", "run B", "DN20", "", "arms are DN25"),
    ("runs.1.size", 100, "runs[1].size", "run B", "DN100", "", "larger than its supply M (DN80)"),
    ("runs.1.size", "7 in", "runs[1].size", "run B", '"7 in"', "", '25, "DN25"'),
    ("system.pitch_main", -2, "system.pitch_main", "system", "-2", "mm/m", "0 to 100 mm per m"),
    ("heads.0.run", "X", "heads[0].run", "head H1", '"X"', "", "no such run"),
    ("heads.0.kind", "sidewall", "heads[0].facing", "head H1", "", "deg", "needs facing"),
    ("heads.0.facing", 90, "heads[0].facing", "head H1", "90", "deg", "this head is pendent"),
    ("heads.0.kind", "hanging", "heads[0].kind", "head H1", '"hanging"', "", "'upright' or 'sidewall'"),
    ("heads.0.k_factor", 0, "heads[0].k_factor", "head H1", "0", "", "more than 0"),
    ("heads.0.shift", -1, "heads[0].shift", "head H1", "-1", "mm", "0 or more"),
    ("heads.0.thread", 32, "heads[0].thread", "head H1", "DN32", "", "larger than the arms, DN25"),
    ("heads.0.thread", "5/8", "heads[0].thread", "head H1", '"5/8"', "", "NPS"),
    ("heads.0.dry", "yes", "heads[0].dry", "head H1", '"yes"', "", "true or false"),
    ("heads.0.at", [1, 2], "heads[0].at[2]", "head H1", "", "", "[x, y, z] expected"),
    ("heads.0.at.2", "2700", "heads[0].at[2]", "head H1", '"2700"', "mm", "a number in mm expected"),
    ("heads.0.at.0", 2.5e7, "heads[0].at[0]", "head H1", "25000000", "mm", 'is units "mm" right?'),
    ("heads.1.at", [2500, 2000, 2700], "heads[1].at", "head H2", "[2500, 2000, 2700]", "mm", "as head H1"),
    ("heads.1.at", [3500, 3200, 2950], "heads[1].at", "head H2", "[3500, 3200, 2950]", "mm", "obstruction D"),
    ("heads", [], "heads", "", "[]", "", "at least 1 expected"),
    ("obstructions.0.polygon", SQUARE[:2], "obstructions[0].polygon", "obstruction D", "2", "points", "3"),
    (
        "obstructions.0.polygon",
        [[0, 0], [9, 9], [9, 0], [0, 9]],
        "obstructions[0].polygon",
        "obstruction D",
        "Self-intersection[4.5 4.5]",
        "mm",
        "crosses itself",
    ),
    (
        "ceilings.0.polygon",
        [[0, 0], [50, 50], [90, 90]],
        "ceilings[0].polygon",
        "ceiling C",
        "0",
        "mm2",
        "no area",
    ),
    (
        "obstructions.0.elevations",
        [3200, 2900],
        "obstructions[0].elevations",
        "obstruction D",
        "[3200, 2900]",
        "mm",
        "reversed",
    ),
    (
        "obstructions.0.clearance",
        -5,
        "obstructions[0].clearance",
        "obstruction D",
        "-5",
        "mm",
        "0 or more",
    ),
    ("rules.clearance", -5, "rules.clearance", "rules", "-5", "mm", "0 or more"),
    ("rules.reach", 0, "rules.reach", "rules", "0", "mm", "more than 0"),
    ("rules.square_tolerance_deg", 50, "rules.square_tolerance_deg", "rules", "50", "deg", "0 to 45"),
    ("rules.hose_lengths", [-1], "rules.hose_lengths[0]", "rules", "-1", "mm", "more than 0"),
    ("rules.hose_max_bends", -1, "rules.hose_max_bends", "rules", "-1", "bends", "0 or more"),
    ("rules.styles", ["loop"], "rules.styles[0]", "rules", '"loop"', "", "styles are straight_drop"),
    ("rules.tables", {"nonsense": 1}, "rules.tables.nonsense", "rules", "1", "", "nonsense"),
    ("rules.clearence", 5, "rules.clearence", "rules", "5", "", "did you mean clearance?"),
    ("weights.pipe", -1, "weights.pipe", "weights", "-1", "points", "0 or more"),
    ("pins.heads.H9", {}, "pins.heads.H9", "head H9", '"H9"', "", "no such head"),
    ("pins.heads.H1", {"style": "x"}, "pins.heads.H1.style", "head H1", '"x"', "", "no such style"),
    ("pins.heads.H1", {"run": "X"}, "pins.heads.H1.run", "head H1", '"X"', "", "no such run"),
    ("pins.heads.H1", {"run": "M"}, "pins.heads.H1.run", "head H1", '"M"', "", "own run B"),
    ("pins.heads.H1", {"stations": [9, 1]}, "pins.heads.H1.stations", "head H1", "[9, 1]", "mm", "reversed"),
    (
        "pins.heads.H1",
        {"stations": [8001, 9000]},
        "pins.heads.H1.stations",
        "head H1",
        "[8001, 9000]",
        "mm",
        "0 to 8000 mm",
    ),
    ("pins.runs.X", {}, "pins.runs.X", "run X", '"X"', "", "no such run"),
    ("pins.runs.B", {"level": 3301}, "pins.runs.B.level", "run B", "3301", "mm", "2700 to 3300 mm"),
    ("system.pressure", 0, "system.pressure", "system", "0", "bar", "more than 0"),
    ("system.schedule", "long_spacing", "system.schedule", "system", '"long_spacing"', "", "light hazard"),
    ("system.schedule", "both", "system.schedule", "system", '"both"', "", "'standard', 'above_and_below'"),
    ("runs.1.schedule", "long_spacing", "runs[1].schedule", "run B", '"long_spacing"', "", "light hazard"),
    ("runs.1.least_size", 25, "runs[1].least_size", "run B", "DN25", "", "given already (DN32)"),
    ("heads.0.exposed", 300, "heads[0].exposed", "head H1", "300", "mm", "this head is not dry"),
    ("rules.hanger_spacing", 0, "rules.hanger_spacing", "rules", "0", "mm", "more than 0"),
    ("rules.hanger_to_end", -1, "rules.hanger_to_end", "rules", "-1", "mm", "more than 0"),
    ("rules.stock_lengths", [6000, 0], "rules.stock_lengths[1]", "rules", "0", "mm", "more than 0"),
    ("rules.stock_lengths", [], "rules.stock_lengths", "rules", "[]", "mm", "at least one length"),
    ("rules.saw_cut", -0.1, "rules.saw_cut", "rules", "-0.1", "mm", "0 or more"),
    ("weights.price", 1, "weights.price", "weights", "1", "points", "no price table"),
    ("units", "cm", "units", "", '"cm"', "", "'mm', 'm', 'in' or 'ft'"),
    ("version", 2, "version", "", "2", "", "reads version 1"),
    ("name", 3, "name", "", "3", "", "text in quotes"),
]


@pytest.mark.parametrize(
    ("path", "value", "place", "item", "found", "unit", "message"),
    CASES,
    ids=[f"{c[2]}-{c[6][:20]}" for c in CASES],
)
def test_fault_names_place_item_value_and_unit(
    small: dict[str, Any],
    faults_of: FaultsOf,
    path: str,
    value: Any,
    place: str,
    item: str,
    found: str,
    unit: str,
    message: str,
) -> None:
    put(small, path, value)
    faults = faults_of(small)
    here = [fault for fault in faults if fault.place == place]
    assert here, [str(fault) for fault in faults]
    assert (here[0].item, here[0].value, here[0].unit) == (item, found, unit)
    assert message in here[0].message
    text = str(here[0])
    assert place in text
    assert f"{found} {unit}".strip() in text


def test_unfaulty_neighbours_pass(small: dict[str, Any]) -> None:
    """The same fields just inside their limits."""
    for path, value in [
        ("runs.1.plan.0", [3000, 5]),
        ("runs.1.band", [3000, 3100]),
        ("runs.1.size", 25),
        ("heads.0.shift", 0),
        ("heads.1.at", [3500, 3200, 2900]),  # touches the duct's underside
        ("heads.0.at.0", 2501),
        ("obstructions.0.clearance", 0),
        ("rules.styles", ["return_bend"]),
        ("pins.runs.B", {"level": 3100}),
        ("runs.+", THIRD_RUN),
    ]:
        put(small, path, value)
    parse_scenario(small)


def test_metric_pipe_has_no_dn90(small: dict[str, Any], faults_of: FaultsOf) -> None:
    """EN 10255 lists no DN90 (from memory)."""
    put(small, "runs.0.size", 90)
    parse_scenario(small)
    put(small, "system.standard", "metric")
    (fault,) = faults_of(small)
    assert (fault.place, fault.value) == ("runs[0].size", "DN90")
    assert "no metric pipe" in fault.message


def test_a_runs_own_sizes(small: dict[str, Any], faults_of: FaultsOf) -> None:
    put(small, "runs.1.size", "schedule")
    put(small, "runs.1.least_size", "3 in")
    put(small, "runs.1.schedule", "above_and_below")
    run = parse_scenario(small).runs[1]
    assert (run.least_size, run.schedule) == (80, "above_and_below")
    put(small, "runs.1.least_size", 100)
    (fault,) = faults_of(small)
    assert (fault.place, fault.value) == ("runs[1].least_size", "DN100")
    assert "larger than its supply M (DN80)" in fault.message
    put(small, "runs.0.size", "schedule")
    put(small, "runs.1.least_size", 90)
    parse_scenario(small)
    put(small, "system.standard", "metric")
    (fault,) = faults_of(small)
    assert (fault.place, fault.value) == ("runs[1].least_size", "DN90")
    assert "no metric pipe" in fault.message


def test_long_spacing_is_for_ordinary_hazard(small: dict[str, Any]) -> None:
    put(small, "system", {"hazard": "ordinary", "schedule": "long_spacing", "pressure": 0.1})
    put(small, "runs.0.schedule", "long_spacing")
    parse_scenario(small)


def test_a_dry_head_has_0_or_more_exposed(small: dict[str, Any], faults_of: FaultsOf) -> None:
    put(small, "heads.0.dry", True)
    put(small, "heads.0.exposed", 0)
    parse_scenario(small)
    put(small, "heads.0.exposed", -1)
    (fault,) = faults_of(small)
    assert (fault.place, fault.item, fault.value, fault.unit) == ("heads[0].exposed", "head H1", "-1", "mm")
    assert "0 or more" in fault.message


ALL_LARGER = {"joining": "grooved"}
JOININGS: list[tuple[list[dict[str, Any]], list[tuple[str, str, str]]]] = [
    ([{"up_to": 50, "joining": "threaded"}, ALL_LARGER], []),
    ([ALL_LARGER], []),
    ([{"up_to": 50, "joining": "threaded"}], [("system.joining[0].up_to", "DN50", "leaves up_to out")]),
    (
        [ALL_LARGER, ALL_LARGER],
        [("system.joining[0].up_to", "", "only the last range leaves it out")],
    ),
    (
        [{"up_to": 50, "joining": "threaded"}, {"up_to": "2 in", "joining": "welded"}, ALL_LARGER],
        [("system.joining[1].up_to", "DN50", "smallest sizes first")],
    ),
    (
        [{"up_to": 65, "joining": "threaded"}, {"up_to": 50, "joining": "welded"}],
        [("system.joining[1].up_to", "DN50", "not above the range before it (up to DN65)")],
    ),
]


@pytest.mark.parametrize(("ranges", "found"), JOININGS)
def test_joining_by_size(
    small: dict[str, Any],
    faults_of: FaultsOf,
    ranges: list[dict[str, Any]],
    found: list[tuple[str, str, str]],
) -> None:
    put(small, "system.joining", ranges)
    if not found:
        assert len(parse_scenario(small).system.joining) == len(ranges)
        return
    faults = faults_of(small)
    assert [(fault.place, fault.value) for fault in faults] == [(place, value) for place, value, _ in found]
    for fault, (_, _, message) in zip(faults, found, strict=True):
        assert fault.item == "system"
        assert message in fault.message


def test_all_faults_at_once_with_their_lines(small_file: Path) -> None:
    """Faults of single fields do not hide those of the whole, nor make new ones."""
    text = small_file.read_text()
    text = text.replace('"elevation": 3000', '"elevation": "high"', 1)  # run M drops out
    text = text.replace('"run": "B"', '"run": "Q"')
    text = text.replace("2650", "2e9")
    small_file.write_text(text)
    with pytest.raises(ScenarioError) as caught:
        read_scenario(small_file)
    faults = caught.value.faults
    assert [fault.place for fault in faults] == ["runs[0].elevation", "heads[0].run", "ceilings[0].elevation"]
    lines = text.splitlines()
    for fault, mark in zip(faults, ['"high"', '"Q"', "2e9"], strict=True):
        assert fault.line is not None
        assert mark in lines[fault.line - 1]
    assert str(caught.value).startswith(f"{small_file}: 3 faults\n")


def test_values_in_field_faults_keep_the_files_unit(small: dict[str, Any], faults_of: FaultsOf) -> None:
    small["units"] = "in"
    small["heads"][0]["at"][2] = "9 ft"
    fault = next(fault for fault in faults_of(small) if fault.place == "heads[0].at[2]")
    assert (fault.value, fault.unit) == ('"9 ft"', "in")


def test_wrong_unit_is_guessed_at(small: dict[str, Any], faults_of: FaultsOf) -> None:
    small["units"] = "ft"
    small["heads"][0]["at"] = [40000, 0, 2700]
    fault = next(fault for fault in faults_of(small) if fault.item == "head H1")
    assert fault.value == "12192000"
    assert 'is units "ft" right?' in fault.message


def test_notes_are_not_faults(small: dict[str, Any]) -> None:
    small["heads"][1]["at"] = [3500, 20000, 2700]
    small["runs"][1]["supply"] = None
    small["rules"] = {"allow_flexible": True}
    small["system"] = {"heated": False}
    remarks = notes(parse_scenario(small))
    assert any("head H2 is 12010.4 mm from the nearest run B" in note for note in remarks)
    assert any("2 runs have no supply (M, B)" in note for note in remarks)
    assert any("hose_lengths" in note for note in remarks)
    assert any("freeze" in note for note in remarks)
    assert len(remarks) == 4


def test_a_plan_of_a_hand_width_is_remarked() -> None:
    tiny = {
        "name": "t",
        "runs": [{"id": "B", "plan": [[0, 0], [400, 0]], "elevation": 100}],
        "heads": [{"id": "H", "at": [30, 30, 80]}],
    }
    assert notes(parse_scenario(tiny)) == ["the whole plan measures 400 mm; is the unit right?"]
