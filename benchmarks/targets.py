"""The project's aims in time, memory and proof, beside what a run of the benchmark measured."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np

if TYPE_CHECKING:
    from collections.abc import Sequence

LEAST_HEADS = 120
"""Heads from which on growth is judged: below, what every route costs alike hides it."""
LEAST_SIZES = 3
"""A slope through two sizes shows their noise."""


@dataclass(frozen=True)
class Row:
    """One aim. ``met`` is ``None`` where this run did not measure it."""

    aim: str
    measured: str
    met: bool | None


def exponents(results: Sequence[dict[str, Any]]) -> dict[str, dict[str, Any]]:
    """Growth of time against heads: least squares through the logarithms, by what grows.

    Only cases in one process count. Given are the exponent over all sizes and
    over those from :data:`LEAST_HEADS` on (``None`` where there are fewer than two).
    """
    out: dict[str, dict[str, Any]] = {}
    for name in dict.fromkeys(r["growth"] for r in results if r.get("growth")):
        points = sorted((r["heads"], r["seconds"]) for r in results if r.get("growth") == name
                        and r["processes"] == 1)  # fmt: skip
        large = [p for p in points if p[0] >= LEAST_HEADS]
        out[name] = {"points": points, "all": _slope(points), "from_120": _slope(large)}
    return out


def _slope(points: Sequence[tuple[int, float]]) -> float | None:
    if len({heads for heads, _ in points}) < 2:
        return None
    x, y = np.log([[float(v) for v in p] for p in points]).T
    return round(float(np.polyfit(x, y, 1)[0]), 3)


def rows(results: Sequence[dict[str, Any]]) -> list[Row]:
    """Give every aim with what was measured."""
    done = {r["name"]: r for r in results if "heads" in r}
    out = []
    for heads, most in ((12, 30), (24, 100), (48, 400)):
        aim = f"a line of {heads}, all supply levels, proven, candidates included: {most} ms (median)"
        out.append(_seconds(aim, done.get(f"line of {heads}"), most / 1000))
    out.append(
        _seconds("a floor of 10 x 12 with its main, one process: 0.5 s", done.get("floor of 10 x 12"), 0.5)
    )
    out.append(_seconds("1,200 heads on one main: 3 s", done.get("one main, 100 x 12"), 3.0))
    large = done.get("regular building, medium, 12,000, all cores")
    out.append(_seconds("12,000 heads on 100 floors: 12 s", large, 12.0))
    most_mb = None if large is None else max(large["memory_mb"], large["worker_memory_mb"])
    out.append(_row("12,000 heads: under 300 MB a process", most_mb, 300.0, "{:.0f} MB"))
    both = [done.get(name) for name in ("hospital_level1", "hospital_level3")]
    known = [r for r in both if r is not None]
    together = sum(r["seconds"] for r in known) if len(known) == 2 else None
    out.append(_row("the hospital's levels 1 and 3 together: 5 s", together, 5.0, "{:.2f} s"))
    for name, found in exponents(results).items():
        sizes = sorted({heads for heads, _ in found["points"] if heads >= LEAST_HEADS})
        if len(sizes) >= LEAST_SIZES:
            aim = f"time against heads, {name}, {min(sizes):,} to {max(sizes):,}: exponent at most 1.1"
            out.append(_row(aim, found["from_120"], 1.1, "{:.2f}"))
    gaps = {r["name"]: r["largest_gap"] for r in done.values() if r["largest_gap"] > 0}
    listed = ", ".join(f"{name}: {gap:,.0f} points" for name, gap in gaps.items())
    out.append(
        Row("gap 0 on every case, clashing arms included", listed or f"{len(done)} cases, all 0", not gaps)
    )
    alone = done.get("regular building, medium, 12,000") or large
    ratio = None if alone is None else alone["check_ratio"]
    out.append(
        _row("the referee's check of 12,000 heads: under a fifth of the routing", ratio, 0.2, "{:.3f}")
    )
    return out


def _seconds(aim: str, result: dict[str, Any] | None, most: float) -> Row:
    if result is None:
        return Row(aim, "not in this run", None)
    proven = set(result["status"]) == {"optimal"}
    text = f"{1000 * result['seconds']:.0f} ms" if most < 1 else f"{result['seconds']:.2f} s"
    return Row(aim, text if proven else f"{text}, not proven", proven and result["seconds"] <= most)


def _row(aim: str, value: float | None, most: float, form: str) -> Row:
    if value is None or math.isnan(value):
        return Row(aim, "not in this run", None)
    return Row(aim, form.format(value), value <= most)
