"""Building blocks of a route: fittings and pieces that number themselves."""

from __future__ import annotations

from dataclasses import dataclass, field
from math import dist
from typing import TYPE_CHECKING

from router.route.model import Fitting, FittingKind, Piece, PieceKind, Xyz

if TYPE_CHECKING:
    from router.trade.tables import Tables


def minus(a: Xyz, b: Xyz) -> Xyz:
    """Vector from ``b`` to ``a``, mm."""
    return (a[0] - b[0], a[1] - b[1], a[2] - b[2])


def unit(a: Xyz, b: Xyz) -> Xyz:
    """Give the unit vector from ``a`` to ``b``."""
    d = minus(b, a)
    length = dist(a, b)
    return (d[0] / length, d[1] / length, d[2] / length)


def tidy(p: Xyz) -> Xyz:
    """Give a place rounded to a micrometre, without negative zero."""
    return (round(p[0], 3) + 0.0, round(p[1], 3) + 0.0, round(p[2], 3) + 0.0)


def tidy_direction(p: Xyz) -> Xyz:
    """Give a direction rounded to nine digits, without negative zero."""
    return (round(p[0], 9) + 0.0, round(p[1], 9) + 0.0, round(p[2], 9) + 0.0)


@dataclass
class Joint:
    """A fitting being made: openings are added as pieces come to it.

    ``ports``: for each opening its direction, its size and the port of the take-out
    table. ``joining``: how it is made up. ``seat``: size of the uncut run that an
    outlet sits on.
    """

    id: str
    kind: FittingKind
    owner: str
    run: str
    at: Xyz
    joining: str
    ports: list[tuple[Xyz, int, str]] = field(default_factory=list)
    seat: int = 0

    def sizes(self) -> list[int]:
        """Return the DN of each opening."""
        return [dn for _, dn, _ in self.ports]

    def open(self, towards: Xyz, dn: int, port: str) -> None:
        """Add the opening that points to the place ``towards``."""
        self.ports.append((unit(self.at, towards), dn, port))


@dataclass
class Draft:
    """A piece being made; ``joints``: at its two ends, ``ports``: which port of each."""

    id: str
    kind: PieceKind
    owner: str
    run: str
    start: Xyz
    end: Xyz
    dn: int
    joining: str
    joints: tuple[Joint | None, Joint | None]
    ports: tuple[str, str]


@dataclass
class Workshop:
    """Makes fittings and pieces in order and hands out their ids."""

    tables: Tables
    joints: list[Joint] = field(default_factory=list)
    drafts: list[Draft] = field(default_factory=list)

    def joint(self, kind: FittingKind, owner: str, run: str, at: Xyz, joining: str) -> Joint:
        """Make a fitting without openings."""
        made = Joint(f"F{len(self.joints) + 1:04d}", kind, owner, run, tidy(at), joining)
        self.joints.append(made)
        return made

    def piece(
        self,
        kind: PieceKind,
        owner: str,
        run: str,
        ends: tuple[Xyz, Xyz],
        dn: int,
        joining: str,
        joints: tuple[Joint | None, Joint | None],
        ports: tuple[str, str] = ("run", "run"),
    ) -> Draft:
        """Make a piece; its end fittings get an opening towards it."""
        start, end = tidy(ends[0]), tidy(ends[1])
        made = Draft(f"P{len(self.drafts) + 1:04d}", kind, owner, run, start, end, dn, joining, joints, ports)
        self.drafts.append(made)
        for joint, away, port in ((joints[0], end, ports[0]), (joints[1], start, ports[1])):
            if joint is not None:
                joint.open(away, dn, port)
        return made

    def take_out(self, joint: Joint, port: str) -> float:
        """Take-out of a fitting's port by the sizes that meet in it, mm."""
        sizes = joint.sizes()
        if joint.kind == "outlet":
            return self.tables.take_out("outlet", "outlet", joint.seat, min(sizes), joining=joint.joining)
        if joint.kind in ("tee", "cross"):
            run = max(dn for _, dn, p in joint.ports if p == "run")
            branch = max((dn for _, dn, p in joint.ports if p == "outlet"), default=run)
            return self.tables.take_out(joint.kind, port, run, branch, joining=joint.joining)
        if joint.kind == "reducer":
            return self.tables.take_out("reducer", "run", max(sizes), min(sizes), joining=joint.joining)
        return self.tables.take_out(joint.kind, port, max(sizes), min(sizes), joining=joint.joining)

    def finish_piece(self, draft: Draft) -> Piece:
        """Give the piece's record, make-up worked out from its two fittings."""
        length = dist(draft.start, draft.end)
        made = length
        if draft.kind not in ("barrel", "hose"):
            for joint, port in zip(draft.joints, draft.ports, strict=True):
                if joint is None:
                    continue
                if joint.kind.startswith("elbow"):
                    port = "run" if draft.dn == max(joint.sizes()) else "outlet"
                made -= self.take_out(joint, port)
                made += self.tables.engagement(draft.dn, joining=draft.joining)
        return Piece(
            id=draft.id,
            kind=draft.kind,
            owner=draft.owner,
            run=draft.run,
            start=draft.start,
            end=draft.end,
            dn=draft.dn,
            length=round(length, 3),
            make_up=round(made, 3),
            fittings=tuple(j.id if j is not None else None for j in draft.joints),  # type: ignore[arg-type]
        )

    def finish_joint(self, joint: Joint) -> Fitting:
        """Give the fitting's record."""
        return Fitting(
            id=joint.id,
            kind=joint.kind,
            owner=joint.owner,
            run=joint.run,
            at=joint.at,
            directions=[tidy_direction(way) for way, _, _ in joint.ports],
            sizes=[dn for _, dn, _ in joint.ports],
            counts_as="reducer" if joint.kind == "reducer" else "fitting",
        )
