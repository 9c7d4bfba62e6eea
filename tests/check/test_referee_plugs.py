"""Plugged openings of fittings just inside and just outside their limits, on routes made by hand.

No pipe's axis is in a plugged opening: it is measured from the fitting's centre to the
end of the opening, with the opening's size, round at its end (the plug's head).
Lengths typed here: ASME B16.3 centre to end (from memory, checked in part), ASME
B36.10M outside diameters.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import pytest
from build import IN, Draft, _run_pipe, dry_line, line

from router.check import check_route

if TYPE_CHECKING:
    from router.check import Finding

TEE_32X25_RUN, TEE_25 = 1.58 * IN, 1.50 * IN
RADIUS = {25: 1.315 / 2 * IN, 32: 1.660 / 2 * IN}
Z = 3000.0


def plugs(**scenario: Any) -> Draft:
    """Dry heads on a level run: H1 on a side arm, H2 beside a nipple, H3 straight at the run's end."""
    draft = Draft(
        {
            "system": {"kind": "dry", "heated": False, "pitch_branch": 0},
            "runs": [{"id": "R", "plan": [(0, 0), (4000, 0)], "elevation": Z, "size": 32}],
            "heads": [
                {"id": "H1", "at": (1000, 400, 2300), "dry": True, "thread": 25},
                {"id": "H2", "at": (2500, 400, 3300), "dry": True, "thread": 25, "kind": "sidewall",
                 "facing": 90},
                {"id": "H3", "at": (4000, 0, 2300), "dry": True, "thread": 25},
            ],
            **scenario,
        }
    )  # fmt: skip
    draft.fit("T1/tee", "tee", (1000.0, 0.0, Z), ["-x", "+x", "+y"], [32, 32, 25], "T1", "R")
    draft.fit("T1/end", "tee", (1000.0, 400.0, Z), ["-y", "+y", "-z"], [25, 25, 25], "T1", "R")
    draft.fit("T1/plug", "plug", (1000.0, 400.0, Z), ["+y"], [25], "T1", "R")
    draft.pipe("T1/arm", "arm", ("T1/tee", "T1/end"), 25, "T1", "R")
    draft.pipe("T1/barrel", "barrel", ("T1/end", (1000.0, 400.0, 2300.0)), 25, "T1", "R")
    draft.take("T1", "side_arm", 1000.0, "left", Z, heads=["H1"], arm_level=Z)

    draft.fit("T2/tee", "tee", (2500.0, 0.0, Z), ["-x", "+x", "+z"], [32, 32, 25], "T2", "R")
    draft.fit("T2/top", "tee", (2500.0, 0.0, 3300.0), ["-z", "+z", "+y"], [25, 25, 25], "T2", "R")
    draft.fit("T2/plug", "plug", (2500.0, 0.0, 3300.0), ["+z"], [25], "T2", "R")
    draft.pipe("T2/nipple", "nipple", ("T2/tee", "T2/top"), 25, "T2", "R")
    draft.pipe("T2/barrel", "barrel", ("T2/top", (2500.0, 400.0, 3300.0)), 25, "T2", "R")
    draft.take("T2", "sidewall", 2500.0, "top", Z, heads=["H2"], arm_level=3300.0)

    draft.fit("T3/tee", "tee", (4000.0, 0.0, Z), ["-x", "+x", "-z"], [32, 32, 25], "T3", "R")
    draft.fit("T3/plug", "plug", (4000.0, 0.0, Z), ["+x"], [32], "T3", "R")
    draft.pipe("T3/barrel", "barrel", ("T3/tee", (4000.0, 0.0, 2300.0)), 25, "T3", "R")
    draft.take("T3", "straight_drop", 4000.0, "bottom", Z, heads=["H3"], ends_run=True)
    _run_pipe(draft, "R", [(0.0, 0.0, Z), "T1/tee", "T2/tee", "T3/tee"])
    draft.build("R", [(0.0, Z), (4000.0, Z)])
    return draft


def box(name: str, centre: tuple[float, float, float], half: float = 50.0) -> dict[str, Any]:
    x, y, z = centre
    square = [(x - half, y - half), (x + half, y - half), (x + half, y + half), (x - half, y + half)]
    return {"id": name, "polygon": square, "elevations": (z - half, z + half)}


def before(kind: str, gap: float) -> dict[str, Any]:
    """A cube in line with a plug, so far from its round end."""
    far = gap + 50.0
    if kind == "arm":
        return box("B", (1000.0, 400.0 + TEE_25 + RADIUS[25] + far, Z))
    if kind == "nipple":
        return box("B", (2500.0, 0.0, 3300.0 + TEE_25 + RADIUS[25] + far))
    return box("B", (4000.0 + TEE_32X25_RUN + RADIUS[32] + far, 0.0, Z))


def beside(kind: str, gap: float) -> dict[str, Any]:
    """A cube beside the last 20 mm of a plug, so far from its surface."""
    far = gap + 50.0
    if kind == "arm":
        return box("B", (1000.0 + RADIUS[25] + far, 400.0 + TEE_25 - 20.0 + 50.0, Z))
    if kind == "nipple":
        return box("B", (2500.0 + RADIUS[25] + far, 0.0, 3300.0 + TEE_25 - 20.0 + 50.0))
    return box("B", (4000.0 + TEE_32X25_RUN - 20.0 + 50.0, 0.0, Z + RADIUS[32] + far))


