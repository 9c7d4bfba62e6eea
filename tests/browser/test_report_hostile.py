"""Names of the designer's are text, whatever they hold; several routes are switched."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from router.building.route import route_scenario
from router.deliver.report import prepare, report_html
from router.deliver.report.prepare import Given, Source
from router.scenario import parse_scenario

if TYPE_CHECKING:
    from collections.abc import Callable
    from pathlib import Path

    from browser.opened import Opened
    from router.scenario.model import Scenario

SCRIPT = "</script><script>window.hit = 1</script>"
IMAGE = "<img src=x onerror='window.hit = 1'>"
QUOTES = '"\' onmouseover="window.hit = 1" &amp; `${1}` \u2028'
ARABIC = "\u202eرأس\u202c"
EMOJI = "🧯 7"
GIVEN: dict[str, Any] = {
    "name": f"Nasty {SCRIPT}",
    "story": f"{IMAGE} {QUOTES} <!-- ]]> {EMOJI}",
    "runs": [{"id": SCRIPT, "plan": [[0, 0], [9000, 0]], "elevation": 3200, "size": 25}],
    "heads": [
        {"id": IMAGE, "at": [1500, 0, 2700]},
        {"id": ARABIC, "at": [4000, 600, 2700]},
        {"id": EMOJI, "at": [8000, -600, 2700]},
    ],
    "obstructions": [
        {
            "id": QUOTES,
            "kind": SCRIPT,
            "polygon": [[3000, -2000], [3300, -2000], [3300, 2000], [3000, 2000]],
            "elevations": [3260, 3500],
        },
    ],
    "ceilings": [
        {
            "id": f"{IMAGE}x",
            "polygon": [[0, -3000], [9000, -3000], [9000, 3000], [0, 3000]],
            "elevation": 2750,
        }
    ],
}


def nasty() -> Scenario:
    return parse_scenario(GIVEN)


def test_hostile_names_stay_text(opened: Callable[..., Opened], tmp_path: Path) -> None:
    scenario = nasty()
    route, _ = route_scenario(scenario)
    file = tmp_path / "nasty.html"
    contents = prepare(scenario, [Given(SCRIPT, route, remarks=[IMAGE])], [Source(f"{IMAGE}.json", "0" * 64)])
    file.write_text(report_html(contents), encoding="utf-8")
    page = opened(file)
    assert page.js("window.hit") is None
    assert page.js("document.querySelectorAll('main img:not(.picture)').length") == 0
    assert page.js("document.scripts.length") == 3
    assert SCRIPT in page.text("h1")
    assert EMOJI in page.text("#heads table")
    page.show("space")
    for head in route.heads:
        key = page.js("n => 'head:' + window.report.view.route.heads[n].id", route.heads.index(head))
        page.page.mouse.move(*page.place(key))
        assert page.text("#tip").startswith(key[5:].strip()[:4])
    page.page.locator("#heads .go").first.click()
    page.page.select_option("#f-run", index=1)
    assert page.js("window.report.shown().pieces") == len(route.pieces)
    assert page.js("window.hit") is None
    assert page.js("document.querySelectorAll('#heads tr.picked').length") == 1


def test_routes_are_switched(opened: Callable[..., Opened], tmp_path: Path) -> None:
    scenario = nasty()
    free, _ = route_scenario(scenario)
    heads = {EMOJI: {"style": "return_bend"}}
    pinned, _ = route_scenario(parse_scenario({**GIVEN, "pins": {"heads": heads}}))
    pinned = pinned.model_copy(update={"scenario_sha256": free.scenario_sha256})
    assert len(free.pieces) != len(pinned.pieces)
    file = tmp_path / "two.html"
    file.write_text(
        report_html(prepare(scenario, [Given("free", free), Given("pinned", pinned)])), encoding="utf-8"
    )
    page = opened(file)
    assert page.js("window.report.shown().pieces") == len(free.pieces)
    assert not page.page.locator("#heads table").nth(1).is_visible()
    page.page.select_option("#route", label="pinned")
    assert page.js("window.report.shown().pieces") == len(pinned.pieces)
    assert page.page.locator("#heads table").nth(1).is_visible()
    assert not page.page.locator("#heads table").nth(0).is_visible()
    assert "return bend" in page.page.locator("#heads table").nth(1).inner_text()
    assert page.js("location.hash") == "#;route=1"
    text = page.text("#routes")
    assert "Better: free" in text
    assert "Heads that are served otherwise than in free (2 heads alike)" in text
