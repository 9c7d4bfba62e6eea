"""Fittings as the trade names them: run x run x outlet, larger run end first (common practice, no source)."""

from __future__ import annotations

from shop_made import Shop, scenario

from router.cutlist import cut_list


def names(shop: Shop) -> dict[tuple[str, str], int]:
    lines = cut_list(shop.given, shop.route()).fittings
    return {(line.word, line.sizes): line.quantity for line in lines}


def test_threaded_fittings() -> None:
    shop = Shop(scenario())
    z = 3000.0
    small = shop.fit("tee", (1000.0, 0.0, z))
    shop.pipe("run", (small, (0.0, 0.0, z)), 50)
    shop.pipe("run", (small, (2000.0, 0.0, z)), 40)
    shop.pipe("drop", (small, (1000.0, 0.0, z - 500)), 25, ("outlet", "run"))
    cross = shop.fit("cross", (5000.0, 0.0, z))
    for x in (4000.0, 6000.0):
        shop.pipe("run", (cross, (x, 0.0, z)), 50)
    for y in (-500.0, 500.0):
        shop.pipe("arm", (cross, (5000.0, y, z)), 25, ("outlet", "run"))
    bull = shop.fit("tee", (0.0, 5000.0, z))  # fed in its side: its run is the smaller
    shop.pipe("nipple", (bull, (0.0, 5000.0, z - 300)), 32, ("outlet", "run"))
    for x in (-500.0, 500.0):
        shop.pipe("arm", (bull, (x, 5000.0, z)), 25)
    for dn in (25, 25, 32):
        elbow = shop.fit("elbow_90", (0.0, 8000.0, z))
        shop.pipe("arm", (elbow, (0.0, 8500.0, z)), 25)
        shop.pipe("arm", (elbow, (0.0, 8000.0, z - 500)), dn)
    reducer = shop.fit("reducer", (9000.0, 0.0, z))
    shop.pipe("drop", ((9000.0, 0.0, z + 300), reducer), 25)
    reducer.ports.append(((0.0, 0.0, -1.0), 15, "outlet"))
    plug = shop.fit("plug", (9500.0, 0.0, z))
    plug.ports.append(((0.0, 0.0, -1.0), 25, "run"))
    assert names(shop) == {
        ("tee", "2 x 1-1/2 x 1 in."): 1,
        ("tee", "1 x 1 x 1-1/4 in."): 1,
        ("cross", "2 x 2 x 1 x 1 in."): 1,
        ("elbow 90", "1 in."): 2,
        ("elbow 90", "1-1/4 x 1 in."): 1,
        ("reducer at head", "1 x 1/2 in."): 1,
        ("plug", "1 in."): 1,
    }


def test_metric_welded_and_grooved() -> None:
    for joining, outlet_word, elbow_word in (
        ("welded", "welded outlet", "butt weld elbow 90"),
        ("grooved", "mechanical tee", "elbow 90"),
    ):
        shop = Shop(scenario(system={"standard": "metric", "joining": joining}))
        elbow = shop.fit("elbow_90", (0.0, 0.0, 3000.0), joining)
        shop.pipe("run", ((0.0, -900.0, 3000.0), elbow), 65, joining=joining)
        shop.pipe("run", (elbow, (5000.0, 0.0, 3000.0)), 65, joining=joining)
        outlet = shop.fit("outlet", (2000.0, 0.0, 3000.0), joining, seat=65)
        shop.pipe("drop", (outlet, (2000.0, 0.0, 2600.0)), 25, ("outlet", "run"))
        assert names(shop) == {(outlet_word, "DN65 x 25"): 1, (elbow_word, "DN65"): 1}


def test_a_tee_that_is_not_made_takes_bushings() -> None:
    """A cross with two different outlets is not made in one piece: the smaller is bushed."""
    shop = Shop(scenario())
    cross = shop.fit("cross", (5000.0, 0.0, 3000.0))
    for x in (4000.0, 6000.0):
        shop.pipe("run", (cross, (x, 0.0, 3000.0)), 50)
    shop.pipe("arm", (cross, (5000.0, -500.0, 3000.0)), 25, ("outlet", "run"))
    shop.pipe("arm", (cross, (5000.0, 500.0, 3000.0)), 32, ("outlet", "run"))
    found = cut_list(shop.given, shop.route())
    (line,) = found.fittings
    assert line.sizes == "2 x 2 x 1-1/4 x 1 in."
    assert line.bushings
    assert all(outer > inner for outer, inner in line.bushings)
    assert [t.quantity for t in found.totals if t.what == "bushing"] == [1] * len(line.bushings)


def test_a_joining_by_size_follows_the_run_s_size_at_its_supply() -> None:
    ranges = [{"up_to": 50, "joining": "threaded"}, {"joining": "welded"}]
    runs = [{"id": "R", "plan": [(0, 0), (9000, 0)], "elevation": 3000},
            {"id": "S", "plan": [(0, 0), (0, 9000)], "elevation": 3000}]  # fmt: skip
    shop = Shop(scenario(runs, system={"joining": ranges}))
    shop.pipe("run", ((0.0, 0.0, 3000.0), (3000.0, 0.0, 3000.0)), 65, joining="welded")
    shop.pipe("run", ((9000.0, 0.0, 3000.0), (9900.0, 0.0, 3000.0)), 50, joining="welded")
    shop.pipe("run", ((500.0, 500.0, 3000.0), (500.0, 3000.0, 3000.0)), 50, run="S")
    ends = [cut.ends[0].preparation for cut in cut_list(shop.given, shop.route()).cuts]
    assert ends == ["bevel", "bevel", "threaded"]
