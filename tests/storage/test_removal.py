"""Whole years leave the book, the chain stays provable, and nothing else can be made to look like that."""

from __future__ import annotations

import hashlib
from typing import TYPE_CHECKING, Any

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from records.errors import StorageError
from records.services.events import append_event
from records.services.ports import Criteria, RemovedRow
from records.storage import removal
from records.storage.guard import unprotected
from records.storage.integrity import verify
from records.storage.link import Prepared
from records.storage.unit_of_work import SqlBook
from tests.bodies import spot_treatment
from tests.storage.chain import NOW, ZONE, append, dump, fill, later, remove, tamper, visit

if TYPE_CHECKING:
    from pathlib import Path

DERIVED = ("application", "application_target", "application_active", "application_zone", "use_group")


@pytest.fixture
def years(book: SqlBook) -> SqlBook:
    """Return a book of two years in turns; 2025 has an amended record, a late voiding and a secret."""
    fill(
        book,
        visit(1, "2026-04-01"),
        visit(2, "2025-06-01", remarks="the fig tree knows"),
        visit(3, "2025-06-02", treatments=[spot_treatment()]),
        visit(4, "2026-04-02"),
    )
    with book.write() as unit:
        append(unit, later(visit(2, "2025-06-01"), "amended", remarks="x"), "2025-000001", 2, "amended")
        append(unit, later(visit(1, "2026-04-01"), "amended", remarks="y"), "2026-000001", 2, "amended")
        append(unit, later(visit(3, "2025-06-02"), "voided"), "2025-000002", 2, "voided")
        unit.commit()
    return book


def test_a_year_goes_and_the_chain_stays(years: SqlBook) -> None:
    """Revisions and all that is derived from them go, stubs stay, other years are untouched, and the book verifies."""
    before, sealed = dump(years), verify(years)
    event = remove(years, 2025)
    after = dump(years)
    kept = [row for row in before["revision"] if row[3] == 2026]
    assert after["revision"][:-1] == kept
    numbers = {row[0] for row in kept}
    applications = [row for row in before["application"] if row[1] in numbers]
    assert after["application"] == applications
    for table in ("application_target", "application_active", "application_zone"):
        owners = {row[0] for row in applications}
        assert after[table] == [row for row in before[table] if row[0] in owners]
    used = {row[-1] for row in applications}
    assert after["use_group"] == [row for row in before["use_group"] if row[0] in used]
    assert len(after["use_group"]) < len(before["use_group"])
    gone = [row for row in before["revision"] if row[3] == 2025]
    assert after["removed_revision"] == [(row[0], row[1], row[2], row[11], event.serial) for row in gone]
    report = verify(years)
    assert (report.problems, report.revisions, report.removed) == ([], sealed.revisions - 4 + 1, 2)
    assert report.last_seal == event.seal
    if years.server is None:
        assert b"the fig tree knows" not in years.path.read_bytes()


def test_what_is_left_can_be_read(years: SqlBook) -> None:
    """Stubs are listed in the order of sealing; a stranger can compute the digest that the event seals."""
    event = remove(years, 2025)
    with years.read() as unit:
        removed = unit.records.removed()
        assert unit.records.years() == [2026]
        assert unit.records.revisions("2025-000001") == []
        assert unit.records.by_ref("visit-2") is None
        assert [one.serial for one in unit.records.search(Criteria())] == ["2026-000002", "2026-000001"]
        assert unit.records.stubs_of(2025) is None
        assert [one.serial for one in unit.records.events("removal")] == ["E-000001"]
    assert removed[0] == RemovedRow(2, "2025-000001", 1, event.body["data"]["first_seal"], "E-000001")
    assert [(row.order, row.serial, row.revision) for row in removed] == [
        (2, "2025-000001", 1),
        (3, "2025-000002", 1),
        (5, "2025-000001", 2),
        (7, "2025-000002", 2),
    ]
    lines = "".join(f"{row.order} {row.serial} {row.revision} {row.seal}\n" for row in removed)
    assert event.body["data"] == {
        "year": 2025,
        "count": 4,
        "first_seal": removed[0].seal,
        "last_seal": removed[-1].seal,
        "digest": hashlib.sha256(lines.encode()).hexdigest(),
        "why": ["kept long enough"],
    }


def test_numbers_are_never_given_again(years: SqlBook) -> None:
    """What is sealed into a removed year later goes on counting, and can be removed in its turn."""
    remove(years, 2025)
    (made,) = fill(years, visit(2, "2025-06-01"))
    assert made.serial == "2025-000003"
    assert verify(years).problems == []
    assert remove(years, 2025).serial == "E-000002"
    remove(years, 2026)
    report = verify(years)
    assert (report.problems, report.revisions, report.removed) == ([], 3, 5)
    assert not any(dump(years)[table] for table in DERIVED)
    with years.write() as unit:
        assert [unit.records.next_number(year) for year in (2024, 2025, 2026)] == [1, 4, 3]
        append(unit, visit(1, "2026-04-01"))
        assert unit.records.next_number(2026) == 4
        assert len(unit.records.history("lark-lane-7", None)) == 3
        unit.commit()
    assert verify(years).problems == []


