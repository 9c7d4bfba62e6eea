"""Names of the designer's are text, whatever they hold; several routes are switched."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from hostile_names import NAMES, hostile

from router.building.route import route_scenario
from router.deliver.compare_draw import compare_svg
from router.deliver.draw import draw_svg
from router.deliver.report import prepare, report_html
from router.deliver.report.prepare import Given, Source
from router.deliver.sheets.make import sheet_set
from router.deliver.sheets.paper import paper_of
from router.scenario import parse_scenario

if TYPE_CHECKING:
    from collections.abc import Callable
    from pathlib import Path

    from playwright.sync_api import Browser, Dialog

    from browser.opened import Opened
    from router.scenario.model import Scenario

SCRIPT = "</script><script>window.hit = 1</script>"
IMAGE = "<img src=x onerror='window.hit = 1'>"
QUOTES = '"\' onmouseover="window.hit = 1" &amp; `${1}`'
ARABIC = "\u0631\u0623\u0633"
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


def dismissed(dialog: Dialog, told: list[str]) -> None:
    """Take note of a dialog; no name may bring one up."""
    told.append(dialog.message)
    dialog.dismiss()


def test_every_hostile_name_is_shown_as_it_is_written(opened: Callable[..., Opened], tmp_path: Path) -> None:
    """No script of theirs runs, nothing is fetched, and what the page does it still does."""
    scenario = parse_scenario(hostile())
    route, _ = route_scenario(scenario)
    file = tmp_path / "hostile.html"
    file.write_text(report_html(prepare(scenario, [Given(NAMES["script"], route)])), encoding="utf-8")
    page = opened(file)
    dialogs: list[str] = []
    page.page.on("dialog", lambda dialog: dismissed(dialog, dialogs))
    cells = page.js("[...document.querySelectorAll('#heads tbody tr')].map(row => row.textContent)")
    for name in NAMES.values():
        shown = name.replace("\u202e", "").replace("\u202c", "")
        assert any(shown[:2000] in cell for cell in cells), name[:40]
    assert page.js("document.scripts.length") == 3
    outside = "[...document.querySelectorAll('[src],[href],use,iframe,object,embed,link,base,form[action]')]"
    wanted = page.js(
        outside + ".map(e => e.getAttribute('src') || e.getAttribute('href') || e.tagName)"
        ".filter(a => !a.startsWith('#') && !a.startsWith('data:'))"
    )
    assert wanted == []
    on = "[...document.querySelectorAll('*')].filter(e => [...e.attributes].some(a => /^on/i.test(a.name)))"
    assert page.js(on + ".length") == 0

    page.show("space")
    for head in route.heads[:3]:
        page.page.mouse.move(*page.place(f"head:{head.id}"))
        assert page.text("#tip").startswith(head.id[:6])
    page.page.locator("#heads th [role=button]").first.click()
    first = "[...document.querySelectorAll('#heads tbody tr')].map(row => row.textContent)"
    assert sorted(page.js(first)) == sorted(cells)
    assert page.js(first) != cells
    page.page.locator("#heads .go").first.click()
    assert page.js("document.querySelectorAll('#heads tr.picked').length") == 1
    page.page.select_option("#f-run", index=1)
    assert page.js("window.report.shown().pieces") == len(route.pieces)
    page.page.select_option("#f-colour", "run")
    page.page.select_option("#units", index=1)
    assert page.js("window.hit ?? null") is None
    assert dialogs == []


def test_drawings_opened_by_themselves_run_and_fetch_nothing(browser: Browser, tmp_path: Path) -> None:
    scenario = parse_scenario(hostile())
    route, _ = route_scenario(scenario)
    drawings = {"one.svg": draw_svg(scenario, route)}
    drawings |= sheet_set(scenario, route, paper_of(None, inch=False), "2030-01-31").svgs()
    drawings["both.svg"] = compare_svg(scenario, (NAMES["script"], route), (NAMES["image"], route))
    context = browser.new_context()
    page = context.new_page()
    told: list[str] = []
    asked: list[str] = []
    page.on("dialog", lambda dialog: dismissed(dialog, told))
    page.on("console", lambda message: told.append(message.text))
    page.on("pageerror", lambda error: told.append(str(error)))
    page.on("request", lambda request: asked.append(request.url))
    shown = ""
    for name, text in drawings.items():
        file = tmp_path / name
        file.write_text(text, encoding="utf-8")
        page.goto(file.as_uri())
        assert page.evaluate("document.documentElement.localName") == "svg", name
        assert (
            page.evaluate("document.querySelectorAll('script,image,use,a,foreignObject,parsererror').length")
            == 0
        )
        assert page.evaluate("window.hit ?? null") is None
        shown += str(page.evaluate("document.documentElement.textContent"))
    context.close()
    assert told == []
    assert asked == [(tmp_path / name).as_uri() for name in drawings]
    for key in ("script", "image", "braces", "dollar", "comment", "cdata", "formula", "up"):
        assert NAMES[key][:12] in shown, key
