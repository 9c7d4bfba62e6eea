"""Routes for the shop's tests: a few fittings and pipes laid by hand, no search."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from router.route.model import Counts, Objective, Proof, Route
from router.route.parts import Workshop
from router.scenario.model import Scenario
from router.trade.tables import Tables

if TYPE_CHECKING:
    from router.route.model import Xyz
    from router.route.parts import Joint

IN = 25.4


def scenario(runs: list[dict[str, Any]] | None = None, **more: Any) -> Scenario:
    """A scenario in mm with one run R and a head far away."""
    run = {"id": "R", "plan": [(0, 0), (9000, 0)], "elevation": 3000}
    head = {"id": "H1", "at": (0, 9000, 2700)}
    return Scenario.model_validate({"name": "shop", "runs": runs or [run], "heads": [head], **more})


class Shop:
    """Lays fittings and pipes; make-ups come from the project's own workshop."""

    def __init__(self, given: Scenario) -> None:
        self.given = given
        self.bench = Workshop(Tables(given.system.standard, given.rules.tables))

    def fit(self, kind: Any, at: Xyz, joining: str = "threaded", run: str = "R", seat: int = 0) -> Joint:
        made = self.bench.joint(kind, run, run, at, joining)
        made.seat = seat
        return made

    def pipe(
        self,
        kind: Any,
        ends: tuple[Joint | Xyz, Joint | Xyz],
        dn: int,
        ports: tuple[str, str] = ("run", "run"),
        joining: str = "threaded",
        run: str = "R",
    ) -> str:
        """Put a pipe between two ends: each is a fitting or a point."""
        points = tuple(end if isinstance(end, tuple) else end.at for end in ends)
        joints = tuple(None if isinstance(end, tuple) else end for end in ends)
        draft = self.bench.piece(kind, run, run, points, dn, joining, joints, ports)  # type: ignore[arg-type]
        return draft.id

    def route(self, **more: Any) -> Route:
        counts = Counts(
            heads=0, served=0, fittings={}, fittings_counted=0, takeoff_fittings=0, reducers=0,
            level_changes=0, drains=0, arm_hangers=0, hoses=0, styles={}, pipe_m={}, pipe_total_m=0.0,
            fittings_per_head=0.0,
        )  # fmt: skip
        return Route(
            scenario="shop",
            scenario_sha256="",
            status="feasible",
            objective=Objective(value=0.0, bound=0.0, gap=0.0, terms=[]),
            proof=Proof(scope="", closed_by="", candidates=0, levels=0, stations=0),
            counts=counts,
            takeoffs=[],
            runs=[],
            pieces=[self.bench.finish_piece(draft) for draft in self.bench.drafts],
            fittings=[self.bench.finish_joint(joint) for joint in self.bench.joints],
            **{"heads": [], **more},
        )
