"""Pipes without a role get one: what is a main, a branch line, an arm to a head.

Models and drawings for coordination hold pipes and heads but do not say this.
It follows from how all hangs together: heads on free pipe ends, the supply at
the largest pipe's end, and from each head up to the line that its arm stands on.
"""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from shapely import STRtree
from shapely.geometry import LineString, Point

from router.readers.arms import ARMS, LONGEST_MM, Arm, arm_of, to_line
from router.readers.line_groups import LineGroups, line_groups
from router.readers.pipe_graph import PipeGraph, pipe_graph
from router.readers.pipe_tree import PipeTree, Stand, outlets, pipe_tree, stands
from router.readers.report import counted

if TYPE_CHECKING:
    from router.readers.drawn import Drawn, DrawnHead, DrawnPipe

RANK = ("hose", "head_arm", "branch", "main")
"""What a pipe is whose parts are different things: the last of these."""

STOREY_MM = 3000.0
"""A pipe higher above a head or lower below it than this is another storey's."""


def with_roles(drawn: Drawn, notes: list[str]) -> Drawn:
    """Give each pipe its role and line, each head its line, by how they hang together.

    Parameters
    ----------
    drawn
        Pipes and heads in mm; a role or a line that is given stays.
    notes
        Receives a sentence for each kind of decision, and one for each head on no pipe.

    Returns
    -------
    Drawn
        All pipes ``main``, ``branch`` (with a line), ``head_arm`` (with its heads) or ``hose``; ``line`` of
        each head is that of the branch line that serves it, empty where none does.
    """
    finder = _Finder(drawn)
    result = finder.result()
    notes += finder.notes
    return result


@dataclass
class _Hung:
    """An arm, and its head if that is known."""

    arm: Arm
    head: str | None


