"""The report's text: valid, safe, legible, the same bytes, and true to hand calculations."""

from __future__ import annotations

import base64
import hashlib
import json
import re
from importlib.resources import files
from itertools import product
from pathlib import Path
from typing import TYPE_CHECKING, Any

import html5lib
import pytest

from router.building.route import route_scenario
from router.deliver.report import prepare, report_html
from router.deliver.report.crossings import crossings
from router.deliver.report.html import el, safe
from router.deliver.report.lengths import mm, prose
from router.deliver.report.prepare import Given
from router.deliver.report.storeys import storeys
from router.explain.records import Binding, Explained, HeadReasons, OtherWay, Relaxation, RunReasons
from router.route.kept import Change, Kept, KeptWeights
from router.scenario import parse_scenario, read_scenario

if TYPE_CHECKING:
    from router.route.model import Route
    from router.scenario.model import Scenario

CSS = files("router.deliver.report").joinpath("page/page.css").read_text(encoding="utf-8")
SCENARIOS = Path(__file__).parents[2] / "scenarios"


@pytest.fixture(scope="module")
def solved() -> tuple[Scenario, Route]:
    scenario = read_scenario(SCENARIOS / "minimal.json")
    return scenario, route_scenario(scenario)[0]


@pytest.fixture(scope="module")
def text(solved: tuple[Scenario, Route]) -> str:
    return report_html(prepare(solved[0], [Given("route", solved[1])]))


def test_it_is_html_without_a_fault(text: str) -> None:
    html5lib.HTMLParser(strict=True).parse(text)


def test_the_same_route_gives_the_same_bytes(solved: tuple[Scenario, Route], text: str) -> None:
    assert report_html(prepare(solved[0], [Given("route", solved[1])])) == text


def test_nothing_is_asked_for_from_elsewhere(text: str) -> None:
    """Own scripts run by their hashes; nothing else may run or load."""
    policy = re.search(r'Content-Security-Policy" content="([^"]*)"', text)
    assert policy is not None
    assert "default-src 'none'" in policy[1]
    assert "unsafe-eval" not in policy[1]
    assert "script-src 'sha256" in policy[1]
    scripts = re.findall(r"<script>(.*?)</script>", text, flags=re.S)
    assert len(scripts) == 2
    for script in scripts:
        digest = base64.b64encode(hashlib.sha256(script.encode()).digest()).decode()
        assert f"'sha256-{digest}'" in policy[1]
    addresses = set(re.findall(r"(?:src|href)=\"([^\"]+)\"", text))
    assert all(address.startswith("#") for address in addresses)


def test_the_data_can_stand_in_a_script(text: str, solved: tuple[Scenario, Route]) -> None:
    found = re.search(r'<script type="application/json" id="data">(.*?)</script>', text, flags=re.S)
    assert found is not None
    assert not set(found[1]) & set("<>&\u2028\u2029")
    data = json.loads(found[1])
    assert data["routes"][0]["pieces"]["id"] == [piece.id for piece in solved[1].pieces]


def test_texts_are_escaped_and_marks_that_turn_the_reading_direction_are_dropped() -> None:
    assert (
        el("p", '<b> & "q"\u202e', title="'\"") == '<p title="&#x27;&quot;">&lt;b&gt; &amp; &quot;q&quot;</p>'
    )
    assert safe("a\x00b") == "a\ufffdb"


def test_lengths_in_sentences_are_found_and_slopes_are_not() -> None:
    made = prose("B1 <x> rises 4 mm per m: 1,234.5 mm to P0001 12 mm/m, -3 mm")
    assert re.findall(r'data-mm="([^"]*)"', made) == ["1234.5", "-3"]
    assert '&lt;x&gt; rises <span class="slope" data-v="4">4 mm per m</span>' in made
    place = prose("at (1,000, -20, 2700) mm")
    assert re.findall(r'data-mm="([^"]*)"', place) == ["1000", "-20", "2700"]
    said = "from level 3,708.2 to 4,033.9 at stations 7,214 to 7,539: level >= 3,965.3 (needs 93.4, has 0.0)"
    assert re.findall(r'data-mm="([^"]*)"', prose(said)) == [
        "3708.2", "4033.9", "7214", "7539", "3965.3", "93.4", "0"
    ]  # fmt: skip
    assert "data-mm" not in prose("costs at least 1,158 points more, needs 2 heads and has 3 fittings")
    assert mm(-0.2) == '<span class="len" data-mm="-0.2">0 mm</span>'


