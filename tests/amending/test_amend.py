"""Amending and voiding: a new sealed revision, checked like a new entry; the first text stays, the last one counts."""

from __future__ import annotations

import copy
import json
from typing import TYPE_CHECKING, Any

import pypdf
import pytest

from records.errors import InputError, NotFoundError, SignatureError, UsageError
from records.services.amending import Why, amend, entry_of, void
from records.services.closing.service import AsApplied, close_held
from records.services.finding import revisions
from records.services.inspecting.changes import revisions_told
from records.services.ports import Criteria
from records.storage.integrity import verify
from tests.cli.conftest import VISITS
from tests.kit import LARKIN, Kit, Part

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
    assert void(kit.book, serial, WHY, kit.clock).seal == void(kit.book, serial, WHY, kit.clock).seal
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
