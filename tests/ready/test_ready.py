"""What an inspector would find: each kind of gap by name, with its rule, and nothing where nothing is wrong."""

from __future__ import annotations

from datetime import date
from typing import TYPE_CHECKING, Any

import pytest

from records.errors import UsageError
from records.services.closing.service import AsApplied, append_body
from records.services.events import append_event
from records.services.inspecting.words import late_words
from records.services.readiness import Gap, ready
from records.services.readiness.service import year_before
from tests.bodies import visit_body
from tests.kit import BUSINESS, SITES, UNLABELLED, Kit, licence

if TYPE_CHECKING:
    from tests.ready.conftest import Swathbook

AS_APPLIED = AsApplied("the meter ran on", "ruth")


def firm(kit: Kit, *packs: str, **changes: object) -> None:
    """Load the firm under packs."""
    kit.load(business=BUSINESS | {"packs": list(packs)} | changes)


def gaps(kit: Kit, kind: str | None = None, since: date | None = None, until: date | None = None) -> list[Gap]:
    """Return what is found, of one kind where it is given."""
    found = ready(kit.book, kit.clock, since, until)
    return [gap for group in found.groups for gap in group.gaps if kind in {None, group.key}]


def event(kit: Kit, name: str, data: dict[str, Any], site: str | None = None) -> None:
    """Seal an event at the kit's time."""
    now = kit.clock.now()
    with kit.book.write() as work:
        append_event(
            work, name, data, now, day=now.date(), timezone="America/Chicago", site={"id": site} if site else None
        )
        work.commit()


def seal(kit: Kit, **parts: object) -> str:
    """Seal a body as it is, without the checks of closing, as an older version or another tool might have."""
    with kit.book.write() as work:
        revision = append_body(work, visit_body(**parts), kit.clock.now())
        work.commit()
    return revision.serial


def test_nothing_wrong(kit: Kit, swathbook: Swathbook) -> None:
    """A complete record of a firm whose rules ask for nothing more is no gap, and the code is 0."""
    kit.sealed()
    ran = swathbook("ready")
    assert ran.code == 0
    assert "1 record from 2025-05-15 to 2026-05-14, by the rules of us-mn, us-wi\n" in ran.out
    assert "nothing wrong found" in ran.out


def test_incomplete(kit: Kit, swathbook: Swathbook) -> None:
    """A record that lacks what a rule asks is named with field, rule and status; the record's own packs judge it."""
    firm(kit, "us-ny")
    body = visit_body()
    missing = [
        {"code": "missing", "severity": "note", "at": "weather", "message": "x", "limit": "", "found": "", "source": ""}
    ]
    serial = seal(
        kit,
        weather=body["weather"] | {"temperature": None, "wind_speed": None},
        packs=[{"id": "us-mn", "version": "1"}],
        findings=missing,
    )
    (gap,) = gaps(kit, "incomplete")
    assert gap.subject == serial
    assert "no wind speed" in gap.what
    assert "no air temperature" in gap.what
    assert [str(rule) for rule in gap.rules] == ["us-mn: Minn. Stat. 18B.37 subd. 2 (verified)"]
    assert gap.rules[0].url.startswith("https://revisor.mn.gov")
    ran = swathbook("ready")
    assert ran.code == 1
    assert "Records that lack what a rule asks (1)" in ran.out
    assert f"> swathbook amend {serial}" in ran.out
    group = swathbook("ready", "--json").json["groups"][0]
    assert (group["kind"], group["wrong"], group["count"]) == ("incomplete", True, 1)


def test_a_rule_from_memory_is_no_fault(kit: Kit, swathbook: Swathbook) -> None:
    """What only a rule from memory asks is told as a note: the code stays 0."""
    body = visit_body()
    line = {"code": "missing", "severity": "ask", "at": "", "message": "x", "limit": "", "found": "", "source": ""}
    seal(
        kit,
        customer=body["customer"] | {"address": ""},
        packs=[{"id": "us-wa", "version": "1"}],  # of which the form was read; the address is from memory
        findings=[line],
    )
    assert not gaps(kit, "incomplete")
    (gap,) = gaps(kit, "unread")
    assert "customer's address" in gap.what
    assert gap.rules[0].status == "from memory, not checked"
    assert swathbook("ready").code == 0


