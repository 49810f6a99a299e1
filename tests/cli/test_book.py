"""The book itself: made, found, proved; and the one line that says what is wrong when it is not there."""

from __future__ import annotations

import json
import sqlite3
from typing import TYPE_CHECKING, Any

import pytest

from records.storage.schema import HEAD
from records.storage.unit_of_work import SqlBook
from tests.cli.conftest import FIRM, visit
from tests.migrations.test_migrations import first_book
from tests.storage.chain import remove

if TYPE_CHECKING:
    from pathlib import Path

    from tests.cli.conftest import Swathbook


def test_init_makes_a_book_and_says_what_comes_next(swathbook: Swathbook, tmp_path: Path) -> None:
    """A second init finds it as it should be."""
    made = swathbook("--book", "new.db", "init")
    assert (made.code, made.out) == (0, "book new.db: made\n")
    assert "swathbook load" in made.err
    assert (tmp_path / "new.db").is_file()
    again = swathbook("init", "--book=new.db", "--json")
    assert again.code == 0
    assert again.json["book"] == "new.db"
    assert again.json["result"] != "made"


def test_the_book_is_named_by_the_environment_else_it_is_in_this_folder(
    swathbook: Swathbook, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """SWATHBOOK_BOOK stands in for --book, which wins; without either, swathbook.db here."""
    assert swathbook("init").code == 0
    assert (tmp_path / "swathbook.db").is_file()
    monkeypatch.setenv("SWATHBOOK_BOOK", "truck.db")
    assert swathbook("init").code == 0
    assert (tmp_path / "truck.db").is_file()
    assert swathbook("--book", "office.db", "init").code == 0
    assert (tmp_path / "office.db").is_file()


@pytest.mark.parametrize(
    "words",
    [
        ["find"],
        ["show", "2026-1"],
        ["held"],
        ["held", "show", "1"],
        ["notice", "2026-1"],
        ["summary", "2026"],
        ["verify"],
        ["catalogue"],
        ["catalogue", "sites"],
        ["close"],
        ["load", *map(str, FIRM)],
    ],
    ids=lambda words: " ".join(words[:2])[:20],
)
def test_a_missing_book_is_one_line_and_makes_no_file(words: list[str], swathbook: Swathbook, tmp_path: Path) -> None:
    """Exit 3, and the line says how to make one."""
    ran = swathbook(*words, stdin="")
    assert (ran.code, ran.out) == (3, "")
    assert "swathbook: no book at swathbook.db. Make one with: swathbook --book FILE init\n" in ran.err
    assert list(tmp_path.iterdir()) == []
    told = swathbook("--json", *words, stdin="")
    assert told.code == 3
    assert told.json["error"]["code"] == "book-missing"


@pytest.mark.parametrize("content", [b"", b"not a book", b"SQLite format 3\0" + b"\xff" * 5000, b"\0" * 9000])
def test_a_file_that_is_no_book_is_refused_and_left_alone(content: bytes, swathbook: Swathbook, tmp_path: Path) -> None:
    """One line and a code of the book's own; the file keeps its bytes."""
    path = tmp_path / "other.db"
    path.write_bytes(content)
    for words in (["find"], ["verify"], ["catalogue"], ["close", "-"], ["held"]):
        ran = swathbook("--book", path, *words, stdin=json.dumps(visit()))
        assert ran.code in {3, 4, 6}, (words, ran)
        assert ran.out == ""
        assert ran.err.count("\n") == 1
        assert path.read_bytes() == content


def test_another_programs_database_is_no_book(swathbook: Swathbook, tmp_path: Path) -> None:
    """Nothing of ours is written into it, not even by init."""
    path = tmp_path / "other.db"
    with sqlite3.connect(path) as other:
        other.execute("CREATE TABLE notes (text TEXT)")
    other.close()
    before = path.read_bytes()
    for words in (["init"], ["find"], ["close", "-"]):
        ran = swathbook("--book", path, *words, stdin=json.dumps(visit()))
        assert ran.code in {4, 6}, ran
        assert path.read_bytes() == before


@pytest.mark.parametrize("book", ["", "  ", "no/such/folder/book.db", "."])
def test_a_place_where_no_book_can_be(book: str, swathbook: Swathbook) -> None:
    """One line and a code; nothing is made."""
    for words in (["init"], ["find"]):
        ran = swathbook("--book", book, *words)
        assert ran.code in {2, 3, 6, 7}, ran
        assert ran.err.count("\n") == 1


def test_verify_walks_the_chain(swathbook: Swathbook, year: Path) -> None:
    """A whole chain is told with its last seal; a changed byte is found."""
    ran = swathbook("--book", year, "verify")
    assert ran.code == 0
    assert ran.out.startswith("138 sealed revisions, the chain is whole\nlast seal ")
    told = swathbook("--book", year, "verify", "--json").json
    assert (told["ok"], told["revisions"], told["problems"]) == (True, 138, [])
    with sqlite3.connect(year) as raw:
        triggers = raw.execute("SELECT name, sql FROM sqlite_master WHERE type = 'trigger'").fetchall()
        for name, _ in triggers:
            raw.execute(f'DROP TRIGGER "{name}"')
        raw.execute("UPDATE revision SET body = replace(body, '1.1 fl oz', '1.0 fl oz') WHERE serial = '2026-000025'")
        for _, sql in triggers:
            raw.execute(sql)
    raw.close()
    ran = swathbook("--book", year, "verify")
    assert ran.code == 1
    assert "2026-000025" in ran.out
    told = swathbook("--book", year, "--json", "verify")
    assert told.code == 1
    assert told.json["ok"] is False


def test_verify_says_how_many_were_removed(swathbook: Swathbook, year: Path) -> None:
    """After a year has left the book, the chain is whole and the number of its records is told."""
    with SqlBook(year).read() as unit:
        serials = {one.serial for one in unit.records.walk()}
    event = remove(SqlBook(year), 2026)
    ran = swathbook("--book", year, "verify")
    told = f"{len(serials):,} records removed with their years; their seals are kept"
    assert (ran.code, ran.out) == (0, f"1 sealed revision, the chain is whole\n{told}\nlast seal {event.seal}\n")
    document = swathbook("--book", year, "verify", "--json").json
    assert (document["ok"], document["revisions"], document["removed"]) == (True, 1, len(serials))


def test_init_upgrades_a_book_of_the_first_version(swathbook: Swathbook, tmp_path: Path) -> None:
    """An older book is refused with what to do; `init` upgrades it beside a copy, and it is whole."""
    first_book(tmp_path / "old.db")
    refused = swathbook("--book", "old.db", "find")
    assert refused.code == 4
    assert "swathbook init" in refused.err
    ran = swathbook("--book", "old.db", "init")
    assert ran.code == 0
    assert f"a copy of it as it was is old.db.before-{HEAD}" in " ".join(ran.out.split())
    assert (tmp_path / f"old.db.before-{HEAD}").is_file()
    assert swathbook("--book", "old.db", "verify").out.startswith("6 sealed revisions, the chain is whole\nlast seal ")


def test_load_counts_what_is_new_and_what_is_as_before(swathbook: Swathbook, firm: Path) -> None:
    """The same files again change nothing."""
    ran = swathbook("--book", firm, "load", *FIRM)
    assert ran.code == 0
    assert "products   0 new, 0 changed, 13 as before" in ran.out
    told: Any = swathbook("--book", firm, "load", "--json", *FIRM).json
    assert told["ok"] is True
    assert told["loaded"]["sites"] == {"added": 0, "changed": 0, "unchanged": 17}


def test_load_tells_every_problem_and_loads_nothing(swathbook: Swathbook, firm: Path) -> None:
    """File, key and reason for each; exit 1."""
    wrong = '[[people]]\nid = "new"\nname = 3\n[[sites]]\nid = "x y"\n'
    ran = swathbook("--book", firm, "load", "-", stdin=wrong)
    assert ran.code == 1
    assert "-: people[0].name: is a number; write text in quotes" in ran.out
    assert "sites[0].id" in ran.out
    assert "nothing was loaded" in ran.err
    told = swathbook("--book", firm, "load", "-", "--json", stdin=wrong)
    assert told.code == 1
    assert {"file": "-", "where": "people[0].name", "what": "is a number; write text in quotes"} in told.json[
        "problems"
    ]
    assert swathbook("--book", firm, "catalogue", "people", "new").code == 9


def test_load_of_a_file_that_is_not_there(swathbook: Swathbook, firm: Path) -> None:
    """Exit 8 and the name of the file."""
    ran = swathbook("--book", firm, "load", "no-such.toml")
    assert (ran.code, ran.out) == (8, "")
    assert "'no-such.toml' cannot be read: No such file or directory" in ran.err
