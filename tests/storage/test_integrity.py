"""Every way of changing a book behind its back shows."""

from __future__ import annotations

import sqlite3
from datetime import UTC, datetime
from typing import TYPE_CHECKING

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from records.errors import BookDamagedError, StorageError
from records.services.sealing import canonical, seal
from records.storage.base import Base
from records.storage.guard import missing_triggers
from records.storage.integrity import verify
from records.storage.schema import PROTECTED, TRIGGERS
from records.storage.unit_of_work import SqlBook
from tests.storage.chain import AT, append, dump, fill, later, remove, tamper, visit

if TYPE_CHECKING:
    from pathlib import Path

NOW = datetime(2026, 5, 14, tzinfo=UTC)


@pytest.fixture
def filled(book: SqlBook) -> SqlBook:
    """Return a book of three records, one amended and one voided."""
    made = fill(book, visit(1), visit(2, "2025-06-01"), visit(3))
    with book.write() as unit:
        append(unit, later(visit(1), "amended", remarks="lot was B2208"), made[0].serial, 2, "amended")
        append(unit, later(visit(3), "voided"), made[2].serial, 2, "voided")
        unit.commit()
    return book


def test_an_untouched_book_is_whole(filled: SqlBook) -> None:
    """A book made by the tool has no problems; the report ends with the last seal."""
    report = verify(filled)
    assert report.problems == []
    assert report.revisions == 5
    with filled.read() as unit:
        assert report.last_seal == unit.records.head()


def test_an_empty_book_is_whole(book: SqlBook) -> None:
    """Nothing sealed, nothing wrong."""
    report = verify(book)
    assert (report.revisions, report.last_seal, report.problems) == (0, "", [])


@pytest.mark.parametrize(
    ("statement", "words"),
    [
        ("UPDATE revision SET body = replace(body, '4.62 fl oz', '4.63 fl oz') WHERE id = 1", "does not fit"),
        ("UPDATE revision SET body = body || ' ' WHERE id = 2", "not canonical"),
        ("UPDATE revision SET body = '[]' WHERE id = 2", "does not have the parts"),
        ("UPDATE revision SET body = '{' WHERE id = 2", "not canonical"),
        ("UPDATE revision SET sealed_at = '2026-05-14T14:33:01.123457Z' WHERE id = 2", "does not fit"),
        ("UPDATE revision SET seal = replace(seal, substr(seal, 1, 1), 'x') WHERE id = 3", "does not follow the seal"),
        ("UPDATE revision SET previous = '' WHERE id = 3", "does not follow the seal"),
        ("UPDATE revision SET serial = '2025-000009' WHERE id = 2", "have a gap"),
        ("UPDATE revision SET serial = 'x' WHERE id = 2", "not a year and a number"),
        ("UPDATE revision SET customer_name = 'Someone Else' WHERE id = 1", "column customer_name"),
        ("UPDATE revision SET action = 'voided' WHERE id = 4", "column action"),
        ("UPDATE revision SET deviation = 1 WHERE id = 1", "column deviation"),
        ("UPDATE application SET amount_nano = amount_nano - 1 WHERE id = 1", "applications differ"),
        ("UPDATE application SET use_group_id = 2 WHERE use_group_id = 1", "applications differ"),
        ("UPDATE use_group SET facts = replace(facts, 'Mo Tarn', 'Ada') WHERE id = 1", "applications differ"),
        ("UPDATE application_zone SET treated_nano = NULL", "zones of its applications"),
        ("UPDATE application_active SET pounds_nano = 1", "actives of its applications"),
        ("DELETE FROM application_target WHERE application_id = 1", "targets of its applications"),
        ("INSERT INTO application_target VALUES (1, 'clover')", "targets of its applications"),
        (
            "INSERT INTO application_target VALUES (999, 'clover')",
            "1 rows of application_target belong to rows of application that are gone",
        ),
        ("DELETE FROM revision WHERE id = 2", "1 revision sealed before it is gone"),
        ("DELETE FROM revision WHERE id = 1", "the revision before it is gone"),
    ],
)
def test_what_another_tool_changed_is_named(filled: SqlBook, statement: str, words: str) -> None:
    """A changed, added or removed value of a sealed record is reported with the record's serial."""
    tamper(filled, statement)
    problems = verify(filled).problems
    assert any(words in problem for problem in problems), problems


