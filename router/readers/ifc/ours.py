"""What our own exports carry beside the geometry: property sets become records again."""

from __future__ import annotations

from math import dist
from typing import TYPE_CHECKING, Any

from router.readers.drawn import DrawnHead, DrawnPipe, DrawnSolid
from router.scenario.carried import settings_of, unpacked
from router.scenario.errors import Fault, value_text
from router.trade.sizes import parse_size

if TYPE_CHECKING:
    from router.readers.ifc.found import FileFound, FoundHead, FoundPipe, FoundSolid, Thing
    from router.scenario.model import HeadKind

JOINED_MM = 1.0
DIGITS = 6
KINDS: dict[str, HeadKind] = {"pendent": "pendent", "upright": "upright", "sidewall": "sidewall"}
ROLES = ("main", "branch", "head_arm", "hose")


class Ours:
    """Reads our own sets; ``faults`` receives what is wrong with them."""

    def __init__(self) -> None:
        self.faults: list[Fault] = []

    def fault(self, thing: Thing, where: str, value: Any, message: str, unit: str = "") -> None:
        """Note a fault of a property of an element."""
        place = f"{thing.file}, {thing.label()}, property BranchRouter_{where}"
        self.faults.append(Fault(place, "", "" if value is None else value_text(value), unit, message))

    def beside(self, thing: Thing, which: str, text: Any) -> dict[str, Any] | None:
        """Unpack the fields that a record has besides its geometry; they hold its id."""
        where = f"{which}.Beside"
        try:
            record = unpacked(str(text or ""))
        except ValueError as error:
            self.fault(thing, where, text, f"cannot be read as a record: {error}")
            return None
        name = record.get("id")
        if not isinstance(name, str) or not name:
            self.fault(thing, where, name, "the record's id expected")
            return None
        return record

    def settings(self, files: list[FileFound]) -> dict[str, Any]:
        """Give what belongs to the scenario as a whole; all files that say it must say the same."""
        found: dict[str, Any] = {}
        said_by = ""
        for each in files:
            if each.settings is None:
                continue
            place = f"{each.file}, IfcProject, property BranchRouter_Scenario.Settings"
            try:
                here = settings_of(str(each.settings))
            except ValueError as error:
                self.faults.append(
                    Fault(place, "", value_text(each.settings), "", f"cannot be read: {error}")
                )
                continue
            if said_by and here != found:
                self.faults.append(Fault(place, "", "", "", f"says otherwise than {said_by}"))
            found, said_by = (found, said_by) if said_by else (here, each.file)
        return found

    def head(self, head: FoundHead) -> DrawnHead | None:
        """Give a head of ours; its inlet is where it is placed."""
        record = self.beside(head, "Head", head.ours)
        if record is None:
            return None
        kind = record.pop("kind", "pendent")
        if not isinstance(kind, str) or kind not in KINDS:
            self.fault(head, "Head.Beside", kind, f"one of {', '.join(KINDS)} expected")
            return None
        thread = record.pop("thread", 15)
        facing = record.pop("facing", None)
        try:
            size = parse_size(thread)
            turned = None if facing is None else float(facing)
        except (ValueError, TypeError) as error:
            self.fault(head, "Head.Beside", thread, str(error))
            return None
        name = str(record.pop("id"))
        record |= {"kind": kind, "thread": size}
        return DrawnHead(name, rounded(head.at), KINDS[kind], size, "", turned, record)

    def pipe(self, pipe: FoundPipe) -> DrawnPipe | None:
        """Give a piece of a route of ours."""
        values = pipe.piece or {}
        name, role, size = (values.get(key) for key in ("Piece", "Role", "Size"))
        if not isinstance(name, str) or not name:
            self.fault(pipe, "Piece.Piece", name, "the piece's id expected")
            return None
        if role not in ROLES:
            self.fault(pipe, "Piece.Role", role, f"one of {', '.join(ROLES)} expected")
            return None
        if not isinstance(size, int) or isinstance(size, bool) or not 0 <= size <= 1000:
            self.fault(pipe, "Piece.Size", size, "a nominal size expected", "DN")
            return None
        if pipe.a is None or pipe.b is None:
            return None
        line = str(values.get("Run") or "") if role != "main" else ""
        return DrawnPipe(name, rounded(pipe.a), rounded(pipe.b), size, str(role), line)

    def solid(self, thing: FoundSolid) -> dict[str, Any] | None:
        """Give the record of an obstruction, ceiling or keep-out of ours."""
        which = {"obstructions": "Obstruction", "ceilings": "Ceiling", "keep_out": "KeepOut"}[thing.which]
        record = self.beside(thing, which, thing.ours)
        if record is None:
            return None
        if len(thing.parts) != 1:
            self.fault(thing, which, str(len(thing.parts)), "a body of one part expected", "parts")
            return None
        plan, low, high = thing.parts[0]
        record["polygon"] = [list(corner) for corner in plan]
        if thing.which == "ceilings":
            record["elevation"] = high
        elif thing.which == "keep_out" and record.get("elevations", 0) is None:
            del record["elevations"]
        else:
            record["elevations"] = [low, high]
        return record

    def obstruction(self, thing: FoundSolid) -> DrawnSolid | None:
        """Give an obstruction of ours, to be taken as it stands."""
        record = self.solid(thing)
        if record is None:
            return None
        plan, low, high = thing.parts[0]
        kind, clearance = str(record.get("kind", "obstruction")), record.get("clearance")
        if clearance is not None and (isinstance(clearance, bool) or not isinstance(clearance, int | float)):
            self.fault(thing, "Obstruction.Beside", clearance, "a clearance in mm expected", "mm")
            return None
        guid = record.get("guid")
        if guid is not None and not isinstance(guid, str):
            self.fault(thing, "Obstruction.Beside", guid, "a GlobalId expected")
            return None
        return DrawnSolid(str(record["id"]), kind, plan, low, high, clearance, exact=True, guid=guid)

    def runs(self, pipes: list[FoundPipe]) -> list[dict[str, Any]]:
        """Put the stretches of runs together, in the order in which their first ones stand in the files."""
        stretches: dict[str, dict[int, FoundPipe]] = {}
        for pipe in pipes:
            values = pipe.run or {}
            name, number = values.get("Run"), values.get("Stretch")
            if not isinstance(name, str) or not name:
                self.fault(pipe, "Run.Run", name, "the run's id expected")
            elif not isinstance(number, int) or isinstance(number, bool) or number < 0:
                self.fault(pipe, "Run.Stretch", number, "the number of the stretch expected, from 0")
            elif number in stretches.get(name, {}):
                self.fault(pipe, "Run.Stretch", number, f"run {name} has this stretch twice")
            else:
                stretches.setdefault(name, {})[number] = pipe
        found = [self._run(name, parts) for name, parts in stretches.items()]
        return [record for record in found if record is not None]

    def _run(self, name: str, parts: dict[int, FoundPipe]) -> dict[str, Any] | None:
        order = [parts[number] for number in sorted(parts)]
        first = order[0]
        missing = next((number for number in range(len(parts)) if number not in parts), None)
        if missing is not None:
            self.fault(first, "Run.Stretch", sorted(parts), f"run {name} lacks its stretch {missing}")
            return None
        record = self.beside(first, "Run", (first.run or {}).get("Beside"))
        if record is None:
            return None
        if record["id"] != name:
            self.fault(first, "Run.Beside", record["id"], f"the id of run {name} expected")
            return None
        points: list[tuple[float, float, float]] = []
        for number, pipe in enumerate(order):
            if pipe.drawn is None:
                return None
            a, b = pipe.drawn
            if (pipe.run or {}).get("Beside") != (first.run or {}).get("Beside"):
                self.fault(pipe, "Run.Beside", number, f"says otherwise than stretch 0 of run {name}")
                return None
            if points and dist(points[-1], a) > JOINED_MM:
                away = round(dist(points[-1], a), 1)
                self.fault(
                    pipe, "Run.Stretch", away, f"off the end of the stretch before it, run {name}", "mm"
                )
                return None
            points += [b] if points else [a, b]
        record["plan"] = [[round(x, DIGITS), round(y, DIGITS)] for x, y, _ in points]
        record["elevation"] = round(points[0][2], DIGITS)
        return record


def rounded(point: tuple[float, float, float]) -> tuple[float, float, float]:
    """Give a point to a millionth of a mm, without the noise of placements (and no -0)."""
    x, y, z = (round(value, DIGITS) + 0.0 for value in point)
    return (x, y, z)
