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
from router.route.model import Piece

if TYPE_CHECKING:
    from router.check.findings import Finding
    from router.route.model import Fitting, Route
    from router.scenario.model import Scenario

NAMES = (
    *cases.OURS, "reading room, welded", "minimal, hoses", "minimal, under the line only",
    "clinic corridor, crosses", "shapes 1", "shapes 2", "shapes 3", "inches", "odd names", "plugs",
)  # fmt: skip
SLACK_MM = TOLERANCE_MM + 0.01
"""Where meshes meet the gap is 0 or less, and the referee allows the first tenth of a millimetre."""
FEW = ("car_park", "clinic_corridor", "loading_dock", "reading room, welded")


@dataclass
class Compared:
    """What referee and witness say of one scenario and one route."""

    clashes: set[tuple[str, str]] = field(default_factory=set)
    """Pairs (piece or plug, obstruction) that the referee finds too near."""
    witnessed: set[tuple[str, str]] = field(default_factory=set)
    """Pairs (body, obstruction) that the witness finds too near."""
    measured: int = 0
    """Obstructions whose least gap both measured."""
    wrong: list[str] = field(default_factory=list)


def compare(scenario: Scenario, route: Route, witness: Witness) -> Compared:
    """Set the referee's findings beside the witness's gaps.

    Bodies together fill what the referee measures (axes with round ends) but for the round ends
    of pipe at supplies, dry heads and plugs. So what the witness finds the referee must find, and what the
    referee finds the witness must find at the piece or plug or at a fitting on it, unless the gap
    is within :data:`MESH_MM` of the limit.
    """
    needs = {
        item.id: scenario.rules.clearance if item.clearance is None else item.clearance
        for item in scenario.obstructions
    }
    findings = {(each.element, each.against or ""): each
                for each in check_route(scenario, route).by_rule("clearance")}  # fmt: skip
    result = Compared(clashes={pair for pair, each in findings.items() if each.severity == "breaks"})
    at_part: dict[tuple[str, str], float] = {}
    least: dict[str, float] = {}
    for (body, against), gap in witness.gaps(
        scenario_ifc(scenario), max(needs.values(), default=0) + 4
    ).items():
        limit = needs[against] - TOLERANCE_MM
        least[against] = min(gap, least.get(against, gap))
        for part in body.parts:
            at_part[part, against] = min(gap, at_part.get((part, against), gap))
        if gap < limit:
            result.witnessed.add((body.name, against))
            near = [findings.get((part, against)) for part in body.parts]
            if not any(each and (each.measured or 0.0) < limit + SLACK_MM for each in near):
                result.wrong.append(
                    f"only the witness: {body.name} to {against}, {gap:.3f} of {limit:.1f} mm"
                )
    parts = parts_of(route)
    for pair in result.clashes:
        finding, limit = findings[pair], needs[pair[1]] - TOLERANCE_MM
        gap = at_part.get(pair, inf)
        if _measured(finding) < 0.0 and gap < MESH_MM:
            continue  # meshes that meet: the library misses a ball's cap in the middle of a face
        if gap >= limit and _measured(finding) < limit - MESH_MM and not _round(finding, parts[pair[0]]):
            result.wrong.append(f"only the referee: {finding.text}; the witness: {gap:.3f} mm")
    for against, gap in least.items():
        own = [each for each in findings.values() if each.against == against]
        first = min(own, key=_measured, default=None)
        if first is None or _measured(first) < 0.0 or _round(first, parts[first.element]):
            continue
        result.measured += 1
        if not -0.01 <= gap - _measured(first) <= MESH_MM:
            result.wrong.append(f"another gap: {first.text}; the witness: {gap:.3f} mm")
    return result


def _measured(finding: Finding) -> float:
    assert finding.measured is not None
    return finding.measured


def parts_of(route: Route) -> dict[str, Piece | Fitting]:
    """What the referee measures, by id: pieces, and plugs in their openings."""
    parts: list[Piece | Fitting] = [*route.pieces]
    parts += [each for each in route.fittings if each.kind in ("plug", "cap")]
    return {part.id: part for part in parts}


def _round(finding: Finding, part: Piece | Fitting) -> bool:
    """Whether a finding is at an end where no fitting stands, or at a plug's: the referee takes it as round.

    A plug stands at its fitting's centre: only the end of its opening is so far from there.
    """
    if finding.place is None:
        return False
    if not isinstance(part, Piece):
        return dist(finding.place, part.at) > mutations.PLUG_MM[part.sizes[0]] - 0.01
    return any(
        name is None and dist(finding.place, end) < 0.01
        for name, end in zip(part.fittings, (part.start, part.end), strict=True)
    )


