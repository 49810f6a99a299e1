"""Keeping and removing: nothing goes too early, and what went leaves a chain that can be verified."""

from __future__ import annotations

from datetime import date
from typing import TYPE_CHECKING

import pytest
from freezegun import freeze_time

from records.cli import prompts
from records.clock import SystemClock, instant_text
from records.domain.follow_up import Photo
from records.errors import NotFoundError, RetentionError, UsageError
from records.services.follow_up import Order, rate
from records.services.keeping import kept_of_record, kept_of_year, kept_years, removal_of, remove_year
from records.services.ports import StoredRevision
from records.services.readiness import ready
from records.services.sealing import sealed
from records.storage.integrity import verify
from tests.kit import BUSINESS, TORVANE, Kit

if TYPE_CHECKING:
    from tests.ready.conftest import Swathbook


def firm(kit: Kit, *packs: str) -> None:
    """Load the firm under packs, its first licence old enough for years back."""
    kit.set("2019-01-02T08:00")
    kit.load(business=BUSINESS | {"packs": list(packs)})


def two_years(kit: Kit) -> None:
    """Seal two visits of 2024, one of them on a leap day's eve and late, and one of 2026."""
    firm(kit, "us-mn", "us-mi")
    kit.load(people=[ruth()])
    kit.sealed("2024-02-29")
    kit.sealed("2024-12-31", now="2025-01-02T10:00")
    kit.sealed("2026-05-14")


def ruth() -> dict[str, object]:
    """Return Ruth with a licence of many years."""
    return {
        "id": "ruth",
        "name": "Ruth Sandahl",
        "licences": [
            {
                "number": "MN-C-5501",
                "state": "MN",
                "kind": "certified",
                "categories": ["turf and ornamentals"],
                "from": "2019-01-01",
                "to": "2036-12-31",
            }
        ],
    }


def test_record(kit: Kit, swathbook: Swathbook) -> None:
    """One record tells every reason with its rule."""
    two_years(kit)
    kept = kept_of_record(kit.book, kit.clock, "2024-1")
    assert (kept.serial, str(kept.last_day)) == ("2024-000001", "2029-03-01")  # February 29 and five years
    assert kept.terms[0].pack == "us-mn"
    ran = swathbook("keep", "2024-1")
    assert "keep until 2029-03-01" in ran.out
    assert "from memory, not checked" in " ".join(ran.out.split())
    assert swathbook("keep", "2024-1", "--json").json["why"][0]["pack"] == "us-mn"


def test_years(kit: Kit, swathbook: Swathbook) -> None:
    """The table by year has the earliest and the latest end."""
    two_years(kit)
    years, gone = kept_years(kit.book, kit.clock)
    assert not gone
    assert [(one.year, one.records, str(one.first_end)) for one in years] == [
        (2024, 2, "2029-03-01"),
        (2026, 1, "2031-05-14"),
    ]
    assert [str(one.may_go) for one in years] == ["2030-01-01", "2031-05-15"]
    assert "2029-12-31" in swathbook("keep").out
    assert swathbook("keep", "--json").json["years"][0]["may_be_removed_from"] == "2030-01-01"
    assert [record.serial for record in kept_of_year(kit.book, kit.clock, 2024)] == ["2024-000002", "2024-000001"]
    assert "2024-000002" in swathbook("keep", "2024").out


def test_classes_of_products(kit: Kit) -> None:
    """A restricted-use product is kept longer under Michigan's rule, and the federal one stands beside it."""
    kit.load(
        business=BUSINESS | {"packs": ["us-mi"], "state": "MI"},
        sites=[{
            "id": "mi-1", "customer": "aune", "address": "1 Shore", "city": "Lund", "county": "Bay", "state": "MI",
            "zip": "48000", "zones": [{"id": "front", "kind": "turf", "turf": ["tall fescue"], "area": "4000 sq ft"}],
        }],
        people=[ruth() | {"licences": [ruth()["licences"][0] | {"state": "MI"}]}],  # type: ignore[index]
        products=[TORVANE],
    )  # fmt: skip
    spray = {"site": "mi-1", "spray": "8 gal"}
    plain = kit.sealed(**spray)
    strong = kit.sealed("2026-05-15", product="torvane-r", rate="0.5 fl oz/1000 sq ft", **spray)
    found = {record.serial: record.terms for record in kept_of_year(kit.book, kit.clock, 2026)}
    assert [(term.pack, term.years) for term in found[str(plain.serial)]] == [("us-mi", 1)]
    assert [(term.pack, term.years) for term in found[str(strong.serial)]] == [("us-mi", 3), ("us-40cfr171", 2)]


