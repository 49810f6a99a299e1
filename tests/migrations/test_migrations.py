"""The migration scripts against the rows, against each other, and with books in every state."""

from __future__ import annotations

import os
import shutil
import sqlite3
import stat
from contextlib import closing
from datetime import UTC, datetime
from pathlib import Path
from typing import TYPE_CHECKING, Any

import pytest
from alembic import command
from alembic.script import ScriptDirectory
from sqlalchemy.exc import IntegrityError

from records import resources
from records.errors import BookDamagedError, BookMissingError, BookVersionError, StorageError
from records.services.events import append_event
from records.storage import migrate, tables  # noqa: F401 - fills the metadata
from records.storage.backup import copy_book
from records.storage.base import Base
from records.storage.engine import create_file, make_engine
from records.storage.integrity import verify
from records.storage.migrate import alembic_config, upgrade
from records.storage.schema import APPLICATION_ID, HEAD, PROTECTED, TRIGGERS, VERSIONS
from records.storage.unit_of_work import SqlBook
from tests.bodies import application, treatment
from tests.storage.chain import append, fill, visit

if TYPE_CHECKING:
    from collections.abc import Callable

FIRST_ROWS = Path(__file__).with_name("first_rows.sql")
NOW = datetime(2026, 5, 14, 12, tzinfo=UTC)


def schema(path: Path) -> dict[str, str]:
    """Return the text of every table, index and trigger but Alembic's own."""
    with closing(sqlite3.connect(path)) as connection:
        rows = connection.execute(
            "SELECT name, sql FROM sqlite_master WHERE sql IS NOT NULL AND tbl_name <> 'alembic_version'"
        )
        return {name: " ".join(sql.split()) for name, sql in rows}


def parts(path: Path) -> dict[str, list[str]]:
    """Return the schema with the parts of each table sorted: the order of its constraints means nothing."""
    return {
        name: sorted(
            sql.replace(f'"{name}"', name)  # as SQLite writes the name of a table that was made anew
            .replace(" )", ")")
            .replace(") STRICT", ", ) STRICT")
            .replace(") WITHOUT", ", ) WITHOUT")
            .split(", ")
        )
        for name, sql in schema(path).items()
    }


def run(path: Path, action: Callable[..., Any], *arguments: str) -> None:
    """Run an Alembic command on a book in one transaction."""
    with make_engine(path, for_migration=True).begin() as connection:
        action(alembic_config(connection), *arguments)


def test_one_head_and_the_list_of_versions() -> None:
    """The scripts form one line, and the list that opening a book goes by is that line."""
    scripts = ScriptDirectory.from_config(alembic_config())
    assert scripts.get_heads() == [HEAD]
    assert tuple(script.revision for script in scripts.walk_revisions())[::-1] == VERSIONS


def test_rows_and_scripts_agree(book_path: Path) -> None:
    """Comparing the models with a migrated book finds nothing to do."""
    run(book_path, command.check)


def test_models_make_the_same_schema(book_path: Path, tmp_path: Path) -> None:
    """`create_all` gives, text for text, what the migrations give, apart from the triggers."""
    made = tmp_path / "models.db"
    create_file(made)
    with make_engine(made, for_migration=True).begin() as connection:
        Base.metadata.create_all(connection)
    found = {name: listed for name, listed in parts(book_path).items() if name not in TRIGGERS}
    assert parts(made) == found


def test_up_down_up(book_path: Path) -> None:
    """Going down leaves nothing behind, and going up again gives the same schema."""
    before = schema(book_path)
    run(book_path, command.downgrade, "base")
    assert schema(book_path) == {}
    run(book_path, command.upgrade, "head")
    assert schema(book_path) == before


def first_book(path: Path) -> Path:
    """Make a book of the first version, with rows that the first version wrote."""
    create_file(path)
    run(path, command.upgrade, VERSIONS[0])
    with closing(sqlite3.connect(path)) as connection:
        connection.executescript(f"PRAGMA application_id = {APPLICATION_ID}; BEGIN; {FIRST_ROWS.read_text()} COMMIT;")
    return path


# Columns that the first version did not have
LATER = {
    "catalogue": {"number", "seal"},
    "held_event": {"seal"},
    "application": {"mix_id", "lot", "label_revision"},
}


def rows(path: Path) -> dict[str, list[Any]]:
    """Return all rows of all tables of ours, with the columns that the first version had."""
    with closing(sqlite3.connect(path)) as connection:
        names = [name for name, sql in schema(path).items() if sql.startswith("CREATE TABLE")]
        found = {}
        for name in names:
            columns = [row[1] for row in connection.execute(f"PRAGMA table_info({name})")]
            listed = ", ".join(f'"{one}"' for one in columns if one not in LATER.get(name, ()))
            found[name] = connection.execute(f"SELECT {listed} FROM {name}").fetchall()  # noqa: S608
        return found


