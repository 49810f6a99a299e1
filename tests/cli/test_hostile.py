"""Whatever is typed, loaded or piped in: findings or one line, never a traceback, a raw escape or a stray file.

`watch` in conftest looks at every screen of every run.
"""

from __future__ import annotations

import csv
import io
import json
from typing import TYPE_CHECKING, Any

import pytest
from pypdf import PdfReader

from records.clock import FixedClock
from records.services.loading import load
from tests.cli.conftest import AFTER, Swathbook, visit
from tests.cli.test_reports import LAYOUT
from tests.cli.test_schemas import small
from tests.fakes import FakeBook

if TYPE_CHECKING:
    from pathlib import Path

WRONG: list[Any] = [
    None,
    True,
    0,
    -1,
    1.5,
    10**30,
    "",
    " ",
    "x",
    [],
    ["x"],
    [[]],
    {},
    {"x": 1},
    [None],
    "\N{BULLET}" * 3,
]
VISIT_PLACES = [
    "ref",
    "site",
    "applicator",
    "supervisor",
    "started",
    "finished",
    "weather",
    "weather.wind_speed",
    "weather.wind_from",
    "weather.temperature",
    "weather.humidity",
    "weather.measured_at",
    "weather.source",
    "weather.not_measured",
    "treatments",
    "treatments.0",
    "treatments.0.zones",
    "treatments.0.method",
    "treatments.0.area",
    "treatments.0.extent",
    "treatments.0.targets",
    "treatments.0.equipment",
    "treatments.0.spray",
    "treatments.0.mix",
    "treatments.0.products",
    "treatments.0.products.0",
    "treatments.0.products.0.product",
    "treatments.0.products.0.rate",
    "treatments.0.products.0.amount",
    "treatments.0.products.0.lot",
    "treatments.0.products.0.targets",
    "follow_up",
    "confirmed",
    "remarks",
]
ESCAPES = [
    "\x1b[31mred",
    "\x1b]0;title\x07",
    "\x9b31m",
    "bell\x07",
    "back\x08\x08",
    "nul\x00",
    "\u202egnp.exe",
    "\u2066x\u2069",
    "\u2028line",
    "\x7f",
    "tab\tx",
    "line\nx\r\n",
]
MARKUP = [
    "<b>bold</b>",
    "<para>",
    "</font><font size=99>",
    '<img src="/etc/passwd"/>',
    '<a href="file:///x">x</a>',
    "&amp;&#65;&nope;",
    "{date} {serial}",
    "%s %(x)s",
    "${x}",
    "=1+1",
    "+1",
    "-1",
    "@SUM(A1)",
    '=HYPERLINK("http://x","y")',
]


def put(document: dict[str, Any], place: str, value: object) -> dict[str, Any]:
    """Write a value at a place of a document."""
    *way, last = place.split(".")
    inner: Any = document
    for step in way:
        inner = inner[int(step) if isinstance(inner, list) else step]
    inner[int(last) if isinstance(inner, list) else last] = value
    return document


@pytest.mark.parametrize("place", VISIT_PLACES)
def test_wrong_types_everywhere_in_a_visit(place: str, swathbook: Swathbook, firm: Path) -> None:
    """Each is sealed or held with findings; all of them in one run, and each alone on a screen."""
    documents = [put(visit(ref=f"{place}-{i}"), place, value) for i, value in enumerate(WRONG)]
    lines = "\n".join(json.dumps(document) for document in documents)
    ran = swathbook("--book", firm, "close", "--lines", "-", "--json", stdin=lines)
    assert ran.code in {0, 1}
    told = ran.json
    assert len(told["results"]) == len(WRONG)
    assert told["refused"] == 0 or place == "ref"
    assert all(result["findings"] for result in told["results"] if result["status"] == "held")
    assert swathbook("--book", firm, "held").code == 0
    for result in told["results"]:
        if result["held"]:
            assert swathbook("--book", firm, "held", "show", result["held"]).code == 0


@pytest.mark.parametrize("value", WRONG, ids=repr)
def test_wrong_types_everywhere_in_a_document_to_load(value: object, swathbook: Swathbook, firm: Path) -> None:
    """At every key of every kind of document: loaded where it is right after all, else told with its key."""

    def places(content: object, path: str = "") -> list[str]:
        parts = (
            content.items() if isinstance(content, dict) else enumerate(content) if isinstance(content, list) else ()
        )
        return [place for key, inner in parts for place in (f"{path}{key}", *places(inner, f"{path}{key}."))]

    for place in places(small()):
        data = json.dumps(put(small(), place, value)).encode()
        report = load(FakeBook(), [("x.json", data)], FixedClock(AFTER))
        for problem in report.problems:
            assert str(problem).isprintable(), (place, problem)
    ran = swathbook("--book", firm, "load", "-", stdin=json.dumps({"people": [value], "sites": value}))
    assert ran.code == 1


