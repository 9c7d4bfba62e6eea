"""Mutations of records: things are left out, exchanged or misnamed; the books follow where they can."""

from __future__ import annotations

import copy
from math import dist
from typing import TYPE_CHECKING, get_args

from mutant_work import SAME_MM, Claim, Record, Work, broken

from router.route.model import FittingKind

if TYPE_CHECKING:
    import random

STYLES = (
    "straight_drop",
    "side_arm",
    "return_bend",
    "lowered_arm",
    "shared_nipple",
    "level_cross",
    "sprig",
    "sidewall",
    "flexible_drop",
)
"""A raised arm is left out: for a pendent it is a return bend by another name."""
SIDES = ("left", "right", "top", "bottom", "end")


def fitting_dropped(work: Work, rng: random.Random) -> Claim | None:
    """Leave a fitting out; half the time every list and count follows."""
    fitting = rng.choice(work.fittings)
    if rng.random() < 0.5:
        work.fittings.remove(fitting)
        return broken(f"{fitting['id']} is named and not there")
    work.forget("fittings", [fitting["id"]])
    work.keep_counts()
    work.keep_objective()
    return broken(f"{fitting['id']}, a {fitting['kind']}, is missing")


def piece_dropped(work: Work, rng: random.Random) -> Claim | None:
    """Leave a pipe out; half the time every list and count follows."""
    piece = rng.choice(work.pieces)
    if rng.random() < 0.5:
        work.pieces.remove(piece)
    else:
        work.forget("pieces", [piece["id"]])
        work.keep_counts()
        work.keep_objective()
    return broken(f"{piece['id']} is missing")


def record_dropped(work: Work, rng: random.Random) -> Claim | None:
    """Leave out what the route says of a takeoff or a run."""
    kind = rng.choice(("takeoffs", "runs"))
    item = rng.choice(work.route[kind])
    work.route[kind].remove(item)
    return broken(f"{item['id']} is missing")


def head_unlisted(work: Work, rng: random.Random) -> Claim | None:
    """Say nothing of a head, served or not; the counts still know it."""
    head = rng.choice(work.heads)
    work.heads.remove(head)
    if rng.random() < 0.5:
        for takeoff in work.takeoffs:
            takeoff["heads"] = [name for name in takeoff["heads"] if name != head["id"]]
    work.keep_counts()
    work.keep_objective()
    return broken(f"{head['id']} is not mentioned", "served")


def head_disconnected(work: Work, rng: random.Random) -> Claim | None:
    """Take a head from its takeoff's list, or its takeoff from the head."""
    head = rng.choice([h for h in work.heads if h["served"]])
    if rng.random() < 0.5:
        takeoff = work.takeoff(head["takeoff"])
        takeoff["heads"] = [name for name in takeoff["heads"] if name != head["id"]]
    else:
        head["takeoff"] = None
    return broken(f"{head['id']} and its takeoff do not name each other", "served")


def piece_unfitted(work: Work, rng: random.Random) -> Claim | None:
    """Let a pipe end in no fitting where one stands."""
    piece, end = rng.choice([(p, k) for p in work.pieces for k in (0, 1) if p["fittings"][k]])
    names = list(piece["fittings"])
    names[end] = None
    piece["fittings"] = tuple(names)
    return broken(f"{piece['id']} does not name the fitting that it ends in", "connected")


def thing_doubled(work: Work, rng: random.Random) -> Claim | None:
    """Put a pipe or a fitting in twice, under a new id, with every list and count following."""
    kind = rng.choice(("pieces", "fittings"))
    item = rng.choice(work.route[kind])
    other = copy.deepcopy(item)
    other["id"] = "twice"
    work.route[kind].append(other)
    for takeoff in work.takeoffs:
        if item["id"] in takeoff[kind]:
            takeoff[kind] = [*takeoff[kind], "twice"]
    work.keep_counts()
    work.keep_objective()
    return broken(f"{item['id']} is there twice")


