"""Closing a visit from a file or stdin: the answer for people and the answer for programs."""

from __future__ import annotations

import json
from typing import TYPE_CHECKING, Any

import pytest

from tests.cli.conftest import VISITS, season, visit

if TYPE_CHECKING:
    from pathlib import Path

    from tests.cli.conftest import Swathbook

ANSWER = ["schema", "status", "serial", "held", "deviation", "applications", "findings"]
APPLICATION = ["treatment", "product", "registration", "rate", "amount", "area"]
FINDING = ["code", "severity", "at", "message", "limit", "found", "source"]


def test_a_good_visit_is_sealed(swathbook: Swathbook, firm: Path) -> None:
    """The screen names the serial, every amount, and what to hand to the customer."""
    ran = swathbook("--book", firm, "close", VISITS / "good.json", at="2026-10-19T10:00-05:00")
    assert (ran.code, ran.err) == (0, "")
    assert ran.out.startswith("SEALED 2026-000001\n")
    assert "brindle-4l  99999-41  0.9 fl oz/1000 sq ft  12.51 fl oz  13900 sq ft" in ran.out
    assert "swathbook notice 2026-000001" in ran.out


def test_the_answer_of_close_has_the_keys_of_the_contract(swathbook: Swathbook, firm: Path) -> None:
    """`close --json` in the words and the order of the outside contract (shape of the answer, version 1)."""
    example: dict[str, Any] = next(v for v in season() if v["ref"] == "2026-05-14-lark-lane")
    ran = swathbook("--book", firm, "--json", "close", "-", stdin=json.dumps(example), at="2026-05-14T09:40-05:00")
    assert ran.code == 0
    told = ran.json
    assert list(told) == ANSWER
    assert {key: told[key] for key in ANSWER[:5]} == {
        "schema": 1,
        "status": "sealed",
        "serial": "2026-000001",
        "held": None,
        "deviation": False,
    }
    assert told["applications"][0] == {
        "treatment": 0,
        "product": "brindle-4l",
        "registration": "99999-41",
        "rate": "1.1 fl oz/1000 sq ft",
        "amount": "4.62 fl oz",
        "area": "4200 sq ft",
    }
    assert [list(application) for application in told["applications"]] == [APPLICATION] * 3
    assert told["applications"][1]["registration"] is None  # an adjuvant has no number
    assert told["findings"] == []


def test_the_answer_of_a_held_visit(swathbook: Swathbook, firm: Path) -> None:
    """Exit 1, no serial, a held number, and each finding with all its parts as text."""
    ran = swathbook("--book", firm, "close", VISITS / "over-rate.json", "--json")
    assert ran.code == 1
    told = ran.json
    assert list(told) == ANSWER
    assert (told["status"], told["serial"], told["held"], told["applications"]) == ("held", None, "H-000001", [])
    for finding in told["findings"]:
        assert list(finding) == FINDING
        assert all(isinstance(part, str) for part in finding.values())
    (over,) = [finding for finding in told["findings"] if finding["code"] == "over-rate"]
    assert (over["severity"], over["at"]) == ("stop", "treatments[0].products[0].rate")


def test_a_held_visit_shows_the_ways_out(swathbook: Swathbook, firm: Path) -> None:
    """What is wrong, and each command that helps; copied from the screen, they work."""
    ran = swathbook("--book", firm, "close", VISITS / "over-rate.json")
    assert ran.code == 1
    words = " ".join(ran.out.split())
    assert "HELD as H-000001: nothing typed is lost." in words
    assert "[over-rate] at treatments[0].products[0].rate" in words
    assert "swathbook held correct H-000001 --set 'PLACE=VALUE'" in words
    assert "swathbook held correct H-000001 --as-applied 'REASON' --signed-by PERSON" in words


def test_stdin_is_read_for_a_dash(swathbook: Swathbook, firm: Path) -> None:
    """The same document from a file and from stdin is the same visit."""
    first = swathbook("--book", firm, "close", "-", stdin=json.dumps(visit()))
    assert first.code == 0
    again = swathbook("--book", firm, "close", "-", stdin=json.dumps(visit()))
    assert again.code == 0
    assert "SEALED 2026-000001 (already in the book; nothing was written)" in again.out
    assert swathbook("--book", firm, "find", "--json").json["records"] == 1


def test_the_same_ref_with_other_content_is_refused(swathbook: Swathbook, firm: Path) -> None:
    """Exit 10, and nothing is written."""
    swathbook("--book", firm, "close", "-", stdin=json.dumps(visit()))
    ran = swathbook("--book", firm, "close", "-", stdin=json.dumps(visit(remarks="other")))
    assert (ran.code, ran.out) == (10, "")
    assert "ref 'test-1' is already sealed as 2026-000001 with other content" in ran.err
    told = swathbook("--book", firm, "close", "-", "--json", stdin=json.dumps(visit(remarks="other")))
    assert told.json["error"]["code"] == "ref-conflict"


