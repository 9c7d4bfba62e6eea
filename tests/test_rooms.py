"""The order of the rooms: who may import whom."""

from __future__ import annotations

import ast
from pathlib import Path

import pytest

import router

PACKAGE = Path(router.__file__).parent
# from the top down; trade stands below scenario, whose fields are read by router.trade.sizes
ROOMS = (
    "cli",
    "deliver",
    "compare",
    "cutlist",
    "explain",
    "alternatives",
    "building",
    "check",
    "infer",
    "model",
    "bounds",
    "hangers",
    "route",
    "takeoffs",
    "profiles",
    "readers",
    "scenario",
    "trade",
    "geometry",
)


def imports(path: Path) -> set[str]:
    """Every absolute module name that the file imports, wherever in it."""
    names: set[str] = set()
    for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
        if isinstance(node, ast.Import):
            names.update(alias.name for alias in node.names)
        elif isinstance(node, ast.ImportFrom):
            assert node.level == 0, f"{path}: relative import, line {node.lineno}"
            names.add(node.module or "")
            if node.module == "router":
                names.update(f"router.{alias.name}" for alias in node.names)
    return names


def room_of(path: Path) -> str:
    relative = path.relative_to(PACKAGE)
    return relative.parts[0] if len(relative.parts) > 1 else relative.stem


MODULES = sorted(PACKAGE.rglob("*.py"))


@pytest.mark.parametrize("path", MODULES, ids=lambda path: path.relative_to(PACKAGE).as_posix())
def test_imports_point_downwards(path: Path) -> None:
    room = room_of(path)
    if room == "__init__":
        assert not {name for name in imports(path) if name.startswith("router")}
        return
    if room == "__main__":
        return
    assert room in ROOMS, f"{room} is not in the order of rooms"
    for name in imports(path):
        if not name.startswith("router."):
            continue
        other = name.split(".")[1]
        if other == "__version__":
            continue
        assert ROOMS.index(other) >= ROOMS.index(room), f"{room} imports {name}, a room above it"


def test_only_the_model_imports_the_solver() -> None:
    importers = {
        room_of(path) for path in MODULES if any(name.split(".")[0] == "ortools" for name in imports(path))
    }
    assert importers <= {"model"}


def test_the_referee_shares_nothing_with_candidates_and_model() -> None:
    for path in MODULES:
        if room_of(path) != "check":
            continue
        rooms = {name.split(".")[1] for name in imports(path) if name.startswith("router.")}
        assert rooms <= {"check", "route", "scenario", "trade"}, f"{path.name} imports {sorted(rooms)}"


def test_every_room_says_its_purpose() -> None:
    for room in ROOMS[1:]:
        text = ast.get_docstring(ast.parse((PACKAGE / room / "__init__.py").read_text(encoding="utf-8")))
        assert text, f"router/{room}/__init__.py has no docstring"