def test_imported(kit: Kit) -> None:
    """An imported record names no pack: those of its state and day do; lateness and copies are not held against it."""
    firm(kit, "us-mn")
    serial = seal(
        kit, origin={"kind": "import", "layout": "x", "file": "y", "rows": [2], "source": "z"}, packs=[], finished=None,
        late_days=0, entered_at="2026-11-01T10:00:00Z",
    )  # fmt: skip
    kit.set("2026-11-02T09:00")
    (gap,) = gaps(kit, "incomplete")
    assert (gap.subject, "no end time" in gap.what) == (serial, True)
    assert not gaps(kit, "late")
    assert not gaps(kit, "notice")
    (note,) = gaps(kit, "imported")
    assert note.what.startswith("1 imported record")


@pytest.mark.parametrize(
    ("packs", "now", "told"),
    [
        (["us-mn"], "2026-05-19T23:59", None),  # the last minute of the fifth day
        (["us-mn"], "2026-05-20T00:09", "late by 9 minutes; it was due 2026-05-19 23:59 (within 5 days; us-mn)"),
        (["us-wi"], "2026-05-14T23:50", None),
        (["us-pa"], "2026-05-15T10:32", "late by 1 hour; it was due 2026-05-15 09:32 (within 24 hours; us-pa)"),
        (
            ["us-pa", "us-mn"],
            "2026-05-21T09:32",
            "completed late by 6 days; it was due 2026-05-15 09:32 (within 24 hours; us-pa and 1 more)",
        ),
        # the same measure under two days as beyond: what is past the due moment, not the calendar's days
        (
            ["us-pa"],
            "2026-05-17T09:31",
            "completed late by 47 hours 59 minutes; it was due 2026-05-15 09:32",
        ),
    ],
)
def test_late(kit: Kit, packs: list[str], now: str, told: str | None) -> None:
    """By how much, against which clock."""
    kit.set(now)
    days = int(now[8:10]) - 14
    frozen = [{"id": key, "version": "1"} for key in packs]
    entered = kit.clock.now().isoformat().replace("+00:00", "Z")
    seal(kit, packs=frozen, late_days=days, entered_at=entered)
    found = gaps(kit, "late")
    if told is None:
        assert not found
    else:
        assert told in found[0].what
        assert found[0].rules[0].status in {"verified", "secondary"}


def test_late_by_what_was_sealed(kit: Kit) -> None:
    """Lateness that was sealed stands, also where the pack that set the time cannot be told any more."""
    late = {"due": "2026-05-14T20:00:00Z", "within": "5 hours", "by": ["gone-house"]}
    serial = seal(kit, packs=[{"id": "us-ny", "version": "1"}], late=late, entered_at="2026-05-14T23:05:00Z")
    (gap,) = gaps(kit, "late")
    told = "completed late by 3 hours 5 minutes; it was due 2026-05-14 15:00"
    assert gap.what.endswith(told)
    with kit.book.read() as work:  # an inspector's packet says it in the same words
        (stored,) = work.records.all_revisions([serial])
    assert late_words(stored.body) == f"{told} (UTC-05:00) (gone-house)"
    assert gap.rules[0].pack == "gone-house"


@pytest.mark.parametrize(
    ("last", "first"),
    [
        ("2026-12-31", "2026-01-01"),
        ("2027-01-20", "2026-01-21"),
        ("2028-02-29", "2027-03-01"),
        ("2028-02-28", "2027-03-01"),  # a leap year's last February 28: the day after has no like a year before
        ("2029-02-28", "2028-03-01"),
        ("0001-01-01", "1900-01-01"),
        ("9999-12-31", "9998-12-31"),
    ],
)
def test_twelve_months(last: str, first: str) -> None:
    """Where no first day is given, the twelve months up to the last are looked at: in January the season before."""
    assert year_before(date.fromisoformat(last)).isoformat() == first


def test_january(kit: Kit) -> None:
    """In January the season before is still looked at."""
    kit.sealed()
    kit.set("2027-01-20T09:00")
    assert ready(kit.book, kit.clock).records == 1


def test_later_is_worse(kit: Kit) -> None:
    """Within a kind the worst comes first."""
    kit.set("2026-06-30T12:00")
    for day in ("2026-05-14", "2026-03-14"):
        at = {"local": f"{day}T09:32-05:00", "utc": f"{day}T14:32:00Z"}
        seal(
            kit, date=day, period=day[:7], finished=at, started=at, packs=[{"id": "us-wi", "version": "1"}],
            late_days=20, ref=day, entered_at="2026-06-30T12:00:00Z",
        )  # fmt: skip
    assert [gap.day for gap in gaps(kit, "late")] == ["2026-03-14", "2026-05-14"]


