"""What really happened can be recorded: with a reason and a certified person's signature, as a deviation."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest

from records.errors import SignatureError
from records.services.closing.service import AsApplied
from records.services.holding import show_held
from tests.kit import ABSENT, PEOPLE, codes, licence, visit

if TYPE_CHECKING:
    from tests.kit import Json, Kit

OVER = "0.9 fl oz/1000 sq ft"
RUTH = AsApplied("nozzle  worn,\nfound out afterwards", "ruth")


def test_over_the_label_is_sealed_as_a_deviation(kit: Kit) -> None:
    """Reason, signer and licence are on the record, the broken limit stays told."""
    number = kit.close(rate=OVER).held or ""
    done = kit.again(number, signed=RUTH)
    assert (done.status, done.deviation, done.serial) == ("sealed", True, "2026-000001")
    assert done.body is not None
    assert done.body["deviation"]["reason"] == "nozzle worn, found out afterwards"
    assert done.body["deviation"]["signed_by"]["licence"]["number"] == "MN-C-5501"
    assert codes(done) == {"over-rate"}
    assert show_held(kit.book, number).reason == "nozzle worn, found out afterwards"


@pytest.mark.parametrize(
    ("reason", "signer", "words"),
    [
        ("wind", "emil", "Emil Quist was not certified in MN on 2026-05-14"),
        ("wind", "tove", "Tove Lind was not certified"),
        ("wind", "olga", "Olga Brandt was not certified in MN"),
        ("wind", "nobody", "no person 'nobody'"),
        ("wind", "\x1b[31m", "no person '\\?"),
        ("  ", "ruth", "needs a reason"),
        ("\x1b]0;x", "ruth", "cannot be printed"),
        ("x" * 6000, "ruth", "cannot be printed"),
    ],
)
def test_a_refused_signature_loses_nothing(kit: Kit, reason: str, signer: str, words: str) -> None:
    """The visit is held before the signature is refused, and the message says under which number."""
    with pytest.raises(SignatureError, match=f"{words}.*held as H-000001"):
        kit.close(rate=OVER, signed=AsApplied(reason, signer))
    assert show_held(kit.book, "H-000001").document == visit(rate=OVER)


def test_a_correction_survives_a_refused_signature(kit: Kit) -> None:
    """What was typed to correct a held entry is kept as well."""
    number = kit.close(rate="2 fl oz/1000 sq ft").held or ""
    with pytest.raises(SignatureError):
        kit.again(number, visit(rate=OVER), AsApplied("wind", "emil"))
    assert show_held(kit.book, number).document == visit(rate=OVER)
    assert kit.again(number, signed=RUTH).deviation


def test_nothing_was_over(kit: Kit) -> None:
    """A lawful visit closed as applied is an ordinary record and needs no signature."""
    for day, signed in (("2026-05-14", RUTH), ("2026-06-14", AsApplied("", "emil"))):
        done = kit.close(day, signed=signed)
        assert (done.status, done.deviation) == ("sealed", False)
        assert done.body is not None
        assert done.body["deviation"] is None


@pytest.mark.parametrize(
    ("changes", "code"),
    [
        ({"wind_speed": ABSENT}, "missing"),
        ({"started": ABSENT}, "missing"),
        ({"targets": []}, "missing"),
        ({"amount": "30 fl oz"}, "disagree"),
        ({"rate": "0.5 oz wt/1000 sq ft"}, "unit-kind"),
        ({"product": "larkin-3"}, "product-unknown"),
        ({"on": "2026-05-14", "now": "2026-05-14T08:00"}, "future-date"),
        ({"finished": "2026-05-14T08:00"}, "clock-order"),
        ({"remark": "x"}, "unknown-key"),
    ],
)
def test_what_is_not_known_cannot_be_signed_for(kit: Kit, changes: Json, code: str) -> None:
    """Absent, contradictory or unreadable facts stay held: there would be nothing to put on record."""
    outcome = kit.close(**changes, signed=RUTH)
    assert outcome.status == "held"
    assert code in codes(outcome, "stop")


@pytest.mark.parametrize(
    "changes",
    [
        {"zones": ["south"], "area": "1500 sq ft"},
        {"zones": ["bed"], "area": "500 sq ft"},
        {"zones": ["green"], "area": "900 sq ft"},
        {"applicator": "nils"},
        {"applicator": "emil"},
        {"on": "2026-05-15", "applicator": "karl"},
        {"applicator": "siri"},
        {"method": "injection"},
    ],
)
def test_every_broken_limit_can_be_told_as_it_was(kit: Kit, changes: Json) -> None:
    """Site, turf, method, licence, supervision: what happened is recorded, and nobody has to lie."""
    assert kit.close(**changes, signed=RUTH).deviation


def test_the_signature_answers_the_questions_too(kit: Kit) -> None:
    """Signed for with a reason, an open question needs no word of its own."""
    assert kit.close(rate=OVER, area="4100 sq ft", signed=RUTH).deviation


def test_a_lapse_can_be_recorded_after_the_renewal(kit: Kit) -> None:
    """The only certified person worked after the licence ran out, renewed it, and signs for that with the new one."""
    lapsed = kit.close("2026-05-16", applicator="karl").held or ""
    with pytest.raises(SignatureError, match="Karl Ek was not certified"):
        kit.again(lapsed, signed=AsApplied("forgot to renew", "karl"))
    renewed = next(person for person in PEOPLE if person["id"] == "karl")
    old = renewed["licences"][0]
    new = licence(number="MN-C-10", **{"from": "2026-06-01", "to": "2027-05-31"})
    kit.load(people=[renewed | {"licences": [old, new]}])
    kit.set("2026-06-02T08:00")
    done = kit.again(lapsed, signed=AsApplied("forgot to renew", "karl"))
    assert done.deviation
    assert "licence-lapsed" in codes(done)
    assert done.body is not None
    assert done.body["deviation"]["signed_by"]["licence"]["number"] == "MN-C-10"
    assert done.body["applicator"]["licence"] is None


def test_last_season_is_signed_by_who_was_certified_then(kit: Kit) -> None:
    """In January the licence of the season has run out; it was good on the day of the work."""
    done = kit.close(rate=OVER, now="2027-01-20T10:00", signed=AsApplied("found in the winter", "karl"))
    assert done.deviation
    assert "late" in codes(done)
