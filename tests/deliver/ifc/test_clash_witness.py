"""The main job before an outside witness: what is too near to an obstruction.

Source: IfcOpenShell's clash detection (LGPL library, ``ifcopenshell.geom.tree``) on the exported
files: it knows nothing of the referee's distances, and meshes instead of axes. The
referee's rule ``clearance`` and the witness must find the same pairs.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from math import dist, inf
from typing import TYPE_CHECKING

import ifc_cases as cases
import ifc_mutations as mutations
import pytest
from ifc_witness import MESH_MM, Witness

from router.building.route import route_scenario
from router.check import check_route
from router.check.findings import TOLERANCE_MM
from router.deliver.ifc import route_ifc, scenario_ifc
from router.readers import read_csv_folder

if TYPE_CHECKING:
    from router.check.findings import Finding
    from router.route.model import Piece, Route
    from router.scenario.model import Scenario

NAMES = (
    *cases.OURS, "reading room, welded", "minimal, hoses", "minimal, under the line only",
    "clinic corridor, crosses", "shapes 1", "shapes 2", "shapes 3", "inches", "odd names",
)  # fmt: skip
SLACK_MM = TOLERANCE_MM + 0.01
"""Where meshes meet the gap is 0 or less, and the referee allows the first tenth of a millimetre."""
FEW = ("car_park", "clinic_corridor", "loading_dock", "reading room, welded")


@dataclass
class Compared:
    """What referee and witness say of one scenario and one route."""

    clashes: set[tuple[str, str]] = field(default_factory=set)
    """Pairs (piece, obstruction) that the referee finds too near."""
    witnessed: set[tuple[str, str]] = field(default_factory=set)
    """Pairs (body, obstruction) that the witness finds too near."""
    plugs: set[tuple[str, str]] = field(default_factory=set)
    """Plugs that the witness finds too near: a plugged opening has no axis that the referee measures."""
    measured: int = 0
    """Obstructions whose least gap both measured."""
    wrong: list[str] = field(default_factory=list)


def compare(scenario: Scenario, route: Route, witness: Witness) -> Compared:
    """Set the referee's findings beside the witness's gaps.

    Bodies together fill what the referee measures (axes with round ends) but for the round ends
    of pipe at supplies and dry heads. So what the witness finds the referee must find, and what the
    referee finds the witness must find at the piece or at a fitting on it, unless the gap
    is within :data:`MESH_MM` of the limit.
    """
    needs = {
        item.id: scenario.rules.clearance if item.clearance is None else item.clearance
        for item in scenario.obstructions
    }
    findings = {(each.element, each.against or ""): each
                for each in check_route(scenario, route).by_rule("clearance")}  # fmt: skip
    result = Compared(clashes={pair for pair, each in findings.items() if each.severity == "breaks"})
    at_piece: dict[tuple[str, str], float] = {}
    least: dict[str, float] = {}
    for (body, against), gap in witness.gaps(
        scenario_ifc(scenario), max(needs.values(), default=0) + 4
    ).items():
        limit = needs[against] - TOLERANCE_MM
        if body.plug:
            result.plugs |= {(body.name, against)} if gap < limit else set()
            continue
        least[against] = min(gap, least.get(against, gap))
        for piece in body.pieces:
            at_piece[piece, against] = min(gap, at_piece.get((piece, against), gap))
        if gap < limit:
            result.witnessed.add((body.name, against))
            near = [findings.get((piece, against)) for piece in body.pieces]
            if not any(each and (each.measured or 0.0) < limit + SLACK_MM for each in near):
                result.wrong.append(
                    f"only the witness: {body.name} to {against}, {gap:.3f} of {limit:.1f} mm"
                )
    pieces = {piece.id: piece for piece in route.pieces}
    for pair in result.clashes:
        finding, limit = findings[pair], needs[pair[1]] - TOLERANCE_MM
        gap = at_piece.get(pair, inf)
        if gap >= limit and _measured(finding) < limit - MESH_MM and not _round(finding, pieces[pair[0]]):
            result.wrong.append(f"only the referee: {finding.text}; the witness: {gap:.3f} mm")
    for against, gap in least.items():
        own = [each for each in findings.values() if each.against == against]
        first = min(own, key=_measured, default=None)
        if first is None or _measured(first) < 0.0 or _round(first, pieces[first.element]):
            continue
        result.measured += 1
        if not -0.01 <= gap - _measured(first) <= MESH_MM:
            result.wrong.append(f"another gap: {first.text}; the witness: {gap:.3f} mm")
    return result


def _measured(finding: Finding) -> float:
    assert finding.measured is not None
    return finding.measured


def _round(finding: Finding, piece: Piece) -> bool:
    """Whether a finding is at an end of a piece where no fitting stands: the referee takes it as round."""
    return finding.place is not None and any(
        name is None and dist(finding.place, end) < 0.01
        for name, end in zip(piece.fittings, (piece.start, piece.end), strict=True)
    )


@pytest.mark.parametrize("name", NAMES)
def test_referee_and_witness_find_the_same_clashes(name: str) -> None:
    """None as it stands; the same ones among sixty obstructions that were turned and moved to its pipe."""
    scenario, route = cases.given(name), cases.routed(name)
    witness = Witness(cases.route_text(name))
    clean = compare(scenario, route, witness)
    assert clean.clashes == clean.witnessed == clean.plugs == set()
    assert clean.wrong == []
    if not scenario.obstructions or not route.pieces:
        return
    moved = mutations.moved_obstructions(scenario, route, seed=1, count=60)
    result = compare(moved, route, witness)
    assert result.wrong == []
    clashing = {against for _, against in result.clashes}
    assert 15 <= len(clashing) <= 55
    assert result.measured >= 8


def test_referee_and_witness_agree_on_a_real_floor() -> None:
    folder = cases.SCENARIOS.parents[1] / "shared" / "open-data" / "hospital_s1_L1B001"
    if not folder.exists():
        pytest.skip("the open data is not here")
    scenario = read_csv_folder(folder).scenario
    route, _ = route_scenario(scenario)
    witness = Witness(route_ifc(scenario, route))
    clean = compare(scenario, route, witness)
    assert clean.clashes == clean.witnessed == clean.plugs == set()
    result = compare(mutations.moved_obstructions(scenario, route, seed=1, count=100), route, witness)
    assert result.wrong == clean.wrong == []
    assert len({against for _, against in result.clashes}) >= 30


@pytest.mark.parametrize("name", FEW)
def test_the_same_clashes_with_bent_takeoffs(name: str) -> None:
    scenario = cases.given(name)
    route = mutations.moved_takeoffs(scenario, cases.routed(name), seed=3)
    result = compare(scenario, route, Witness(route_ifc(scenario, route)))
    assert result.wrong == []
    assert len(result.clashes) >= 2


@pytest.mark.parametrize("name", FEW)
def test_the_same_clashes_with_a_moved_route(name: str) -> None:
    scenario = cases.given(name)
    route = mutations.moved_route(cases.routed(name), seed=6, far=400.0)
    result = compare(scenario, route, Witness(route_ifc(scenario, route)))
    assert result.wrong == []
    assert len(result.clashes) >= 2


def test_the_comparison_sees_a_millimetre() -> None:
    """A witness that is shown the route a millimetre off does not agree."""
    scenario, route = cases.given("clinic_corridor"), cases.routed("clinic_corridor")
    off = mutations.moved_route(route, seed=5, far=1.0)
    moved = mutations.moved_obstructions(scenario, route, seed=1, count=60)
    assert len(compare(moved, route, Witness(route_ifc(scenario, off))).wrong) >= 5


@pytest.mark.parametrize("name", ["car_park", "clinic_corridor", "reading room, welded"])
def test_pipes_too_near_to_each_other_are_the_same(name: str) -> None:
    """The rule ``piece_clearance``, on takeoffs bent towards other pipe."""
    scenario, need = cases.given(name), 40.0
    rules = scenario.rules.model_copy(update={"piece_clearance": need})
    scenario = scenario.model_copy(update={"rules": rules})
    route = mutations.moved_takeoffs(scenario, cases.routed(name), seed=9, to_pipe=True)
    witness = Witness(route_ifc(scenario, route))
    limit = need - TOLERANCE_MM
    findings = {frozenset([each.element, each.against or ""]): each
                for each in check_route(scenario, route).by_rule("piece_clearance")}  # fmt: skip
    free = Exempt(route, witness)
    witnessed: dict[frozenset[str], float] = {}
    wrong = []
    for bodies, gap in witness.own_gaps(need + 4).items():
        one, other = sorted(bodies, key=lambda body: body.guid)
        pairs = [(a, b) for a in one.pieces for b in other.pieces]
        for a, b in pairs:
            key = frozenset([a, b])
            witnessed[key] = min(gap, witnessed.get(key, gap))
        seen = any(
            (each := findings.get(frozenset(pair))) and _measured(each) < limit + SLACK_MM for pair in pairs
        )
        if gap < limit and pairs and not seen and not any(free.pair(a, b) for a, b in pairs):
            wrong.append(f"only the witness: {one.name} to {other.name}, {gap:.3f} of {limit:.1f} mm")
    pieces = {piece.id: piece for piece in route.pieces}
    breaks = [each for each in findings.values() if each.severity == "breaks"]
    for each in breaks:
        gap = witnessed.get(frozenset([each.element, each.against or ""]), inf)
        ends = [piece for name in (each.element, each.against) for piece in [pieces[name or ""]]]
        if gap >= limit and _measured(each) < limit - 2 * MESH_MM and not any(map(_loose, ends)):
            wrong.append(f"only the referee: {each.text}; the witness: {gap:.3f} mm")
    assert wrong == []
    assert len(breaks) >= 2


def _loose(piece: Piece) -> bool:
    return None in piece.fittings


class Exempt:
    """Pairs of pieces that the rule leaves free, by the route's records.

    Those of one owner, those that share a fitting (or one sits on the other's
    pipe), pipe of one run, and a takeoff's pipe at its outlet against its own run.
    """

    def __init__(self, route: Route, witness: Witness) -> None:
        self.pieces = {piece.id: piece for piece in route.pieces}
        fittings = {each.id: each for each in route.fittings}
        self.at: dict[str, set[str]] = {piece.id: set() for piece in route.pieces}
        for body in witness.bodies.values():
            if body.name in fittings:
                for name in body.pieces:
                    self.at[name].add(body.name)
        on_run: dict[str, set[str]] = {}
        for piece in route.pieces:
            if piece.kind == "run":
                for name in self.at[piece.id]:
                    on_run.setdefault(name, set()).add(piece.run)
        leaves = {takeoff.id: takeoff.run for takeoff in route.takeoffs}
        self.first = {
            piece.id: leaves[piece.owner]
            for piece in route.pieces
            if piece.owner in leaves
            and any(leaves[piece.owner] in on_run.get(name, set()) for name in self.at[piece.id])
        }

    def pair(self, one: str, other: str) -> bool:
        """Whether two pieces may be near."""
        a, b = self.pieces[one], self.pieces[other]
        if one == other or a.owner == b.owner or self.at[one] & self.at[other]:
            return True
        if a.kind == b.kind == "run":
            return a.run == b.run
        return (b.kind == "run" and self.first.get(one) == b.run) or (
            a.kind == "run" and self.first.get(other) == a.run
        )
