"""`swathbook report`: screens, files, refusals, nil reports, and what is remembered as written and as filed."""

from __future__ import annotations

import csv
import io
import json
from decimal import Decimal
from hashlib import sha256
from pathlib import Path
from typing import TYPE_CHECKING, Any
from xml.etree import ElementTree as ET
from zipfile import ZipFile

import pytest
from openpyxl import load_workbook

from records.services.periodic.writing import is_sheet_number
from records.storage.unit_of_work import SqlBook

if TYPE_CHECKING:
    from tests.cli.conftest import Swathbook

LATER = "2027-01-20T12:00-05:00"
_MAIN = "{http://schemas.openxmlformats.org/spreadsheetml/2006/main}"
DATA = Path(__file__).parents[1] / "import_data"


def rows_of(path: str | Path) -> list[dict[str, str]]:
    """Return a CSV file's lines by heading; the mark for spreadsheets has to be there."""
    data = Path(path).read_bytes()
    assert data.startswith(b"\xef\xbb\xbf")
    assert b"\r\n" in data
    return list(csv.DictReader(io.StringIO(data.decode("utf-8-sig"), newline="")))


def events(book: Path) -> list[dict[str, Any]]:
    """Return what the book remembers of reports, oldest first."""
    with SqlBook(book).read() as work:
        return [event.body["data"] for event in work.records.events("report")]


def sheet_text(path: str | Path, sheet: str) -> list[list[str]]:
    """Return a sheet's cells as the file has them: a number with its own digits, not through a binary one."""
    name = f"xl/worksheets/sheet{load_workbook(path).sheetnames.index(sheet) + 1}.xml"
    with ZipFile(path) as packed:
        root = ET.fromstring(packed.read(name))  # noqa: S314 - written by ourselves
    return [["".join(cell.itertext()) for cell in row] for row in root.iter(f"{_MAIN}row")]


def test_new_york_one_file_for_each_person(in_new_york: Path, swathbook: Swathbook) -> None:
    """Each certified person's own lines under their own number; together they are the annual summary."""
    ran = swathbook("--book", in_new_york, "report", "ny-annual", "2026", "--out", "ny.csv", at=LATER)
    assert (ran.code, "every sum is equal to the last digit" in ran.out) == (0, True)
    files = {name: rows_of(f"ny-{name}.csv") for name in ("ines", "mo", "tam", "wes")}
    assert not Path("ny.csv").exists()
    for name, own in files.items():
        assert f"wrote ny-{name}.csv: {len(own)} lines" in ran.err
    assert {row["Certification number"] for row in files["tam"]} == {"NY-T-990213"}
    assert list(files["mo"][0].values()) == [
        "NY-C-990101", "Mo Lindqvist", "99999-104", "Wexcombe 2L", "0.168", "fl oz", "2026-10-06", "14", "Erie",
        "112 Marigold Street", "Birchfold", "55290",
    ]  # fmt: skip
    every = [row for rows in files.values() for row in rows]
    assert len({tuple(row.values()) for row in every}) == len(every)
    assert {(row["County"], row["County code"]) for row in every} <= {
        ("Erie", "14"),
        ("Monroe", "26"),
        ("St. Lawrence", "40"),
    }
    summary = swathbook("--book", in_new_york, "--json", "summary", "2026").json["sections"]["by_product"]["rows"]
    kilos = {row["registration"]: (row["fl_oz"], row["oz_wt"]) for row in summary if row["kind"] == "pesticide"}
    for number, (fluid, dry) in kilos.items():
        units = {row["Unit"] for row in every if row["EPA registration number"] == number}
        size = {"gal": 128, "fl oz": 1, "lb": 16, "oz wt": 1}
        total = sum(
            Decimal(row["Quantity of product"]) * size[row["Unit"]]
            for row in every
            if row["EPA registration number"] == number
        )
        assert len(units) == 1
        assert abs(total - Decimal(fluid or dry)) <= Decimal("0.005")  # the summary prints two decimals


