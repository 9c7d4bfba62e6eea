"""Findings as BCF topics, read from outside: bcf-client, LGPL, the reader of the IfcOpenShell project.

Its records (``bcf.v2.model``) were generated from the published schemas of BCF-XML 2.1 (buildingSMART): the
order and number of elements are held against them. That 2.1 measures in metres and wants a field of view of
45 to 60 degrees is from its documentation, from memory.
"""

from __future__ import annotations

import dataclasses
import io
import json
import math
import re
import zipfile
from pathlib import Path
from typing import TYPE_CHECKING, Any
from xml.etree import ElementTree

import pytest

from router.building.route import route_scenario
from router.check import check_route
from router.deliver.bcf import findings_bcf
from router.deliver.files import OutputError
from router.deliver.guids import guid_of
from router.route.model import CAUTION, Route
from router.scenario import parse_scenario, read_scenario

if TYPE_CHECKING:
    from router.check import Verdict
    from router.scenario.model import Scenario

pytest.importorskip("bcf.v2.bcfxml", reason="bcf-client is not installed")
from bcf.v2 import model as schema
from bcf.v2.bcfxml import BcfXml

ROOT = Path(__file__).parents[3]
Made = tuple["Scenario", Route, "Verdict"]


def made(data: dict[str, Any]) -> Made:
    scenario = parse_scenario(data)
    route, _ = route_scenario(scenario)
    return scenario, route, check_route(scenario, route)


def spoilt(name: str, change: dict[str, Any]) -> Made:
    """Move pieces of a proven route of ours: ``change`` gives new ends (mm) by piece."""
    scenario = read_scenario(ROOT / "scenarios" / f"{name}.json")
    data = json.loads(route_scenario(scenario)[0].model_dump_json())
    for piece in data["pieces"]:
        piece.update(change.get(piece["id"], {}))
    route = Route.model_validate(data)
    return scenario, route, check_route(scenario, route)


UNSERVED = {
    "name": "Two heads & <one> run",
    "runs": [{"id": "B", "plan": [[0, 0], [4000, 0]], "size": 25, "elevation": 3000, "band": [3000, 3000]}],
    "heads": [
        {"id": 'H "1" <&>', "at": [3000, 0, 2940]},
        {"id": "Hé 2 ✓", "at": [1000, 0, 2400]},
    ],
    "obstructions": [
        {"id": "duct ]]>", "kind": "duct", "polygon": [[500, 300], [1500, 300], [1500, 400], [500, 400]],
         "elevations": [2600, 3200]},
    ],
    "rules": {"slide": 0, "styles": ["straight_drop"]},
}  # fmt: skip


@pytest.fixture(scope="module")
def unserved() -> Made:
    return made(UNSERVED)


@pytest.fixture(scope="module")
def broken() -> Made:
    # an arm's piece of the dock's first line moved up into the beam's way, and one run pipe moved aside
    return spoilt(
        "loading_dock", {"P0012": {"start": [6400, 2600, 3700]}, "P0020": {"end": [9000, 2000, 3500]}}
    )


def opened(content: bytes, folder: Path) -> Any:
    """Open a file; the book must be kept while its topics are read (it closes the file when it goes)."""
    path = folder / "findings.bcf"
    path.write_bytes(content)
    found = BcfXml.load(path)
    assert found is not None
    return found


def roots(content: bytes) -> dict[str, ElementTree.Element]:
    with zipfile.ZipFile(io.BytesIO(content)) as archive:
        assert archive.testzip() is None
        return {name: ElementTree.fromstring(archive.read(name)) for name in archive.namelist()}


def test_a_head_that_is_not_served(unserved: Made, tmp_path: Path) -> None:
    scenario, route, verdict = unserved
    book = opened(findings_bcf(*unserved), tmp_path)
    assert book.version.version_id == "2.1" and book.project is not None
    assert book.project.name == scenario.name
    (handler,) = book.topics.values()
    topic = handler.topic
    result = next(head for head in route.heads if not head.served)
    assert topic.title.startswith('Head H "1" <&> is not served: ')
    assert (topic.topic_type, topic.topic_status, topic.priority) == ("Head not served", "Open", "High")
    attempt = result.stopped_by[0]
    assert attempt.short is not None and f"short {attempt.short:.1f}".rstrip("0") in topic.description
    assert attempt.text in topic.description and topic.description.endswith(CAUTION)
    assert topic.labels == list(dict.fromkeys(one.rule for one in result.stopped_by))
    (view,) = handler.viewpoints.values()
    assert view.get_selected_guids()[0] == guid_of(scenario.name, "heads", result.id)
    assert view.get_elements_visibility() == (True, [])
    assert verdict.clean


