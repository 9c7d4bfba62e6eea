"""Every entity of a drawing with its layer, blocks opened, and a count of what is passed over."""

from __future__ import annotations

import math
from collections import Counter
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any, Final

from router.readers.dxf.carrying import readable
from router.readers.dxf.load import stop
from router.readers.spelled.k_factors import KFactors
from router.scenario.errors import Fault, number_text

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator
    from pathlib import Path

    from ezdxf.document import Drawing

    from router.readers.dxf.mapping import DxfMapping, LayerMapping

MAX_ENTITIES: Final = 500_000
"""More than this, blocks opened, is no floor of a building but an accident or an attack."""

FEW_NAMED: Final = 3
"""So many of the entities that are passed over for one reason are named."""
MAX_DEPTH: Final = 12
MANY: Final = 2
"""An insert on a layer of heads in whose block this many inserts lie is a group of heads, not a head."""


@dataclass(frozen=True)
class Found:
    """An entity, the layer that counts for it, what the mapping says of that, and where it stands."""

    entity: Any
    layer: str
    entry: LayerMapping
    handle: str
    block: str = ""

    @property
    def kind(self) -> str:
        """Type of the entity, as DXF calls it."""
        return str(self.entity.dxftype())

    @property
    def name(self) -> str:
        """What it is called in a message."""
        where = f" in block {self.block}" if self.block else ""
        return readable(f"{self.kind} {self.handle}{where}")


@dataclass
class Reading:
    """One drawing being read. ``factor``: mm in one unit of it; ``ours``: it carries records of ours."""

    file: Path
    doc: Drawing
    mapping: DxfMapping
    factor: float
    unit: str
    notes: list[str] = field(default_factory=list)
    skipped: Counter[str] = field(default_factory=Counter)
    faults: list[Fault] = field(default_factory=list)
    budget: int = field(default_factory=lambda: MAX_ENTITIES)
    inside: dict[str, frozenset[str]] = field(default_factory=dict)
    ours: bool = False
    unnamed: Counter[str] = field(default_factory=Counter)
    leaves: dict[str, int] = field(default_factory=dict)
    k_factors: KFactors = field(default_factory=KFactors)
    places: dict[str, list[str]] = field(default_factory=dict)

    def skip(self, what: str, layer: str, why: str) -> None:
        """Count something that is passed over."""
        self.skipped[f"{what} on layer {layer}: {why}"] += 1

    def lose(self, found: Found, why: str, at: Iterable[float] | None = None) -> None:
        """Count an entity that was wanted and is passed over; the first few are named.

        Parameters
        ----------
        at
            Where it lies, mm.
        """
        self.skip(found.kind, found.layer, why)
        named = self.places.setdefault(f"{found.kind} on layer {found.layer}: {why}", [])
        if len(named) < FEW_NAMED:
            place = self.place(at) if at is not None else ""
            named.append(readable(f"{found.handle} at {place}" if place else found.handle))

    def place(self, at: Iterable[float]) -> str:
        """Write a place in plan, mm, as the drawing has it; empty if it is none."""
        numbers = [float(value) / self.factor for value in at][:2]
        if not all(math.isfinite(value) for value in numbers):
            return ""
        return f"{', '.join(number_text(round(value, 3)) for value in numbers)} {self.unit}"

    def fault(self, found: Found, message: str, value: str = "", unit: str = "") -> None:
        """Note what is wrong with an entity."""
        self.faults.append(
            Fault(f"layer {found.layer}", found.name, readable(value), unit, readable(message))
        )

    def flat(self, what: str, guesses: dict[str, list[bool]]) -> None:
        """Note by layer what is drawn at 0 where nothing says its elevation, were it one among many."""
        for layer, each in guesses.items():
            if any(each):
                some = "" if all(each) else f" (of {len(each)} on the layer)"
                message = f"{what} are drawn flat, at 0, and no elevation is given: elevation in the mapping"
                item = f"{sum(each)} {what}{some}"
                self.faults.append(Fault(f"layer {layer}", item, "0", self.unit, f"{message} expected"))

    def spend(self, count: int, item: str) -> None:
        """Count entities; end where a small file would blow up.

        Raises
        ------
        ScenarioError
        """
        self.budget -= count
        if self.budget < 0:
            message = f"more than {MAX_ENTITIES} entities once its blocks are opened"
            raise stop(self.file, message, item=item)

    def told(self) -> list[str]:
        """Give a sentence for each kind of thing that was passed over."""
        notes = []
        for what, count in sorted(self.skipped.items()):
            named = self.places.get(what, [])
            more = "; ..." if count > len(named) else ""
            notes.append(f"{count} {what}" + (f" ({'; '.join(named)}{more})" if named else ""))
        return notes


def walk(reading: Reading) -> Iterator[Found]:
    """Yield what the mapping wants from model space, in the order of the file.

    Heads come as inserts, points or circles; other inserts are opened. Entities of
    layer 0 in a block are on their insert's layer.
    """
    hidden = _Hidden(reading.doc)
    yield from _walk(reading, reading.doc.modelspace(), None, (), "", hidden)