@pytest.mark.parametrize(
    ("statement", "words"),
    [
        ("UPDATE catalogue SET body = replace(body, '40', '90')", "catalogue row 1: it"),
        ("UPDATE catalogue SET loaded_at = '2026-05-15T00:00:00.000000Z' WHERE number = 2", "catalogue row 2: it"),
        ("DELETE FROM catalogue WHERE number = 1", "catalogue row 2: 1 rows before it are gone"),
        ("UPDATE held_event SET reason = 'none' WHERE id = 1", "held event 1: it"),
        ("UPDATE held_event SET seal = replace(seal, substr(seal, 1, 1), 'x') WHERE id = 1", "held event 1: it"),
        ("DELETE FROM held_event WHERE id = 1", "held event 2: 1 rows before it are gone"),
        ("INSERT INTO use_group VALUES (99, '2026-05', '[]')", "1 rows of use_group belong to no application"),
        (
            "UPDATE application SET revision_id = 2, treatment = 9 WHERE id = 1",
            "2026-000001 revision 1: its applications differ from the sealed body: 0 lines, not 3",
        ),
        ("UPDATE application SET rate = 'x' WHERE id = 1", "line 1, column rate says 'x', not '1.1 fl oz/1000 sq ft'"),
    ],
)
def test_what_another_tool_changed_beside_the_records_is_named(filled: SqlBook, statement: str, words: str) -> None:
    """Labels, refused visits and what groups applications show a change as well."""
    with filled.write() as unit:
        unit.catalogue.add("product", "brindle-4l", {"rate": "40"}, NOW)
        unit.catalogue.add("product", "brindle-4l", {"rate": "41"}, NOW)
        for number in ("H-000001", "H-000002"):
            unit.held.add(number, "held", NOW, document={}, findings=[], ref=None, person=None)
        unit.commit()
    assert verify(filled).problems == []
    tamper(filled, statement)
    problems = verify(filled).problems
    assert any(words in problem for problem in problems), problems


def test_a_seal_printed_before_is_found(filled: SqlBook) -> None:
    """A seal on an old paper is still in the chain, with whose it is; one that never was is not."""
    with filled.read() as unit:
        seals = [revision.seal for revision in unit.records.walk()]
    report = verify(filled, [seals[1], "f" * 64])
    assert report.found == {seals[1]: ("2025-000001 revision 1", 2)}


def test_a_resealed_body_breaks_the_next_link(filled: SqlBook) -> None:
    """Someone who also computes the new seal is caught by the revision sealed next."""
    with filled.read() as unit:
        first = next(unit.records.walk())
    body = first.body | {"remarks": "nothing happened here"}
    mark = seal("", first.serial, 1, AT, body)
    text = canonical(body).decode().replace("'", "''")
    tamper(filled, f"UPDATE revision SET body = '{text}', seal = '{mark}' WHERE id = 1")  # noqa: S608 - on purpose
    problems = verify(filled).problems
    assert problems == ["2025-000001 revision 1: it does not follow the seal of the revision before it"]


