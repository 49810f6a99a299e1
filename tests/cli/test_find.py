"""Finding records and reading one in full, as an owner in an inspection and the office on the telephone do."""

from __future__ import annotations

import json
from typing import TYPE_CHECKING, Any

import pytest

from tests.cli.conftest import visit

if TYPE_CHECKING:
    from pathlib import Path

    from tests.cli.conftest import Swathbook


def lines(swathbook: Swathbook, book: Path, *words: str) -> list[dict[str, Any]]:
    """Return the applications that `find --json` gives."""
    ran = swathbook("--book", book, "find", "--json", *words)
    assert ran.code == 0
    found: list[dict[str, Any]] = ran.json["applications"]
    return found


def test_what_was_sprayed_at_this_address_since_may(swathbook: Swathbook, season_book: Path) -> None:
    """One command; the site is named once, newest first, nothing cut."""
    ran = swathbook("--book", season_book, "find", "--site", "Lark Lane", "--since", "2026-05")
    assert ran.code == 0
    assert ran.out.startswith("7 Lark Lane; lark-lane-7; Berit Halvorsen\nrecord       date        applied by")
    assert "2026-000025  2026-05-14  Mo Lindqvist  Brindle 4L      4.62 fl oz  ground ivy" in ran.out
    assert "2026-000001" not in ran.out  # April
    assert "records; swathbook show SERIAL tells all of one" in ran.err


@pytest.mark.parametrize(
    ("words", "key", "value"),
    [
        (["--site", "lark-lane-7"], "site", "lark-lane-7"),
        (["--site", "kettle court"], "site", "kettle-ct-31"),
        (["--customer", "halvorsen"], "customer", "Berit Halvorsen"),
        (["--customer", "Nguyễn Thị"], "customer", "Nguyễn Thị Hồng Ánh"),
        (["--person", "ines"], "applicator", "Inés Beltrán Ochoa"),
        (["--person", "Jory"], "applicator", "Jory Wren"),
    ],
)
def test_find_by_one_thing(words: list[str], key: str, value: str, swathbook: Swathbook, season_book: Path) -> None:
    """By id or by a part of the name, whatever its case."""
    found = lines(swathbook, season_book, *words)
    assert found
    assert {line[key] for line in found} == {value}


def test_the_product_that_was_asked_for_comes_first(swathbook: Swathbook, season_book: Path) -> None:
    """What else a record put out follows it, and is told as going with it."""
    ran = swathbook("--book", season_book, "find", "--product", "spreadwell", "--limit", "2")
    rows = [line for line in ran.out.splitlines() if line.startswith("2026-")]
    assert ["with " in row for row in rows] == [False, True, False, True]
    data = json.loads(swathbook("--book", season_book, "--json", "find", "--product", "spreadwell", "--limit", "2").out)
    assert [line["matches"] for line in data["applications"]] == [True, False, True, False]
    assert "with " not in swathbook("--book", season_book, "find", "--limit", "2").out


def test_find_by_product_number_active_and_target(swathbook: Swathbook, season_book: Path) -> None:
    """A record is found when one of its lines matches; it is shown whole."""

    def serials(*words: str) -> set[str]:
        return {line["serial"] for line in lines(swathbook, season_book, *words)}

    assert serials("--product", "99999-58") == serials("--product", "orlop-3w") != set()
    assert serials("--product", "99999-58-88888") == serials("--product", "pellam") != set()
    active = serials("--active", "brindlac acid")
    assert serials("--product", "brindle-4l") < active
    assert serials("--product", "pellam-3w") < active
    assert "2026-000025" in serials("--target", "ground ivy")
    assert serials("--target", "ground ivy", "--site", "lark-lane-7") == {"2026-000025"}


def test_find_by_days(swathbook: Swathbook, season_book: Path) -> None:
    """A month or a year may stand for its first or its last day; both ends count."""
    may = lines(swathbook, season_book, "--since", "2026-05", "--until", "2026-05")
    assert {line["date"][:7] for line in may} == {"2026-05"}
    day = lines(swathbook, season_book, "--since", "2026-05-14", "--until", "2026-05-14")
    assert {line["date"] for line in day} == {"2026-05-14"}
    everything = lines(swathbook, season_book, "--since", "2026", "--until", "2026")
    assert len({line["serial"] for line in everything}) == 138
    assert lines(swathbook, season_book, "--until", "2025") == []
    for wrong in ("May", "2026-13", "2026-02-30", "05/14/2026", "0000-01-01"):
        ran = swathbook("--book", season_book, "find", "--since", wrong)
        assert (ran.code, ran.out) == (2, "")


