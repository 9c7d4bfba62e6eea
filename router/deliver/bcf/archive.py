"""BCF 2.1 (buildingSMART BCF-XML 2.1): the parts as XML, the parts in one archive, the same bytes each time.

Order and names of elements are those of the published schemas markup.xsd, visinfo.xsd, project.xsd and
version.xsd of release 2.1, from memory; tests hold them against the records that bcf-client makes of them.
"""

from __future__ import annotations

import datetime
import re
import zipfile
from io import BytesIO
from typing import TYPE_CHECKING
from xml.etree import ElementTree
from xml.etree.ElementTree import Element, SubElement

from router.deliver.bcf.camera import FIELD_OF_VIEW
from router.deliver.bcf.topics import PRIORITY, STATUS, TYPES, topics
from router.deliver.files import OutputError
from router.deliver.guids import uuid_of

if TYPE_CHECKING:
    from collections.abc import Sequence

    from router.check import Verdict
    from router.deliver.bcf.topics import Topic
    from router.route.model import Route, Xyz
    from router.scenario.model import Scenario

AUTHOR = "branch-drop-router"
NO_DATE = "1980-01-01T00:00:00+00:00"
"""Where no date is given: the first that the archive format knows, plainly no date of a review."""

_FORBIDDEN = re.compile("[^\t\n\r\x20-\ud7ff\ue000-\ufffd\U00010000-\U0010ffff]")
"""What XML 1.0 cannot hold in any form."""

_SCHEMA = "http://www.w3.org/2001/XMLSchema"


def findings_bcf(
    scenario: Scenario,
    route: Route,
    verdict: Verdict,
    *,
    near: bool = False,
    author: str = AUTHOR,
    date: str | None = None,
) -> bytes:
    """Give findings and unserved heads as topics for a coordination tool.

    Parameters
    ----------
    scenario, route, verdict
        What was asked, the answer, and the referee's judgement of it.
    near
        Also a topic for each finding that is near a limit without breaking it.
    author
        Who the topics are from, as the tool shows it (often an address).
    date
        ISO 8601 date, or date and time, of the topics; without a zone UTC. ``None``: :data:`NO_DATE`, so that
        the same input gives the same bytes; whoever hands the file on should give one.

    Returns
    -------
    bytes
        A BCF 2.1 archive (``.bcf``). Ids of topics follow from scenario, rule and things: exported again,
        the same matter is the same topic. What is settled is simply not in the new file.

    Raises
    ------
    OutputError
        If ``date`` is none, or ``author`` is empty.
    """
    when = moment(date)
    if not author.strip():
        raise OutputError(f'author: "{author}": a name or address expected')
    found = topics(scenario, route, verdict, near)
    parts = [("bcf.version", _version()), ("project.bcfp", _project(scenario))]
    parts.append(("extensions.xsd", _extensions(found, author)))
    for topic in found:
        parts.append((f"{topic.guid}/markup.bcf", _markup(topic, author, when)))
        parts.append((f"{topic.guid}/viewpoint.bcfv", _viewpoint(topic)))
    stream = BytesIO()
    with zipfile.ZipFile(stream, "w") as archive:
        for name, root in parts:
            info = zipfile.ZipInfo(name, (1980, 1, 1, 0, 0, 0))
            info.compress_type, info.create_system, info.external_attr = zipfile.ZIP_DEFLATED, 3, 0o644 << 16
            archive.writestr(info, _bytes(root))
    return stream.getvalue()


def moment(date: str | None) -> str:
    """Give a date as BCF writes it (xs:dateTime with zone).

    Raises
    ------
    OutputError
        If it is no ISO 8601 date.
    """
    if date is None:
        return NO_DATE
    try:
        found = datetime.datetime.fromisoformat(date.strip())
    except ValueError as error:
        message = f'date: "{date}": a date such as 2026-05-31 or 2026-05-31T14:00:00+02:00 expected'
        raise OutputError(message) from error
    if found.tzinfo is None:
        found = found.replace(tzinfo=datetime.UTC)
    return found.isoformat(timespec="seconds")