class _Finder:
    def __init__(self, drawn: Drawn) -> None:
        self.drawn = drawn
        self.notes: list[str] = []
        self.graph: PipeGraph = pipe_graph(drawn.pipes, sorted(head.at for head in drawn.heads))
        self.on: dict[str, Stand] = stands(self.graph, drawn.heads)
        self._hang()
        self.beside = self._beside()
        if self.beside:
            self.on |= self.beside
            self._hang()
        self.names = self._names()

    def _hang(self) -> None:
        """Find tree, arms and lines for the heads whose places are known."""
        self.seats = {stand.part for stand in self.on.values() if stand.node is None}
        self.spare = outlets(self.graph, self.on)
        weights = Counter(
            self.graph.parts[stand.part].nodes[0] if stand.node is None else stand.node
            for stand in self.on.values()
        )
        weights.update(self.spare)
        self.tree: PipeTree = pipe_tree(self.graph, weights)
        self.hung = self._arms()
        self.heads_of = self._heads_of()
        arms = [one.arm for one in self.hung]
        self.groups: LineGroups = line_groups(self.graph, self.tree, set(self.heads_of), arms, self.seats)

    def _beside(self) -> dict[str, Stand]:
        """Give heads that no pipe reaches to the level pipe nearest in plan: their arms are not drawn yet."""
        rest = [head for head in self.drawn.heads if head.id not in self.on]
        level = [part for part in self.graph.parts if part.is_level and part.key not in self.heads_of]
        if not rest or not level:
            return {}
        axes = STRtree([LineString([self.graph.at[node][:2] for node in part.nodes]) for part in level])
        found = {}
        for head in rest:
            near = [level[int(k)] for k in axes.query(Point(head.at[:2]), "dwithin", distance=LONGEST_MM)]
            offers = []
            for part in near:
                p, q = (self.graph.at[node] for node in part.nodes)
                away = LineString([p[:2], q[:2]]).distance(Point(head.at[:2]))
                if abs((p[2] + q[2]) / 2 - head.at[2]) <= STOREY_MM:
                    offers.append((round(away, 3), part.key))
            if offers:
                found[head.id] = Stand(None, min(offers)[1], (0.0, 0.0, 0.0))
        return found

    def _arms(self) -> list[_Hung]:
        hung = [
            _Hung(arm_of(self.graph, self.tree, stand.node, stand.out, self.seats), name)
            for name, stand in sorted(self.on.items())
            if stand.node is not None
        ]
        no_way = (0.0, 0.0, 0.0)
        ends = [arm_of(self.graph, self.tree, node, no_way, self.seats) for node in self.spare]
        if not any(one.arm.reaches for one in hung) and not any(pipe.role for pipe in self.drawn.pipes):
            # Nothing but lines of one head each: all of it up to the last level stretch is a line.
            for one in hung:
                to_line(self.graph, one.arm)
        return hung + [_Hung(arm, None) for arm in ends]

    def _heads_of(self) -> dict[int, set[str]]:
        """Give the parts of arms and the heads that they serve."""
        lines = {key for one in self.hung for key in one.arm.line_parts}
        result: dict[int, set[str]] = {}
        for one in self.hung:
            for key in one.arm.parts:
                if key not in lines:
                    result.setdefault(key, set()).update({one.head} if one.head else set())
        for part in self.graph.parts:
            if self.graph.pipes[part.pipe].role in ARMS:
                result.setdefault(part.key, set())
        # A stub on an arm belongs to it.
        for node in self.tree.order:
            up = self.tree.up[node]
            if up >= 0 and up not in result and not self.tree.feeds(up) and not self._role_given(up):
                before = self.tree.up[self.graph.parts[up].other(node)]
                if before in result:
                    result[up] = set(result[before])
        return result

    def _role_given(self, key: int) -> str:
        return self.graph.pipes[self.graph.parts[key].pipe].role

    def _names(self) -> dict[int, str]:
        """Name each line as a pipe or its heads say, else L1, L2 ... in the order of ``_rank``."""
        keys: dict[int, list[int]] = {}
        for key, line in self.groups.line.items():
            keys.setdefault(line, []).append(key)
        said: dict[int, Counter[str]] = {line: Counter() for line in keys}
        for line, parts in keys.items():
            said[line].update(self._pipe(key).line for key in parts if self._pipe(key).line)
        heads = {head.id: head.line for head in self.drawn.heads}
        for one, of_arm in zip(self.hung, self.groups.of_arm, strict=True):
            if of_arm is not None and one.head and heads[one.head] and not said[of_arm]:
                said[of_arm][heads[one.head]] += 1
        taken = {name for counts in said.values() for name in counts}
        names, number = {}, 0
        for line in sorted(keys, key=lambda line: self._rank(keys[line])):
            if said[line]:
                names[line] = min(said[line], key=lambda name: (-said[line][name], name))
                continue
            number += 1
            while f"L{number}" in taken:
                number += 1
            names[line] = f"L{number}"
        return names

    def _rank(self, keys: list[int]) -> tuple[float, ...]:
        """Order lines: the tree with most heads first, in it the nearest to its supply."""
        nodes = [node for key in keys for node in self.graph.parts[key].nodes]
        top = min(nodes, key=lambda node: (self.tree.far[node], node))
        root = self.tree.root[top]
        weight = sum(self.tree.below[key] for key in self.graph.of[root])
        return (-weight, root, round(self.tree.far[top], 1), *self.graph.at[top], min(keys))

    def _pipe(self, key: int) -> DrawnPipe:
        return self.graph.pipes[self.graph.parts[key].pipe]

    def result(self) -> Drawn:
        """Give pipes and heads what was found."""
        pipes = list(self.drawn.pipes)
        parts: dict[int, list[int]] = {}
        for part in self.graph.parts:
            parts.setdefault(self.graph.source[part.pipe], []).append(part.key)
        for place, pipe in enumerate(pipes):
            keys = parts.get(self.graph.doubles.get(place, place), [])
            pipes[place] = self._told(pipe, keys)
        heads = self._heads()
        self._say(pipes, heads)
        return replace(self.drawn, pipes=pipes, heads=heads)

    def _told(self, pipe: DrawnPipe, keys: list[int]) -> DrawnPipe:
        found = [
            "head_arm" if key in self.heads_of else "branch" if key in self.groups.line else "main"
            for key in keys
        ]
        role = pipe.role or max(found, key=RANK.index, default="main")
        if role in ARMS:
            heads = sorted({name for key in keys for name in self.heads_of.get(key, set())})
            return replace(pipe, role=role, heads=pipe.heads or tuple(heads))
        if role == "branch" and not pipe.line:
            lines = Counter(self.groups.line[key] for key in keys if key in self.groups.line)
            best = min(lines, key=lambda line: (-lines[line], line), default=None)
            return replace(pipe, role=role, line="" if best is None else self.names[best])
        return replace(pipe, role=role)

    def _heads(self) -> list[DrawnHead]:
        line_of: dict[str, str] = {}
        for one, line in zip(self.hung, self.groups.of_arm, strict=True):
            if one.head and line is not None:
                line_of[one.head] = self.names.get(line, "")
        for name, stand in self.on.items():
            # a head without a drawn arm is bound to no line: the nearest that can serve it will do
            if stand.node is None and stand.part in self.groups.line and name not in self.beside:
                line_of[name] = self.names[self.groups.line[stand.part]]
        return [
            head if head.line else replace(head, line=line_of.get(head.id, "")) for head in self.drawn.heads
        ]

    def _say(self, pipes: list[DrawnPipe], heads: list[DrawnHead]) -> None:
        given = zip(self.drawn.pipes, pipes, strict=True)
        roles = Counter(pipe.role for old, pipe in given if not old.role)
        known = [one.arm for one in self.hung if one.head]
        counts = (
            (len(self.graph.doubles), "pipe[s] [is|are] drawn over others, end to end: taken once"),
            (
                sum(arm.ends_line for arm in known),
                "head[s] [hangs|hang] on the end of [its|their] line: "
                "its last level stretch is line, not arm",
            ),
            (
                sum(arm.is_long for arm in known),
                "head[s] [is|are] too far from the next line for an arm: [it|each] has a line of its own",
            ),
            (
                len(self.spare),
                "pipe end[s] [looks|look] like [an outlet|outlets] but [has|have] no head here: "
                "[an arm|arms] without a head",
            ),
            (
                self.groups.feeders,
                "line[s] [carries|carry] arms and [feeds|feed] other lines too: taken as branch line[s]",
            ),
            (
                len(self.tree.loops),
                "pipe[s] [closes a loop|close loops]; the way of the water there is a guess",
            ),
        )
        self.notes.append(
            f"{counted(sum(roles.values()), 'pipe[s]')} had no role; by how all hangs together: "
            f"{roles['main']} of mains, {roles['branch']} of {counted(len(self.names), 'branch line[s]')}, "
            f"{roles['head_arm']} of arms"
        )
        self.notes += [counted(count, text) for count, text in counts if count]
        if self.beside:
            names = ", ".join(sorted(self.beside)[:6]) + (" ..." if len(self.beside) > 6 else "")
            self.notes.append(
                counted(
                    len(self.beside),
                    "head[s] [has|have] no arm yet; the pipe beside [it|them] is taken as a line: ",
                )
                + names
            )
        for head in heads:
            if head.id not in self.on:
                self.notes.append(f"head {head.id}: no pipe ends near its inlet; it hangs on no line")
            elif not head.line and head.id not in self.beside:
                self.notes.append(f"head {head.id}: its pipe leads to no branch line")
