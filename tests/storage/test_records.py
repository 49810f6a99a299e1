"""Sealed revisions: appended, read back, looked through."""

from __future__ import annotations

import json
from datetime import date
from fractions import Fraction
from typing import TYPE_CHECKING, Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from records.domain.quantities import Form, parse_amount
from records.errors import InputError, StorageError
from records.services.ports import Criteria, OpenBook, StoredRevision, UnitOfWork
from records.storage.mapping import measured, nano
from records.storage.types import NANO
from tests.bodies import application, spot_treatment, treatment
from tests.storage.chain import AT, append, fill, later, visit

if TYPE_CHECKING:
    from records.storage.unit_of_work import SqlBook


def found(book: SqlBook, **criteria: Any) -> list[str]:  # noqa: ANN401 - any criterion
    with book.read() as unit:
        return [revision.serial for revision in unit.records.search(Criteria(**criteria))]


def test_the_book_is_what_the_services_expect(book: SqlBook) -> None:
    """SqlBook fits the port."""
    opened: OpenBook = book
    with opened.read() as unit:
        assert unit.records.head() == ""
        assert unit.records.next_number(2026) == 1
        assert unit.records.years() == []


def test_a_revision_reads_back_as_sealed(book: SqlBook) -> None:
    """What was appended comes back with every part as it was, in a later transaction."""
    body = visit(1)
    (made,) = fill(book, body)
    with book.read() as unit:
        (back,) = unit.records.revisions("2026-000001")
        assert list(unit.records.walk()) == [back]
        assert unit.records.by_ref("visit-1") == ("2026-000001", body["document_digest"])
        assert unit.records.by_ref("visit-2") is None
        assert unit.records.head() == made.seal
        assert unit.records.revisions("2026-000002") == []
    assert back.order == 1
    assert back.body == body
    assert (back.serial, back.revision, back.action, back.sealed_at) == ("2026-000001", 1, "sealed", AT)
    assert (back.previous, back.seal) == ("", made.seal)


def append_twice(unit: UnitOfWork) -> None:
    append(unit, visit(1))
    append(unit, visit(1))


def test_nothing_stays_without_commit(book: SqlBook) -> None:
    """A unit of work that is left without commit leaves no trace."""
    with book.write() as unit:
        append(unit, visit(1))
    with pytest.raises(StorageError), book.write() as unit:
        append_twice(unit)
    with book.read() as unit:
        assert list(unit.records.walk()) == []


def test_serials_count_per_year_without_gaps(book: SqlBook) -> None:
    """Each year has its own numbers, one after the other, and the chain runs through all of them."""
    made = fill(book, visit(1), visit(2, "2025-06-01"), visit(3), visit(4, "2025-06-02"))
    assert [one.serial for one in made] == ["2026-000001", "2025-000001", "2026-000002", "2025-000002"]
    assert [one.previous for one in made] == ["", *(one.seal for one in made[:-1])]
    with book.read() as unit:
        assert unit.records.years() == [2025, 2026]
        assert unit.records.next_number(2025) == 3
        assert unit.records.next_number(2024) == 1


def test_what_does_not_follow_the_chain_is_refused(book: SqlBook) -> None:
    """A revision sealed over another head, or with an action that its body does not say, is not stored."""
    fill(book, visit(1))
    stray = StoredRevision(0, "2026-000002", 1, "sealed", AT, "", "f" * 64, visit(2))
    with book.write() as unit, pytest.raises(StorageError, match="does not follow"):
        unit.records.append(stray)
    with book.write() as unit, pytest.raises(InputError, match="what it changed"):
        append(unit, visit(1), "2026-000001", 2, "amended")
    with book.write() as unit, pytest.raises(StorageError, match="says otherwise"):
        append(unit, later(visit(1), "amended"), "2026-000001", 2, "voided")


def test_one_reference_belongs_to_one_record(book: SqlBook) -> None:
    """The database itself refuses a second record with the same reference."""
    fill(book, visit(1))
    with book.write() as unit, pytest.raises(StorageError, match="refused"):
        append(unit, visit(1))


def test_history_is_exact_and_by_zone(book: SqlBook) -> None:
    """Past uses carry amounts, areas and actives exactly, one for each zone, oldest first."""
    fill(book, visit(2, "2026-06-01", treatments=[spot_treatment()]), visit(1, "2026-05-14", treatments=[treatment()]))
    with book.read() as unit:
        uses = unit.records.history("lark-lane-7", None)
        assert unit.records.history("lark-lane-7", date(2026, 5, 15)) == uses[2:]
        assert unit.records.history("lark-lane-7", date(2026, 6, 1)) == uses[2:]
        assert unit.records.history("lark-lane-7", date(2026, 6, 2)) == []
        assert unit.records.history("elsewhere", None) == []
    assert [(use.serial, use.day, use.zone, use.product) for use in uses] == [
        ("2026-000002", date(2026, 5, 14), "front", "brindle-4l"),
        ("2026-000002", date(2026, 5, 14), "front", "spreadwell"),
        ("2026-000001", date(2026, 6, 1), "back", "sedgeline-75"),
    ]
    first, second, third = uses
    assert first.amount == parse_amount("4.62 fl oz", Form.LIQUID)
    assert (first.area, first.treated) == (Fraction(4200), Fraction(4200))
    assert first.actives == (("brindlac acid", "ae", Fraction("0.144375")),)
    assert (first.registration, first.method, first.treatment) == ("99999-41", "broadcast", 0)
    assert (second.registration, second.actives) == ("", ())
    assert third.treated == Fraction(300)


