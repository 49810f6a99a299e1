"""The same season closed in a file and on a server: the same seals, and the same answer to every question."""

from __future__ import annotations

import json
from typing import TYPE_CHECKING, Any

import pytest

from records.cli.app import main
from records.clock import FixedClock
from tests.cli.conftest import AFTER, FIRM, season

if TYPE_CHECKING:
    from collections.abc import Iterator
    from pathlib import Path

    from tests.servers import Postgres

QUESTIONS = (
    "find",
    "find --customer a --product brindle",
    "find --active brind",
    "find --target clover --incomplete",
    "show 2026-000007",
    "summary 2026",
    "held",
    "deliveries",
    "ready --all",
    "duty",
    "keep",
    "report list",
    "catalogue sites",
    "catalogue products brindle",
    "inspect --from 2026-05-01 --to 2026-06-30",
    "inspect --person mo",
    "inspect --product brindle",
    "inspect --customer åkesson",
    "inspect --site lark-lane-7",
    "inspect --random 5 --seed 7",
    "verify",
)


@pytest.fixture(scope="module")
def books(empty_book: Path, postgres: Postgres, tmp_path_factory: pytest.TempPathFactory) -> Iterator[tuple[str, str]]:
    """Return the demo season in a file and on a server."""
    folder = tmp_path_factory.mktemp("both")
    path = folder / "season.db"
    path.write_bytes(empty_book.read_bytes())
    lines = folder / "season.jsonl"
    lines.write_text("".join(json.dumps(visit) + "\n" for visit in season()), "utf-8")
    name = postgres.database("empty_book")
    found = str(path), postgres.url(name)
    for book in found:
        assert main(["--book", book, "load", *map(str, FIRM)], FixedClock(AFTER)) == 0
        assert main(["--book", book, "close", "--lines", str(lines)], FixedClock(AFTER)) == 0
    yield found
    postgres.drop(name)


@pytest.mark.parametrize("question", QUESTIONS)
def test_the_same_answer(books: tuple[str, str], question: str, capsys: pytest.CaptureFixture[str]) -> None:
    """A file and a server give the same answer, to the last letter, in words and as JSON."""
    answers: list[Any] = []
    for book in books:
        for words in ([], ["--json"]):
            capsys.readouterr()
            code = main(["--book", book, *words, *question.split()], FixedClock(AFTER))
            shown = capsys.readouterr()
            answers.append((code, shown.out, shown.err))
    assert answers[0][1]
    assert answers[:2] == answers[2:]
    assert answers[0][0] in {0, 1}, answers[0]


def test_a_book_goes_there_and_back(
    books: tuple[str, str], postgres: Postgres, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """File to server to file: the same chain, seal for seal; a server's backup is an export; no password is shown."""
    name = postgres.database("empty_book")
    url = postgres.url(name, "postgres:geheim")
    first, back = tmp_path / "first.jsonl", tmp_path / "back.db"
    for words in (
        ["--book", books[0], "export", "--out", str(first)],
        ["--book", url, "import", str(first)],
        ["--book", url, "backup", str(tmp_path / "server.jsonl")],
        ["--book", str(back), "import", str(tmp_path / "server.jsonl")],
        ["--book", str(back), "verify"],
    ):
        assert main(words, FixedClock(AFTER)) == 0, capsys.readouterr()
    shown = capsys.readouterr()
    assert "geheim" not in shown.out + shown.err
    chains = []
    for book in (books[0], url, str(back)):
        out = tmp_path / "chain.jsonl"
        assert main(["--book", book, "export", "--chain", "--out", str(out), "--replace"]) == 0
        chains.append(out.read_bytes())
    assert chains[0] == chains[1] == chains[2]
    assert main(["--book", url, "restore", str(first)]) == 2
    postgres.drop(name)


def test_the_owner_lets_a_role_in(
    books: tuple[str, str], postgres: Postgres, capsys: pytest.CaptureFixture[str]
) -> None:
    """`grant` opens a server's book to a role; a file has no roles."""
    postgres.run("DROP ROLE IF EXISTS truck_7", "CREATE ROLE truck_7 LOGIN")
    assert main(["--book", books[1], "grant", "truck_7", "--read-only"]) == 0
    assert "truck_7 may read the book" in capsys.readouterr().out
    assert main(["--book", books[1].replace("postgres@", "truck_7@"), "--json", "verify"]) == 0
    assert json.loads(capsys.readouterr().out)["ok"]
    assert main(["--book", books[1], "--json", "grant", "truck_7"]) == 0
    assert json.loads(capsys.readouterr().out)["may"] == "read and add"
    assert main(["--book", books[0], "grant", "truck_7"]) == 2
    assert "is a file" in capsys.readouterr().err
    assert main(["--book", books[1], "init"]) == 0
    assert "already up" in capsys.readouterr().out