def _bytes(root: Element) -> bytes:
    ElementTree.indent(root)
    body = ElementTree.tostring(root, encoding="unicode")
    return f'<?xml version="1.0" encoding="UTF-8"?>\n{body}\n'.encode()


def _plain(text: str) -> str:
    return _FORBIDDEN.sub("\N{REPLACEMENT CHARACTER}", text)


def _text(parent: Element, tag: str, text: str) -> None:
    SubElement(parent, tag).text = _plain(text)


def _version() -> Element:
    root = Element("Version", VersionId="2.1")
    _text(root, "DetailedVersion", "2.1")
    return root


def _project(scenario: Scenario) -> Element:
    root = Element("ProjectExtension")
    project = SubElement(root, "Project", ProjectId=str(uuid_of(scenario.name, "project", "")))
    _text(project, "Name", scenario.name)
    _text(root, "ExtensionSchema", "extensions.xsd")
    return root


def _extensions(found: Sequence[Topic], author: str) -> Element:
    """List the words that are used, so that a tool offers them."""
    ElementTree.register_namespace("xs", _SCHEMA)
    root = Element(f"{{{_SCHEMA}}}schema")
    again = SubElement(root, f"{{{_SCHEMA}}}redefine", schemaLocation="markup.xsd")
    labels = sorted({label for topic in found for label in topic.labels})
    for name, values in (
        ("TopicType", TYPES),
        ("TopicStatus", (STATUS, "Closed")),
        ("TopicLabel", labels),
        ("Priority", tuple(dict.fromkeys(PRIORITY.values()))),
        ("UserIdType", (author,)),
    ):
        simple = SubElement(again, f"{{{_SCHEMA}}}simpleType", name=name)
        limited = SubElement(simple, f"{{{_SCHEMA}}}restriction", base=name)
        for value in values:
            SubElement(limited, f"{{{_SCHEMA}}}enumeration", value=_plain(value))
    return root


def _markup(topic: Topic, author: str, when: str) -> Element:
    root = Element("Markup")
    given = {"Guid": topic.guid, "TopicType": topic.kind, "TopicStatus": STATUS}
    about = SubElement(root, "Topic", given)
    _text(about, "Title", topic.title)
    _text(about, "Priority", PRIORITY[topic.kind])
    for label in topic.labels:
        _text(about, "Labels", label)
    _text(about, "CreationDate", when)
    _text(about, "CreationAuthor", author)
    _text(about, "Description", topic.description)
    view = SubElement(root, "Viewpoints", Guid=topic.viewpoint)
    _text(view, "Viewpoint", "viewpoint.bcfv")
    return root


def _viewpoint(topic: Topic) -> Element:
    root = Element("VisualizationInfo", Guid=topic.viewpoint)
    components = SubElement(root, "Components")
    if topic.selected:
        selection = SubElement(components, "Selection")
        for guid in topic.selected:
            SubElement(selection, "Component", IfcGuid=guid)
    SubElement(components, "Visibility", DefaultVisibility="true")
    camera = SubElement(root, "PerspectiveCamera")
    x, y, z = topic.camera.at
    _xyz(camera, "CameraViewPoint", (x / 1000, y / 1000, z / 1000))  # BCF measures in metres
    _xyz(camera, "CameraDirection", topic.camera.towards)
    _xyz(camera, "CameraUpVector", topic.camera.up)
    _text(camera, "FieldOfView", f"{FIELD_OF_VIEW:g}")
    return root


def _xyz(parent: Element, tag: str, values: Xyz) -> None:
    point = SubElement(parent, tag)
    for axis, value in zip("XYZ", values, strict=True):
        _text(point, axis, f"{round(value, 6) + 0.0:.6f}")