FILES: dict[str, bytes] = {
    "empty": b"",
    "blank": b" \n\t ",
    "nul": b"\0" * 100,
    "binary": bytes(range(256)) * 8,
    "not UTF-8": b'{"site": "\xff\xfe"}',
    "UTF-16": '{"site": 1}'.encode("utf-16"),
    "cut off": b'{"site": "lark',
    "a list": b"[]",
    "a number": b"1",
    "null": b"null",
    "NaN": b'{"site": NaN, "remarks": Infinity}',
    "1e400": b'{"site": "x", "treatments": [{"area": 1e400}]}',
    "-0": b'{"site": -0, "remarks": -0.0}',
    "many digits": b'{"site": ' + b"9" * 50_000 + b"}",
    "twice": b'{"site": "a", "site": "b"}',
    "deep lists": b"[" * 100_000,
    "deep and closed": b"[" * 100_000 + b"]" * 100_000,
    "deep objects": b'{"a":' * 100_000,
    "deep value": b'{"site": ' + b"[" * 5_000 + b"]" * 5_000 + b"}",
    "long remark": b'{"site": "x", "remarks": "' + b"x" * 10_000_000 + b'"}',
    "half a pair": b'{"remarks": "\\ud800"}',
    "half a pair as a key": b'{"\\udfff": 1}',
    "escape as a key": b'{"\\u001b[31m": 1}',
    "turned key": '{"\u202ex": 1}'.encode(),
    "unknown keys": json.dumps({f"key{i}": i for i in range(5000)}).encode(),
    "zip": b"PK\x03\x04" + b"\0" * 50,
    "only a mark": b"\xef\xbb\xbf",
    "markup": b"<visit><site/></visit>",
    "toml": b'site = "x"',
}


@pytest.mark.parametrize("name", FILES)
def test_files_that_are_no_visit(name: str, swathbook: Swathbook, firm: Path, tmp_path: Path) -> None:
    """From a file, from stdin, as lines and as a correction: a code, and one line or findings."""
    path = tmp_path / "x.json"
    path.write_bytes(FILES[name])
    for words in (["close", path], ["close", "-"], ["close", path, "--json"]):
        ran = swathbook("--book", firm, *words, stdin=FILES[name])
        assert ran.code in {1, 8}, (name, ran.code)
        assert len(ran.out) + len(ran.err) < 700_000
        if ran.code == 8 and "--json" not in words:
            assert ran.out == ""
            assert len(ran.err) < 500
            assert ran.err.count("\n") == 1
    ran = swathbook("--book", firm, "close", "--lines", path)
    assert ran.code in {0, 1}
    assert swathbook("--book", firm, "held").code == 0
    assert swathbook("--book", firm, "verify").code == 0


@pytest.mark.parametrize("word", ["NaN", "Infinity", "-Infinity"])
def test_what_is_no_json_is_no_text_either(word: str, swathbook: Swathbook, firm: Path) -> None:
    """RFC 8259 section 6 knows no NaN and no Infinity: refused wherever it stands, a reference or a remark too."""
    for key in ("ref", "remarks", "site"):
        text = json.dumps(visit(ref="r")).replace("{", f'{{"{key}": {word}, "x": 1, ', 1)
        ran = swathbook("--book", firm, "close", "-", stdin=text)
        assert (ran.code, ran.out, ran.err.count("\n")) == (8, "", 1)
        assert f"{word} is no value of JSON" in ran.err


@pytest.mark.parametrize("name", FILES)
@pytest.mark.parametrize("ending", ["json", "toml"])
def test_files_that_are_nothing_to_load(
    name: str, ending: str, swathbook: Swathbook, firm: Path, tmp_path: Path
) -> None:
    """As JSON and as TOML: problems, and nothing is loaded."""
    path = tmp_path / f"x.{ending}"
    path.write_bytes(FILES[name])
    ran = swathbook("--book", firm, "load", path)
    assert ran.code in {1, 8}, (name, ran)
    assert len(ran.out) + len(ran.err) < 20_000
    assert swathbook("--book", firm, "catalogue", "--json").json["loaded"]["people"] == 5