def sizes_swapped(work: Work, rng: random.Random) -> Claim | None:
    """Exchange the sizes of two pipes, the openings that they are in stay."""
    pipes = [p for p in work.pieces if p["kind"] not in ("barrel", "hose") and any(p["fittings"])]
    a = rng.choice(pipes)
    others = [p for p in pipes if p["dn"] != a["dn"]]
    if not others:
        return None
    b = rng.choice(others)
    a["dn"], b["dn"] = b["dn"], a["dn"]
    work.keep_counts()
    work.keep_objective()
    return broken(f"{a['id']} and {b['id']} do not fit their openings", "sizes")


def sizes_swapped_along_a_run(work: Work, rng: random.Random) -> Claim | None:
    """Exchange the sizes of two pipes of one run, openings follow: the size grows downstream."""
    pipes = [p for p in work.pieces if p["kind"] == "run"]
    pairs = [(a, b) for a in pipes for b in pipes if a["run"] == b["run"] and a["dn"] > b["dn"]]
    if not pairs:
        return None
    a, b = rng.choice(pairs)
    a["dn"], b["dn"] = b["dn"], a["dn"]
    work.keep()
    return broken(f"{b['id']} is larger than what feeds it", "sizes")


def wrong_kind(work: Work, rng: random.Random) -> Claim | None:
    """Call a fitting by another kind, counts follow."""
    fitting = rng.choice(work.fittings)
    fitting["kind"] = rng.choice([kind for kind in get_args(FittingKind) if kind != fitting["kind"]])
    fitting["counts_as"] = "reducer" if fitting["kind"] == "reducer" else "fitting"
    work.keep_counts()
    work.keep_objective()
    return broken(f"{fitting['id']} is no {fitting['kind']}")


def heads_swapped(work: Work, rng: random.Random) -> Claim | None:
    """Exchange two heads of different takeoffs, in all records or only their inlets."""
    served = [h for h in work.heads if h["served"]]
    pairs = [(a, b) for a in served for b in served if a["takeoff"] < b["takeoff"]]
    if not pairs:
        return None
    a, b = rng.choice(pairs)
    if rng.random() < 0.5:
        a["inlet"], b["inlet"] = b["inlet"], a["inlet"]
    else:
        for one, name in ((a, b["id"]), (b, a["id"])):
            takeoff = work.takeoff(one["takeoff"])
            takeoff["heads"] = [name if h == one["id"] else h for h in takeoff["heads"]]
        for key in ("takeoff", "run", "style"):
            a[key], b[key] = b[key], a[key]
    work.keep_counts()
    work.keep_objective()
    return broken(f"{a['id']} and {b['id']} are exchanged", "served")


def served_lied(work: Work, rng: random.Random) -> Claim | None:
    """Call a served head unserved, counts follow."""
    head = rng.choice([h for h in work.heads if h["served"]])
    head["served"] = False
    work.keep_counts()
    work.keep_objective()
    return broken(f"{head['id']} is served", "served")


def hanger_wrong(work: Work, rng: random.Random) -> Claim | None:
    """Drop a hanger that an arm needs, or add one that none needs, counts follow."""
    takeoff = rng.choice(work.takeoffs)
    takeoff["hangers"] += -1 if takeoff["hangers"] else 1
    work.keep_counts()
    work.keep_objective()
    return broken(f"{takeoff['id']}: hangers are not what its arms need", "counts")


def style_lied(work: Work, rng: random.Random) -> Claim | None:
    """Call a takeoff by another style, everywhere."""
    takeoff = rng.choice(work.takeoffs)
    kept = {"return_bend", "raised_arm"} if takeoff["style"] == "raised_arm" else {takeoff["style"]}
    takeoff["style"] = rng.choice([style for style in STYLES if style not in kept])
    for name in takeoff["heads"]:
        work.head(name)["style"] = takeoff["style"]
    work.keep_counts()
    work.keep_objective()
    return broken(f"{takeoff['id']} is no {takeoff['style']}", "style_shape", "allowed_styles")


def side_lied(work: Work, rng: random.Random) -> Claim | None:
    """Give a takeoff another outlet side."""
    takeoff = rng.choice([t for t in work.takeoffs if t["style"] != "level_cross"])
    takeoff["side"] = rng.choice([side for side in SIDES if side != takeoff["side"]])
    return broken(f"{takeoff['id']} does not leave to the {takeoff['side']}", "square", "style_shape")


