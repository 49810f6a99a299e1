"""Loading: all or nothing, every problem with its file, key and reason. All names and numbers are invented."""

from __future__ import annotations

import json
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import pytest
from hypothesis import example, given
from hypothesis import strategies as st

from records.clock import FixedClock
from records.services.loading import MAX_BYTES, Counts, LoadReport, load
from tests.fakes import FakeBook

CLOCK = FixedClock(datetime(2026, 5, 1, 12, tzinfo=UTC))
FIRM = b"""
[business]
name = "Loon Hollow Lawn Care"
address = "480 Cooper Alley"
phone = "612-555-0142"
licence = "B-990417"
state = "MN"
timezone = "America/Chicago"

[[people]]
id = "mo"
name = "Mo Lindqvist"
[[people.licences]]
number = "C-1"
state = "MN"
kind = "certified"
categories = ["turf"]
from = 2026-01-01
to = 2026-12-31
"""
CUSTOMER = {"id": "halvorsen", "name": "Berit Halvorsen"}
SITE = {
    "id": "lark-lane-7",
    "customer": "halvorsen",
    "address": "7 Lark Lane",
    "city": "Birchfold",
    "state": "MN",
    "zip": "55290",
    "zones": [{"id": "front", "kind": "turf", "area": "4200 sq ft"}],
}
PRODUCT = {"id": "spreadwell", "name": "Spreadwell", "kind": "adjuvant", "form": "liquid"}
TANK = {"id": "skid-1", "name": "Skid sprayer"}
MIX = {
    "id": "mix-1",
    "made_at": "2026-05-12T07:30",
    "equipment": "skid-1",
    "water": "100 gal",
    "products": [{"product": "spreadwell", "amount": "32 fl oz"}],
}


def run(book: FakeBook, *sources: tuple[str, object]) -> LoadReport:
    made = [(name, data if isinstance(data, bytes) else json.dumps(data).encode()) for name, data in sources]
    before, commits = dict(book.versions), book.commits
    report = load(book, made, CLOCK)
    if report.ok:
        assert book.commits == commits + 1
    else:
        assert (book.versions, book.commits) == (before, commits)
        assert all(str(problem).isprintable() for problem in report.problems)
    return report


def told(report: LoadReport) -> list[tuple[str, str, str]]:
    return [(problem.file, problem.where, problem.what) for problem in report.problems]


def test_new_same_and_changed_documents_are_counted() -> None:
    book = FakeBook()
    assert run(book, ("firm.toml", FIRM)).counts == {"business": Counts(added=1), "people": Counts(added=1)}
    body = book.versions["person", "mo"][0].body
    assert body["licences"][0]["from"] == "2026-01-01"
    assert book.versions["business", "business"][0].loaded_at == CLOCK.now()
    again = run(book, ("firm.toml", FIRM.replace(b"Cooper", b"Copper")))
    assert again.counts == {"business": Counts(changed=1), "people": Counts(unchanged=1)}
    assert [len(found) for found in book.versions.values()] == [2, 1]


def test_a_day_as_text_and_an_empty_key_are_no_change() -> None:
    book = FakeBook()
    run(book, ("firm.toml", FIRM))
    person = book.versions["person", "mo"][0].body | {"phone": None}
    assert run(book, ("people.json", {"people": [person]})).counts == {"people": Counts(unchanged=1)}


def test_references_are_answered_by_the_load_or_the_book() -> None:
    book = FakeBook()
    whole = {"sites": [SITE], "customers": [CUSTOMER], "mixes": [MIX], "products": [PRODUCT], "equipment": [TANK]}
    assert run(book, ("all.json", whole)).ok
    assert run(book, ("more.json", {"sites": [SITE | {"id": "lark-lane-9"}], "mixes": [MIX | {"id": "mix-2"}]})).ok


def test_dangling_references_are_told_with_what_was_meant() -> None:
    book = FakeBook()
    run(book, ("a.json", {"customers": [CUSTOMER], "products": [PRODUCT]}))
    mix = MIX | {"products": [{"product": "spredwell", "amount": "3 oz"}, {"product": "x", "amount": "bad"}]}
    report = run(book, ("b.json", {"sites": [SITE | {"customer": "halversen"}], "mixes": [mix]}))
    assert told(report) == [
        ("b.json", "mixes[0].products[1].amount", report.problems[0].what),
        (
            "b.json",
            "sites[0].customer",
            "'halversen' is no customer of this load or of the book; did you mean halvorsen?",
        ),
        (
            "b.json",
            "mixes[0].equipment",
            "'skid-1' is no equipment of this load or of the book; load the equipment too, or correct the id",
        ),
        (
            "b.json",
            "mixes[0].products[0].product",
            "'spredwell' is no product of this load or of the book; did you mean spreadwell?",
        ),
        (
            "b.json",
            "mixes[0].products[1].product",
            "'x' is no product of this load or of the book; load the product too, or correct the id",
        ),
    ]


@pytest.mark.parametrize("stored", [True, False], ids=["in-the-book", "in-the-load"])
def test_an_amount_in_a_mix_fits_the_form_of_its_product(stored: bool) -> None:  # noqa: FBT001 - a parameter
    book = FakeBook()
    mix = MIX | {"products": [{"product": "spreadwell", "amount": "2 lb"}]}
    base: dict[str, Any] = {"products": [PRODUCT], "equipment": [TANK]}
    if stored:
        assert run(book, ("a.json", base)).ok
    report = run(book, ("b.json", {"mixes": [mix]} | ({} if stored else base)))
    [(_, where, what)] = told(report)
    assert where == "mixes[0].products[0].amount"
    assert "the product is liquid" in what