def test_every_step_with_rows_in_it(tmp_path: Path) -> None:
    """Each version is upgraded to the next, and back to the first, with rows in the tables; none is lost or changed."""
    path = first_book(tmp_path / "steps.db")
    first, kept = parts(path), rows(path)
    assert all(kept.values())
    for action, versions in ((command.upgrade, VERSIONS[1:]), (command.downgrade, VERSIONS[-2::-1])):
        for version in versions:
            run(path, action, version)
            assert {name: found for name, found in rows(path).items() if name in kept} == kept
    assert parts(path) == first
    run(path, command.upgrade, "head")
    assert {name: found for name, found in rows(path).items() if found} == kept
    assert verify(SqlBook(path)).problems == []


def lots(path: Path) -> list[Any]:
    """Return load, lot and label revision of every application."""
    with closing(sqlite3.connect(path)) as connection:
        return connection.execute("SELECT id, mix_id, lot, label_revision FROM application ORDER BY id").fetchall()


def test_loads_lots_and_labels_are_filled_in_and_taken_out(book_path: Path) -> None:
    """A book whose records took shares of a load: the step up finds in the bodies what the step down took out."""
    treatments = [
        treatment(applications=[application(mix="mix-0512", lot="R2604"), application(lot=None, label=None)]),
        treatment(applications=[application(mix="mix-0513")]),
    ]
    fill(SqlBook(book_path), visit(1, treatments=treatments))
    before, made = lots(book_path), schema(book_path)
    assert [row[1:] for row in before] == [
        ("mix-0512", "R2604", "2025-11"),
        (None, None, None),
        ("mix-0513", "B2207", "2025-11"),
    ]
    run(book_path, command.downgrade, VERSIONS[-2])
    assert "mix_id" not in schema(book_path)["application"]
    run(book_path, command.upgrade, "head")
    assert lots(book_path) == before
    assert schema(book_path) == made
    assert verify(SqlBook(book_path)).problems == []


def test_a_first_book_works_on(tmp_path: Path) -> None:
    """`init` upgrades a book of the first version, keeps a copy of it as it was, and work goes on in it."""
    path = first_book(tmp_path / "book.db")
    before, kept = schema(path), rows(path)
    book = SqlBook(path)
    with pytest.raises(BookVersionError, match="swathbook init"):
        book.read().__enter__()
    done = upgrade(path)
    assert (done.before, done.after, done.backup) == (VERSIONS[0], HEAD, str(tmp_path / f"book.db.before-{HEAD}"))
    assert done.backup is not None
    assert schema(Path(done.backup)) == before
    assert rows(Path(done.backup)) == kept
    assert verify(book).problems == []
    with book.write() as unit:
        append(unit, visit(9))
        event = append_event(unit, "contact", {"about": "x"}, NOW, day=NOW.date(), timezone="America/Chicago")
        unit.catalogue.add("pack", "own", {}, NOW)
        unit.commit()
    report = verify(book)
    assert (report.problems, report.revisions, report.last_seal) == ([], 8, event.seal)


def test_a_step_back_that_would_lose_events_is_refused(book_path: Path) -> None:
    """The first version cannot hold events or packs: going back to it stops, and the book stays as it was."""
    with SqlBook(book_path).write() as unit:
        append_event(unit, "contact", {}, NOW, day=NOW.date(), timezone="America/Chicago")
        unit.commit()
    before = book_path.read_bytes()
    with pytest.raises(IntegrityError, match="kind_word"):
        run(book_path, command.downgrade, VERSIONS[0])
    assert book_path.read_bytes() == before


def test_triggers_at_head(book_path: Path) -> None:
    """Every table is protected, with the very text that opening a book asks for."""
    found = schema(book_path)
    assert {name: found[name] for name in TRIGGERS} == TRIGGERS
    assert {name for name, sql in found.items() if sql.startswith("CREATE TABLE")} == set(PROTECTED)


def test_tables_are_strict(book_path: Path) -> None:
    """A text in a number's place is refused by the table itself."""
    assert all(sql.endswith("STRICT") for sql in schema(book_path).values() if sql.startswith("CREATE TABLE"))


