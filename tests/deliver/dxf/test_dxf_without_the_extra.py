"""Without ezdxf everything else runs, and DXF says what to install."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

SCENARIO = Path(__file__).parents[3] / "scenarios" / "minimal.json"

CODE = """
import sys
sys.modules["ezdxf"] = None
from pathlib import Path
from router.deliver.dxf import scenario_dxf
from router.deliver.files import OutputError
from router.readers.dxf import own_mapping, read_dxf
from router.scenario import ScenarioError, read_scenario
own_mapping()
try:
    scenario_dxf(read_scenario(sys.argv[1]))
except OutputError as error:
    print(error)
try:
    read_dxf(Path(sys.argv[2]))
except ScenarioError as error:
    print(error.faults[0].message)
"""


def test_one_clear_error(tmp_path: Path) -> None:
    path = tmp_path / "any.dxf"
    path.write_text("  0\nSECTION\n  0\nEOF\n")
    command = [sys.executable, "-c", CODE, str(SCENARIO), str(path)]
    done = subprocess.run(command, check=True, capture_output=True, text=True)
    wanted = "DXF needs the extra dxf: pip install 'branch-drop-router[dxf]'"
    assert done.stdout.splitlines() == [wanted, wanted]
