"""`inspect` and `emergency` from the command line: on the screen, into files, logged; refusals."""

from __future__ import annotations

import hashlib
import json
from typing import TYPE_CHECKING

import pytest
from pypdf import PdfReader

if TYPE_CHECKING:
    from pathlib import Path

    from tests.inspect.conftest import Swathbook
    from tests.kit import Kit

ASKED = ("--asked-by", "R. Ames, state inspector", "--credentials", "badge 4471")


def events(kit: Kit) -> list[dict[str, object]]:
    """Return the data of the productions in the book."""
    with kit.book.read() as work:
        return [event.body["data"] for event in work.records.events("production")]


def test_a_short_answer_on_the_screen(swathbook: Swathbook, kit: Kit) -> None:
    """The question, counts, what is not complete with its rule, the last seal, and how to hand it over; no event."""
    ran = swathbook("inspect", "--site", "Mill Path", "--from", "2026-06", "--to", "2026-06")
    assert ran.code == 0
    assert ran.out.startswith("days: 2026-06-01 to 2026-06-30; site: 9 Mill Path, Tamarack Falls (mill-9)\n3 records\n")
    assert "\n  records       3\n" in ran.out
    assert "  2026-000007  2026-06-04 missing: the air temperature, stated: thermometer\n" in ran.out
    assert "[common: Minn. Stat. 18B.37 subd. 2 (verified)]" in ran.out
    assert "  H-000001  2026-06-29 held, not sealed" in ran.out
    with kit.book.read() as work:
        assert f"last seal     {work.records.head()}" in ran.out
    assert "--out FILE.pdf" in ran.err
    assert events(kit) == []


def test_files_of_every_kind_and_the_log(swathbook: Swathbook, kit: Kit, tmp_path: Path) -> None:
    """All four are written, their digests sealed with who asked; the log lists it; the chain still verifies."""
    names = [f"packet.{kind}" for kind in ("pdf", "csv", "xlsx", "json")]
    ran = swathbook("inspect", "--from", "2026-06", *ASKED, *(word for name in names for word in ("--out", name)))
    assert ran.code == 0
    assert ran.out == ""
    assert ran.err.splitlines()[:6] == ["days: 2026-06-01 to today", "5 records", *(f"wrote {name}" for name in names)]
    assert ran.err.endswith("sealed as E-000001: 5 records handed over\n")
    (data,) = events(kit)
    assert (data["to"], data["asked_by"], data["credentials"]) == ("agency", ASKED[1], ASKED[3])
    assert data["files"] == [
        {"name": name, "kind": name[7:], "sha256": hashlib.sha256((tmp_path / name).read_bytes()).hexdigest()}
        for name in names
    ]
    serials = "".join(f"2026-00000{number}\n" for number in range(4, 9))
    assert data["serials_digest"] == hashlib.sha256(serials.encode()).hexdigest()
    assert (data["records"], data["first"], data["last"]) == (5, "2026-000004", "2026-000008")
    log = swathbook("inspect", "--log")
    assert "E-000001" in log.out
    assert "badge" in log.out
    (told,) = swathbook("--json", "inspect", "--log").json["productions"]
    assert told["event"] == "E-000001"
    assert told["question"]["criteria"] == {"from": "2026-06-01"}
    with kit.book.read() as work:
        assert told["seal"] == work.records.head()
    assert swathbook("verify").code == 0
    assert sorted(path.name for path in tmp_path.iterdir() if path.suffix != ".db") == sorted(names)


def test_a_random_pull_repeats(swathbook: Swathbook) -> None:
    """The seed is printed and sealed; the same seed gives the same records, and `show` of them is at hand."""
    first = swathbook("--json", "inspect", "--random", "3").json
    again = swathbook("--json", "inspect", "--random", "3", "--seed", first["seed"]).json
    assert [one["serial"] for one in first["records"]] == [one["serial"] for one in again["records"]]
    ran = swathbook("inspect", "--random", "3", "--seed", "48213377")
    assert ran.out.startswith("random pull: 3 records, seed 48213377\n3 records picked of 8 that match\n")
    assert "  seed          48213377\n" in ran.out
    told = swathbook("--json", "inspect", "--log").json["productions"]
    assert [one["seed"] for one in told] == [first["seed"]] * 2
    assert told[0]["question"]["criteria"] == {"random": 3, "of": 8}


