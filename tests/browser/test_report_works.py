"""Hovering, filtering, picking, units and tables do what they say."""

from __future__ import annotations

import math
import re
from typing import TYPE_CHECKING

import pytest

from router.check import check_route
from router.cutlist.lengths import feet_inches

if TYPE_CHECKING:
    from collections.abc import Callable
    from pathlib import Path

    from browser.opened import Opened
    from router.route.model import Route
    from router.scenario.model import Scenario


STATIONS = """() => [...document.querySelectorAll('#heads tbody tr')].map(
  (row) => Number(row.cells[3].querySelector('.len').dataset.mm))"""
STAGE = """() => {
  const box = window.report.view.stage.getBoundingClientRect();
  return [box.left, box.top, box.width, box.height];
}"""


def shown(page: Opened) -> dict[str, int]:
    counts: dict[str, int] = page.js("window.report.shown()")
    return counts


def test_hovering_tells_the_piece(page: Opened, demo: tuple[Scenario, Route]) -> None:
    page.show("space")
    route = demo[1]
    longest = max((p for p in route.pieces if p.kind == "run"), key=lambda p: p.length)
    arm = next(p for p in route.pieces if p.kind == "arm")
    nearer = next(t for t in route.takeoffs if t.side == "right" and t.heads)
    barrel = next(p for p in route.pieces if p.kind == "barrel" and p.owner == nearer.id)
    # from above nothing lies over line and arm; a barrel is seen from the side
    for piece, view in ((longest, "top"), (arm, "top"), (barrel, "iso")):
        page.page.locator(f'[data-view="{view}"]').click()
        page.page.mouse.move(*page.place(f"piece:{piece.id}"))
        text = page.text("#tip")
        assert text.startswith(f"{piece.id}: ")
        assert f"{piece.length:,.1f} mm" in text
    takeoff = next(t for t in route.takeoffs if arm.id in t.pieces)
    page.page.locator('[data-view="top"]').click()
    page.page.mouse.move(*page.place(f"piece:{arm.id}"))
    assert takeoff.heads[0] in page.text("#tip")
    page.page.mouse.move(5, 5)
    assert not page.page.locator("#tip").is_visible()


def test_hovering_an_obstruction_tells_its_elevations(page: Opened, demo: tuple[Scenario, Route]) -> None:
    page.show("space")
    page.page.locator('[data-view="top"]').click()
    page.page.wait_for_timeout(100)
    beam = next(o for o in demo[0].obstructions if o.id == "beam G1")
    x, y = beam.polygon[0]
    left, top, _, _ = page.js(STAGE)
    right, down, _ = page.js("at => window.report.view.pixel(at)", [x + 200, y + 1000, beam.elevations[1]])
    page.page.mouse.move(left + right, top + down)
    text = page.text("#tip")
    assert text.startswith("beam G1: beam")
    assert "3,540 mm" in text
    assert "3,960 mm" in text


def test_filters_show_as_many_pieces_as_the_route_has(page: Opened, demo: tuple[Scenario, Route]) -> None:
    scenario, route = demo
    style_of = {piece: t.style for t in route.takeoffs for piece in t.pieces}
    page.show("space")
    assert shown(page)["pieces"] == len(route.pieces)
    assert shown(page)["heads"] == len(route.heads)
    for run in scenario.runs:
        page.page.select_option("#f-run", run.id)
        assert shown(page)["pieces"] == sum(p.run == run.id for p in route.pieces)
        assert shown(page)["heads"] == sum(h.run == run.id for h in route.heads)
    page.page.select_option("#f-run", "")
    for style in set(style_of.values()):
        page.page.select_option("#f-style", style)
        assert shown(page)["pieces"] == sum(style_of.get(p.id) == style for p in route.pieces)
        assert shown(page)["heads"] == sum(h.style == style for h in route.heads)
    page.page.select_option("#f-style", "")
    page.page.locator("#k-arm").uncheck()
    assert shown(page)["pieces"] == sum(p.kind != "arm" for p in route.pieces)
    page.page.locator("#k-arm").check()
    page.page.locator("#f-findings").check()
    found = {name for f in check_route(scenario, route).findings for name in (f.element, f.against)}
    with_findings = [
        p for p in route.pieces if p.id in found or p.owner in found - {r.id for r in scenario.runs}
    ]
    assert with_findings
    assert shown(page)["pieces"] == len(with_findings)
    assert f"Shown: {len(with_findings)} of {len(route.pieces)} pieces" in page.text("#shown-count")