def test_new_york_writes_down_what_was_written(in_new_york: Path, swathbook: Swathbook) -> None:
    """A file alone is not filed; filing is a day of its own, of everything that was written."""
    swathbook("--book", in_new_york, "report", "ny-annual", "2026", "--out", "ny.csv", at=LATER)
    found = events(in_new_york)
    assert [one["person"] for one in found] == ["ines", "mo", "tam", "wes"]
    assert {(one["report"], one["period"], one["filed_on"], one["confirmation"]) for one in found} == {
        ("ny-annual", "2026", None, None)
    }
    assert found[1]["sha256"] == sha256(Path("ny-mo.csv").read_bytes()).hexdigest()
    assert found[1]["lines"] == len(rows_of("ny-mo.csv"))
    listed = swathbook("--book", in_new_york, "report", "list", at=LATER)
    assert "written, not filed" in listed.out
    ran = swathbook(
        "--book", in_new_york, "report", "filed", "ny-annual", "2026", "--on", "2027-01-19", "--confirmation", "88-1",
        at=LATER,
    )  # fmt: skip
    assert ran.code == 0
    assert "of mo: filed 2027-01-19" in ran.out
    filed = events(in_new_york)[4:]
    assert [(one["person"], one["filed_on"], one["confirmation"]) for one in filed] == [
        (name, "2027-01-19", "88-1") for name in ("ines", "mo", "tam", "wes")
    ]
    assert [one["sha256"] for one in filed] == [one["sha256"] for one in found]
    assert "filed 2027-01-19" in swathbook("--book", in_new_york, "report", "list", at=LATER).out
    assert swathbook("--book", in_new_york, "verify").code == 0


def test_one_person_in_a_sheet(in_new_york: Path, swathbook: Swathbook) -> None:
    """Amounts are numbers with every digit, all else is text; the second sheet says what the report is."""
    words = ["--book", in_new_york, "report", "ny-annual", "2026", "--person", "tam", "--out", "tam.xlsx"]
    assert swathbook(*words, "--filed", "2027-01-19", at=LATER).code == 0
    book = load_workbook("tam.xlsx")
    assert book.sheetnames == ["Report", "About"]
    cells = [list(row) for row in sheet_text("tam.xlsx", "Report")]
    swathbook("--book", in_new_york, "report", "ny-annual", "2026", "--person", "tam", "--out", "tam.csv", at=LATER)
    rows = rows_of("tam.csv")
    assert cells == [list(rows[0]), *[list(row.values()) for row in rows]]
    columns = [list(column) for column in book["Report"].iter_cols()]
    numbers = [column[0].value for column in columns if "n" in {cell.data_type for cell in column if cell.value}]
    assert numbers == ["Quantity of product"]
    about = {row[0].value: str(row[1].value) for row in book["About"].iter_rows() if row[0].value}
    assert about["Person"] == "Tâm Vũ"
    assert about["Due"].startswith("2027-02-01")
    assert about["Annual summary"] == "every sum is equal to the last digit"
    assert about["Figures"].endswith("which it passes over: none of them here")
    assert about["Digits"].startswith("Amounts without a last digit")  # grams in ounces
    assert [one["filed_on"] for one in events(in_new_york)] == ["2027-01-19", None]


def test_the_screen_and_json(in_new_york: Path, swathbook: Swathbook) -> None:
    screen = swathbook("--book", in_new_york, "report", "ny-annual", "2026", at=LATER)
    assert screen.code == 0
    assert "Tâm Vũ (NY-T-990213, 25 lines)" in screen.out
    assert events(in_new_york) == []  # nothing was written
    told = swathbook("--book", in_new_york, "report", "ny-annual", "2026", "--json", at=LATER).json
    assert (told["schema"], told["status"], told["due"]) == (1, "made", "2027-02-01")
    assert told["reconciliation"]["agrees"] is True
    assert [part["id"] for part in told["parts"]] == ["ines", "mo", "tam", "wes"]
    exact = [line["quantity"] for part in told["parts"] for line in part["lines"]]
    assert "0.019753419" in exact


def test_nothing_applied(in_new_york: Path, swathbook: Swathbook) -> None:
    """Law: a report is due though nothing was applied, of everybody with a licence; one line says so."""
    ran = swathbook("--book", in_new_york, "report", "ny-annual", "2025", "--out", "old.csv", at=LATER)
    assert (ran.code, "wrote old.csv: nothing applied (Wes Ålander)" in ran.err) == (0, True)
    assert [list(row.values()) for row in rows_of("old.csv")] == [
        ["NY-T-990188", "Wes Ålander", "", "No pesticide applications were made in this period.", *[""] * 8]
    ]
    assert events(in_new_york)[0]["lines"] == 0