@settings(max_examples=25, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(st.data())
def test_any_changed_byte_of_a_body_breaks_the_seal(book_path: Path, data: st.DataObject) -> None:
    """Whatever one character of a stored body becomes, `verify` says that its seal does not fit."""
    book = SqlBook(book_path)
    if verify(book).revisions == 0:
        fill(book, visit(1))
    with book.read() as unit:
        text = next(unit.records.walk()).text
    at = data.draw(st.integers(0, len(text) - 1))
    other = data.draw(st.characters(codec="utf-8").filter(lambda sign: sign not in {text[at], "\0"}))
    changed = (text[:at] + other + text[at + 1 :]).replace("'", "''")
    original = text.replace("'", "''")
    tamper(book, f"UPDATE revision SET body = '{changed}' WHERE id = 1")  # noqa: S608 - on purpose
    assert any("does not fit" in problem for problem in verify(book).problems)
    tamper(book, f"UPDATE revision SET body = '{original}' WHERE id = 1")  # noqa: S608 - on purpose
    assert verify(book).problems == []


@pytest.mark.parametrize("table", PROTECTED)
def test_rows_cannot_be_changed_deleted_or_replaced(filled: SqlBook, table: str) -> None:
    """Bulk UPDATE, DELETE and INSERT OR REPLACE are refused on every table, and leave the rows as they were."""
    with filled.write() as unit:
        unit.catalogue.add("site", "a", {}, NOW)
        unit.held.add("H-000001", "held", NOW, document={}, findings=[], ref=None, person=None)
        unit.commit()
    remove(filled, 2025)
    with filled.write() as unit:
        assert unit.link is not None
        before = dump(filled)[table]
        assert before
        column = next(reversed(Base.metadata.tables[table].columns)).name
        keys = ", ".join(one.name for one in Base.metadata.tables[table].primary_key.columns)
        replace = (
            f"INSERT INTO {table} SELECT * FROM {table} WHERE true"  # noqa: S608
            f" ON CONFLICT ({keys}) DO UPDATE SET {column} = excluded.{column}"
        )
        for statement in (
            f"UPDATE {table} SET {column} = {column}",  # noqa: S608
            f"DELETE FROM {table}",  # noqa: S608
            f"TRUNCATE {table} CASCADE" if filled.server else f"INSERT OR REPLACE INTO {table} SELECT * FROM {table}",  # noqa: S608
            replace,
        ):
            unit.link.change("SAVEPOINT before")
            with pytest.raises(StorageError, match="append-only"):
                unit.link.change(statement)
            unit.link.change("ROLLBACK TO SAVEPOINT before")
    assert dump(filled)[table] == before


@pytest.mark.parametrize("name", TRIGGERS)
def test_a_book_without_its_protections_is_not_opened(file_book: SqlBook, name: str) -> None:
    """Each trigger is asserted at every open; `verify` opens the book all the same and names what is gone."""
    connection = sqlite3.connect(file_book.path)
    connection.execute(f"DROP TRIGGER {name}")
    assert missing_triggers(connection) == [name]
    connection.close()
    for unit in (file_book.read(), file_book.write()):
        with pytest.raises(BookDamagedError, match=name):
            unit.__enter__()
    assert verify(file_book).problems == [f"protection {name} is gone or changed"]


def test_a_disarmed_protection_is_not_enough(file_book: SqlBook) -> None:
    """A trigger of the right name that does nothing counts as gone."""
    connection = sqlite3.connect(file_book.path)
    connection.execute("DROP TRIGGER revision_no_update")
    connection.execute("CREATE TRIGGER revision_no_update BEFORE UPDATE ON revision BEGIN SELECT 1; END")
    connection.close()
    with pytest.raises(BookDamagedError, match="revision_no_update"):
        file_book.read().__enter__()


def test_a_damaged_file_is_one_line(file_book: SqlBook) -> None:
    """Overwritten pages end in one line that says so, or in problems; never in a traceback."""
    fill(file_book, visit(1), visit(2))
    size = file_book.path.stat().st_size
    with file_book.path.open("r+b") as file:
        file.seek(size // 2)
        file.write(b"\xff" * 4096 * 4)
    try:
        assert verify(file_book).problems
    except (BookDamagedError, StorageError) as error:
        assert "\n" not in str(error)  # noqa: PT017 - either is right


def test_verify_does_not_write(file_book: SqlBook) -> None:
    """Proving a book leaves its bytes as they were."""
    before = file_book.path.read_bytes()
    verify(file_book)
    assert file_book.path.read_bytes() == before
