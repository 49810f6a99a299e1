"""The owner's season: its totals against the annual summary and the records, and the same in every format."""

from __future__ import annotations

import csv
import io
import json
import shutil
import sqlite3
from datetime import date, datetime
from fractions import Fraction
from typing import TYPE_CHECKING

import pytest
from hypothesis import given
from hypothesis import strategies as st
from openpyxl import load_workbook
from pypdf import PdfReader

from records.cli.app import main
from records.clock import FixedClock
from records.domain.follow_up import Rating
from records.services.follow_up import Treated, Used
from records.services.follow_up.looking import GRACE
from records.services.follow_up.ratings import Rated
from records.services.season.gather import AGAIN, last_controls, repeated
from tests.cli.conftest import AFTER

if TYPE_CHECKING:
    from pathlib import Path

    from tests.cli.conftest import Swathbook

RATED = [("union-900", "ground ivy=70"), ("mossgable-common", "ground ivy=90"), ("juniper-640", "white clover=50")]


@pytest.fixture(scope="module")
def rated_book(season_book: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Return the demo season with a few ratings; nobody changes it."""
    path = shutil.copyfile(season_book, tmp_path_factory.mktemp("rated") / "rated.db")
    clock = FixedClock(datetime.fromisoformat("2026-11-05T12:00-06:00"))
    for site, *marks in RATED:
        assert main(["--book", str(path), "rate", site, *marks, "--by", "mo"], clock) == 0
    return path


def treated(serial: str, day: int, target: str = "dandelion", zone: str = "front", site: str = "a") -> Treated:
    used = Used("x", "X", "", ("4",), "pesticide", "", "", "", None)
    return Treated(
        serial=serial,
        index=0,
        day=date.fromordinal(date(2026, 1, 1).toordinal() + day),
        site=site,
        address="",
        zones=(zone,),
        turf=(),
        method="spot",
        targets=(target,),
        area=None,
        is_estimate=False,
        extent="",
        applicator="Mo",
        customer="",
        follow_up=None,
        plot="",
        used=(used,),
    )


def test_the_totals_are_those_of_the_summary(rated_book: Path, swathbook: Swathbook) -> None:
    """Applications by product as in the annual summary; hours from the sealed starts and ends."""
    made = swathbook("--book", rated_book, "season", 2026, "--json", at="2026-11-05T12:00-06:00").json
    summary = swathbook("--book", rated_book, "summary", 2026, "--json", at="2026-11-05T12:00-06:00").json
    mine = {row["product"]: row["applications"] for row in made["sections"]["by_product"]["rows"]}
    theirs = {row["product"]: row["applications"] for row in summary["sections"]["by_product"]["rows"]}
    assert mine == theirs
    with sqlite3.connect(rated_book) as link:
        minutes = sum(
            int((datetime.fromisoformat(end) - datetime.fromisoformat(start)).total_seconds()) // 60
            for start, end in link.execute("select started_utc, finished_utc from revision where kind = 'visit'")
        )
    totals, sections = made["totals"], made["sections"]
    assert totals["minutes"] == str(minutes)
    for key in ("by_month", "by_person"):
        for name in ("visits", "minutes", "treatments", "again", "again_known", "control_n", "late"):
            assert sum(int(row[name]) for row in sections[key]["rows"]) == int(totals[name]), (key, name)
    assert Fraction(made["printed"]["Hours on site"]) == Fraction(round(Fraction(minutes, 6)), 10)


def test_control_says_of_how_many(rated_book: Path, swathbook: Swathbook) -> None:
    """Medians of the ratings typed above: 70 and 90 for one product, 50 for another; never without n."""
    made = swathbook("--book", rated_book, "season", 2026, "--json", at="2026-11-05T12:00-06:00").json
    assert made["printed"]["Control, median"] == "70 %, n 3"
    assert (made["totals"]["control_median"], made["totals"]["control_n"]) == ("70", "3")
    rows = {(row["target"], row["products"]): row for row in made["sections"]["by_target"]["rows"]}
    brindle, kelbrook = rows["ground ivy", "Brindle 4L"], rows["white clover", "Kelbrook 60 DF"]
    assert (brindle["control_median"], brindle["control_n"]) == ("80", "2")
    assert (kelbrook["control_median"], kelbrook["control_n"]) == ("50", "1")
    assert all((row["control_median"] is None) == (row["control_n"] == "0") for row in rows.values())


def test_another_year_counts_nothing_of_this_one(rated_book: Path, swathbook: Swathbook) -> None:
    at = "2027-05-10T12:00-05:00"
    for year in (2025, 2027):
        made = swathbook("--book", rated_book, "season", year, "--json", at=at).json
        assert (made["printed"]["Control, median"], made["totals"]["control_n"]) == ("not rated", "0")
        assert f"The book holds no records of {year}; years with records: 2026." in made["notes"]


def test_every_format_has_the_same_texts(rated_book: Path, swathbook: Swathbook, tmp_path: Path) -> None:
    names = [tmp_path / f"season.{kind}" for kind in ("pdf", "csv", "xlsx", "json")]
    words = [part for name in names for part in ("--out", name)]
    ran = swathbook("--book", rated_book, "season", 2026, *words, at="2026-11-05T12:00-06:00")
    assert ran.code == 0, ran.err
    made = json.loads(names[3].read_text("utf-8"))
    rows = list(csv.DictReader(io.StringIO(names[1].read_text("utf-8-sig"))))
    book = load_workbook(names[2])
    for section in made["sections"].values():
        want = [[value or "" for value in row.values()] for row in section["rows"]]
        sheet = book[section["title"]]
        told = [
            ["" if cell is None else str(cell) for cell in row] for row in sheet.iter_rows(min_row=2, values_only=True)
        ]
        assert [[_number(text) for text in row] for row in told[: len(want)]] == [
            [_number(t) for t in row] for row in want
        ]
        assert all(cell.data_type != "f" for row in sheet.iter_rows() for cell in row)
    assert book["By month"]["B2"].value == 17  # a number, to be summed
    listed = [row["product"] for row in rows if row["section"] == "by_product"]
    assert listed == [row["product"] for row in made["sections"]["by_product"]["rows"]]
    reader = PdfReader(names[0])
    assert len(reader.pages) == 1
    text = " ".join(reader.pages[0].extract_text().split())
    for fact in ("Season 2026", "Loon Hollow Lawn Care", "70 %, n 3", made["last_seal"], "Treated again, by weed"):
        assert fact in text
    again = tmp_path / "again.pdf"
    swathbook("--book", rated_book, "season", 2026, "--out", again, at="2026-11-05T12:00-06:00")
    assert again.read_bytes() == names[0].read_bytes()


def test_a_year_of_nothing_and_one_to_come(firm: Path, swathbook: Swathbook, tmp_path: Path) -> None:
    empty = swathbook("--book", firm, "season", 2026, "--out", tmp_path / "a.pdf")
    assert empty.code == 0, empty.err
    shown = swathbook("--book", firm, "season", 2026)
    assert "not rated" in shown.out
    assert swathbook("--book", firm, "season", 2031).code != 0
    wrong = swathbook("--book", firm, "season", 2026, "--out", "season.doc")
    assert (wrong.code, "End it in .pdf, .csv, .xlsx, .json" in wrong.err) == (2, True)


def _number(text: str) -> Fraction | str:
    try:
        return Fraction(text)
    except ValueError:
        return text


@pytest.mark.parametrize(
    ("days", "zone", "site", "target", "is_again"),
    [
        (AGAIN, "front", "a", "dandelion", True),
        (AGAIN + 1, "front", "a", "dandelion", False),
        (0, "front", "a", "dandelion", False),  # the same day is one job
        (10, "back", "a", "dandelion", False),
        (10, "front", "b", "dandelion", False),
        (10, "front", "a", "ground ivy", False),
        (10, "front", "a", "Dandelion", True),
    ],
)
def test_what_had_to_be_done_again(days: int, zone: str, site: str, target: str, *, is_again: bool) -> None:
    """It is told of the first of two treatments: the repeat put it right."""
    past = [treated("one", 100), treated("two", 100 + days, target, zone, site)]
    assert repeated(past) == (frozenset({("one", 0)}) if is_again else frozenset())


@given(st.lists(st.integers(0, 200), max_size=12))
def test_the_last_of_a_run_is_never_one(days: list[int]) -> None:
    past = [treated(str(number), day) for number, day in enumerate(sorted(days))]
    want = {(one.serial, 0) for one in past if any(0 < (other.day - one.day).days <= AGAIN for other in past)}
    assert repeated(past) == want


def rated(of: Treated, days: int, control: int, target: str = "dandelion") -> Rated:
    day = date.fromordinal(of.day.toordinal() + days)
    rating = Rating(
        f"E-{days}", of.serial, 0, target, day, days, Fraction(control), "by eye", None, None, None, None, "", ""
    )
    return Rated(rating, of, of.site)


@pytest.mark.parametrize(
    ("days", "target", "counts"),
    [
        (28, "dandelion", True),
        (21, "dandelion", True),  # half way between the looks of day 14 and 28
        (20, "dandelion", False),  # still on the way
        (28 + GRACE, "dandelion", True),
        (29 + GRACE, "dandelion", False),  # too late to tell
        (28, "ground ivy", False),  # the record does not name it any more
    ],
)
def test_which_rating_is_the_last_word(days: int, target: str, *, counts: bool) -> None:
    one = treated("one", 100)
    found = last_controls([rated(one, days, 80, target), rated(one, 7, 30)], [one])
    assert found == ({("one", 0, target): Fraction(80)} if counts else {})


def test_what_was_seen_after_a_repeat_is_not_the_first_ones_doing() -> None:
    one, two = treated("one", 100), treated("two", 120)
    assert last_controls([rated(one, 28, 95)], [one, two]) == {}
    assert last_controls([rated(one, 28, 95)], [one, treated("two", 120, zone="back")]) != {}


def test_hostile_names_are_data(season_book: Path, swathbook: Swathbook, tmp_path: Path) -> None:
    """A product called like a formula or markup stays text in the sheet and on the page."""
    path = shutil.copyfile(season_book, tmp_path / "hostile.db")
    firm = tmp_path / "firm.toml"
    firm.write_text('[business]\nname = "=HYPERLINK(1) <b>x</b>"\naddress = "a"\nphone = "1"\nlicence = "1"\n'
                    'state = "MN"\ntimezone = "America/Chicago"\n', "utf-8")  # fmt: skip
    assert swathbook("--book", path, "load", firm).code == 0
    out = [tmp_path / "a.pdf", tmp_path / "a.xlsx", tmp_path / "a.csv"]
    assert swathbook("--book", path, "season", 2026, *[w for name in out for w in ("--out", name)], at=AFTER).code == 0
    assert "=HYPERLINK(1) <b>x</b>" in PdfReader(out[0]).pages[0].extract_text()
    cells = [cell for row in load_workbook(out[1])["Season"].iter_rows() for cell in row if cell.value is not None]
    assert {cell.data_type for cell in cells} == {"s", "n"}
    assert "'=HYPERLINK" in out[2].read_text("utf-8-sig")
