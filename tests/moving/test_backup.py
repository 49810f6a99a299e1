"""Backups are whole or not there; a restore never takes away unasked what the backup lacks."""

from __future__ import annotations

import os
import shutil
import sqlite3
import subprocess
import sys
import threading
from contextlib import closing
from pathlib import Path
from typing import TYPE_CHECKING

import pytest

from records.errors import (
    BookBusyError,
    BookDamagedError,
    BookVersionError,
    InputError,
    OutputError,
    OverwriteError,
    UsageError,
)
from records.storage import backup as backup_module
from records.storage import placing, restoring
from records.storage.backup import backup_book, copy_book
from records.storage.integrity import verify
from records.storage.migrate import upgrade
from records.storage.restoring import restore
from records.storage.unit_of_work import SqlBook
from tests.migrations.test_migrations import first_book
from tests.moving.test_export import exported, tamper
from tests.storage.chain import NOW, fill, remove, visit

if TYPE_CHECKING:
    from collections.abc import Iterator

    from records.services.ports import StoredRevision
    from tests.cli.conftest import Swathbook

WRITER = """
import sys
from records.storage.unit_of_work import SqlBook
from tests.storage.chain import fill, visit
for number in range(100, 100 + int(sys.argv[2])):
    fill(SqlBook(sys.argv[1]), visit(number))
    print(number, flush=True)
"""


def mode(path: Path) -> int:
    return path.stat().st_mode & 0o777


def names(folder: Path) -> list[str]:
    return sorted(path.name for path in folder.iterdir())


def head(path: Path) -> str:
    report = verify(SqlBook(path))
    assert report.problems == []
    return report.last_seal


@pytest.fixture
def mask() -> Iterator[int]:
    """Let whatever is made be readable and writable by everyone, unless it is told otherwise."""
    old = os.umask(0)
    yield old
    os.umask(old)


@pytest.mark.parametrize("umask", [0o000, 0o277])
def test_a_new_book_is_for_its_owner(tmp_path: Path, umask: int) -> None:
    """Whatever the mask; an empty file that was there already, too."""
    (tmp_path / "touched.db").touch(0o666)
    old = os.umask(umask)
    try:
        for name in ("new.db", "touched.db"):
            upgrade(tmp_path / name)
    finally:
        os.umask(old)
    assert {mode(path) for path in tmp_path.iterdir()} == {0o600}


def test_a_backup_is_a_book(full: SqlBook, tmp_path: Path, mask: int) -> None:
    """It verifies, ends with the same seal, is for its owner alone, and nothing else is left behind."""
    assert mask >= 0
    done = backup_book(full, tmp_path / "b.db", NOW, replace=False)
    assert done.extent.last_seal == head(tmp_path / "b.db") == head(full.path)
    assert mode(done.path) == 0o600
    assert done.size == done.path.stat().st_size
    assert names(tmp_path) == ["b.db", "book.db"]


def test_a_backup_takes_no_place_unasked(full: SqlBook, tmp_path: Path) -> None:
    """With --replace it takes the place of the old one only when it is proved."""
    target = tmp_path / "b.db"
    target.write_bytes(b"precious")
    with pytest.raises(OverwriteError, match="--replace"):
        backup_book(full, target, NOW, replace=False)
    tamper(full.path, "UPDATE revision SET zip = '1' WHERE id = 1")
    with pytest.raises(BookDamagedError, match="does not verify"):
        backup_book(full, target, NOW, replace=True)
    assert target.read_bytes() == b"precious"
    assert names(tmp_path) == ["b.db", "book.db"]


def test_a_backup_replaces_when_asked(full: SqlBook, tmp_path: Path) -> None:
    """At once, by name."""
    target = tmp_path / "b.db"
    target.write_bytes(b"old")
    backup_book(full, target, NOW, replace=True)
    assert head(target) == head(full.path)


def test_a_backup_over_the_book_itself(full: SqlBook, tmp_path: Path) -> None:
    """Is refused, by whatever name."""
    (tmp_path / "link.db").hardlink_to(full.path)
    for target in (full.path, tmp_path / "link.db"):
        with pytest.raises(UsageError, match="is the book itself"):
            backup_book(full, target, NOW, replace=True)
    with pytest.raises(OutputError, match="cannot be written"):
        backup_book(full, tmp_path / "no" / "b.db", NOW, replace=False)


