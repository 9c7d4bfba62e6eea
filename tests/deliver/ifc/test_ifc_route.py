"""A route as a model: counts, connections, sizes and places, read with IfcOpenShell and networkx alone."""

from __future__ import annotations

import re
from collections import Counter
from csv import DictReader
from io import StringIO
from math import dist, pi
from typing import TYPE_CHECKING, Any

import ifc_cases as cases
import ifc_read
import ifcopenshell.util.element
import ifcopenshell.util.placement
import ifcopenshell.util.pset
import ifcopenshell.util.shape
import networkx as nx
import numpy as np
import pytest

import router
from router.deliver.ifc import route_ifc, scenario_ifc
from router.deliver.segments_csv import write_segments
from router.route.model import CAUTION

if TYPE_CHECKING:
    from router.route.model import Piece, Route

NAMES = (*cases.OURS, *cases.OTHERWISE, *cases.MADE)
KIND = {
    "BEND": {"elbow_90", "elbow_45", "elbow_odd"},
    "JUNCTION": {"tee", "cross", "outlet"},
    "TRANSITION": {"reducer", "reducing_coupling"},
    "OBSTRUCTION": {"cap", "plug"},
}


@pytest.mark.parametrize("name", NAMES)
def test_counts_are_those_of_the_route(name: str) -> None:
    route = cases.routed(name)
    file = ifc_read.opened(cases.route_text(name))
    counts = route.counts
    fittings = Counter(
        ifc_read.sets(f)["BranchRouter_Fitting"]["Kind"] for f in file.by_type("IfcPipeFitting")
    )
    assert fittings == Counter(counts.fittings)
    kinds = Counter(fitting.PredefinedType for fitting in file.by_type("IfcPipeFitting"))
    for kind, ours in KIND.items():
        assert kinds[kind] == sum(counts.fittings.get(each, 0) for each in ours)
    pieces = [ifc_read.sets(piece)["BranchRouter_Piece"] for piece in file.by_type("IfcPipeSegment")]
    assert len(pieces) == len(route.pieces)
    metres: Counter[str] = Counter()
    for piece in pieces:
        if piece["Kind"] not in ("barrel", "hose"):
            metres[str(piece["Size"])] += piece["CentreLength"] / 1000
    assert {dn: pytest.approx(m, abs=0.01) for dn, m in counts.pipe_m.items()} == dict(metres)
    heads = file.by_type("IfcFireSuppressionTerminal")
    assert len(heads) == counts.heads
    assert sum(ifc_read.sets(head)["BranchRouter_Head"]["Served"] for head in heads) == counts.served
    assert len(file.by_type("IfcDiscreteAccessory")) == len(route.hangers)


@pytest.mark.parametrize("name", NAMES)
def test_every_served_head_is_connected_to_a_supply(name: str) -> None:
    """Walk the ports with networkx; nothing of ours takes part but the file."""
    route = cases.routed(name)
    file = ifc_read.opened(cases.route_text(name))
    graph, supplies = ifc_read.network(file), ifc_read.supplies(file)
    served = {head.id for head in route.heads if head.served}
    assert len(supplies) == (len({piece.run for piece in route.pieces if piece.fittings[0] is None
                                  and piece.kind == "run"}) if served else 0)  # fmt: skip
    assert len(served) == route.counts.served
    connected: set[str] = set()
    for supply in supplies:
        connected |= nx.node_connected_component(graph, supply)
    for head in file.by_type("IfcFireSuppressionTerminal"):
        said = ifc_read.sets(head)["BranchRouter_Head"]["Served"]
        assert (head.GlobalId in connected) == said
    for element in file.by_type("IfcPipeSegment") + file.by_type("IfcPipeFitting"):
        assert element.GlobalId in connected
    assert nx.number_of_selfloops(graph) == 0


@pytest.mark.parametrize("name", NAMES)
def test_ports_that_are_connected_stand_at_one_place_and_look_at_each_other(name: str) -> None:
    file = ifc_read.opened(cases.route_text(name))
    for joined in file.by_type("IfcRelConnectsPorts"):
        a, b = (ifcopenshell.util.placement.get_local_placement(port.ObjectPlacement)
                for port in (joined.RelatingPort, joined.RelatedPort))  # fmt: skip
        assert dist(a[:3, 3], b[:3, 3]) < 0.01
        assert joined.RelatingPort.FlowDirection == "SOURCE"
        assert joined.RelatedPort.FlowDirection == "SINK"
        hose = any(
            ifc_read.sets(port.Nests[0].RelatingObject).get("BranchRouter_Piece", {}).get("Kind") == "hose"
            for port in (joined.RelatingPort, joined.RelatedPort)
        )
        assert hose or float(a[:3, 2] @ b[:3, 2]) < -0.99


