"""Mutations of hangers, reducing couplings and prices."""

from __future__ import annotations

from typing import TYPE_CHECKING

from mutant_work import Claim, Record, Work, broken, flat, plus, towards

if TYPE_CHECKING:
    import random

SECTION_MM = 1850.0
"""More than 6 ft: a section of pipe that long has a hanger (from memory: NFPA 13 (2016) 9.2.3.2)."""
ARM_MM = 610.0
"""More than 24 in. or 600 mm: an arm that long has a hanger (NFPA 13 (2016) 9.2.3.5)."""
NO_ARM = ("run", "hose", "barrel")


# -- hangers --------------------------------------------------------------------------------


def hanger_moved(work: Work, rng: random.Random) -> Claim | None:
    """Move a hanger off its pipe: aside, beyond its end, into a fitting, or onto a pipe that is not there."""
    hanger = rng.choice(work.route["hangers"])
    piece = work.piece(hanger["piece"])
    way = rng.choice(("aside", "up", "beyond", "fitting", "nowhere"))
    if way == "nowhere":
        hanger["piece"] = "no such pipe"
    elif way == "up":
        hanger["at"] = plus(hanger["at"], (0.0, 0.0, 1.0), rng.choice((-1.0, 1.0)) * rng.uniform(1.0, 500.0))
    elif way == "aside":
        x, y, _ = towards(piece["start"], piece["end"])
        hanger["at"] = plus(hanger["at"], (-y, x, 0.0), rng.choice((-1.0, 1.0)) * rng.uniform(1.0, 500.0))
        if abs(x) + abs(y) < 0.5:
            return None  # it stands: aside is no way
    elif way == "beyond":
        hanger["at"] = plus(piece["end"], towards(piece["start"], piece["end"]), rng.uniform(1.0, 300.0))
    else:
        ends = [k for k in (0, 1) if (work.fitting(piece["fittings"][k] or "") or {}).get("kind") != "outlet"]
        ends = [k for k in ends if piece["fittings"][k]]
        if not ends or hanger["kind"] == "sprig_restraint":
            return None
        hanger["at"] = piece[("start", "end")[rng.choice(ends)]]
    return broken(f"{hanger['id']} hangs nothing ({way})", "hangers")


def hanger_misdescribed(work: Work, rng: random.Random) -> Claim | None:
    """Write another kind, run, pipe, structure or rod of a hanger."""
    hanger = rng.choice(work.route["hangers"])
    way = rng.choice(("kind", "run", "piece", "structure", "rod"))
    if way == "kind":
        kinds = ("run", "arm", "sprig_restraint")
        hanger["kind"] = rng.choice([kind for kind in kinds if kind != hanger["kind"]])
    elif way == "run":
        others = [r["id"] for r in work.scenario["runs"] if r["id"] != hanger["run"]]
        hanger["run"] = rng.choice([*others, "nowhere"])
    elif way == "piece":
        # any other that does not go on in the same line
        here = work.piece(hanger["piece"])
        others = [p for p in work.pieces if p["kind"] != here["kind"]]
        hanger["piece"] = rng.choice(others)["id"]
    elif way == "structure":
        hanger["structure"] = "no such beam"
    elif hanger["structure"] is None:
        return None
    else:
        hanger["rod"] += rng.choice((-1.0, 1.0)) * rng.uniform(1.0, 200.0)
    return broken(f"{hanger['id']}: {way} is not so", "hangers")


def hanger_dropped(work: Work, rng: random.Random) -> Claim | None:
    """Leave out the hanger of a section of a run, or of an arm, that is too long to go without."""
    hangers = work.route["hangers"]
    held = sorted({h["piece"] for h in hangers if h["kind"] == "run"})
    gone: list[list[Record]] = []
    for name in held:
        piece = work.piece(name)
        if flat(piece["start"], piece["end"]) > SECTION_MM:  # its ends are fittings that part the run
            gone.append([h for h in hangers if h["piece"] == name])
    for takeoff in work.takeoffs:
        arms = [work.piece(name) for name in takeoff["pieces"]]
        length = sum(flat(p["start"], p["end"]) for p in arms if p["kind"] not in NO_ARM)
        own = [h for h in hangers if h["piece"] in takeoff["pieces"] and h["kind"] == "arm"]
        free = max(work.scenario["rules"]["arm_unsupported"] or 0.0, ARM_MM)
        if own and len(takeoff["heads"]) == 1 and length > free:
            gone.append(own)
    gone = [some for some in gone if len(some) < len(hangers)]  # a route without any is only remarked
    dropped = [h["id"] for h in rng.choice(gone)]
    work.route["hangers"] = [h for h in hangers if h["id"] not in dropped]
    return broken(f"{', '.join(dropped)} left out", "hangers")


def hangers_of_a_run_dropped(work: Work, rng: random.Random) -> Claim | None:
    """Leave out every hanger of a run that has several, where others still hang."""
    hangers = work.route["hangers"]
    runs = sorted({h["run"] for h in hangers if h["kind"] == "run"})
    runs = [r for r in runs if sum(h["run"] == r and h["kind"] == "run" for h in hangers) > 2]
    if not runs or len({h["run"] for h in hangers}) < 2:
        return None
    run = rng.choice(runs)
    work.route["hangers"] = [h for h in hangers if h["run"] != run]
    return broken(f"{run} hangs on nothing", "hangers")