PLUG = {"arm": ("T1/plug", "T1/end"), "nipple": ("T2/plug", "T2/top"), "end": ("T3/plug", "T3/tee")}


def breaks(draft: Draft) -> list[Finding]:
    return check_route(draft.scenario(), draft.route()).breaks


def test_the_route_is_clean() -> None:
    assert breaks(plugs()) == []


@pytest.mark.parametrize("place", [before, beside])
@pytest.mark.parametrize("kind", ["arm", "nipple", "end"])
def test_clearance_of_a_plug(kind: str, place: Any) -> None:
    assert breaks(plugs(obstructions=[place(kind, 25.0)])) == []
    (finding,) = breaks(plugs(obstructions=[place(kind, 24.8)]))
    plug, tee = PLUG[kind]
    assert (finding.rule, finding.element, finding.against) == ("clearance", plug, "B")
    assert finding.measured == pytest.approx(24.8, abs=1e-6)
    assert finding.limit == 25.0
    assert f"the plugged opening of {tee}" in finding.text


@pytest.mark.parametrize("kind", ["arm", "nipple", "end"])
def test_keep_out_of_a_plug(kind: str) -> None:
    def zone(gap: float) -> dict[str, Any]:
        return {**before(kind, gap), "of": "all"}

    assert breaks(plugs(keep_out=[zone(0.0)])) == []
    (finding,) = breaks(plugs(keep_out=[zone(-0.2)]))
    assert (finding.rule, finding.element) == ("keep_out", PLUG[kind][0])
    assert finding.measured == pytest.approx(0.2, abs=1e-6)
    assert "the plugged opening" in finding.text


@pytest.mark.parametrize(("gap", "clean"), [(25.0, True), (24.8, False)])
def test_a_cap_and_a_plug_that_looks_inwards_close_an_opening_too(gap: float, clean: bool) -> None:
    """On a pitched line; the hand-made plug of ``dry_line`` is written with its own opening's direction."""
    draft = dry_line()
    tee = draft.fittings["T2/tee"]
    assert draft.fittings["T2/plug"]["directions"] == [(-1.0, 0.0, 0.0)]
    x, _, z = tee["at"]
    draft.given["obstructions"] = [box("B", (x + TEE_32X25_RUN + RADIUS[32] + gap + 50.0, 0.0, z))]
    draft.fittings["T2/plug"]["kind"] = "cap"
    found = [finding for finding in breaks(draft) if finding.rule == "clearance"]
    assert [finding.element for finding in found] == ([] if clean else ["T2/plug"])


@pytest.mark.parametrize(("gap", "clean"), [(25.0, True), (24.8, False)])
def test_a_capped_outlet_on_an_uncut_run(gap: float, clean: bool) -> None:
    """A welded outlet, half the outside diameter and 1.31 in. (assumed) long, closed with a cap."""
    reach = RADIUS[32] + 1.31 * IN
    draft = line()
    draft.given["runs"][0]["joining"] = "welded"
    draft.fit("T1/o", "outlet", (500.0, 0.0, Z), ["+z"], [25], "T1", "R")
    draft.fit("T1/cap", "cap", (500.0, 0.0, Z), ["+z"], [25], "T1", "R")
    draft.given["obstructions"] = [box("B", (500.0, 0.0, Z + reach + RADIUS[25] + gap + 50.0))]
    found = [finding for finding in breaks(draft) if finding.rule == "clearance"]
    assert [finding.element for finding in found] == ([] if clean else ["T1/cap"])


def test_a_plug_that_closes_nothing_is_not_measured() -> None:
    draft = plugs(obstructions=[before("arm", 5.0)])
    draft.fittings["T1/plug"]["at"] = (1000.0, 300.0, Z)
    assert "clearance" not in {finding.rule for finding in breaks(draft)}


@pytest.mark.parametrize(("past", "clean"), [(0.0, True), (0.2, False)])
@pytest.mark.parametrize("kind", ["arm", "end"])
def test_piece_clearance_of_a_plug(kind: str, past: float, clean: bool) -> None:
    """A main of another tree beside the plug's end: 30 mm from its surface."""
    need, radius = 30.0, 2.375 / 2 * IN  # DN50
    if kind == "arm":
        y = 400.0 + TEE_25 + RADIUS[25] + need + radius
        plan = [(0.0, y), (4000.0, y)]
    else:
        x = 4000.0 + TEE_32X25_RUN + RADIUS[32] + need + radius
        plan = [(x, -2000.0), (x, 2000.0)]
    draft = plugs(rules={"piece_clearance": need + past})
    draft.given["runs"].append({"id": "M", "plan": plan, "elevation": Z, "size": 50, "kind": "main"})
    start, end = ((*at, Z) for at in plan)
    draft.pipe("M/0", "run", (start, end), 50, "M", "M")
    draft.build("M", [(0.0, Z), (4000.0, Z)])
    found = [finding for finding in breaks(draft) if finding.rule == "piece_clearance"]
    if clean:
        assert found == []
    else:
        (finding,) = found
        assert {finding.element, finding.against} == {PLUG[kind][0], "M/0"}
        assert finding.measured == pytest.approx(need, abs=1e-6)


def test_a_plug_is_free_of_its_own_run() -> None:
    """At the run's end it shares its tee with the run's pipe; 70 mm is more than any neighbours keep."""
    assert breaks(plugs(rules={"piece_clearance": 70})) == []
