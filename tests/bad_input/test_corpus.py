"""Every broken file, through commands that read it: exit code 2, one short message, nothing written.

Each case goes through two of its commands, in turn, so that all commands meet many cases;
``benchmarks/bad_input_times.py`` sends each through ``python -m router`` and takes the time.
"""

from __future__ import annotations

import re
import shlex
from typing import TYPE_CHECKING

import pytest
from typer.testing import CliRunner

from bad_input.all_cases import CASES
from bad_input.commands import KINDS
from router.cli import app

if TYPE_CHECKING:
    from pathlib import Path

    from bad_input.case import Case

LONGEST = 20_000
"""Characters of a message: a hundred faults."""
UNSEEN = re.compile("[\x00-\x09\x0b-\x1f\x7f-\x9f\u202a-\u202e\u2066-\u2069\ud800-\udfff]")


def listing(folder: Path) -> dict[str, bytes | None]:
    return {
        str(path.relative_to(folder)): None if path.is_dir() else path.read_bytes()
        for path in sorted(folder.rglob("*"))
    }


def of_case(number: int, case: Case) -> list[str]:
    """Two commands of the case's kind, others for the next case."""
    commands = KINDS[case.kind]
    return list(dict.fromkeys(commands[(2 * number + k) % len(commands)] for k in range(2)))


@pytest.mark.filterwarnings("error::RuntimeWarning")  # numpy would print them beside the message
@pytest.mark.parametrize(("number", "case"), list(enumerate(CASES)), ids=[case.name for case in CASES])
def test_broken_input(number: int, case: Case, here: Path) -> None:
    bad = case.make(here)
    before = listing(here)
    for command in of_case(number, case):
        given = [
            part.replace("{bad}", bad.name if bad.is_absolute() else str(bad))
            for part in shlex.split(command)
        ]
        result = CliRunner(env={"COLUMNS": "200"}).invoke(app, given)
        assert result.exit_code == 2, (command, result.output[-3000:], result.exception)
        assert "Traceback" not in result.output
        for words in case.says:
            assert words in result.output, (command, words, result.output[:3000])
        assert len(result.output) < LONGEST
        assert not UNSEEN.search(result.output), result.output[:3000]
        assert listing(here) == before


def test_the_corpus_is_large_and_its_names_are_unique() -> None:
    assert len(CASES) >= 300
    assert len({case.name for case in CASES}) == len(CASES)
    assert {case.kind for case in CASES} == set(KINDS)


def test_every_command_that_reads_meets_cases() -> None:
    met = {command for number, case in enumerate(CASES) for command in of_case(number, case)}
    assert met == {command for commands in KINDS.values() for command in commands}


@pytest.mark.parametrize(
    "kind", [kind for kind in KINDS if kind not in ("route of another", "route by size")]
)
def test_the_sound_files_are_sound(kind: str, here: Path, sound: dict[str, str]) -> None:
    """What cases break passes the first command of its kind: the message is of what is broken."""
    command = KINDS[kind][0].replace("{bad}", sound[kind])
    result = CliRunner().invoke(app, shlex.split(command))
    assert result.exit_code in (0, 1), result.output
