"""Heads of other programs: inlet, kind, facing, thread and K-factor."""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from math import atan2, degrees, dist
from typing import TYPE_CHECKING, Any, get_args

from router.readers.drawn import DrawnHead
from router.readers.ifc.hang import HEAD_MM, Ends
from router.readers.ifc.ours import rounded
from router.readers.report import counted
from router.readers.spelled.k_factors import from_metric
from router.scenario.model import HeadKind

if TYPE_CHECKING:
    from collections.abc import Sequence

    from router.readers.drawn import Xyz
    from router.readers.ifc.found import FoundHead, FoundPipe

    Served = tuple[Xyz, Xyz]

THREADS = (15, 20, 25)
THREAD = 15
LEAST_METRIC_K = 35.0
"""No head has so large a US K-factor, none so small a metric one. Common practice, no source."""
STEEP = 0.7
SILENT = "[does|do] not say"
BESIDE_MM = 100.0
"""No head is so long that its placement lies farther from its inlet. Common practice, no source."""


@dataclass
class Told:
    """Ids of heads by what was decided for want of a word of the model."""

    ids: dict[str, list[str]] = field(default_factory=dict)

    def say(self, what: str, name: str) -> None:
        """Note a head."""
        self.ids.setdefault(what, []).append(name)

    def notes(self) -> list[str]:
        """Give one sentence for each decision.

        Returns
        -------
        list of str
        """
        return [
            f"{counted(len(names), f'head[s] {what}')}: {some(names)}" for what, names in self.ids.items()
        ]


def some(names: Sequence[str], limit: int = 4) -> str:
    """Spell the first few names.

    Returns
    -------
    str
    """
    return ", ".join(names[:limit]) + (f" and {len(names) - limit} more" if len(names) > limit else "")


def serving(heads: Sequence[FoundHead], pipes: dict[str, FoundPipe]) -> dict[str, Served]:
    """Find the pipe that serves each head; an end serves the head nearest to it, and no other.

    Parameters
    ----------
    heads
        As found.
    pipes
        Those that may serve one, by GlobalId.

    Returns
    -------
    dict
        GlobalId of a head to its pipe's end and that pipe's other end; heads of no pipe are absent.
    """
    ends = Ends(list(pipes.values()))
    result: dict[str, Served] = {}
    nearest: dict[Xyz, tuple[float, str]] = {}
    for head in heads:
        at = head.port or head.at
        served = _served(head, at, ends, pipes)
        if served is None:
            continue
        tip = rounded(served[0])
        before = nearest.get(tip)
        away = round(dist(at, tip), 6)
        if before is not None and before[0] <= away:
            continue
        if before is not None:
            del result[before[1]]
        nearest[tip] = (away, head.guid)
        result[head.guid] = served
    return result


def drawn_head(head: FoundHead, name: str, served: Served | None, told: Told) -> DrawnHead:
    """Make a head.

    Parameters
    ----------
    head, name
        As found, and its id.
    served
        The pipe that serves it, from :func:`serving`.
    told
        Receives what was decided.

    Returns
    -------
    DrawnHead
    """
    at = head.port or head.at
    if head.port is None:
        if served is not None:
            if dist(at, served[0]) > BESIDE_MM:
                told.say(
                    f"[is|are] placed over {BESIDE_MM:g} mm from [its|their] pipe's end, taken as inlet", name
                )
            at = served[0]
        else:
            told.say("[has|have] neither port nor pipe near: [its|their] placement is taken as inlet", name)
    kind, facing = _kind(head, name, served, told)
    thread = head.thread if head.thread in THREADS else THREAD
    if thread != head.thread:
        what = (
            f"[says|say] DN{head.thread} for [its|their] thread"
            if head.thread
            else f"{SILENT} [its|their] thread"
        )
        told.say(f"{what}: DN{THREAD}", name)
    given: dict[str, Any] = {}
    if head.kind:
        given["kind"] = kind
    if head.thread in THREADS:
        given["thread"] = thread
    if head.k_factor is not None:
        metric = head.k_factor >= LEAST_METRIC_K
        given["k_factor"] = from_metric(head.k_factor) if metric else round(head.k_factor, 2)
        if metric:
            told.say("[has|have] a metric K-factor, taken as the US one", name)
    else:
        told.say(f"{SILENT} [its|their] K-factor: 5.6", name)
    if head.dry:
        given["dry"] = True
    return DrawnHead(name, rounded(at), kind, thread, "", facing, given)


def _served(head: FoundHead, at: Xyz, ends: Ends, pipes: dict[str, FoundPipe]) -> Served | None:
    """Give the end of the pipe that serves a head, and that pipe's other end."""
    found = []
    for guid in head.linked:
        pipe = pipes.get(guid)
        if pipe is not None and pipe.a is not None and pipe.b is not None:
            found.append(min(((pipe.a, pipe.b), (pipe.b, pipe.a)), key=lambda one: dist(one[0], at)))
    if found:
        return min(found, key=lambda one: dist(one[0], at))
    near = ends.nearest(at, HEAD_MM)
    return None if near is None else (near[1], near[2])


def _kind(
    head: FoundHead, name: str, served: tuple[Xyz, Xyz] | None, told: Told
) -> tuple[HeadKind, float | None]:
    rise = 0.0
    level: float | None = None
    if served is not None:
        tip, other = served
        rise = (other[2] - tip[2]) / max(dist(tip, other), 1e-9)
        if abs(rise) < STEEP:
            level = _turned(tip[0] - other[0], tip[1] - other[1])
    kind: HeadKind = "pendent"
    if head.kind in get_args(HeadKind):
        kind = next(each for each in get_args(HeadKind) if each == head.kind)
    elif served is None:
        told.say(f"{SILENT} how [it sits|they sit], and no pipe is near: pendent", name)
    else:
        kind = "sidewall" if abs(rise) < STEEP else "pendent" if rise > 0 else "upright"
        told.say(f"{SILENT} how [it sits|they sit], {kind} as [its|their] pipe comes", name)
    if kind != "sidewall":
        return kind, None
    if level is None:
        told.say(
            "[is a sidewall|are sidewalls] without a level pipe: facing as [it is|they are] placed", name
        )
        level = _turned(head.front[0], head.front[1])
    return kind, level


def _turned(x: float, y: float) -> float:
    return round(degrees(atan2(y, x)) % 360.0, 3) % 360.0


def moved(head: DrawnHead, by: Xyz) -> DrawnHead:
    """Give the head shifted.

    Returns
    -------
    DrawnHead
    """
    x, y, z = (value - step for value, step in zip(head.at, by, strict=True))
    return replace(head, at=(x, y, z))
