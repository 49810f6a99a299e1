"""Amending and voiding: a new sealed revision, checked like a new entry; the first text stays, the last one counts."""

from __future__ import annotations

import copy
import json
from typing import TYPE_CHECKING, Any

import pypdf
import pytest

from records.errors import HeldStateError, InputError, NotFoundError, RefConflictError, SignatureError, UsageError
from records.services.amending import Why, amend, amendments_held, entry_of, void
from records.services.closing.service import AsApplied, close_held, close_visit
from records.services.finding import revisions
from records.services.inspecting.changes import revisions_told
from records.services.ports import Criteria
from records.storage.integrity import verify
from tests.cli.conftest import VISITS
from tests.kit import LARKIN, Kit, Part
from tests.moving.test_export import tamper

if TYPE_CHECKING:
    from pathlib import Path

    from tests.cli.conftest import Swathbook
    from tests.screen import Ran

WHY = Why("read wrong", "ruth")
SECOND: dict[str, Any] = {"ref": "second", "zones": ["side"], "area": "1000 sq ft", "confirmed": ["same-day"]}


@pytest.fixture
def kit(tmp_path: Path) -> Kit:
    """Return a small firm in a book of its own."""
    return Kit.at(tmp_path)


def corrected(kit: Kit, serial: str, **parts: Part) -> dict[str, Any]:
    """Return the entry of a record with parts of its first product line, or of the visit, written anew."""
    document = copy.deepcopy(entry_of(kit.book, serial))
    for name, value in parts.items():
        place = document["treatments"][0]["products"][0] if name in {"rate", "amount", "lot", "product"} else document
        place[name] = value
    return document


def sealed(kit: Kit, **changes: Part) -> str:
    """Close a lawful visit; return its serial."""
    outcome = kit.close(**{"ref": "first", **changes})
    assert outcome.serial, outcome.findings
    return outcome.serial


def test_a_correction_is_the_next_revision(kit: Kit) -> None:
    """Both texts are kept; the change says who, when, why and of which revision, and what differs can be told."""
    serial = sealed(kit, lot="L1")
    outcome = amend(kit.book, serial, corrected(kit, serial, lot="L2"), WHY, kit.clock)
    assert (outcome.status, outcome.serial, outcome.revision) == ("sealed", serial, 2)
    first, second = revisions(kit.book, serial)
    assert [one.body["treatments"][0]["applications"][0]["lot"] for one in (first, second)] == ["L1", "L2"]
    change = second.body["change"]
    assert (change["action"], change["reason"], change["of"]) == ("amended", "read wrong", 1)
    assert (change["by"]["id"], change["by"]["licence"]["state"]) == ("ruth", "MN")
    told = revisions_told([first, second])[1]
    assert [(one.what, one.before, one.after) for one in told.changes] == [("Lot", "L1", "L2")]
    assert verify(kit.book).problems == []


def test_the_same_correction_twice_writes_once(kit: Kit) -> None:
    """Given again, it answers with the same revision; a correction that corrects nothing is refused."""
    serial = sealed(kit, lot="L1")
    document = corrected(kit, serial, lot="L2")
    for is_repeat in (False, True):
        outcome = amend(kit.book, serial, document, WHY, kit.clock)
        assert (outcome.revision, outcome.is_repeat) == (2, is_repeat)
    assert len(revisions(kit.book, serial)) == 2
    other = sealed(kit, **SECOND, lot="L1")
    with pytest.raises(InputError, match="nothing differs"):
        amend(kit.book, other, corrected(kit, other), WHY, kit.clock)


def test_the_checks_run_again(kit: Kit) -> None:
    """Over the label is held, and the record stays as it is; signed for, the held amendment is sealed over it."""
    serial = sealed(kit)
    before = revisions(kit.book, serial)
    outcome = amend(kit.book, serial, corrected(kit, serial, rate="9 fl oz/1000 sq ft"), WHY, kit.clock)
    assert outcome.status == "held"
    assert "over-rate" in {one["code"] for one in outcome.findings}
    assert revisions(kit.book, serial) == before
    assert outcome.held
    again = amend(kit.book, serial, corrected(kit, serial, rate="9 fl oz/1000 sq ft"), WHY, kit.clock)
    assert again.held == outcome.held
    signed = close_held(kit.book, outcome.held, None, kit.clock, AsApplied("the cup was misread", "ruth"))
    assert (signed.status, signed.serial, signed.revision, signed.deviation) == ("sealed", serial, 2, True)
    last = revisions(kit.book, serial)[-1].body
    assert last["change"]["reason"] == "read wrong"
    assert "amends" not in json.dumps(last)
    with pytest.raises(SignatureError, match="held as"):
        amend(kit.book, serial, corrected(kit, serial, lot="x"), WHY, kit.clock, AsApplied("as before", "nobody"))