def test_too_early(kit: Kit, swathbook: Swathbook) -> None:
    """On the last day of the last record nothing goes; the refusal names the record, the rule and the day."""
    two_years(kit)
    kit.set("2029-12-31T23:50")
    with pytest.raises(RetentionError, match=r"2024-000002.*us-mn: 5 years.*from 2030-01-01 on"):
        removal_of(kit.book, kit.clock, 2024)
    ran = swathbook("keep", "--remove", 2024, "--reason", "time is over", "--by", "ruth", "--yes")
    assert ran.code == RetentionError.exit_code
    assert "2030-01-01" in ran.err
    assert len(kept_of_year(kit.book, kit.clock, 2024)) == 2


def test_photos_of_a_removed_year_stay(kit: Kit, swathbook: Swathbook) -> None:
    """Ratings are events and stay, and their photos with them; that is said."""
    two_years(kit)
    kit.set("2024-03-28T17:00")
    photos = [Photo("lawn.jpg", "0" * 64, 5)]
    event = rate(kit.book, kit.clock, Order(of="2024-000001", marks=["80"], by="ruth", photos=photos)).ratings[0].serial
    kit.set("2030-01-02T08:00")
    ran = swathbook("keep", "--remove", 2024, "--reason", "over", "--by", "ruth", "--yes")
    assert ran.code == 0, ran.err
    assert "its ratings are events and stay; so stays 1 photo of them beside the book" in ran.out
    shown = swathbook("show", event)
    assert (shown.code, "the record is not in the book" in shown.out) == (0, True)
    assert "any more" not in shown.out


@freeze_time("2030-01-01T05:59:59Z")
def test_midnight_of_the_zone_not_yet(kit: Kit) -> None:
    """In UTC it is January 1, in Chicago still December 31: refused."""
    two_years(kit)
    with pytest.raises(RetentionError):
        removal_of(kit.book, SystemClock(), 2024)


@freeze_time("2030-01-01T06:00:00Z")
def test_midnight_of_the_zone(kit: Kit) -> None:
    """At midnight in Chicago the year may go."""
    two_years(kit)
    assert removal_of(kit.book, SystemClock(), 2024).revisions == 2


def test_removed(kit: Kit, swathbook: Swathbook) -> None:
    """The year goes whole, the chain holds, held entries and the other years stay, no number is given again."""
    two_years(kit)
    kit.close("2024-07-01", now="2024-07-01T10:00", rate="9 fl oz/1000 sq ft")
    kit.set("2030-01-01T08:00")
    shown = removal_of(kit.book, kit.clock, 2024)
    done = remove_year(kit.book, kit.clock, shown, reason=" time of  keeping over ", by="ruth")
    assert done.event == "E-000001"
    report = verify(kit.book)
    assert not report.problems
    assert report.removed == 2
    with kit.book.read() as work:
        (event,) = work.records.events("removal")
        assert len(work.held.open()) == 1
        assert work.records.years() == [2026]
        assert work.records.next_number(2024) == 3
    data = event.body["data"]
    assert (data["year"], data["count"], data["reason"], data["by"]) == (2024, 2, "time of keeping over", "ruth")
    assert any("us-mn: 5 years" in why for why in data["why"])
    assert event.body["applicator"]["name"] == "Ruth Sandahl"
    assert "2024: 2 revisions removed, sealed in E-000001" in swathbook("keep").out
    assert swathbook("keep", "2024-1").code == NotFoundError.exit_code
    assert swathbook("verify").code == 0


def test_removed_by_the_command(kit: Kit, swathbook: Swathbook) -> None:
    """With --yes it is done without a question; without a terminal it has to be there."""
    two_years(kit)
    kit.set("2030-01-01T08:00")
    words = ("keep", "--remove", 2024, "--reason", "over", "--by", "ruth")
    assert swathbook(*words).code == UsageError.exit_code
    assert swathbook(*words[:-1], "nobody", "--yes").code == NotFoundError.exit_code
    ran = swathbook(*words, "--yes", "--json")
    assert (ran.code, ran.json["removed"], ran.json["event"]) == (0, 2, "E-000001")
    assert swathbook(*words, "--yes").code == NotFoundError.exit_code