def test_one_transaction_can_remove_and_go_on(years: SqlBook) -> None:
    """Numbers and groups remembered during a transaction are those of the book after the removal."""
    with years.write() as unit:
        append(unit, visit(8, "2025-07-01"))
        stubs = unit.records.stubs_of(2025)
        assert stubs is not None
        event = append_event(unit, "removal", stubs.data(2025), NOW, day=NOW.date(), timezone=ZONE)
        unit.records.remove_year(2025, event)
        assert append(unit, visit(9, "2025-07-01")).serial == "2025-000004"
        unit.commit()
    assert verify(years).problems == []


def test_protections_are_back(years: SqlBook) -> None:
    """After a removal every table refuses change as before, with the same triggers; the book opens."""
    remove(years, 2025)
    with years.write() as unit:
        assert unit.link is not None
        assert unprotected(unit.link) == []
        for table in (*DERIVED, "revision", "removed_revision"):
            unit.link.change("SAVEPOINT before")
            with pytest.raises(StorageError, match="append-only"):
                unit.link.change(f"DELETE FROM {table}")  # noqa: S608 - a table of ours
            unit.link.change("ROLLBACK TO SAVEPOINT before")


@pytest.mark.parametrize(
    "changes",
    [{"year": 2026}, {"count": 3}, {"first_seal": ""}, {"last_seal": "0" * 64}, {"digest": "0" * 64}, {"year": "2025"}],
    ids=str,
)
def test_an_event_that_says_something_else_removes_nothing(years: SqlBook, changes: dict[str, Any]) -> None:
    """The sealed event has to say exactly what the book holds of the year; else nothing happens."""
    before = dump(years)
    with years.write() as unit:
        stubs = unit.records.stubs_of(2025)
        assert stubs is not None
        event = append_event(unit, "removal", stubs.data(2025) | changes, NOW, day=NOW.date(), timezone=ZONE)
        with pytest.raises(StorageError, match="does not say what the book holds of 2025"):
            unit.records.remove_year(2025, event)
        unit.commit()
    assert {name: rows[: len(before[name])] for name, rows in dump(years).items()} == before
    assert any("E-000001" in problem for problem in verify(years).problems)


def test_only_the_removal_just_sealed_counts(years: SqlBook) -> None:
    """Another event, an older one, an empty year and the year of the events themselves are refused."""
    with years.write() as unit:
        stubs = unit.records.stubs_of(2025)
        assert stubs is not None
        for event in ("removal", "contact"):
            made = append_event(unit, event, stubs.data(2025), NOW, day=NOW.date(), timezone=ZONE)
            if event == "contact":
                with pytest.raises(StorageError, match="does not say"):
                    unit.records.remove_year(2025, made)
            append(unit, visit(f"{event}", "2026-08-01"))  # type: ignore[arg-type]  # any reference
            with pytest.raises(StorageError, match="not the last seal"):
                unit.records.remove_year(2025, made)
        assert unit.records.stubs_of(0) is unit.records.stubs_of(2024) is None
        last = append_event(unit, "removal", {"year": 0}, NOW, day=NOW.date(), timezone=ZONE)
        for year in (0, 2024):
            with pytest.raises(StorageError, match="does not say"):
                unit.records.remove_year(year, last)


def test_a_removal_that_fails_leaves_everything(years: SqlBook, monkeypatch: pytest.MonkeyPatch) -> None:
    """When a step fails, rows and protections are as before, even if the transaction is then kept."""
    before = dump(years)
    monkeypatch.setattr(removal, "_CLEAR_GROUPS", Prepared(removal._CLEAR_GROUPS._build))
    for text in ("text", "server_text"):
        removal._CLEAR_GROUPS.__dict__[text] = "DELETE FROM no_such_table"
    with years.write() as unit:
        stubs = unit.records.stubs_of(2025)
        assert stubs is not None
        event = append_event(unit, "removal", stubs.data(2025), NOW, day=NOW.date(), timezone=ZONE)
        with pytest.raises(StorageError, match="no_such_table"):
            unit.records.remove_year(2025, event)
        unit.commit()
    after = dump(years)
    assert after.pop("revision")[:-1] == before.pop("revision")
    assert after == before
    years.read().__enter__()