def test_over_and_signed(kit: Kit, swathbook: Swathbook) -> None:
    """A broken limit that somebody signed for is known, below what is wrong: what nobody signed."""
    signed = kit.sealed(rate="1.5 fl oz/1000 sq ft", signed=AS_APPLIED)
    stop = {
        "code": "over-rate", "severity": "stop", "at": "treatments[0]", "message": "x: 2 is over the label's 1",
        "limit": "1", "found": "2", "source": "label of x",
    }  # fmt: skip
    assert swathbook("ready").code == 0
    bare = seal(kit, findings=[stop])
    assert swathbook("ready").code == 1
    found = ready(kit.book, kit.clock)
    assert [(group.key, group.wrong) for group in found.groups] == [("over", True), ("as-applied", False)]
    assert [gap.subject for gap in found.groups[0].gaps] == [bare]
    (gap,) = found.groups[1].gaps
    assert gap.subject == signed.serial
    assert "signed by Ruth Sandahl" in gap.what
    assert "0.75 fl oz" in gap.what
    assert "label of Larkin 4" in str(gap.rules[0])


def test_licence(kit: Kit) -> None:
    """Work without a valid licence stays a finding, whoever signed for it."""
    lapsed = kit.sealed("2026-05-15", applicator="karl", supervisor=None, signed=AS_APPLIED)
    (gap,) = gaps(kit, "licence")
    assert gap.subject == lapsed.serial
    assert "no MN licence of Karl Ek was valid on 2026-05-15" in gap.what
    assert not gaps(kit, "as-applied")


def test_label(kit: Kit) -> None:
    """A pesticide without a label in the book is told; a label loaded later does not mend the record."""
    bare = kit.sealed(product="bare-2", rate="0.5 fl oz/1000 sq ft")
    kit.sealed("2026-05-15")
    use = {"site": "turf", "rates": [{"max": "1 fl oz/1000 sq ft"}]}
    kit.load(products=[UNLABELLED | {"label": {"revision": "2026-06", "uses": [use]}}])
    kit.sealed("2026-05-16", product="bare-2", rate="0.5 fl oz/1000 sq ft")
    (gap,) = gaps(kit, "label")
    assert gap.subject == bare.serial
    assert "Bare 2" in gap.what


def test_held(kit: Kit, swathbook: Swathbook) -> None:
    """A held entry is worse than a note once its packs' clock has run out."""
    firm(kit, "us-mn")
    outcome = kit.close(rate="9 fl oz/1000 sq ft")
    assert outcome.status == "held"
    kit.set("2026-05-19T23:59")
    (young,) = gaps(kit, "held-young")
    assert young.subject == outcome.held
    assert "is to be finished by 2026-05-19 23:59" in young.what
    assert swathbook("ready").code == 0
    kit.set("2026-05-20T00:01")
    (old,) = gaps(kit, "held")
    assert "over-rate" in old.what
    assert old.do == f"swathbook held correct {outcome.held} --ask"
    assert str(old.rules[0]) == "us-mn: Minn. Stat. 18B.37 subd. 2 (verified)"
    assert swathbook("ready").code == 1


def test_held_without_a_clock(kit: Kit, swathbook: Swathbook) -> None:
    """Common practice: no rule of Kansas sets a time, so 14 days after the work it is wrong (7 CFR 110.3: 14 days)."""
    firm(kit, "us-ks")
    kit.load(sites=[SITES[0] | {"state": "KS"}])
    assert kit.close(rate="9 fl oz/1000 sq ft").status == "held"
    kit.set("2026-05-28T09:32")  # to the minute fourteen days after its end
    (young,) = gaps(kit, "held-open")
    assert "14 days" in str(young.rules[0])
    ran = swathbook("ready")
    assert (ran.code, "Held visits, no rule sets a time (1, to know)" in ran.out) == (0, True)
    kit.set("2026-05-28T09:33")
    assert len(gaps(kit, "held")) == 1
    assert swathbook("ready").code == 1


@pytest.mark.parametrize(
    "document",
    [
        {"started": "2026-05-01T09:00"},
        {"started": ["x"], "site": {"a": 1}, "treatments": "none"},
        {"started": "9999-12-31T23:59", "finished": "0001-01-01T00:00", "treatments": [{"products": [3]}, 7]},
        {"site": "nowhere", "treatments": [{"products": [{"product": 5}, {"product": "torvane-r"}]}]},
    ],
)
def test_held_holds_anything(kit: Kit, document: dict[str, Any]) -> None:
    """What was refused may be anything; it still is told."""
    with kit.book.write() as work:
        work.held.add(
            "H-000001", "held", kit.clock.now(), document=document, findings=[], ref=None, person=None
        )  # fmt: skip
        work.commit()
    assert [gap.subject for gap in gaps(kit)] == ["H-000001"]


