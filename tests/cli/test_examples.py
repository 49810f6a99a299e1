"""The example in the help of each command is typed as it stands, on the demo's book, and works there."""

from __future__ import annotations

import re
import shlex
import shutil
from typing import TYPE_CHECKING, Any

import pytest
import typer.main

from records.cli.app import app
from tests.cli.test_commands import PATHS
from tests.demo_book import NOW

if TYPE_CHECKING:
    from pathlib import Path

    from tests.cli.conftest import Swathbook

EVENING = "2026-10-27T18:00-05:00"
ELSEWHERE = {  # what an example needs that this book, or this folder, does not have
    "verify": "a seal on paper",
    "grant": "a server",
    "backup": "a stick",
    "restore": "a stick",
    "load": "files of a firm",
    "close": "a visit in a file",
    "import": "a table",
    "report filed": "a day that is to come",
    "pack check": "a pack of the firm's own",
    "weather": "hours of a station in a file",
    "held": "an entry that is held",
    "held correct": "an entry that is held",
    "held drop": "an entry that is held",
    "trial rate": "visits that name the plots",
}
FIRST = {"mix left": "mix make", "mix discard": "mix make", "trial show": "trial new"}  # whose example goes before
AS_TYPED = {"held show"}  # shows an entry as it was typed, however wide
FINDS = {"deliveries", "ready"}  # exit code 1: there is something to do
_EXAMPLE = re.compile(r"Example: swathbook (.+?)(?=$| Example:)")


def examples(path: tuple[str, ...]) -> list[list[str]]:
    """Return the examples in the help of a command, as words."""
    if not path:
        return []
    node: Any = typer.main.get_command(app)
    for name in path:
        node = node.commands[name]
    return [shlex.split(found) for found in _EXAMPLE.findall(" ".join((node.help or "").split()))]


@pytest.mark.parametrize("path", [path for path in PATHS if " ".join(path) not in ELSEWHERE], ids=" ".join)
def test_an_example_works(path: tuple[str, ...], demo_book: Path, tmp_path: Path, swathbook: Swathbook) -> None:
    """Whoever copies it sees what the command is for."""
    name, book = " ".join(path), shutil.copyfile(demo_book, tmp_path / "season.db")
    typed = examples(path)
    assert typed
    for words in examples(tuple(FIRST.get(name, "").split())):
        assert swathbook("--book", book, *words, at=NOW).code == 0
    for words in typed:
        ran = swathbook("--book", book, *words, at=EVENING, watched=name not in AS_TYPED)
        assert ran.code in ({0, 1} if name in FINDS else {0}), (words, ran)


def test_no_reason_is_out_of_date() -> None:
    """What is left out is still a command."""
    assert {" ".join(path) for path in PATHS} >= set(ELSEWHERE) | set(FIRST) | FINDS
