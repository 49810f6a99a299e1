"""Tables that nobody here wrote go into the book with every line accounted for.

Excerpts of public records: `tests/import_data/README.md` names the sources.
"""

from __future__ import annotations

import csv
import io
import shutil
import tracemalloc
import zipfile
from datetime import UTC, date, datetime
from pathlib import Path
from typing import Any

import pytest
from openpyxl import Workbook

from records.clock import FixedClock
from records.errors import InputError, LayoutError
from records.services.importing import Tally, find_layout, import_table, read_layout, shipped
from records.services.importing.cells import (
    DATE_FORMS,
    TIME_FORMS,
    CellError,
    clean,
    plain,
    read_date,
    read_number,
    read_time,
    with_point,
)
from records.services.importing.layout import FIELDS, LOOKUPS
from records.services.ports import Criteria, StoredRevision
from records.services.sealing import seal
from records.storage.migrate import upgrade
from records.storage.unit_of_work import SqlBook
from records.units import UNITS, Kind

DATA = Path(__file__).parents[1] / "import_data"
CLOCK = FixedClock(datetime(2026, 11, 25, 12, tzinfo=UTC))
SHEETS = {
    "county-single-job": ("county_single_job.csv", "Single Job PUR"),
    "county-production-monthly": ("county_production_monthly.csv", "ProdAgMonthlySummary"),
    "county-nonproduction-monthly": ("county_nonproduction_monthly.csv", "Non-Prod Ag MSPUR"),
}
SMALL = """
layout = 1
name = "small"
source = "an invented list"
[rows]
grain = "job"
timezone = "America/Chicago"
time_is = "start"
job = ["Day", "Time", "Yard"]
[fields]
date = "Day"
time = "Time"
site_id = "Yard"
applicator = "Who"
target = "Weed"
product = "Product"
registration = "Reg"
amount = "Amount"
amount_unit = "Unit"
area = "Area"
area_unit = "Area unit"
wind_speed = { columns = ["Wind"], suffix = " mph" }
wind_from = "From"
temperature = { columns = ["Temp"], suffix = " degF" }
[units.amount]
oz = "oz"
gallons = "gal"
[units.area]
sf = "sq ft"
acres = "acre"
piles = false
"""
GOOD = {
    "Day": "2026-05-14",
    "Time": "9:10 AM",
    "Yard": "lark-7",
    "Who": "Mo Reed",
    "Weed": "ground ivy",
    "Product": "Brindle 4L",
    "Reg": "99999-41",
    "Amount": "4.5",
    "Unit": "oz",
    "Area": "4200",
    "Area unit": "sf",
    "Wind": "6",
    "From": "NW",
    "Temp": "71",
}
COLUMNS = list(GOOD)


@pytest.fixture(scope="session")
def empty_book(tmp_path_factory: pytest.TempPathFactory) -> Path:
    path = tmp_path_factory.mktemp("import") / "empty.db"
    upgrade(path)
    return path


@pytest.fixture
def book(empty_book: Path, tmp_path: Path) -> SqlBook:
    return SqlBook(shutil.copy(empty_book, tmp_path / "book.db"))


def _run(book: SqlBook, layout: str, *, dry_run: bool = False) -> Tally:
    name = SHEETS[layout][0]
    return import_table(book, DATA / name, name, find_layout(layout), CLOCK, dry_run=dry_run)


def _table(*rows: dict[str, str]) -> bytes:
    out = io.StringIO()
    writer = csv.DictWriter(out, COLUMNS)
    writer.writeheader()
    writer.writerows({**GOOD, **row} for row in rows)
    return out.getvalue().encode()


def _small(book: SqlBook, *rows: dict[str, str], content: bytes | None = None) -> Tally:
    layout = read_layout(SMALL, "small.toml")
    return import_table(book, _table(*rows) if content is None else content, "small.csv", layout, CLOCK)


def _all(book: SqlBook) -> list[StoredRevision]:
    with book.read() as unit:
        return list(unit.records.walk())


def _bodies(book: SqlBook) -> list[dict[str, Any]]:
    return [revision.body for revision in _all(book)]


def _codes(body: dict[str, Any], code: str = "missing") -> set[str]:
    assert all(finding["severity"] == "note" for finding in body["findings"])
    return {finding["at"] for finding in body["findings"] if finding["code"] == code}


# -- the county sheets -------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("layout", "expected"),
    [
        # lines read, filled, incomplete, duplicates, not a use, refused, records
        ("county-single-job", (81, 69, 5, 5, 0, 2, 18)),
        ("county-production-monthly", (68, 4, 63, 0, 0, 1, 47)),
        ("county-nonproduction-monthly", (87, 11, 58, 3, 11, 4, 69)),
    ],
)
def test_every_line_of_a_county_sheet_is_accounted_for(book: SqlBook, layout: str, expected: tuple[int, ...]) -> None:
    """Lines read = filled + incomplete + duplicate + not a use + refused, and the printed tally says so."""
    tally = _run(book, layout)
    found = (
        tally.read,
        tally.complete,
        tally.incomplete,
        len(tally.duplicate),
        len(tally.not_use),
        len(tally.refused),
        tally.records,
    )
    assert found == expected
    assert tally.already == 0
    assert tally.read == sum(found[1:6])
    assert len(_all(book)) == tally.records
    assert tally.lines()[0].split() == [str(tally.read), "lines", "read"]
    assert tally.document()["read"] == tally.read


