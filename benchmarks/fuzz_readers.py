"""Coverage-guided fuzzing of every reader: whatever is in a file, it is read or refused with a clear error.

    pip install 'branch-drop-router[harden,ifc,dxf]'
    nice -n 10 python benchmarks/fuzz_readers.py all --seconds 1800 --out /tmp/fuzz
    python benchmarks/fuzz_readers.py scenario_text --seconds 60 --out /tmp/fuzz
    python benchmarks/fuzz_readers.py again --out /tmp/fuzz        # findings and corpus once more

Each target (``fuzz_targets.py``) runs in a process of its own under atheris (libFuzzer), instrumented
for the whole of ``router``. A finding is any exception but the errors that a command turns into exit code 2,
an input that takes more than two seconds of processor time, an error message that is empty, longer than
20,000 characters or not printable, or a process that dies. The input of each finding is kept once by
where it happened. ``all`` writes ``fuzz.json`` with executions, coverage and findings into the folder.
"""

from __future__ import annotations

import argparse
import json
import os
import re
import subprocess
import sys
import time
import traceback
import unicodedata
from pathlib import Path
from typing import Any

HERE = Path(__file__).parent
sys.path[:0] = [str(HERE.parent), str(HERE)]

SLOW_S = 2.0
LONGEST = 20_000


def main() -> None:
    parser = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    parser.add_argument("target", help="a target's name, several with commas, all, or again")
    parser.add_argument("--seconds", type=float, default=1800.0)
    parser.add_argument("--out", type=Path, required=True)
    parser.add_argument("--seed", type=int, default=1)
    given = parser.parse_args()
    given.out.mkdir(parents=True, exist_ok=True)
    if given.target == "all" or "," in given.target:
        every(given.target.split(","), given.out, given.seconds, given.seed)
    elif given.target == "again":
        again(given.out)
    else:
        one(given.target, given.out, given.seconds, given.seed)


def every(names: list[str], out: Path, seconds: float, seed: int) -> None:
    """Run all targets, or those that are named, one after the other and gather the figures."""
    from fuzz_targets import TARGETS

    chosen = {name: TARGETS[name] for name in (TARGETS if names == ["all"] else names)}
    total = sum(share for _, share in chosen.values())
    figures = {}
    for name, (_, share) in chosen.items():
        figures[name] = run(name, out, seconds * share / total, seed)
        (out / "fuzz.json").write_text(json.dumps(figures, indent=1))
        print(name, {key: value for key, value in figures[name].items() if key != "findings"}, flush=True)


def run(name: str, out: Path, seconds: float, seed: int) -> dict[str, Any]:
    """Run one target; where its process dies, note that and start it again for the time that is left."""
    start = time.monotonic()
    found: dict[str, Any] = {
        "executions": 0,
        "edges": 0,
        "features": 0,
        "corpus": 0,
        "deaths": [],
        "findings": {},
    }
    while (left := seconds - (time.monotonic() - start)) > 1:
        command = [
            sys.executable,
            __file__,
            name,
            "--seconds",
            str(left),
            "--out",
            str(out),
            "--seed",
            str(seed),
        ]
        state = out / f"{name}.json"
        state.unlink(missing_ok=True)
        done = subprocess.run(
            command, capture_output=True, cwd=out, env={**os.environ, "PYTHONHASHSEED": "0"}
        )
        text = done.stderr.decode("utf-8", "replace")
        (out / f"{name}.log").write_text(text[-200_000:])
        told = re.findall(r"cov: (\d+) ft: (\d+) corp: (\d+)", text)
        if told:
            best = [max(int(row[k]) for row in told) for k in range(3)]
            for key, value in zip(("edges", "features", "corpus"), best, strict=True):
                found[key] = max(found[key], value)
        if state.exists():
            kept = json.loads(state.read_text())
            found["executions"] += kept["executions"]
            found["findings"].update(kept["findings"])
        if done.returncode:
            found["deaths"].append([done.returncode, text[-400:]])
            if len(found["deaths"]) > 20:
                break
            seed += 1
    found["seconds"] = round(time.monotonic() - start, 1)
    return found