def test_a_new_book_is_private_and_marked(tmp_path: Path) -> None:
    """A new book can be read by its owner only, carries the mark in its header, and says what was done."""
    path = tmp_path / "100% new" / "book.db"
    path.parent.mkdir()
    done = upgrade(path)
    assert (done.before, done.after, done.backup, done.made, str(done)) == (None, HEAD, None, True, "made")
    if os.name == "posix":
        assert stat.S_IMODE(path.stat().st_mode) == 0o600
    # https://www.sqlite.org/fileformat2.html: the application id is the 4-byte big-endian integer at offset 68
    assert int.from_bytes(path.read_bytes()[68:72]) == APPLICATION_ID
    again = upgrade(path)
    assert (again.made, again.backup, str(again)) == (False, None, "already up to date")


def test_an_older_book_is_copied_before_it_is_upgraded(
    book_path: Path, monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    """The copy beside the book holds it as it was, with the same protection of its privacy."""
    fill(SqlBook(book_path), visit(1))
    older = ("20250101_older", *VERSIONS)
    monkeypatch.setattr(migrate, "VERSIONS", older)
    with closing(sqlite3.connect(book_path)) as connection, connection:
        connection.execute("UPDATE alembic_version SET version_num = ?", older[:1])
    with monkeypatch.context() as patch:
        patch.setattr("records.storage.guard.VERSIONS", older)
        with pytest.raises(BookVersionError, match="swathbook init"):
            SqlBook(book_path).read().__enter__()

    def step(path: Path) -> None:
        with closing(sqlite3.connect(path)) as connection, connection:
            connection.execute("UPDATE alembic_version SET version_num = ?", (HEAD,))

    monkeypatch.setattr(migrate, "_run", step)
    (tmp_path / f"book.db.before-{HEAD}").touch()
    done = upgrade(book_path)
    assert done.backup == str(tmp_path / f"book.db.before-{HEAD}-2")
    assert done.before == older[0]
    assert "copy" in str(done)
    with closing(sqlite3.connect(done.backup)) as connection:
        assert connection.execute("SELECT version_num FROM alembic_version").fetchone() == older[:1]
        assert connection.execute("SELECT count(*) FROM revision").fetchone() == (1,)
    if os.name == "posix":
        assert stat.S_IMODE(Path(done.backup).stat().st_mode) == 0o600


def test_a_newer_book_is_left_alone(book_path: Path) -> None:
    """A book of a version that this tool does not know is neither opened nor touched."""
    with closing(sqlite3.connect(book_path)) as connection, connection:
        connection.execute("UPDATE alembic_version SET version_num = '20990101_later'")
    before = book_path.read_bytes()
    with pytest.raises(BookVersionError, match="newer"):
        upgrade(book_path)
    with pytest.raises(BookVersionError, match="Update the tool"):
        SqlBook(book_path).write().__enter__()
    assert book_path.read_bytes() == before


def test_what_is_no_book_is_left_alone(tmp_path: Path) -> None:
    """Another program's database and a text file are refused and stay as they are."""
    other = tmp_path / "other.db"
    with closing(sqlite3.connect(other)) as connection, connection:
        connection.execute("CREATE TABLE t (a)")
    text = tmp_path / "notes.txt"
    text.write_text("spray the back yard " * 100)
    for path in (other, text):
        before = path.read_bytes()
        with pytest.raises(BookDamagedError):
            upgrade(path)
        with pytest.raises(BookDamagedError):
            SqlBook(path).read().__enter__()
        assert path.read_bytes() == before


def test_an_upgrade_that_fails_leaves_nothing(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """A migration that stops half-way is undone as a whole."""
    path = tmp_path / "book.db"
    folder = tmp_path / "scripts"
    shutil.copytree(resources.migrations(), folder, ignore=shutil.ignore_patterns("__pycache__"))
    script = folder / "versions" / "20261125_first.py"
    script.write_text(
        script.read_text().replace(
            "    for trigger in TRIGGERS:", "    op.execute('no such statement')\n    for trigger in TRIGGERS:"
        )
    )
    monkeypatch.setattr(resources, "migrations", lambda: folder)
    with pytest.raises(StorageError):
        upgrade(path)
    assert schema(path) == {}
    monkeypatch.undo()
    assert upgrade(path).made


def test_places_where_no_book_can_be(tmp_path: Path) -> None:
    """A missing folder, a folder, a server and a copy onto something are refused with what to do."""
    with pytest.raises(StorageError, match="folder that exists"):
        upgrade(tmp_path / "nowhere" / "book.db")
    with pytest.raises((StorageError, BookMissingError)):
        upgrade(tmp_path)
    with pytest.raises(StorageError, match="does not answer"):
        upgrade("postgresql://127.0.0.1:1/book")
    with pytest.raises(BookMissingError):
        copy_book(tmp_path / "none.db", tmp_path / "copy.db")
    assert not (tmp_path / "copy.db").exists()
    with pytest.raises(StorageError, match="already exists"):
        copy_book(tmp_path / "none.db", tmp_path)
