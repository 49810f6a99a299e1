"""Loaded documents and refused visits."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta, timezone
from typing import TYPE_CHECKING, Any

import pytest

from records.errors import InputError, StorageError

if TYPE_CHECKING:
    from records.services.ports import UnitOfWork
    from records.storage.unit_of_work import SqlBook

NOW = datetime(2026, 5, 14, 14, 33, tzinfo=UTC)


def test_the_same_body_is_not_written_again(book: SqlBook) -> None:
    """The same document keeps its version; a changed one gets the next, and old versions stay."""
    with book.write() as unit:
        assert unit.catalogue.latest("site", "a") is None
        assert unit.catalogue.add("site", "a", {"x": "1", "y": [1]}, NOW) == 1
        assert unit.catalogue.add("site", "a", {"y": [1], "x": "1"}, NOW) == 1
        assert unit.catalogue.add("site", "a", {"x": "2"}, NOW + timedelta(days=1)) == 2
        assert unit.catalogue.add("site", "b", {"x": "3"}, NOW) == 1
        assert unit.catalogue.add("person", "a", {"x": "4"}, NOW) == 1
        unit.commit()
    with book.read() as unit:
        latest = unit.catalogue.latest("site", "a")
        assert latest is not None
        assert (latest.version, latest.body, latest.loaded_at) == (2, {"x": "2"}, NOW + timedelta(days=1))
        first = unit.catalogue.version("site", "a", 1)
        assert first is not None
        assert first.body == {"x": "1", "y": [1]}
        assert unit.catalogue.version("site", "a", 3) is None
        assert [(one.id, one.version) for one in unit.catalogue.every("site")] == [("a", 2), ("b", 1)]
        assert unit.catalogue.latest("site", "a") is latest


def test_instants_are_kept_in_utc(book: SqlBook) -> None:
    """An instant with another offset is the same instant; one without is refused."""
    local = datetime(2026, 5, 14, 9, 33, tzinfo=timezone(timedelta(hours=-5)))
    with book.write() as unit:
        unit.catalogue.add("mix", "m", {}, local)
        entry = unit.catalogue.latest("mix", "m")
        assert entry is not None
        assert entry.loaded_at == NOW
        assert entry.loaded_at.utcoffset() == timedelta(0)
        with pytest.raises(ValueError, match="offset"):
            unit.catalogue.add("mix", "m", {"x": 1}, local.replace(tzinfo=None))


def test_kinds_are_known(book: SqlBook) -> None:
    """A kind that does not exist is refused by the database."""
    with book.write() as unit, pytest.raises(StorageError, match="kind_word"):
        unit.catalogue.add("mower", "m", {}, NOW)


def hold(unit: UnitOfWork, kind: str = "held", number: str | None = None, **parts: Any) -> str:  # noqa: ANN401
    number = number or unit.held.next_number()
    given = {"document": {"area": "x"}, "findings": [{"code": "missing"}], "ref": "r-1", "person": "mo"} | parts
    at = given.pop("at", NOW)
    unit.held.add(number, kind, at, **given)
    return number


def test_a_held_visit_from_refusal_to_seal(book: SqlBook) -> None:
    """The last event says how it stands; the first says since when."""
    with book.write() as unit:
        number = hold(unit)
        assert number == "H-000001"
        assert hold(unit, ref="r-2") == "H-000002"
        hold(unit, "corrected", number, at=NOW + timedelta(hours=1), document={"area": "y"}, findings=[])
        unit.commit()
    with book.read() as unit:
        entry = unit.held.get(number)
        assert entry is not None
        assert (entry.state, entry.document, entry.findings) == ("held", {"area": "y"}, [])
        assert (entry.at, entry.changed_at) == (NOW, NOW + timedelta(hours=1))
        assert unit.held.by_ref("r-1") == entry
        assert [one.number for one in unit.held.open()] == ["H-000001", "H-000002"]
        assert unit.held.next_number() == "H-000003"
        assert unit.held.get("H-000009") is None
    with book.write() as unit:
        hold(unit, "sealed", number, serial="2026-000001")
        hold(unit, "dropped", "H-000002", reason="entered twice")
        assert unit.held.by_ref("r-1") is None
        assert unit.held.open() == []
        sealed, dropped = unit.held.get(number), unit.held.get("H-000002")
        assert sealed is not None
        assert dropped is not None
        assert (sealed.state, sealed.serial) == ("sealed", "2026-000001")
        assert (dropped.state, dropped.reason) == ("dropped", "entered twice")


def test_what_was_refused_is_kept_as_typed(book: SqlBook) -> None:
    """Fractions, lone surrogates and huge numbers, none of which can be sealed, can be held."""
    document = {"b": 0.5, "a": "\ud800", "n": 10**30, "deep": [[["x"]]]}
    with book.write() as unit:
        number = hold(unit, document=document, ref=None, person=None)
        entry = unit.held.get(number)
        assert entry is not None
        assert entry.document == document
        assert list(entry.document) == ["b", "a", "n", "deep"]


def test_a_reference_that_is_no_text_is_one_line(book: SqlBook) -> None:
    """A lone surrogate in a column of its own is refused with one line, not a traceback."""
    with book.write() as unit, pytest.raises(InputError, match="lone surrogate"):
        hold(unit, ref="\ud800")


def test_numbers_go_on_past_a_million(book: SqlBook) -> None:
    """H-1000000 follows H-999999 although it sorts before it."""
    with book.write() as unit:
        hold(unit, number="H-999999")
        assert hold(unit) == "H-1000000"
        assert unit.held.next_number() == "H-1000001"
