"""What a command prints: the table that a designer reads in ten seconds, findings, rules."""

from __future__ import annotations

from collections import Counter
from math import dist
from typing import TYPE_CHECKING

from rich import box
from rich.console import Group, RenderableType
from rich.table import Table
from rich.text import Text

from router.trade.sizes import label

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping

    from router.check import Finding, RuleInForce, Verdict
    from router.route.model import HeadResult, Route, Xyz
    from router.scenario.model import Scenario, System

_STATUS = {
    "optimal": "optimal: no choice among the candidates costs less",
    "feasible": "feasible: keeps every rule, perhaps not the cheapest",
    "infeasible": "infeasible: no head can be served",
}
_WORD = {
    "elbow_90": "elbow 90",
    "elbow_45": "elbow 45",
    "elbow_odd": "elbow of another angle",
    "cross": "crosse",
}
_STEP = {"model_one_run": "model (one line)", "model_several_runs": "model (several lines)"}
PLACE_MM = 0.5
"""A head this near to its place has not moved for anyone who installs it."""
_SEVERITY = {"breaks": ("breaks", "bold red"), "near": ("near", "yellow"), "note": ("note", "")}


def plain(name: str) -> str:
    """Spell an id such as ``side_arm`` as words.

    Returns
    -------
    str
    """
    return name.replace("_", " ")


def counted(number: float, noun: str) -> str:
    """Write a number with its noun: ``1 tee``, ``2 tees``.

    Returns
    -------
    str
    """
    return f"{number:,} {noun}" if number == 1 else f"{number:,} {noun}s"


def pairs_table(rows: Iterable[tuple[str, str]]) -> Table:
    """Lay out names and what belongs to them in two columns.

    Returns
    -------
    Table
    """
    table = Table(box=None, show_header=False, padding=(0, 2, 0, 2))
    table.add_column(style="bold", no_wrap=True)
    table.add_column(overflow="fold")
    for name, value in rows:
        table.add_row(Text(name), Text(value))
    return table


def scenario_table(scenario: Scenario) -> Table:
    """Say what a scenario contains.

    Returns
    -------
    Table
    """
    system = scenario.system
    heads = Counter(f"{'dry ' if head.dry else ''}{head.kind}" for head in scenario.heads)
    runs = Counter(plain(run.kind) for run in scenario.runs)
    things = Counter(item.kind for item in scenario.obstructions)
    low = min(head.at[2] for head in scenario.heads)
    high = max(head.at[2] for head in scenario.heads)
    rows = [
        (
            "system",
            f"{system.kind}, {system.water} water, {'heated' if system.heated else 'not heated'}, "
            f"{system.hazard} hazard, {_joining(system)}, {system.standard} pipe",
        ),
        ("heads", f"{_by_kind(heads)}; inlets at {_span(low, high)} mm"),
        ("runs", f"{_by_kind(runs)}; {sum(1 for run in scenario.runs if run.supply is None)} without supply"),
        ("obstructions", _by_kind(things)),
        ("ceilings", str(len(scenario.ceilings))),
    ]
    pins = len(scenario.pins.heads) + len(scenario.pins.runs)
    if pins:
        rows.append(("pins", str(pins)))
    return pairs_table(rows)