@pytest.mark.parametrize("text", ESCAPES, ids=ascii)
def test_escapes_in_what_is_loaded(text: str, swathbook: Swathbook, firm: Path) -> None:
    """Refused or shown as text; the screen of the refusal is clean too."""
    person = {"id": "eve", "name": f"Eve {text}"}
    ran = swathbook("--book", firm, "load", "-", stdin=json.dumps({"people": [person], text: 1}))
    assert ran.code == 1
    ran = swathbook("--book", firm, "load", "-", stdin=json.dumps({"people": [person]}))
    assert ran.code in {0, 1}
    for words in (["catalogue", "people"], ["catalogue", "people", "--json"], ["catalogue", "people", text]):
        swathbook("--book", firm, *words)


@pytest.mark.parametrize("text", ESCAPES, ids=ascii)
def test_escapes_in_a_visit(text: str, swathbook: Swathbook, firm: Path) -> None:
    """On every screen that shows it, in JSON too, nothing steers the terminal."""
    document = visit(ref=f"r{text}", remarks=text)
    document["treatments"][0]["targets"] = [f"ivy {text}"]
    document["treatments"][0]["products"][0]["lot"] = text
    document["treatments"][0]["equipment"] = f"skid {text}"
    document["weather"]["source"] = text
    document[f"key {text}"] = text
    for extra in ([], ["--json"]):
        ran = swathbook("--book", firm, "close", "-", *extra, stdin=json.dumps(document))
        assert ran.code in {0, 1}
        clean(ran.out + ran.err)
        for words in (["held"], ["held", "show", "1"], ["find"], ["show", "2026-1"], ["find", "--site", text]):
            ran = swathbook("--book", firm, *words, *extra)
            clean(ran.out + ran.err)
    ran = swathbook("--book", firm, "held", "drop", "1", "--reason", f"no {text}")
    clean(ran.out + ran.err)
    clean(swathbook("--book", firm, "held", "show", "1").out)


def clean(shown: str) -> None:
    """No mark that turns the direction of text stands on a screen raw."""
    assert not set(shown) & set("\u202a\u202b\u202c\u202d\u202e\u2066\u2067\u2068\u2069\u200e\u200f\u2028\u2029")


@pytest.mark.parametrize("text", MARKUP)
def test_markup_and_formulas_are_text(text: str, swathbook: Swathbook, firm: Path, tmp_path: Path) -> None:
    """In a notice and a summary as PDF they stand as typed; in the sheet no cell begins a formula."""
    customer = {"id": "halvorsen", "name": text, "address": text, "phone": "1"}
    product = {"id": "odd", "name": text, "kind": "adjuvant", "form": "liquid"}
    assert (
        swathbook("--book", firm, "load", "-", stdin=json.dumps({"customers": [customer], "products": [product]})).code
        == 0
    )
    document = visit(remarks=text, confirmed=["not-checkable"])
    document["treatments"][0]["targets"] = ["ground ivy", text]
    document["treatments"][0]["products"].append({"product": "odd", "rate": "0.25 % v/v", "lot": text})
    ran = swathbook("--book", firm, "close", "-", stdin=json.dumps(document))
    assert ran.code == 0, ran.out
    assert swathbook("--book", firm, "notice", "2026-1", "--out", "n.pdf").code == 0
    assert swathbook("--book", firm, "summary", "2026", "--out", "y.pdf", "--out", "y.csv").code == 0
    notice = squeezed((tmp_path / "n.pdf").read_bytes())
    assert text.replace(" ", "") in notice
    assert text.replace(" ", "") in squeezed((tmp_path / "y.pdf").read_bytes())
    cells = [cell for row in csv.reader(io.StringIO((tmp_path / "y.csv").read_text("utf-8-sig"))) for cell in row]
    assert not [cell for cell in cells if cell.startswith(("=", "+", "-", "@"))]
    assert sorted(path.name for path in tmp_path.iterdir() if path.suffix != ".db") == ["n.pdf", "y.csv", "y.pdf"]


def squeezed(pdf: bytes) -> str:
    """Return the text of a PDF without blanks."""
    return "".join("".join(page.extract_text() for page in PdfReader(io.BytesIO(pdf)).pages).split())


