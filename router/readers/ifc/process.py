"""Reads one file in a process of its own, whose death or standstill is one clear error."""

from __future__ import annotations

import errno
import importlib.util
import json
import os
import queue
import re
import subprocess
import sys
import tempfile
import threading
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import asdict
from pathlib import Path
from typing import IO, TYPE_CHECKING, Any

import router
from router.readers.ifc.found import FileFound, from_plain
from router.readers.ifc.limits import MB, Limits
from router.readers.ifc.scan import scan, stop
from router.readers.ifc.zipped import unpack
from router.scenario.whole import PREFIX, temporary_folder

if TYPE_CHECKING:
    from router.readers.ifc.mapping import Mapping

Tell = Callable[[str, int, int], None]
OUT_OF_MEMORY = 3
FULL = {errno.ENOSPC, errno.EFBIG, errno.EDQUOT}
EXTRA = "needs the extra ifc: pip install 'branch-drop-router[ifc]'"


def read_file(
    path: Path,
    name: str,
    mapping: Mapping,
    limits: Limits,
    tell: Tell | None,
    peak: dict[str, int] | None = None,
) -> FileFound:
    """Read one file.

    Parameters
    ----------
    path
        ``.ifc`` or ``.ifczip``.
    name
        Its name in notes.
    mapping, limits, tell
        As for :func:`router.readers.ifc.read_ifc`.
    peak
        Receives the most memory that the reading process held, MB, under ``name``.

    Returns
    -------
    FileFound

    Raises
    ------
    ScenarioError
        If it cannot be read, for whatever reason.
    """
    if importlib.util.find_spec("ifcopenshell") is None:
        raise stop(str(path), "", "", f"reading a model {EXTRA}")
    with _temporary(path) as folder:
        model = path
        if path.suffix.lower() == ".ifczip":
            model = folder / "model.ifc"
            unpack(path, model, limits)
        if path.suffix.lower() in (".ifcxml", ".xml"):
            raise stop(str(path), "", "", "is XML (ifcxml), which is not read; save the model as .ifc")
        statements = scan(model, limits, str(path))
        job = {
            "path": str(model.resolve()),
            "name": name,
            "statements": statements,
            "mapping": mapping.model_dump(mode="json"),
            "limits": asdict(limits),
            "result": str(folder / "result.json"),
            "parent": os.getpid(),
        }
        (folder / "job.json").write_text(json.dumps(job), encoding="utf-8")
        _run(folder, str(path), name, model.stat().st_size, limits, tell)
        result: dict[str, Any] = json.loads((folder / "result.json").read_text(encoding="utf-8"))
    if "fault" in result:
        raise stop(str(path), result["value"], "", result["fault"])
    if peak is not None:
        peak[name] = result["peak_mb"]
    return from_plain(result["found"])


@contextmanager
def _temporary(path: Path) -> Iterator[Path]:
    """Give a folder for what the two processes tell each other."""
    try:
        place = Path(tempfile.gettempdir())
    except OSError as error:  # none that can be written to
        raise _no_room(path, "", error.strerror or str(error)) from error
    try:
        with temporary_folder(place) as folder:
            yield folder
    except OSError as error:
        if error.errno in FULL or str(error.filename).startswith(str(place / PREFIX)):
            raise _no_room(path, place, error.strerror or str(error)) from error
        raise


def _no_room(path: str | Path, place: str | Path, reason: str) -> Exception:
    return stop(str(path), str(place), "", f"no room for temporary files, which reading needs: {reason}")


def _run(folder: Path, path: str, name: str, size: int, limits: Limits, tell: Tell | None) -> None:
    """Run the process till it has written its result."""
    root = str(Path(router.__file__).resolve().parents[1])
    env = {**os.environ, "OPENBLAS_NUM_THREADS": "1", "OMP_NUM_THREADS": "1", "PYTHONUTF8": "1"}
    env["PYTHONPATH"] = os.pathsep.join(part for part in (root, env.get("PYTHONPATH", "")) if part)
    with (folder / "errors.txt").open("wb") as errors:
        process = subprocess.Popen(
            [sys.executable, "-P", "-m", "router.readers.ifc.child", str(folder / "job.json")],
            stdout=subprocess.PIPE,
            stderr=errors,
            stdin=subprocess.DEVNULL,
            env=env,
        )
        try:
            at = _follow(process, path, name, size, limits, tell)
            code = process.wait(timeout=limits.still)
        except subprocess.TimeoutExpired as error:
            raise stop(path, "", "", "the reading process did not end") from error
        finally:
            if process.poll() is None:
                process.kill()
                process.wait()
            if process.stdout is not None:
                process.stdout.close()
    if code == 0 and (folder / "result.json").exists():
        return
    text = (folder / "errors.txt").read_text(encoding="utf-8", errors="replace")[-4000:]
    raise _death(path, code, at, text, limits)


def _follow(
    process: subprocess.Popen[bytes], path: str, name: str, size: int, limits: Limits, tell: Tell | None
) -> str:
    """Pass progress on until the process closes its output; give the element that it was at."""
    lines: queue.Queue[bytes | None] = queue.Queue()
    assert process.stdout is not None
    threading.Thread(target=_pump, args=(process.stdout, lines), daemon=True).start()
    at, stage = "", "opening"
    while True:
        patience = limits.still + (size / MB if stage == "opening" else 0.0)
        try:
            line = lines.get(timeout=patience)
        except queue.Empty:
            process.kill()
            process.wait()
            where = f"at {at}" if at else f"while {stage} it"
            message = f"no progress {where}: given up"
            raise stop(path, f"{patience:.0f}", "s", message, at) from None
        if line is None:
            return at
        try:
            stage, done, total, at = json.loads(line)
        except ValueError:
            continue  # something that the library printed
        if tell is not None:
            tell(f"{name}: {stage}", done, total)


def _pump(stream: IO[bytes], lines: queue.Queue[bytes | None]) -> None:
    try:
        for line in stream:
            lines.put(line)
    except ValueError:
        pass  # closed by the other side, which has given up
    lines.put(None)


def _death(path: str, code: int, at: str, text: str, limits: Limits) -> Exception:
    where = f" at {at}" if at else " while it was opened"
    if code == OUT_OF_MEMORY or "bad_alloc" in text or "MemoryError" in text:
        most = f"{limits.memory // MB}"
        return stop(
            path, most, "MB", f"does not fit into the memory that reading may take, given up{where}", at
        )
    full = re.search(r"OSError: \[Errno (\d+)\]", text)
    if full and int(full[1]) in FULL:
        return _no_room(path, tempfile.gettempdir(), os.strerror(int(full[1])))
    last = text.strip().split("\n")[-1][:200] if text.strip() else ""
    ended = f"signal {-code}" if code < 0 else f"exit code {code}"
    because = f" ({last})" if last else ""
    return stop(
        path, ended, "", f"the reading process broke down{where}{because}; the file may be damaged", at
    )
