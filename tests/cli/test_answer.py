"""The ten questions of a customer, the neighbour's, and call-backs, asked of the demo firm on the command line."""

from __future__ import annotations

import io
import json
from functools import cache
from pathlib import Path
from typing import TYPE_CHECKING, Any

import pytest
import tomli
from pypdf import PdfReader

from tests.cli.conftest import ROOT

if TYPE_CHECKING:
    from tests.cli.conftest import Swathbook

LATER = "2026-10-27T08:30-05:00"

# What customers ask, from the trade's practice: question -> words of the answer about 14 May at 7 Lark Lane.
TEN = {
    "1 what, and what for": ["Brindle 4L: 1.1 fl oz per 1,000 sq ft; 4.62 fl oz in all", "against ground ivy"],
    "2 children and pets": ["Keep off: until the spray has dried", "Keep children and pets off"],
    "3 who, licensed": ["Mo Lindqvist, licence MN-C-990101: certified applicator of MN", "was valid on that day"],
    "4 dangerous, whom to call": ["signal word CAUTION", "1-800-222-1222", "1-800-858-7378", "911", "If on skin:"],
    "5 mow, water, seed, clippings": ["Do not mow for 1 day before or after treatment."],
    "6 when will they die": ["Leaves twist within 2 days; judge control after 14 to 28 days."],
    "7 again, free, when": ["by its label again from", "Whether the next visit is free depends on your agreement"],
    "8 drift, wind": ["6 mph from the northwest; it blew toward the southeast", "vegetables, flowers or ponds"],
    "9 which parts": [
        "Front (lawn): over the whole area, 4,200 sq ft",
        "Back (lawn): on single weeds and patches, 300 sq ft",
    ],
    "10 told before, label, sign": [
        "Ask us to be told before the next visit",
        "copy of every product label",
        "sign was put up",
    ],
}


@pytest.mark.parametrize("question", TEN)
def test_each_question_of_a_customer_has_its_line(question: str, swathbook: Swathbook, season_book: Path) -> None:
    """One command answers all ten."""
    ran = swathbook("--book", season_book, "answer", "7 Lark Lane", "--on", "2026-05-14", at=LATER)
    assert ran.code == 0
    for told in TEN[question]:
        assert told in ran.words


@pytest.mark.parametrize(
    ("typed", "record"),
    [
        ("2026-25", "2026-000025"),
        ("lark-lane-7", "2026-000112"),
        ("lark lane", "2026-000112"),
        ("BERIT HALVORSEN", "2026-000112"),
        ("halvorsen", "2026-000112"),
        ("jose angel ibanez", "2026-000129"),
        ("31 kettle", "2026-000129"),
    ],
)
def test_any_way_to_name_a_place_finds_its_newest_visit(
    typed: str, record: str, swathbook: Swathbook, season_book: Path
) -> None:
    """By serial, site, part of an address, or a name without its accents."""
    assert swathbook("--book", season_book, "answer", typed, "--json", at=LATER).json["records"] == [record]


def test_several_places_are_listed_in_one_line(swathbook: Swathbook, season_book: Path) -> None:
    """Nothing is guessed: ids and addresses of the candidates, and what to do."""
    ran = swathbook("--book", season_book, "answer", "Birchfold", at=LATER)
    assert ran.code == 9
    assert ran.err.count("\n") == 1
    assert "fits" in ran.err
    assert "lark-lane-7 (7 Lark Lane)" in ran.err
    nobody = swathbook("--book", season_book, "answer", "Zorro", at=LATER)
    assert nobody.code == 9
    assert nobody.err.count("\n") == 1


def test_a_day_without_a_visit_and_a_voided_record_are_told(swathbook: Swathbook, year: Path) -> None:
    """The days there are; and a record that does not stand is no answer."""
    none = swathbook("--book", year, "answer", "lark-lane-7", "--on", "2026-05-15", at=LATER)
    assert none.code == 9
    assert "2026-05-14" in none.err
    assert swathbook("--book", year, "void", "2026-112", "--reason", "wrong yard", at=LATER).code == 0
    assert swathbook("--book", year, "answer", "2026-112", at=LATER).code == 2
    after = swathbook("--book", year, "answer", "lark-lane-7", "--json", at=LATER)
    assert after.json["records"] == ["2026-000103"]