def place_lied(work: Work, rng: random.Random) -> Claim | None:
    """Write a takeoff's station or level 50 mm off."""
    takeoff = rng.choice([t for t in work.takeoffs if t["fittings"]])
    if rng.random() < 0.5:
        takeoff["station"] += 50.0
        takeoff["occupies"] = tuple(s + 50.0 for s in takeoff["occupies"])
    else:
        takeoff["level"] += 50.0
    return broken(f"{takeoff['id']} stands elsewhere", "counts")


def arm_level_lied(work: Work, rng: random.Random) -> Claim | None:
    """Write the level of an arm 50 mm off."""
    arms = {p["owner"] for p in work.pieces if p["kind"] == "arm"}
    choices = [t for t in work.takeoffs if t["id"] in arms and t["arm_level"] is not None]
    if not choices:
        return None
    takeoff = rng.choice(choices)
    takeoff["arm_level"] += 50.0
    return broken(f"{takeoff['id']}: its arm is not at that level", "counts")


def flag_lied(work: Work, rng: random.Random) -> Claim | None:
    """Turn a takeoff's ``ends_run`` or ``dogleg`` round."""
    takeoff = rng.choice(work.takeoffs)
    flag = rng.choice(("ends_run", "dogleg"))
    takeoff[flag] = not takeoff[flag]
    return broken(f"{takeoff['id']}: {flag} is not {takeoff[flag]}")


def profile_lied(work: Work, rng: random.Random) -> Claim | None:
    """Write a run's profile 30 mm too high throughout, or one corner of it."""
    run = rng.choice(work.runs)
    if rng.random() < 0.5:
        run["supply_level"] += 30.0
        for point in run["profile"]:
            point["level"] += 30.0
        work.keep_objective()
    else:
        rng.choice(run["profile"])["level"] += 30.0
    return broken(f"{run['id']}: its pipe is not where its profile says", "band")


def change_lied(work: Work, rng: random.Random) -> Claim | None:
    """Leave a change of level out of the list, or misname its angle, stations or elbows."""
    choices = [(r, c) for r in work.runs for c in r["level_changes"]]
    if not choices:
        return None
    run, change = rng.choice(choices)
    what = rng.choice(("out", "angle", "stations", "levels", "fittings", "bend"))
    if what == "out":
        run["level_changes"].remove(change)
        work.keep_counts()
        work.keep_objective()
    elif what == "angle":
        change["angle"] = 135 - change["angle"]
    elif what == "fittings":
        others = [f["id"] for f in work.fittings if f["id"] not in change["fittings"]]
        change["fittings"] = [change["fittings"][0], rng.choice(others)]
    elif what == "bend":
        change["at_bend"] = not change["at_bend"]
    else:
        change[what] = (change[what][0] + 20.0, change[what][1])
    return broken(f"{change['id']} is not as it is said to be ({what})")


def run_lied(work: Work, rng: random.Random) -> Claim | None:
    """Write a run's pitch, length or trapped stretches wrongly."""
    run = rng.choice(work.runs)
    what = rng.choice(("pitch", "built_to", "trapped"))
    if what == "trapped":
        if run["trapped"] and rng.random() < 0.5:
            low, high = run["trapped"][0]
            run["trapped"] = [(low + 200.0, high), *run["trapped"][1:]]
        else:
            run["trapped"] = [*run["trapped"], (0.0, 100.0)]
    else:
        run[what] += 20.0
    return broken(f"{run['id']}: {what} is not so")


def owner_lied(work: Work, rng: random.Random) -> Claim | None:
    """Give a pipe or a fitting to another takeoff, counts follow."""
    item = rng.choice([*work.pieces, *work.fittings])
    others = [t["id"] for t in work.takeoffs if t["id"] != item["owner"]]
    if not others:
        return None
    item["owner"] = rng.choice(others)
    work.keep_counts()
    work.keep_objective()
    return broken(f"{item['id']} is not of {item['owner']}")


