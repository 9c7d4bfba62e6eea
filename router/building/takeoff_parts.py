"""Pieces and fittings of one takeoff, from its candidate's corners."""

from __future__ import annotations

from typing import TYPE_CHECKING, cast

from router.route.model import FittingKind, PieceKind, Side, Takeoff, Xyz
from router.route.parts import Joint, Workshop, unit
from router.takeoffs.pairs import CROSS

if TYPE_CHECKING:
    from router.building.assemble import Assembler
    from router.profiles.frame import RunFrame
    from router.takeoffs.candidate import Branch, Candidate


class TakeoffParts:
    """Makes one takeoff. ``outlet`` first, then the run's pipe to it, then ``make``."""

    def __init__(
        self,
        runs: Assembler,
        frame: RunFrame,
        shop: Workshop,
        name: str,
        candidate: Candidate,
        ends: bool,
    ) -> None:
        self.runs, self.frame, self.shop = runs, frame, shop
        self.name, self.candidate, self.ends = name, candidate, ends
        self.scenario = runs.prepared.scenario
        self.feeding: list[tuple[int, Joint | None, str]] = []
        self.joint: Joint | None = None
        self.first_joint = len(shop.joints)
        self.first_piece = len(shop.drafts)
        self.first_joint = len(self.shop.joints)

    def heads_served(self) -> int:
        """Heads that the takeoff serves, through child runs too."""
        c = self.candidate
        return len(c.branches) + sum(self.runs.served.get(f.run, 0) for f in c.feeds)

    @property
    def _dry_straight(self) -> bool:
        c = self.candidate
        one = len(c.branches) == 1 and not c.trunk and len(c.branches[0].points) == 1
        return one and self.scenario.heads[c.branches[0].head].dry

    @property
    def _level_pair(self) -> bool:
        """Two things leave level on opposite sides."""
        c = self.candidate
        return c.style == CROSS or (len(c.feeds) == 2 and not c.trunk)

    def outlet(self) -> tuple[Joint | None, str]:
        """Make the fitting on the run; also the port that the run's pipe comes into."""
        c = self.candidate
        kind: FittingKind
        port = "run"
        if c.side == "end":
            return self._coupling(), "run"
        if self.ends:
            kind = "elbow_90"
            if self._level_pair:
                kind, port = "tee", "outlet"
            elif self._dry_straight:
                kind = "tee"
        elif self._level_pair:
            kind = "cross"
        else:
            kind = "outlet" if self.frame.uncut else "tee"
        self.joint = self.shop.joint(kind, self.name, self.frame.run.id, c.outlet, self.frame.joining)
        return self.joint, port

    def _coupling(self) -> Joint | None:
        """Make the coupling between a run's end and the smaller run that goes straight on."""
        feed = self.candidate.feeds[0].run
        served = self.runs.served.get(feed, 0)
        child = self.runs.prepared.frames[feed]
        if self.runs.size(self.frame, served, self.candidate.station) == self.runs.size(child, served, 0.0):
            return None
        rid = self.frame.run.id
        self.joint = self.shop.joint(
            "reducing_coupling", self.name, rid, self.candidate.outlet, self.frame.joining
        )
        return self.joint

    def _branch_port(self) -> tuple[Joint | None, str]:
        """Fitting and port at the outlet that a branch leaves from."""
        joint = self.joint
        if joint is not None and joint.kind == "elbow_90":
            return joint, "run"
        if self.ends and self._level_pair:
            return joint, "run"
        return joint, "outlet"

    def make(self) -> Takeoff:
        """Make the pieces; returns the takeoff's record."""
        c = self.candidate
        arm = self.scenario.rules.arm_size
        if c.feeds:
            self._feed()
        else:
            if self._dry_straight and self.ends:
                assert self.joint is not None
                self._plug(self.joint)
            joint, port = self._branch_port()
            start = c.outlet
            if c.trunk:
                top = c.trunk[-1]
                two = len(c.branches) == 2
                kind = "tee" if two else "elbow_90"
                dry_next = not two and self._last_corner_is_trunk(c.branches[0])
                made = self._corner(kind, top, dry_next, "threaded")
                self._pipe("nipple", start, top, arm, joint, made, (port, "outlet" if two else "run"))
                for branch in c.branches:
                    self._branch(branch, top, made, "run")
            else:
                for branch in c.branches:
                    joint, port = self._branch_port()
                    self._branch(branch, start, joint, port)
        first, last = c.station - c.half, c.station + (c.end_half if self.ends else c.half)
        return Takeoff(
            id=self.name,
            run=self.frame.run.id,
            style=c.style,
            station=round(c.station, 3),
            level=round(float(self.frame.levels[c.level]), 3),
            side=cast("Side", c.side),
            heads=[self.scenario.heads[b.head].id for b in c.branches],
            child_runs=[self.scenario.runs[f.run].id for f in c.feeds],
            arm_level=round(c.arm_z, 3),
            dogleg=c.dogleg,
            ends_run=self.ends,
            occupies=(round(first, 3), round(last, 3)),
            hangers=c.hangers,
            pieces=[d.id for d in self.shop.drafts[self.first_piece :] if d.owner == self.name],
            fittings=[j.id for j in self.shop.joints[self.first_joint :] if j.owner == self.name],
        )

    def _last_corner_is_trunk(self, branch: Branch) -> bool:
        return len(branch.points) == 1 and self.scenario.heads[branch.head].dry

    def _corner(self, kind: str, at: Xyz, dry: bool, joining: str) -> Joint:
        """Give an elbow (a tee with a plug where a dry head follows), or the tee of a pair."""
        return self.shop.joint(
            cast("FittingKind", "tee" if dry else kind), self.name, self.frame.run.id, at, joining
        )

    def _plug(self, tee: Joint) -> None:
        """Close the end of ``tee`` opposite to its one run opening with a plug."""
        way, dn, _ = next(p for p in tee.ports if p[2] == "run")
        back = (-way[0], -way[1], -way[2])
        tee.ports.append((back, dn, "run"))
        plug = self.shop.joint("plug", self.name, self.frame.run.id, tee.at, tee.joining)
        plug.ports.append((back, dn, "run"))

    def _pipe(
        self,
        kind: PieceKind,
        start: Xyz,
        end: Xyz,
        dn: int,
        a: Joint | None,
        b: Joint | None,
        ports: tuple[str, str],
    ) -> None:
        self.shop.piece(kind, self.name, self.frame.run.id, (start, end), dn, "threaded", (a, b), ports)

    def _branch(self, branch: Branch, start: Xyz, joint: Joint | None, port: str) -> None:
        """From the split (or outlet) to the head: arms, elbows, the last piece, a reducer."""
        head = self.scenario.heads[branch.head]
        arm = self.scenario.rules.arm_size
        at = start
        points = branch.points
        for i, corner in enumerate(points[:-1]):
            if branch.hose:
                self._pipe("hose", at, corner, arm, joint, None, (port, "run"))
                at, joint = corner, None
                continue
            dry = head.dry and i == len(points) - 2
            elbow = self._corner("elbow_90", corner, dry, "threaded")
            kind: PieceKind = "nipple" if abs(corner[2] - at[2]) > 1.0 else "arm"
            self._pipe(kind, at, corner, arm, joint, elbow, (port, "run"))
            if dry:
                self._plug(elbow)
            at, joint, port = corner, elbow, "outlet" if dry else "run"
        if joint is not None and joint.kind == "tee" and head.dry and port == "run" and len(points) == 1:
            # the nipple's tee takes the barrel in its side, a plug in its end
            self._plug(joint)
            port = "outlet"
        end = points[-1]
        if branch.hose:
            self._pipe("hose", at, end, arm, joint, None, (port, "run"))
            return
        vertical = abs(end[2] - at[2]) > 1.0
        last: PieceKind = "arm" if not vertical else ("sprig" if end[2] > at[2] else "drop")
        if head.dry:
            self._pipe("barrel", at, end, head.thread, joint, None, (port, "run"))
        elif head.thread < arm:
            reducer = self.shop.joint("reducer", self.name, self.frame.run.id, end, "threaded")
            self._pipe(last, at, end, arm, joint, reducer, (port, "run"))
            reducer.ports.append((unit(at, end), head.thread, "outlet"))
        else:
            self._pipe(last, at, end, arm, joint, None, (port, "run"))

    def _feed(self) -> None:
        """Child runs: on a nipple, or straight out of the outlet, or on from the run's end."""
        c = self.candidate
        sizes = []
        for feed in c.feeds:
            child = self.runs.prepared.frames[feed.run]
            sizes.append(self.runs.size(child, self.runs.served.get(feed.run, 1), 0.0))
        if c.side == "end":
            self.feeding.append((c.feeds[0].run, self.joint, "run"))
            return
        if c.trunk:
            child = self.runs.prepared.frames[c.feeds[0].run]
            two = len(c.feeds) == 2
            top = self._corner("tee" if two else "elbow_90", c.trunk[-1], False, child.joining)
            joint, port = self._branch_port()
            self._pipe(
                "nipple", c.outlet, c.trunk[-1], max(sizes), joint, top, (port, "outlet" if two else "run")
            )
            self.feeding += [(feed.run, top, "run") for feed in c.feeds]
        else:
            for feed in c.feeds:
                joint, port = self._branch_port()
                self.feeding.append((feed.run, joint, port))