def test_a_full_disk_leaves_nothing(full: SqlBook, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Neither a half file nor a changed one."""

    def full_disk(*_: object) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr("os.fsync", full_disk)
    with pytest.raises(OutputError, match="No space left"):
        backup_book(full, tmp_path / "b.db", NOW, replace=False)
    assert names(tmp_path) == ["book.db"]


@pytest.mark.parametrize("at_once", [10**9, 0])
def test_a_backup_while_others_write(
    book: SqlBook, tmp_path: Path, at_once: int, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Each copy is a beginning of the chain, in one go and in steps."""
    monkeypatch.setattr(backup_module, "_AT_ONCE", at_once)
    monkeypatch.setattr(backup_module, "_STEP", 8)
    fill(book, *(visit(number) for number in range(40)))
    root = Path(__file__).resolve().parents[2]
    with subprocess.Popen(
        [sys.executable, "-c", WRITER, str(book.path), "25"], cwd=root, stdout=subprocess.PIPE, text=True
    ) as writer:
        assert writer.stdout is not None
        writer.stdout.readline()
        for number in range(4):
            done = backup_book(book, tmp_path / f"{number}.db", NOW, replace=False)
            assert done.extent.revisions > 40
        writer.stdout.read()
    assert writer.returncode == 0
    seals = [row.seal for row in _walk(book)]
    for number in range(4):
        assert head(tmp_path / f"{number}.db") in seals
    assert len(seals) == 65


def _walk(book: SqlBook) -> list[StoredRevision]:
    with book.read() as unit:
        return list(unit.records.walk())


def test_a_restore_brings_back_a_lost_book(full: SqlBook, tmp_path: Path, mask: int) -> None:
    """From a copy and from an export, to a place where nothing is."""
    assert mask >= 0
    last = head(full.path)
    backup_book(full, tmp_path / "b.db", NOW, replace=False)
    (tmp_path / "b.jsonl").write_bytes(exported(full))
    full.path.unlink()
    for source in ("b.db", "b.jsonl"):
        done = restore(tmp_path / source, full.path)
        assert (done.extent.last_seal, done.kept, done.damaged) == (last, None, "")
        assert head(full.path) == last
        assert mode(full.path) == 0o600
        full.path.unlink()
    assert names(tmp_path) == ["b.db", "b.jsonl"]


def test_a_restore_over_the_same_or_an_older_book(full: SqlBook, tmp_path: Path) -> None:
    """Loses nothing, so it is done; the book as it was is kept beside, each time under a new name."""
    shutil.copyfile(full.path, tmp_path / "older.db")
    fill(full, visit(7, "2027-03-01"))
    last = head(full.path)
    backup_book(full, tmp_path / "b.db", NOW, replace=False)
    for count, before in enumerate((last, last), 1):
        done = restore(tmp_path / "b.db", full.path)
        assert done.beyond is None
        assert done.kept is not None
        assert head(done.kept) == before
        assert mode(done.kept) == 0o600
        assert done.kept.name == "book.db.before-restore" + ("" if count == 1 else "-2")
    done = restore(tmp_path / "b.db", tmp_path / "older.db")
    assert head(tmp_path / "older.db") == last


@pytest.mark.parametrize("source", ["b.db", "b.jsonl"])
def test_a_restore_over_a_newer_book(full: SqlBook, tmp_path: Path, source: str) -> None:
    """Says how many records would be lost and both last seals, and does it only when told to."""
    before = head(full.path)
    backup_book(full, tmp_path / "b.db", NOW, replace=False)
    (tmp_path / "b.jsonl").write_bytes(exported(full))
    fill(full, visit(7), visit(8))
    with full.write() as unit:
        unit.catalogue.add("site", "new", {}, NOW)
        unit.commit()
    after = head(full.path)
    with pytest.raises(
        OverwriteError, match="holds 2 sealed revisions, 1 loaded version that the backup lacks"
    ) as told:
        restore(tmp_path / source, full.path)
    assert before in str(told.value)
    assert after in str(told.value)
    assert head(full.path) == after
    assert names(tmp_path) == ["b.db", "b.jsonl", "book.db"]
    done = restore(tmp_path / source, full.path, replace_newer=True)
    assert head(full.path) == before
    assert done.kept is not None
    assert head(done.kept) == after
    assert done.beyond is not None
    assert done.beyond.lost == {"sealed revision": 2, "loaded version": 1}


def test_a_restore_over_a_year_that_was_removed_since(book: SqlBook, tmp_path: Path) -> None:
    """What is left of it counts as what it was: one event more is what the backup lacks."""
    fill(book, visit(1, "2025-06-01"), visit(2, "2026-06-01"))
    backup_book(book, tmp_path / "b.db", NOW, replace=False)
    remove(book, 2025)
    with pytest.raises(OverwriteError, match="holds 1 sealed revision that"):
        restore(tmp_path / "b.db", book.path)


def test_a_restore_over_another_book(book: SqlBook, empty_book: Path, tmp_path: Path) -> None:
    """Where the chains part, that is said, and what only the present book holds is counted."""
    fill(book, visit(1))
    other = SqlBook(shutil.copyfile(book.path, tmp_path / "other.db"))
    fill(book, visit(2), visit(3))
    fill(other, visit(4))
    with pytest.raises(OverwriteError, match="is another book, or its chain was changed: it holds 2 sealed revisions"):
        restore(other.path, book.path)
    assert head(restore(other.path, shutil.copyfile(empty_book, tmp_path / "e.db")).path) == head(other.path)


@pytest.mark.parametrize("how", ["empty", "garbage", "cut", "page", "version"])
def test_a_restore_over_a_damaged_book(full: SqlBook, tmp_path: Path, how: str) -> None:
    """It is said and kept as it is, byte for byte; what SQLite left beside it goes with it."""
    last = head(full.path)
    backup_book(full, tmp_path / "b.db", NOW, replace=False)
    data = full.path.read_bytes()
    if how == "version":
        with closing(sqlite3.connect(full.path)) as connection, connection:
            connection.execute("DELETE FROM alembic_version")
    broken = {
        "empty": b"",
        "garbage": b"not a book at all" * 99,
        "cut": data[: len(data) // 4],
        "page": data[:4096] + b"\xff" * (len(data) - 4096),
        "version": full.path.read_bytes(),
    }[how]
    full.path.write_bytes(broken)
    full.path.chmod(0o644)
    (tmp_path / "book.db-journal").write_bytes(b"stale")
    done = restore(tmp_path / "b.db", full.path)
    assert done.damaged
    assert done.kept is not None
    assert done.kept.read_bytes() == broken
    assert mode(done.kept) == 0o600
    assert head(full.path) == last
    assert not (tmp_path / "book.db-journal").exists()


def test_what_is_no_backup(full: SqlBook, tmp_path: Path) -> None:
    """Is refused before the present book is touched."""
    before = full.path.read_bytes()
    source = tmp_path / "x"
    source.write_bytes(b"hello")
    with pytest.raises(InputError, match="neither a copy of a book nor an export"):
        restore(source, full.path)
    with pytest.raises(InputError, match="cannot be read"):
        restore(tmp_path / "none", full.path)
    with pytest.raises(UsageError, match="is the book itself"):
        restore(full.path, full.path)
    with pytest.raises(UsageError, match="import FILE"):
        restore(source, "postgresql://office/book")
    with closing(sqlite3.connect(tmp_path / "other.db")) as connection, connection:
        connection.execute("CREATE TABLE x (y)")
    with pytest.raises(BookDamagedError, match=r"other\.db is a database, but not a book"):
        restore(tmp_path / "other.db", full.path)
    (tmp_path / "cut.jsonl").write_bytes(exported(full)[:-200])
    with pytest.raises(InputError, match=r"cut\.jsonl line"):
        restore(tmp_path / "cut.jsonl", full.path)
    shutil.copyfile(full.path, tmp_path / "bad.db")
    tamper(tmp_path / "bad.db", "UPDATE revision SET zip = '1' WHERE id = 1")
    with pytest.raises(BookDamagedError, match=r"the backup .*bad\.db does not verify: 2026-000001"):
        restore(tmp_path / "bad.db", full.path)
    (tmp_path / "cut.db").write_bytes(before[:9000])
    with pytest.raises(BookDamagedError, match=r"cut\.db"):
        restore(tmp_path / "cut.db", full.path)
    assert full.path.read_bytes() == before
    assert not [name for name in names(tmp_path) if "part" in name or "before" in name]


def test_other_databases_stay(full: SqlBook, tmp_path: Path) -> None:
    """A restore never takes the place of what is no book."""
    with closing(sqlite3.connect(tmp_path / "other.db")) as connection, connection:
        connection.execute("CREATE TABLE x (y)")
    with pytest.raises(BookDamagedError, match="not a book"):
        restore(full.path, tmp_path / "other.db", replace_newer=True)
    (tmp_path / "folder").mkdir()
    with pytest.raises(OverwriteError, match="is no file"):
        restore(full.path, tmp_path / "folder")


def test_older_versions(tmp_path: Path, full: SqlBook) -> None:
    """A backup of an older version is brought up to date; a present book of an older version is compared."""
    old = first_book(tmp_path / "old.db")
    before = old.read_bytes()
    done = restore(old, tmp_path / "new.db")
    assert head(tmp_path / "new.db") == done.extent.last_seal
    assert old.read_bytes() == before
    with pytest.raises(OverwriteError, match="is another book"):
        restore(full.path, old)
    assert restore(tmp_path / "new.db", old).damaged == ""
    assert head(old) == done.extent.last_seal
    assert not list(tmp_path.glob(".*"))
    shutil.copyfile(full.path, tmp_path / "newer.db")
    with closing(sqlite3.connect(tmp_path / "newer.db")) as connection, connection:
        connection.execute("UPDATE alembic_version SET version_num = '29991231_later'")
    for source, target in (("newer.db", full.path), (full.path.name, tmp_path / "newer.db")):
        with pytest.raises(BookVersionError, match=r"newer\.db was made by a newer version"):
            restore(tmp_path / source, target)


def test_a_writer_keeps_a_restore_away(full: SqlBook, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """The write lock is taken first; nothing changes while another process holds it."""
    monkeypatch.setattr("records.storage.engine.BUSY_MILLISECONDS", 100)
    backup_book(full, tmp_path / "b.db", NOW, replace=False)
    with full.write(), pytest.raises(BookBusyError):
        restore(tmp_path / "b.db", full.path)
    assert names(tmp_path) == ["b.db", "book.db"]


def test_who_waited_for_the_lock_is_told(full: SqlBook, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """A writer that opened the old file before it was replaced seals nothing in there, and is told to try again."""
    backup_book(full, tmp_path / "b.db", NOW, replace=False)
    told: list[Exception] = []

    def late() -> None:
        try:
            fill(SqlBook(full.path), visit(9))
        except BookBusyError as error:
            told.append(error)

    waiting = threading.Thread(target=late)

    def place(draft: Path, path: Path, *, replace: bool) -> None:
        if path == full.path:  # not while the old one is copied beside
            waiting.start()
            waiting.join(0.5)  # long enough to open the file and wait for its lock
        placing.place(draft, path, replace=replace)

    monkeypatch.setattr(restoring, "place", place)
    done = restore(tmp_path / "b.db", full.path)
    waiting.join()
    assert "restored from a backup just now" in str(told[0])
    assert head(full.path) == done.extent.last_seal
    fill(SqlBook(full.path), visit(9))


def test_a_failed_exchange_changes_nothing(full: SqlBook, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """The book stands as it did, and nothing is left beside it."""
    backup_book(full, tmp_path / "b.db", NOW, replace=False)
    before = full.path.read_bytes()

    def fail(*_: object, **__: object) -> None:
        raise OutputError("no", "no")

    monkeypatch.setattr(restoring, "place", fail)
    with pytest.raises(OutputError):
        restore(tmp_path / "b.db", full.path)
    assert full.path.read_bytes() == before
    assert names(tmp_path) == ["b.db", "book.db"]


def test_a_link_to_the_book_stays_a_link(full: SqlBook, tmp_path: Path) -> None:
    """The file it leads to is replaced."""
    backup_book(full, tmp_path / "b.db", NOW, replace=False)
    (tmp_path / "here.db").symlink_to(full.path)
    done = restore(tmp_path / "b.db", tmp_path / "here.db")
    assert (tmp_path / "here.db").is_symlink()
    assert done.path == full.path.resolve()


def test_a_copy_is_for_its_owner(full: SqlBook, tmp_path: Path, mask: int) -> None:
    """As the one that is made before a migration."""
    assert mask >= 0
    copy_book(full.path, tmp_path / "c.db")
    assert mode(tmp_path / "c.db") == 0o600


def test_the_commands(full: SqlBook, swathbook: Swathbook) -> None:
    """What is said, in words and as JSON."""
    book = ("--book", full.path)
    made = swathbook(*book, "backup", "b.db")
    assert made.code == 0
    assert "written and proved" in made.out
    assert "8 sealed revisions" in made.out
    assert swathbook(*book, "backup", "b.db").code == 20
    told = swathbook(*book, "backup", "b.db", "--replace", "--json").json
    assert (told["kind"], told["revisions"]) == ("book", 8)
    fill(full, visit(7))
    refused = swathbook(*book, "restore", "b.db")
    assert (refused.code, refused.err.count("\n")) == (20, 1)
    done = swathbook(*book, "restore", "b.db", "--replace-newer")
    assert done.code == 0
    assert "given up: 1 sealed revision" in done.out
    assert "book.db.before-restore" in "".join(done.out.split())
    full.path.write_bytes(b"x")
    again = swathbook(*book, "restore", "b.db", "--json").json
    assert again["damaged"]
    assert again["last_seal"] == told["last_seal"]
    full.path.write_bytes(b"x")
    assert "could not be read" in swathbook(*book, "restore", "b.db").out