def test_california_by_county(in_california: Path, swathbook: Swathbook) -> None:
    """Adjuvants are reported, under the state's number; without one the report is refused, and names the records."""
    ran = swathbook("--book", in_california, "report", "ca-monthly", "2026-05", "--out", "ca.csv", at=LATER)
    assert ran.code == 1
    assert "Nothing was written" in ran.err
    assert ran.out.count("[registration] Spreadwell NIS has no registration number") == 0  # wrapped
    assert "2026-000018 treatments[0].applications[1]: [registration]" in ran.out
    assert not list(Path().glob("ca*.csv"))
    assert events(in_california) == []
    ran = swathbook("--book", in_california, "report", "ca-monthly", "2026-05", "--out", "ca.csv", "--anyway", at=LATER)
    assert ran.code == 0
    data = Path("ca-plumas.csv").read_text("utf-8-sig").splitlines()
    assert data[0].startswith('"INCOMPLETE: 4 applications are left out; see the records 2026-000018,')
    assert data[2].startswith(
        'Loon Hollow Lawn Care,"480 Cooper Alley, Birchfold, MN 55290",Plumas,2026-05,turf,99999-41,'
    )
    assert [(one["county"], one["left_out"]) for one in events(in_california)] == [
        ("Nevada", 4),
        ("Plumas", 4),
        ("Sierra", 4),
    ]
    words = ["--book", in_california, "report", "ca-monthly", "2026-05", "--county", "plumas", "--anyway"]
    assert swathbook(*words, "--out", "one.xlsx", at=LATER).code == 0
    left = [[cell.value for cell in row] for row in load_workbook("one.xlsx")["About"].iter_rows()]
    assert any(row[0] == "2026-000018" and "Spreadwell NIS" in str(row[1]) for row in left)
    marked = swathbook(
        "--book", in_california, "report", "filed", "ca-monthly", "2026-05", "--on", "2026-06-09", "--county", "PLUMAS",
        at=LATER,
    )  # fmt: skip
    assert "of Plumas: filed 2026-06-09" in marked.out


def test_california_idle_month(in_california: Path, swathbook: Swathbook) -> None:
    """DPR form: a licensed business files for a month without work, too."""
    ran = swathbook("--book", in_california, "report", "ca-monthly", "2026-12", "--out", "-", at=LATER, watched=False)
    assert (ran.code, ran.out.count("\r\n")) == (0, 2)
    line = ran.out.splitlines()[1]
    assert "No pest control work was performed in this month." in line
    assert "2026-12" in line


def test_maine(in_maine: Path, swathbook: Swathbook) -> None:
    told = swathbook("--book", in_maine, "report", "me-annual", "2026", "--json", at=LATER).json
    assert told["due"] == "2027-01-31"
    first = told["parts"][0]["lines"][0]
    assert (first["site"], first["registration"], first["unit"]) == ("hardscape", "99999-131", "fl oz")
    assert told["not_asked_for"] == {"of kind adjuvant": 42}
    assert swathbook("--book", in_maine, "report", "me-annual", "2026", at=LATER).code == 0


@pytest.mark.parametrize(
    "by", ["county,product", "month,site_kind", "person", "zip", "target", "kind,form", "date,address"]
)
def test_sums_by_any_keys(by: str, season_book: Path, swathbook: Swathbook) -> None:
    """The demo season by any keys is its annual summary."""
    ran = swathbook("--book", season_book, "report", "by", "--by", by, "--from", "2026", "--to", "2026-12")
    assert ran.code == 0
    assert "182 applications: every sum is equal to the last digit." in ran.out
    told = swathbook(
        "--book", season_book, "report", "by", "--by", by, "--from", "2026-06-10", "--to", "2026-09", "--json"
    )
    assert told.json["reconciliation"]["agrees"] is True
    assert told.json["not_asked_for"].keys() == {"on other days"}


def test_sums_of_some_kinds_and_states(season_book: Path, swathbook: Swathbook) -> None:
    words = [
        "--book",
        season_book,
        "report",
        "by",
        "--by",
        "product",
        "--kind",
        "adjuvant",
        "--state",
        "mn",
        "--out",
        "a.csv",
    ]
    assert swathbook(*words).code == 0
    assert [row["Product"] for row in rows_of("a.csv")] == ["Spreadwell NIS"]
    assert (
        swathbook("--book", season_book, "report", "by", "--by", "product", "--state", "WI").out.count("Nothing was")
        == 1
    )