@pytest.mark.parametrize("layout", SHEETS)
def test_a_second_import_writes_nothing(book: SqlBook, layout: str) -> None:
    """Lines are known by what they say, so running the same file again only counts them."""
    first = _run(book, layout)
    before = [revision.seal for revision in _all(book)]
    second = _run(book, layout)
    assert second.already == first.imported
    assert second.records == second.imported == 0
    assert [revision.seal for revision in _all(book)] == before


def test_a_longer_release_adds_only_its_new_lines(book: SqlBook) -> None:
    """An overlapping later file adds what is new, even to a job that is in the book in part."""
    _small(book, {}, {"Product": "Spreadwell", "Reg": ""})
    tally = _small(book, {}, {"Product": "Spreadwell", "Reg": ""}, {"Product": "Sedgeline", "Reg": "99999-52"})
    assert (tally.already, tally.imported, tally.records) == (2, 1, 1)
    assert [len(body["origin"]["rows"]) for body in _bodies(book)] == [2, 1]


@pytest.mark.parametrize("layout", SHEETS)
def test_a_sheet_and_its_csv_are_the_same_lines(book: SqlBook, tmp_path: Path, layout: str) -> None:
    """True date cells and numbers of a workbook read as the csv text does: nothing is imported twice."""
    first = _run(book, layout)
    path = _workbook(tmp_path, layout)
    second = import_table(book, path, path.name, find_layout(layout), CLOCK)
    assert (second.read, second.already, second.imported) == (first.read, first.imported, 0)
    assert len(second.refused) == len(first.refused)


def _workbook(folder: Path, layout: str) -> Path:
    """Make a workbook from the csv excerpt: numbers and days as such, the row number left out, another sheet first."""
    workbook = Workbook()
    name, title = SHEETS[layout]
    sheet = workbook.create_sheet(title)
    with (DATA / name).open(newline="", encoding="utf-8") as file:
        rows = list(csv.reader(file))
    for row in rows:
        sheet.append([_typed(column, cell) for column, cell in zip(rows[0][1:], row[1:], strict=True)])
    path = folder / "county.xlsx"
    workbook.save(path)
    return path


def _typed(column: str, cell: str) -> object:
    if column in {"Quantity Used", "Treated Amount"} and cell[:1].isdigit():
        return float(cell) if "." in cell else int(cell)
    if cell[:2] == "20" and cell[4:5] == "-" and len(cell) == 10:
        return date.fromisoformat(cell)
    return cell or None


def test_lines_of_one_job_become_one_visit(book: SqlBook) -> None:
    """Three products on 93 acres and three on 96 at the same hour are one visit with two treatments."""
    _run(book, "county-single-job")
    body = _bodies(book)[0]
    assert body["kind"] == "visit"
    assert body["date"] == "2021-07-29"
    assert body["origin"]["rows"] == [2, 3, 4, 5, 6, 7]
    assert [(len(part["applications"]), part["area"]) for part in body["treatments"]] == [
        (3, "4051080 sq ft"),  # 93 acres of 43,560 sq ft
        (3, "4181760 sq ft"),
    ]
    first = body["treatments"][0]["applications"][0]
    assert (first["amount"], first["product"]["registration"]) == ("6 gal", "62719-556-AA")
    assert body["document"]["lines"][0]["cells"]["Product Name"] == first["product"]["name"]


def test_one_time_of_unknown_meaning_is_neither_start_nor_end(book: SqlBook) -> None:
    """The single-job sheet gives one time: kept as text, with start and end shown as missing."""
    _run(book, "county-single-job")
    body = _bodies(book)[0]
    assert (body["started"], body["finished"], body["time"]) == (None, None, "7:29 AM")
    told = {finding["at"]: finding["message"] for finding in body["findings"]}
    assert told["started"] == (
        "the start is missing: the source gives one time, 7:29 AM, and does not say whether start or end"
    )


def test_what_the_source_lacks_stays_missing(book: SqlBook) -> None:
    """No pest, wind or temperature is made up; each is a `missing` note on every record."""
    tally = _run(book, "county-single-job")
    for body in _bodies(book):
        lacking = {"started", "finished", "weather.wind_speed", "weather.wind_from", "weather.temperature"}
        assert lacking | {"treatments.applications.targets"} <= _codes(body)
        assert body["weather"] is None
        assert all(part["targets"] == [] and part["zones"] == [] for part in body["treatments"])
    assert "targets" in tally.lacking
    with book.read() as unit:
        assert len(unit.records.search(Criteria(incomplete=True))) == tally.records