def test_a_held_amendment_is_corrected(kit: Kit) -> None:
    """What was held is closed again with other values, and still knows which record it corrects."""
    serial = sealed(kit)
    outcome = amend(kit.book, serial, corrected(kit, serial, rate="9 fl oz/1000 sq ft"), WHY, kit.clock)
    assert outcome.held
    done = close_held(kit.book, outcome.held, corrected(kit, serial, lot="L7"), kit.clock)
    assert (done.status, done.serial, done.revision) == ("sealed", serial, 2)


def test_a_record_does_not_stand_in_its_own_way(kit: Kit) -> None:
    """Neither the interval, nor the count, nor `same-day` is held against a record by the record itself."""
    serial = sealed(kit)
    outcome = amend(kit.book, serial, corrected(kit, serial, lot="L3"), WHY, kit.clock)
    assert {one["code"] for one in outcome.findings} & {"too-soon", "over-count", "same-day", "over-year"} == set()
    assert kit.close(ref="another").status == "held"  # the same ground on the same day is asked about, as ever


def test_what_a_record_froze_is_kept(kit: Kit) -> None:
    """A label loaded later does not judge, nor enter, an amendment of an earlier record; asked for, it does."""
    serial = sealed(kit)
    line = revisions(kit.book, serial)[0].body["treatments"][0]["applications"][0]
    newer = copy.deepcopy(LARKIN)
    newer["label"]["revision"] = "2030-01"
    newer["name"] = "Renamed"
    kit.load(products=[newer])
    amend(kit.book, serial, corrected(kit, serial, lot="L4"), WHY, kit.clock)
    frozen = revisions(kit.book, serial)[-1].body["treatments"][0]["applications"][0]
    assert (frozen["product"], frozen["label"]) == (line["product"], line["label"])
    outcome = amend(kit.book, serial, corrected(kit, serial, lot="L4"), WHY, kit.clock, newest=True)
    assert outcome.revision == 3
    taken = revisions(kit.book, serial)[-1].body["treatments"][0]["applications"][0]
    assert (taken["product"]["name"], taken["label"]["revision"]) == ("Renamed", "2030-01")


def test_an_amendment_is_not_late(kit: Kit) -> None:
    """Lateness is that of the first text; the moment of the amendment stands in the change."""
    serial = sealed(kit)
    first = revisions(kit.book, serial)[0]
    kit.set("2026-09-01T08:00")
    amend(kit.book, serial, corrected(kit, serial, lot="L5"), WHY, kit.clock)
    last = revisions(kit.book, serial)[-1]
    assert last.body["entered_at"] == first.body["entered_at"]
    assert (last.body["late"], last.body["late_days"]) == (first.body["late"], first.body["late_days"])
    assert last.body["change"]["at"] > first.body["entered_at"]


def test_only_the_last_revision_counts(kit: Kit) -> None:
    """Summary, history and search count what stands; a voided record counts nowhere and is shown."""
    serial, other = sealed(kit, rate="0.75 fl oz/1000 sq ft"), sealed(kit, **SECOND)
    with kit.book.read() as work:
        before = work.records.summary(2026)
    done = amend(
        kit.book, serial, corrected(kit, serial, rate="0.7 fl oz/1000 sq ft", confirmed=["same-day"]), WHY, kit.clock
    )
    assert done.status == "sealed", done.findings
    with kit.book.read() as work:
        after = work.records.summary(2026)
        assert sum(row.applications for row in after.uses) == sum(row.applications for row in before.uses)
        assert sum(row.amount_nano for row in after.uses) < sum(row.amount_nano for row in before.uses)
    void(kit.book, other, WHY, kit.clock)
    with kit.book.read() as work:
        gone = work.records.summary(2026)
        assert sum(row.applications for row in gone.uses) == 1
        assert gone.voided == 1
        assert {past.serial for past in work.records.history("mill-9", None)} == {serial}
        assert {one.serial for one in work.records.search(Criteria())} == {serial, other}
    assert kit.close(**(SECOND | {"ref": "anew"})).status == "sealed"


