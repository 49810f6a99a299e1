"""Every command of the tool: its help, its example, and the list of them all."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING

import pytest
import typer.main

from records import __version__
from records.cli.app import app

if TYPE_CHECKING:
    from pathlib import Path

    from tests.cli.conftest import Swathbook

COMMANDS = """\
init
verify
grant
backup
restore
export
load
catalogue
area
calibrate
calibrations
allowed
close
amend
void
find
show
last
notice
summary
papers
deliver
deliveries
notify
contact
postpone
sign
ready
duty
inspect
emergency
keep
why
import
log
withdraw
active
actives
nutrients
plan
rate
looks
ratings
compare
callback
groups
answer
season
schema
day
day add
held
held list
held show
held correct
held drop
report
report list
report by
report filed
report ca-monthly
report me-annual
report ny-annual
pack
pack list
pack show
pack check
mix
mix list
mix show
mix make
mix left
mix rinse
mix discard
stock
stock show
stock buy
stock discard
stock count
stock empty
cost
cost compare
weather
weather metar
trial
trial new
trial rate
trial show
trial list
"""


def _walk(command: object, path: tuple[str, ...] = ()) -> list[tuple[str, ...]]:
    found = []
    for name, inner in getattr(command, "commands", {}).items():
        found += [(*path, name), *_walk(inner, (*path, name))]
    return found


PATHS = _walk(typer.main.get_command(app))


def test_the_list_of_commands() -> None:
    """A new command, or one that is gone, is seen here and in the change log."""
    assert "".join(f"{' '.join(path)}\n" for path in PATHS) == COMMANDS


@pytest.mark.parametrize("path", [(), *PATHS], ids=lambda path: " ".join(path) or "swathbook")
def test_every_help_has_an_example_and_fits_80_columns(path: tuple[str, ...], swathbook: Swathbook) -> None:
    """The help says what the command does, and shows a line that runs."""
    ran = swathbook(*path, "--help")
    assert ran.code == 0
    assert ran.err == ""
    assert max(map(len, ran.out.splitlines())) <= 80
    words = " ".join(ran.out.split())
    if path:
        assert re.search(rf"Example: swathbook (--book \S+ )?{' '.join(path)}\b", words)
    else:
        assert "Begin: swathbook init" in words
        assert "The product label is the law" in words
        assert "..." not in ran.out.partition("Commands:")[2]  # every line of the list is a whole sentence


def test_the_version(swathbook: Swathbook) -> None:
    """The version is asked for without a book."""
    assert swathbook("--version").out == f"swathbook {__version__}\n"


@pytest.mark.parametrize(
    "words",
    [["spray"], ["find", "--wind", "1"], ["show"], ["summary", "last"], ["find", "--limit", "0"], ["held", "burn"]],
    ids=" ".join,
)
def test_a_line_that_makes_no_sense_is_usage(words: list[str], swathbook: Swathbook) -> None:
    """Exit 2 and one line; nothing on stdout, or one JSON document."""
    ran = swathbook(*words)
    assert (ran.code, ran.out) == (2, "")
    assert ran.err.count("\n") == 1
    assert "--help" in ran.err
    told = swathbook("--json", *words)
    assert told.code == 2
    assert told.json["error"]["code"] == "usage"


def test_no_command_at_all_shows_the_help(swathbook: Swathbook) -> None:
    """Somebody who types the name alone sees where to begin."""
    ran = swathbook()
    assert ran.code == 2
    assert "Begin:" in ran.out + ran.err


@pytest.mark.parametrize("where", [["--json", "find"], ["find", "--json"], ["find", "--json", "--limit", "3"]])
def test_json_is_taken_before_and_after_the_command(where: list[str], season_book: Path, swathbook: Swathbook) -> None:
    """One JSON document on stdout, talk on stderr."""
    ran = swathbook("--book", season_book, *where)
    assert ran.code == 0
    assert ran.json["schema"] == 1