def route_table(
    scenario: Scenario, route: Route, verdict: Verdict, seconds: Mapping[str, float] | None = None
) -> RenderableType:
    """Lay out the whole answer so that it is read in ten seconds.

    Parameters
    ----------
    scenario
        In mm.
    route
        The answer to that scenario.
    verdict
        The referee's, on that route.
    seconds
        Time by phase; no row where there is none.

    Returns
    -------
    RenderableType
        For a rich console.
    """
    counts = route.counts
    kinds = {kind: n for kind, n in counts.fittings.items() if kind != "reducer"}
    by_number = sorted(kinds.items(), key=lambda item: (-item[1], item[0]))
    fittings = ", ".join(_fittings(kind, n) for kind, n in by_number)
    styles = Counter(plain(head.style) for head in route.heads if head.served and head.style)
    standard = scenario.system.standard
    pipe = ", ".join(
        f"{label(int(dn), standard)} {length:,.1f} m"
        for dn, length in sorted(counts.pipe_m.items(), key=lambda item: int(item[0]))
    )
    value = route.objective
    over = value.value - value.bound
    gap = f"gap {over:,.0f}"
    if over and value.value:
        gap += f" ({100 * over / value.value:.2f} %)"
    costs = ", ".join(f"{plain(term.name)} {term.cost:,.0f}" for term in value.terms if term.cost)
    near = sum(1 for finding in verdict.findings if finding.severity == "near")
    judged = (
        "no rule broken" if verdict.clean else f"{counted(len(verdict.breaks), 'finding')} that break rules"
    )
    rows = [
        ("heads", f"{counts.served} of {counts.heads} served"),
        ("heads by style", _by_kind(styles, total=False)),
        ("fittings", f"{counts.fittings_counted}{': ' if fittings else ''}{fittings}"),
        ("fittings per head", f"{counts.fittings_per_head:.2f}"),
        ("reducers", str(counts.reducers)),
        ("level changes", str(counts.level_changes)),
        ("drains", _drains(route)),
        ("hangers", _hangers(route)),
        ("pipe", f"{counts.pipe_total_m:,.1f} m{': ' if pipe else ''}{pipe}"),
        ("status", _STATUS[route.status]),
        ("objective", f"{value.value:,.0f} points, bound {value.bound:,.0f}, {gap}"),
        ("made up of", costs or "nothing"),
        ("referee", f"{judged}, {near} within 3 mm of a limit"),
    ]
    if scenario.prices is not None:
        rows.insert(-4, ("price", f"{counts.price:,.2f} {scenario.prices.currency}, labour included"))
    if route.proof.lines_closed:
        rows.insert(-1, ("lines closed by", _closed_by(route.proof.lines_closed)))
    if counts.hoses:
        rows.insert(5, ("hoses", str(counts.hoses)))
    moved = _moved(scenario, route)
    if moved:
        rows.insert(2, ("heads moved", moved))
    if seconds:
        parts = ", ".join(f"{plain(name)} {amount:.1f}" for name, amount in seconds.items())
        rows.append(("time", f"{sum(seconds.values()):.1f} s: {parts}"))
    parts_of_it: list[RenderableType] = [Text(scenario.name, style="bold"), pairs_table(rows)]
    missing = [head for head in route.heads if not head.served]
    if missing:
        parts_of_it += [Text(), unserved_text(missing)]
    parts_of_it += [Text(), Text(route.caution, style="italic")]
    return Group(*parts_of_it)


def unserved_text(heads: Iterable[HeadResult]) -> Text:
    """Say for each unserved head what stopped its nearest attempts.

    Returns
    -------
    Text
        One line a head, then one an attempt; those that a stop left out in one line together.
    """
    lines = []
    left: dict[str, list[str]] = {}
    for head in heads:
        if head.stopped_by and head.stopped_by[0].rule == "stopped":
            why = head.stopped_by[0]
            left.setdefault(why.text.partition(" before ")[0], []).append(why.run)
            continue
        x, y, z = head.inlet
        lines.append(f"{head.id} at ({x:,.0f}, {y:,.0f}, {z:,.0f}) mm: not served")
        lines += [f"    {attempt.text}" for attempt in head.stopped_by]
        if not head.stopped_by:
            lines.append(
                "    no attempt of its own was stopped: what the rest of its line needs stands against it"
            )
    for why_not, runs in left.items():
        names = list(dict.fromkeys(runs))
        more = f" and {len(names) - 3:,} more" if len(names) > 3 else ""
        lines.append(f"{counted(len(runs), 'head')} on {', '.join(names[:3])}{more}: {why_not}")
    return Text("\n".join(lines), style="red")


def findings_table(findings: Iterable[Finding]) -> Table:
    """List findings, the broken rules first.

    Returns
    -------
    Table
        Rule, what was found, measured value, limit and place.
    """
    table = Table(box=box.SIMPLE_HEAD, header_style="bold")
    table.add_column("")
    table.add_column("rule", no_wrap=True)
    table.add_column("finding", overflow="fold", ratio=1)
    table.add_column("measured", justify="right", no_wrap=True)
    table.add_column("limit", justify="right", no_wrap=True)
    table.add_column("place, mm", overflow="fold")
    order = list(_SEVERITY)
    for finding in sorted(findings, key=lambda f: order.index(f.severity)):
        word, style = _SEVERITY[finding.severity]
        table.add_row(
            Text(word, style=style),
            Text(finding.rule),
            Text(finding.text),
            Text(_amount(finding.measured, finding.unit)),
            Text(_amount(finding.limit, finding.unit)),
            Text(_place(finding.place)),
        )
    return table