@pytest.mark.parametrize("name", ["car_park", "loading_dock", "reading room, welded", "minimal, hoses"])
def test_every_element_is_in_the_system_the_storey_and_a_type(name: str) -> None:
    file = ifc_read.opened(cases.route_text(name))
    (system,) = file.by_type("IfcDistributionSystem")
    assert system.PredefinedType == "FIREPROTECTION"
    elements = file.by_type("IfcDistributionElement")
    members = {each.id() for group in system.IsGroupedBy for each in group.RelatedObjects}
    assert members >= {each.id() for each in elements}
    for element in elements:
        storey: Any = ifcopenshell.util.element.get_container(element)
        assert storey is not None
        assert storey.is_a("IfcBuildingStorey")
        assert ifcopenshell.util.element.get_type(element) is not None
    for owner in (system, file.by_type("IfcProject")[0]):
        assert ifc_read.sets(owner)["BranchRouter_Notice"]["Caution"] == CAUTION


@pytest.mark.parametrize("name", ["loading_dock", "clinic_corridor", "shapes 1", "reading room, welded"])
def test_standard_sets_keep_to_their_templates(name: str) -> None:
    """Names and value types as in the property templates of the standard that IfcOpenShell brings."""
    file = ifc_read.opened(cases.route_text(name))
    templates = ifcopenshell.util.pset.PsetQto("IFC4")
    seen = set()
    for held in [*file.by_type("IfcPropertySet"), *file.by_type("IfcElementQuantity")]:
        if held.Name.startswith("BranchRouter_"):
            continue
        template = templates.get_by_name(held.Name)
        assert template is not None, held.Name
        known = {each.Name: each for each in template.HasPropertyTemplates}
        for each in getattr(held, "HasProperties", None) or held.Quantities:
            wanted = known[each.Name]
            seen.add((held.Name, each.Name))
            if each.is_a("IfcPhysicalQuantity"):
                assert wanted.TemplateType == "Q_" + each.is_a().removeprefix("IfcQuantity").upper()
            elif each.is_a("IfcPropertyEnumeratedValue"):
                allowed = {value.wrappedValue for value in wanted.Enumerators.EnumerationValues}
                assert {value.wrappedValue for value in each.EnumerationValues} <= allowed
            else:
                assert each.NominalValue.is_a() == wanted.PrimaryMeasureType
    assert ("Pset_PipeSegmentTypeCommon", "OuterDiameter") in seen
    assert ("Pset_FireSuppressionTerminalTypeSprinkler", "SprinklerType") in seen
    assert ("Qto_PipeSegmentBaseQuantities", "NetWeight") in seen


def test_sizes_are_those_of_the_published_pipe() -> None:
    """ASME B36.10M schedule 40, 1 in.: 33.4 mm outside, wall 3.38 mm, 2.50 kg per m (table 1)."""
    file = ifc_read.opened(cases.route_text("minimal"))
    (pipe,) = [each for each in file.by_type("IfcPipeSegmentType") if each.Name == "pipe DN25"]
    common = ifc_read.sets(pipe)["Pset_PipeSegmentTypeCommon"]
    assert common["OuterDiameter"] == pytest.approx(33.4, abs=0.05)
    assert common["InnerDiameter"] == pytest.approx(33.4 - 2 * 3.38, abs=0.05)
    assert common["NominalDiameter"] == 25
    for piece in file.by_type("IfcPipeSegment"):
        held = ifc_read.sets(piece)
        if held["BranchRouter_Piece"]["Size"] == 25:
            assert held["Qto_PipeSegmentBaseQuantities"]["NetWeight"] == pytest.approx(
                2.50 * held["BranchRouter_Piece"]["CutLength"] / 1000, rel=0.01
            )


@pytest.mark.parametrize("name", ["car_park", "loading_dock", "minimal, hoses", "clinic corridor, crosses"])
def test_roles_and_axes_are_those_of_the_drawing_table(name: str) -> None:
    route = cases.routed(name)
    rows = {row["id"]: row for row in DictReader(StringIO(write_segments(route, decimals=6)))}
    file = ifc_read.opened(cases.route_text(name))
    for piece in file.by_type("IfcPipeSegment"):
        said, row = ifc_read.sets(piece)["BranchRouter_Piece"], rows[piece.Tag]
        assert (said["Role"], str(said["Size"])) == (row["role"], row["size"])
        (axis,) = [r for r in piece.Representation.Representations if r.RepresentationIdentifier == "Axis"]
        place = ifcopenshell.util.placement.get_local_placement(piece.ObjectPlacement)
        ends = [(place @ [*point.Coordinates, 1.0])[:3] for point in axis.Items[0].Points]
        assert np.allclose(ends[0], [float(row[k]) for k in ("x1", "y1", "z1")], atol=1e-3)
        assert np.allclose(ends[1], [float(row[k]) for k in ("x2", "y2", "z2")], atol=1e-3)


