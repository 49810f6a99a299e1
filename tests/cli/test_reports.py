"""What is handed out, written through the command line: notices and the annual summary."""

from __future__ import annotations

import csv
import io
import json
import os
import sys
from typing import TYPE_CHECKING

import pytest
from pypdf import PdfReader

if TYPE_CHECKING:
    from pathlib import Path

    from tests.cli.conftest import Swathbook

LAYOUT = """\
layout = 1
name = "office-sheet"
about = "An invented sheet of three columns more than it needs"
source = "Invented for this test"

[file]
date = "YYYY-MM-DD"

[rows]
grain = "job"
timezone = "America/Chicago"
time_is = ""
job = ["Day", "Customer"]

[fields]
date = "Day"
customer = "Customer"
product = "Product"
registration = "Number"
amount = "Used"
amount_unit = "Unit"

[constants]
state = "MN"

[units.amount]
floz = "fl oz"
"""
TABLE = """\
Day,Customer,Product,Number,Used,Unit
2025-05-01,Berit Halvorsen,Brindle 4L,99999-41,4.6,floz
2025-05-02,Pa Nhia Vang,Brindle 4L,99999-41,3.1,floz
2025-05-03,Pa Nhia Vang,Brindle 4L,99999-41,many,floz
"""


def words(pdf: bytes) -> str:
    """Return the text of a PDF."""
    return " ".join(" ".join(page.extract_text() for page in PdfReader(io.BytesIO(pdf)).pages).split())


def test_a_notice_is_named_by_its_serial(swathbook: Swathbook, season_book: Path, tmp_path: Path) -> None:
    """Where it went is talk; the file is one page on letter paper."""
    ran = swathbook("--book", season_book, "notice", "2026-25")
    assert (ran.code, ran.err) == (0, "wrote notice-2026-000025.pdf\n")
    assert "until the spray has dried" in ran.out.splitlines()[0]
    pdf = (tmp_path / "notice-2026-000025.pdf").read_bytes()
    reader = PdfReader(io.BytesIO(pdf))
    assert len(reader.pages) == 1
    assert (float(reader.pages[0].mediabox.width), float(reader.pages[0].mediabox.height)) == (612, 792)
    text = words(pdf)
    for part in ("Brindle 4L", "99999-41", "1-800-222-1222", "until the spray has dried", "7 Lark Lane"):
        assert part in text, part


def test_a_notice_in_the_customers_language_or_another(swathbook: Swathbook, season_book: Path, tmp_path: Path) -> None:
    """Spanish for a customer who reads it; `--language` and `--paper` win."""
    serial = swathbook("--book", season_book, "find", "--json", "--site", "kettle-ct-31").json["applications"][0][
        "serial"
    ]
    told = swathbook("--book", season_book, "notice", serial, "--json").json
    assert (told["language"], told["file"]) == ("es", f"notice-{serial}.pdf")
    told = swathbook(
        "--book", season_book, "notice", serial, "--language", "en", "--paper", "a4", "--out", "en.pdf", "--json"
    ).json
    assert (told["language"], told["file"], told["paper"]) == ("en", "en.pdf", "a4")
    spanish, english = ((tmp_path / name).read_bytes() for name in (f"notice-{serial}.pdf", "en.pdf"))
    assert words(spanish) != words(english)
    assert round(float(PdfReader(io.BytesIO(english)).pages[0].mediabox.width)) == 595


def test_a_season_at_one_site(swathbook: Swathbook, season_book: Path, tmp_path: Path) -> None:
    """Everything of a year; the site by id or by a part of the address."""
    ran = swathbook("--book", season_book, "notice", "lark lane", "--season", "2026")
    assert (ran.code, ran.err) == (0, "wrote season-2026-lark-lane-7.pdf\n")
    text = words((tmp_path / "season-2026-lark-lane-7.pdf").read_bytes())
    assert "2026-000025" in text
    for wrong in (["lark-lane-7", "--season", "2019"], ["lane", "--season", "19"], ["row", "--season", "2026"]):
        ran = swathbook("--book", season_book, "notice", *wrong)
        assert ran.code in {2, 9}, (wrong, ran)
        assert ran.out == ""


