"""Small straight lines made by hand: tees with drops, threaded, along +x at 3000 mm."""

from __future__ import annotations

from typing import Any

from router.hangers.place import place_hangers
from router.route.model import Fitting, Piece, Route, Takeoff
from router.scenario.model import Scenario

FT = 304.8
IN = 25.4
Z = 3000.0


def beam(name: str, low: float, high: float, kind: str = "beam", under: float = 3200.0) -> dict[str, Any]:
    """A member across the line between two stations."""
    polygon = [(low, -1000.0), (high, -1000.0), (high, 1000.0), (low, 1000.0)]
    return {"id": name, "kind": kind, "polygon": polygon, "elevations": (under, under + 300.0)}


class Line:
    """One run; ``stations`` of its heads, the sizes of the sections up to them, arms (``y``) at heads."""

    def __init__(
        self,
        stations: list[float],
        sizes: list[int],
        arms: dict[int, float] | None = None,
        kind: str = "pendent",
        obstructions: list[dict[str, Any]] | None = None,
        sprig: float = 300.0,
        **more: Any,
    ) -> None:
        arms = arms or {}
        self.pieces: list[Piece] = []
        self.fittings: list[Fitting] = []
        self.takeoffs: list[Takeoff] = []
        heads: list[dict[str, Any]] = []
        results: list[dict[str, Any]] = []
        up = 1.0 if kind == "upright" else -1.0
        before: str | None = None
        at = 0.0
        for k, (x, dn) in enumerate(zip(stations, sizes, strict=True), 1):
            last, arm = k == len(stations), arms.get(k, 0.0)
            way = (0.0, 1.0, 0.0) if arm else (0.0, 0.0, up)
            ways = [(-1.0, 0.0, 0.0), way] if last else [(-1.0, 0.0, 0.0), (1.0, 0.0, 0.0), way]
            after = 25 if last else sizes[k]
            fit = "elbow_90" if last else "tee"
            self._fit(f"F{k}", fit, (x, 0.0, Z), ways, [dn, 25] if last else [dn, after, 25], f"T{k}")
            self._pipe(f"P{k}", "run", "R", (at, 0.0, Z), (x, 0.0, Z), dn, (before, f"F{k}"))
            inlet = (x, arm, Z + up * sprig)
            own = []
            start, name = (x, 0.0, Z), f"F{k}"
            if arm:
                self._fit(f"E{k}", "elbow_90", (x, arm, Z), [(0, -1, 0), (0, 0, up)], [25, 25], f"T{k}")
                own.append(self._pipe(f"A{k}", "arm", f"T{k}", start, (x, arm, Z), 25, (name, f"E{k}")))
                start, name = (x, arm, Z), f"E{k}"
            upright = "sprig" if up > 0 else "drop"
            own.append(self._pipe(f"V{k}", upright, f"T{k}", start, inlet, 25, (name, None)))
            heads.append({"id": f"H{k}", "at": inlet, "kind": kind, "thread": 25})
            results.append(
                {
                    "id": f"H{k}",
                    "served": True,
                    "takeoff": f"T{k}",
                    "run": "R",
                    "style": "drop",
                    "inlet": inlet,
                }
            )
            self.takeoffs.append(
                Takeoff(
                    id=f"T{k}", run="R", style="drop", station=x, level=Z, side="left", heads=[f"H{k}"],
                    ends_run=last, occupies=(x - 40, x + 40), pieces=own,
                )
            )  # fmt: skip
            before, at = f"F{k}", x
        run = {"id": "R", "plan": [(0.0, 0.0), (at, 0.0)], "elevation": Z}
        self.given: dict[str, Any] = {
            "name": "by hand", "runs": [run], "heads": heads, "obstructions": obstructions or [], **more,
        }  # fmt: skip
        self.results, self.end = results, at

    def _fit(self, name: str, kind: Any, at: Any, ways: Any, sizes: list[int], owner: str) -> None:
        self.fittings.append(
            Fitting(
                id=name, kind=kind, owner=owner, run="R", at=at, directions=ways, sizes=sizes,
                counts_as="fitting",
            )
        )  # fmt: skip

    def _pipe(self, name: str, kind: Any, owner: str, a: Any, b: Any, dn: int, ends: Any) -> str:
        length = sum(abs(p - q) for p, q in zip(a, b, strict=True))
        self.pieces.append(
            Piece(
                id=name, kind=kind, owner=owner, run="R", start=a, end=b, dn=dn, length=length,
                make_up=length - 40, fittings=ends,
            )
        )  # fmt: skip
        return name

    def scenario(self) -> Scenario:
        return Scenario.model_validate(self.given)

    def route(self) -> Route:
        nothing: dict[str, Any] = dict.fromkeys(
            ("heads", "served", "fittings_counted", "takeoff_fittings", "reducers", "level_changes", "drains",
             "arm_hangers", "hoses", "pipe_total_m", "fittings_per_head"), 0,
        )  # fmt: skip
        run = {
            "id": "R", "supply_level": Z, "pitch": 0.0, "built_to": self.end, "level_changes": [],
            "profile": [{"station": 0.0, "level": Z}, {"station": self.end, "level": Z}],
            "takeoffs": [t.id for t in self.takeoffs],
        }  # fmt: skip
        return Route.model_validate(
            {
                "scenario": "by hand", "scenario_sha256": "", "status": "feasible",
                "objective": {"value": 0, "bound": 0, "gap": 0, "terms": []},
                "proof": {"scope": "", "closed_by": "", "candidates": 0, "levels": 0, "stations": 0},
                "counts": {**nothing, "fittings": {}, "styles": {}, "pipe_m": {}},
                "heads": self.results, "takeoffs": [t.model_dump() for t in self.takeoffs], "runs": [run],
                "pieces": [p.model_dump() for p in self.pieces],
                "fittings": [f.model_dump() for f in self.fittings],
            }
        )  # fmt: skip

    def hung(self) -> Route:
        """The route with its hangers placed."""
        route = self.route()
        return route.model_copy(update={"hangers": place_hangers(self.scenario(), route)})


def on_run(route: Route) -> list[float]:
    """Stations of the hangers on the run's pipe, mm."""
    return [hanger.at[0] for hanger in route.hangers if hanger.kind == "run"]