def test_an_id_given_twice_is_refused_even_across_files() -> None:
    book = FakeBook()
    report = run(
        book,
        ("a.json", {"customers": [CUSTOMER, CUSTOMER]}),
        ("b.toml", b'[[customers]]\nid = "halvorsen"\nname = "Other"\n' + FIRM),
        ("c.toml", FIRM.partition(b"[[people]]")[0]),
    )
    assert told(report) == [
        (
            "a.json",
            "customers[1]",
            "has the id 'halvorsen' a second time, first at customers[0]; keep one, or give another id",
        ),
        (
            "b.toml",
            "customers[0]",
            "has the id 'halvorsen' a second time, first at a.json: customers[0]; keep one, or give another id",
        ),
        ("c.toml", "business", "is given twice, first at b.toml: business; keep one, or give another id"),
    ]


def test_problems_of_all_files_are_told_and_nothing_is_stored() -> None:
    book = FakeBook()
    report = run(
        book,
        ("good.toml", FIRM),
        ("bad.json", {"customers": [{"id": "a"}], "costumers": []}),
        ("worse.toml", b"[[sites]\n"),
    )
    assert [(problem.file, problem.where) for problem in report.problems] == [
        ("bad.json", "customers[0].name"),
        ("bad.json", "costumers"),
        ("worse.toml", ""),
    ]
    assert str(report.problems[1]) == "bad.json: costumers: is not known; did you mean customers?"


@pytest.mark.parametrize(
    ("name", "data"),
    [
        ("-", b'\xef\xbb\xbf  {"customers": [{"id": "a", "name": "B"}]}'),
        ("-", b'\xef\xbb\xbf# by hand\r\n[[customers]]\r\nid = "a"\r\nname = "B"\r\n'),
        ("list.JSON", b'{"customers": [{"id": "a", "name": "B"}]}'),
        ("list.txt", b'[[customers]]\nid = "a"\nname = "B"'),
    ],
    ids=["json-stdin", "toml-stdin", "json-ending", "toml-other-ending"],
)
def test_the_language_is_told_by_ending_or_content(name: str, data: bytes) -> None:
    assert run(FakeBook(), (name, data)).counts == {"customers": Counts(added=1)}


HOSTILE = [
    ("empty.toml", b"", "is empty"),
    ("blank.json", b"\xef\xbb\xbf \n", "is empty"),
    ("binary.toml", bytes(range(256)), "is not UTF-8"),
    ("wide.toml", "[business]".encode("utf-16"), "is not UTF-8"),
    ("nul.toml", b"\0" * 1_000, "is not TOML"),
    ("huge.toml", b" " * (MAX_BYTES + 1), "20 MB"),
    ("deep.json", b'{"a":' * 100_000, "nested too deeply"),
    ("deep.toml", b"a = " + b"[" * 100_000, "nested too deeply"),
    ("dots.toml", b"a" + b".a" * 100_000 + b" = 1", "more than 200 dots"),
    ("list.json", b"[1, 2]", "holds a list"),
    ("text.json", b'"people"', "holds text"),
    ("cut.json", b'{"people": [', "is not JSON"),
    ("twice.json", b'{"people": [{"id": "a", "id": "b", "name": "C"}]}', "given twice in one object"),
    ("twice.toml", b"people = []\npeople = []", "is not TOML"),
    ("digits.json", b'{"people": ' + b"9" * 10_000 + b"}", "out of bounds"),
    ("power.toml", b"people = 1e" + b"9" * 100, "out of bounds"),
    ("nan.json", b'{"people": NaN}', "is a number"),
    ("float.json", b'{"people": 0.1}', "is a number"),
    ("half.json", b'{"people": [{"id": "\\ud800", "name": "\\udfff"}]}', "U+D800"),
    ("none.json", b"{}", "holds nothing to load"),
    ("one.toml", b'[people]\nid = "mo"', "[[people]] in TOML"),
    ("business.toml", b'[[business]]\nname = "x"', "is a list"),
    ("key.json", b'{"\\u001b[31m": 1}', "is not known"),
    ("visit.json", b'{"site": "lark-lane-7", "treatments": []}', "swathbook close"),
    ("formula.toml", b'[[people]]\nid = "=1+1"\nname = "x"', "is no id"),
]


@pytest.mark.parametrize(("name", "data", "words"), HOSTILE, ids=[name for name, _, _ in HOSTILE])
def test_hostile_files_get_one_line_each(name: str, data: bytes, words: str) -> None:
    report = run(FakeBook(), (name, data))
    assert any(words in problem.what for problem in report.problems), told(report)
    assert all(len(str(problem)) < 300 for problem in report.problems)


def test_many_unknown_keys_are_summed_up() -> None:
    report = run(FakeBook(), ("a.json", {f"k{n}": n for n in range(5_000)}))
    assert len(report.problems) == 21
    assert "5,000 unknown keys" in report.problems[0].what


def test_no_file_is_a_problem_too() -> None:
    assert not run(FakeBook()).ok


@example("-", b"")
@given(st.sampled_from(["a.json", "a.toml", "-"]), st.binary(max_size=200) | st.text(max_size=80).map(str.encode))
def test_no_content_raises(name: str, data: bytes) -> None:
    run(FakeBook(), (name, data))


def test_the_demonstration_firm_loads_whole() -> None:
    folder = Path(__file__).parents[2] / "demo" / "firm"
    report = run(FakeBook(), *[(file.name, file.read_bytes()) for file in sorted(folder.glob("*.toml"))])
    assert told(report) == []
    assert set(report.counts) == {"business", "people", "customers", "sites", "products", "equipment", "mixes"} | {
        "packs"
    }
