"""The thirty questions of the README: each is one command on the demo's book, and says what the table quotes.

The questions are those that the trade puts to its records: ten of the applicator, ten of the owner in an inspection,
ten of the customer or neighbour. `SWATHBOOK_UPDATE_README=1` quotes the output as it is now: the lines most
like those before.
"""

from __future__ import annotations

import difflib
import os
import re
import shlex
import shutil
from itertools import groupby
from typing import TYPE_CHECKING, NamedTuple

import pytest

from tests.cli.conftest import ROOT
from tests.demo_book import NOW

if TYPE_CHECKING:
    from pathlib import Path

    from tests.cli.conftest import Swathbook

README = ROOT / "README.md"
WHO = ("applicator", "owner", "customer or neighbour")
TYPED = 70  # characters at most of what the person in the truck types
# Exit code 1: there is something to do (a copy is owed).
FINDS = {"ready"}
_SECTION = re.compile(r"^## Thirty questions\n(.*?)^## ", re.MULTILINE | re.DOTALL)
_ROW = re.compile(r"^\| (\d+) \| (.+?) \| `(swathbook [^`]+)` \| `([^`]+)` \|$", re.MULTILINE)
_HEAD = re.compile(r"^\| \| (.+?) asks \| command \| answer, a line of it \|$", re.MULTILINE)


class Question(NamedTuple):
    """One row of the tables."""

    who: str
    number: int
    asked: str
    line: str  # what is typed
    quoted: str

    @property
    def words(self) -> list[str]:
        """What is typed after the name of the tool."""
        return shlex.split(self.line)[1:]


def folded(text: str) -> str:
    """Return a text with its runs of white space as one space each."""
    return " ".join(text.split())


def questions() -> list[Question]:
    """Return the rows of the README, in order."""
    section = _SECTION.search(README.read_text("utf-8"))
    assert section is not None, "README.md has no section 'Thirty questions'"
    found, who = [], ""
    for line in section[1].splitlines():
        if head := _HEAD.fullmatch(line):
            who = head[1]
        elif row := _ROW.fullmatch(line):
            found.append(Question(who, int(row[1]), row[2], row[3], row[4]))
    return found


ROWS = questions()


def test_there_are_three_times_ten() -> None:
    """Ten for each of the three, numbered; a command stands twice only where it is the same record that answers."""
    assert [(who, [row.number for row in rows]) for who, rows in groupby(ROWS, lambda row: row.who)] == [
        (who, list(range(1, 11))) for who in WHO
    ]
    typed = [row.line for row in ROWS]
    assert len(set(typed)) == len(typed), sorted(line for line in typed if typed.count(line) > 1)


@pytest.mark.parametrize("row", ROWS, ids=lambda row: f"{row.who.partition(' ')[0]}-{row.number}")
def test_a_question_is_one_command(row: Question, demo_book: Path, tmp_path: Path, swathbook: Swathbook) -> None:
    """It ends well, and the line that the README quotes stands in its output."""
    path = shutil.copyfile(demo_book, tmp_path / "season.db")
    ran = swathbook("--book", path, *row.words, at=NOW)
    assert ran.code == (1 if row.words[0] in FINDS else 0), ran
    if os.environ.get("SWATHBOOK_UPDATE_README"):
        _quote(row, ran.out + ran.err)
    else:
        assert folded(row.quoted) in ran.words


def _quote(row: Question, output: str) -> None:
    """Write the present words into the README: of one to three lines together, those most like the old quotation."""
    lines = [folded(line) for line in output.splitlines()]
    if folded(row.quoted) in " ".join(lines):
        return
    windows = [" ".join(lines[at : at + count]) for at in range(len(lines)) for count in (1, 2, 3)]
    best = max(windows, key=lambda text: difflib.SequenceMatcher(None, row.quoted, text, autojunk=False).ratio())
    text = README.read_text("utf-8")
    README.write_text(text.replace(f"| `{row.line}` | `{row.quoted}` |", f"| `{row.line}` | `{best}` |"), "utf-8")


@pytest.mark.parametrize("row", [row for row in ROWS if row.who == WHO[0]], ids=lambda row: str(row.number))
def test_the_person_in_the_truck_types_little(row: Question) -> None:
    """One line of a small screen, prompt included."""
    assert len(row.line) <= TYPED