@pytest.mark.parametrize("name", NAMES)
def test_referee_and_witness_find_the_same_clashes(name: str) -> None:
    """None as it stands; the same ones among eighty obstructions that were turned and moved to its pipe."""
    scenario, route = cases.given(name), cases.routed(name)
    witness = Witness(cases.route_text(name))
    clean = compare(scenario, route, witness)
    assert clean.clashes == clean.witnessed == set()
    assert clean.wrong == []
    if not scenario.obstructions or not route.pieces:
        return
    moved = mutations.moved_obstructions(scenario, route, seed=1, count=80)
    result = compare(moved, route, witness)
    assert result.wrong == []
    clashing = {against for _, against in result.clashes}
    assert 15 <= len(clashing) <= 55
    assert result.measured >= 8


@pytest.mark.parametrize("name", ["loading_dock", "plugs"])
def test_the_same_clashes_beside_plugs(name: str) -> None:
    """Obstructions at plugged openings: no pipe's axis is in them, the referee measures them by take-outs."""
    scenario, route = cases.given(name), cases.routed(name)
    plugs = {each.id for each in route.fittings if each.kind == "plug"}
    moved = mutations.moved_obstructions(scenario, route, seed=2, count=80, to_plugs=True)
    result = compare(moved, route, Witness(cases.route_text(name)))
    assert result.wrong == []
    own = {pair for pair in result.clashes if pair[0] in plugs}
    alone = {against for _, against in own} - {
        against for name, against in result.clashes if name not in plugs
    }
    assert len(own) >= 30
    assert len({name for name, _ in own & result.witnessed}) >= 4  # of many plugs
    assert len(alone) >= 3  # what only a plug is too near to


def test_referee_and_witness_agree_on_a_real_floor() -> None:
    folder = cases.SCENARIOS.parents[1] / "shared" / "open-data" / "hospital_s1_L1B001"
    if not folder.exists():
        pytest.skip("the open data is not here")
    scenario = read_csv_folder(folder).scenario
    route, _ = route_scenario(scenario)
    witness = Witness(route_ifc(scenario, route))
    clean = compare(scenario, route, witness)
    assert clean.clashes == clean.witnessed == set()
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


@pytest.mark.parametrize("name", ["car_park", "clinic_corridor", "reading room, welded", "loading_dock"])
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
        pairs = [(a, b) for a in one.parts for b in other.parts]
        for a, b in pairs:
            key = frozenset([a, b])
            witnessed[key] = min(gap, witnessed.get(key, gap))
        seen = any(
            (each := findings.get(frozenset(pair))) and _measured(each) < limit + SLACK_MM for pair in pairs
        )
        if gap < limit and pairs and not seen and not any(free.pair(a, b) for a, b in pairs):
            wrong.append(f"only the witness: {one.name} to {other.name}, {gap:.3f} of {limit:.1f} mm")
    parts = parts_of(route)
    breaks = [each for each in findings.values() if each.severity == "breaks"]
    for each in breaks:
        gap = witnessed.get(frozenset([each.element, each.against or ""]), inf)
        ends = [parts[name or ""] for name in (each.element, each.against)]
        if gap >= limit and _measured(each) < limit - 2 * MESH_MM and not any(map(_loose, ends)):
            wrong.append(f"only the referee: {each.text}; the witness: {gap:.3f} mm")
    assert wrong == []
    assert len(breaks) >= 2


def _loose(part: Piece | Fitting) -> bool:
    return not isinstance(part, Piece) or None in part.fittings


class Exempt:
    """Pairs of pieces and plugs that the rule leaves free, by the route's records.

    Those of one owner, those that share a fitting (or one sits on the other's
    pipe), pipe of one run, and a takeoff's pipe at its outlet against its own run.
    """

    def __init__(self, route: Route, witness: Witness) -> None:
        self.parts = parts_of(route)
        fittings = {each.id: each for each in route.fittings}
        self.at: dict[str, set[str]] = {name: set() for name in self.parts}
        for body in witness.bodies.values():
            if body.name in fittings:
                for name in body.parts:
                    self.at[name].add(body.name)
        on_run: dict[str, set[str]] = {}
        for piece in route.pieces:
            if piece.kind == "run":
                for name in self.at[piece.id]:
                    on_run.setdefault(name, set()).add(piece.run)
        leaves = {takeoff.id: takeoff.run for takeoff in route.takeoffs}
        self.first = {
            part.id: leaves[part.owner]
            for part in self.parts.values()
            if part.owner in leaves
            and any(leaves[part.owner] in on_run.get(name, set()) for name in self.at[part.id])
        }

    def pair(self, one: str, other: str) -> bool:
        """Whether two of them may be near."""
        a, b = self.parts[one], self.parts[other]
        if one == other or a.owner == b.owner or self.at[one] & self.at[other]:
            return True
        if a.kind == b.kind == "run":
            return a.run == b.run
        return (b.kind == "run" and self.first.get(one) == b.run) or (
            a.kind == "run" and self.first.get(other) == a.run
        )