def test_history_of_several_zones_and_actives(book: SqlBook) -> None:
    """An application over two zones with two actives gives one use a zone, each with both actives."""
    zones: list[dict[str, Any]] = [
        {"id": name, "kind": "turf", "turf": [], "area": None, "treated": size}
        for name, size in (("a", "1000.5 sq ft"), ("b", None))
    ]
    actives = [{"name": "alpha", "as": "ae", "pounds": None}, {"name": "beta", "as": "ai", "pounds": "0.000000001"}]
    line = application(actives=actives, amount=None, area=None)
    fill(book, visit(1, treatments=[treatment(zones=zones, applications=[line])]))
    with book.read() as unit:
        uses = unit.records.history("lark-lane-7", None)
    assert [(use.zone, use.treated) for use in uses] == [("a", Fraction("1000.5")), ("b", None)]
    assert all(use.actives == (("alpha", "ae", None), ("beta", "ai", Fraction(1, NANO))) for use in uses)
    assert all(use.amount is None and use.area is None for use in uses)


def amended(book: SqlBook, body: dict[str, Any], action: str = "amended") -> None:
    with book.write() as unit:
        append(unit, later(body, action), "2026-000001", 2, action)
        unit.commit()


def test_an_amendment_takes_the_place_of_the_first_text(book: SqlBook) -> None:
    """Only the latest revision counts for history, search and rates; the first stays readable."""
    fill(book, visit(1, treatments=[treatment()]))
    amended(book, visit(1, treatments=[spot_treatment()]))
    with book.read() as unit:
        assert [use.product for use in unit.records.history("lark-lane-7", None)] == ["sedgeline-75"]
        assert [one.action for one in unit.records.revisions("2026-000001")] == ["sealed", "amended"]
        assert unit.records.recent_rates("brindle-4l", "broadcast", 10) == []
        assert unit.records.next_number(2026) == 2
    assert found(book, product="brindle-4l") == []
    assert found(book, product="sedgeline-75") == ["2026-000001"]


def test_a_voided_record_counts_nowhere_but_is_found(book: SqlBook) -> None:
    """A voided record is out of history and rates, and `find` still shows it."""
    fill(book, visit(1, treatments=[treatment()]))
    amended(book, visit(1, treatments=[treatment()]), "voided")
    with book.read() as unit:
        assert unit.records.history("lark-lane-7", None) == []
        assert unit.records.recent_rates("brindle-4l", "broadcast", 10) == []
        assert unit.records.on_site("lark-lane-7", date(2026, 5, 14)) == []
        assert unit.records.last_visit("mo", date(2026, 5, 14)) is None
        (latest,) = unit.records.search(Criteria(product="brindle-4l"))
    assert latest.action == "voided"


def test_recent_rates_are_exact_and_oldest_first(book: SqlBook) -> None:
    """The last rates of a product and method, per sq ft in the base unit of its kind."""
    lines = [application(amount=amount) for amount in ("1 fl oz", "0.5 pt", "3 oz", "2 fl oz")]
    lines.append(application(amount=None))
    fill(book, *(visit(n, treatments=[treatment(applications=[line])]) for n, line in enumerate(lines)))
    with book.read() as unit:
        rates = unit.records.recent_rates("brindle-4l", "broadcast", 10)
        assert rates == [Fraction(1, 4200), Fraction(8, 4200), Fraction(2, 4200)]
        assert unit.records.recent_rates("brindle-4l", "broadcast", 1) == rates[-1:]
        assert unit.records.recent_rates("brindle-4l", "spot", 10) == []


def test_the_last_visit_of_a_day(book: SqlBook) -> None:
    """The visit that finished last is the last visit, whatever the order of sealing."""
    late = visit(1) | {"finished": {"local": "2026-05-14T15:00-05:00", "utc": "2026-05-14T20:00:00Z"}}
    fill(book, late, visit(2), visit(3, "2026-05-15"))
    with book.read() as unit:
        last = unit.records.last_visit("mo", date(2026, 5, 14))
        assert last is not None
        assert last.serial == "2026-000001"
        assert unit.records.last_visit("ada", date(2026, 5, 14)) is None
        assert unit.records.on_site("lark-lane-7", date(2026, 5, 14)) == [
            ("2026-000001", "Mo Tarn"),
            ("2026-000002", "Mo Tarn"),
        ]


