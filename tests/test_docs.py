"""The pages in docs/ tell the truth: commands run, outputs are theirs, reference pages fit the code."""

from __future__ import annotations

import re
import shutil
import subprocess
import sys
from pathlib import Path

import pytest
from shown_commands import missing_lines, shown_in, start

ROOT = Path(__file__).parents[1]
DOCS = ROOT / "docs"
PAGES = sorted(DOCS.glob("*.md"))
EXAMPLES = ["coordination.md", "designer.md", "reviewer.md", "team.md"]


@pytest.mark.parametrize("name", EXAMPLES)
def test_every_command_runs_and_prints_what_is_shown(name: str, tmp_path: Path) -> None:
    shutil.copytree(ROOT / "scenarios", tmp_path / "scenarios")
    blocks = shown_in((DOCS / name).read_text(encoding="utf-8"))
    assert len(blocks) > 3
    for block in blocks:
        printed = ""
        for line, code in block.commands:
            done = start(line, tmp_path, ROOT)
            assert done.returncode == code, f"{line}: {done.returncode}\n{done.stdout}{done.stderr}"
            printed += done.stdout
        missing = missing_lines(block.output, printed)
        assert not missing, f"{block.commands}: not printed: {missing}\n{printed}"


def test_missing_lines_are_found() -> None:
    printed = "a 1\n\n  b  2\nc 3\n"
    assert missing_lines(["a 1", "b 2", "c 3"], printed) == []
    assert missing_lines(["a 1", "...", "c 3"], printed) == []
    assert missing_lines(["...", "c 3"], printed) == []
    assert missing_lines(["a 1", "c 3"], printed) == ["c 3"]
    assert missing_lines(["b 3"], printed) == ["b 3"]
    assert missing_lines(["...", "c 3", "...", "a 1"], printed) == ["a 1"]


def test_reference_pages_are_what_the_code_says() -> None:
    done = subprocess.run(
        [sys.executable, str(DOCS / "reference.py"), "--check"],
        cwd=ROOT, capture_output=True, text=True, check=False,
    )  # fmt: skip
    assert done.returncode == 0, done.stderr


@pytest.mark.parametrize("page", [*PAGES, ROOT / "README.md"], ids=lambda page: page.name)
def test_links_and_pictures_are_there(page: Path) -> None:
    text = page.read_text(encoding="utf-8")
    anchors = {re.sub(r"[^\w -]", "", h).strip().lower().replace(" ", "-")
               for h in re.findall(r"^#+ (.+)$", text, flags=re.M)}  # fmt: skip
    for target in re.findall(r"\]\(([^)\s]+)\)", text):
        if target.startswith("#"):
            assert target[1:] in anchors, f"{page.name}: no heading {target}"
        elif not target.startswith("http"):
            assert (page.parent / target.split("#")[0]).exists(), f"{page.name}: {target} is not there"


def test_drawings_are_what_the_tool_draws(tmp_path: Path) -> None:
    """The pictures of the browser may differ with its version; drawings may not."""
    sys.path.insert(0, str(DOCS))
    try:
        from pictures import drawings  # type: ignore[import-not-found]
    finally:
        sys.path.remove(str(DOCS))
    shutil.copytree(ROOT / "scenarios", tmp_path / "scenarios")
    made = drawings(tmp_path)
    assert made
    for name, path in made.items():
        kept = (DOCS / "pictures" / name).read_bytes()
        assert kept == path.read_bytes(), f"{name} is out of date: python docs/pictures.py"


def test_the_python_example_runs() -> None:
    """Code blocks of the pages run from the project's folder."""
    blocks = re.findall(r"^```python\n(.*?)^```$", (DOCS / "team.md").read_text("utf-8"), flags=re.S | re.M)
    assert blocks
    for block in blocks:
        done = subprocess.run(
            [sys.executable, "-c", block], cwd=ROOT, capture_output=True, text=True, check=False
        )
        assert done.returncode == 0, done.stderr