def test_what_came_from_a_model_is_selected_there_too(tmp_path: Path) -> None:
    """GlobalIds of ISO 16739; what is none (the schema of BCF has no place for it) is not written."""
    source, no_guid = "2O2Fr$t4X7Zf8NOew3FLOH", "no GlobalId"
    data = json.loads(json.dumps(UNSERVED))
    data["heads"][0]["guid"] = source
    data["obstructions"][0]["guid"] = no_guid
    one = made(data)
    book = opened(findings_bcf(*one), tmp_path)
    (handler,) = book.topics.values()
    (view,) = handler.viewpoints.values()
    found = view.get_selected_guids()
    assert found[:2] == [source, guid_of(one[0].name, "heads", one[0].heads[0].id)]
    assert no_guid not in found


def test_every_finding_that_breaks_a_rule_is_a_topic(broken: Made, tmp_path: Path) -> None:
    _, route, verdict = broken
    assert len(verdict.breaks) > 5
    book = opened(findings_bcf(*broken), tmp_path)
    found = [handler.topic for handler in book.topics.values()]
    assert sorted(topic.title for topic in found) == sorted(finding.text for finding in verdict.breaks)
    for finding in verdict.breaks:
        topic = next(one for one in found if one.title == finding.text and one.labels == [finding.rule])
        assert topic.topic_type == "Rule broken"
        assert finding.text in topic.description and finding.source in topic.description
        if finding.measured is not None:
            assert re.search(rf"Measured: -?[\d.]+(e[+-]?\d+)? {re.escape(finding.unit)}", topic.description)
    assert all(head.served for head in route.heads)


def test_what_is_near_a_limit_only_on_request(broken: Made, tmp_path: Path) -> None:
    verdict = broken[2]
    near = [finding for finding in verdict.findings if finding.severity == "near"]
    assert near
    book = opened(findings_bcf(*broken, near=True), tmp_path)
    assert len(book.topics) == len(verdict.breaks) + len(near)
    low = [handler.topic for handler in book.topics.values() if handler.topic.priority == "Low"]
    assert sorted(topic.title for topic in low) == sorted(finding.text for finding in near)
    assert {topic.topic_type for topic in low} == {"Near a limit"}


def test_the_things_concerned_are_selected(broken: Made, tmp_path: Path) -> None:
    scenario, _, verdict = broken
    book = opened(findings_bcf(*broken, near=True), tmp_path)
    finding = next(one for one in verdict.findings if one.rule == "clearance" and one.against)
    handler = next(one for one in book.topics.values() if one.topic.title == finding.text)
    (view,) = handler.viewpoints.values()
    wanted = [guid_of(scenario.name, "piece", finding.element)]
    wanted.append(guid_of(scenario.name, "obstructions", finding.against or ""))
    assert view.get_selected_guids() == wanted


@pytest.mark.parametrize("which", ["unserved", "broken"])
def test_cameras_look_at_the_place(which: str, request: pytest.FixtureRequest, tmp_path: Path) -> None:
    case: Made = request.getfixturevalue(which)
    scenario, _route, verdict = case
    book = opened(findings_bcf(*case, near=True), tmp_path)
    places = {one.text: one.place for one in verdict.findings if one.place}
    if which == "unserved":
        places = {next(iter(book.topics.values())).topic.title: scenario.heads[0].at}
    assert places
    looked = 0
    for handler in book.topics.values():
        (view,) = handler.viewpoints.values()
        camera = view.visualization_info.perspective_camera
        at, towards, up = (
            (point.x, point.y, point.z)
            for point in (camera.camera_view_point, camera.camera_direction, camera.camera_up_vector)
        )
        assert math.hypot(*towards) == pytest.approx(1, abs=1e-5)
        assert math.hypot(*up) == pytest.approx(1, abs=1e-5) and up[2] > 0
        assert sum(a * b for a, b in zip(towards, up, strict=True)) == pytest.approx(0, abs=1e-5)
        assert 45 <= camera.field_of_view <= 60
        place = places.get(handler.topic.title)
        if place is not None:
            away = math.dist(at, [value / 1000 for value in place])  # metres
            assert 1.499 < away < 12.001
            hit = [a + away * b for a, b in zip(at, towards, strict=True)]
            assert hit == pytest.approx([value / 1000 for value in place], abs=1e-3)
            looked += 1
    assert looked