def test_find_flags_and_limit(swathbook: Swathbook, season_book: Path) -> None:
    """Nothing found is no error."""
    assert len({line["serial"] for line in lines(swathbook, season_book, "--limit", "3")}) == 3
    ran = swathbook("--book", season_book, "find", "--deviation")
    assert (ran.code, ran.out, ran.err) == (0, "nothing found\n", "")
    assert lines(swathbook, season_book, "--incomplete") == []


@pytest.mark.parametrize("text", ["%", "_", "'", '"; DROP TABLE revision; --', "*", "\\", "x" * 5000, "\N{BULLET}"])
def test_what_is_looked_for_is_text(text: str, swathbook: Swathbook, season_book: Path) -> None:
    """Marks that a database would take for its own are only text."""
    for option in ("--site", "--customer", "--product", "--active", "--person", "--target"):
        found = lines(swathbook, season_book, option, text)
        assert all(text in json.dumps(line, ensure_ascii=False) for line in found)


def test_show_is_one_record_in_full(swathbook: Swathbook, season_book: Path) -> None:
    """Who with which licence, when, in what weather, what, how much, and the label line it was judged by."""
    ran = swathbook("--book", season_book, "show", "2026-25")
    assert (ran.code, ran.err) == (0, "")
    words = " ".join(ran.out.split())
    for part in (
        "RECORD 2026-000025",
        "Loon Hollow Lawn Care, MN-B-990417",
        "7 Lark Lane, Birchfold, MN 55290 (lark-lane-7)",
        "Mo Lindqvist (certified, MN MN-C-990101, valid to 2026-12-31)",
        "start 2026-05-14 09:10 (UTC-05:00)",
        "wind 6 mph from NW; temperature 71 degF; measured 2026-05-14 09:05 (UTC-05:00); by meter",
        "Brindle 4L (99999-41)",
        "rate 1.1 fl oz/1000 sq ft",
        "amount 4.62 fl oz",
        "revision 2025-11; allows 0.8 to 1.1 fl oz/1000 sq ft",
        "until the spray has dried",
        "seal",
    ):
        assert part in words, part


def test_show_in_json_is_the_sealed_body(swathbook: Swathbook, season_book: Path) -> None:
    """With its seal and the one before."""
    told = swathbook("--book", season_book, "--json", "show", "2026-000025").json
    (revision,) = told["revisions"]
    assert told["serial"] == "2026-000025"
    assert len(revision["seal"]) == len(revision["previous"]) == 64
    assert revision["body"]["document"]["ref"] == "2026-05-14-lark-lane"


@pytest.mark.parametrize("serial", ["2026-999999", "2025-1", "x", "", "2026-0", "../2026-1", "2026-\u0661"])
def test_a_record_that_is_not_there(serial: str, swathbook: Swathbook, season_book: Path) -> None:
    """Exit 9 for the record and for its notice."""
    for words in (["show", serial], ["notice", serial]):
        ran = swathbook("--book", season_book, *words)
        assert (ran.code, ran.out) == (9, "")
        assert ran.err.count("\n") == 1


def test_what_was_not_measured_is_shown_with_its_reason(swathbook: Swathbook, firm: Path) -> None:
    """Missing is not zero."""
    weather = {**visit()["weather"], "temperature": {"not_measured": "thermometer broken"}}
    document = visit(weather=weather, confirmed=["missing", "not-checkable"])
    assert swathbook("--book", firm, "close", "-", stdin=json.dumps(document)).code == 0
    assert "temperature not measured (thermometer broken)" in " ".join(
        swathbook("--book", firm, "show", "2026-1").out.split()
    )


def test_a_wide_terminal_is_used_and_a_narrow_one_is_kept(
    swathbook: Swathbook, season_book: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Down to 40 columns nothing is cut, only wrapped."""
    for columns in (40, 60, 100):
        monkeypatch.setenv("COLUMNS", str(columns))
        for words in (["find", "--site", "lark"], ["summary", "2026"], ["catalogue", "sites"], ["show", "2026-25"]):
            ran = swathbook("--book", season_book, *words, watched=False)
            # A seal is one word of 64 characters that no terminal may cut.
            wide = [line for line in ran.out.splitlines() if len(line) > columns and "seal " not in line]
            assert not [line for line in wide if len(line) > 80], (columns, wide[:2])
            assert "~" not in ran.out


def test_an_event_is_shown_as_what_it_is(swathbook: Swathbook, year: Path) -> None:
    """A delivery is no visit: nothing is said to be not recorded, and what was sealed of it is told."""
    serial = "2026-000001"
    assert swathbook("--book", year, "deliver", serial, "--how", "paper").code == 0
    ran = swathbook("--book", year, "show", "E-000001")
    assert ran.out.startswith("EVENT E-000001: delivery\n")
    assert serial in ran.out
    assert "not recorded" not in ran.out