def test_copies(kit: Kit, swathbook: Swathbook) -> None:
    """Minnesota wants a copy within five days: a note while there is time, then wrong, then given or given late."""
    firm(kit, "us-mn")
    serial = str(kit.sealed().serial)
    (note,) = gaps(kit, "notice-due")
    assert "is due 2026-05-19" in note.what
    kit.set("2026-05-20T08:00")
    (gap,) = gaps(kit, "notice")
    assert gap.do == f"swathbook deliver {serial} --how paper --at 2026-05-14THH:MM"
    assert "was due 2026-05-19, 8 hours ago" in gap.what
    ran = swathbook("ready")
    assert "  if it was given in time, log it with that moment (--at DAYTHH:MM); given now," in ran.out
    assert "18B.37" in str(gap.rules[0])
    event(kit, "delivery", {"serial": serial, "at": "2026-05-20T07:00-05:00"})
    assert not gaps(kit, "notice")
    (late,) = gaps(kit, "notice-late")
    assert "known: given late; the copy was due 2026-05-19, given 2026-05-20, 7 hours after" in late.what
    assert swathbook("ready").code == 0
    event(kit, "delivery", {"serial": serial, "at": "2026-05-18T07:00-05:00"})
    assert not gaps(kit)


def test_copy_at_the_visit(kit: Kit) -> None:
    """Kansas: on completion, so by the end of that day in the site's zone."""
    firm(kit, "us-ks")
    seal(kit, packs=[{"id": "us-ks", "version": "1"}])
    kit.set("2026-05-14T23:50")
    assert not gaps(kit, "notice")
    kit.set("2026-05-15T00:01")
    assert len(gaps(kit, "notice")) == 1


def test_told_before(kit: Kit) -> None:
    """Who is listed at the site has to be told in time, for that very day."""
    site = SITES[0] | {
        "notify": [
            {"id": "bo", "name": "Bo Asp", "why": "registry", "lead": "12 hours"},
            {"id": "old", "name": "Old Listing", "why": "asked", "to": "2026-01-31"},
        ]
    }
    kit.load(sites=[site])
    kit.set("2026-05-14T06:00")
    kit.sealed(confirmed=["not-notified"])
    (gap,) = gaps(kit, "advance")
    assert "Bo Asp (on a registry) was to be told at least 12 hours before, by 2026-05-13 21:10" in gap.what
    assert gap.do.startswith("swathbook contact mill-9 bo --for 2026-05-14")
    tried = {"site": "mill-9", "notify": "bo", "for": "2026-05-14", "how": "phone", "note": ""}
    event(kit, "contact", tried | {"result": "no-answer", "at": "2026-05-13T18:00-05:00"}, "mill-9")
    event(kit, "contact", tried | {"result": "reached", "at": "2026-05-14T08:00-05:00"}, "mill-9")
    assert "told 2026-05-14 08:00" in gaps(kit, "advance")[0].what
    event(kit, "contact", tried | {"result": "reached", "at": "2026-05-13T21:10-05:00"}, "mill-9")
    assert not gaps(kit, "advance")


def ny(kit: Kit) -> None:
    """Load a site in New York, of a firm that names its pack."""
    place = SITES[0] | {"id": "ny-1", "state": "NY", "zip": "14850"}
    firm(kit, "us-ny")
    kit.load(sites=[place])


def test_reports(kit: Kit) -> None:
    """New York's annual report is due February 1, also for an idle year; what was only written is not filed."""
    kit.set("2025-03-01T09:00")
    ny(kit)
    kit.set("2026-02-01T12:00")
    assert not gaps(kit, "report")  # today is its last day
    kit.set("2026-02-02T09:00")
    found = gaps(kit)
    assert [gap.kind for gap in found] == ["report-before"]  # the book begins in the year of the kit: not its fault
    kit.set("2027-02-02T09:00")
    (gap,) = gaps(kit, "report")
    assert gap.do == "swathbook report ny-annual 2026 --out ny-annual.csv"
    assert (gap.subject, gap.day) == ("ny-annual", "2026")
    assert "was due 2027-02-01" in gap.what
    assert "33-1205" in str(gap.rules[0])
    written = {"report": "ny-annual", "period": "2026", "person": "ruth", "filed_on": None}
    event(kit, "report", written)
    (gap,) = gaps(kit, "report")
    assert "written, not handed in" in gap.what
    assert gap.do == "swathbook report filed ny-annual 2026 --on DAY"
    event(kit, "report", written | {"filed_on": "2027-02-02"})
    assert not gaps(kit, "report")
    event(kit, "report", written | {"person": "emil"})
    assert len(gaps(kit, "report")) == 1  # one of two that were written