def test_the_sight_is_free_where_it_can_be(tmp_path: Path) -> None:
    """A wall close to the heads on one side, a ceiling above: the camera stands on the other side, below."""
    wall = {
        "id": "wall",
        "polygon": [[-9000, 300], [9000, 300], [9000, 500], [-9000, 500]],
        "elevations": [0, 5000],
    }
    ceiling = {
        "id": "c",
        "polygon": [[-9000, -9000], [9000, -9000], [9000, 9000], [-9000, 9000]],
        "elevation": 2960,
    }
    data = {**UNSERVED, "obstructions": [wall], "ceilings": [ceiling], "name": "wall"}
    scenario, route, verdict = made(data)
    assert any(not head.served for head in route.heads)
    book = opened(findings_bcf(scenario, route, verdict), tmp_path)
    for handler in book.topics.values():
        (view,) = handler.viewpoints.values()
        eye = view.visualization_info.perspective_camera.camera_view_point
        assert eye.y < 0.3 and eye.z < 2.96


def test_the_same_matter_is_the_same_topic_after_a_new_route(broken: Made) -> None:
    """Pieces, fittings and takeoffs renumbered: other ids in the titles, the same topics."""
    scenario, route, _ = broken
    text = route.model_dump_json()
    text = re.sub(r'"(P|F)0(\d{3})"', r'"\g<1>7\2"', text)
    text = re.sub(r'"T(\d{3})"', r'"T8\1"', text)
    again = Route.model_validate_json(text)
    verdict = check_route(scenario, again)
    assert len(verdict.breaks) == len(broken[2].breaks)
    first, second = findings_bcf(*broken), findings_bcf(scenario, again, verdict)
    assert first != second
    names = [sorted(name for name in roots(one) if "markup" in name) for one in (first, second)]
    assert names[0] == names[1] and len(names[0]) == len(broken[2].breaks)


def test_the_same_input_gives_the_same_bytes(broken: Made) -> None:
    assert findings_bcf(*broken) == findings_bcf(*broken)
    later = findings_bcf(*broken, date="2026-05-31", author="anna@example.org")
    assert later != findings_bcf(*broken)
    assert roots(later).keys() == roots(findings_bcf(*broken)).keys()
    with zipfile.ZipFile(io.BytesIO(later)) as archive:
        assert {info.date_time for info in archive.infolist()} == {(1980, 1, 1, 0, 0, 0)}


@pytest.mark.parametrize(
    ("date", "written"),
    [
        (None, "1980-01-01T00:00:00+00:00"),
        ("2026-05-31", "2026-05-31T00:00:00+00:00"),
        ("2026-05-31T14:30:00", "2026-05-31T14:30:00+00:00"),
        ("2026-05-31T14:30:00+02:00", "2026-05-31T14:30:00+02:00"),
        ("2026-05-31T14:30:00Z", "2026-05-31T14:30:00+00:00"),
    ],
)
def test_dates_and_authors(unserved: Made, tmp_path: Path, date: str | None, written: str) -> None:
    book = opened(findings_bcf(*unserved, date=date, author="Änne <a&b>"), tmp_path)
    (topic,) = (handler.topic for handler in book.topics.values())
    assert topic.creation_author == "Änne <a&b>"
    assert topic.creation_date.to_datetime().isoformat() == written


@pytest.mark.parametrize("date", ["", "yesterday", "31.05.2026", "2026-13-01"])
def test_what_is_no_date_is_refused(unserved: Made, date: str) -> None:
    with pytest.raises(OutputError, match=f'date: "{re.escape(date)}"'):
        findings_bcf(*unserved, date=date)
    with pytest.raises(OutputError, match="a name or address"):
        findings_bcf(*unserved, author=" ")


RECORDS = {
    "markup.bcf": schema.Markup,
    "viewpoint.bcfv": schema.VisualizationInfo,
    "project.bcfp": schema.ProjectExtension,
    "bcf.version": schema.Version,
}


def against_schema(element: ElementTree.Element, record: Any, place: str) -> None:
    """Hold an element against a record made of the schema: names, order, number, patterns."""
    fields = {one.metadata["name"]: one for one in dataclasses.fields(record)}
    order = list(fields)
    tags = [child.tag for child in element]
    assert [order.index(tag) for tag in tags] == sorted(order.index(tag) for tag in tags), f"{place}: {tags}"
    for name, one in fields.items():
        if one.metadata["type"] == "Attribute":
            assert not one.metadata.get("required") or name in element.attrib, f"{place}: no {name}"
            pattern = one.metadata.get("pattern")
            assert not pattern or name not in element.attrib or re.fullmatch(pattern, element.attrib[name])
            length = one.metadata.get("length")
            assert not length or name not in element.attrib or len(element.attrib[name]) == length
            continue
        assert not one.metadata.get("required") or name in tags, f"{place}: no {name}"
        assert tags.count(name) >= one.metadata.get("min_occurs", 0)
        assert "list[" in str(one.type) or tags.count(name) <= 1, f"{place}: {name} twice"
    assert set(element.attrib) <= {n for n, one in fields.items() if one.metadata["type"] == "Attribute"}
    for child in element:
        kind = str(fields[child.tag].type)
        inner = re.sub(r"^(?:list|Optional|typing\.Optional)\[|\]$|<class '|'>", "", kind).rpartition(".")[2]
        below = getattr(schema, inner, None) or vars(__import__(record.__module__, fromlist=["x"])).get(inner)
        if dataclasses.is_dataclass(below):
            against_schema(child, below, f"{place}/{child.tag}")
        else:
            assert not len(child), f"{place}/{child.tag}"


