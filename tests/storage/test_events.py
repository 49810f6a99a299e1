"""Events: sealed in the chain, numbered on their own, and unseen by all that looks at records."""

from __future__ import annotations

from datetime import date
from typing import TYPE_CHECKING, Any

import pytest

from records.errors import InputError, StorageError
from records.services.events import EVENTS, append_event
from records.services.ports import Criteria, Packet
from records.services.sealing import digest, seal
from records.storage.integrity import verify
from tests.bodies import MO, visit_body
from tests.storage.chain import AT, NOW, ZONE, append, fill, tamper, visit

if TYPE_CHECKING:
    from records.services.ports import StoredRevision, UnitOfWork
    from records.storage.unit_of_work import SqlBook

DAY = date(2026, 5, 14)
SITE = visit_body()["site"]


def happen(unit: UnitOfWork, event: str, day: date = DAY, site: dict[str, Any] | None = None) -> StoredRevision:
    return append_event(
        unit,
        event,
        {"serial": "2026-000001"},
        NOW,
        day=day,
        timezone=ZONE,
        site=site,
        person=MO,
        business={"name": "x"},
    )


@pytest.fixture
def mixed(book: SqlBook) -> SqlBook:
    """Return a book of two visits with events before, between and after them."""
    with book.write() as unit:
        happen(unit, "contact")
        append(unit, visit(1))
        happen(unit, "delivery", site=SITE)
        append(unit, visit(2, "2025-06-01"))
        happen(unit, "production", date(2026, 5, 20), SITE)
        unit.commit()
    return book


def test_events_stand_in_the_chain(mixed: SqlBook) -> None:
    """Events have numbers of their own and follow the seal before them like records; the whole chain verifies."""
    with mixed.read() as unit:
        walked = list(unit.records.walk())
        assert unit.records.next_event() == 4
        assert unit.records.next_number(2026) == 2
        assert unit.records.revisions("E-000002") == [walked[2]]
    assert [one.serial for one in walked] == ["E-000001", "2026-000001", "E-000002", "2025-000001", "E-000003"]
    assert [one.previous for one in walked] == ["", *(one.seal for one in walked[:-1])]
    body = walked[2].body
    assert (walked[2].seal, walked[2].sealed_at) == (seal(walked[1].seal, "E-000002", 1, AT, body), AT)
    assert (body["data"], body["document_digest"]) == ({"serial": "2026-000001"}, digest({"serial": "2026-000001"}))
    assert (body["site"], body["applicator"], body["business"]) == (SITE, MO, {"name": "x"})
    assert (body["kind"], body["origin"], body["entered_at"]) == ("event", {"kind": "delivery"}, AT)
    assert set(visit_body()) <= set(body)
    report = verify(mixed)
    assert (report.problems, report.revisions, report.removed) == ([], 5, 0)


def test_what_looks_at_records_sees_no_events(mixed: SqlBook) -> None:
    """Finding, summing up, the past of a site, a person's day, the years: none knows of events."""
    with mixed.read() as unit:
        records = unit.records
        serials = ["2026-000001", "2025-000001"]
        assert [one.serial for one in records.search(Criteria())] == serials
        assert [one.serial for one in records.search(Criteria(site="lark-lane-7", person="mo"))] == serials
        assert records.years() == [2025, 2026]
        assert records.on_site("lark-lane-7", DAY) == [("2026-000001", "Mo Tarn")]
        last = records.last_visit("mo", DAY)
        assert last is not None
        assert last.serial == "2026-000001"
        assert {use.serial for use in records.history("lark-lane-7", None)} == set(serials)
        for packet in (Packet(), Packet(sites=frozenset({"lark-lane-7"})), Packet(person="mo")):
            assert [one.serial for one in records.matching(packet)] == serials[::-1]
        assert records.matching(Packet(serials=frozenset({"E-000001"}))) == []
        assert (records.summary(2026).records, records.summary(2026).voided) == (1, 0)
        assert not any(records.summary(0)[:-1])


