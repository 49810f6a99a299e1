"""What is refused is held with all its findings, and can be corrected or dropped; nothing typed is lost."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest

from records.errors import HeldStateError, NotFoundError, RefConflictError, UsageError
from records.services.holding import drop_held, list_held, show_held
from tests.kit import ABSENT, LARKIN, codes, labelled, visit

if TYPE_CHECKING:
    from tests.kit import Json, Kit

OVER = "0.9 fl oz/1000 sq ft"


def serials(kit: Kit) -> list[str]:
    """Return the serials of the book in the order of sealing."""
    with kit.book.read() as work:
        return [revision.serial for revision in work.records.walk()]


def test_a_refused_visit_is_held_as_typed(kit: Kit) -> None:
    """All findings at once, the document word for word, the person and the moment."""
    outcome = kit.close(rate=OVER, wind_speed=ABSENT, applicator="emil")
    assert (outcome.status, outcome.serial, outcome.held) == ("held", None, "H-000001")
    assert codes(outcome, "stop") == {"over-rate", "missing", "supervision"}
    entry = show_held(kit.book, "h-000001")
    assert entry.document == visit(rate=OVER, wind_speed=ABSENT, applicator="emil")
    assert (entry.state, entry.person, entry.ref) == ("held", "emil", None)
    assert entry.findings == list(outcome.findings)
    assert [one.number for one in list_held(kit.book)] == ["H-000001"]
    assert serials(kit) == []


def test_the_answer_has_the_outside_form(kit: Kit) -> None:
    """Held and sealed answers carry the same names (design, outside contract)."""
    held, sealed = kit.close(rate=OVER).document(), kit.close().document()
    assert list(held) == list(sealed)
    assert list(held) == ["schema", "status", "serial", "held", "deviation", "applications", "findings"]
    assert list(held["findings"][0]) == ["code", "severity", "at", "message", "limit", "found", "source"]
    assert sealed["applications"] == [
        {
            "treatment": 0,
            "product": "larkin-4",
            "registration": "99999-51",
            "rate": "0.75 fl oz/1000 sq ft",
            "amount": "3 fl oz",
            "area": "4000 sq ft",
        }
    ]


def test_a_corrected_entry_is_sealed_and_closed(kit: Kit) -> None:
    """Correcting seals under a serial, and the entry says which."""
    number = kit.close(rate=OVER).held or ""
    still = kit.again(number, visit(rate="0.8 fl oz/1000 sq ft"))
    assert (still.status, still.held) == ("held", number)
    done = kit.again(number, visit())
    assert (done.status, done.serial) == ("sealed", "2026-000001")
    entry = show_held(kit.book, number)
    assert (entry.state, entry.serial, entry.document) == ("sealed", "2026-000001", visit())
    assert list_held(kit.book) == []


def test_nothing_happens_after_the_end(kit: Kit) -> None:
    """A sealed or dropped entry is neither corrected nor dropped again."""
    first, second = (kit.close(rate=OVER, lot=lot).held or "" for lot in ("A", "B"))
    kit.again(first, visit())
    drop_held(kit.book, second, "typed  twice\nby mistake", kit.clock)
    assert show_held(kit.book, second).reason == "typed twice by mistake"
    for number, state in ((first, "sealed as 2026-000001"), (second, "dropped")):
        with pytest.raises(HeldStateError, match=state):
            kit.again(number, visit())
        with pytest.raises(HeldStateError, match=state):
            drop_held(kit.book, number, "again", kit.clock)
    assert serials(kit) == ["2026-000001"]


@pytest.mark.parametrize("reason", ["", "  \n "])
def test_dropping_needs_a_reason(kit: Kit, reason: str) -> None:
    """Without a reason nothing is dropped."""
    number = kit.close(rate=OVER).held or ""
    with pytest.raises(UsageError, match="reason"):
        drop_held(kit.book, number, reason, kit.clock)
    assert show_held(kit.book, number).state == "held"


@pytest.mark.parametrize("number", ["H-000009", "", "2026-000001", "H-1'; DROP TABLE held_event; --"])
def test_unknown_numbers(kit: Kit, number: str) -> None:
    """A number that is not held is said to be so."""
    with pytest.raises(NotFoundError):
        kit.again(number, visit())


def test_the_same_refused_entry_is_held_once(kit: Kit) -> None:
    """Sending the same entry again, with or without a ref, adds nothing."""
    for ref in (ABSENT, "stop-4"):
        first, second = kit.close(rate=OVER, ref=ref), kit.close(rate=OVER, ref=ref)
        assert first.held == second.held
        assert second.is_repeat
    assert len(list_held(kit.book)) == 2


def test_a_ref_is_closed_once(kit: Kit) -> None:
    """The same ref with the same content gives the first serial and writes nothing; other content is refused."""
    first, second = kit.close(ref="stop-1"), kit.close(ref="stop-1")
    assert (first.serial, second.serial, second.is_repeat) == ("2026-000001", "2026-000001", True)
    assert second.document() == first.document()
    with pytest.raises(RefConflictError, match=r"stop-1.*2026-000001"):
        kit.close(ref="stop-1", lot="L78")
    with pytest.raises(RefConflictError):
        kit.close(ref=" stop-1 ", lot="L78")
    assert serials(kit) == ["2026-000001"]
    assert list_held(kit.book) == []


def test_a_held_ref_is_corrected_under_its_number(kit: Kit) -> None:
    """Closing the same ref with corrected content takes the held entry along, and is repeatable."""
    number = kit.close(ref="stop-2", rate=OVER).held
    worse = kit.close(ref="stop-2", rate="1 fl oz/1000 sq ft")
    assert worse.held == number
    done = kit.close(ref="stop-2")
    assert done.status == "sealed"
    assert show_held(kit.book, number or "").serial == done.serial
    assert kit.close(ref="stop-2").serial == done.serial
    assert serials(kit) == ["2026-000001"]


def test_a_dropped_ref_may_be_used_again(kit: Kit) -> None:
    """What was dropped never was a visit."""
    number = kit.close(ref="stop-3", rate=OVER).held or ""
    drop_held(kit.book, number, "wrong yard", kit.clock)
    assert kit.close(ref="stop-3").status == "sealed"
    assert show_held(kit.book, number).state == "dropped"


def test_confirmed_answers_questions_only(kit: Kit) -> None:
    """A code under `confirmed` answers a question; it never lifts a stop, and the record keeps both."""
    asked = kit.close(area="4100 sq ft")
    assert (asked.status, codes(asked)) == ("held", {"area-over-zone"})
    done = kit.again(asked.held or "", visit(area="4100 sq ft", confirmed=["AREA-over-zone"]))
    assert done.status == "sealed"
    assert done.body is not None
    assert done.body["confirmed"] == ["area-over-zone"]
    assert codes(done.body["findings"]) == {"area-over-zone"}
    assert kit.close("2026-06-01", rate=OVER, confirmed=["over-rate"]).status == "held"


def test_missing_facts_are_never_confirmed_away(kit: Kit) -> None:
    """`missing` answers the stated `not measured` only; what is simply absent stays missing."""
    assert kit.close(temperature=ABSENT, confirmed=["missing"]).status == "held"
    stated: Json = {"temperature": {"not_measured": "thermometer broken"}, "confirmed": ["missing"]}
    done = kit.close(**stated)
    assert done.status == "sealed"
    assert done.body is not None
    assert done.body["weather"]["not_measured"] == {"temperature": "thermometer broken"}
    assert done.body["weather"]["temperature"] is None


def test_one_problem_is_told_once(kit: Kit) -> None:
    """What could not be read is not called missing as well."""
    for changes in ({"weather": "fine"}, {"treatments": [7]}, {"mix": "load-b"}, {"mix": "load-a"}, {"finished": 5}):
        outcome = kit.close(**changes)
        assert len(outcome.findings) == 1, outcome.findings


@pytest.mark.parametrize("year", ["0001", "9999"])
def test_years_at_the_ends_of_the_calendar(kit: Kit, year: str) -> None:
    """Times that cannot be reckoned with are findings."""
    for offset in ("", "+14:00", "-12:00"):
        outcome = kit.close(started=f"{year}-12-31T23:59{offset}", finished=f"{year}-01-01T00:00{offset}")
        assert codes(outcome) == {"not-understood"}


def test_facts_are_frozen(kit: Kit) -> None:
    """A later edit of the catalogue changes no record, and a new one is judged by the new label."""
    kit.sealed()
    newer = labelled(LARKIN, use={"rates": [{"max": "0.3 fl oz/1000 sq ft"}]}, name="Larkin 4 New")
    newer["label"]["revision"] = "2026-06"
    kit.load(products=[newer])
    assert codes(kit.close("2026-07-01"), "stop") == {"over-rate"}
    with kit.book.read() as work:
        line = work.records.revisions("2026-000001")[0].body["treatments"][0]["applications"][0]
    assert (line["product"]["name"], line["product"]["version"]) == ("Larkin 4", 1)
    assert line["label"]["revision"] == "2025-10"
    assert line["label"]["use"]["rates"] == ["0.5 to 0.75 fl oz/1000 sq ft", "1.33 to 2 pt/acre"]


def test_every_error_has_its_line(kit: Kit) -> None:
    """An error is one line that says what to do."""
    number = kit.close(rate=OVER).held or ""
    drop_held(kit.book, number, "x", kit.clock)
    with pytest.raises(HeldStateError) as caught:
        kit.again(number)
    assert "\n" not in str(caught.value)
    assert caught.value.hint
