"""Which of several judged routes is better: rules first, then heads served, then the objective."""

from __future__ import annotations

from itertools import combinations
from typing import TYPE_CHECKING

from router.compare.records import Pair, Ranking

if TYPE_CHECKING:
    from router.compare.records import RouteFigures

POINTS = 0.01


def pair(a: RouteFigures, b: RouteFigures) -> Pair:
    """Judge two routes.

    One that breaks a rule is never called better. A clean one is better than one
    that breaks rules unless it serves fewer heads: then neither is called so.
    """
    better, why = _judge(a, b)
    return Pair(first=a.name, second=b.name, better=better, why=why)


def _judge(a: RouteFigures, b: RouteFigures) -> tuple[str | None, str]:
    if not a.clean and not b.clean:
        return None, f"both break rules: {_broken(a)}; {_broken(b)}"
    if a.clean != b.clean:
        clean, other = (a, b) if a.clean else (b, a)
        if clean.served < other.served:
            return None, f"{_broken(other)}; {clean.name} keeps them, yet serves {_fewer(clean, other)}"
        return clean.name, f"{_broken(other)}; {clean.name} keeps them all"
    if a.served != b.served:
        more, less = (a, b) if a.served > b.served else (b, a)
        return more.name, f"both keep the rules; {less.name} serves {_fewer(less, more)}"
    if abs(a.value - b.value) <= POINTS:
        return None, f"both keep the rules, serve as many heads and cost the same: {a.value:,.0f} points"
    low, high = (a, b) if a.value < b.value else (b, a)
    cheaper = f"{low.name} costs {high.value - low.value:,.0f} points less"
    return low.name, f"both keep the rules and serve as many heads; {cheaper}: {by_terms(low, high)}"


def by_terms(low: RouteFigures, high: RouteFigures) -> str:
    """Say which terms make the difference, the largest first: ``3 fittings fewer``."""
    other = {term.name: term for term in high.terms}
    parts: list[tuple[float, str]] = []
    for term in low.terms:
        more = term.amount - other[term.name].amount
        cost = term.cost - other[term.name].cost
        if abs(more) <= 1e-9 or (not term.weight and term.name != "reducer"):
            continue
        number = f"{abs(more):,.2f}".rstrip("0").rstrip(".")
        noun = _NOUNS[term.name]
        if abs(more) == 1:
            noun = _ONE.get(term.name, noun.removesuffix("s"))
        word = ("more" if more > 0 else "less") if term.name in _MASS else ("more" if more > 0 else "fewer")
        parts.append((abs(cost), f"{number} {noun} {word}"))
    return ", ".join(text for _, text in sorted(parts, key=lambda part: (-part[0], part[1])))


_NOUNS = {
    "unserved": "unserved heads",
    "fitting": "fittings",
    "level_change": "level changes",
    "drain": "drains",
    "large_drain": "large drains",
    "wet_drain": "drains of wet sections",
    "hanger": "hangers",
    "pipe": "m of pipe",
    "moved": "mm off the nominal levels",
    "style": "styles along the runs",
    "reducer": "reducers",
    "hose": "hoses",
    "price": "of price",
}
_ONE = {"wet_drain": "drain of a wet section", "style": "style along a run", "unserved": "unserved head"}
_MASS = ("pipe", "moved", "price")


def _broken(route: RouteFigures) -> str:
    rules = ", ".join(f"{rule} {n}" for rule, n in route.breaks.items())
    return f"{route.name} breaks rules ({rules})"


def _fewer(less: RouteFigures, more: RouteFigures) -> str:
    n = more.served - less.served
    return f"{n} head{'' if n == 1 else 's'} fewer"


def rank(routes: list[RouteFigures]) -> Ranking:
    """Judge every pair; the best route is the one that is better than each other."""
    pairs = [pair(a, b) for a, b in combinations(routes, 2)]
    for route in routes:
        own = [p for p in pairs if route.name in (p.first, p.second)]
        if all(p.better == route.name for p in own):
            return Ranking(best=route.name, why="; ".join(dict.fromkeys(p.why for p in own)), pairs=pairs)
    return Ranking(best=None, why="; ".join(dict.fromkeys(p.why for p in pairs)), pairs=pairs)
