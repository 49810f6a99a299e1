"""The shop log: sealed entries, withdrawn by sealed events, and listed."""

from __future__ import annotations

from datetime import date
from typing import TYPE_CHECKING

import pytest

from records.errors import NotFoundError, UsageError
from records.services.events import LOGGED, append_event
from records.services.finding import normal_serial
from records.services.logbook import entries, log, withdraw
from records.storage.integrity import verify
from tests.cli.conftest import AFTER

if TYPE_CHECKING:
    from pathlib import Path

    from tests.cli.conftest import Swathbook
    from tests.kit import Kit

DATA = {"product": "brindle-4l", "words": "2 x 2.5 gal brindle-4l"}


def logged(kit: Kit, kind: str = "purchase", at: str | None = None, by: str | None = None) -> str:
    """Log an entry and return its serial."""
    with kit.book.write() as work:
        event = log(work, kind, dict(DATA), kit.clock.now(), at=at, by=by)
        work.commit()
    return event.serial


def test_an_entry_keeps_when_it_happened_and_who_did_it(kit: Kit) -> None:
    """What is logged later keeps its own day; the moment of entry is the seal's."""
    kit.set("2026-05-14T18:00")
    logged(kit, at="2026-05-12T07:30", by="ruth")
    with kit.book.read() as work:
        (one,) = entries(work, "purchase")
    assert (str(one.day), one.person, one.kind) == ("2026-05-12", "ruth", "purchase")
    assert one.data["at"] == "2026-05-12T07:30-05:00"
    assert one.sealed_at.startswith("2026-05-14T23:00")
    assert not verify(kit.book).problems


def test_days_and_kinds_choose_entries(kit: Kit) -> None:
    """Entries come by day, whatever the order in which they were logged."""
    kit.set("2026-05-14T18:00")
    second = logged(kit, "disposal", at="2026-05-13T07:30")
    first = logged(kit, "purchase", at="2026-05-12T07:30")
    with kit.book.read() as work:
        assert [one.serial for one in entries(work)] == [first, second]
        assert [one.serial for one in entries(work, "purchase", "count")] == [first]
        day = entries(work)[0].day
        assert [one.serial for one in entries(work, until=day)] == [first]
        assert [one.kind for one in entries(work, since=day)] == ["purchase", "disposal"]


def test_a_withdrawn_entry_counts_nowhere_and_stays_readable(kit: Kit) -> None:
    """The withdrawal is a sealed event of its own; it happens once, with a reason."""
    kit.set("2026-05-14T18:00")
    serial = logged(kit)
    withdraw(kit.book, kit.clock, "e-1", "typed twice", "ruth")
    with kit.book.read() as work:
        assert entries(work) == []
        (one,) = entries(work, withdrawn=True)
    assert one.withdrawn is not None
    assert (one.serial, one.withdrawn.reason, one.withdrawn.serial) == (serial, "typed twice", "E-000002")
    assert one.withdrawn.by
    assert not verify(kit.book).problems
    with pytest.raises(UsageError, match="withdrawn before, by E-000002"):
        withdraw(kit.book, kit.clock, serial, "again")


def test_what_cannot_be_withdrawn_says_why(kit: Kit) -> None:
    """No reason, no such entry, a record, another kind of event, an unknown person."""
    kit.set("2026-05-14T18:00")
    serial = logged(kit)
    record = kit.sealed().serial
    for reason in (None, "", "  "):
        with pytest.raises(UsageError, match="--reason"):
            withdraw(kit.book, kit.clock, serial, reason)
    with pytest.raises(NotFoundError, match="no entry"):
        withdraw(kit.book, kit.clock, "E-99", "x")
    with pytest.raises(UsageError, match=f"{record} is the record of a visit, no entry of the shop log") as caught:
        withdraw(kit.book, kit.clock, str(record), "x")
    assert caught.value.hint == (
        f"swathbook void {record} --reason WORDS takes it out; swathbook amend {record} corrects it"
    )
    with pytest.raises(NotFoundError, match="no person"):
        withdraw(kit.book, kit.clock, serial, "x", "nobody")
    withdraw(kit.book, kit.clock, serial, "x")
    with pytest.raises(UsageError, match="withdrawal"):
        withdraw(kit.book, kit.clock, "E-000002", "x")
    with kit.book.write() as work:
        handed = append_event(work, "delivery", {}, kit.clock.now(), day=date(2026, 5, 14), timezone="America/Chicago")
        work.commit()
    with pytest.raises(UsageError, match=f"{handed.serial} is a delivery, no entry of the shop log") as caught:
        withdraw(kit.book, kit.clock, handed.serial, "x")
    assert "logged anew" in caught.value.hint


def test_nothing_is_logged_in_the_future_or_without_a_firm(kit: Kit) -> None:
    """A moment that has not come is a slip of the hand."""
    kit.set("2026-05-14T18:00")
    with pytest.raises(UsageError, match="future"):
        logged(kit, at="2026-05-15T07:30")


@pytest.mark.parametrize(
    ("typed", "serial"), [("E-12", "E-000012"), (" e-000012 ", "E-000012"), ("2026-1", "2026-000001")]
)
def test_serials_of_events_are_taken_short(typed: str, serial: str) -> None:
    """As those of records are."""
    assert normal_serial(typed) == serial


def test_the_log_on_the_screen(firm: Path, swathbook: Swathbook) -> None:
    """Listed by day with what they say; withdrawn ones only where they are asked for."""
    assert swathbook("--book", firm, "log").out == "nothing is logged\n"
    from records.bootstrap import assemble  # noqa: PLC0415 - as the command line does

    book = assemble(str(firm)).book()
    with book.write() as work:
        for kind in LOGGED:
            log(work, kind, {**DATA, "words": f"<b>{kind}</b>"}, AFTER, by="mo")
        work.commit()
    seen = swathbook("--book", firm, "log", "--kind", "purchase")
    assert "<b>purchase</b>" in seen.out
    done = swathbook("--book", firm, "withdraw", "E-2", "--reason", "typed twice", "--by", "mo", "--json")
    assert done.json["withdrawn"] == "E-000002"
    assert swathbook("--book", firm, "log", "--kind", "purchase").out == "nothing is logged\n"
    everything = swathbook("--book", firm, "log", "--all")
    assert "E-000002*" in everything.out
    assert "withdrawn" in everything.err
    told = swathbook("--book", firm, "log", "--all", "--json").json["entries"]
    assert [one["withdrawn"] is None for one in told].count(False) == 1
    assert swathbook("--book", firm, "withdraw", "E-1").code == 2
    assert "One of: calibration" in swathbook("--book", firm, "log", "--kind", "wash").err
    said = swathbook("--book", firm, "withdraw", "E-1", "--reason", "wrong can")
    assert (said.code, said.err.count("\n")) == (0, 1)