class Watch:
    """Runs inputs and keeps what no reader may do."""

    def __init__(self, name: str, target: Any, out: Path) -> None:
        self.name, self.target, self.out = name, target, out
        self.executions, self.findings = 0, {}
        self.accepted = 0
        self._saved = time.monotonic()

    def __call__(self, data: bytes) -> None:
        """Feed one input."""
        from router.deliver.files import OutputError
        from router.scenario import ScenarioError

        self.executions += 1
        start = time.process_time()
        try:
            self.target(data)
            self.accepted += 1
        except (ScenarioError, OutputError) as error:
            self._look_at(error, data)
        except Exception as error:
            self._keep(_where(error), data, error)
        if time.process_time() - start > SLOW_S:
            self._keep(f"slow: over {SLOW_S:g} s", data, None)
        if time.monotonic() - self._saved > 1 or self.executions % 5000 == 1:
            self.save()

    def _look_at(self, error: Any, data: bytes) -> None:
        text = str(error)
        try:
            text.encode("utf-8")
        except UnicodeEncodeError:
            self._keep("message with half a character", data, error)
        if not text.strip():
            self._keep("empty message", data, error)
        if len(text) > LONGEST:
            self._keep(f"message over {LONGEST} characters", data, error)
        odd = [c for c in text if c != "\n" and unicodedata.category(c) in ("Cc", "Cs", "Zl", "Zp")]
        if odd or re.search("[\u202a-\u202e\u2066-\u2069]", text):
            self._keep("message with control characters", data, error)
        if any(not fault.place or not fault.message for fault in getattr(error, "faults", [])):
            self._keep("fault without place or message", data, error)

    def _keep(self, where: str, data: bytes, error: BaseException | None) -> None:
        found = self.findings.get(where)
        if found is not None:
            found["times"] += 1
            if len(data) >= found["bytes"]:
                return
        file = self.out / f"{self.name}-{len(self.findings):03}.bin" if found is None else Path(found["file"])
        file.write_bytes(data)
        text = "" if error is None else "".join(traceback.format_exception(error))[-3000:]
        self.findings[where] = {
            "times": (found or {"times": 1})["times"], "bytes": len(data), "file": str(file), "error": text,
        }  # fmt: skip
        self.save()

    def save(self) -> None:
        """Write the figures, so that they outlive the process."""
        self._saved = time.monotonic()
        data = {"executions": self.executions, "accepted": self.accepted, "findings": self.findings}
        (self.out / f"{self.name}.json").write_text(json.dumps(data))


def _where(error: BaseException) -> str:
    frames = traceback.extract_tb(error.__traceback__)
    ours = [frame for frame in frames if "/router/" in frame.filename]
    at = ours[-1] if ours else frames[-1]
    return f"{type(error).__name__} in {at.filename.rpartition('router/')[2]}:{at.lineno} {at.name}"


def one(name: str, out: Path, seconds: float, seed: int) -> None:
    """Fuzz one target in this process."""
    import atheris

    with atheris.instrument_imports(include=["router"]):
        from fuzz_targets import TARGETS, seeds

        import router.cli
        import router.readers.dxf.read
        import router.readers.ifc.assemble
        import router.readers.ifc.child
        import router.readers.ifc.extract
        import router.readers.ifc.source  # noqa: F401

    corpus = out / "corpus" / name
    corpus.mkdir(parents=True, exist_ok=True)
    for k, data in enumerate(seeds(name)):
        (corpus / f"seed{k}").write_bytes(data)
    watch = Watch(name, TARGETS[name][0], out)
    longest = max(len(data) for data in seeds(name))
    options = [
        sys.argv[0], f"-max_len={longest + 1000 if longest > 100 else 64}", str(corpus),
        f"-max_total_time={int(seconds)}", f"-seed={seed}", "-timeout=60",
        "-rss_limit_mb=3000", "-print_final_stats=1", "-reload=0",
        "-len_control=0", f"-artifact_prefix={out}/{name}-death-",
    ]  # fmt: skip
    atheris.Setup(options, watch, enable_python_coverage=True)
    atheris.Fuzz()


def again(out: Path) -> None:
    """Feed every kept input and the whole corpus once more, without instrumentation; say what is found."""
    from fuzz_targets import TARGETS

    left = fed = 0
    for name, (target, _) in TARGETS.items():
        watch = Watch(name, target, out / "again")
        watch.out.mkdir(exist_ok=True)
        files = [*sorted(out.glob(f"{name}-[0-9]*.bin")), *sorted((out / "corpus" / name).glob("*"))]
        for file in files:
            watch(file.read_bytes())
        watch.save()
        left += len(watch.findings)
        fed += len(files)
        print(
            f"{name}: {len(files)} inputs, {watch.accepted} accepted, {len(watch.findings)} findings",
            flush=True,
        )
        for where, found in watch.findings.items():
            print(f"  {found['times']} times {where}: {found['error'].strip().splitlines()[-1:]}", flush=True)
    print(f"{fed} inputs, {left} findings")


if __name__ == "__main__":
    main()