def test_an_end_without_a_start_stays_so(book: SqlBook) -> None:
    """Production lines mostly give only the end; three give both, in the zone's own offset."""
    _run(book, "county-production-monthly")
    bodies = _bodies(book)
    ended = bodies[0]
    assert ended["started"] is None
    assert ended["finished"] == {"local": "2022-06-28T11:00-07:00", "utc": "2022-06-28T18:00:00Z"}
    assert ended["date"] == "2022-06-28"
    assert "started" in _codes(ended)
    both = [body for body in bodies if body["started"]]
    assert [body["started"]["local"] for body in both if body["date"] == "2024-11-08"] == ["2024-11-08T08:00-08:00"]


def test_a_month_never_becomes_a_day(book: SqlBook) -> None:
    """A monthly line is a period's total: no date, whatever day the cell shows, and no targets or times."""
    _run(book, "county-nonproduction-monthly")
    bodies = _bodies(book)
    assert {(body["kind"], body["date"], body["started"], body["finished"]) for body in bodies} == {
        ("usage", None, None, None)
    }
    assert all("date" in _codes(body) for body in bodies)
    assert any(body["period"] == "2021-09" for body in bodies)
    assert all(revision.serial[:4] == revision.body["period"][:4] for revision in _all(book))
    counts = [part["applications"][0]["count"] for body in bodies for part in body["treatments"]]
    assert max(count or 0 for count in counts) > 1


def test_an_ounce_of_unknown_kind_stays_unknown(book: SqlBook) -> None:
    """`Ounce` is sealed as `oz`, form unknown; a gallon is a volume, a pound says nothing of the form."""
    for layout in SHEETS:
        _run(book, layout)
    forms: dict[str, set[str]] = {}
    for body in _bodies(book):
        for part in body["treatments"]:
            for application in part["applications"]:
                unit = (application["amount"] or " none").partition(" ")[2]
                forms.setdefault(unit, set()).add(application["product"]["form"])
    assert forms["oz"] == forms["lb"] == forms["none"] == {"unknown"}
    assert forms["gal"] == {"liquid"}
    assert "fl oz" not in forms
    assert "oz wt" not in forms


def test_what_is_no_area_is_kept_as_text(book: SqlBook) -> None:
    """Miscellaneous units are no area: the words stay, the area is missing."""
    _run(book, "county-production-monthly")
    (part,) = [part for body in _bodies(book) for part in body["treatments"] if part["extent"]]
    assert (part["area"], part["area_source"], part["extent"]) == (None, "described", "1 MISCELLANEOUS UNITS")


def test_no_use_months_impossible_months_and_empty_uses_are_kept_apart(book: SqlBook) -> None:
    """A report of no use is not a use; the month 2031-12 is refused; a use without a product too, each with its row."""
    tally = _run(book, "county-nonproduction-monthly")
    assert (2, "the month 2031-12 is in the future") in tally.refused
    reasons = [reason for _, reason in tally.refused]
    assert reasons.count("a use without product and registration number: there is nothing to record") == 3
    assert all(period[:2] == "20" for _, period in tally.not_use)
    assert all(row > first for row, first in tally.duplicate)


def test_registration_numbers_keep_their_letters(book: SqlBook) -> None:
    """California's letters stay; the federal number is beside them; a number typed as a name stays the name."""
    for layout in ("county-single-job", "county-production-monthly"):
        _run(book, layout)
    products = {}
    for body in _bodies(book):
        for part in body["treatments"]:
            for application in part["applications"]:
                products[application["product"]["registration"]] = application["product"]
    assert products["241-296-AA-228"]["federal"] == "241-296-228"
    assert (products["34704-50029-AA"]["federal"], products["34704-50029-AA"]["kind"]) == ("", "adjuvant")
    assert products[""]["name"] == "590550091-AA"
    with book.read() as unit:
        assert unit.records.search(Criteria(product="241-296-AA-228"))


def test_imported_records_are_sealed_with_their_origin(book: SqlBook) -> None:
    """Each seal covers the one before it, and the body says layout, file, rows and source."""
    tally = _run(book, "county-single-job")
    previous = ""
    for revision in _all(book):
        assert revision.previous == previous
        previous = seal(previous, revision.serial, revision.revision, revision.sealed_at, revision.body)
        assert revision.seal == previous
        origin = revision.body["origin"]
        assert (origin["kind"], origin["layout"]) == ("import", "county-single-job")
        assert origin["file"] == "county_single_job.csv"
        assert "Plumas" in origin["source"]
        assert (revision.body["entered_at"], revision.body["late_days"]) == ("2026-11-25T12:00:00Z", 0)
    assert sum(len(body["origin"]["rows"]) for body in _bodies(book)) == tally.imported


