"""The referee on hangers: each limit just inside and just outside.

Spacing 12 ft for 1 and 1-1/4 in., 15 ft from 1-1/2 in. on (NFPA 13, 2019 Table 17.4.2.1(a); the step from
memory). Last hanger to end head 36, 48, 60 in. (2016 9.2.3.4, grade A); 12 in. over 100 psi (A). One
hanger for each section of pipe (A), none for a starter under 6 ft, 12 ft apart where heads are under
6 ft apart (from memory). Unsupported arm-over 24 in. (A). 3 in. from an upright head (2025 17.4.3.3, A).
Sprigs of 4 ft and longer restrained (from memory).
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import pytest
from hung import FT, IN, Line, beam, on_run

from router.check import check_route
from router.route.model import Hanger

if TYPE_CHECKING:
    from router.check.findings import Finding


def run_hanger(k: int, x: float, piece: str, **more: Any) -> Hanger:
    return Hanger(id=f"HG{k:04d}", kind="run", run="R", piece=piece, at=(x, 0.0, 3000.0), why="", **more)


def findings(line: Line, hangers: list[Hanger]) -> list[Finding]:
    route = line.route().model_copy(update={"hangers": hangers})
    return check_route(line.scenario(), route).by_rule("hangers")


def broken(line: Line, xs: list[float], extra: list[Hanger] | None = None, **more: Any) -> list[Finding]:
    """What breaks with hangers on the run at these stations."""
    hangers = []
    for k, x in enumerate(xs, 1):
        piece = next(p for p in line.pieces if p.kind == "run" and p.start[0] <= x <= p.end[0])
        hangers.append(run_hanger(k, x, piece.id, **more))
    return [f for f in findings(line, hangers + (extra or [])) if f.severity == "breaks"]


def limits(found: list[Finding]) -> list[float]:
    return [round(f.limit or 0.0, 1) for f in found]


def test_a_route_without_hangers_gets_one_note() -> None:
    (note,) = findings(Line([3000.0, 6000.0], [25, 25]), [])
    assert (note.severity, note.rule) == ("note", "hangers")


@pytest.mark.parametrize(("sizes", "most"), [([25, 25], 12), ([32, 25], 12), ([50, 40], 15), ([50, 25], 12)])
@pytest.mark.parametrize(("off", "breaks"), [(0.0, 0), (0.5, 1)])
def test_spacing(sizes: list[int], most: float, off: float, breaks: int) -> None:
    # a gap over a change of size has the smaller size's limit
    line = Line([2500.0, 7000.0], sizes)
    first = 6000.0 + 600 - most * FT - off
    found = broken(line, [1000.0, first, 6600.0])
    assert limits(found) == [round(most * FT, 1)] * breaks
    for each in found:
        assert each.measured == pytest.approx(most * FT + off)
        assert (each.grade, each.place) == ("C", (6600.0, 0.0, 3000.0))
        assert "NFPA 13" in each.source


@pytest.mark.parametrize(("off", "breaks"), [(0.0, 0), (0.5, 1)])
def test_the_first_hanger(off: float, breaks: int) -> None:
    line = Line([9000.0], [40])
    assert len(broken(line, [15 * FT + off, 8500.0])) == breaks


@pytest.mark.parametrize(("dn", "inches"), [(25, 36), (32, 48), (40, 60)])
@pytest.mark.parametrize(("off", "breaks"), [(0.0, 0), (0.5, 1)])
def test_last_hanger_to_end_head(dn: int, inches: float, off: float, breaks: int) -> None:
    line = Line([2000.0, 5000.0], [dn, dn], arms={2: 500.0})
    found = broken(line, [1700.0, 5000.0 + 500 - inches * IN - off])
    assert limits(found) == [round(inches * IN, 1)] * breaks
    assert [f.grade for f in found] == ["A"] * breaks


@pytest.mark.parametrize(("off", "breaks"), [(0.0, 0), (0.5, 1)])
def test_over_100_psi(off: float, breaks: int) -> None:
    xs = [1800.0, 5000.0 - 12 * IN - off]
    assert limits(broken(Line([2000.0, 5000.0], [25, 25], system={"pressure": 7.0}), xs)) == [304.8] * breaks
    assert not broken(Line([2000.0, 5000.0], [25, 25], system={"pressure": 6.9}), xs)


@pytest.mark.parametrize(("length", "breaks"), [(6 * FT - 0.5, 0), (6 * FT + 0.5, 1)])
def test_sections_need_one(length: float, breaks: int) -> None:
    # the starter, and the section between two heads
    found = broken(Line([length, length + 3000], [50, 50]), [length + 2700.0])
    assert len(found) == breaks
    line = Line([2000.0, 2000 + length, 3500 + length], [50] * 3)
    found = broken(line, [1900.0, 2100.0 + length])
    assert len(found) == breaks
    assert [f.grade for f in found] == ["C"] * breaks
    # a hanger anywhere on it will do
    assert not broken(line, [1900.0, 2100.0, 2100.0 + length])


@pytest.mark.parametrize(("off", "breaks"), [(0.0, 0), (0.5, 1)])
def test_close_heads(off: float, breaks: int) -> None:
    # 2 in. pipe may have 15 ft, but 12 ft over a section under 6 ft without one
    line = Line([2000.0, 3700.0, 5400.0, 7100.0], [50] * 4)
    first = 5580.0 - 12 * FT - off
    assert limits(broken(line, [first, 5580.0])) == [round(12 * FT, 1)] * breaks


@pytest.mark.parametrize(("arm", "breaks"), [(24 * IN, 0), (24 * IN + 0.5, 1)])
def test_arms_without_a_hanger(arm: float, breaks: int) -> None:
    found = broken(Line([2000.0, 5000.0], [25, 25], arms={1: arm}), [1800.0, 4700.0])
    assert limits(found) == [round(24 * IN, 1)] * breaks
    assert [f.element for f in found] == ["T1"] * breaks


@pytest.mark.parametrize(("off", "breaks"), [(0.0, 0), (0.5, 1)])
def test_arms_beyond_their_hanger(off: float, breaks: int) -> None:
    line = Line([2000.0, 5000.0], [25, 25], arms={1: 1500.0})
    at = (2000.0, 1500.0 - 24 * IN - off, 3000.0)
    on_arm = Hanger(id="HA", kind="arm", run="R", piece="A1", at=at, why="")
    assert limits(broken(line, [1800.0, 4700.0], [on_arm])) == [round(24 * IN, 1)] * breaks


@pytest.mark.parametrize(("off", "breaks"), [(0.5, 0), (-0.5, 1)])
def test_from_the_last_hanger_to_one_on_the_end_arm(off: float, breaks: int) -> None:
    # 12 ft of 1 in. pipe from the run's last hanger round the elbow to the arm's
    line = Line([2000.0, 5500.0], [25, 25], arms={2: 1500.0})
    on_arm = Hanger(id="HA", kind="arm", run="R", piece="A2", at=(5500.0, 1000.0, 3000.0), why="")
    assert len(broken(line, [1800.0, 6500.0 - 12 * FT + off], [on_arm])) == breaks


@pytest.mark.parametrize(("away", "breaks"), [(3 * IN, 0), (3 * IN - 0.5, 1)])
def test_distance_to_an_upright(away: float, breaks: int) -> None:
    line = Line([2000.0, 5000.0], [25, 25], kind="upright")
    found = broken(line, [2000.0 - away, 4700.0])
    assert limits(found) == [round(3 * IN, 1)] * breaks
    assert [(f.against, f.grade) for f in found] == [("H1", "A")] * breaks


@pytest.mark.parametrize(("bare", "breaks"), [(25.0, 0), (24.5, 1)])
def test_clear_of_a_fitting(bare: float, breaks: int) -> None:
    # centre to end of a 1 in. tee: 1.5 in. (ASME B16.3, from memory, checked in part)
    found = broken(Line([2000.0, 5000.0], [25, 25]), [2000.0 - 1.5 * IN - bare, 4700.0])
    assert limits(found) == [25.0] * breaks
    assert [f.source for f in found] == ["common practice, no source"] * breaks


@pytest.mark.parametrize(("sprig", "breaks"), [(4 * FT - 0.5, 0), (4 * FT + 0.5, 2)])
def test_long_sprigs(sprig: float, breaks: int) -> None:
    line = Line([2000.0, 5000.0], [25, 25], kind="upright", sprig=sprig)
    assert [f.element for f in broken(line, [1800.0, 4700.0])] == ["V1", "V2"][:breaks]
    held = [
        Hanger(id=f"S{k}", kind="sprig_restraint", run="R", piece=f"V{k}", at=(x, 0.0, 4000.0), why="")
        for k, x in ((1, 2000.0), (2, 5000.0))
    ]
    assert not broken(line, [1800.0, 4700.0], held)


def test_off_its_piece() -> None:
    line = Line([2000.0, 5000.0], [25, 25])
    good = run_hanger(1, 1800.0, "P1"), run_hanger(2, 4700.0, "P2")
    assert not findings(line, list(good))
    for off, breaks in ((0.05, 0), (0.5, 1)):
        moved = good[0].model_copy(update={"at": (1800.0, off, 3000.0)})
        assert len(findings(line, [moved, good[1]])) == breaks
    assert "no piece P9" in findings(line, [good[0].model_copy(update={"piece": "P9"}), good[1]])[0].text
    on_drop = Hanger(id="HV", kind="arm", run="R", piece="V1", at=(2000.0, 0.0, 2900.0), why="")
    assert "vertical" in findings(line, [*good, on_drop])[0].text
    wrong = good[0].model_copy(update={"kind": "arm"})
    assert [f.element for f in findings(line, [wrong, good[1]])] == ["HG0001"]


TOP = 3000.0 + 33.4 / 2
"""Of 1 in. pipe: outside diameter 1.315 in. (ASME B36.10M, A)."""


@pytest.mark.parametrize(
    ("member", "structure", "rod", "text"),
    [
        (beam("B", 1700, 1900), "B", 200.0, None),
        (beam("B", 1700, 1900), "C", 200.0, "none of that id"),
        (beam("B", 1700, 1900, "duct"), "B", 200.0, "it is a duct"),
        (beam("B", 1700, 1900), "B", 201.0, "rod"),
        (beam("B", 1700, 1900), "B", None, "rod"),
        (beam("B", 1800, 1900), "B", 200.0, None),
        (beam("B", 1800.5, 1900), "B", 200.0, "beside"),
        (beam("B", 1700, 1900, under=TOP), "B", TOP - 3000, None),
        (beam("B", 1700, 1900, under=6000), "B", 3000.0, None),
        (beam("B", 1700, 1900, under=6000.2), "B", 3000.2, "another storey"),
        (beam("B", 1700, 1900, under=TOP - 0.5), "B", TOP - 3000.5, "below the pipe's top"),
    ],
)
def test_structure(member: dict[str, Any], structure: str, rod: float | None, text: str | None) -> None:
    line = Line([2000.0, 5000.0], [25, 25], obstructions=[member])
    hung = run_hanger(1, 1800.0, "P1", structure=structure, rod=rod), run_hanger(2, 4700.0, "P2")
    found = findings(line, list(hung))
    assert len(found) == (text is not None)
    assert all(text in f.text for f in found if text)


def test_something_in_the_rods_way() -> None:
    obstructions = [beam("S", 0, 6000, "slab", 3500), beam("D", 1700, 1900, "duct", 3200)]
    line = Line([2000.0, 5000.0], [25, 25], obstructions=obstructions)
    last = run_hanger(2, 4700.0, "P2", structure="S", rod=500.0)
    for x, against in ((1800.0, ["D"]), (1650.0, [])):
        first = run_hanger(1, x, "P1", structure="S", rod=500.0)
        assert [f.against for f in findings(line, [first, last])] == against


def test_what_is_placed_is_clean_and_what_is_left_out_is_missed() -> None:
    stations = [6.5 * FT, 18 * FT, 30 * FT, 42 * FT, 54 * FT, 66 * FT]
    line = Line(stations, [50, 40, 40, 32, 25, 25], arms={2: 900.0, 6: 800.0})
    hung = line.hung()
    assert len(on_run(hung)) == 6
    assert not findings(line, hung.hangers)
    for k in range(len(hung.hangers)):
        assert findings(line, hung.hangers[:k] + hung.hangers[k + 1 :])


@pytest.mark.parametrize(
    ("under", "in_the_way"),
    [(TOP - 0.2, False), (TOP, True), (3400.0, True), (3499.8, True), (3499.95, False), (3500.0, False)],
)
def test_what_is_in_the_rods_way_is_between_pipe_and_structure(under: float, in_the_way: bool) -> None:
    obstructions = [beam("S", 0, 6000, "slab", 3500), beam("D", 1700, 1900, "duct", under)]
    line = Line([2000.0, 5000.0], [25, 25], obstructions=obstructions)
    hung = [run_hanger(k, x, f"P{k}", structure="S", rod=500.0) for k, x in ((1, 1800.0), (2, 4700.0))]
    assert [f.against for f in findings(line, hung)] == ["D"] * in_the_way


@pytest.mark.parametrize(("off", "breaks"), [(-0.5, 0), (0.5, 1)])
def test_the_first_hanger_of_an_arm(off: float, breaks: int) -> None:
    # hangers on 1 in. pipe are 12 ft apart, an arm's first from the run too
    line = Line([2000.0, 5000.0], [25, 25], arms={1: 4000.0})
    spots = [(2000.0, y, 3000.0) for y in (12 * FT + off, 3900.0)]
    on_arm = [
        Hanger(id=f"HA{k}", kind="arm", run="R", piece="A1", at=at, why="") for k, at in enumerate(spots)
    ]
    assert limits(broken(line, [1800.0, 4700.0], on_arm)) == [round(12 * FT, 1)] * breaks