def sources_text(findings: Iterable[Finding]) -> Text:
    """Say once for each rule that findings are about where its limit comes from.

    Returns
    -------
    Text
        One line for each rule and source, with its grade.
    """
    sources = dict.fromkeys((f.rule, f.source, f.grade) for f in findings)
    return Text("\n".join(f"{rule}: {source} (grade {grade})" for rule, source, grade in sources))


def rules_table(rules: Iterable[RuleInForce]) -> Table:
    """List the rules in force: limit, source and grade.

    Returns
    -------
    Table
    """
    table = Table(box=box.SIMPLE_HEAD, header_style="bold", show_lines=True)
    table.add_column("rule", no_wrap=True)
    table.add_column("says", overflow="fold", ratio=4)
    table.add_column("limit", overflow="fold", ratio=3)
    table.add_column("source", overflow="fold", ratio=3)
    table.add_column("grade", no_wrap=True)
    for rule in rules:
        table.add_row(*(Text(part) for part in (rule.id, rule.says, rule.limit, rule.source, rule.grade)))
    return table


def _fittings(kind: str, number: int) -> str:
    word = _WORD.get(kind, plain(kind))
    if kind.startswith("elbow") and number != 1:
        return f"{number} {word.replace('elbow', 'elbows', 1)}"
    return f"{number} {'cross' if kind == 'cross' and number == 1 else word}{'' if number == 1 else 's'}"


def _joining(system: System) -> str:
    if isinstance(system.joining, str):
        return plain(system.joining)
    parts = []
    for part in system.joining:
        upto = "above" if part.up_to is None else f"to {label(part.up_to, system.standard)}"
        parts.append(f"{plain(part.joining)} {upto}")
    return ", ".join(parts)


def _closed_by(lines: Mapping[str, int]) -> str:
    """Say how many lines each step decided."""
    return ", ".join(f"{n} {_STEP.get(step, plain(step))}" for step, n in lines.items() if n)


def _drains(route: Route) -> str:
    """Say how many drains there are, and of each where, how much water it is for and what it is."""
    lows = [low for low in route.low_sections if low.counts_as is not None]
    parts = [f"{low.run} at ({_place(low.lowest)}) mm, {low.volume_l:.1f} l: {low.text}" for low in lows]
    return f"{len(lows)}{': ' if lows else ''}{'; '.join(parts)}"


MOST_MOVED = 6
"""So many heads that left their place are named in the table at most."""


def _moved(scenario: Scenario, route: Route) -> str:
    """Say which heads left their place in plan, as their shift allows, and how far."""
    given = {head.id: head for head in scenario.heads}
    away = [
        (dist(head.inlet[:2], given[head.id].at[:2]), head.id)
        for head in route.heads
        if head.served and head.id in given
    ]
    moved = sorted((-mm, name) for mm, name in away if mm > PLACE_MM)
    named = ", ".join(f"{name} {-mm:,.0f} mm" for mm, name in moved[:MOST_MOVED])
    more = f" and {len(moved) - MOST_MOVED:,} more" if len(moved) > MOST_MOVED else ""
    return f"{len(moved):,} as their shift allows: {named}{more}" if moved else ""


def _hangers(route: Route) -> str:
    """Say how many there are on runs and on arms, and how many arms may not hang free."""
    arms = counted(route.counts.arm_hangers, "arm")
    if not route.hangers:
        return f"not placed; {arms} too long to hang free"
    kinds = Counter(hanger.kind for hanger in route.hangers)
    text = f"{kinds['run'] + kinds['arm']}: {kinds['run']} on runs, {kinds['arm']} on arms"
    if route.counts.arm_hangers:
        text += f" ({arms} too long to hang free)"
    if kinds["sprig_restraint"]:
        text += f", {counted(kinds['sprig_restraint'], 'sprig restraint')}"
    return text


def _by_kind(counts: Counter[str], *, total: bool = True) -> str:
    parts = ", ".join(f"{n} {kind}" for kind, n in sorted(counts.items(), key=lambda i: (-i[1], i[0])))
    if not counts:
        return "none"
    return f"{sum(counts.values())}: {parts}" if total else parts


def _span(low: float, high: float) -> str:
    return f"{low:,.0f}" if low == high else f"{low:,.0f} to {high:,.0f}"


def _amount(value: float | None, unit: str) -> str:
    return "" if value is None else f"{value:,.1f} {unit}".strip()


def _place(place: Xyz | None) -> str:
    return "" if place is None else ", ".join(f"{part:.0f}" for part in place)