# -- the state's files -------------------------------------------------------------------------------------------------


def test_actives_of_one_use_become_one_application(book: SqlBook) -> None:
    """The state's file repeats a use for each active: amounts count once, actives are all there."""
    name = "use_report_lines.txt"
    tally = import_table(book, DATA / name, name, find_layout("california-use-report"), CLOCK)
    assert tally.imported == tally.read == 68
    with (DATA / name).open(newline="", encoding="utf-8") as file:
        uses = {line["use_no"] for line in csv.DictReader(file)}
    assert tally.records == tally.applications == len(uses)
    bodies = _bodies(book)
    (use,) = [body for body in bodies if body["document"]["lines"][0]["cells"]["use_no"] == "2671681"]
    (application,) = use["treatments"][0]["applications"]
    assert application["amount"] == "1.12 oz"
    assert [active["pounds"] for active in application["actives"]][:2] == ["0.00043952", "0.00174496"]
    assert use["site"]["county"] == "Amador"
    assert {body["kind"] for body in bodies} == {"usage", "visit"}
    assert all((body["date"] is None) == (body["kind"] == "usage") for body in bodies)


def test_equal_lines_of_a_source_without_names_are_separate_uses(book: SqlBook) -> None:
    """The query output cannot tell two firms apart: equal lines stay, once, however often the file is read."""
    name = "use_report_query.txt"
    layout = find_layout("california-query-output")
    assert import_table(book, DATA / name, name, layout, CLOCK).imported == 40
    again = import_table(book, DATA / name, name, layout, CLOCK)
    assert (again.already, again.imported) == (40, 0)


# -- one's own list ----------------------------------------------------------------------------------------------------


def test_a_full_line_has_no_gaps(book: SqlBook) -> None:
    """A list with everything in it gives a visit with times, weather and targets."""
    tally = _small(book, {"Weed": "ground ivy; white clover"}, {"Product": "Spreadwell", "Unit": "gallons"})
    assert (tally.complete, tally.records) == (2, 1)
    (body,) = _bodies(book)
    assert body["started"] == {"local": "2026-05-14T09:10-05:00", "utc": "2026-05-14T14:10:00Z"}
    assert body["weather"]["wind_speed"] == "6 mph"
    assert body["weather"]["temperature"] == "71 degF"
    assert body["treatments"][0]["targets"] == ["ground ivy", "white clover"]
    assert _codes(body) == {"finished", "applicator.licence"}


@pytest.mark.parametrize(
    ("change", "reason"),
    [
        ({"Amount": "-3"}, "the amount '-3' is negative"),
        ({"Amount": "4,5"}, "the amount '4,5' is not a plain number"),
        ({"Amount": "NaN"}, "the amount 'NaN' is not a plain number"),
        ({"Amount": "1e400"}, "the amount '1e400' is not a plain number"),
        ({"Amount": "99999999999"}, "the amount '99999999999' is larger than 9,000,000,000"),
        ({"Amount": "=1+1"}, "the amount '=1+1' is not a plain number"),
        ({"Amount": "#REF!"}, "Amount: the cell holds a spreadsheet error: #REF!"),
        ({"Area": "-0.5"}, "the area '-0.5' is negative"),
        ({"Area": "300000", "Area unit": "acres"}, "area: 300000 acre is larger than 9,000,000,000 sq ft"),
        ({"Unit": "buckets"}, "the amount is in 'buckets', a unit that the layout does not know"),
        ({"Day": "2026-02-30"}, "'2026-02-30' is no day of the calendar"),
        ({"Day": "05/14/2026"}, "'05/14/2026' is not a date in the form YYYY-MM-DD"),
        ({"Day": ""}, "no date"),
        ({"Day": "2026-12-01"}, "the day 2026-12-01 is in the future"),
        ({"Day": "0001-01-01"}, "'0001-01-01' is before 1900"),
        ({"Time": "25:00"}, "'25:00' is no time of day"),
        ({"Time": "13:00 PM"}, "'13:00 PM' is no time of day"),
        ({"Who": "Mo\x1b[2J"}, "Who: the cell holds control characters: 'Mo?[2J'"),
        ({"Who": "a\u202eb"}, "Who: the cell holds control characters: 'a?b'"),
        ({"Who": "x" * 3_000}, "Who: the cell holds 3,000 characters, more than 2,000"),
        ({"Product": "", "Reg": ""}, "a use without product and registration number: there is nothing to record"),
    ],
    ids=lambda value: None if isinstance(value, dict) else value[:24],
)
def test_unreadable_lines_are_refused_with_row_and_reason(book: SqlBook, change: dict[str, str], reason: str) -> None:
    """A bad line is named and left out; the good ones around it go in."""
    tally = _small(book, {}, change, {"Product": "Spreadwell"})
    assert tally.refused == [(3, reason)]
    assert (tally.read, tally.imported) == (3, 2)


