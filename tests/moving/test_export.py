"""A book as lines of JSON: what they are, that a stranger can prove them, that the same book gives the same bytes."""

from __future__ import annotations

import hashlib
import io
import json
import os
import sqlite3
import subprocess
import sys
import tracemalloc
from contextlib import closing
from datetime import timedelta
from pathlib import Path
from typing import TYPE_CHECKING

import pytest
import rfc8785

from records.errors import BookDamagedError
from records.services.moving.exporting import export_book, export_chain
from records.services.moving.importing import check_export
from records.storage.schema import TRIGGERS
from tests.moving.conftest import documents
from tests.storage.chain import NOW, fill, visit

if TYPE_CHECKING:
    from records.storage.unit_of_work import SqlBook
    from tests.cli.conftest import Swathbook

CHECK = Path(__file__).resolve().parents[2] / "demo" / "check_chain.py"


def exported(book: SqlBook, *, chain: bool = False, minutes: int = 0) -> bytes:
    stream = io.BytesIO()
    with book.read() as unit:
        if chain:
            export_chain(unit.moving, stream)
        else:
            export_book(unit.moving, stream, NOW + timedelta(minutes=minutes))
    return stream.getvalue()


def check(data: bytes) -> tuple[int, str]:
    ran = subprocess.run([sys.executable, "-I", CHECK], input=data, capture_output=True, check=False, timeout=60)
    return ran.returncode, (ran.stdout + ran.stderr).decode()


def tamper(path: Path, *statements: str) -> None:
    with closing(sqlite3.connect(path, isolation_level=None)) as connection:
        for name in TRIGGERS:
            connection.execute(f"DROP TRIGGER {name}")
        for statement in statements:
            connection.execute(statement)
        for text in TRIGGERS.values():
            connection.execute(text)


def test_the_lines_and_their_order(full: SqlBook) -> None:
    """First the book, then loaded documents, held visits, the chain in the order of sealing, and the end."""
    lines = documents(exported(full))
    kinds = [line.get("kind", "chain") for line in lines]
    chain = [{"c": "chain", "r": "removed"}[letter] for letter in "crrcrcrccccc"]
    assert kinds == ["book", *(["catalogue"] * 4), *(["held"] * 4), *chain, "end"]
    head, end = lines[0], lines[-1]
    assert head["format"] == "swathbook-book/1"
    assert (head["revisions"], head["removed"], head["catalogue"], head["held"]) == (8, 4, 4, 4)
    sealed = [line for line in lines if "kind" not in line]
    assert all(set(line) == {"previous", "serial", "revision", "sealed_at", "body", "seal"} for line in sealed)
    assert head["last_seal"] == end["last_seal"] == sealed[-1]["seal"]
    assert end["sha256"] == hashlib.sha256(b"".join(exported(full).splitlines(keepends=True)[:-1])).hexdigest()


def test_every_seal_is_that_of_its_line(full: SqlBook) -> None:
    """Made here with the RFC 8785 package alone; removed revisions are passed over by their seals."""
    last = ""
    for line in documents(exported(full)):
        if line.get("kind") == "removed":
            last = line["seal"]
        elif "kind" not in line:
            seal = line.pop("seal")
            assert line["previous"] == last
            assert hashlib.sha256(rfc8785.dumps(line)).hexdigest() == seal
            last = seal


def test_the_same_book_gives_the_same_bytes(full: SqlBook) -> None:
    """Apart from the moment of export, and the digest that covers it."""
    assert exported(full) == exported(full)
    one, other = exported(full).splitlines(), exported(full, minutes=1).splitlines()
    assert one[1:-1] == other[1:-1]
    for first, second in ((one[0], other[0]), (one[-1], other[-1])):
        differs = {name for name, value in json.loads(first).items() if json.loads(second)[name] != value}
        assert differs <= {"exported_at", "sha256"}


def test_no_line_can_steer_a_terminal(full: SqlBook) -> None:
    """Control codes and marks of direction are written as escapes."""
    text = exported(full).decode()
    assert not [char for char in text if char != "\n" and (ord(char) < 32 or 0x7F <= ord(char) < 0xA0)]
    assert "\u202e" not in text
    assert "\\u202e" in text
    assert "caf\u00e9" in text


def test_a_stranger_proves_the_chain(full: SqlBook) -> None:
    """The checker imports nothing of this project, and accepts the whole export and the chain alone."""
    chain = exported(full, chain=True)
    assert [line.get("kind", "chain") for line in documents(chain)].count("chain") == 8
    for data in (exported(full), chain):
        code, told = check(data)
        assert code == 0
        assert told == f"OK: 8 sealed revisions, last seal {documents(chain)[-1]['seal']}\n"
    source = CHECK.read_text("utf-8")
    assert [line for line in source.splitlines() if "import" in line.split()] == [
        "import hashlib",
        "import json",
        "import sys",
    ]


@pytest.mark.parametrize(
    ("old", "new", "named"),
    [
        (b"visit-4", b"visit-9", "2026-000002 revision 1"),
        (b'"serial":"2027-000001"', b'"serial":"2027-000002"', "2027-000002 revision 1"),
        (b'"serial":"2025-000001"', b'"serial":"2025-000003"', "E-000002 revision 1"),
        (b'"seal":"', b'"seal":"0', "2026-000001 revision 1"),
    ],
    ids=["body", "serial", "stub", "seal"],
)
def test_a_stranger_names_the_first_bad_record(full: SqlBook, old: bytes, new: bytes, named: str) -> None:
    """Whatever was changed, the first record that shows it is named."""
    changed = exported(full, chain=True).replace(old, new, 1)
    code, told = check(changed)
    assert code == 1
    assert named in told