def test_a_pdf_to_stdout(
    swathbook: Swathbook, season_book: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """`--out -` writes the bytes and nothing else, the same ones as to a file."""
    swathbook("--book", season_book, "notice", "2026-25", "--out", "a.pdf")
    with (tmp_path / "b.pdf").open("w") as stream:
        monkeypatch.setattr(sys, "stdout", stream)
        assert swathbook("--book", season_book, "--json", "notice", "2026-25", "--out", "-").code == 0
    monkeypatch.undo()
    assert (tmp_path / "a.pdf").read_bytes() == (tmp_path / "b.pdf").read_bytes()


@pytest.mark.parametrize(
    "options", [["--language", "de"], ["--language", "../en"], ["--paper", "a5"], ["--paper", ""], ["--language", ""]]
)
def test_a_language_or_paper_that_there_is_not(options: list[str], swathbook: Swathbook, season_book: Path) -> None:
    """One line, no file (an empty language is the customer's own)."""
    ran = swathbook("--book", season_book, "notice", "2026-25", *options)
    if options == ["--language", ""]:
        assert ran.code == 0
        return
    assert ran.code in {2, 9, 16}, ran
    assert ran.out == ""
    assert ran.err.count("\n") == 1


@pytest.mark.parametrize(
    "words_",
    [
        ["notice", "2026-25", "--out", "no/such/folder/n.pdf"],
        ["notice", "2026-25", "--out", "."],
        ["notice", "2026-25", "--out", "x" * 300],
        ["notice", "2026-25", "--out", "a\0b"],
        ["summary", "2026", "--out", "no/such/2026.pdf"],
        ["summary", "2026", "--csv", "no/such/2026.csv"],
    ],
    ids=lambda words_: words_[-1][:20],
)
def test_a_place_that_cannot_be_written(
    words_: list[str], swathbook: Swathbook, season_book: Path, tmp_path: Path
) -> None:
    """Exit 12, one line, and nothing half written."""
    ran = swathbook("--book", season_book, *words_)
    assert (ran.code, ran.out) == (12, "")
    assert ran.err.count("\n") == 1
    assert list(tmp_path.iterdir()) == []


@pytest.mark.skipif(os.geteuid() == 0, reason="the superuser may write anywhere")
def test_a_folder_that_may_not_be_written(swathbook: Swathbook, season_book: Path, tmp_path: Path) -> None:
    """The same for a folder that is only to be read."""
    (tmp_path / "shut").mkdir(mode=0o500)
    ran = swathbook("--book", season_book, "notice", "2026-25", "--out", "shut/n.pdf")
    assert (ran.code, ran.out) == (12, "")


def test_the_summary_on_a_screen(swathbook: Swathbook, season_book: Path) -> None:
    """Few columns, no empty one, amounts with their unit."""
    ran = swathbook("--book", season_book, "summary", "2026")
    assert ran.code == 0
    assert ran.out.startswith("Annual summary 2026: Loon Hollow Lawn Care\n")
    head = next(line for line in ran.out.splitlines() if line.startswith("product "))
    assert head.split("  ")[0] == "product"
    assert head.split() == ["product", "reg.", "no.", "applications", "amount", "area"]
    assert "last seal " in ran.out
    assert "--out FILE.pdf" in ran.err


def test_the_summary_as_files_and_json_from_one_computation(
    swathbook: Swathbook, season_book: Path, tmp_path: Path
) -> None:
    """The totals of CSV, JSON and PDF are the same texts."""
    ran = swathbook(
        "--book", season_book, "summary", "2026", "--out", "y.pdf", "--out", "y.csv", "--out", "y.json", "--json"
    )
    assert ran.code == 0
    assert json.loads((tmp_path / "y.json").read_text("utf-8")) == ran.json
    total = ran.json["sections"]["by_product"]["total"]
    rows = list(csv.reader(io.StringIO((tmp_path / "y.csv").read_text("utf-8-sig"))))
    assert any(total["applications"] in row and total["lb"] in row for row in rows)
    text = words((tmp_path / "y.pdf").read_bytes())
    assert total["lb"] in text
    assert ran.json["last_seal"] in text.replace(" ", "")
    assert ran.json["totals"]["records"] == "138"


@pytest.mark.parametrize(
    ("words_", "code"),
    [
        (["summary", "2199"], 9),
        (["summary", "2026", "--out", "y.doc"], 2),
        (["summary", "2026", "--out", "y"], 2),
        (["summary", "12"], 2),
        (["summary", "two"], 2),
        (["summary", "2026", "--paper", "a5", "--pdf", "y.pdf"], 2),
    ],
    ids=str,
)
def test_a_summary_that_cannot_be(
    words_: list[str], code: int, swathbook: Swathbook, season_book: Path, tmp_path: Path
) -> None:
    """One line, no file."""
    ran = swathbook("--book", season_book, *words_)
    assert ran.code == code, ran
    assert ran.out == ""
    assert list(tmp_path.iterdir()) == []


def test_a_year_without_records_can_be_filed(swathbook: Swathbook, season_book: Path, tmp_path: Path) -> None:
    """Some states want a report of nothing: the summary is made, all zeros, in each form."""
    ran = swathbook("--book", season_book, "summary", "2019", "--out", "y.pdf", "--json")
    assert ran.code == 0
    assert ran.json["totals"]["records"] == "0"
    assert "Annual summary 2019" in words((tmp_path / "y.pdf").read_bytes())


def test_a_tiny_table_is_imported(swathbook: Swathbook, book_path: Path, tmp_path: Path) -> None:
    """Every line is accounted for; what the source lacks is shown as not recorded."""
    (tmp_path / "mine.toml").write_text(LAYOUT, "utf-8")
    (tmp_path / "mine.csv").write_text(TABLE, "utf-8")
    dry = swathbook("--book", book_path, "import", "mine.csv", "--layout", "mine.toml", "--dry-run")
    assert dry.code == 1
    assert swathbook("--book", book_path, "find").out == "nothing found\n"
    ran = swathbook("--book", book_path, "import", "mine.csv", "--layout", "mine.toml")
    assert ran.code == 1  # one line was refused
    assert "row 4" in ran.out
    found = swathbook("--book", book_path, "find", "--json").json
    assert found["records"] == 2
    assert "?" in swathbook("--book", book_path, "find").out  # something is missing in each
    shown = " ".join(swathbook("--book", book_path, "show", "2025-1").out.split())
    assert "imported from mine.csv, rows 2" in shown
    assert "start not recorded" in shown
    again = swathbook("--book", book_path, "import", "mine.csv", "--layout", "mine.toml", "--json")
    assert again.code == 1
    assert swathbook("--book", book_path, "find", "--json").json["records"] == 2


MONTHS = """layout = 1
name = "months"
source = "an invented list"
[rows]
grain = "month"
timezone = "America/Chicago"
[fields]
month = "Month"
applicator = "Who"
applicator_licence = "Licence"
product = "Product"
amount = "Amount"
applications = "Times"
[constants]
state = "MN"
amount_unit = "oz"
[units.amount]
oz = "oz"
"""


def test_what_a_total_of_a_month_does_not_tell(swathbook: Swathbook, book_path: Path, tmp_path: Path) -> None:
    """No kind of ounce, validity or place is made up; an area that nobody gave is not zero, however many it sums."""
    (tmp_path / "months.toml").write_text(MONTHS, "utf-8")
    (tmp_path / "m.csv").write_text("Month,Who,Licence,Product,Amount,Times\n2025-05-01,Mo,77,Tarnel,4,16\n", "utf-8")
    assert swathbook("--book", book_path, "import", "m.csv", "--layout", "months.toml").code == 0
    shown = " ".join(swathbook("--book", book_path, "show", "2025-1").out.split())
    for part in (
        "site not recorded; MN",
        "MN 77, validity not recorded",
        "amount 4 oz (fluid or by weight: not recorded)",
        "sums 16 applications",
    ):
        assert part in shown, part
    found = swathbook("--book", book_path, "find")
    assert "Tarnel" in found.out
    assert "4 oz? " in found.out
    assert "oz? = ounces" in found.err
    told = swathbook("--book", book_path, "summary", "2025", "--json").json
    assert told["firm"]["name"] == "no firm in the book"
    total = told["sections"]["by_month"]["total"]
    assert (total["applications"], total["without_area"], total["sq_ft"]) == ("16", "16", "")
    assert "16 without" in swathbook("--book", book_path, "summary", "2025").out


@pytest.mark.parametrize(
    ("words_", "code"),
    [
        ([], 2),
        (["mine.csv"], 8),
        (["."], 2),
        (["mine.csv", "--layout", "nobody"], 15),
        (["mine.csv", "--layout", "../x"], 15),
        (["no.csv", "--layout", "county-single-job"], 8),
        ([".", "--layout", "county-single-job"], 8),
    ],
    ids=str,
)
def test_an_import_that_cannot_be(words_: list[str], code: int, swathbook: Swathbook, book_path: Path) -> None:
    """One line with what to do."""
    ran = swathbook("--book", book_path, "import", *words_)
    assert (ran.code, ran.out) == (code, ""), ran
    assert ran.err.count("\n") == 1


def test_the_layouts_are_listed(swathbook: Swathbook) -> None:
    """By name, with what each reads."""
    ran = swathbook("import", "--layouts")
    assert ran.code == 0
    names = [layout["name"] for layout in swathbook("import", "--layouts", "--json").json["layouts"]]
    assert "county-single-job" in names
    assert all(name in ran.out for name in names)


@pytest.mark.skipif(not os.path.isdir("/proc/self"), reason="no file system here that even the superuser cannot write")  # noqa: PTH112 - a device of the system
def test_a_place_that_nobody_may_write(swathbook: Swathbook, season_book: Path) -> None:
    """For a report and for a new book: one line and its code."""
    ran = swathbook("--book", season_book, "notice", "2026-25", "--out", "/proc/self/n.pdf")
    assert (ran.code, ran.out) == (12, "")
    ran = swathbook("--book", "/proc/self/book.db", "init")
    assert ran.code in {3, 7}, ran
    assert (ran.out, ran.err.count("\n")) == ("", 1)