@pytest.mark.parametrize(
    ("change", "gap"),
    [
        ({"Amount": ""}, "amount"),
        ({"Unit": ""}, "amount"),
        ({"Area": "0"}, "area"),
        ({"Area unit": "piles"}, "area"),
        ({"Time": ""}, "started"),
        ({"Day": "2026-03-08", "Time": "2:30 AM"}, "started"),  # skipped by the clocks
        ({"Day": "2025-11-02", "Time": "1:30 AM"}, "started"),  # twice
        ({"Wind": "breezy"}, "weather.wind_speed"),
        ({"From": "to the NW"}, "weather.wind_from"),
        ({"Reg": "none given"}, "registration-format"),
        ({"Weed": ""}, "targets"),
    ],
    ids=lambda value: None if isinstance(value, dict) else value,
)
def test_gaps_are_imported_and_counted(book: SqlBook, change: dict[str, str], gap: str) -> None:
    """A line with a gap goes in, is counted as incomplete, and the gap is a note; the cell stays in the document."""
    tally = _small(book, change)
    assert (tally.incomplete, tally.gaps) == (1, {gap: 1})
    (body,) = _bodies(book)
    told = " ".join(finding["at"] for finding in body["findings"])
    assert gap.removesuffix("-format") in told
    cells = body["document"]["lines"][0]["cells"]
    assert all(cells.get(column, "") == text for column, text in change.items())


def test_a_number_that_cannot_be_read_stays_as_typed(book: SqlBook) -> None:
    """It is kept, noted with what is wrong, and not turned into another number."""
    _small(book, {"Reg": "99999/41"})
    (body,) = _bodies(book)
    product = body["treatments"][0]["applications"][0]["product"]
    assert (product["registration"], product["federal"]) == ("99999/41", "")
    assert _codes(body, "registration-format") == {"treatments[0].applications[0].product.registration"}


def test_markup_and_formulas_are_text(book: SqlBook) -> None:
    """A name that looks like a formula or markup is a name."""
    _small(book, {"Product": '=HYPERLINK("http://x.example","y")', "Who": "<b>Mo</b>"})
    (body,) = _bodies(book)
    assert body["treatments"][0]["applications"][0]["product"]["name"] == '=HYPERLINK("http://x.example","y")'
    assert body["applicator"] == {"id": "b-mo-b", "name": "<b>Mo</b>", "licence": None, "version": 0}


def test_equal_lines_are_one_use_and_a_duplicate(book: SqlBook) -> None:
    """The second of two equal lines is left out, with the row it repeats."""
    tally = _small(book, {}, {"Product": "Spreadwell"}, {})
    assert tally.duplicate == [(4, 2)]
    assert tally.imported == 2


def test_dry_run_counts_and_writes_nothing(book: SqlBook) -> None:
    """A dry run gives the same tally over an unchanged book."""
    dry = _run(book, "county-single-job", dry_run=True)
    assert _all(book) == []
    wet = _run(book, "county-single-job")
    assert (dry.imported, dry.records, dry.refused) == (wet.imported, wet.records, wet.refused)


def test_progress_ends_with_all_lines(book: SqlBook) -> None:
    """Progress counts lines settled of lines read."""
    seen: list[tuple[int, int]] = []
    layout = read_layout(SMALL, "small.toml")
    content = _table(*({"Yard": f"yard-{number}"} for number in range(1_100)), {"Amount": "x"})
    import_table(book, content, "a/b\\small.csv", layout, CLOCK, lambda done, whole: seen.append((done, whole)))
    assert seen == [(501, 1_101), (1_001, 1_101), (1_101, 1_101)]
    assert _bodies(book)[0]["origin"]["file"] == "small.csv"


# -- hostile files -----------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("content", "words"),
    [
        (b"", "small.csv is empty"),
        (b"\n\n  \n", "small.csv is empty"),
        (b"\xff\xfe\x00\x00", "small.csv is not utf-8 text"),
        (",".join(COLUMNS).encode() + b"\nM\xfcller" + b"," * 13 + b"\n", "small.csv is not utf-8 text"),
        (b"\xd0\xcf\x11\xe0old", "old or password-protected"),
        (b"PK\x03\x04 not a zip", "small.csv is a damaged workbook"),
        (b'"' + b"x" * 20, "is never closed"),
        (",".join(COLUMNS).encode() + b'\n"2026' + b"\nx" * 90_000, "is never closed"),
        (b",".join(b"c%d" % n for n in range(1_001)), "1,001 columns"),
    ],
    ids=["nothing", "blank", "utf-16", "latin-1", "old-xls", "no-zip", "open-quote", "open-quote-below", "wide"],
)
def test_unreadable_files_are_one_line_errors(book: SqlBook, content: bytes, words: str) -> None:
    """What is no table is refused in one line and nothing is written."""
    with pytest.raises(InputError, match=words) as caught:
        _small(book, content=content)
    assert "\n" not in str(caught.value)
    assert _all(book) == []