def test_the_page_is_in_the_customers_language_and_one_page(swathbook: Swathbook, season_book: Path) -> None:
    """Spanish where the customer wants it; English on request; letter and A4."""
    ran = swathbook("--book", season_book, "answer", "ibanez", "--out", "a.pdf", at=LATER)
    assert ran.code == 0
    assert "wrote a.pdf" in ran.err
    assert len(PdfReader("a.pdf").pages) == 1
    assert "¿Quién lo hizo?" in PdfReader("a.pdf").pages[0].extract_text()
    assert (
        swathbook("--book", season_book, "answer", "ibanez", "--language", "en", "--json", at=LATER).json["language"]
        == "en"
    )
    a4 = swathbook("--book", season_book, "answer", "ibanez", "--out", "b.pdf", "--paper", "a4", at=LATER)
    assert a4.code == 0
    assert round(PdfReader("b.pdf").pages[0].mediabox.width) == 595
    french = swathbook("--book", season_book, "answer", "ibanez", "--language", "fr", at=LATER)
    assert french.code == 16
    assert "Use en or es" in french.err
    assert "/" not in french.err


@pytest.mark.parametrize("word", ["pets", "mascotas"])
def test_a_question_is_found_by_a_word_of_any_language(word: str, swathbook: Swathbook, season_book: Path) -> None:
    """Who asks in the office need not speak the customer's language."""
    for site in ("kettle", "lark-lane-7"):
        found = swathbook("--book", season_book, "answer", site, "--only", word, "--json", at=LATER)
        assert [part["key"] for part in found.json["answers"]] == ["keep_off"]


def test_what_is_typed_nearly_right_is_found_or_offered(swathbook: Swathbook, season_book: Path) -> None:
    """A kind of street may be shortened; a name with another letter is offered."""
    assert swathbook("--book", season_book, "answer", "7 lark ln", "--json", at=LATER).json["records"] == [
        "2026-000112"
    ]
    near = swathbook("--book", season_book, "answer", "Halverson", at=LATER)
    assert near.code == 9
    assert "Did you mean 'Berit Halvorsen'?" in near.err


def test_all_tells_the_earlier_visits_of_the_year(swathbook: Swathbook, season_book: Path) -> None:
    """The newest in full, the rest a line each; a neighbour is not told of a season."""
    ran = swathbook("--book", season_book, "answer", "lark-lane-7", "--all", at=LATER)
    assert "What else was done this year?" in ran.out
    assert "April 21, 2026: Nidder 0.43G: against smooth crabgrass" in ran.words
    refused = swathbook("--book", season_book, "answer", "lark-lane-7", "--all", "--neighbour", at=LATER)
    assert refused.code == 2


def test_a_corrected_record_says_what_differs(swathbook: Swathbook, year: Path) -> None:
    """As the notice does: when it was corrected, and each fact before and after."""
    entry = swathbook("--book", year, "show", "2026-25", "--json").json["revisions"][0]["body"]["document"]
    entry["treatments"][0]["products"][0]["rate"] = "1 fl oz/1000 sq ft"
    Path("new.json").write_text(json.dumps(entry), "utf-8")
    amended = swathbook("--book", year, "amend", "2026-25", "new.json", "--reason", "read the jug again", at=LATER)
    assert amended.code == 0, amended.err
    told = swathbook("--book", year, "answer", "2026-25", at=LATER).words
    assert "The record of this visit was corrected on October 27, 2026" in told
    assert "first written down as" in told
    assert "notice, now" not in told
    assert "takes the place of" not in told
    assert swathbook("--book", year, "deliver", "2026-25", "--how", "paper", at=LATER).code == 0
    told = swathbook("--book", year, "answer", "2026-25", at=LATER).words
    assert "Corrected October 27, 2026; this page takes the place of the notices before it" in told
    assert "on the first notice, now" in told


