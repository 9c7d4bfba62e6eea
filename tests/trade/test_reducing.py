"""One-piece reducing fittings, and bushings where none is made.

The pairs of reducing tees: ASME B16.3 class 150 (from memory, checked in part). Larger
runs and tees whose run reduces: assumed, doubtful.
"""

from __future__ import annotations

from itertools import product

import pytest

from router.trade.published import load
from router.trade.reducing import bushings_for, one_piece
from router.trade.sizes import SIZES
from router.trade.tables import Tables

TABLES = Tables()

# ASME B16.3 class 150 reducing tees with a row of dimensions: run x run x outlet, in.
LISTED = [
    (20, 15), (25, 15), (25, 20), (32, 15), (32, 20), (32, 25), (40, 15), (40, 20), (40, 25), (40, 32),
    (50, 15), (50, 20), (50, 25), (50, 32), (50, 40),
]  # fmt: skip


@pytest.mark.parametrize(("run", "outlet"), LISTED)
def test_listed_pairs_are_one_piece(run: int, outlet: int) -> None:
    for kind, sizes in (
        ("tee", (run, run, outlet)),
        ("cross", (run, run, outlet, outlet)),
        ("elbow_90", (run, outlet)),
        ("elbow_90", (outlet, run)),
    ):
        assert one_piece(kind, sizes, tables=TABLES)
        assert bushings_for(kind, sizes, TABLES) == []


def test_every_row_of_the_tee_table_is_made() -> None:
    pairs = set(load()["reducing_tee_run"].values)
    assert pairs == set(LISTED)
    made = load()["reducing_tee_made"]
    assert {key for key in made.values if made.grade(key) == "B"} == pairs
    assert {made.grade(key) for key in made.values} == {"B", "D"}


@pytest.mark.parametrize("dn", SIZES)
def test_straight_fittings_are_made(dn: int) -> None:
    for kind, ports in (("tee", 3), ("cross", 4), ("elbow_90", 2), ("elbow_45", 2)):
        assert one_piece(kind, [dn] * ports, tables=TABLES)


@pytest.mark.parametrize(
    ("kind", "sizes", "bushings"),
    [
        ("tee", (40, 32, 25), []),  # the run reduces by one size
        ("tee", (65, 32, 25), [(40, 32)]),  # by three: a 65 x 40 x 25 tee and one bushing
        ("tee", (32, 65, 25), [(40, 32)]),
        ("tee", (25, 25, 32), []),  # the outlet is one size larger
        ("tee", (25, 25, 40), [(40, 25)]),
        ("tee", (150, 150, 25), [(100, 25)]),
        ("elbow_90", (65, 25), [(50, 25)]),
        ("elbow_45", (32, 25), [(32, 25)]),
        ("cross", (32, 32, 25, 20), [(25, 20)]),
        ("cross", (40, 32, 25, 25), [(40, 32)]),
        ("reducer", (25, 15), []),
        ("reducing_coupling", (150, 25), [(80, 25)]),  # 3, 3-1/2, 4, 5, 6 in.: four steps at most
    ],
)
def test_fewest_bushings(kind: str, sizes: tuple[int, ...], bushings: list[tuple[int, int]]) -> None:
    assert bushings_for(kind, sizes, TABLES) == bushings


def test_bushings_always_lead_to_a_fitting_that_is_made() -> None:
    for sizes in product((25, 32, 50, 65, 100, 150), repeat=3):
        bushings = bushings_for("tee", sizes, TABLES)
        ways = [[size, *(outer for outer, inner in bushings if inner == size)] for size in sizes]
        served = [
            openings
            for openings in product(*ways)
            if one_piece("tee", openings, tables=TABLES)
            and sorted(pair for pair in zip(openings, sizes, strict=True) if pair[0] != pair[1])
            == sorted(bushings)
        ]
        assert served, sizes
        assert all(inner < outer <= max(sizes) for outer, inner in bushings)


def test_outlets_plugs_and_caps_are_made_to_their_size() -> None:
    for kind in ("outlet", "plug", "cap"):
        assert bushings_for(kind, [25], TABLES) == []


def test_a_scenario_may_say_otherwise() -> None:
    own = Tables(overrides={"reducing_tee_made": {"2x1": 0, "6x1": 1}, "reducing_run_steps": {"tee run": 0}})
    assert bushings_for("tee", (50, 50, 25), own) == [(32, 25)]
    assert bushings_for("tee", (150, 150, 25), own) == []
    assert bushings_for("tee", (40, 32, 25), own) == [(40, 32)]


def test_faults() -> None:
    with pytest.raises(ValueError, match="fitting 'wye' is not one of tee, cross"):
        one_piece("wye", (25, 25, 25), tables=TABLES)
    with pytest.raises(ValueError, match="a tee has 3 openings, not 2"):
        bushings_for("tee", (25, 25), TABLES)