def test_missing_and_doubled_columns_are_named(book: SqlBook) -> None:
    """The column that is not there is named with those that are."""
    with pytest.raises(LayoutError, match=r"has no column 'Yard', which layout small needs\. Found: 'Day', 'Time'"):
        _small(book, content=b"Day,Time\n1,2\n".replace(b"\n1", b",Who,Weed,Product,Reg,Amount,Unit,Area,Area unit,"
                                                        b"Wind,From,Temp\n1"))  # fmt: skip
    with pytest.raises(LayoutError, match=r"has two columns 'Day'"):
        _small(book, content=",".join([*COLUMNS, "Day"]).encode())


def test_ragged_and_giant_rows_are_refused_alone(book: SqlBook) -> None:
    """Rows of the wrong width, a 10 MB cell and a broken quotation are refused; the rows around them go in."""
    good = _table({}).splitlines()[1]
    other = good.replace(b"Brindle", b"Bramble")
    rows = [b",".join(c.encode() for c in COLUMNS), good, b"a,b,c", good + b",x", good + b",,", b"",
            b"x" * 10_000_000, b'"a"b,c', b"y" * 150_000, other]  # fmt: skip
    tally = _small(book, content=b"\n".join(rows) + b"\n")
    assert tally.imported == 2
    assert tally.duplicate == [(5, 2)]
    assert [row for row, _ in tally.refused] == [3, 4, 7, 8, 9]
    reasons = dict(tally.refused)
    assert reasons[3] == "3 cells where the header has 14"
    assert reasons[7] == "the line is 10,000,001 characters long, more than 1,000,000"


def test_a_zip_bomb_is_not_opened(book: SqlBook) -> None:
    """A workbook that would unpack to more than 200 MB is refused by its own list of parts."""
    packed = io.BytesIO()
    with zipfile.ZipFile(packed, "w", zipfile.ZIP_DEFLATED) as archive:
        archive.writestr("[Content_Types].xml", "<Types/>")
        with archive.open("xl/sharedStrings.xml", "w", force_zip64=True) as part:
            for _ in range(220):
                part.write(b" " * 1_000_000)
    with pytest.raises(InputError, match="would unpack to 220,000,008 bytes"):
        _small(book, content=packed.getvalue())


@pytest.mark.parametrize(
    ("parts", "words"),
    [
        ({"a.txt": "x"}, "is a zip file but no .xlsx workbook"),
        ({"[Content_Types].xml": "<Types/>"}, "is a damaged workbook"),
        ({"[Content_Types].xml": '<!DOCTYPE x [<!ENTITY a "b">]><Types/>'}, "document type declaration"),
    ],
    ids=["zip", "hollow", "entities"],
)
def test_hostile_workbooks_are_one_line_errors(book: SqlBook, parts: dict[str, str], words: str) -> None:
    """A zip that is no proper workbook is refused in one line."""
    packed = io.BytesIO()
    with zipfile.ZipFile(packed, "w") as archive:
        for name, text in parts.items():
            archive.writestr(name, text)
    with pytest.raises(InputError, match=words):
        _small(book, content=packed.getvalue())


def test_the_named_sheet_is_needed_only_among_several(book: SqlBook, tmp_path: Path) -> None:
    """A workbook of one sheet is read whatever its name; among several the layout's has to be there."""
    workbook = Workbook()
    assert workbook.active is not None
    workbook.active.append(COLUMNS)
    workbook.active.append(list(GOOD.values()))
    path = tmp_path / "list.xlsx"
    workbook.save(path)
    layout = read_layout(SMALL, "small.toml")
    assert import_table(book, path, path.name, layout, CLOCK).imported == 1
    workbook.create_sheet("Other")
    workbook.save(path)
    with pytest.raises(LayoutError, match=r"has no sheet '', which layout small reads\. Found: 'Sheet', 'Other'"):
        import_table(book, path, path.name, layout, CLOCK)


def test_a_missing_file_is_a_one_line_error(book: SqlBook, tmp_path: Path) -> None:
    """No file, or a folder, is said in one line."""
    layout = read_layout(SMALL, "small.toml")
    for path in (tmp_path / "none.csv", tmp_path):
        with pytest.raises(InputError, match="cannot be read"):
            import_table(book, path, path.name, layout, CLOCK)


def test_memory_stays_flat(book: SqlBook, tmp_path: Path) -> None:
    """Lines are not held in memory, however many there are."""
    path = tmp_path / "long.csv"
    content = _table(*({"Yard": f"yard-{number}"} for number in range(2_000)))
    path.write_bytes(content)
    layout = read_layout(SMALL, "small.toml")
    import_table(book, _table({}), "warm.csv", layout, CLOCK, dry_run=True)
    tracemalloc.start()
    tally = import_table(book, path, path.name, layout, CLOCK, dry_run=True)
    peak = tracemalloc.get_traced_memory()[1]
    tracemalloc.stop()
    assert tally.imported == 2_000
    assert peak < 1_500_000, peak  # the same lines held as dictionaries would take twice that