@cache
def customers() -> dict[str, dict[str, Any]]:
    """Return the customers of the demo firm with their sites."""
    loaded = tomli.loads((ROOT / "demo" / "firm" / "customers.toml").read_text("utf-8"))
    people = tomli.loads((ROOT / "demo" / "firm" / "people.toml").read_text("utf-8"))["people"]
    found = {
        one["id"]: one | {"sites": [], "people": [person["name"] for person in people]} for one in loaded["customers"]
    }
    for site in loaded["sites"]:
        found[site["customer"]]["sites"].append(site)
    return found


@pytest.mark.parametrize("customer", sorted(customers()))
def test_a_neighbour_is_told_nothing_private(customer: str, swathbook: Swathbook, season_book: Path) -> None:
    """Name and its parts, phone, e-mail, people, notes, amounts, other records: on no screen, in no JSON or page."""
    one = customers()[customer]
    for site in one["sites"]:
        screen = swathbook("--book", season_book, "answer", site["id"], "--neighbour", "--out", "near.pdf", at=LATER)
        if screen.code == 9:
            continue  # nothing was done there
        document = swathbook("--book", season_book, "answer", site["id"], "--neighbour", "--json", at=LATER)
        page = " ".join(
            text
            for page in PdfReader(io.BytesIO(Path("near.pdf").read_bytes())).pages
            for text in [page.extract_text()]
        )
        private = [one["name"], one.get("phone"), one.get("email"), site.get("notes"), *one["people"]]
        private += [
            part for part in one["name"].split() if len(part) > 3 and part.casefold() not in site["address"].casefold()
        ]
        private += [one["address"]] if one["address"] != site["address"] else []
        private += [
            neighbour.get(key) for neighbour in site.get("notify") or [] for key in ("name", "phone", "address")
        ]
        own = document.json["records"]
        every = swathbook("--book", season_book, "find", "--site", site["id"], "--json", at=LATER).json["applications"]
        private += [line["serial"] for line in every if line["serial"] not in own]
        private += [line["amount"] for line in every if line["serial"] in own]
        for told in (screen.out, document.out, page):
            assert [fact for fact in private if fact and fact in told] == []
        assert "1-800-222-1222" in page


def test_a_call_back_says_when_what_else_and_why(swathbook: Swathbook, season_book: Path) -> None:
    """First the day; then other groups with cost and stock; then the check list; the label wins."""
    ran = swathbook("--book", season_book, "callback", "kettle-ct-31", at=LATER)
    assert ran.code == 0
    assert ran.words.startswith("A repeat with Kelbrook 60 DF is lawful from 2026-11-03 on (28 days interval)")
    for told in (
        "wild violet: not rated",
        "promised to look again on 2026-11-03",
        "application",
        "OTHER PRODUCTS WITH ANOTHER MODE OF ACTION",
        "Wexcombe 2L (group 4)",
        "restricted use: who applies has to be certified",
        "The right stage of growth? not recorded",
        "temperature 50 degF, wind 7 mph from WSW, by meter",
        "The label wins over every line here",
    ):
        assert told in ran.words
    document = swathbook("--book", season_book, "callback", "kettle-ct-31", "--json", at=LATER).json
    assert [one["repeat"]["first_day"] for one in document["treatments"]] == ["2026-11-03"]
    assert document["promised"] == "2026-11-03"


def test_groups_show_a_row_and_that_two_products_of_a_group_are_none(swathbook: Swathbook, season_book: Path) -> None:
    """Kelbrook and Sedgeline are both group 2: four times in a row on the back of Mill Loop."""
    ran = swathbook("--book", season_book, "groups", "mill loop", at="2026-09-20T08:00-05:00")
    assert ran.code == 0
    assert "two products of one group are not rotation" in ran.out
    assert "Brosnan et al. 2020" in ran.out
    document = swathbook("--book", season_book, "groups", "mill-loop-230", "--zone", "back", "--json", at=LATER).json
    assert [(one["group"], one["times"]) for one in document["cautions"] if not one["target"]] == [("2", 4)]
    assert {one["zone"] for one in document["years"]} == {"back"}
    assert swathbook("--book", season_book, "groups", "mill-loop-230", "--zone", "roof", at=LATER).code == 9