def test_json_to_stdout_is_handed_over(swathbook: Swathbook, kit: Kit) -> None:
    """What is printed as JSON is a production, too, and the event says that it went to stdout."""
    told = swathbook("--json", "inspect", "--serial", "2026-3").json
    assert [one["serial"] for one in told["records"]] == ["2026-000003"]
    assert [one["kind"] for one in events(kit)[0]["files"]] == ["json"]  # type: ignore[attr-defined]
    made = swathbook("--json", "inspect", "--serial", "2026-3", "--out", "p.csv").json
    assert (made["event"], made["counts"]["records"], made["files"][0]["name"]) == ("E-000002", "1", "p.csv")


def test_a_packet_of_one_site_is_filed_under_it(swathbook: Swathbook, kit: Kit) -> None:
    """The event carries the site where all records are of one, so that its history shows who asked."""
    swathbook("inspect", "--site", "mill-9", "--out", "p.pdf")
    swathbook("inspect", "--out", "p.pdf")
    with kit.book.read() as work:
        assert [event.serial for event in work.records.events("production", site="mill-9")] == ["E-000001"]


def test_an_empty_answer(swathbook: Swathbook, tmp_path: Path) -> None:
    """Nothing found is said, and can be handed over as well."""
    ran = swathbook("inspect", "--from", "2025", "--to", "2025")
    assert (ran.code, "\n0 records\n" in ran.out) == (0, True)
    assert "not complete\n  nothing\n" in ran.out
    ran = swathbook("inspect", "--from", "2025", "--to", "2025", "--out", "none.pdf")
    assert ran.code == 0
    assert "0 records handed over" in ran.err
    assert 1 <= len(PdfReader(tmp_path / "none.pdf").pages) <= 2


@pytest.mark.parametrize(
    ("words", "says"),
    [
        (["--seed", "7"], "--seed belongs to a random pull"),
        (["--random", "0"], "--random"),
        (["--from", "2026-06", "--to", "2026-05"], "2026-06-01 is after 2026-05-31"),
        (["--from", "soon"], "is no day"),
        (["--site", "nowhere"], "no site fits"),
        (["--serial", "2026-99"], "no record '2026-000099'"),
        (["--out", "packet.doc"], "does not say which kind of file"),
        (["--out", "no/such/folder.pdf"], "cannot be written"),
        (["--out", "p.pdf", "--paper", "foolscap"], "foolscap"),
    ],
)
def test_a_refusal_is_one_line_and_leaves_nothing(
    words: list[str], says: str, swathbook: Swathbook, kit: Kit, tmp_path: Path
) -> None:
    """Nothing is sealed, and no file is left."""
    ran = swathbook("inspect", *words)
    assert ran.code > 1
    assert says in ran.err
    assert events(kit) == []
    assert [path.name for path in tmp_path.iterdir() if path.suffix != ".db"] == []


def test_the_emergency_sheet_on_the_screen_in_a_file_and_as_json(
    swathbook: Swathbook, kit: Kit, tmp_path: Path
) -> None:
    """Each is logged as handed over for medical use; the page is one."""
    ran = swathbook("emergency", "Mill Path")
    assert ran.code == 0
    assert ran.out.startswith("PESTICIDES APPLIED AT THIS ADDRESS: 9 Mill Path, Tamarack Falls, MN 55199\n  911 ")
    assert "NOT CHECKED, may have been put out, too\n  H-000001" in ran.out
    assert ran.err == "sealed as E-000001\n"
    ran = swathbook("emergency", "mill-9", "--asked-by", "county fire", "--out", "sheet.pdf")
    assert ran.err == "wrote sheet.pdf\nsealed as E-000002\n"
    assert len(PdfReader(tmp_path / "sheet.pdf").pages) == 1
    told = swathbook("--json", "emergency", "mill-9").json
    assert told["not_sealed_yet"] == [
        (
            "H-000001 of 2026-06-29: Larkin 4, EPA Reg. No. 99999-51, signal word CAUTION, "
            "larkinic acid 4 lb/gal ae, 3 fl oz/1000 sq ft"
        )
    ]
    logged = events(kit)
    assert [one["to"] for one in logged] == ["medical"] * 3
    assert [one["asked_by"] for one in logged] == ["not stated", "county fire", "not stated"]
    assert logged[1]["files"][0]["name"] == "sheet.pdf"  # type: ignore[index]
    assert swathbook("verify").code == 0


def test_records_are_not_disturbed_by_what_was_handed_over(swathbook: Swathbook) -> None:
    """A production is no visit: the next packet counts the same records."""
    before = swathbook("--json", "inspect").json["counts"]
    swathbook("emergency", "mill-9")
    assert swathbook("--json", "inspect").json["counts"] == before
    assert json.loads(swathbook("--json", "find").out)["applications"]