def test_what_really_happened_is_sealed_with_a_signature(swathbook: Swathbook, firm: Path) -> None:
    """`--as-applied` makes a deviation that shows."""
    words = ("--as-applied", "Worn nozzle, found at the truck.", "--signed-by", "mo")
    ran = swathbook("--book", firm, "close", VISITS / "as-applied.json", *words)
    assert ran.code == 0
    assert "AS APPLIED, a deviation" in ran.out
    found = swathbook("--book", firm, "find", "--deviation")
    assert "2026-000001!" in found.out
    assert "DEVIATION" in swathbook("--book", firm, "show", "2026-1").out


def test_a_signature_that_nothing_needs_is_said_not_to_be_kept(swathbook: Swathbook, firm: Path) -> None:
    """A visit within its limits is an ordinary record; what was typed beside it does not vanish without a word."""
    words = ("--as-applied", "Worn nozzle.", "--signed-by", "mo")
    ran = swathbook("--book", firm, "close", "-", *words, stdin=json.dumps(visit()))
    assert ran.code == 0
    assert "SEALED 2026-000001\n" in ran.out
    assert "the reason and the signature are not part of it" in " ".join(ran.err.split())


@pytest.mark.parametrize(
    ("words", "code", "told"),
    [
        (["--as-applied", "x"], 2, "go together"),
        (["--signed-by", "mo"], 2, "go together"),
        (["--as-applied", "x", "--signed-by", "nobody"], 13, "no person 'nobody'"),
        (["--as-applied", "x", "--signed-by", "wes"], 13, "was not certified"),
        (["--as-applied", "  ", "--signed-by", "mo"], 13, "needs a reason"),
        (["--lines", "x.jsonl"], 2, "--lines takes neither"),
    ],
)
def test_a_signature_that_does_not_count(
    words: list[str], code: int, told: str, swathbook: Swathbook, firm: Path
) -> None:
    """One line, and nothing is sealed; what was typed is held where only the signature was wrong."""
    ran = swathbook("--book", firm, "close", VISITS / "as-applied.json", *words)
    assert (ran.code, ran.out) == (code, "")
    assert told in ran.err
    assert swathbook("--book", firm, "find").out == "nothing found\n"
    assert len(swathbook("--book", firm, "held", "--json").json["held"]) == (1 if code == 13 else 0)


def test_many_lines_each_have_their_own_verdict(swathbook: Swathbook, firm: Path, tmp_path: Path) -> None:
    """Sealed, held and refused ones side by side; the totals are told."""
    lines = [
        json.dumps(visit(ref="a")),
        "",
        json.dumps(visit(ref="b", weather={})),
        "{not json",
        json.dumps(visit(ref="a", remarks="other")),
        json.dumps(visit(ref="a")),
    ]
    path = tmp_path / "day.jsonl"
    path.write_text("\n".join(lines), "utf-8")
    ran = swathbook("--book", firm, "close", "--lines", path)
    assert ran.code == 1
    assert "line 3 (b): held as H-000001: missing" in ran.out
    assert "refused: line 4 is not JSON" in ran.out
    assert "refused: line 5: ref 'a' is already sealed" in ran.out
    assert ran.out.endswith("5 visits: 2 sealed (1 of them already in the book), 1 held, 2 refused\n")


def test_many_lines_answer_in_one_document(swathbook: Swathbook, firm: Path) -> None:
    """`--lines --json`: a result a line in the form of the contract, then the counts."""
    lines = "\n".join([json.dumps(visit(ref="a")), "", json.dumps(visit(ref="b", site="nowhere")), "[]"])
    ran = swathbook("--book", firm, "close", "--json", "--lines", "-", stdin=lines)
    assert ran.code == 1
    told = ran.json
    assert (told["schema"], told["sealed"], told["held"], told["refused"]) == (1, 1, 1, 1)
    assert [result["status"] for result in told["results"]] == ["sealed", "held", "refused"]
    assert [result["line"] for result in told["results"]] == [1, 3, 4]
    assert all(list(result)[: len(ANSWER)] == ANSWER for result in told["results"])


def test_no_lines_at_all(swathbook: Swathbook, firm: Path) -> None:
    """An empty file is no visits, done."""
    ran = swathbook("--book", firm, "close", "--lines", "-", stdin="\n\n")
    assert (ran.code, ran.out) == (0, "0 visits: 0 sealed, 0 held, 0 refused\n")
    told = swathbook("--book", firm, "close", "--lines", "-", "--json", stdin="")
    assert told.json["results"] == []
