"""A notice that was given is a sealed event; by e-mail only with the customer's written consent before the visit."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, date, datetime
from hashlib import sha256
from typing import TYPE_CHECKING, Any

import pytest

from records.errors import MailError, StorageError
from records.rules.packs import newest
from records.services.copies import Delivery, owed_copies
from records.services.delivering import deliveries, email_address
from records.services.directory import Directory
from records.storage.integrity import verify
from tests.bodies import visit_body

if TYPE_CHECKING:
    from pathlib import Path

    from tests.kit import Kit
    from tests.notices.conftest import Run

Json = dict[str, Any]


def sealed(kit: Kit, site: str = "site-wi", **changes: Any) -> str:  # noqa: ANN401
    """Return the serial of a visit of Vera's."""
    serial = kit.sealed(site=site, applicator="vera", **changes).serial
    assert serial is not None
    return serial


def events(kit: Kit) -> list[Json]:
    with kit.book.read() as work:
        return [event.body for event in work.records.events("delivery")]


def test_a_delivery_on_paper_is_sealed_with_the_digest_of_the_page(kit: Kit, run: Run, tmp_path: Path) -> None:
    """The digest is that of the PDF which `notice` writes on that day."""
    serial = sealed(kit)
    run("notice", serial, "--out", "a.pdf")
    ran = run(
        *("deliver", serial, "--how", "paper", "--to", "in the door", "--as", "customer"),
        *("--at", "09:40", "--by", "vera"),
    )
    assert (ran.code, ran.out) == (0, "")
    assert ran.words == (
        f"E-000001: the notice of {serial} was given on paper 2026-05-14 09:40 (UTC-05:00) to in the door (en)"
    )
    (body,) = events(kit)
    assert body["data"] == {
        "serial": serial,
        "revision": 1,
        "how": "paper",
        "to": "in the door",
        "as": "customer",
        "at": "2026-05-14T09:40-05:00",
        "language": "en",
        "paper": "letter",
        "sha256": sha256((tmp_path / "a.pdf").read_bytes()).hexdigest(),
        "message_id": "",
    }
    assert (body["site"]["id"], body["date"], body["applicator"]["id"]) == ("site-wi", "2026-05-14", "vera")
    assert body["applicator"]["licence"]["number"] == "WI-C-7"
    assert verify(kit.book).problems == []


def test_a_second_delivery_is_allowed_and_said(kit: Kit, run: Run) -> None:
    """A copy again, in the language asked for."""
    serial = sealed(kit)
    run("deliver", serial, "--how", "paper")
    ran = run("deliver", serial, "--how", "paper", "--language", "es", "--out", "n.pdf", "--json")
    assert ran.code == 0
    assert [one["event"] for one in ran.json["earlier"]] == ["E-000001"]
    assert ran.json["language"] == "es"
    assert "this is a copy again: it was given on paper" in run("deliver", serial, "--how", "paper").words
    assert len(events(kit)) == 3


def test_the_customers_language_is_used(kit: Kit, run: Run) -> None:
    """Inés Ruiz reads Spanish."""
    assert run("deliver", sealed(kit, "casa-wi"), "--how", "paper", "--json").json["language"] == "es"