@pytest.mark.parametrize(
    ("criteria", "matches"),
    [
        ({}, True),
        ({"site": "lark-lane-7"}, True),
        ({"site": "LARK"}, True),
        ({"site": "lark_lane"}, False),
        ({"site": "%"}, False),
        ({"customer": "harrow"}, True),
        ({"customer": "ines"}, True),
        ({"person": "mo"}, True),
        ({"person": "TARN"}, True),
        ({"person": "ada"}, False),
        ({"product": "99999-63"}, True),
        ({"product": "sedgeline"}, True),
        ({"product": "99999"}, False),
        ({"active": "carve"}, True),
        ({"active": "nothing"}, False),
        ({"target": "nutsedge"}, True),
        ({"target": "nutsedge", "product": "brindle-4l"}, False),
        ({"since": date(2026, 5, 14), "until": date(2026, 5, 14)}, True),
        ({"since": date(2026, 5, 15)}, False),
        ({"until": date(2026, 5, 13)}, False),
        ({"deviation": False, "incomplete": False}, True),
        ({"deviation": True}, False),
        ({"incomplete": True}, False),
        ({"limit": 0}, False),
    ],
    ids=str,
)
def test_search(book: SqlBook, criteria: dict[str, Any], matches: bool) -> None:  # noqa: FBT001
    """Every given criterion has to match; letter case and wildcards of the database do not matter."""
    fill(book, visit(1))
    assert found(book, **criteria) == (["2026-000001"] if matches else [])


def test_search_knows_letters_beyond_ascii(book: SqlBook) -> None:
    """Case is ignored in every script, which SQLite alone does for ASCII only."""
    fill(book, visit(1, customer={"id": "z", "name": "Żaneta Ødegård", "version": 1}))
    assert found(book, customer="ŻANETA øDEGÅRD") == ["2026-000001"]


def test_search_shows_the_newest_first(book: SqlBook) -> None:
    """Newest application first; a month without days stands after its days."""
    usage = visit(4, "2026-05-31") | {"kind": "usage", "date": None, "started": None, "finished": None, "site": None}
    fill(book, visit(1, "2026-05-02"), visit(2, "2026-06-02"), visit(3, "2026-05-09"), usage)
    assert found(book) == [f"2026-{number:06d}" for number in (2, 4, 3, 1)]
    assert found(book, limit=2) == ["2026-000002", "2026-000004"]


def test_walk_does_not_hold_the_book_in_memory(book: SqlBook) -> None:
    """Walking yields all revisions in the order of sealing, over many pages."""
    fill(book, *(visit(number, treatments=[]) for number in range(450)))
    with book.read() as unit:
        assert [one.order for one in unit.records.walk()] == list(range(1, 451))


@given(st.decimals(0, 9_000_000_000, allow_nan=False, allow_infinity=False, places=9))
def test_amounts_are_kept_exactly(value: Any) -> None:  # noqa: ANN401 - a decimal
    """Every decimal of up to nine places is kept as whole billionths without loss."""
    text = format(value, "f")
    assert Fraction(nano(text), NANO) == Fraction(value)
    assert measured(f"{text} fl oz") == (nano(text), "fl oz")


@pytest.mark.parametrize(
    "number", ["", "-1", "1e3", "1.", "0.0000000001", "٣", "1,000", "9223372037", "one", "1 1/2", "+1", ".5"]
)
def test_what_is_no_plain_decimal_is_refused(number: str) -> None:
    """A body's amount that is not a plain decimal, or too large to be kept, is refused with one line."""
    with pytest.raises(InputError):
        nano(number)


def test_hostile_text_is_kept_as_it_is(book: SqlBook) -> None:
    """Markup, formulas, quotes and control characters are data; so is NUL, which a server's texts cannot hold."""
    nasty = "'; DROP TABLE revision; -- <b>\x00\x1b[31m =cmd|' \u202e \U0001f600"
    if book.server is not None:
        with pytest.raises(InputError, match="NUL"):
            fill(book, visit(1, site={"id": nasty, "address": nasty}))
        nasty = nasty.replace("\0", "")
    fill(book, visit(1, remarks=nasty + "\0", site={"id": nasty, "address": nasty}))
    with book.read() as unit:
        (one,) = unit.records.search(Criteria(site=nasty))
        assert one.body["remarks"] == nasty + "\0"
        assert len(unit.records.history(nasty, None)) == 3


def test_the_stored_text_is_the_sealed_text(book: SqlBook) -> None:
    """The body is stored as canonical JSON, byte for byte what was sealed."""
    (made,) = fill(book, visit(1))
    with book.read() as unit:
        (back,) = unit.records.revisions(made.serial)
    assert back.text == made.text
    assert json.loads(back.text) == made.body
