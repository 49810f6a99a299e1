"""Days in words, and parts of names, are taken alike by every command; today is the firm's, not that of Greenwich."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import pytest

from records.cli.app import app
from records.cli.days import METAVARS
from records.cli.tree import runner
from tests.demo_book import NOW

if TYPE_CHECKING:
    from collections.abc import Iterator
    from pathlib import Path

    from tests.cli.conftest import Swathbook

LATE = "2026-10-27T22:30-05:00"  # 03:30 UTC of the day after


def options(command: Any, name: str = "") -> Iterator[tuple[str, Any]]:  # noqa: ANN401 - Typer keeps its classes
    """Yield each option that takes a day, with its command."""
    for part in command.params:
        if part.metavar in METAVARS:
            yield f"{name} {part.opts[0]}".strip(), part
    for key, one in getattr(command, "commands", {}).items():
        yield from options(one, f"{name} {key}".strip())


def test_every_option_for_a_day_takes_words() -> None:
    found = dict(options(runner(app, [])))
    assert len(found) > 40
    assert {"allowed --on", "find --since", "day add --on", "stock buy --at", "trial rate --on"} <= set(found)
    assert all(part.callback is not None for part in found.values())


@pytest.mark.parametrize("at", [NOW, LATE])
@pytest.mark.parametrize(
    ("word", "day"), [("today", "2026-10-27"), ("Tomorrow", "2026-10-28"), (" yesterday ", "2026-10-26")]
)
@pytest.mark.parametrize(
    "line",
    [
        ["allowed", "lark-lane-7", "brindle-4l", "--on"],
        ["looks", "--on"],
        ["actives", "lark-lane-7", "--on"],
        ["nutrients", "lark-lane-7", "--on"],
        ["notify", "lark-lane-7", "--on"],
        ["day", "--on"],
    ],
)
def test_a_word_is_the_day_it_means(
    demo_book: Path, swathbook: Swathbook, line: list[str], word: str, day: str, at: str
) -> None:
    """Late in the evening of the firm, when it is the day after in UTC, too."""
    spoken, written = (swathbook("--book", demo_book, *line, one, "--json", at=at) for one in (word, day))
    assert spoken.code == written.code
    assert spoken.json == written.json
    assert day in spoken.out


def test_what_is_no_word_for_a_day_is_refused_as_before(demo_book: Path, swathbook: Swathbook) -> None:
    ran = swathbook("--book", demo_book, "find", "--since", "someday", at=NOW)
    assert (ran.code, ran.out, ran.err.count("\n")) == (2, "", 1)
    assert "'someday' is no day" in ran.err
    assert "today, tomorrow and yesterday" in ran.err


def test_a_word_in_a_book_without_a_firm_or_without_a_book(swathbook: Swathbook, tmp_path: Path) -> None:
    """In UTC where no firm says otherwise; a book that is not there is told as ever."""
    path = tmp_path / "new.db"
    assert swathbook("--book", path, "init", at=NOW).code == 0
    assert swathbook("--book", path, "find", "--since", "today", at=NOW).code == 0
    ran = swathbook("--book", tmp_path / "none.db", "find", "--since", "today", at=NOW)
    assert ran.code != 0
    assert ran.err.count("\n") == 1


def test_today_is_the_day_of_the_firm(demo_book: Path, swathbook: Swathbook) -> None:
    """At 22:30 of New Year's Eve the year has not turned for the firm, though it has in Greenwich."""
    at = "2026-12-31T22:30-06:00"
    assert swathbook("--book", demo_book, "nutrients", "lark-lane-7", "--json", at=at).json["day"] == "2026-12-31"
    told = swathbook("--book", demo_book, "cost", "--json", at=at).json
    assert (told["from"], told["to"]) == ("2026-01-01", "2026-12-31")


@pytest.mark.parametrize(
    ("part", "whole"),
    [
        (["actives", "lark"], ["actives", "lark-lane-7"]),
        (["nutrients", "Lark Lane"], ["nutrients", "lark-lane-7"]),
        (["groups", "lark"], ["groups", "lark-lane-7"]),
        (["active", "brindle", "1 fl oz/1000 sq ft"], ["active", "brindle-4l", "1 fl oz/1000 sq ft"]),
        (["allowed", "lark", "brindle"], ["allowed", "lark-lane-7", "brindle-4l"]),
        (["compare", "nutsedge", "flintel", "sedgeline"], ["compare", "yellow nutsedge", "flintel-4f", "sedgeline"]),
    ],
)
def test_a_part_that_fits_one_stands_for_it(
    demo_book: Path, swathbook: Swathbook, part: list[str], whole: list[str]
) -> None:
    short, long = (swathbook("--book", demo_book, *line, "--json", at=NOW) for line in (part, whole))
    assert short.code == long.code == 0, (short.err, long.err)
    assert short.json == long.json


@pytest.mark.parametrize("line", [["actives", "street"], ["nutrients", "street"], ["active", "a", "1 fl oz/acre"]])
def test_a_part_that_fits_several_names_them(demo_book: Path, swathbook: Swathbook, line: list[str]) -> None:
    ran = swathbook("--book", demo_book, *line, at=NOW)
    assert (ran.code, ran.out, ran.err.count("\n")) == (9, "", 1)
    assert " fits " in ran.err
