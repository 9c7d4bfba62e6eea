"""A folder of sound files, made once, in which each case puts a broken one."""

from __future__ import annotations

import os
import shutil
from typing import TYPE_CHECKING

import pytest

from bad_input.sound import SOUND, make_sound

if TYPE_CHECKING:
    from pathlib import Path


@pytest.fixture(scope="session")
def sound_folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("sound")
    make_sound(folder)
    return folder


@pytest.fixture
def here(sound_folder: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """Work in a folder of links to the sound files, and of outputs that stand there already."""
    for path in sound_folder.iterdir():
        if path.is_dir():
            shutil.copytree(path, tmp_path / path.name)
        elif path.name.startswith("out."):
            shutil.copy(path, tmp_path / path.name)
        else:
            os.link(path, tmp_path / path.name)
    monkeypatch.chdir(tmp_path)
    return tmp_path


@pytest.fixture
def sound() -> dict[str, str]:
    return SOUND