def test_a_stranger_misses_a_removal(full: SqlBook) -> None:
    """Stubs without the event that vouches for them are told."""
    lines = exported(full, chain=True).splitlines(keepends=True)
    place = next(n for n, line in enumerate(lines) if b'"serial":"E-000002"' in line)
    code, told = check(b"".join(lines[:place]))
    assert code == 1
    assert told.startswith("BAD: something is missing or was changed; 4 sealed revisions")
    code, told = check(b"".join(exported(full).splitlines(keepends=True)[:-3]))
    assert code == 1
    assert told.startswith("BAD: something is missing or was changed; 6 sealed revisions")


def test_a_changed_record_is_exported_and_named(full: SqlBook, swathbook: Swathbook) -> None:
    """Evidence is not held back: the file is written, exit 1 says that the chain is broken, and where."""
    tamper(full.path, "UPDATE revision SET body = replace(body, 'visit-4', 'visit-7') WHERE serial = '2026-000002'")
    ran = swathbook("--book", full.path, "export", "--out", "e.jsonl")
    assert ran.code == 1
    assert "2026-000002 revision 1" in ran.err
    assert check(Path("e.jsonl").read_bytes())[0] == 1


@pytest.mark.parametrize("text", ["{", '{"kind":0.5}', "[" * 3000])
def test_a_body_that_cannot_be_read_is_one_line(full: SqlBook, text: str, swathbook: Swathbook) -> None:
    """Such a book is damaged; nothing is left behind."""
    tamper(full.path, f"UPDATE revision SET body = '{text}' WHERE serial = '2026-000002'")  # noqa: S608
    with pytest.raises(BookDamagedError):
        exported(full)
    ran = swathbook("--book", full.path, "export", "--out", "e.jsonl")
    assert ran.code == 6
    assert ran.err.count("\n") == 1
    assert sorted(path.name for path in Path().iterdir()) == [full.path.name]


def test_the_command(full: SqlBook, swathbook: Swathbook) -> None:
    """To stdout, or to a file for its owner alone that takes the place of no other unasked."""
    book = ("--book", full.path, "export")
    out = swathbook(*book)
    assert out.code == 0
    assert "last seal" in out.err
    old = os.umask(0)
    try:
        told = swathbook(*book, "--out", "e.jsonl", "--json")
    finally:
        os.umask(old)
    assert told.json["revisions"] == 8
    assert Path("e.jsonl").read_text("utf-8") == out.out
    assert Path("e.jsonl").stat().st_mode & 0o777 == 0o600
    again = swathbook(*book, "--out", "e.jsonl")
    assert (again.code, again.out) == (20, "")
    assert "--replace" in again.err
    assert swathbook(*book, "--out", "e.jsonl", "--replace", "--chain").code == 0
    assert len(Path("e.jsonl").read_bytes().splitlines()) == 12
    assert swathbook(*book, "--out", ".", "--replace").code == 20
    assert swathbook(*book, "--out", "no/such/e.jsonl").code == 12
    assert sorted(path.name for path in Path().iterdir()) == [full.path.name, "e.jsonl"]


def test_an_empty_book_is_two_lines(book: SqlBook) -> None:
    """What begins and what ends."""
    data = exported(book)
    assert [line["kind"] for line in documents(data)] == ["book", "end"]
    assert check_export(io.BytesIO(data), "x").is_empty
    assert check(data) == (0, "OK: 0 sealed revisions, last seal none\n")


def test_memory_does_not_grow_with_the_book(book: SqlBook) -> None:
    """Both ways: what is in memory is a page of records, not the book."""
    fill(book, *(visit(number, remarks="x" * 20_000) for number in range(900)))
    with Path("/dev/null").open("wb") as nowhere, book.read() as unit:
        tracemalloc.start()
        export_book(unit.moving, nowhere, NOW)
        _, peak = tracemalloc.get_traced_memory()
        tracemalloc.stop()
    data = exported(book)
    assert len(data) > 20_000_000
    assert peak < 16_000_000
    tracemalloc.start()
    check_export(io.BytesIO(data), "x")
    _, peak = tracemalloc.get_traced_memory()
    tracemalloc.stop()
    assert peak < 2_000_000


@pytest.mark.parametrize(
    "data",
    [b"", b"\n", b"{}\n", b"SQLite format 3\0", b"[1]\n", b'{"kind":"removed"}\n', b"\xff\xfe\n"],
    ids=["nothing", "blank", "object", "file", "list", "stub", "bytes"],
)
def test_a_stranger_is_not_content_with_nothing(data: bytes) -> None:
    """What proves nothing is never called good, and no traceback comes of it."""
    code, told = check(data)
    assert code == 1
    assert told.startswith("BAD: ")
    assert "Traceback" not in told


def test_a_stranger_sees_what_is_no_part_of_the_chain(full: SqlBook) -> None:
    """A changed or dropped line of the catalogue or of what is held shows by the sum in the last line."""
    data = exported(full)
    lines = data.splitlines(keepends=True)
    held = [line for line in lines if b'"kind":"held"' not in line]
    assert len(held) < len(lines)
    for changed in (b"".join(held), data.replace(b'"kind":"catalogue"', b'"kind":"Catalogue"')):
        code, told = check(changed)
        assert (code, told.partition(";")[0]) == (1, "BAD: something is missing or was changed")