@pytest.mark.parametrize(
    "key", ["../../x", "/etc/x", "a/b", "..", ".hidden", "-rf", "con\\x", "C:x", "a\0b", "\N{FULLWIDTH SOLIDUS}x"]
)
def test_ids_that_look_like_paths(key: str, swathbook: Swathbook, firm: Path, tmp_path: Path) -> None:
    """No such id can be loaded, and none leads a file out of the folder."""
    ran = swathbook("--book", firm, "catalogue", "sites", "lark-lane-7", "--json")
    site = {**ran.json["documents"][0]["document"], "id": key}
    assert swathbook("--book", firm, "load", "-", stdin=json.dumps({"sites": [site]})).code == 1
    for words in (["notice", key], ["notice", key, "--season", "2026"], ["show", key], ["held", "show", key]):
        ran = swathbook("--book", firm, *words)
        assert ran.code in {2, 9}, (words, ran)
    assert [path.name for path in tmp_path.iterdir() if path.suffix != ".db"] == []


def test_an_imported_sites_name_leads_nowhere(swathbook: Swathbook, book_path: Path, tmp_path: Path) -> None:
    """A sheet may say anything for a site; the file of its season stays in the folder."""
    (tmp_path / "deep").mkdir()
    (tmp_path / "deep" / "mine.toml").write_text(
        LAYOUT.replace('customer = "Customer"\nproduct', 'customer = "Customer"\nsite_id = "Customer"\nproduct'),
        "utf-8",
    )
    (tmp_path / "deep" / "mine.csv").write_text(
        "Day,Customer,Product,Number,Used,Unit\n2025-05-01,../../out,Brindle 4L,99999-41,4.6,floz\n"
        "2025-05-02,../x\x1b[31m,=1+1,99999-41,4.6,floz\n",
        "utf-8",
    )
    swathbook("--book", book_path, "import", "deep/mine.csv", "--layout", "deep/mine.toml")
    before = sorted(path for path in tmp_path.parent.rglob("*"))
    for name in ("../../out", "../x"):
        ran = swathbook("--book", book_path, "notice", name, "--season", "2025")
        assert ran.code in {0, 9}
    made = [path for path in sorted(tmp_path.parent.rglob("*")) if path not in before]
    assert all(path.parent == tmp_path for path in made), made
    for words in (["find"], ["show", "2025-1"], ["show", "2025-2"], ["summary", "2025"], ["find", "--json"]):
        swathbook("--book", book_path, *words)


@pytest.mark.parametrize(
    "rate",
    [
        "\uff11.\uff11 fl oz/1000 sq ft",
        "\u0661 fl oz/1000 sq ft",
        "1e3 fl oz/1000 sq ft",
        "1e400 fl oz/1000 sq ft",
        "NaN fl oz/1000 sq ft",
        "-1 fl oz/1000 sq ft",
        "-0 fl oz/1000 sq ft",
        "1.1 fl oz/0 sq ft",
        "1/0 fl oz/1000 sq ft",
        "9" * 80 + " fl oz/1000 sq ft",
        "0." + "0" * 70 + "1 fl oz/1000 sq ft",
        "1.1 1.1 fl oz/1000 sq ft",
        "1.1 fl oz/1000 sq ft\x1b[0m",
        "1.1",
        "1.1 oz oz/M",
        "\u221e fl oz/acre",
    ],
)
def test_rates_that_are_none(rate: str, swathbook: Swathbook, firm: Path) -> None:
    """Held with what would be understood."""
    document = visit()
    document["treatments"][0]["products"][0]["rate"] = rate
    ran = swathbook("--book", firm, "close", "-", stdin=json.dumps(document))
    assert ran.code == 1
    assert "HELD as H-000001" in ran.out


@pytest.mark.parametrize(
    "moment", ["0000-01-01T00:00", "9999-12-31T23:59", "2026-02-29T10:00", "2026-03-08T02:30", "1600-01-01T00:00-05:00"]
)
def test_days_at_the_edge_of_the_calendar(moment: str, swathbook: Swathbook, firm: Path) -> None:
    """Held or sealed, never an overflow."""
    ran = swathbook("--book", firm, "close", "-", stdin=json.dumps(visit(started=moment, finished=moment)))
    assert ran.code == 1


def test_a_hostile_held_entry_can_be_gone_through_again(swathbook: Swathbook, firm: Path) -> None:
    """Questions over an entry whose groups are no groups: asked, left, still held."""
    document = {"ref": "x", "site": 7, "weather": "fine", "treatments": "all", "applicator": ["mo"], "started": {}}
    assert swathbook("--book", firm, "close", "-", stdin=json.dumps(document)).code == 1
    ran = swathbook("--book", firm, "held", "correct", "1", "--ask", stdin="lark\n\n")
    assert ran.code in {1, 130}
    assert "HELD as H-000001" in ran.out