class _Hidden:
    """Layers that are off or frozen."""

    def __init__(self, doc: Drawing) -> None:
        self.states: dict[str, str] = {}
        for layer in doc.layers:
            state = "frozen" if layer.is_frozen() else "off" if layer.is_off() else ""
            self.states[str(layer.dxf.name).lower()] = state

    def state(self, layer: str) -> str:
        return self.states.get(layer.lower(), "")


def _walk(
    reading: Reading,
    entities: Iterable[Any],
    outer: str | None,
    blocks: tuple[str, ...],
    handle: str,
    hidden: _Hidden,
) -> Iterator[Found]:
    for entity in entities:
        kind = entity.dxftype()
        if not hasattr(entity.dxf, "layer"):
            continue
        layer = readable(str(entity.dxf.get("layer", "0")))
        if outer is not None and layer == "0":
            layer = outer
        entry = reading.mapping.layer(layer)
        state = hidden.state(layer)
        if state == "frozen" or (state == "off" and kind != "INSERT"):
            if entry is None or entry.holds != "nothing":
                reading.skip(kind, layer, f"the layer is {state}")
            continue
        if entity.dxf.get("invisible", 0):
            reading.skip(kind, layer, "invisible")
            continue
        own = handle or f"#{entity.dxf.get('handle') or '?'}"
        if kind == "INSERT":
            yield from _insert(reading, entity, (layer, entry), blocks, own, hidden)
            continue
        reading.spend(1, own)
        if entry is None:
            reading.skip(kind, layer, "the mapping does not name the layer")
            reading.unnamed[layer] += 1
        elif entry.holds != "nothing":
            yield Found(entity, layer, entry, own, blocks[-1] if blocks else "")


def _matters(reading: Reading, block: Any, layer: str) -> bool:
    """Tell whether anything in a block is on a layer that the mapping wants."""
    for name in _layers(reading, block):
        entry = reading.mapping.layer(layer if name == "0" else name)
        if entry is not None and entry.holds != "nothing":
            return True
    return False


def _layers(reading: Reading, block: Any) -> frozenset[str]:
    """Give the layers of what is in a block, and in the blocks in it."""
    name = str(block.name)
    if name not in reading.inside:
        found: set[str] = set()
        seen = {name}
        waiting = [block]
        while waiting:
            for each in waiting.pop():
                found.add(str(each.dxf.get("layer", "0")))
                inner = each.block() if each.dxftype() == "INSERT" else None
                if inner is not None and str(inner.name) not in seen:
                    seen.add(str(inner.name))
                    waiting.append(inner)
        reading.inside[name] = frozenset(found)
    return reading.inside[name]


def _leaves(block: Any, depth: int) -> int:
    """Count the innermost inserts of a block, up to :data:`MANY`."""
    total = 0
    for each in block:
        if each.dxftype() == "INSERT":
            inner = each.block()
            deeper = _leaves(inner, depth + 1) if inner is not None and depth < MAX_DEPTH else 0
            total += max(1, deeper)
            if total >= MANY:
                break
    return total


def _insert(
    reading: Reading,
    insert: Any,
    on: tuple[str, LayerMapping | None],
    blocks: tuple[str, ...],
    handle: str,
    hidden: _Hidden,
) -> Iterator[Found]:
    layer, entry = on
    name = readable(str(insert.dxf.get("name", "")))
    block = insert.block()
    if block is None or block.block is None:
        reading.skip("INSERT", layer, f"its block {name} is missing")
        return
    if block.block.is_xref or block.block.is_xref_overlay:
        reading.skip("INSERT", layer, f"{name} is another drawing, which is not read")
        return
    if name in blocks:
        reading.skip("INSERT", layer, f"block {name} holds itself")
        return
    if len(blocks) >= MAX_DEPTH:
        reading.skip("INSERT", layer, f"in blocks {MAX_DEPTH} deep")
        return
    if entry is not None and entry.holds == "nothing":
        return
    heads = entry is not None and entry.holds == "heads"
    if not heads and not _matters(reading, block, layer):
        reading.skip("INSERT", layer, "the mapping names none of its block's layers")
        reading.unnamed[layer] += 1
        return
    if heads and name not in reading.leaves:
        reading.leaves[name] = _leaves(block, 0)
    nested = reading.leaves.get(name, 0) if heads else 0
    count = max(1, int(insert.mcount))
    item = f"INSERT {handle} of block {name}"
    reading.spend(count if heads and nested < MANY else count * max(1, len(block)), item)
    for single in insert.multi_insert() if count > 1 else (insert,):
        if heads and nested < MANY and entry is not None:
            yield Found(single, layer, entry, handle, blocks[-1] if blocks else "")
            continue
        try:
            inner = list(single.virtual_entities())
        except MemoryError:
            raise
        except Exception as error:  # a damaged block must not cost all the rest
            reading.skip("INSERT", layer, f"block {name} cannot be opened ({type(error).__name__})")
            continue
        yield from _walk(reading, inner, layer, (*blocks, name), handle, hidden)