# -- layouts -----------------------------------------------------------------------------------------------------------


def test_shipped_layouts_are_found_by_name(tmp_path: Path) -> None:
    """Each shipped layout reads and says what it is for; a file of one's own is found by its path."""
    assert set(shipped()) == {*SHEETS, "california-use-report", "california-query-output"}
    assert all(layout.about and layout.source for layout in shipped().values())
    path = tmp_path / "mine.toml"
    path.write_text(SMALL, encoding="utf-8")
    assert find_layout(str(path)).name == "small"
    with pytest.raises(LayoutError, match=r"no layout is named 'nowhere'\. Shipped: california"):
        find_layout("nowhere")
    with pytest.raises(LayoutError, match=r"layout gone\.toml cannot be read"):
        find_layout(str(tmp_path / "gone.toml"))


@pytest.mark.parametrize(
    ("old", "new", "words"),
    [
        ("layout = 1", "layout = 2", "layout x.toml: layout has to be 1"),
        ('name = "small"', "", "name has to be a text"),
        ('name = "small"', 'name = "small"\nnick = "s"', "nick is not known. Known here: about"),
        ('date = "Day"', 'day = "Day"', "fields.day is not known"),
        ('date = "Day"', "", "fields give no date"),
        ('date = "Day"', "date = 1", "fields.date has to be a column name or a table"),
        ('date = "Day"', "date = {columns = []}", "fields.date.columns has to name at least one column"),
        ('date = "Day"', 'date = {column = "Day"}', "fields.date.column is not known"),
        ('grain = "job"', 'grain = "week"', "rows.grain 'week' is not known. Known: job, month"),
        ('grain = "job"', "", "rows.grain or rows.grain_column has to be given"),
        ('grain = "job"', 'grain_column = "Kind"', "rows.grain_column needs rows.jobs or rows.months"),
        ('date = "Day"', 'month = "Day"', "fields.month cannot date a job"),
        ("America/Chicago", "Mars/Base", "rows.timezone 'Mars/Base' is no time zone"),
        ("America/Chicago", "../../etc/passwd", "is no time zone"),
        ('oz = "oz"', 'oz = "ounce"', "units.amount.oz is no unit of amount"),
        ('sf = "sq ft"', 'sf = "gal"', "units.area.sf is no unit of area"),
        ('amount_unit = "Unit"', "", "fields.amount needs amount_unit"),
        ("[units.area]", '[constants]\nstate = "Minn"\n[units.area]', "constants.state 'Minn' is not a two-letter"),
        ("[units.area]", '[constants]\ntarget = "x"\n[units.area]', "constants.target is given under fields too"),
        ("[units.area]", '[file]\ndelimiter = ";;"\n[units.area]', "file.delimiter has to be one character"),
        ("[units.area]", '[file]\ndate = "D/M"\n[units.area]', "file.date 'D/M' is not known. Known: DD-MON-YY"),
        ("[units.area]", "[units.area", "layout x.toml is not TOML"),
        ('job = ["Day"', "job = [1", "rows.job has to be a list of texts"),
        ('product = "Product"\nregistration = "Reg"', "", "fields name no product and no registration"),
    ],
)
def test_wrong_layouts_are_refused_with_file_and_key(old: str, new: str, words: str) -> None:
    """Every mistake names the file, the key and what would be right, in one line."""
    assert old in SMALL
    with pytest.raises(LayoutError) as caught:
        read_layout(SMALL.replace(old, new, 1), "x.toml")
    assert words in str(caught.value)
    assert "\n" not in str(caught.value)


def test_every_key_of_a_layout_is_told_in_the_readme() -> None:
    """Who describes a table of their own finds every field, date form and unit without reading the source."""
    told = (Path(__file__).parents[2] / "README.md").read_text("utf-8").partition("| key of a layout |")[2]
    units = {symbol for symbol, unit in UNITS.items() if unit.kind in {Kind.VOLUME, Kind.WEIGHT, Kind.AREA, Kind.OUNCE}}
    for word in (*FIELDS, *LOOKUPS, *DATE_FORMS, *TIME_FORMS, *units):
        assert f"`{word}`" in told, word


# -- cells -------------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("text", "form", "expected"),
    [
        ("2026-05-14", "MM/DD/YYYY", "2026-05-14"),
        ("5/4/2026", "MM/DD/YYYY", "2026-05-04"),
        ("4/5/2026", "DD/MM/YYYY", "2026-05-04"),
        ("04.05.2026", "DD.MM.YYYY", "2026-05-04"),
        ("01-JUN-09", "DD-MON-YY", "2009-06-01"),
        ("5/4/98", "MM/DD/YY", "1998-05-04"),
        ("20260504", "YYYYMMDD", "2026-05-04"),
        ("2026-05", "YYYY-MM", "2026-05-01"),
    ],
)
def test_dates_are_read_by_their_form(text: str, form: str, expected: str) -> None:
    """A date is read in the layout's form only, except the one form that cannot be misread."""
    assert read_date(text, form).isoformat() == expected