@pytest.mark.parametrize("answer", ["2024", "no", ""])
def test_typed(kit: Kit, swathbook: Swathbook, monkeypatch: pytest.MonkeyPatch, answer: str) -> None:
    """At a terminal the year has to be typed; anything else keeps the records."""
    two_years(kit)
    kit.set("2030-01-01T08:00")

    def typed(_prompt: str) -> str:
        if not answer:
            raise prompts.LeftError
        return answer

    monkeypatch.setattr("sys.stdin.isatty", lambda: True)
    monkeypatch.setattr(prompts, "_line", typed)
    ran = swathbook("keep", "--remove", 2024, "--reason", "over", "--by", "ruth")
    assert ran.code == (0 if answer == "2024" else 1)
    assert [year.year for year in kept_years(kit.book, kit.clock)[0]] == ([2026] if answer == "2024" else [2024, 2026])


def test_never_the_current_year(kit: Kit) -> None:
    """A year that is not over stays, and so does one that the book does not hold."""
    two_years(kit)
    for year in (2026, 2030):
        with pytest.raises(RetentionError, match="not over"):
            removal_of(kit.book, kit.clock, year)
    with pytest.raises(NotFoundError, match="2024, 2026"):
        removal_of(kit.book, kit.clock, 2020)


def test_changed_meanwhile(kit: Kit) -> None:
    """What was shown is what goes: a record that came in since stops it."""
    two_years(kit)
    kit.set("2030-01-01T08:00")
    shown = removal_of(kit.book, kit.clock, 2024)
    stale = shown._replace(stubs=type(shown.stubs)(1, shown.stubs.first_seal, shown.stubs.first_seal, "0" * 64))
    with pytest.raises(RetentionError, match="changed meanwhile"):
        remove_year(kit.book, kit.clock, stale, reason="over", by="ruth")
    with pytest.raises(UsageError):
        remove_year(kit.book, kit.clock, shown, reason="  ", by="ruth")
    with kit.book.read() as work:
        assert not work.records.events("removal")


def test_empty_book(swathbook: Swathbook) -> None:
    """Nothing to keep yet."""
    assert "no records yet" in swathbook("keep").out
    assert swathbook("keep", "--reason", "x").code == UsageError.exit_code
    assert swathbook("keep", "2024").code == NotFoundError.exit_code


def revise(kit: Kit, serial: str, action: str, **parts: object) -> None:
    """Seal a later revision of a record."""
    now = kit.clock.now()
    with kit.book.write() as work:
        before = work.records.revisions(serial)[-1]
        body = before.body | {"change": {"action": action}} | parts
        previous, number, at = work.records.head(), before.revision + 1, instant_text(now)
        mark, text = sealed(previous, serial, number, at, body)
        work.records.append(StoredRevision(0, serial, number, action, at, previous, mark, body, text))
        work.commit()


def test_a_change_extends(kit: Kit) -> None:
    """Connecticut counts five years anew from a correction; what the first text has to be kept for stands too."""
    firm(kit, "us-mn")
    kit.load(people=[ruth()])
    serial = str(kit.sealed("2024-02-29").serial)
    kit.set("2025-06-30T23:30")  # in UTC it is July 1
    revise(kit, serial, "amended", packs=[{"id": "us-ct", "version": "1"}])
    kept = kept_of_record(kit.book, kit.clock, serial)
    assert [(term.pack, str(term.last_day)) for term in kept.terms] == [
        ("us-ct", "2030-06-30"),
        ("us-mn", "2029-03-01"),
    ]
    assert kept_of_year(kit.book, kit.clock, 2024) == [kept]
    assert not gaps_of(kit, "2024-02-29")


def test_voided_is_kept(kit: Kit) -> None:
    """A voided record is none that an inspector misses anything in, but it is kept like any other."""
    firm(kit, "us-mn")
    serial = str(kit.sealed().serial)
    kit.set("2026-07-01T09:00")
    assert gaps_of(kit, "2026-05-14")
    revise(kit, serial, "voided")
    assert not gaps_of(kit, "2026-05-14")
    kept = kept_of_record(kit.book, kit.clock, serial)
    assert str(kept.last_day) == "2031-05-14"
    with pytest.raises(NotFoundError):
        kept_of_record(kit.book, kit.clock, "2026-000099")


def gaps_of(kit: Kit, day: str) -> list[str]:
    """Return what is told of the records of a day."""
    on = date.fromisoformat(day)
    return [gap.what for group in ready(kit.book, kit.clock, on, on).groups for gap in group.gaps if gap.day == day]