def corner_without_elbow(work: Work, rng: random.Random) -> Claim | None:
    """Leave the elbow out where a run turns into its child at its end, as if it went straight on."""
    choices = [
        t for t in work.takeoffs if t["child_runs"] and t["ends_run"] and t["side"] in ("left", "right")
    ]
    if not choices:
        return None
    takeoff = rng.choice(choices)
    takeoff["side"] = "end"
    work.forget("fittings", list(takeoff["fittings"]))
    work.keep_counts()
    work.keep_objective()
    return broken(f"{takeoff['id']}: pipes meet at a corner without a fitting", "square")


def style_forbidden(work: Work, rng: random.Random) -> Claim | None:
    """Let the scenario allow every style but one that the route uses."""
    used = sorted({t["style"] for t in work.takeoffs if t["heads"]})
    if not used:
        return None
    gone = rng.choice(used)
    work.scenario["rules"]["styles"] = [s for s in (*STYLES, "raised_arm") if s != gone]
    return broken(f"{gone} is not allowed", "allowed_styles")


def pinned_elsewhere(work: Work, rng: random.Random) -> Claim | None:
    """Pin a head to another run, outlet side or stretch than the route has."""
    head = rng.choice([h for h in work.heads if h["served"]])
    takeoff = work.takeoff(head["takeoff"])
    what = rng.choice(("run", "side", "stations", "given"))
    others = [r["id"] for r in work.scenario["runs"] if r["id"] != head["run"]]
    if what in ("run", "given") and not others:
        what = "side"
    pin: Record = {"style": None, "run": None, "side": None, "stations": None}
    if what == "given":
        work.given_head(head["id"])["run"] = rng.choice(others)
        return broken(f"{head['id']} must be on another run", "served")
    if what == "run":
        pin["run"] = rng.choice(others)
    elif what == "side":
        pin["side"] = rng.choice([s for s in SIDES[:4] if s != takeoff["side"]])
    else:
        pin["stations"] = (takeoff["station"] + 5.0, takeoff["station"] + 50.0)
    work.scenario["pins"]["heads"][head["id"]] = pin
    return broken(f"{head['id']} is pinned elsewhere", "pins")


def plug_forgotten(work: Work, rng: random.Random) -> Claim | None:
    """Move a plug to the fitting of another head, or make it and its opening another size."""
    plugs = [f for f in work.fittings if f["kind"] == "plug"]
    if not plugs:
        return None
    plug = rng.choice(plugs)
    host = next(f for f in work.fittings if f is not plug and dist(f["at"], plug["at"]) <= SAME_MM)
    others = [f for f in plugs if dist(f["at"], plug["at"]) > SAME_MM]
    if others and rng.random() < 0.5:
        plug["at"] = rng.choice(others)["at"]
        return broken(f"{host['id']} has an open end", "connected")
    plug["sizes"] = [50 if plug["sizes"][0] != 50 else 32]
    return broken(f"{plug['id']} does not fit {host['id']}", "sizes")


RECORDS = {
    "fitting dropped": fitting_dropped,
    "pipe dropped": piece_dropped,
    "takeoff or run not recorded": record_dropped,
    "head not mentioned": head_unlisted,
    "head disconnected": head_disconnected,
    "pipe end without its fitting": piece_unfitted,
    "pipe or fitting doubled": thing_doubled,
    "sizes of two pipes exchanged": sizes_swapped,
    "sizes along a run exchanged": sizes_swapped_along_a_run,
    "wrong kind of fitting": wrong_kind,
    "two heads exchanged": heads_swapped,
    "served head called unserved": served_lied,
    "hanger dropped or invented": hanger_wrong,
    "style misnamed": style_lied,
    "outlet side misnamed": side_lied,
    "station or level misstated": place_lied,
    "arm level misstated": arm_level_lied,
    "dogleg or end of run misstated": flag_lied,
    "profile misstated": profile_lied,
    "level change misstated": change_lied,
    "run misstated": run_lied,
    "owner misstated": owner_lied,
    "corner without an elbow": corner_without_elbow,
    "style forbidden": style_forbidden,
    "head pinned elsewhere": pinned_elsewhere,
    "plug in the wrong place or size": plug_forgotten,
}