def test_sums_in_several_files(season_book: Path, swathbook: Swathbook) -> None:
    """Every file that was named is written; in a sheet figures are numbers that add up, with their total."""
    words = ["--book", season_book, "report", "by", "--by", "zip,product"]
    assert swathbook(*words, "--out", "a.csv", "--out", "b.xlsx").code == 0
    rows, sheet = rows_of("a.csv"), load_workbook("b.xlsx")["Report"]
    cells = list(sheet.iter_rows())
    assert len(cells) == len(rows) + 2
    heads = [cell.value for cell in cells[0]]
    assert (cells[-1][0].value, cells[-1][0].font.b) == ("Total", True)
    at = heads.index("Applications")
    counts: list[Any] = [row[at].value for row in cells[1:]]
    assert sum(counts[:-1]) == counts[-1] == 182
    gallons = heads.index("Liquid, gal")
    total = sum(Decimal(row["Liquid, gal"]) for row in rows if row["Liquid, gal"])
    assert Decimal(sheet_text("b.xlsx", "Report")[-1][gallons]) == total
    for name in ("ZIP", "Registration number"):
        assert {row[heads.index(name)].data_type for row in cells[1:-1] if row[heads.index(name)].value} == {"s"}
    told = swathbook(*words, "--out", "c.csv", "--out", "d.xlsx", "--out", "c.csv", "--json").json
    assert told["parts"][0]["files"] == ["c.csv", "d.xlsx"]
    assert told["parts"][0]["file"] == "c.csv"
    targets = swathbook("--book", season_book, "report", "by", "--by", "target", "--out", "t.xlsx")
    assert targets.code == 0
    assert "Total" not in [row[0].value for row in load_workbook("t.xlsx")["Report"].iter_rows()]  # counts under both
    refused = swathbook(*words, "--out", "e.csv", "--out", "f.pdf")
    assert (refused.code, Path("e.csv").exists()) == (2, False)


def test_figures_that_a_sheet_can_hold() -> None:
    """A binary number of a sheet keeps fifteen digits; what is longer, or no plain number, stays text."""
    held = ["0.019753419", "123456789012345", "0.123456789012345", "1200000000000000000", "0"]
    assert [text for text in held if not is_sheet_number(text)] == []
    text = ["1234567890.123456", "0.1234567890123456", "99999-41", "=1+1", "", "1e5", "2026-05"]
    assert [one for one in text if is_sheet_number(one)] == []


def test_whose_reports(in_new_york: Path, season_book: Path, swathbook: Swathbook) -> None:
    """A firm is asked by the packs it names and the states of its sites; other states' reports have no due day."""
    ran = swathbook("--book", season_book, "report", "list", at=LATER)
    assert "not filed" not in ran.out
    assert "2027-02-01" not in ran.out
    ours, others = swathbook("--book", in_new_york, "report", "list", at=LATER).out.split("Not asked of this firm")
    assert "NY     ny-annual  2026  2027-02-01  not filed" in ours
    assert "2027" not in others
    told = swathbook("--book", in_new_york, "report", "list", "--json", at=LATER).json["reports"]
    assert [(one["state"], one["report"]) for one in told if one["ours"]] == [("NY", "ny-annual")]


def test_formulas_stay_text(in_new_york: Path, swathbook: Swathbook, tmp_path: Path) -> None:
    """A name that a spreadsheet would take for a formula is defused in CSV and text in a sheet."""
    evil = {"people": [{"id": "evil", "name": "=HYPERLINK(1)", "licences": [_licence()]}]}
    (tmp_path / "evil.json").write_text(json.dumps(evil), "utf-8")
    assert swathbook("--book", in_new_york, "load", "evil.json").code == 0
    words = ["--book", in_new_york, "report", "ny-annual", "2026", "--person", "evil"]
    assert swathbook(*words, "--out", "e.csv", at=LATER).code == 0
    assert rows_of("e.csv")[0]["Person"] == "'=HYPERLINK(1)"
    assert swathbook(*words, "--out", "e.xlsx", at=LATER).code == 0
    cell = load_workbook("e.xlsx")["Report"]["B2"]
    assert (cell.value, cell.data_type) == ("=HYPERLINK(1)", "s")


def _licence() -> dict[str, Any]:
    made = {"number": "=1+1", "state": "NY", "kind": "certified", "categories": ["turf"]}
    return made | {"from": "2026-01-01", "to": "2026-12-31"}