def test_what_cannot_be_changed(kit: Kit) -> None:
    """No record, an event, a voided record, nobody, no reason, another `ref`: one line each, nothing is written."""
    serial = sealed(kit)
    document = corrected(kit, serial, lot="L6")
    for name, why, error, words in (
        ("2026-000099", WHY, NotFoundError, "no record"),
        (serial, Why("  ", "ruth"), UsageError, "needs a reason"),
        (serial, Why("x\x1b[31m", "ruth"), UsageError, "cannot be printed"),
        (serial, Why("x", None), UsageError, "--by PERSON"),
        (serial, Why("x", "nobody"), NotFoundError, "no person"),
    ):
        with pytest.raises(error, match=words):
            amend(kit.book, name, document, why, kit.clock)
        with pytest.raises(error, match=words):
            void(kit.book, name, why, kit.clock)
    with pytest.raises(InputError, match="has the ref"):
        amend(kit.book, serial, document | {"ref": "other"}, WHY, kit.clock)
    assert len(revisions(kit.book, serial)) == 1
    voided, repeated = void(kit.book, serial, WHY, kit.clock), void(kit.book, serial, WHY, kit.clock)
    assert voided.revision.seal == repeated.revision.seal
    assert (voided.is_repeat, repeated.is_repeat) == (False, True)
    again = Why("another reason", "ruth")
    for action in (
        lambda: amend(kit.book, serial, document, WHY, kit.clock),
        lambda: void(kit.book, serial, again, kit.clock),
    ):
        with pytest.raises(UsageError, match="was voided"):
            action()


def test_the_commands(firm: Path, swathbook: Swathbook, tmp_path: Path) -> None:
    """Show the entry, amend it, look at the history, void it: as somebody at a terminal does, and as JSON."""

    def run(*words: object, stdin: str | None = None) -> Ran:
        return swathbook("--book", firm, *words, stdin=stdin)

    assert run("close", VISITS / "good.json").code == 0
    entry = run("show", "2026-1", "--entry")
    assert json.loads(entry.out) == json.loads((VISITS / "good.json").read_text("utf-8"))
    document = json.loads(entry.out)
    document["treatments"][0]["products"][0]["lot"] = "B9999"
    file = tmp_path / "corrected.json"
    file.write_text(json.dumps(document), "utf-8")
    done = run("amend", "2026-1", file, "--reason", "lot read wrong", "--by", "mo")
    assert done.code == 0
    assert "SEALED 2026-000001, revision 2" in done.out
    again = run("--json", "amend", "2026-1", "-", "--reason", "lot read wrong", "--by", "mo", stdin=file.read_text())
    assert json.loads(again.out)["revision"] == 2
    shown = run("show", "2026-1").out
    assert "reason: lot read wrong" in shown
    assert "is 1: B9999" in " ".join(shown.split())
    as_json = json.loads(run("--json", "show", "2026-1").out)["revisions"]
    assert [[change["what"] for change in one["changes"]] for one in as_json] == [[], ["Lot"]]
    parts = ("--set", "treatments[0].products[0].lot=B7", "--reason", "read again", "--by", "mo")
    assert "revision 3" in run("amend", "2026-1", *parts).out
    assert run("amend", "2026-1", "--reason", "nothing", "--by", "mo").code == 2
    over = ("--set", "treatments[0].products[0].rate=9 fl oz/1000 sq ft", "--reason", "cup misread", "--by", "mo")
    assert run("amend", "2026-1", *over).code == 1
    assert "amends 2026-000001: over-rate" in " ".join(run("held").out.split())
    assert "amends 2026-000001: that record stands as it is" in run("held", "show", "1").out
    assert run("held", "drop", "1", "--reason", "misread again").code == 0
    assert list(json.loads(run("show", "2026-1", "--entry").out))[:3] == ["ref", "site", "applicator"]
    assert run("void", "2026-1", "--reason", "entered twice").code == 0
    assert run("notice", "2026-1", "--out", tmp_path / "notice.pdf").code == 2
    season = run("notice", "quarry-rd-58", "--season", "2026", "--out", tmp_path / "season.pdf")
    assert (season.code, "nothing was applied" in season.err) == (9, True)
    assert not list(tmp_path.glob("*.pdf"))
    assert "voided by account " in run("show", "2026-1").out  # nobody was named, and five people are in the book
    assert "** VOIDED" in run("show", "2026-1").out
    found = run("find")
    assert "2026-000001*" in found.out
    assert "voided" in found.err
    assert json.loads(run("--json", "find").out)["applications"][0]["voided"] is True
    assert run("amend", "2026-1", file, "--reason", "x", "--by", "mo").code == 2
    assert run("verify").code == 0