@pytest.mark.parametrize(
    ("statement", "words"),
    [
        ("UPDATE removed_revision SET seal = replace(seal, substr(seal, 1, 1), 'x') WHERE id = 3", "E-000001"),
        ("UPDATE removed_revision SET seal = replace(seal, substr(seal, 1, 1), 'x') WHERE id = 3", "does not follow"),
        ("UPDATE removed_revision SET seal = replace(seal, substr(seal, 1, 1), 'x') WHERE id = 2", "E-000001"),
        ("UPDATE removed_revision SET serial = '2025-000007' WHERE id = 3", "2025-000007 revision 1 (removed)"),
        ("UPDATE removed_revision SET serial = 'x' WHERE id = 3", "x revision 1 (removed): its serial is not"),
        ("UPDATE removed_revision SET revision = 3 WHERE id = 5", "E-000001"),
        ("UPDATE removed_revision SET event_serial = 'E-000009' WHERE id = 2", "no sealed removal E-000009"),
        ("UPDATE removed_revision SET event_serial = 'E-000009'", "4 revisions"),
        ("DELETE FROM removed_revision WHERE id = 2", "2025-000002 revision 1 (removed): 1 revision sealed before"),
        ("DELETE FROM removed_revision WHERE id = 7", "E-000001 revision 1: 1 revision sealed before it is gone"),
        ("DELETE FROM removed_revision", "E-000001 revision 1: what is left of the 0 revisions"),
        ("INSERT INTO removed_revision SELECT 99, '2025-000003', 1, seal, event_serial FROM removed_revision LIMIT 1",
         "2025-000003 revision 1 (removed)"),
        ("INSERT INTO removed_revision SELECT 4, '2025-000003', 1, seal, event_serial FROM removed_revision LIMIT 1",
         "its place in the order of sealing is taken"),
        ("DELETE FROM revision WHERE id = 8", "no sealed removal E-000001"),
        ("UPDATE revision SET body = '[]' WHERE id = 8", "what is left of the 4 revisions"),
        ("UPDATE revision SET origin = 'contact' WHERE id = 8", "column origin"),
    ],
)  # fmt: skip
def test_what_was_done_to_stubs_is_named(years: SqlBook, statement: str, words: str) -> None:
    """A changed, missing or added stub, and a missing removal, are reported with what they belong to."""
    remove(years, 2025)
    tamper(years, statement)
    problems = verify(years).problems
    assert any(words in problem for problem in problems), problems


def test_a_record_cannot_be_made_to_look_removed(years: SqlBook) -> None:
    """Someone who deletes a record and writes a stub in its place lacks the sealed removal."""
    remove(years, 2025)
    of_it = "application_id IN (SELECT id FROM application WHERE revision_id = 4)"
    tamper(
        years,
        "INSERT INTO removed_revision SELECT id, serial, revision, seal, 'E-000001' FROM revision WHERE id = 4",
        f"DELETE FROM application_target WHERE {of_it}",  # noqa: S608 - fixed text
        f"DELETE FROM application_active WHERE {of_it}",  # noqa: S608
        f"DELETE FROM application_zone WHERE {of_it}",  # noqa: S608
        "DELETE FROM application WHERE revision_id = 4",
        "DELETE FROM revision WHERE id = 4",
    )
    assert verify(years).problems == [
        "E-000001 revision 1: what is left of the 5 revisions removed with it was changed, added to or taken from"
    ]


def test_a_group_that_another_year_uses_stays(book: SqlBook) -> None:
    """An amendment that moved a visit over the turn of the year shares its month with the records of that year."""
    fill(book, visit(1, "2025-12-31"), visit(2, "2026-01-01"))
    with book.write() as unit:
        append(unit, later(visit(1, "2026-01-01"), "amended"), "2025-000001", 2, "amended")
        unit.commit()
    remove(book, 2025)
    assert verify(book).problems == []
    assert {row[1] for row in dump(book)["use_group"]} == {"2026-01"}
    with book.read() as unit:
        assert unit.records.summary(2026).records == 1
        assert sum(row.applications for row in unit.records.summary(2026).uses) == 3


steps = st.lists(st.sampled_from(["a2024", "a2025", "a2026", "v", "e", "r2024", "r2025"]), max_size=14)


@settings(max_examples=25, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(steps)
def test_any_sequence_verifies(empty_book: Path, tmp_path: Path, done: list[str]) -> None:
    """Whatever is sealed, voided, noted and removed in whatever order, the book is whole and no number comes twice."""
    path = tmp_path / "book.db"
    path.write_bytes(empty_book.read_bytes())
    book = SqlBook(path)
    given_out: list[str] = []
    standing: dict[str, Any] = {}
    for count, step in enumerate(done):
        year = int(step[1:] or 0)
        if step[0] == "a":
            body = visit(count, f"{year}-05-01", treatments=[spot_treatment()])
            (made,) = fill(book, body)
            given_out.append(made.serial)
            standing[made.serial] = body
        elif step == "e":
            with book.write() as unit:
                append_event(unit, "contact", {}, NOW, day=NOW.date(), timezone=ZONE)
                unit.commit()
        elif step == "v" and standing:
            serial, body = standing.popitem()
            with book.write() as unit:
                append(unit, later(body, "voided"), serial, 2, "voided")
                unit.commit()
        elif step[0] == "r":
            with book.read() as unit:
                held = unit.records.stubs_of(year)
            if held is not None:
                remove(book, year)
                standing = {serial: body for serial, body in standing.items() if not serial.startswith(str(year))}
    assert verify(book).problems == []
    assert len(set(given_out)) == len(given_out)
    with book.read() as unit:
        assert standing.keys() <= {one.serial for one in unit.records.search(Criteria())}