@pytest.mark.parametrize("which", ["unserved", "broken"])
def test_elements_are_those_of_the_schema(which: str, request: pytest.FixtureRequest) -> None:
    checked = set()
    for name, root in roots(findings_bcf(*request.getfixturevalue(which), near=True)).items():
        file = name.rpartition("/")[2]
        if file in RECORDS:
            against_schema(root, RECORDS[file], name)
            checked.add(file)
    assert checked == set(RECORDS)


def test_the_words_in_use_are_listed_for_the_tool(broken: Made, tmp_path: Path) -> None:
    book = opened(findings_bcf(*broken, near=True, author="anna@example.org"), tmp_path)
    listed = book.extensions
    assert listed is not None
    for handler in book.topics.values():
        assert handler.topic.topic_type in listed.topic_types.topic_type
        assert handler.topic.topic_status in listed.topic_statuses.topic_status
        assert handler.topic.priority in listed.priorities.priority
        assert set(handler.topic.labels) <= set(listed.topic_labels.topic_label)
        assert handler.topic.creation_author in listed.users.user


def test_characters_that_xml_cannot_hold(tmp_path: Path) -> None:
    """The reader refuses them in a scenario; a route of another hand may still hold some."""
    scenario, route, _ = made(UNSERVED)
    odd = "H\x01\x0b\ufffe"
    heads = [scenario.heads[0].model_copy(update={"id": odd}), *scenario.heads[1:]]
    scenario = scenario.model_copy(update={"heads": heads, "name": "a\x08b"})
    results = [route.heads[0].model_copy(update={"id": odd}), *route.heads[1:]]
    route = route.model_copy(update={"heads": results})
    book = opened(findings_bcf(scenario, route, check_route(scenario, route)), tmp_path)
    (topic,) = (one.topic for one in book.topics.values())
    assert topic.title.startswith("Head H\N{REPLACEMENT CHARACTER}")


def test_nothing_to_say_is_still_a_sound_file(tmp_path: Path) -> None:
    scenario = read_scenario(ROOT / "scenarios" / "minimal.json")
    route, _ = route_scenario(scenario)
    book = opened(findings_bcf(scenario, route, check_route(scenario, route)), tmp_path)
    assert book.topics == {} and book.project is not None and book.project.name == scenario.name


def test_a_finding_about_no_thing(tmp_path: Path) -> None:
    """Books that do not add up have no place: the view is of all heads."""
    scenario = read_scenario(ROOT / "scenarios" / "minimal.json")
    route, _ = route_scenario(scenario)
    objective = route.objective.model_copy(update={"value": route.objective.value + 1000.0})
    route = route.model_copy(update={"objective": objective})
    verdict = check_route(scenario, route)
    assert {finding.rule for finding in verdict.breaks} == {"objective"}
    book = opened(findings_bcf(scenario, route, verdict), tmp_path)
    for handler in book.topics.values():
        (view,) = handler.viewpoints.values()
        assert view.get_selected_guids() is None
        assert view.visualization_info.perspective_camera is not None


@pytest.mark.parametrize("name", ["loading_dock", "car_park", "clinic_corridor"])
def test_nothing_stands_between_camera_and_place(name: str, tmp_path: Path) -> None:
    """Sampled point by point along the sight, against polygons of shapely: not the way it was chosen."""
    from shapely.geometry import Point, Polygon

    scenario = read_scenario(ROOT / "scenarios" / f"{name}.json")
    route, _ = route_scenario(scenario)
    verdict = check_route(scenario, route)
    places = {one.text: one.place for one in verdict.findings if one.severity == "near"}
    solids = [(Polygon(one.polygon), one.elevations) for one in scenario.obstructions]
    book = opened(findings_bcf(scenario, route, verdict, near=True), tmp_path)
    assert book.topics
    for handler in book.topics.values():
        (view,) = handler.viewpoints.values()
        eye = view.visualization_info.perspective_camera.camera_view_point
        place = places[handler.topic.title]
        assert place is not None
        for step in range(97):
            x, y, z = (
                a * 1000 + (b - a * 1000) * step / 100
                for a, b in zip((eye.x, eye.y, eye.z), place, strict=True)
            )
            for polygon, (low, high) in solids:
                assert not (low < z < high and polygon.contains(Point(x, y))), handler.topic.title