@pytest.mark.parametrize(
    ("language", "title", "words"),
    [
        ("en", "Corrected notice of lawn treatment", "takes the place of the notices before it"),
        ("es", "Aviso corregido de tratamiento del césped", "reemplaza los avisos anteriores"),
    ],
)
def test_the_notice_of_a_corrected_record_says_so(
    firm: Path, swathbook: Swathbook, tmp_path: Path, language: str, title: str, words: str
) -> None:
    """A customer holding two pages sees which one holds: by its title, and by the day of the correction."""

    def page(name: str) -> str:
        ran = swathbook("--book", firm, "notice", "2026-1", "--language", language, "--out", tmp_path / name)
        assert ran.code == 0
        return " ".join(pypdf.PdfReader(tmp_path / name).pages[0].extract_text().split())

    assert swathbook("--book", firm, "close", VISITS / "good.json").code == 0
    first = page("first.pdf")
    assert title not in first
    assert words not in first
    set_lot = ("--set", "treatments[0].products[0].lot=B7", "--reason", "lot misread", "--by", "mo")
    assert swathbook("--book", firm, "amend", "2026-1", *set_lot).code == 0
    second = page("second.pdf")
    assert title in second
    assert words in second
    assert "2026-000001, revisi" in second


def test_a_held_amendment_is_nobody_elses(kit: Kit) -> None:
    """Another amendment leaves it held, one that is refused gets a number of its own; a voiding drops both."""
    serial = sealed(kit)
    over = corrected(kit, serial, rate="9 fl oz/1000 sq ft")
    first = amend(kit.book, serial, over, WHY, kit.clock)
    assert first.status == "held"
    assert amend(kit.book, serial, over, WHY, kit.clock).held == first.held  # the very same again
    second = amend(kit.book, serial, corrected(kit, serial, rate="8 fl oz/1000 sq ft"), WHY, kit.clock)
    assert second.held not in {None, first.held}
    done = amend(kit.book, serial, corrected(kit, serial, lot="L9"), WHY, kit.clock)
    assert (done.status, done.revision) == ("sealed", 2)
    with kit.book.read() as work:
        assert [entry.number for entry in work.held.open()] == [first.held, second.held]
    voided = void(kit.book, serial, WHY, kit.clock)
    assert voided.dropped == (first.held, second.held)
    with kit.book.read() as work:
        assert work.held.open() == []
        dropped = work.held.get(str(first.held))
        assert dropped is not None
        assert (dropped.state, dropped.document["treatments"]) == ("dropped", over["treatments"])
        assert serial in dropped.reason


def test_a_voided_visit_is_closed_anew_only_with_a_ref_of_its_own(kit: Kit) -> None:
    """Closing it again says that it was voided, and what to do; nothing claims that it is sealed."""
    serial = sealed(kit, ref="once")
    with kit.book.read() as work:
        document = work.records.revisions(serial)[0].body["document"]
    void(kit.book, serial, WHY, kit.clock)
    with pytest.raises(RefConflictError, match=rf"{serial}, which was voided.*another ref"):
        close_visit(kit.book, document, kit.clock)
    assert close_visit(kit.book, document | {"ref": "twice"}, kit.clock).status == "sealed"


def test_who_has_the_old_notice_is_told(firm: Path, swathbook: Swathbook) -> None:
    """Amending and voiding a visit whose notice was given say which revision the customer has."""

    def run(*words: object) -> Ran:
        return swathbook("--book", firm, *words)

    assert run("close", VISITS / "good.json").code == 0
    lot = ("--reason", "misread", "--by", "mo", "--set")
    assert "customer has" not in run("amend", "2026-1", *lot, "treatments[0].products[0].lot=B7").out
    assert run("deliver", "2026-1", "--how", "paper", "--by", "mo").code == 0
    told = " ".join(run("amend", "2026-1", *lot, "treatments[0].products[0].lot=B8").out.split())
    assert "The customer has the notice of revision 2 (on paper" in told
    assert "swathbook deliver 2026-000001 --how paper" in told
    assert "outdated" in run("deliveries", "--missing").out
    gone = " ".join(run("void", "2026-1", "--reason", "never sprayed", "--by", "mo").out.split())
    assert "revision 2 (on paper" in gone
    again = run("void", "2026-1", "--reason", "never sprayed", "--by", "mo").out
    assert "it was before; nothing was written" in " ".join(again.split())


