"""Random small lines, and random graphs that no geometry would give."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING, Any

import numpy as np

from router.building.prepare import prepare
from router.building.tree import build_tree
from router.profiles.graph import Arc, Item, Prices, RunGraph
from router.route.totals import prices_of
from router.scenario import parse_scenario

if TYPE_CHECKING:
    from router.building.graphs import BuiltGraph
    from router.scenario.model import Scenario

PRICES = Prices(
    unserved=200_000.0, fitting=1000.0, level_change=500.0, drain=3000.0, hanger=300.0, pipe=20.0,
    reducer=3.0, hose=1500.0, moved=0.5, style=10.0, large_drain=1500.0, wet_drain=700.0, price=10.0,
    drain_price=40.0, large_drain_price=60.0, wet_drain_price=9.0,
)  # fmt: skip


def beam(rng: np.random.Generator, name: str, x: float) -> dict[str, Any]:
    width, low = float(rng.uniform(60, 250)), float(rng.uniform(2950, 3250))
    return {
        "id": name,
        "polygon": [[x, -900], [x + width, -900], [x + width, 900], [x, 900]],
        "elevations": [low, low + float(rng.uniform(100, 400))],
    }


def line(seed: int, *, heads: int = 0) -> Scenario:
    """One run with a few heads and a beam or two; wet or dry, level or pitched, mixed rules."""
    rng = np.random.default_rng(seed)
    count = heads or int(rng.integers(2, 5))
    dry = seed % 3 == 1
    pitch = [0.0, 0.0, 4.0][seed % 3 if seed % 2 else 0] if not dry else [0.0, 4.0][seed % 2]
    kind = ["pendent", "upright"][int(rng.integers(2))] if not dry else "upright"
    x = 0.0
    placed: list[dict[str, Any]] = []
    for h in range(count):
        if h and placed[-1]["at"][1] and rng.random() < 0.3:  # opposite the last one, or nearly
            x += float(rng.choice([0.0, 0.0, 40.0]))
            lateral = -float(np.sign(placed[-1]["at"][1]) * rng.uniform(100, 900))
        else:
            x += float(rng.uniform(110, 900))
            under = rng.random() < 0.2
            lateral = 0.0 if under else float(rng.choice([-1, 1]) * rng.uniform(60, 900))
        z = float(rng.uniform(2500, 2950)) if kind == "pendent" else float(rng.uniform(3150, 3600))
        placed.append({"id": f"H{h}", "at": [round(x), round(lateral), round(z)], "kind": kind})
    length = x + float(rng.uniform(50, 300))
    band = float(rng.choice([0.0, 60.0, 200.0, 350.0]))
    beams = [beam(rng, f"beam {k}", float(rng.uniform(50, x))) for k in range(int(rng.integers(1, 3)))]
    # the reader refuses a head inside an obstruction
    beams = [
        b
        for b in beams
        if not any(b["polygon"][0][0] - 1 < h["at"][0] < b["polygon"][1][0] + 1 for h in placed)
    ]
    return parse_scenario(
        {
            "name": f"line {seed}",
            "system": {"kind": "dry" if dry else "wet", "pitch_branch": pitch},
            "runs": [
                {
                    "id": "B",
                    "plan": [[0, 0], [length, 0]],
                    "elevation": 3000,
                    "band": [3000 - band, 3000 + band],
                    "size": 32,
                }
            ],
            "heads": placed,
            "obstructions": beams,
            "rules": {"slide": 60.0, "station_step": 60.0, "allow_cross": bool(rng.integers(2))},
        },
        "made",
    )


def graph_of(scenario: Scenario) -> tuple[RunGraph, Prices]:
    """The graph of a scenario's first run, and the scenario's prices."""
    prepared = prepare(scenario)
    return build_tree(prepared, 0).graphs[0].graph, prices_of(scenario)


def thinned(graph: RunGraph, arcs: int, seed: int) -> RunGraph:
    """A graph with that many of its arcs, at least one of each kind that it has."""
    if len(graph.arcs) <= arcs:
        return graph
    rng = np.random.default_rng(seed)
    kinds: dict[tuple[object, ...], list[int]] = {}
    for k in rng.permutation(len(graph.arcs)):
        arc = graph.arcs[k]
        kinds.setdefault((arc.kind, arc.items, arc.ends), []).append(int(k))
    queues = list(kinds.values())
    kept: list[int] = []
    while len(kept) < arcs:
        for queue in queues:
            if queue and len(kept) < arcs:
                kept.append(queue.pop())
    made = replace(graph, arcs=[graph.arcs[k] for k in sorted(kept)])
    made.index_arcs()
    return made


def thin_built(built: BuiltGraph, arcs: int, seed: int) -> BuiltGraph:
    return replace(built, graph=thinned(built.graph, arcs, seed))


def graph_at_random(seed: int) -> RunGraph:
    """Few positions and levels, arcs between any of them; harder on bookkeeping than real lines."""
    rng = np.random.default_rng(seed)
    n, levels, items = int(rng.integers(3, 8)), int(rng.integers(1, 4)), int(rng.integers(1, 5))
    positions = np.concatenate([[0], np.cumsum(rng.integers(10_000, 900_000, n - 1))]).astype(np.int64)
    arcs: list[Arc] = []
    for _ in range(int(rng.integers(8, 22))):
        i = int(rng.integers(0, n - 1))
        j = int(rng.integers(i + 1, n))
        la, lb = (int(v) for v in rng.integers(0, levels, 2))
        amounts = (
            float(rng.integers(0, 4)), float(la != lb), 0.0, float(rng.integers(0, 2)),
            float(rng.uniform(0, 2000)), float(rng.integers(0, 2)), 0.0,
            float(rng.random() < 0.1), float(rng.random() < 0.1), float(rng.uniform(0, 30)), 0.0,
        )  # fmt: skip
        a, b = int(positions[i]), int(positions[j])
        if rng.random() < 0.7:
            served = tuple(sorted({int(v) for v in rng.integers(0, items, int(rng.integers(1, 3)))}))
            ends = bool(rng.random() < 0.4)
            style = str(rng.choice(["side_arm", "return_bend"]))
            empties = bool(rng.random() < 0.5)
            arcs.append(Arc("takeoff", a, b, la, la, amounts, served, (), style, ends, None, empties))
        else:
            arcs.append(Arc("offset" if la != lb else "bend", a, b, la, lb, amounts))
    level_ok = rng.random((n - 1, levels)) < 0.85
    source = np.where(rng.random(levels) < 0.8, rng.uniform(0, 300, levels), -1.0)
    price = np.cumsum(rng.uniform(0, 20, n)) if rng.random() < 0.5 else None
    graph = RunGraph(
        0,
        positions,
        level_ok,
        arcs,
        [Item(f"H{k}", 1) for k in range(items)],
        bool(rng.random() < 0.7),
        source,
        bool(rng.integers(2)),
        price,
    )
    if rng.random() < 0.5:  # as where an older route is kept
        for k, arc in enumerate(arcs):
            arcs[k] = replace(arc, amounts=(*arc.amounts[:-1], float(rng.choice([0, 0, 2500, 9000]))))
        graph.begins = rng.choice([0.0, 4000.0], levels)
        places = [*rng.integers(0, positions[-1] + 1, 2).tolist(), int(rng.choice(positions))]
        graph.crossed = tuple((int(at), float(rng.choice([1500, 8000]))) for at in places)
    graph.index_arcs()
    return graph


def graph_of_short_lives(seed: int) -> RunGraph:
    """Items that open and close one after the other, and changes of level that jump over them.

    What an item weighs differs, as a child run stands for all heads below it.
    """
    rng = np.random.default_rng(seed)
    n, levels = int(rng.integers(8, 13)), 2
    items = int(rng.integers(3, 6))
    positions = np.concatenate([[0], np.cumsum(rng.integers(10_000, 90_000, n - 1))]).astype(np.int64)
    arcs: list[Arc] = []

    def cost() -> tuple[float, ...]:
        return (float(rng.integers(0, 4)), 0.0, 0.0, 0.0, float(rng.uniform(0, 900)), *[0.0] * 6)

    for item in range(items):
        at = int(rng.integers(0, n - 2))
        for _ in range(int(rng.integers(1, 4))):
            i = min(at + int(rng.integers(0, 2)), n - 2)
            la = int(rng.integers(levels))
            ends = bool(rng.random() < 0.3)
            arcs.append(
                Arc("takeoff", int(positions[i]), int(positions[i + 1]), la, la, cost(), (item,), ends=ends)
            )
    for _ in range(int(rng.integers(3, 9))):
        i = int(rng.integers(0, n - 3))
        j = int(rng.integers(i + 1, n))
        la = int(rng.integers(levels))
        arcs.append(Arc("offset", int(positions[i]), int(positions[j]), la, 1 - la, cost()))
    weights = rng.integers(1, 5, items)
    graph = RunGraph(
        0,
        positions,
        np.asarray(rng.random((n - 1, levels)) < 0.9),
        arcs,
        [Item(f"H{k}", int(w)) for k, w in enumerate(weights)],
        bool(rng.integers(2)),
        np.zeros(levels),
    )
    graph.index_arcs()
    return graph