TABLE = "Day,Customer,Product,Number,Used,Unit\n2025-05-01,Berit Halvorsen,Brindle 4L,99999-41,4.6,floz\n"
LAYOUT = """layout = 1
name = "office-sheet"
source = "Invented for this test"
[file]
date = "YYYY-MM-DD"
[rows]
grain = "job"
timezone = "America/Chicago"
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


def test_an_imported_record_says_not_recorded(swathbook: Swathbook, book_path: Path) -> None:
    """A book without a firm, a site or a label: every question is answered, with what is not recorded said."""
    Path("mine.toml").write_text(LAYOUT, "utf-8")
    Path("mine.csv").write_text(TABLE, "utf-8")
    assert swathbook("--book", book_path, "import", "mine.csv", "--layout", "mine.toml").code == 0
    for words in (
        ["2025-1"],
        ["halvorsen"],
        ["2025-1", "--neighbour"],
        ["2025-1", "--language", "es", "--out", "i.pdf"],
    ):
        ran = swathbook("--book", book_path, "answer", *words, at=LATER)
        assert ran.code == 0, ran.err
        assert "not recorded" in ran.out or "no consta" in ran.out


SECOND = {
    "ref": "again-1",
    "site": "kettle-ct-31",
    "applicator": "mo",
    "started": "2026-10-06T14:10",
    "finished": "2026-10-06T14:20",
    "weather": {
        "wind_speed": "5 mph",
        "wind_from": "W",
        "temperature": "58 degF",
        "measured_at": "2026-10-06T14:05",
        "source": "meter",
    },
    "treatments": [
        {
            "zones": ["back"],
            "method": "spot",
            "area": "200 sq ft",
            "targets": ["dandelion"],
            "equipment": "can-1",
            "spray": "0.2 gal",
            "products": [{"product": "brindle-4l", "rate": "0.8 fl oz/gal", "lot": "B2311"}],
        }
    ],
    "confirmed": ["same-day", "unlikely-amount", "not-notified", "not-checkable"],
}


def test_two_visits_of_one_day_are_both_told(swathbook: Swathbook, year: Path) -> None:
    """The ground has to be kept off for each of them; asked for by its serial, a record stands alone."""
    Path("second.json").write_text(json.dumps(SECOND), "utf-8")
    sealed = swathbook("--book", year, "close", "second.json", "--json", at="2026-10-06T14:30-05:00").json
    assert sealed["status"] == "sealed", sealed["findings"]
    told = swathbook("--book", year, "answer", "kettle-ct-31", "--language", "en", at=LATER)
    for words in (
        *("Kelbrook 60 DF", "Brindle 4L", "2026-000129", sealed["serial"], "from the west;", "west-southwest"),
        *(
            "Wind, 2:10 pm to 2:20 pm: 5 mph",
            "8:19 am to 8:39 am, Front: Kelbrook",
            "2:10 pm to 2:20 pm, Back: Brindle",
        ),
    ):
        assert words in told.words
    assert told.words.count("Keep off: until the spray has dried") == 1
    assert "Brindle 4L: If on skin" in told.words
    assert "Kelbrook 60 DF: Growth stops within a week" in told.words
    assert "2:10 pm to 2:20 pm: That a notice of this visit was given is not written down" in told.words
    near = swathbook("--book", year, "answer", "kettle-ct-31", "--neighbour", at=LATER).words
    assert "one visit only" not in near
    assert "the visits of this one day only" in near
    alone = swathbook("--book", year, "answer", "2026-129", "--language", "en", at=LATER)
    assert "Brindle 4L" not in alone.out


def load(swathbook: Swathbook, book: Path, **parts: object) -> None:
    """Load some parts of a catalogue."""
    Path("more.json").write_text(json.dumps(parts, default=str), "utf-8")
    ran = swathbook("--book", book, "load", "more.json", at=LATER)
    assert ran.code == 0, ran.err


def sold(swathbook: Swathbook, book: Path, to: str) -> None:
    """Give 7 Lark Lane to another customer."""
    loaded = tomli.loads((ROOT / "demo" / "firm" / "customers.toml").read_text("utf-8"))
    site = next(one for one in loaded["sites"] if one["id"] == "lark-lane-7") | {"customer": to}
    load(swathbook, book, sites=[site])


def test_a_new_owner_is_told_nothing_of_the_one_before(swathbook: Swathbook, year: Path) -> None:
    """Name, looks, promises and the other visits are the earlier customer's; by its serial the page is as recorded."""
    sold(swathbook, year, "nguyen")
    for words in (["lark-lane-7"], ["7 Lark Lane", "--all"], ["7 Lark Lane", "--out", "new.pdf"]):
        told = swathbook("--book", year, "answer", *words, at=LATER)
        assert told.code == 0
        assert "Halvorsen" not in told.out
        assert "done for an earlier customer of this address" in told.words
        assert "lark-lane-7 is nguyen's now: name, looks and promises are left out" in " ".join(told.err.split())
        assert [one for one in ("We looked on", "We promised", "April 21", "else was done") if one in told.words] == []
    assert "Halvorsen" not in PdfReader("new.pdf").pages[0].extract_text()
    frozen = swathbook("--book", year, "answer", "2026-112", at=LATER)
    assert "Berit Halvorsen" in frozen.out
    assert "lark-lane-7 is nguyen's now" in " ".join(frozen.err.split())
    assert "nguyen" not in swathbook("--book", year, "answer", "lark-lane-7", "--neighbour", at=LATER).words