def test_an_older_held_amendment_takes_nothing_back(kit: Kit) -> None:
    """It is the whole text of its time: once the record was amended otherwise, it cannot be sealed any more."""
    serial = sealed(kit)
    first = amend(kit.book, serial, corrected(kit, serial, rate="9 fl oz/1000 sq ft"), WHY, kit.clock)
    assert amend(kit.book, serial, corrected(kit, serial, lot="L9"), WHY, kit.clock).revision == 2
    assert amendments_held(kit.book, serial) == [first.held]
    with pytest.raises(HeldStateError, match=r"corrects revision 1 of .*, but revision 2 stands now.*held drop"):
        close_held(kit.book, str(first.held), None, kit.clock)
    with kit.book.read() as work:
        document = work.records.revisions(serial)[0].body["document"]
    again = close_visit(kit.book, document | {"ref": document.get("ref")}, kit.clock) if document.get("ref") else None
    assert again is None or again.revision == 2


def test_what_was_changed_after_sealing_is_not_handed_over(
    firm: Path, swathbook: Swathbook, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """No notice, packet or delivery is made of it, and the screen says so; verify and show still tell all."""
    monkeypatch.chdir(tmp_path)

    def run(*words: object) -> Ran:
        return swathbook("--book", firm, *words)

    assert run("close", VISITS / "good.json").code == 0
    tamper(firm, "UPDATE revision SET body = replace(body, '0.9 fl oz', '0.8 fl oz') WHERE id = 1")
    for words in (
        ("notice", "2026-1", "--out", "n.pdf"),
        ("notice", "quarry-rd-58", "--season", "2026", "--out", "n.pdf"),
        ("inspect", "--from", "2026", "--out", "p.pdf"),
        ("inspect", "--from", "2026"),
        ("deliver", "2026-1", "--how", "paper"),
    ):
        ran = run(*words)
        assert ran.code == 6, words
        assert "was changed after it was sealed" in ran.err
    assert not list(tmp_path.glob("*.pdf"))
    shown = run("show", "2026-1")
    assert shown.code == 0
    assert "WAS CHANGED AFTER IT WAS SEALED" in shown.err


def test_what_stands_not_is_not_signed_for_or_delivered(firm: Path, swathbook: Swathbook) -> None:
    """No sign for a voided visit; a notice given before the correction was another one; a site tells of its voided."""

    def run(*words: object) -> Ran:
        return swathbook("--book", firm, *words)

    assert run("close", VISITS / "good.json").code == 0
    lot = ("--reason", "misread", "--by", "mo", "--set", "treatments[0].products[0].lot=B7")
    assert run("amend", "2026-1", *lot).code == 0
    early = run("deliver", "2026-1", "--how", "paper", "--at", "2026-10-19T10:40")
    assert (early.code, "was not there yet" in early.err) == (2, True)
    assert run("void", "2026-1", "--reason", "entered twice", "--by", "mo").code == 0
    assert "voided by Mo" in run("show", "2026-1").out
    assert "was voided" in run("sign", "2026-1").err
    for words in (("emergency", "quarry-rd-58"), ("notice", "quarry-rd-58", "--season", "2026")):
        ran = run(*words)
        assert ran.code == 9
        assert "2026-000001" in ran.err


@pytest.mark.parametrize(
    ("language", "words"), [("en", "0.9 fl oz per 1,000 sq ft"), ("es", "en el primer aviso, ahora")]
)
def test_a_corrected_notice_tells_what_changed(
    firm: Path, swathbook: Swathbook, tmp_path: Path, language: str, words: str
) -> None:
    """Against the first notice, in the language of the page; the cautions at the foot stay whole."""
    assert swathbook("--book", firm, "close", VISITS / "good.json").code == 0
    change = (
        "--set",
        "treatments[0].products[0].rate=0.8 fl oz/1000 sq ft",
        "--set",
        "treatments[0].products[0].amount=",
    )
    done = swathbook("--book", firm, "amend", "2026-1", *change, "--reason", "cup misread", "--by", "mo")
    assert done.code == 0, done.out
    page = tmp_path / "n.pdf"
    assert swathbook("--book", firm, "notice", "2026-1", "--language", language, "--out", page).code == 0
    text = " ".join(pypdf.PdfReader(page).pages[0].extract_text().split())
    assert words in text
    assert "0.8 " in text
    assert "professional" in text or "profesional" in text
