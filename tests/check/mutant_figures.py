"""Lies about figures: counts, the objective, the status, and any single value of the route."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from mutant_work import Claim, Record, Work, broken

if TYPE_CHECKING:
    import random

COUNTS = (
    "heads",
    "served",
    "fittings_counted",
    "takeoff_fittings",
    "reducers",
    "level_changes",
    "drains",
    "arm_hangers",
    "hoses",
    "pipe_total_m",
    "fittings_per_head",
)
FREE: dict[str, frozenset[str]] = {
    "takeoffs": frozenset({"occupies"}),
    "runs": frozenset(),
    "pieces": frozenset(),
    "fittings": frozenset(),
    "heads": frozenset({"stopped_by"}),
    "level_changes": frozenset({"reason", "id"}),
}
"""What says nothing that a rule could judge: remarks, names that nothing refers to, and the stretch
that the choice reserved."""

WORDS = ("kind", "side", "counts_as")
"""Fields that hold one of a few words."""


def count_lied(work: Work, rng: random.Random) -> Claim | None:
    """Change one figure of the counts."""
    counts = work.route["counts"]
    what = rng.choice((*COUNTS, "fittings", "styles", "pipe_m"))
    if isinstance(counts[what], dict):
        key = rng.choice(sorted(counts[what]))
        counts[what][key] += rng.choice((-1, 1))
    else:
        counts[what] += rng.choice((-1, 1))
    return broken(f"counts.{what} is not so", "counts")


def term_lied(work: Work, rng: random.Random) -> Claim | None:
    """Change one figure of one term, or leave the term out, or put it in twice."""
    terms = work.route["objective"]["terms"]
    term = rng.choice(terms)
    what = rng.choice(("amount", "weight", "cost", "least", "unit", "name", "out", "twice"))
    if what == "out":
        terms.remove(term)
    elif what == "twice":
        terms.append(dict(term))
    elif what == "least":
        term["least"] = term["amount"] + 1.0
    elif what == "unit":
        term["unit"] = "points"
    elif what == "name":
        term["name"] = "another"
    else:
        term[what] += 1.0
    if term["name"] == "unserved" and what == "weight" and work.scenario["weights"]["unserved"] is None:
        return None  # the route's own weight counts where the scenario leaves it open
    return broken(f"term {term['name']}: {what} is not so", "objective")


def total_lied(work: Work, rng: random.Random) -> Claim | None:
    """Lie about value, bound, gap or status."""
    objective = work.route["objective"]
    what = rng.choice(("value", "gap", "bound above", "optimal with a gap", "infeasible"))
    if what == "value":
        objective["value"] += rng.choice((-1000.0, 1000.0))
    elif what == "gap":
        objective["gap"] += 1000.0
    elif what == "bound above":
        objective["bound"] = objective["value"] + 1000.0
        objective["gap"] = -1000.0
    elif what == "optimal with a gap":
        objective["bound"] -= 1000.0
        objective["gap"] = objective["value"] - objective["bound"]
        work.route["status"] = "optimal"
    else:
        work.route["status"] = "infeasible"
    return broken(f"objective: {what}", "objective")


def one_value(work: Work, rng: random.Random) -> Claim | None:
    """Change any one value anywhere in the records, nothing else follows."""
    lists: dict[str, list[Record]] = {k: work.route[k] for k in FREE if k != "level_changes"}
    lists["level_changes"] = [c for r in work.runs for c in r["level_changes"]]
    kind = rng.choice([key for key in lists if lists[key]])
    item = rng.choice(lists[kind])
    fields = sorted(set(item) - FREE[kind] - {"level_changes"})
    if item.get("kind") == "run":
        fields.remove("id")  # no takeoff lists it
    field = rng.choice(fields)
    before = item[field]
    names = [i["id"] for key in lists for i in lists[key]] + ["nobody"]
    if field in WORDS:  # not any text would be read as a route
        names = sorted({str(i[field]) for i in lists[kind]})
    item[field] = 1.0 if field == "arm_level" and before is None else _other(before, rng, names)
    if item[field] == before:
        return None
    if kind == "fittings" and field == "directions":
        return broken(f"{item['id']}: {field}", "connected", "square")
    return broken(f"{item['id']}: {field} was {before!r}, is {item[field]!r}")


def _other(value: Any, rng: random.Random, names: list[str]) -> Any:
    if isinstance(value, bool):
        return not value
    if isinstance(value, int):
        return 45 if value == 90 else 90 if value == 45 else rng.choice((value + 1, value * 2 + 5, 150))
    if isinstance(value, float):
        return value + rng.choice((-500.0, -7.0, 7.0, 500.0))
    if isinstance(value, str) or value is None:
        return rng.choice(names)
    if not value:
        return value
    changed = list(value)
    k = rng.randrange(len(changed))
    if isinstance(changed[k], dict):
        key = rng.choice(sorted(changed[k]))
        changed[k] = {**changed[k], key: _other(changed[k][key], rng, names)}
    elif isinstance(changed[k], list | tuple):
        changed[k] = tuple(_other(list(changed[k]), rng, names))
    elif isinstance(changed[k], float) and max(abs(v) for v in changed) <= 1.0 + 1e-9:
        changed[k] += 0.5 if changed[k] <= 0.0 else -0.5  # a direction
    else:
        changed[k] = _other(changed[k], rng, names)
    return type(value)(changed)


FIGURES = {
    "count misstated": count_lied,
    "term misstated": term_lied,
    "total or status misstated": total_lied,
    "one value changed": one_value,
}