def test_an_earlier_customers_name_opens_nobody_elses_lawn(swathbook: Swathbook, year: Path) -> None:
    """A name that fits a place now and records of another before is not guessed; one that fits none now is told so."""
    sold(swathbook, year, "nguyen")
    gone = swathbook("--book", year, "answer", "Berit Halvorsen", at=LATER)
    assert gone.code == 9
    assert "2026-000112" in gone.err
    one = {"id": "berit-2", "name": "Berit Halvorsen", "address": "9 Elm, Birchfold, MN 55290"}
    place = {
        "id": "elm-9",
        "customer": "berit-2",
        "address": "9 Elm",
        "city": "Birchfold",
        "state": "MN",
        "zip": "55290",
    }
    ground = {"county": "Hennepin", "zones": [{"id": "front", "kind": "turf", "area": "900 sq ft"}]}
    load(swathbook, year, customers=[one], sites=[place | ground])
    both = swathbook("--book", year, "answer", "Berit Halvorsen", at=LATER)
    assert both.code == 9
    assert "fits 2 places: elm-9 (9 Elm), lark-lane-7 (7 Lark Lane, another customer's now; 2026-000112)" in both.err


def test_a_name_that_no_font_has_is_left_out_of_the_page(swathbook: Swathbook, year: Path) -> None:
    """A page without a name is worth more than none; that it is missing is said."""
    named = {"id": "ibanez", "name": "山田花子", "address": "31 Kettle Court, Birchfold, MN 55290"}
    load(swathbook, year, customers=[named])
    Path("second.json").write_text(json.dumps(SECOND), "utf-8")
    sealed = swathbook("--book", year, "close", "second.json", "--json", at="2026-10-06T14:30-05:00").json
    ran = swathbook("--book", year, "answer", sealed["serial"], "--out", "name.pdf", at=LATER)
    assert ran.code == 0, ran.err
    assert "the name is left out of the page" in " ".join(ran.err.split())
    assert "31 Kettle Court" in PdfReader("name.pdf").pages[0].extract_text()


def test_an_imported_record_has_the_firm_of_the_book(swathbook: Swathbook, year: Path) -> None:
    """Whom to call is known where the book knows it, though the old list does not name the firm."""
    Path("mine.toml").write_text(LAYOUT, "utf-8")
    Path("mine.csv").write_text(TABLE, "utf-8")
    assert swathbook("--book", year, "import", "mine.csv", "--layout", "mine.toml", at=LATER).code == 0
    for words in ([], ["--neighbour"]):
        ran = swathbook("--book", year, "answer", "2025-1", *words, at=LATER)
        assert ran.code == 0, ran.err
        assert "Loon Hollow Lawn Care, 612-555-0142" in ran.out