def test_what_is_filtered_out_cannot_be_hovered(page: Opened, demo: tuple[Scenario, Route]) -> None:
    page.show("space")
    arm = next(p for p in demo[1].pieces if p.kind == "arm")
    page.page.locator("#f-fittings").uncheck()
    page.page.locator("#k-arm").uncheck()
    page.page.mouse.move(*page.place(f"piece:{arm.id}"))
    assert not (page.page.locator("#tip").is_visible() and page.text("#tip").startswith(arm.id))


def test_every_length_changes_its_unit(page: Opened) -> None:
    """By hand: 3,000 mm are 118.11 in., so 9 ft 10.11 in., nearest sixteenth 9'-10 1/8"; 25.0 mm 0.98 in."""
    assert "inlets at 3,000 mm" in page.text(".asked")
    limit = "#site tbody tr >> nth=0"
    assert "25.0" in page.text(limit)
    page.page.select_option("#units", "ft")
    assert "inlets at 9'-10 1/8\"" in page.text(".asked")
    assert '0.98"' in page.text(limit)
    assert "ft-in" in page.text("#heads thead")
    page.page.select_option("#units", "m")
    assert "inlets at 3.000 m" in page.text(".asked")
    assert " mm" not in page.text("#heads table tbody")
    assert page.js("location.hash") == "#;units=m"
    page.page.select_option("#units", "mm")
    assert "inlets at 3,000 mm" in page.text(".asked")


def test_feet_and_inches_are_those_of_the_cut_list(page: Opened) -> None:
    page.page.select_option("#units", "ft")
    lengths = [0, 0.7, 0.8, 1.5875, 25.4, 304.8, 304.0, 1000, 3276.6, 20850.017, 123456.7]
    # by hand: 1.5875 mm is 1/16 in., 3,276.6 mm are 129 in.
    assert page.js("mm => window.report.units.feetInches(mm)", 1.5875) == "0'-0 1/16\""
    assert page.js("mm => window.report.units.feetInches(mm)", 3276.6) == "10'-9\""
    for mm in lengths:
        own = page.js("mm => window.report.units.feetInches(mm)", mm)
        assert own == feet_inches(math.floor(mm / 25.4 * 16 + 0.5 + 1e-6))


def test_picking_in_the_plan_marks_row_and_stays(page: Opened) -> None:
    page.show("plan")
    page.page.locator('.drawing.plan [data-head="H07"]').first.click(force=True)
    assert page.js("window.report.picked()") == "head:H07"
    assert page.text("#tip").startswith("H07: dry pendent head")
    assert page.js("document.querySelector('#heads tr.picked').dataset.thing") == "head:H07"
    page.page.mouse.move(10, 400)
    assert page.page.locator("#tip").is_visible()
    page.page.keyboard.press("Escape")
    assert page.js("window.report.picked()") is None
    assert page.js("document.querySelectorAll('.picked').length") == 0


def test_a_head_of_the_table_is_flown_to(page: Opened) -> None:
    page.page.locator('#heads [data-go="head:H17"]').click()
    page.page.wait_for_timeout(150)
    box = page.js(STAGE)
    x, y = page.place("head:H17")
    assert box[0] < x < box[0] + box[2]
    assert box[1] < y < box[1] + box[3]
    # near: the 3.1 m of its takeoff with the room about it fill the view, not the 21 m of the line
    far = page.place("head:H20")
    assert math.hypot(far[0] - x, far[1] - y) > box[2] / 2
    assert "at=head:H17" in page.js("location.hash")
    assert page.js("document.querySelectorAll('.drawing .picked').length") > 0


def test_the_address_opens_it_as_it_was(opened: Callable[..., Opened], demo_file: Path) -> None:
    page = opened(demo_file, hash_="#buy;units=ft;at=head:H05")
    assert page.js("document.getElementById('units').value") == "ft"
    assert page.js("window.report.picked()") == "head:H05"
    assert page.js("document.getElementById('buy').getBoundingClientRect().top < innerHeight")


def test_the_3d_view_is_moved_by_keys(page: Opened) -> None:
    page.show("space")
    page.page.locator("#stage canvas").focus()
    before = page.place("head:H01"), page.place("head:H20")
    page.page.keyboard.press("+")
    page.page.keyboard.press("ArrowLeft")
    after = page.place("head:H01"), page.place("head:H20")
    assert math.dist(*after) != pytest.approx(math.dist(*before), rel=0.01)
    page.page.keyboard.press("n")
    assert page.js("window.report.picked()") == "head:H01"