def test_monthly_report_of_an_unnamed_state(kit: Kit) -> None:
    """A state that has sites of the firm asks its reports, whatever the firm names."""
    kit.load(sites=[SITES[0] | {"id": "ca-1", "state": "CA", "zip": "93701"}])
    kit.set("2026-08-12T09:00")
    found = gaps(kit, "report")
    assert [gap.day for gap in found] == ["2026-05", "2026-06", "2026-07"]
    assert "CA has sites of yours" in found[0].what
    assert found[0].do == "swathbook report ca-monthly 2026-05 --out ca-monthly.csv"
    assert gaps(kit, "report-other") == []  # no work at schools is known


def test_licence_ends(kit: Kit) -> None:
    """Of people who worked lately, licences that end within thirty days are noted; the last day counts."""
    kit.load(people=[{"id": "ruth", "name": "Ruth Sandahl", "licences": [licence(to="2026-06-13")]}])
    kit.sealed()
    assert [gap.subject for gap in gaps(kit, "licence-ending")] == ["ruth"]
    kit.set("2026-06-13T23:00")
    assert len(gaps(kit, "licence-ending")) == 1
    kit.set("2026-06-14T00:10")
    (gap,) = gaps(kit, "licence-ending")
    assert "ended on 2026-06-13" in gap.what
    kit.set("2026-08-13T00:10")  # nobody worked for ninety days
    assert not gaps(kit, "licence-ending")
    kit.set("2026-06-01T00:10")
    renewed = [licence(to="2026-06-13"), licence(**{"from": "2026-06-14", "to": "2027-06-13"})]
    kit.load(people=[{"id": "ruth", "name": "Ruth Sandahl", "licences": renewed}])
    assert not gaps(kit, "licence-ending")
    kit.set("2026-06-20T00:10")
    assert not gaps(kit, "licence-ending")


def test_span(kit: Kit, swathbook: Swathbook) -> None:
    """Only the days asked for are looked at; the year so far when none are."""
    firm(kit, "us-mn")
    kit.sealed("2026-05-14")
    kit.sealed("2026-06-14")
    kit.set("2026-07-14T09:00")
    assert len(gaps(kit, "notice")) == 2
    assert swathbook("ready", "--from", "2026-06", "--to", "2026-06", "--json").json["records"] == 1
    assert swathbook("ready", "--to", "2025", "--json").json["from"] == "2025-01-01"
    assert swathbook("ready", "--from", "2026-06", "--to", "2026-05").code == UsageError.exit_code
    assert swathbook("ready", "--from", "2027").code == UsageError.exit_code
    assert swathbook("ready", "--from", "0001-01-01", "--to", "9999-12-31").code == 1


def test_many(kit: Kit, swathbook: Swathbook) -> None:
    """At most some twenty lines a kind stand on the screen; --all shows every one."""
    firm(kit, "us-mn")
    for number in range(30):
        seal(kit, packs=[{"id": "us-mn", "version": "1"}], ref=f"r{number}")
    kit.set("2026-07-14T09:00")
    ran = swathbook("ready")
    assert "Copies that customers should have got (30)" in ran.out
    assert len(ran.out.splitlines()) < 30
    assert " more" in ran.out
    whole = swathbook("ready", "--all")
    assert whole.out.count("swathbook deliver") == 30
    assert " more" not in whole.out


def test_hostile_names_do_not_steer(kit: Kit, swathbook: Swathbook) -> None:
    """What an import brought in cannot steer the terminal."""
    firm(kit, "us-mn")
    body = visit_body()
    seal(kit, site=body["site"] | {"address": "7 \x1b[31mLark\u202e Lane"}, packs=[{"id": "us-mn", "version": "1"}])
    kit.set("2026-07-14T09:00")
    ran = swathbook("ready")
    assert "\x1b" not in ran.out
    assert "\u202e" not in ran.out


def test_no_firm(swathbook: Swathbook, kit: Kit, tmp_path: Any) -> None:  # noqa: ANN401 - pytest's own
    """An empty book has nothing wrong."""
    from records.storage.migrate import upgrade  # noqa: PLC0415 - only here

    upgrade(tmp_path / "empty.db")
    ran = swathbook("--book", tmp_path / "empty.db", "ready")
    assert ran.code == 0
    assert kit.path.exists()