@pytest.mark.parametrize(
    ("text", "form", "expected"),
    [
        ("12:00 AM", "h:mm AM/PM", "00:00"),
        ("12:25 PM", "h:mm AM/PM", "12:25"),
        ("7:05 p.m.", "h:mm AM/PM", "19:05"),
        ("19:05", "HH:MM", "19:05"),
        ("0800", "HHMM", "08:00"),
    ],
)
def test_times_are_read_by_their_form(text: str, form: str, expected: str) -> None:
    """Midnight and noon are where the clock has them."""
    assert read_time(text, form).isoformat("minutes") == expected


def test_numbers_are_exact() -> None:
    """Numbers become exact values and plain text again."""
    assert plain(read_number("1,234.50")) == "1234.5"
    assert plain(read_number(".5")) == "0.5"
    assert plain(read_number("0.0000000015")) == "0.000000002"  # nine decimals, half to even
    for text in ("", "1 2", "0x10", "\u0661", "1_000", "--1"):
        with pytest.raises(CellError):
            read_number(text)
    assert clean("  a\r\n b\t", "x") == "a b"


@pytest.mark.parametrize(
    ("text", "expected"),
    [("1,25", "1.25"), ("1.250,5", "1250.5"), (",5", "0.5"), ("800", "800"), ("1.250", "1250"), ("12,", "12")],
)
def test_a_decimal_comma_is_read_where_the_layout_says_so(text: str, expected: str) -> None:
    """With a decimal comma a point parts thousands."""
    assert plain(read_number(with_point(text, ","))) == expected


@pytest.mark.parametrize(("text", "mark"), [("1.25", ","), ("0.125", ","), (",", ","), ("1,2,3", ","), ("1,250", "")])
def test_a_number_that_could_be_another_is_refused(text: str, mark: str) -> None:
    """A thousand times too much is worse than a refused line."""
    with pytest.raises(CellError):
        with_point(text, mark)


@pytest.mark.parametrize(
    ("mark", "sealed"), [('decimal = ","', ["1.25 gal"]), ('decimal = "."', ["1250 gal"]), ("", [])]
)
def test_cells_apart_by_semicolons_need_a_decimal_mark(book: SqlBook, mark: str, sealed: list[str]) -> None:
    """Where semicolons part the cells, 1,250 is read only when the layout says what its comma is."""
    text = SMALL.replace("[rows]", f'[file]\ndelimiter = ";"\n{mark}\n[rows]', 1)
    line = {**GOOD, "Amount": "1,250", "Unit": "gallons"}
    content = "\n".join((";".join(COLUMNS), ";".join(line[name] for name in COLUMNS))).encode()
    tally = import_table(book, content, "small.csv", read_layout(text, "small.toml"), CLOCK)
    assert [body["treatments"][0]["applications"][0]["amount"] for body in _bodies(book)] == sealed
    assert [("file.decimal" in reason, "amount" in reason) for _, reason in tally.refused] == [(True, True)][
        len(sealed) :
    ]


def test_numbers_of_a_sheet_are_no_text(book: SqlBook) -> None:
    """A true number of a workbook is what it is, whatever decimal mark its texts are written with."""
    workbook = Workbook()
    sheet = workbook.active
    assert sheet is not None
    sheet.append(COLUMNS)
    sheet.append([1.125 if name == "Amount" else GOOD[name] for name in COLUMNS])
    sheet.append(["1,125" if name == "Amount" else "2026-05-15" if name == "Day" else GOOD[name] for name in COLUMNS])
    out = io.BytesIO()
    workbook.save(out)
    layout = read_layout(SMALL.replace("[rows]", '[file]\ndecimal = ","\n[rows]', 1), "small.toml")
    import_table(book, out.getvalue(), "small.xlsx", layout, CLOCK)
    assert [body["treatments"][0]["applications"][0]["amount"] for body in _bodies(book)] == ["1.125 oz", "1.125 oz"]


def test_the_wrong_separator_is_named(book: SqlBook) -> None:
    """One long column with semicolons in it says which key of the layout is wanting."""
    with pytest.raises(LayoutError, match=r"separated by semicolons: file\.delimiter"):
        _small(book, content=";".join(COLUMNS).encode() + b"\n")


def test_a_lost_line_is_a_fault() -> None:
    """The tally refuses to add up to less than was read."""
    tally = Tally("small", "small.csv", read=2, complete=1)
    with pytest.raises(AssertionError, match="2 lines read, 1 accounted for"):
        tally.check()