def test_tables_sort_and_filter(page: Opened, demo: tuple[Scenario, Route]) -> None:
    heads = "#heads table"
    station = page.page.locator(f"{heads} th [role=button]", has_text="station")
    station.click()
    first = page.js(STATIONS)
    assert first == sorted(first)
    station.click()
    last = page.js(STATIONS)
    assert last == sorted(first, reverse=True)
    page.page.locator("#heads input[type=search]").fill("straight drop")
    visible = page.page.locator(f"{heads} tbody tr:visible").count()
    assert visible == sum(h.style == "straight_drop" for h in demo[1].heads)
    assert re.search(rf"{visible} of {len(demo[1].heads)} rows", page.text("#heads .finder"))
    page.page.locator("#heads input[type=search]").fill("")


def test_finding_looks_at_what_is_seen_and_a_style_is_chosen(
    page: Opened, demo: tuple[Scenario, Route]
) -> None:
    rows = page.page.locator("#heads table tbody tr[data-thing]:visible")
    find = page.page.locator("#heads input[type=search]")
    find.fill("outlet underneath")  # stands only in what is folded away
    assert rows.count() == 0
    find.fill("")
    style = page.page.locator("#heads .finder select")
    style.select_option("raised arm")
    assert rows.count() == sum(h.style == "raised_arm" for h in demo[1].heads)
    style.select_option("")
    assert rows.count() == len(demo[1].heads)


def test_the_reasons_of_a_head_unfold_over_the_row(opened: Callable[..., Opened], reasons_file: Path) -> None:
    page = opened(reasons_file)
    page.js("document.querySelector('#heads td details').open = true")
    page.page.wait_for_selector("#heads tr.unfolded")
    wide = "s => document.querySelector(s).getBoundingClientRect().width"
    assert page.js(wide, "#heads tr.unfolded td") == pytest.approx(page.js(wide, "#heads tbody tr"), abs=2)
    page.page.locator("#heads th [role=button]").first.click()
    assert page.js("document.querySelectorAll('#heads tr.unfolded').length") == 0
    assert "is served by" in page.js("document.querySelector('#heads td details').textContent")


def test_the_card_leads_to_rows_and_closes(page: Opened, demo: tuple[Scenario, Route]) -> None:
    arm = next(p for p in demo[1].pieces if p.kind == "arm")
    page.show("space")
    page.page.locator('[data-view="top"]').click()
    page.page.mouse.click(*page.place(f"piece:{arm.id}"))
    assert page.js("window.report.picked()") == f"piece:{arm.id}"
    page.page.locator("#tip .links .go", has_text="cut mark").click()
    assert page.js(
        """id => [...document.querySelectorAll('#buy tr.picked')].some((row) => {
          const box = row.getBoundingClientRect();
          return row.textContent.includes(id) && box.top > 0 && box.bottom < innerHeight; })""",
        arm.id,
    )
    page.page.locator("#tip .close").click()
    assert page.js("window.report.picked()") is None
    assert not page.page.locator("#tip").is_visible()


def test_every_view_holds_all_that_is_shown(page: Opened, demo: tuple[Scenario, Route]) -> None:
    page.show("space")
    places = [
        [x, y, z] for o in demo[0].obstructions for x, y in o.polygon for z in o.elevations
    ] + [list(end) for p in demo[1].pieces for end in (p.start, p.end)]  # fmt: skip
    for view in ("top", "front", "side", "iso", "fit"):
        page.page.locator(f'[data-view="{view}"]').click()
        _, _, wide, tall = page.js(STAGE)
        for x, y, _ in page.js("all => all.map((at) => window.report.view.pixel(at))", places):
            assert 0 < x < wide
            assert 0 < y < tall


def test_a_filter_brings_near_what_it_shows(page: Opened, demo: tuple[Scenario, Route]) -> None:
    page.show("space")
    head = next(h for h in demo[1].heads if h.style == "raised_arm")
    takeoff = next(t for t in demo[1].takeoffs if t.id == head.takeoff)
    ends = next(p for p in demo[1].pieces if p.id in takeoff.pieces and p.kind == "barrel")
    long = "ends => { const [a, b] = ends.map((at) => window.report.view.pixel(at)); return Math.hypot(a[0] - b[0], a[1] - b[1]); }"  # noqa: E501
    before = page.js(long, [ends.start, ends.end])
    page.page.select_option("#f-style", "raised_arm")
    assert page.js(long, [ends.start, ends.end]) > 4 * before


def test_a_pitch_changes_its_unit_with_the_lengths(page: Opened) -> None:
    """By hand: 4 mm per m are 0.004 x 120 in. in 10 ft, 0.48 in."""
    page.page.select_option("#units", "ft")
    row = page.page.locator("#levels table >> nth=0").locator("tr", has_text="B1").first
    assert "0.48" in row.inner_text()
    assert "in. per 10 ft" in page.text("#levels thead")
    page.page.select_option("#units", "mm")
    assert "mm per m" in page.text("#levels thead")
