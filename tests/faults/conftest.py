"""What the tests of faults share: a way to run the command with a fault in it, and something to run."""

from __future__ import annotations

import json
import os
import select
import shutil
import signal
import subprocess
import sys
import tempfile
import time
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

import pytest

if TYPE_CHECKING:
    from collections.abc import Iterator

ROOT = Path(__file__).parents[2]
PATIENCE_S = 120
"""Nothing here takes so long: it hangs."""
NOBODY = 65534


@dataclass
class Ended:
    """How a command ended: ``code`` is negative for a signal, ``None`` while it goes on or stands still."""

    pid: int
    code: int | None
    out: str
    err: str

    @property
    def last(self) -> str:
        """Its last word."""
        return self.err.strip().splitlines()[-1] if self.err.strip() else ""


class Commands:
    """Runs commands, with a fault in them, and looks that nothing of them is left behind."""

    def __init__(self, folder: Path) -> None:
        self.folder, self.count = folder, 0
        self.server = subprocess.Popen(
            [sys.executable, str(Path(__file__).with_name("hooked.py"))],
            cwd=ROOT,
            env={**os.environ, "PYTHONPATH": str(ROOT)},
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
            text=True,
            bufsize=1,
        )
        self.files: dict[int, tuple[Path, Path]] = {}

    def _ask(self, case: dict[str, Any]) -> tuple[int, int | None]:
        assert self.server.stdin is not None
        assert self.server.stdout is not None
        self.server.stdin.write(json.dumps(case) + "\n")
        if not select.select([self.server.stdout], [], [], PATIENCE_S)[0]:
            self.server.kill()
            raise AssertionError(f"hangs: {case}")
        pid, status = json.loads(self.server.stdout.readline())
        return pid, status

    def start(
        self,
        *args: object,
        faults: str = "",
        env: dict[str, str] | None = None,
        out: str = "",
        err: str = "",
        uid: int | None = None,
        umask: int = 0o022,
        go_on: bool = False,
    ) -> Ended:
        """Start a command and wait till it ends or stands still; ``go_on``: do not wait."""
        self.count += 1
        tokens = self.folder / f"{self.count}"
        tokens.mkdir()
        files = (Path(out or tokens / "out"), Path(err or tokens / "err"))
        case = {
            "args": [str(arg) for arg in args], "faults": faults, "env": env or {}, "tokens": str(tokens),
            "stdout": str(files[0]), "stderr": str(files[1]), "uid": uid, "umask": umask, "go_on": go_on,
        }  # fmt: skip
        pid, status = self._ask(case)
        self.files[pid] = files
        return self._ended(pid, status)

    def wait(self, pid: int) -> Ended:
        """Wait for a command that was started before."""
        return self._ended(*self._ask({"wait": pid}))

    def _ended(self, pid: int, status: int | None) -> Ended:
        if status is None or os.WIFSTOPPED(status):
            return Ended(pid, None, "", "")
        assert gone(pid), "something of it goes on"
        out, err = (path.read_text("utf-8") if path.is_file() else "" for path in self.files[pid])
        assert "Traceback" not in err, err
        assert "Exception ignored" not in err, err
        return Ended(pid, os.waitstatus_to_exitcode(status), out, err)


def gone(group: int) -> bool:
    """Whether nothing of a group of processes is left, soon."""
    for _ in range(300):
        try:
            os.killpg(group, 0)
        except ProcessLookupError:
            return True
        time.sleep(0.1)
    os.killpg(group, signal.SIGKILL)
    return False


@pytest.fixture(scope="session")
def commands(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Commands]:
    """Give what runs commands."""
    made = Commands(tmp_path_factory.mktemp("commands"))
    yield made
    assert made.server.stdin is not None
    made.server.stdin.close()
    assert made.server.wait(10) == 0


@pytest.fixture
def place() -> Iterator[Path]:
    """Give a folder that every user may look into, as pytest's own is not."""
    made = Path(tempfile.mkdtemp(prefix="faults-"))
    made.chmod(0o755)
    yield made
    shutil.rmtree(made)


def left_behind(folder: Path) -> list[str]:
    """Names of what is temporary there, also in folders below."""
    return sorted(path.name for path in folder.rglob(".*"))


@pytest.fixture(scope="session")
def minimal() -> Path:
    """Give the smallest scenario."""
    return ROOT / "scenarios" / "minimal.json"


@pytest.fixture(scope="session")
def routed(commands: Commands, minimal: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Give its route; not to be changed."""
    file = tmp_path_factory.mktemp("routed") / "route.json"
    assert commands.start("route", minimal, "-o", file, "--quiet").code == 0
    return file


@pytest.fixture(scope="session")
def storeys(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Give a scenario of six storeys, each a tree of its own, two of which have clashing arms."""
    runs: list[dict[str, Any]] = []
    heads: list[dict[str, Any]] = []
    for n in range(6):
        z = 3000 + 4000 * n
        runs.append({"id": f"M{n}", "plan": [[0, 0], [0, 3005]], "elevation": z, "size": 65, "kind": "main"})
        runs.append({"id": f"L{n}", "plan": [[0, 3000], [3500, 3000]], "elevation": z, "supply": f"M{n}"})
        heads += [
            {"id": f"H{n}{h}", "at": [900 + 1100 * h, 3500 - 220 * h, z - 400], "run": f"L{n}"}
            for h in range(3)
        ]
        if n < 2:
            runs.append({"id": f"X{n}", "plan": [[0, 3500], [3500, 3500]], "elevation": z, "size": 32})
            heads.append({"id": f"HX{n}", "at": [900, 3050, z - 400], "run": f"X{n}"})
    file = tmp_path_factory.mktemp("storeys") / "storeys.json"
    file.write_text(json.dumps({"name": "storeys", "runs": runs, "heads": heads}), encoding="utf-8")
    return file
