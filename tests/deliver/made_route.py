"""Makes a plausible route by hand, without any search: something to draw in tests.

It keeps no rules (no clearance, no make-up); it only has the right records.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, field
from itertools import pairwise
from typing import TYPE_CHECKING, Any

from router.geometry.plan import PlanLine
from router.route.model import (
    Attempt,
    Counts,
    Fitting,
    HeadResult,
    LevelChange,
    Objective,
    Piece,
    ProfilePoint,
    Proof,
    Route,
    RunResult,
    Takeoff,
)

if TYPE_CHECKING:
    from router.scenario.model import Head, Run, Scenario

Xyz = tuple[float, float, float]


@dataclass
class Maker:
    """Collects the records of one route."""

    scenario: Scenario
    offsets: dict[str, tuple[float, float]] = field(default_factory=dict)
    """By run: the station at which a 45 degree offset begins, and the level after it."""
    unserved: frozenset[str] = frozenset()
    pieces: list[Piece] = field(default_factory=list)
    fittings: list[Fitting] = field(default_factory=list)
    takeoffs: list[Takeoff] = field(default_factory=list)
    heads: list[HeadResult] = field(default_factory=list)
    runs: list[RunResult] = field(default_factory=list)

    def piece(self, kind: Any, owner: str, run: str, a: Xyz, b: Xyz, dn: int) -> str:
        """Add a piece."""
        name = f"p{len(self.pieces)}"
        length = math.dist(a, b)
        self.pieces.append(
            Piece(
                id=name,
                kind=kind,
                owner=owner,
                run=run,
                start=a,
                end=b,
                dn=dn,
                length=length,
                make_up=length - 50.0,
                fittings=(None, None),
            )
        )
        return name

    def fitting(self, kind: Any, owner: str, run: str, at: Xyz, dn: int) -> str:
        """Add a fitting."""
        name = f"f{len(self.fittings)}"
        counts: Any = "reducer" if kind == "reducer" else "fitting"
        self.fittings.append(
            Fitting(
                id=name,
                kind=kind,
                owner=owner,
                run=run,
                at=at,
                directions=[(1.0, 0.0, 0.0)],
                sizes=[dn],
                counts_as=counts,
            )
        )
        return name

    def level(self, run: Run, station: float) -> float:
        """Level of a run at a station."""
        if run.id in self.offsets:
            start, level = self.offsets[run.id]
            rise = abs(level - run.elevation)
            if station >= start:
                share = min((station - start) / rise, 1.0)
                return run.elevation + share * (level - run.elevation)
        return run.elevation

    def head(self, head: Head, run: Run, line: PlanLine, pitch: float) -> tuple[float, str]:
        """Add one head's takeoff. Returns its station and id."""
        station = line.nearest(head.at[:2])[0]
        level = self.level(run, station)
        z = level + pitch * station / 1000
        foot = line.point(station)
        out: Xyz = (float(foot[0]), float(foot[1]), z)
        at = head.at
        lateral = float(line.section_at(station).local([[at[0], at[1]]])[0, 1])  # type: ignore[arg-type]
        name = f"t-{head.id}"
        beside = abs(lateral) > 1.0
        raw = self.scenario.system.water == "raw"
        last: Any = "sprig" if head.kind == "upright" else "barrel" if head.dry else "drop"
        arm_z, side = z, "left" if lateral > 0 else "right"
        if head.kind == "upright" or raw:
            side = "top"
            style = "return_bend" if raw else "raised_arm" if beside else "sprig"
            arm_z = z + 120
        else:
            style = "side_arm" if beside else "straight_drop"
            side = side if beside else "bottom"
        pieces = []
        fittings = [self.fitting("tee", name, run.id, out, 50)]
        here = out
        if style in ("return_bend", "raised_arm"):
            up = (out[0], out[1], arm_z)
            pieces.append(self.piece("nipple", name, run.id, out, up, 25))
            fittings.append(self.fitting("elbow_90", name, run.id, up, 25))
            here = up
        if beside:
            end = (at[0], at[1], here[2])
            pieces.append(self.piece("arm", name, run.id, here, end, 25))
            fittings.append(self.fitting("tee" if head.dry else "elbow_90", name, run.id, end, 25))
            here = end
        pieces.append(self.piece(last, name, run.id, here, at, 25))
        if not head.dry:
            fittings.append(self.fitting("reducer", name, run.id, at, 25))
        self.takeoffs.append(
            Takeoff(
                id=name,
                run=run.id,
                style=style,
                station=station,
                level=level,
                side=side,  # type: ignore[arg-type]
                heads=[head.id],
                arm_level=arm_z if beside else None,
                occupies=(station - 60, station + 60),
                pieces=pieces,
                fittings=fittings,
            )
        )
        self.heads.append(
            HeadResult(id=head.id, served=True, takeoff=name, run=run.id, style=style, inlet=at)
        )
        return station, name

    def run(self, run: Run) -> None:
        """Add a run with its heads and children."""
        line = PlanLine(run.plan)
        pitch = 4.0 if self.scenario.system.kind == "dry" else 0.0
        stops: list[tuple[float, str]] = []
        for head in self.scenario.heads:
            if (head.run or self.scenario.runs[-1].id) != run.id:
                continue
            if head.id in self.unserved:
                attempt = Attempt(
                    style="side_arm",
                    run=run.id,
                    station=1.0,
                    rule="outlet_spacing",
                    against="H02",
                    has=58.0,
                    needs=104.0,
                    short=46.0,
                    text="side arm at station 3,420: 46 mm short of outlet spacing (needs 104, has 58)",
                )
                self.heads.append(HeadResult(id=head.id, served=False, inlet=head.at, stopped_by=[attempt]))
            else:
                stops.append(self.head(head, run, line, pitch))
        for child in self.scenario.runs:
            if child.supply == run.id:
                station = line.nearest(child.plan[0])[0]
                name = f"t-{child.id}"
                foot = line.point(station)
                level = self.level(run, station)
                at = (float(foot[0]), float(foot[1]), level + pitch * station / 1000)
                self.takeoffs.append(
                    Takeoff(
                        id=name,
                        run=run.id,
                        style="run_takeoff",
                        station=station,
                        level=level,
                        side="left",
                        child_runs=[child.id],
                        occupies=(station - 80, station + 80),
                        pieces=[],
                        fittings=[self.fitting("tee", name, run.id, at, 65)],
                    )
                )
                stops.append((station, name))
        stops.sort()
        corners = [0.0] + [s for s, _ in stops]
        changes = []
        profile = [ProfilePoint(station=0.0, level=run.elevation)]
        if run.id in self.offsets:
            start, level = self.offsets[run.id]
            end = start + abs(level - run.elevation)
            corners += [start, end]
            names = []
            for s in (start, end):
                foot = line.point(s)
                z = self.level(run, s) + pitch * s / 1000
                names.append(
                    self.fitting("elbow_45", run.id, run.id, (float(foot[0]), float(foot[1]), z), 50)
                )
                profile.append(ProfilePoint(station=s, level=self.level(run, s)))
            changes.append(
                LevelChange(
                    id=f"{run.id}-c1",
                    stations=(start, end),
                    levels=(run.elevation, level),
                    angle=45,
                    at_bend=False,
                    fittings=names,
                    pieces=[],
                )
            )
        corners = sorted(set(corners))
        built = corners[-1]
        profile.append(ProfilePoint(station=built, level=self.level(run, built)))
        for k, (a, b) in enumerate(pairwise(corners)):
            p, q = line.point(a), line.point(b)
            za, zb = (self.level(run, s) + pitch * s / 1000 for s in (a, b))
            dn = 65 if k < len(corners) / 3 else 50 if k < len(corners) * 2 / 3 else 32
            self.piece(
                "run", run.id, run.id, (float(p[0]), float(p[1]), za), (float(q[0]), float(q[1]), zb), dn
            )
        self.runs.append(
            RunResult(
                id=run.id,
                supply_level=run.elevation,
                pitch=pitch,
                profile=profile,
                built_to=built,
                level_changes=changes,
                takeoffs=[t for _, t in stops],
                trapped=[(built / 2, built)] if run.id == "trapped" else [],
            )
        )

    def route(self) -> Route:
        """Make the route."""
        for run in self.scenario.runs:
            self.run(run)
        order = {h.id: k for k, h in enumerate(self.scenario.heads)}
        self.heads.sort(key=lambda h: order[h.id])
        served = sum(h.served for h in self.heads)
        pipe = sum(p.length for p in self.pieces) / 1000
        counted = sum(f.kind != "reducer" for f in self.fittings)
        counts = Counts(
            heads=len(self.heads),
            served=served,
            fittings={},
            fittings_counted=counted,
            takeoff_fittings=counted,
            reducers=len(self.fittings) - counted,
            level_changes=len(self.offsets),
            drains=0,
            arm_hangers=0,
            hoses=0,
            styles={},
            pipe_m={},
            pipe_total_m=pipe,
            fittings_per_head=counted / max(served, 1),
        )
        return Route(
            scenario=self.scenario.name,
            scenario_sha256="0" * 64,
            status="feasible",
            objective=Objective(value=58_500, bound=57_000, gap=0.0256, terms=[]),
            proof=Proof(scope="made by hand", closed_by="nothing", candidates=0, levels=1, stations=1),
            counts=counts,
            heads=self.heads,
            takeoffs=self.takeoffs,
            runs=self.runs,
            pieces=self.pieces,
            fittings=self.fittings,
        )


def make_route(
    scenario: Scenario,
    offsets: dict[str, tuple[float, float]] | None = None,
    unserved: frozenset[str] = frozenset(),
) -> Route:
    """Make a route in which every head leaves its run at its own station.

    Returns
    -------
    Route
    """
    return Maker(scenario, offsets or {}, unserved).route()
