"""Words and units of tables: kinds in any case and number, K-factors in either unit."""

from __future__ import annotations

from math import sqrt
from typing import TYPE_CHECKING

import pytest
from tables_made import ROOT, faults_of, heads_in, solids_in

from router.readers.into import into
from router.readers.spelled.k_factors import METRIC_IN_US, NOMINAL, from_metric, k_unit
from router.readers.spelled.kinds import solid_kind
from router.readers.spelled.numbers import Unclear
from router.readers.tables import Columns
from router.scenario import read_scenario
from router.trade.hangers import is_structure

if TYPE_CHECKING:
    from pathlib import Path

SOLIDS = "id;kind;xmin;xmax;ymin;ymax;bottom;top\n"


@pytest.mark.parametrize(
    ("word", "kind"),
    [
        ("Duct", "duct"),
        (" DUCTS ", "duct"),
        ("Ductwork", "duct"),
        ("Steel beam", "beam"),
        ("Beams", "beam"),
        ("Trusses", "truss"),
        ("truss", "truss"),
        ("Cable_Trays", "tray"),
        ("cable-tray", "tray"),
        ("Luminaire", "luminaire"),
        ("Light fixtures", "light"),
        ("Pipes", "pipe"),
        ("Abhangdecke Süd", "abhangdecke süd"),
        ("Gas_Meter", "gas_meter"),
        ("", "obstruction"),
    ],
)
def test_kinds_of_obstructions(word: str, kind: str, tmp_path: Path) -> None:
    (solid,) = solids_in(tmp_path / "obstructions.csv", f"{SOLIDS}A;{word};0;10;0;20;3000;3400\n").solids
    assert solid.kind == kind
    assert solid_kind(solid.kind) == kind


def test_a_word_of_the_person_stands_and_is_one_of_ours(tmp_path: Path) -> None:
    columns = Columns.model_validate({"obstructions": {"words": {"kind": {"Kanal": "Ducts"}}}})
    text = SOLIDS.replace("id;", "") + "KANAL;0;10;0;20;3000;3400\nMast;0;10;0;20;3000;3400\n"
    first, second = solids_in(tmp_path / "obstructions.csv", text, columns).solids
    assert (first.kind, second.kind, second.id) == ("duct", "mast", "Mast-3")


def test_new_ducts_replace_old_ones_and_beams_hold_hangers(tmp_path: Path) -> None:
    base = read_scenario(ROOT / "scenarios" / "loading_dock.json")
    text = SOLIDS + "N1;Ducts;0;10;0;20;3600;3700\nN2;Beam;100;200;0;500;3600;3700\n"
    again = into(base, solids_in(tmp_path / "obstructions.csv", text)).scenario
    assert [one.id for one in again.obstructions if one.kind == "duct"] == ["N1"]
    assert [one.id for one in again.obstructions if is_structure(one.kind)] == ["N2"]


def test_kinds_of_heads(tmp_path: Path) -> None:
    text = "id,x,y,z,kind\nA,0,0,9,Pendents\nB,5,0,9,UPRIGHT\nC,9,0,9,Pendant\n"
    assert [head.kind for head in heads_in(tmp_path / "heads.csv", text).heads] == [
        "pendent",
        "upright",
        "pendent",
    ]


def heads(header: str, *values: str) -> str:
    rows = "".join(f"H{k};{k};0;9;{value}\n" for k, value in enumerate(values))
    return f"id;x;y;z;{header}\n{rows}"


def test_the_units_of_k_factors_by_definition() -> None:
    """1 US gallon = 3.785411784 l, 1 psi = 6894.757 Pa: NIST Special Publication 811, appendix B."""
    assert pytest.approx(3.785411784 / sqrt(0.06894757), rel=1e-6) == METRIC_IN_US
    # metric names of the nominal K-factors: NFPA 13; K57 is none of them: EN 12845 (both from memory)
    metric = (20, 27, 40, None, 80, 115, 160, 200, 240, 280, 320, 360, 400)
    for us, k in zip(NOMINAL, metric, strict=True):
        assert k is None or from_metric(k) == us
    assert from_metric(57) == pytest.approx(3.95)
    assert from_metric(80.7) == 5.6


@pytest.mark.parametrize(
    ("header", "value", "us"),
    [
        ("K", "80", 5.6),
        ("K", "5,6", 5.6),
        ("K", "K 115", 8.0),
        ("K", "30", 30.0),
        ("K [l/min/bar^0.5]", "20", 1.4),
        ("K-Factor (L/min/(bar)^0.5)", "27", 1.9),
        ("K (metric)", "20", 1.4),
        ("K [gpm/psi^0.5]", "33,6", 33.6),
        ("K [gpm/psi½]", "28", 28.0),
        ("K (nominal)", "8.0", 8.0),
    ],
)
def test_k_factors_in_either_unit(header: str, value: str, us: float, tmp_path: Path) -> None:
    drawn = heads_in(tmp_path / "heads.csv", heads(header, value, ""))
    assert drawn.heads[0].given["k_factor"] == us
    assert "k_factor" not in drawn.heads[1].given
    told = [note for note in drawn.notes if "K-factor" in note]
    converted = float(value.replace("K", "").replace(",", ".")) != us
    assert len(told) == converted
    if told:
        assert f"of 1 heads is taken as l/min/bar^0.5: {us:g} gpm/psi^0.5" in told[0]


def test_the_file_of_columns_says_the_unit(tmp_path: Path) -> None:
    columns = Columns.model_validate({"heads": {"columns": {"k_factor": "K [l/min/bar^0.5]", "z": "z [m]"}}})
    (head,) = heads_in(tmp_path / "heads.csv", heads("K", "20"), columns).heads
    assert (head.given["k_factor"], head.at[2]) == (1.4, 9000)


@pytest.mark.parametrize(
    ("header", "value", "parts"),
    [
        ("K", "33,6", ("row 2, column E (K): head H0", '"33,6"', "gpm/psi^0.5 or l/min/bar^0.5?")),
        ("K", "0", ("head H0", '"0"', "more than 0 expected (gpm/psi^0.5)")),
        ("K", "-80", ("head H0", '"-80"', "more than 0 expected")),
        ("K", "5.6 to 8", ("head H0", '"5.6 to 8"', "a number expected")),
        ("K [l/min/kPa^0.5]", "8", ("column E", "l/min/kPa^0.5", "is not known")),
    ],
)
def test_k_factors_that_may_be_either_or_none(
    header: str, value: str, parts: tuple[str, ...], tmp_path: Path
) -> None:
    (fault,) = faults_of(tmp_path / "heads.csv", heads(header, value))
    for part in parts:
        assert part in fault


@pytest.mark.parametrize("text", ["m3/h/bar^0.5", "l/min/psi^0.5", "gpm/bar^0.5", "l/min", "gpm"])
def test_other_units_of_k_factors_are_refused(text: str) -> None:
    with pytest.raises(Unclear, match="is not known"):
        k_unit(text)
