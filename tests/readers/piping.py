"""Piping built part by part, with what each pipe is: the truth that ``with_roles`` has to find again."""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from math import cos, dist, radians, sin
from typing import TYPE_CHECKING

from router.readers.drawn import Drawn, DrawnHead, DrawnPipe, Xyz

if TYPE_CHECKING:
    from router.scenario.model import HeadKind


def moved(a: Xyz, *steps: Xyz) -> Xyz:
    """Add vectors, mm."""
    return (
        a[0] + sum(s[0] for s in steps),
        a[1] + sum(s[1] for s in steps),
        a[2] + sum(s[2] for s in steps),
    )


def times(u: Xyz, length: float) -> Xyz:
    """Stretch a vector."""
    return (u[0] * length, u[1] * length, u[2] * length)


UP: Xyz = (0.0, 0.0, 1.0)
DOWN: Xyz = (0.0, 0.0, -1.0)


@dataclass
class Piping:
    """Pipes and heads with their truth in ``role``, ``line``, ``heads``."""

    pipes: list[DrawnPipe] = field(default_factory=list)
    heads: list[DrawnHead] = field(default_factory=list)

    def pipe(self, a: Xyz, b: Xyz, dn: int, role: str, line: str = "", heads: tuple[str, ...] = ()) -> None:
        """Add a pipe."""
        self.pipes.append(DrawnPipe(f"p{len(self.pipes)}", a, b, dn, role, line, heads))

    def row(self, points: list[Xyz], dn: int, role: str, line: str = "", heads: tuple[str, ...] = ()) -> None:
        """Add the pipes between points in a row."""
        for a, b in zip(points, points[1:], strict=False):
            self.pipe(a, b, dn, role, line, heads)

    def name(self) -> str:
        """Give the id of the next head."""
        return f"h{len(self.heads)}"

    def arm(self, line: str, *points: Xyz, kind: HeadKind = "pendent", dn: int = 25) -> None:
        """Add an arm through points in a row, and the head at the last."""
        name = self.name()
        self.row(list(points), dn, "head_arm", "", (name,))
        self.heads.append(DrawnHead(name, points[-1], kind, 15, line))

    def bare(self) -> Drawn:
        """Give what a model says: no roles, no lines."""
        return Drawn(
            "piping",
            [replace(head, line="") for head in self.heads],
            [replace(pipe, role="", line="", heads=()) for pipe in self.pipes],
        )


def drop(it: Piping, line: str, p: Xyz, u: Xyz, v: Xyz) -> None:
    """Straight down from a tee's bottom."""
    it.arm(line, p, moved(p, times(DOWN, 500)))


def side(it: Piping, line: str, p: Xyz, u: Xyz, v: Xyz) -> None:
    """Arm-over from a side outlet, drop."""
    q = moved(p, times(v, 700))
    it.arm(line, p, q, moved(q, times(DOWN, 300)))


def bend(it: Piping, line: str, p: Xyz, u: Xyz, v: Xyz) -> None:
    """Return bend: nipple up, arm, drop."""
    q = moved(p, times(UP, 200))
    r = moved(q, times(v, 600))
    it.arm(line, p, q, r, moved(r, times(DOWN, 700)))


def bend_along(it: Piping, line: str, p: Xyz, u: Xyz, v: Xyz) -> None:
    """Return bend whose arm runs back along the line."""
    q = moved(p, times(UP, 200))
    r = moved(q, times(u, -600))
    it.arm(line, p, q, r, moved(r, times(DOWN, 120)))


def sprig(it: Piping, line: str, p: Xyz, u: Xyz, v: Xyz) -> None:
    """Straight up to an upright."""
    it.arm(line, p, moved(p, times(UP, 400)), kind="upright")


def dogleg(it: Piping, line: str, p: Xyz, u: Xyz, v: Xyz) -> None:
    """Return bend with one more elbow in its arm."""
    q = moved(p, times(UP, 200))
    r = moved(q, times(v, 500))
    s = moved(r, times(u, 350))
    it.arm(line, p, q, r, s, moved(s, times(DOWN, 700)))