def luminance(colour: str) -> float:
    """WCAG 2.2, definition of relative luminance."""
    parts = [int(colour[k : k + 2], 16) / 255 for k in (1, 3, 5)]
    r, g, b = (c / 12.92 if c <= 0.04045 else ((c + 0.055) / 1.055) ** 2.4 for c in parts)
    return 0.2126 * r + 0.7152 * g + 0.0722 * b


def contrast(one: str, other: str) -> float:
    """WCAG 2.2, definition of contrast ratio."""
    light, dark = sorted((luminance(one), luminance(other)), reverse=True)
    return (light + 0.05) / (dark + 0.05)


def test_the_contrast_formula_gives_what_the_standard_says() -> None:
    assert contrast("#000000", "#ffffff") == pytest.approx(21.0)
    # a well-known pair: #767676 is the lightest grey that is 4.5:1 on white
    assert contrast("#767676", "#ffffff") == pytest.approx(4.54, abs=0.01)


def test_texts_have_contrast() -> None:
    """WCAG 2.2, 1.4.3: at least 4.5:1, whatever text colour stands on whatever ground."""
    values = dict(re.findall(r"--([\w-]+): (#[0-9a-f]{6})", CSS))
    inks = set(re.findall(r"[{; ]color: ([^;}]+)", CSS)) - {"inherit"}
    grounds = set(re.findall(r"background: ([^;}]+)", CSS)) - {"none"}
    named = {name: f"var(--{name})" for name in values}
    assert "var(--soft)" in inks
    assert "var(--note-pale)" in grounds

    def hex_of(colour: str) -> str | None:
        found = re.fullmatch(r"var\(--([\w-]+)\)", colour)
        colour = values[found[1]] if found else colour
        colour = re.sub(r"^#(.)(.)(.)$", r"#\1\1\2\2\3\3", colour)
        return colour if colour.startswith("#") else None

    assert named
    for ink, ground in product(map(hex_of, inks), map(hex_of, grounds)):
        if ink and ground:
            assert contrast(ink, ground) >= 4.5, (ink, ground)


def low_line(bottom: float) -> Scenario:
    return parse_scenario(
        {
            "name": "a beam above a line",
            "runs": [
                {"id": "B1", "plan": [[0, 0], [8000, 0]], "elevation": 3000, "size": 25, "band": [3000, 3000]}
            ],
            "heads": [{"id": "H1", "at": [7500, 0, 2400]}],
            "obstructions": [
                {
                    "id": "G1",
                    "kind": "beam",
                    "elevations": [bottom, 3500],
                    "polygon": [[4000, -500], [4300, -500], [4300, 500], [4000, 500]],
                }
            ],
        }
    )


def test_room_at_a_crossing_by_hand() -> None:
    """ASME B36.10M: 1 in. pipe is 33.4 mm outside; a beam 60 mm above its centre leaves 60 - 16.7 mm."""
    scenario = low_line(3060)
    route, _ = route_scenario(scenario)
    contents = prepare(scenario, [Given("route", route)])
    (found,) = crossings(contents, contents.shown[0])["B1"]
    assert (found.way, found.obstruction) == ("under", "G1")
    assert found.stations == pytest.approx((4000, 4300), abs=0.5)
    assert found.room == pytest.approx(60 - 16.7, abs=0.06)
    assert found.needs == 25


