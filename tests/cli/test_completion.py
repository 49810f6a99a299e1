"""What the shell offers after Tab: names of the book at hand, and never an error."""

from __future__ import annotations

import json
import os
import re
import subprocess
from typing import TYPE_CHECKING, Any

import pytest
from typer.main import get_command

from records.cli.app import app, main
from tests.cli.conftest import TOOL

if TYPE_CHECKING:
    from collections.abc import Iterator
    from pathlib import Path

    from tests.cli.conftest import Swathbook


def offers(
    line: str, book: Path | None, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> list[str]:
    """Return what bash is offered for a line; the last word is the one that is completed."""
    words = line.split(" ")
    monkeypatch.setenv("_SWATHBOOK_COMPLETE", "complete_bash")
    monkeypatch.setenv("COMP_WORDS", line)
    monkeypatch.setenv("COMP_CWORD", str(len(words) - 1))
    if book is None:
        monkeypatch.delenv("SWATHBOOK_BOOK", raising=False)
    else:
        monkeypatch.setenv("SWATHBOOK_BOOK", str(book))
    assert main([]) == 0
    seen = capsys.readouterr()
    assert seen.err == ""
    return seen.out.split()


@pytest.mark.parametrize(
    ("line", "found"),
    [
        ("swathbook last qua", {"quarry-rd-58"}),
        ("swathbook allowed lark-lane-7 brin", {"brindle-4l"}),
        ("swathbook papers orl", {"orlop-3w"}),
        ("swathbook rate lark-lane-7 --by m", {"mo"}),
        ("swathbook find --customer halv", {"halvorsen"}),
        ("swathbook find --product flin", {"flintel-4f"}),
        ("swathbook mix show mix-05", {"mix-0512", "mix-0513"}),
        ("swathbook mix list --equipment can", {"can-1"}),
        ("swathbook callback lark", {"lark-lane-7"}),
        ("swathbook answer lark", {"lark-lane-7"}),
        ("swathbook day add lark-lane-7 quar", {"quarry-rd-58"}),
        ("swathbook papers --lot B23", {"B2311"}),
        ("swathbook groups union-900 --zone ", {"lawn", "parking"}),
        ("swathbook callback lark --target dan", {"dandelion"}),
        ("swathbook mix rinse skid", {"skid-1"}),
        ("swathbook notify quarry-rd-58 --product tess", {"tessaly-4sc"}),
    ],
)
def test_names_of_the_book(
    line: str, found: set[str], season_book: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    assert found <= set(offers(line, season_book, capsys, monkeypatch))


def test_serials_newest_first_and_the_book_of_the_line(
    season_book: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    found = offers("swathbook show 2026-00013", season_book, capsys, monkeypatch)
    assert found == sorted(found, reverse=True)
    assert len(found) > 5
    named = offers(f"swathbook --book {season_book} show 2026-00013", None, capsys, monkeypatch)
    assert named == found


def test_no_book_and_a_broken_one_offer_nothing(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(tmp_path)
    assert offers("swathbook last q", None, capsys, monkeypatch) == []
    broken = tmp_path / "broken.db"
    broken.write_bytes(b"no book")
    assert offers("swathbook last q", broken, capsys, monkeypatch) == []
    assert not (tmp_path / "swathbook.db").exists()


def test_zones_are_those_of_the_site_on_the_line(
    season_book: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    found = offers("swathbook allowed union-900 --zone ", season_book, capsys, monkeypatch)
    assert set(found) == {"lawn", "parking"}


def test_what_is_held_and_what_may_be_withdrawn(
    firm: Path,
    swathbook: Swathbook,
    capsys: pytest.CaptureFixture[str],
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    assert swathbook("--book", firm, "close", "-", stdin=json.dumps({"site": "quarry-rd-58"})).code == 1
    assert swathbook("--book", firm, "day", "add", "quarry", "--for", "clover").code == 0
    assert offers("swathbook held show H", firm, capsys, monkeypatch) == ["H-000001"]
    assert offers("swathbook withdraw E", firm, capsys, monkeypatch) == ["E-000001"]


@pytest.mark.parametrize("shell", ["bash", "zsh", "fish"])
def test_names_mean_nothing_to_a_shell(
    shell: str,
    firm: Path,
    swathbook: Swathbook,
    tmp_path: Path,
    capsys: pytest.CaptureFixture[str],
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """A shell's script evaluates what it is offered: a backslash before a dollar sign would run what follows."""
    hostile = "\\$(touch pwned) `touch pwned` '; touch pwned #\N{RIGHT-TO-LEFT OVERRIDE}"
    load = tmp_path / "more.json"
    load.write_text(json.dumps({"customers": [{"id": "harm", "name": hostile.strip("\N{RIGHT-TO-LEFT OVERRIDE}")}]}))
    assert swathbook("--book", firm, "load", load).code == 0
    bought = swathbook(
        "--book", firm, "stock", "buy", "brindle-4l", "1x2.5gal", "--lot", "$(touch pwned)", "--by", "mo"
    )
    assert bought.code == 0, bought.err
    monkeypatch.setenv("_SWATHBOOK_COMPLETE", f"complete_{shell}")
    monkeypatch.setenv("SWATHBOOK_BOOK", str(firm))
    for line, expected in (("find --customer har", "harm"), ("papers --lot ", "")):
        monkeypatch.setenv("COMP_WORDS", f"swathbook {line}")
        monkeypatch.setenv("COMP_CWORD", str(line.count(" ") + 1))
        monkeypatch.setenv("_TYPER_COMPLETE_ARGS", f"swathbook {line}")
        monkeypatch.setenv("_TYPER_COMPLETE_FISH_ACTION", "get-args")
        assert main([]) == 0
        seen = capsys.readouterr()
        assert (expected in seen.out, seen.err) == (True, "")
        assert not set("\\$`;\N{RIGHT-TO-LEFT OVERRIDE}\x1b").intersection(seen.out), seen.out
        assert "$(touch" not in seen.out


def test_every_name_of_the_book_is_completed() -> None:
    """An option or argument that takes a name of the book offers it."""
    asked = {"SITE", "PRODUCT", "PERSON", "CUSTOMER", "SERIAL", "EQUIPMENT"}
    missing = [
        f"{path} {param.name}"
        for path, command in every_command(get_command(app), "swathbook")
        for param in command.params
        if asked & set(re.split(r"[^A-Z]+", str(param.metavar or "")))
        and "=" not in str(param.metavar)  # more than a name is written there
        and param._custom_shell_complete is None
    ]
    assert missing == []


def every_command(command: object, path: str) -> Iterator[tuple[str, Any]]:
    yield path, command
    for name, part in getattr(command, "commands", {}).items():
        yield from every_command(part, f"{path} {name}")


def test_the_installed_command_completes(season_book: Path) -> None:
    """The protocol that the shell's script speaks, with the command itself."""
    environment = os.environ | {
        "_SWATHBOOK_COMPLETE": "complete_bash",
        "COMP_WORDS": "swathbook last qua",
        "COMP_CWORD": "2",
        "SWATHBOOK_BOOK": str(season_book),
    }
    ran = subprocess.run([TOOL], env=environment, capture_output=True, text=True, check=True)
    assert (ran.stdout.split(), ran.stderr) == (["quarry-rd-58"], "")