@pytest.mark.parametrize("name", ["car_park", "loading_dock", "plant_corridor"])
def test_pipe_reaches_from_take_out_to_take_out(name: str) -> None:
    """A body's length is the cut length less what goes into the fittings (threads).

    11 to 25 mm an end for 1 to 3 in. pipe threads (ASME B1.20.1, hand and wrench engagement; from memory).
    """
    route = cases.routed(name)
    file = ifc_read.opened(cases.route_text(name))
    checked = 0
    for piece in file.by_type("IfcPipeSegment"):
        said = ifc_read.sets(piece)["BranchRouter_Piece"]
        if said["Kind"] == "barrel":
            continue
        points = ifc_read.corners(piece, 0.5)
        along = np.ptp(points @ _way(piece))
        ends = sum(name is not None for name in _record(route, said["Piece"]).fittings)
        into = said["CutLength"] - along
        assert 9.0 * ends <= into <= 30.0 * ends, (said, along)
        checked += 1
    assert checked > 20


def _way(piece: Any) -> Any:
    (axis,) = [r for r in piece.Representation.Representations
               if r.RepresentationIdentifier == "Axis"]  # fmt: skip
    way = np.array(axis.Items[0].Points[1].Coordinates)
    return way / np.linalg.norm(way)


def _record(route: Route, name: str) -> Piece:
    return next(piece for piece in route.pieces if piece.id == name)


def test_bodies_have_the_volume_of_pipe() -> None:
    """The volume of a straight pipe's body, measured by the library, is that of a cylinder."""
    file = ifc_read.opened(cases.route_text("minimal"))
    for piece in file.by_type("IfcPipeSegment"):
        points = ifc_read.corners(piece, 0.05)
        long = float(np.ptp(points @ _way(piece)))
        outer = ifc_read.sets(piece)["Pset_PipeSegmentTypeCommon"]["OuterDiameter"]
        volume = ifcopenshell.util.shape.get_volume(ifc_read.mesh(piece, 0.05)) * 1e9
        assert volume == pytest.approx(pi / 4 * outer**2 * long, rel=2e-3)


def test_the_same_route_gives_the_same_bytes_without_traces() -> None:
    scenario, route = cases.given("loading_dock"), cases.routed("loading_dock")
    text = route_ifc(scenario, route)
    assert text == route_ifc(scenario.model_copy(), route.model_copy())
    assert scenario_ifc(scenario) == scenario_ifc(scenario.model_copy())
    header = text[: text.index("DATA;")]
    assert f"branch-drop-router {router.__version__}" in header
    assert re.findall(r"\d{4}-\d{2}-\d{2}T", header) == ["2000-01-01T"]
    assert not re.search(r"IFC(PERSON|ORGANIZATION|OWNERHISTORY)", text)
    assert text.isascii()


def test_a_thing_has_one_identity_in_scenario_and_route() -> None:
    scenario, route = cases.given("car_park"), cases.routed("car_park")
    one, other = ifc_read.opened(scenario_ifc(scenario)), ifc_read.opened(route_ifc(scenario, route))
    heads = [{each.GlobalId for each in file.by_type("IfcFireSuppressionTerminal")} for file in (one, other)]
    assert heads[0] == heads[1]
    assert len(heads[0]) == len(scenario.heads)


def test_unserved_heads_are_terminals_that_say_so() -> None:
    name = "minimal, under the line only"
    route = cases.routed(name)
    assert 0 < route.counts.served < route.counts.heads
    file = ifc_read.opened(cases.route_text(name))
    for head in file.by_type("IfcFireSuppressionTerminal"):
        held = ifc_read.sets(head)["BranchRouter_Head"]
        (result,) = [each for each in route.heads if each.id == head.Name]
        assert held["Served"] == result.served
        assert bool(held.get("StoppedBy")) == (not result.served and bool(result.stopped_by))


def test_dry_barrels_are_segments_and_counted_once() -> None:
    route = cases.routed("loading_dock")
    file = ifc_read.opened(cases.route_text("loading_dock"))
    barrels = [
        e
        for e in file.by_type("IfcPipeSegment")
        if ifc_read.sets(e)["BranchRouter_Piece"]["Kind"] == "barrel"
    ]
    assert len(barrels) == route.counts.served == 20
    graph = ifc_read.network(file)
    for head in file.by_type("IfcFireSuppressionTerminal"):
        assert [each.id() for each in barrels if graph.has_edge(each.GlobalId, head.GlobalId)] != []
        assert "NetWeight" not in ifc_read.sets(barrels[0])["Qto_PipeSegmentBaseQuantities"]


def test_ids_that_stand_twice_still_give_a_file() -> None:
    """A route of another hand may name two pieces alike."""
    route = cases.routed("minimal")
    twice = route.model_copy(update={"pieces": [*route.pieces, route.pieces[0]]})
    file = ifc_read.opened(route_ifc(cases.given("minimal"), twice))
    ids = [each.GlobalId for each in file.by_type("IfcRoot")]
    assert len(ids) == len(set(ids))
    assert len(file.by_type("IfcPipeSegment")) == len(route.pieces) + 1