def reasons(route: Route) -> Explained:
    first = route.heads[0].id
    return Explained(
        heads=[
            HeadReasons(
                head=first,
                served=True,
                style=route.heads[0].style,
                chosen="chosen so <1>",
                others=[
                    OtherWay(
                        style="return_bend",
                        costs_more=2010.0,
                        exact=True,
                        text="a return bend costs 2,010 points more",
                    ),
                    OtherWay(style="side_arm", costs_more=None, exact=True, text="a side arm is 46 mm short"),
                ],
            ),
            HeadReasons(
                head=route.heads[1].id,
                served=False,
                style=None,
                chosen="",
                conflict=["beam B", "duct D"],
                relaxations=[Relaxation(text="allow a 46 mm shift", change={}, serves=[], costs=0.0)],
            ),
        ],
        runs=[
            RunReasons(
                run=route.runs[0].id,
                built=True,
                text="it goes over G1",
                bindings=[
                    Binding(
                        part="stretch", stations=(0, 10), levels=(0, 0), limits=[], text="beam G1 needs it"
                    )
                ],
            )
        ],
    )


def test_reasons_stand_at_their_head_and_line(solved: tuple[Scenario, Route]) -> None:
    scenario, route = solved
    lost = route.heads[1].model_copy(update={"served": False, "takeoff": None, "style": None})
    route = route.model_copy(update={"heads": [route.heads[0], lost, *route.heads[2:]]})
    made = report_html(prepare(scenario, [Given("route", route)], (), {"route": reasons(route)}))
    tree = html5lib.HTMLParser(strict=True, namespaceHTMLElements=False).parse(made)
    row = next(r for r in tree.iter("tr") if r.get("data-thing") == f"head:{route.heads[0].id}")
    said = " ".join("".join(row.itertext()).split())
    assert "a return bend costs 2,010 points more" in said
    assert "a side arm is 46 mm short" in said
    assert "chosen so <1>" in said
    page = "".join(tree.itertext())
    assert "return bend would cost at least 2,010 points more (1 head)" in page
    assert "it goes over G1" in page
    assert "beam G1 needs it" in page
    assert f"{lost.id} is not served." in page
    assert "Cannot all hold: beam B; duct D" in page
    assert "allow a 46 mm shift" in page


def test_remarks_and_places_near_a_limit_are_told_by_line_station_and_head() -> None:
    scenario = read_scenario(SCENARIOS / "reading_room.json")
    route, _ = route_scenario(scenario)
    contents = prepare(scenario, [Given("route", route)])
    (found,) = [f for f in contents.shown[0].verdict.findings if f.severity == "near"]
    page = html5lib.parse(report_html(contents), namespaceHTMLElements=False)
    parts = {s.get("id"): " ".join("".join(s.itertext()).split()) for s in page.iter("section")}
    # by hand: from the offset's second elbow to the outlet of B1, over the beam that it is near
    (change,) = [c for run in route.runs for c in run.level_changes]
    outlet = next(t for t in route.takeoffs if t.child_runs == ["B1"])
    piece = next(p for p in route.pieces if p.id == found.element)
    assert set(piece.fittings) & set(change.fittings)
    assert set(piece.fittings) & set(outlet.fittings)
    told = f"between offset and B1, over {found.against} ({found.element})"
    assert told in parts["answer"]
    assert told in parts["site"]
    assert "1 offset on M1 (+316)" in parts["answer"]
    for thing in scenario.obstructions:
        assert f"{thing.id} ({thing.elevations[0]:,.0f} to {thing.elevations[1]:,.0f})" in parts["site"]


def test_a_barrel_by_hand() -> None:
    """ASME B16.3: a 1 in. tee is 1.50 in. (38.1 mm) centre to end. Ceiling at 3,080, inlet at 3,000."""
    scenario = read_scenario(SCENARIOS / "loading_dock.json")
    route, _ = route_scenario(scenario)
    page = html5lib.parse(
        report_html(prepare(scenario, [Given("route", route)])), namespaceHTMLElements=False
    )
    barrel = next(p for p in route.pieces if p.kind == "barrel")
    row = next(r for r in page.iter("tr") if r.get("data-thing") == f"piece:{barrel.id}")
    lengths = [float(s.get("data-mm")) for s in row.iter("span") if s.get("class") == "len"]
    whole = barrel.start[2] - 3000
    assert lengths == pytest.approx([whole, whole - 80 - 38.1, 80, whole - 38.1], abs=0.06)


