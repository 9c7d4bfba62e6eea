"""The pictures of these pages, made by the tool itself.

    python docs/pictures.py            all of them; the report's needs Chromium
    python docs/pictures.py --only svg

Drawings come out the same, byte for byte; pictures of the browser may differ with its version.
"""

from __future__ import annotations

import argparse
import os
import shutil
import subprocess
import sys
import tempfile
from pathlib import Path

HERE = Path(__file__).parent
ROOT = HERE.parent
PICTURES = HERE / "pictures"
DOCK, ROOM = "scenarios/loading_dock.json", "scenarios/reading_room.json"


def branch_router(folder: Path, *words: str, ends: int = 0) -> None:
    """Run a command of the tool in a folder.

    Raises
    ------
    RuntimeError
        If it ends with another code than ``ends``.
    """
    done = subprocess.run(
        [sys.executable, "-m", "router", *words],
        cwd=folder,
        env={**os.environ, "PYTHONPATH": str(ROOT)},
        capture_output=True,
        text=True,
        check=False,
    )
    if done.returncode != ends:
        raise RuntimeError(f"branch-router {' '.join(words)}: {done.returncode}\n{done.stdout}{done.stderr}")


def drawings(folder: Path) -> dict[str, Path]:
    """Make the drawings in a folder that holds the scenarios: where each picture is, by its name."""
    branch_router(folder, "route", DOCK, "-o", "dock.json", "--quiet")
    branch_router(folder, "draw", DOCK, "dock.json", "-o", "sheets")
    branch_router(folder, "alternatives", "scenarios/plant_corridor.json", "-o", "choices", "--quiet")
    branch_router(folder, "route", ROOM, "-o", "room.json", "--quiet")
    both = ("compare", ROOM, "room.json", "scenarios/reading_room_drawn.csv", "--picture", "both.svg")
    branch_router(folder, *both, ends=1)
    sheets = {path.stem: path for path in sorted((folder / "sheets").glob("*.svg"))}
    return {
        "sections.svg": next(path for name, path in sheets.items() if "section" in name),
        "isometric.svg": next(path for name, path in sheets.items() if "isometric" in name),
        "front.svg": folder / "choices" / "front.svg",
        "both.svg": folder / "both.svg",
    }


def screens(folder: Path) -> dict[str, Path]:
    """Take pictures of the demo's report in a real browser."""
    from playwright.sync_api import sync_playwright

    branch_router(folder, "report", DOCK, "dock.json", "-o", "dock.html")
    found = {}
    with sync_playwright() as tools:
        browser = tools.chromium.launch(
            executable_path=shutil.which("chromium") or shutil.which("google-chrome"),
            args=["--no-sandbox", "--use-angle=swiftshader", "--enable-unsafe-swiftshader"],
        )
        page = browser.new_page(viewport={"width": 1366, "height": 768})
        page.goto((folder / "dock.html").as_uri())
        page.wait_for_timeout(2000)
        for name, anchor in (("report", None), ("report_3d", "#space")):
            if anchor is not None:
                page.locator(anchor).scroll_into_view_if_needed()
                page.wait_for_timeout(1500)
            found[f"{name}.png"] = folder / f"{name}.png"
            page.screenshot(path=str(found[f"{name}.png"]))
        browser.close()
    return found


def main() -> None:
    """Make the pictures and put them where the pages look for them."""
    parser = argparse.ArgumentParser(description="Make the pictures of the documentation.")
    parser.add_argument("--only", choices=["svg"])
    only = parser.parse_args().only
    PICTURES.mkdir(exist_ok=True)
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        shutil.copytree(ROOT / "scenarios", folder / "scenarios")
        made = drawings(folder)
        if only is None:
            made |= screens(folder)
        for picture, path in made.items():
            shutil.copyfile(path, PICTURES / picture)


if __name__ == "__main__":
    main()