@pytest.mark.parametrize(
    ("words", "code", "told"),
    [
        (["--how", "pigeon"], 2, "no way to deliver"),
        (["--how", "paper", "--at", "2026-05-15T09:00"], 2, "lies in the future"),
        (["--how", "paper", "--at", "2026-05-14T08:00"], 2, "before the work began"),
        (["--how", "paper", "--at", "yesterday"], 2, "not a date with a time"),
        (["--how", "paper", "--by", "nobody"], 9, "no person 'nobody'"),
        (["--how", "paper", "--to", "x" * 300], 2, "--to cannot be printed"),
        (["--how", "paper", "--to", "Jo Lake"], 2, "--to 'Jo Lake' is not the customer's name (Ola Berg). Say who"),
        (["--how", "paper", "--to", "Jo Lake", "--as", "boss"], 2, "--as 'boss' is nobody"),
        (["--how", "paper", "--as", "agent"], 2, "--as agent does not say who that is"),
        (["--how", "email", "--as", "agent"], 2, "--as agent is not the customer's e-mail address"),
        (["--before"], 2, "--how is missing"),
        ([], 2, "--how is missing"),
        (["--how", "paper", "--before", "--for", "2026-05-14"], 2, "--before names a record"),
        (["--how", "paper", "--until", "2026-05-14"], 2, "--until ends the days"),
        (["--how", "paper", "--before", "--asked", "2026-05-14"], 2, "--asked is about a copy on request"),
        (["--how", "paper", "--before", "--out", "x.pdf"], 2, "are for the notice of a visit"),
        (["--asked", "2026-05-15"], 2, "--asked 2026-05-15 lies in the future"),
        (["--how", "paper", "--send"], 2, "--send is for --how email"),
        (["--how", "email", "--send", "--at", "09:40"], 2, "--send is for --how email, now"),
        (["--how", "email", "--to", "spy@evil.example"], 2, "is not the customer's e-mail address"),
        (["--how", "paper", "--language", "../x"], 16, "not a language"),
    ],
)
def test_what_makes_no_sense_is_one_line_and_no_event(
    words: list[str], code: int, told: str, kit: Kit, run: Run, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Nothing is recorded."""
    monkeypatch.setenv("SWATHBOOK_SMTP", "localhost:1")
    ran = run("deliver", sealed(kit), *words)
    assert (ran.code, ran.out, ran.err.count("\n")) == (code, "", 1), ran
    assert told in ran.err
    assert events(kit) == []


def test_no_such_record_and_an_event_are_not_delivered(kit: Kit, run: Run) -> None:
    """Exit 9."""
    run("deliver", sealed(kit), "--how", "paper")
    for key in ("2026-77", "E-000001", "x"):
        assert run("deliver", key, "--how", "paper").code == 9


def test_email_needs_an_address_and_a_consent_before_the_visit(kit: Kit, run: Run) -> None:
    """Wisconsin: electronic if consented in writing beforehand (ATCP 29.56). The refusal says what to load."""
    ran = run("deliver", sealed(kit, "casa-wi"), "--how", "email")
    assert (ran.code, ran.err.count("\n")) == (18, 1)
    for part in ("Inés Ruiz", "us-wi: Wis. Admin. Code ATCP 29.56", "(verified)", "email_consent", "--how paper"):
        assert part in ran.err, part
    kit.load(customers=[{"id": "ruiz", "name": "Inés Ruiz", "email": "i@r.example", "email_consent": "2026-05-15"}])
    ran = run("deliver", "2026-1", "--how", "email")
    assert (ran.code, "before 2026-05-15, and the visit was on 2026-05-14" in ran.err) == (18, True)
    kit.load(customers=[{"id": "ruiz", "name": "Inés Ruiz", "email": "i@r.example", "email_consent": "2026-05-14"}])
    assert run("deliver", "2026-1", "--how", "email", "--json").json["to"] == "i@r.example"
    kit.load(customers=[{"id": "ruiz", "name": "Inés Ruiz"}])  # withdrawn
    assert "no e-mail address in the book" in run("deliver", "2026-1", "--how", "email").err


def test_a_rule_that_wants_paper_wins_over_a_consent(kit: Kit) -> None:
    """Whatever the customer agreed to."""
    pack = newest("us-wi")
    strict = replace(pack, copies=(replace(pack.copies[0], electronic="no"),))
    with kit.book.read() as work:
        found = Directory(work.catalogue).customer("berg")
    assert found is not None
    assert email_address(found[0], visit_body(), [pack]) == "ola@berg.example"
    with pytest.raises(MailError, match=r"has to be on paper \(us-wi: Wis"):
        email_address(found[0], visit_body(), [strict])
    with pytest.raises(MailError, match="names no customer"):
        email_address(None, visit_body(), [pack])


def test_an_email_that_went_out_and_could_not_be_recorded_says_how_to_log_it(
    kit: Kit, run: Run, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The truth can still be recorded, later."""
    serial = sealed(kit)

    class Taken:
        def __init__(self, _settings: object) -> None:
            pass

        def send(self, _letter: object) -> str:
            return "<x@y>"

    def full(*_: object, **__: object) -> None:
        raise StorageError("the disk is full", "Make room")

    monkeypatch.setenv("SWATHBOOK_SMTP", "localhost:1")
    monkeypatch.setattr("records.mail.SmtpMailer", Taken)
    monkeypatch.setattr("records.services.delivering.append_event", full)
    ran = run("deliver", serial, "--how", "email", "--send")
    assert (ran.code, ran.err.count("\n")) == (7, 1)
    assert f"swathbook deliver {serial} --how email --at 2026-05-14T09:42-05:00" in ran.err


def given(at: str, serial: str = "2026-000001") -> Delivery:
    return Delivery("E-000001", serial, 1, "paper", "door", datetime.fromisoformat(at), "en", "0" * 64, "")


@pytest.mark.parametrize(
    ("now", "deliveries_at", "state"),
    [
        ("2026-05-14T23:59-05:00", [], "owed"),
        ("2026-05-15T00:00-05:00", [], "overdue"),
        ("2026-06-01T00:00-05:00", ["2026-05-14T23:58-05:00"], "given"),
        ("2026-06-01T00:00-05:00", ["2026-05-15T00:01-05:00"], "late"),
        ("2026-06-01T00:00-05:00", ["2026-05-15T00:01-05:00", "2026-05-14T10:00-05:00"], "given"),
    ],
)
def test_a_copy_owed_at_the_visit_is_owed_to_the_end_of_its_day(now: str, deliveries_at: list[str], state: str) -> None:
    """Massachusetts: a statement left on completion (333 CMR 13.06); by the site's own midnight."""
    found = owed_copies(
        visit_body(), [newest("us-ma")], [given(at) for at in deliveries_at], datetime.fromisoformat(now)
    )
    assert [one.state for one in found if one.copy.moment == "visit"] == [state]


def test_a_copy_owed_within_days_and_those_that_no_visit_owes() -> None:
    """Minnesota: 5 days (18B.37). Tennessee's copies are for those who ask; imports owe none."""
    (copy,) = owed_copies(visit_body(), [newest("us-mn")], [], datetime(2026, 5, 20, tzinfo=UTC))
    assert copy.due is not None
    assert (copy.due.isoformat(), copy.state) == ("2026-05-19T23:59:59-05:00", "owed")
    now = datetime(2026, 5, 21, tzinfo=UTC)
    assert owed_copies(visit_body(), [newest("us-mn")], [], now)[0].state == "overdue"
    (asked,) = owed_copies(visit_body(), [newest("us-tn")], [], now)
    assert (asked.state, asked.due, asked.is_open) == ("on request", None, False)
    assert owed_copies(visit_body(origin={"kind": "import"}), [newest("us-mn")], [], now) == ()
    assert owed_copies(visit_body(started=None, finished=None), [newest("us-mn")], [], now) == ()


def test_deliveries_lists_what_is_given_and_owed(kit: Kit, run: Run) -> None:
    """Worst is told; --missing ends with 1 while anything is overdue."""
    first, second = sealed(kit), sealed(kit, "site-mn")
    texas = sealed(kit, "site-va")  # no pack of Virginia is named: nothing is owed there
    run("deliver", first, "--how", "paper")
    ran = run("deliveries", "--json")
    assert [(row["serial"], row["state"]) for row in ran.json["records"]] == [(first, "given"), (second, "owed")]
    assert texas not in ran.out
    assert run("deliveries", "--missing").code == 0
    kit.set("2026-05-25T10:00")
    ran = run("deliveries", "--missing")
    assert ran.code == 1
    assert second in ran.out
    assert first not in ran.out
    assert "us-mn: Minn. Stat. 18B.37 subd. 2 (verified), within 5 days" in ran.words
    assert run("deliveries", "--missing", "--to", "2026-04").out == "no notice is owed\n"
    assert run("deliveries", "--missing", "--json").json["overdue"] == 1
    run("deliver", second, "--how", "paper")
    ran = run("deliveries", "--json")
    assert [row["state"] for row in ran.json["records"]] == ["given", "late"]
    assert run("deliveries", "--missing").code == 0


def test_a_late_delivery_is_said(kit: Kit, run: Run) -> None:
    """Recorded as it was, with the moment at which it was due."""
    serial = sealed(kit, "site-mn")
    kit.set("2026-05-25T10:00")
    assert (
        "late: it was due 2026-05-19 23:59 (UTC-05:00) (us-mn: Minn. Stat. 18B.37"
        in run("deliver", serial, "--how", "paper").words
    )


def test_the_service_reads_day_by_day(kit: Kit) -> None:
    """Days are those of the work."""
    sealed(kit, on="2026-05-14")
    sealed(kit, on="2026-06-20")
    found = list(deliveries(kit.book, kit.clock, date(2026, 6, 1), None))
    assert [row.record.body["date"] for row in found] == ["2026-06-20"]


def test_every_rule_that_a_listed_copy_is_owed_by_is_named(kit: Kit, run: Run) -> None:
    """Wisconsin has two: at the visit for landscape work, within 30 days for other work."""
    sealed(kit)
    ran = run("deliveries")
    assert "us-wi: Wis. Admin. Code ATCP 29.56" in ran.words
    assert "us-wi: Wis. Admin. Code ATCP 29.22" in ran.words
    assert max(map(len, ran.out.splitlines())) <= 80