def test_it_says_why_there_are_no_reasons(solved: tuple[Scenario, Route]) -> None:
    scenario, route = solved
    made = report_html(prepare(scenario, [Given("route", route)], (), {"route": "the route is a drawing"}))
    assert "The reasons head by head are not in this report: the route is a drawing." in made


def test_what_was_kept_of_an_older_route(solved: tuple[Scenario, Route]) -> None:
    scenario, route = solved
    assert "Kept of the older route" not in report_html(prepare(scenario, [Given("route", route)]))
    old = Kept(
        scenario="an older state",
        sha256="0" * 64,
        weights=KeptWeights(head=100, run=100, offset=100),
        matched=3,
        heads=3,
        heads_kept=2,
        runs=1,
        runs_kept=1,
        level_changes=0,
        level_changes_kept=0,
        pieces=8,
        pieces_kept=6,
        points=100.0,
        changes=[
            Change(kind="head", id="H2", what="moved", moved=120.0, points=100.0, counts=True,
                   before="station 4,800 mm", now="station 4,920 mm", why="beam G1 is 12.5 mm too near"),
        ],
    )  # fmt: skip
    made = report_html(prepare(scenario, [Given("route", route.model_copy(update={"kept": old}))]))
    tree = html5lib.HTMLParser(strict=True, namespaceHTMLElements=False).parse(made)
    page = "".join(tree.itertext())
    assert "2 of 3 heads" in page
    assert "6 of 8 pieces are the same to the micrometre" in page
    assert "beam G1 is 12.5 mm too near" in page


def test_storeys_that_lie_over_each_other_get_a_plan_each() -> None:
    def floor(name: str, z: float) -> dict[str, Any]:
        return {"id": name, "plan": [[0, 0], [8000, 0]], "elevation": z, "size": 25, "band": [z, z]}

    given: dict[str, Any] = {
        "name": "two storeys",
        "runs": [floor("low", 3000), floor("high", 6500)],
        "heads": [
            {"id": "H1", "at": [7500, 0, 2400], "run": "low"},
            {"id": "H2", "at": [7500, 0, 5900], "run": "high"},
        ],
        "obstructions": [
            {"id": "D1", "kind": "duct", "elevations": [2000, 2200],
             "polygon": [[1000, 500], [2000, 500], [2000, 900], [1000, 900]]},
            {"id": "D2", "kind": "duct", "elevations": [6300, 6400],
             "polygon": [[1000, 500], [2000, 500], [2000, 900], [1000, 900]]},
        ],
    }  # fmt: skip
    scenario = parse_scenario(given)
    route, _ = route_scenario(scenario)
    low, high = storeys(scenario, route)
    assert [run.id for run in low.scenario.runs] == ["low"]
    assert [head.id for head in high.route.heads] == ["H2"]
    assert {piece.run for piece in high.route.pieces} == {"high"}
    assert [o.id for o in low.scenario.obstructions] == []
    assert [o.id for o in high.scenario.obstructions] == ["D2"]
    beside = [floor("low", 3000), {**floor("high", 6500), "plan": [[20000, 0], [28000, 0]]}]
    apart = parse_scenario({**given, "runs": beside, "heads": given["heads"][:1]})
    assert len(storeys(apart, route_scenario(apart)[0])) == 1


def test_a_run_that_is_not_built_has_its_row() -> None:
    """No head is in reach, so nothing is built: the page says so instead of failing."""
    scenario = parse_scenario(
        {"name": "far", "runs": [{"id": "B1", "plan": [[0, 0], [6000, 0]], "elevation": 3000}],
         "heads": [{"id": "H1", "at": [1500, 900, 2400]}], "rules": {"reach": 10}},
        "far",
    )  # fmt: skip
    route, _ = route_scenario(scenario)
    assert not route.runs
    page = report_html(prepare(scenario, [Given("far", route)]))
    assert "not built" in page
    assert "NOT SERVED" in page
    html5lib.HTMLParser(strict=True).parse(page)