def hose(it: Piping, line: str, p: Xyz, u: Xyz, v: Xyz) -> None:
    """Flexible hose, drawn as the straight line between its ends."""
    it.arm(line, p, moved(p, times(v, 600), times(DOWN, 250)))


def sidewall(it: Piping, line: str, p: Xyz, u: Xyz, v: Xyz) -> None:
    """Level arm to a sidewall."""
    it.arm(line, p, moved(p, times(v, 800)), kind="sidewall")


def cross(it: Piping, line: str, p: Xyz, u: Xyz, v: Xyz) -> None:
    """Two opposite arms from a cross."""
    side(it, line, p, u, v)
    side(it, line, p, u, times(v, -1))


def shared(it: Piping, line: str, p: Xyz, u: Xyz, v: Xyz) -> None:
    """Riser nipple, tee, two arms."""
    q = moved(p, times(UP, 250))
    first = it.name()
    it.pipe(p, q, 32, "head_arm", "", (first, f"h{len(it.heads) + 1}"))
    for way in (v, times(v, -1)):
        r = moved(q, times(way, 900))
        it.arm(line, q, r, moved(r, times(DOWN, 600)))


def two_on_drop(it: Piping, line: str, p: Xyz, u: Xyz, v: Xyz) -> None:
    """A drop with a side arm on its way: a head above and a head below a ceiling."""
    q = moved(p, times(DOWN, 250))
    first = it.name()
    it.pipe(p, q, 25, "head_arm", "", (first, f"h{len(it.heads) + 1}"))
    r = moved(q, times(v, 400))
    it.arm(line, q, r, moved(r, times(UP, 150)), kind="upright")
    it.arm(line, q, moved(q, times(DOWN, 600)))


Style = "Callable[[Piping, str, Xyz, Xyz, Xyz], None]"
STYLES = {
    style.__name__: style
    for style in (
        drop,
        side,
        bend,
        bend_along,
        sprig,
        dogleg,
        hose,
        sidewall,
        cross,
        shared,
        two_on_drop,
    )
}


def branch(
    it: Piping, line: str, start: Xyz, u: Xyz, spots: list[tuple[float, str]], dn: int = 40, cap: float = 0.0
) -> None:
    """Add a branch line: stations and the style at each; ends at the last, or ``cap`` mm beyond."""
    v = (-u[1], u[0], 0.0)
    before = start
    for station, style in spots:
        p = moved(start, times(u, station))
        it.pipe(before, p, dn, "branch", line)
        STYLES[style](it, line, p, u, v)
        before = p
    if cap:
        it.pipe(before, moved(before, times(u, cap)), dn, "branch", line)


def turned(drawn: Drawn, degrees: float) -> Drawn:
    """Turn all in plan about the origin."""
    c, s = cos(radians(degrees)), sin(radians(degrees))

    def at(p: Xyz) -> Xyz:
        return (c * p[0] - s * p[1], s * p[0] + c * p[1], p[2])

    return replace(
        drawn,
        heads=[replace(head, at=at(head.at)) for head in drawn.heads],
        pipes=[replace(pipe, a=at(pipe.a), b=at(pipe.b)) for pipe in drawn.pipes],
    )


def short_of_fittings(drawn: Drawn, gap: float) -> Drawn:
    """Draw pipes to the faces of their fittings: every end that meets another pipe's is cut back, mm."""
    inlets = {head.at for head in drawn.heads}

    def cut(a: Xyz, b: Xyz) -> Xyz:
        if a in inlets or not any(meets(a, pipe) for pipe in drawn.pipes if {pipe.a, pipe.b} != {a, b}):
            return a
        part = gap / dist(a, b)
        return (a[0] + part * (b[0] - a[0]), a[1] + part * (b[1] - a[1]), a[2] + part * (b[2] - a[2]))

    def meets(p: Xyz, pipe: DrawnPipe) -> bool:
        return abs(dist(p, pipe.a) + dist(p, pipe.b) - dist(pipe.a, pipe.b)) < 1e-6

    pipes = [replace(pipe, a=cut(pipe.a, pipe.b), b=cut(pipe.b, pipe.a)) for pipe in drawn.pipes]
    return replace(drawn, pipes=pipes)