# -- reducing couplings ---------------------------------------------------------------------


def _couplings(work: Work) -> list[Record]:
    return [f for f in work.fittings if f["kind"] == "reducing_coupling"]


def coupling_resized(work: Work, rng: random.Random) -> Claim | None:
    """Write another size of a coupling's opening, exchange the two, or make them one; the price follows."""
    coupling = rng.choice(_couplings(work))
    sizes = coupling["sizes"]
    way = rng.choice(("exchanged", "equal", "another"))
    if way == "exchanged":
        sizes.reverse()
    elif way == "equal":
        coupling["sizes"] = [rng.choice(sizes)] * 2
    else:
        sizes[rng.randrange(2)] = rng.choice([dn for dn in (20, 25, 32, 40, 50, 65) if dn not in sizes])
    work.keep_counts()
    work.keep_objective()
    return broken(f"{coupling['id']} does not fit its pipes ({way})", "sizes")


def coupling_removed(work: Work, rng: random.Random) -> Claim | None:
    """Leave a coupling out, every list and count follows, make-ups too: two sizes meet in nothing."""
    coupling = rng.choice(_couplings(work))
    for piece, _ in work.neighbours(coupling):
        piece["make_up"] += _half(work, coupling)
    work.forget("fittings", [coupling["id"]])
    work.keep_counts()
    work.keep_objective()
    return broken(f"{coupling['id']} is missing between two sizes")


def _half(work: Work, coupling: Record) -> float:
    """Take-out of a coupling less the engagement: what is left over beside an end without a fitting.

    By way of the trade tables, whose own tests check them.
    """
    from router.trade.tables import Tables

    tables = Tables(work.scenario["system"]["standard"], work.scenario["rules"]["tables"])
    large, small = max(coupling["sizes"]), min(coupling["sizes"])
    joining = work.joining(coupling["run"])
    half = tables.take_out("reducing_coupling", "run", large, small, joining=joining)
    return half - tables.engagement(large, joining=joining)


def coupling_useless(work: Work, rng: random.Random) -> Claim | None:
    """Let the pipe go on in its larger size behind a coupling, which stays, with all the books."""
    coupling = rng.choice(_couplings(work))
    small = min((piece for piece, _ in work.neighbours(coupling)), key=lambda p: p["dn"])
    small["dn"] = max(coupling["sizes"])
    work.keep()
    return broken(f"{coupling['id']} reduces nothing", "sizes")


def coupling_shifted(work: Work, rng: random.Random) -> Claim | None:
    """Write a coupling beside the pipes that meet in it."""
    coupling = rng.choice(_couplings(work))
    by = rng.choice((-1.0, 1.0)) * rng.uniform(2.0, 400.0)
    coupling["at"] = plus(coupling["at"], coupling["directions"][0], by)
    return broken(f"{coupling['id']} stands {by:.0f} mm from its pipes", "connected")


# -- prices ---------------------------------------------------------------------------------


def price_changed(work: Work, rng: random.Random) -> Claim | None:
    """Change the table's price of something that the route holds; the sum stays as it was."""
    table = work.scenario["prices"]
    if table is None:
        return None
    counts = work.route["counts"]
    costs = [table["pipe"][dn] for dn in counts["pipe_m"] if dn in table["pipe"]]
    for fitting in work.fittings:
        rows = table["fittings"].get(fitting["kind"], {})
        found = rows.get(str(max(fitting["sizes"])), rows.get("other"))
        costs += [found] if found is not None else []
    several = {"drain": "drains", "large_drain": "large_drains", "wet_drain": "wet_drains"}
    costs += [table[name] for name, count in several.items() if counts[count]]
    cost = rng.choice(costs)
    if rng.random() < 0.5:
        cost["price"] += rng.uniform(0.5, 20.0)
    else:
        cost["minutes"] += rng.uniform(1.0, 20.0)
    return broken("the sum is by other prices", "counts")


def price_lied(work: Work, rng: random.Random) -> Claim | None:
    """Write another price; half the time the objective follows."""
    work.route["counts"]["price"] += rng.choice((-1.0, 1.0)) * rng.uniform(0.01, 50.0)
    if rng.random() < 0.5:
        work.keep_objective()
    return broken("price misstated", "counts")


def price_term_lied(work: Work, rng: random.Random) -> Claim | None:
    """Write another amount, or weight, of the price's term, with its cost and the total."""
    objective = work.route["objective"]
    term = next(t for t in objective["terms"] if t["name"] == "price")
    term[rng.choice(("amount", "weight"))] += rng.uniform(0.1, 10.0)
    before, term["cost"] = term["cost"], term["amount"] * term["weight"]
    objective["value"] += term["cost"] - before
    objective["gap"] = objective["value"] - objective["bound"]
    work.route["status"] = "feasible"
    return broken("the price's term is not so", "objective")


PARTS = {
    "hanger moved": hanger_moved,
    "hanger misdescribed": hanger_misdescribed,
    "hanger left out": hanger_dropped,
    "all hangers of a run dropped": hangers_of_a_run_dropped,
    "coupling resized": coupling_resized,
    "coupling removed": coupling_removed,
    "coupling that reduces nothing": coupling_useless,
    "coupling beside its pipes": coupling_shifted,
    "price in the table changed": price_changed,
    "price misstated": price_lied,
    "term of the price misstated": price_term_lied,
}
