"""What is told while the work goes on, on a terminal and off it."""

from __future__ import annotations

import io
import json
from pathlib import Path

from rich.console import Console

from router.building.progress import Progress, Tally
from router.building.route import route_scenario
from router.check import check_route
from router.deliver.progress import LINE_EVERY_S, Shown, how_far
from router.deliver.route_json import read_route, route_text
from router.deliver.tables import route_table, unserved_text
from router.route.model import Attempt, HeadResult
from router.scenario import read_scenario


class Clock:
    """Seconds that pass when the test says so."""

    def __init__(self) -> None:
        self.now = 0.0

    def __call__(self) -> float:
        return self.now


def console(*, terminal: bool = False) -> tuple[Console, io.StringIO]:
    out = io.StringIO()
    return Console(file=out, force_terminal=terminal, width=160), out


def told(heads: int, phase: str = "candidates", gap: float | None = None) -> Progress:
    return Progress(phase, heads // 12, 10, heads, 120, gap)


def test_how_far() -> None:
    assert how_far(Progress("referee"), 5.0) == ""
    assert how_far(told(60), 0.5) == "5 of 10 runs, 60 of 120 heads"
    assert how_far(told(30), 20.0) == "2 of 10 runs, 30 of 120 heads, about 60 s left"
    assert how_far(told(120, gap=1234.5), 20.0) == "10 of 10 runs, 120 of 120 heads, worst gap 1,234 points"
    assert how_far(told(0), 20.0) == "0 of 10 runs, 0 of 120 heads", "nothing to judge the time by"


def test_off_a_terminal_a_line_a_phase_and_one_now_and_then() -> None:
    to, out = console()
    clock = Clock()
    with Shown(to, clock=clock) as shown:
        for heads in range(0, 121, 12):
            shown.tell(told(heads))
            clock.now += LINE_EVERY_S / 4
        shown.tell(told(120, "model", 0.0))
        shown.tell(Progress("referee"))
    lines = out.getvalue().splitlines()
    assert [line for line in lines if line.endswith("...")] == [
        "every way to serve each head, and the least cost of each run ...",
        "where arms clash or styles mix ...",
        "the referee ...",
    ]
    assert [line for line in lines if line.startswith("  ")] == [
        "  4 of 10 runs, 48 of 120 heads, about 15 s left",
        "  8 of 10 runs, 96 of 120 heads, about 5 s left",
    ]


def test_on_a_terminal_a_bar() -> None:
    to, out = console(terminal=True)
    clock = Clock()
    with Shown(to, clock=clock) as shown:
        shown.tell(told(0))
        clock.now = 3.0
        shown.tell(told(60, gap=20.0))
        assert shown._bar is not None
        shown._bar.refresh()
        text = out.getvalue()
        shown.tell(told(120, "model"))
        shown.tell(Progress("referee"))
        assert len(shown._bar.tasks) == 1
    assert "5 of 10 runs, 60 of 120 heads, worst gap 20 points, about 3 s left" in text


def test_quiet_is_quiet_but_for_what_must_be_said() -> None:
    to, out = console()
    with Shown(to, quiet=True) as shown:
        shown.tell(told(60))
        shown.say("interrupted")
    assert out.getvalue() == "interrupted\n"


def test_a_tally_adds_up_and_keeps_the_worst() -> None:
    seen: list[Progress] = []
    tally = Tally(3, 30, seen.append)
    tally.begin("candidates")
    tally.add(1, 10)
    tally.worst(2.5)
    tally.worst(1.0)
    tally.add(1, 12)
    tally.begin("model")
    assert seen == [
        Progress("candidates", 0, 3, 0, 30),
        Progress("candidates", 1, 3, 10, 30),
        Progress("candidates", 2, 3, 22, 30, 2.5),
        Progress("model", 0, 3, 0, 30, 2.5),
    ]


def test_what_a_stop_left_out_is_one_line() -> None:
    heads = [
        HeadResult(
            id=f"H{n}", served=False, inlet=(0.0, 0.0, 0.0), stopped_by=[_stopped(f"L{n // 3}", n < 9)]
        )
        for n in range(15)
    ]
    assert unserved_text(heads).plain.splitlines() == [
        "9 heads on L0, L1, L2: not routed: interrupted",
        "6 heads on L3, L4: not served so far: interrupted",
    ]
    many = [
        HeadResult(id=f"H{n}", served=False, inlet=(0.0, 0.0, 0.0), stopped_by=[_stopped(f"L{n}", True)])
        for n in range(2000)
    ]
    assert unserved_text(many).plain == "2,000 heads on L0, L1, L2 and 1,997 more: not routed: interrupted"


def _stopped(run: str, routed: bool) -> Attempt:
    what = "not routed" if routed else "not served so far"
    return Attempt(
        style="",
        run=run,
        station=None,
        rule="stopped",
        against=None,
        has=None,
        needs=None,
        short=None,
        text=f"{what}: interrupted before {run} was worked out",
    )


def test_lines_closed_are_written_and_older_files_read(tmp_path: Path) -> None:
    scenario = read_scenario(Path(__file__).parents[2] / "scenarios" / "minimal.json")
    route, _ = route_scenario(scenario)
    data = json.loads(route_text(route))
    assert data["proof"]["lines_closed"] == {"styles": 1}
    del data["proof"]["lines_closed"]
    old = tmp_path / "old.json"
    old.write_text(json.dumps(data), encoding="utf-8")
    assert read_route(old).proof.lines_closed == {}
    assert read_route(old) == route.model_copy(
        update={"proof": route.proof.model_copy(update={"lines_closed": {}})}
    )
    to, out = console()
    to.print(route_table(scenario, route, check_route(scenario, route)))
    assert "  lines closed by      1 styles" in out.getvalue()
    to, out = console()
    to.print(route_table(scenario, read_route(old), check_route(scenario, route)))
    assert "lines closed" not in out.getvalue()