def test_events_by_kind_day_and_site(mixed: SqlBook) -> None:
    """Events are listed by day, then order; kind, days and site narrow them down, together too."""
    with mixed.write() as unit:
        happen(unit, "contact", date(2026, 5, 1), SITE)
        unit.commit()

    def listed(kind: str | None = None, **parts: Any) -> list[str]:  # noqa: ANN401 - any filter
        with mixed.read() as unit:
            return [event.serial for event in unit.records.events(kind, **parts)]

    assert listed() == ["E-000004", "E-000001", "E-000002", "E-000003"]
    assert listed("contact") == ["E-000004", "E-000001"]
    assert listed("contact", site="lark-lane-7") == ["E-000004"]
    assert listed(site="lark-lane-7", since=DAY) == ["E-000002", "E-000003"]
    assert listed(since=DAY, until=DAY) == ["E-000001", "E-000002"]
    assert listed("report") == listed("x' OR 1=1 --") == listed(site="%") == listed("visit") == []


def test_listing_events_goes_by_their_own_index(file_book: SqlBook) -> None:
    """Among a million visits, events are found through an index that holds nothing else."""
    with file_book.read() as unit:
        assert unit.link is not None
        plan = unit.link.raw.execute(
            "EXPLAIN QUERY PLAN SELECT id FROM revision WHERE kind = 'event' AND origin = ? ORDER BY local_date", ("x",)
        ).fetchall()
    assert any("ix_revision_event" in row[3] for row in plan)


def test_what_is_no_event_is_not_sealed(book: SqlBook) -> None:
    """An unknown kind, data that cannot be sealed, and an event under a record's number are refused."""
    with book.write() as unit:
        with pytest.raises(ValueError, match="no event is called"):
            happen(unit, "party")
        with pytest.raises(InputError, match="fraction"):
            append_event(unit, "contact", {"x": 0.5}, NOW, day=DAY, timezone=ZONE)
        assert [happen(unit, event).serial for event in EVENTS] == [f"E-{n:06d}" for n in range(1, len(EVENTS) + 1)]
    event = visit(1) | {"kind": "event", "origin": {"kind": "contact"}}
    with book.write() as unit, pytest.raises(StorageError, match="kind_year"):
        append(unit, event)
    with book.write() as unit, pytest.raises(StorageError, match="kind_year"):
        append(unit, visit(1), "E-000001")
    assert verify(book).revisions == 0


@pytest.mark.parametrize(
    ("statement", "words"),
    [
        ("UPDATE revision SET body = replace(body, '2026-000001', '2026-000002') WHERE id = 3", "E-000002 revision 1"),
        ("UPDATE revision SET origin = 'contact' WHERE id = 3", "column origin"),
        ("DELETE FROM revision WHERE id = 5", ""),
        ("DELETE FROM revision WHERE id = 1", "the numbers of events have a gap"),
        ("DELETE FROM revision WHERE id = 3", "1 revision sealed before it is gone"),
    ],
)
def test_changed_events_are_named(mixed: SqlBook, statement: str, words: str) -> None:
    """Events are proved like records; only the very last can go unseen, which the last seal shows."""
    before = verify(mixed).last_seal
    tamper(mixed, statement)
    report = verify(mixed)
    assert any(words in problem for problem in report.problems) if words else report.last_seal != before


def test_bodies_in_the_order_asked_for(book: SqlBook) -> None:
    """Bodies come in any order asked for, all revisions record by record; what is not there is left out."""
    fill(book, *(visit(number, treatments=[]) for number in range(450)))
    with book.write() as unit:
        append(unit, visit(7, treatments=[]) | {"change": {"action": "voided"}}, "2026-000008", 2, "voided")
        unit.commit()
    with book.read() as unit:
        orders = [451, 8, *range(440, 100, -1), 9999, 1]
        assert [one.order for one in unit.records.bodies(orders)] == [one for one in orders if one != 9999]
        assert list(unit.records.bodies([])) == []
        found = unit.records.all_revisions(["2026-000008", "no such", "2026-000001"])
        assert [(one.serial, one.revision) for one in found] == [
            ("2026-000008", 1),
            ("2026-000008", 2),
            ("2026-000001", 1),
        ]