@pytest.mark.parametrize(
    ("words", "code", "told"),
    [
        (["ny-annual", "26"], 2, "no year"),
        (["ca-monthly", "2026"], 2, "no month"),
        (["ny-annual", "2030"], 9, "has not begun yet"),
        (["ny-annual", "2026", "--person", "nobody"], 9, "no licence of NY"),
        (["me-annual", "2026", "--person", "mo"], 2, "not parted by person"),
        (["ny-annual", "2026", "--county", "Erie"], 2, "not parted by county"),
        (["ny-annual", "2026", "--out", "x.pdf"], 2, "which kind of file"),
        (["ny-annual", "2026", "--out", "-"], 2, "4 reports do not fit"),
        (["ny-annual", "2026", "--out", "gone/ny.csv"], 12, "cannot be written"),
        (["ny-annual", "2026", "--filed", "2027-01-02"], 2, "needs --out"),
        (["ny-annual", "2026", "--out", "n.csv", "--confirmation", "x"], 2, "needs --filed"),
        (["ny-annual", "2026", "--out", "n.csv", "--filed", "2027-02-01"], 2, "still to come"),
        (["ny-annual", "2026", "--out", "n.csv", "--filed", "2025-12-31"], 2, "before the period began"),
        (["filed", "ny-annual", "2026", "--on", "2027-13-01"], 2, "no day"),
        (["filed", "ny-annual", "2026", "--on", "2027-01-01"], 9, "no ny-annual of 2026 was written"),
        (["filed", "ny-annual", "2026", "--on", "2027-01-01", "--person", "nobody"], 9, "no person"),
        (["filed", "tx-weekly", "2026", "--on", "2027-01-01"], 15, "no report layout"),
        (["by", "--by", "contry"], 2, "Did you mean county?"),
        (["by", "--by", "zip", "--from", "2026-06-10", "--to", "2026-05-01"], 2, "lies before"),
    ],
    ids=lambda part: " ".join(part) if isinstance(part, list) else None,
)
def test_what_makes_no_sense(words: list[str], code: int, told: str, in_new_york: Path, swathbook: Swathbook) -> None:
    """One line, what and what to do; nothing is written and nothing remembered."""
    ran = swathbook("--book", in_new_york, "report", *words, at=LATER)
    assert (ran.code, ran.out) == (code, "")
    assert told in ran.err
    assert ran.err.count("\n") == 1
    assert events(in_new_york) == []
    assert not list(Path().glob("*.csv"))


def test_a_report_without_a_split_is_filed_though_nothing_was_written(in_maine: Path, swathbook: Swathbook) -> None:
    ran = swathbook(
        "--book", in_maine, "report", "filed", "me-annual", "2026", "--on", "2027-01-15", "--json", at=LATER
    )
    assert ran.json["events"] == [{"event": "E-000001", "person": None, "county": None}]
    assert events(in_maine)[0]["sha256"] is None


@pytest.mark.parametrize("report", ["ct-annual", "ca-schools"])
def test_a_report_that_the_tool_cannot_write_is_filed(in_maine: Path, swathbook: Swathbook, report: str) -> None:
    """What a rule asks for and the tool has no layout of can be logged as handed in, and then stands as filed."""
    words = ("--book", in_maine, "report", "filed", report, "2026", "--on", "2027-01-15")
    assert swathbook(*words, at=LATER).out == f"E-000001  {report} 2026: filed 2027-01-15\n"
    listed = swathbook("--book", in_maine, "--json", "report", "list", at=LATER).json["reports"]
    (one,) = (row for row in listed if row["report"] == report)
    assert "2027-01-15" in json.dumps(one["filed"])
    assert swathbook(*words, "--county", "Yolo", at=LATER).code == 2
    assert (
        swathbook("--book", in_maine, "report", "filed", "no-such", "2026", "--on", "2027-01-15", at=LATER).code == 15
    )


def test_real_lines_of_a_county(book_path: Path, swathbook: Swathbook) -> None:
    """Public records of Plumas and Sierra counties, 2021-2024 (tests/import_data): each year's sums are its summary; a
    month's report is refused for the ounces of unknown kind and the missing amounts that such lines really have."""
    for name, layout in (("nonproduction_monthly", "nonproduction-monthly"), ("single_job", "single-job")):
        done = swathbook(
            "--book", book_path, "import", DATA / f"county_{name}.csv", "--layout", f"county-{layout}", at=LATER
        )
        assert done.code in {0, 1}
    for year in range(2021, 2025):
        ran = swathbook(
            "--book", book_path, "report", "by", "--by", "county,kind", "--from", year, "--to", year, at=LATER
        )
        assert (ran.code, "every sum is equal to the last digit" in ran.out) == (0, True)
    codes: set[str] = set()
    for year in range(2021, 2025):
        for month in range(1, 13):
            told = swathbook("--book", book_path, "--json", "report", "ca-monthly", f"{year}-{month:02d}", at=LATER)
            assert told.json["reconciliation"]["agrees"] is True
            assert told.code == int(bool(told.json["problems"]))
            codes |= {one["code"] for one in told.json["problems"]}
    assert "ounce" in codes
