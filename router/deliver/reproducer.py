"""A bundle with everything needed to see a fault of this program again: what is sent with a report."""

from __future__ import annotations

import json
import os
import platform
import sys
import tempfile
import zipfile
from importlib.metadata import PackageNotFoundError, version
from io import BytesIO
from pathlib import Path
from typing import TYPE_CHECKING

import router
from router.deliver.files import OutputError, save_bytes
from router.deliver.route_json import route_text
from router.deliver.verdict_json import verdict_text
from router.scenario.write import scenario_text

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from router.check import Verdict
    from router.route.model import Route
    from router.scenario.model import Scenario

PACKAGES = ("ortools", "numpy", "shapely", "networkx", "pydantic", "numba")
LARGEST_INPUT = 50_000_000
"""Bytes. A larger file that the user gave is left out; the scenario as it was read is always there."""
_DATE = (1980, 1, 1, 0, 0, 0)


def bundle_place(output: Path) -> Path:
    """Return where the bundle of a command that was to write ``output`` goes: beside it."""
    return output.with_name(f"{output.stem if output.suffix else output.name}.refused.zip")


def write_bundle(
    output: Path,
    what: str,
    scenario: Scenario,
    given: Sequence[Path] = (),
    refused: Mapping[str, tuple[Route, Verdict]] | None = None,
    older: Route | None = None,
    trace: str = "",
) -> Path:
    """Write a reproducer bundle.

    Parameters
    ----------
    output
        What the command was to write. The bundle goes beside it, or else into the
        folder for temporary files.
    what
        Why there is one.
    scenario
        As it was read.
    given
        The user's files, as they stand.
    refused
        By name: routes that are not handed out, and what the referee said of them.
    older
        The route that was to be kept.
    trace
        Where the program failed.

    Returns
    -------
    Path
        Of the bundle, a zip file.

    Raises
    ------
    OutputError
        If it can be written in neither place.
    """
    parts: dict[str, bytes] = {
        "about.txt": _about(what, scenario, older, trace).encode(),
        "scenario.json": scenario_text(scenario).encode(),
    }
    if older is not None:
        parts["older_route.json"] = route_text(older).encode()
    for name, (route, verdict) in (refused or {}).items():
        parts[f"refused/{name}.json"] = route_text(route).encode()
        parts[f"refused/{name}_findings.json"] = verdict_text(verdict).encode()
    for n, file in enumerate(given, 1):
        if file.is_file() and file.stat().st_size <= LARGEST_INPUT:
            parts[f"given/{n}{file.suffix}"] = file.read_bytes()
    content = _zip(parts)
    place = bundle_place(output)
    try:
        save_bytes(place, content)
    except OutputError:
        handle, name = tempfile.mkstemp(prefix="branch-router-", suffix=".refused.zip")
        os.close(handle)
        place = Path(name)
        save_bytes(place, content)
    return place


def _zip(parts: Mapping[str, bytes]) -> bytes:
    """Pack files, the same bytes for the same content."""
    packed = BytesIO()
    with zipfile.ZipFile(packed, "w", zipfile.ZIP_DEFLATED) as archive:
        for name, content in parts.items():
            archive.writestr(zipfile.ZipInfo(name, _DATE), content, zipfile.ZIP_DEFLATED)
    return packed.getvalue()


def _about(what: str, scenario: Scenario, older: Route | None, trace: str) -> str:
    versions = [f"branch-drop-router {router.__version__}", f"python {platform.python_version()}"]
    versions += [f"{name} {found}" for name in PACKAGES if (found := _version(name)) is not None]
    keep = " --keep older_route.json" if older is not None else ""
    lines = [
        "This is a fault of the program. Nothing in here is a route to build from.",
        "",
        what,
        "",
        f"scenario: {json.dumps(scenario.name, ensure_ascii=False)}",
        f"to see it again: branch-router route scenario.json{keep} -o route.json",
        "refused/: what was not handed out, and what the referee says of it",
        "given/: the files as they were given",
        "",
        f"command: {' '.join(sys.argv[1:])}",
        f"system: {platform.platform()}",
        *versions,
    ]
    return "\n".join([*lines, *(["", trace] if trace else [])]) + "\n"


def _version(package: str) -> str | None:
    try:
        return version(package)
    except PackageNotFoundError:
        return None
