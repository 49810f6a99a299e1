"""Fertilizer and actives on the command line: doses, what went on a zone, what the law and labels still allow."""

from __future__ import annotations

import csv
import io
import json
from typing import TYPE_CHECKING, Any

import pytest
from pypdf import PdfReader

if TYPE_CHECKING:
    from pathlib import Path

    from tests.cli.conftest import Swathbook

FIRM = """
[business]
name = "Tern Point Lawns"
address = "1 Pier Street, Crabcove, MD 21099"
phone = "410-555-0101"
licence = "MD-B-1"
state = "MD"
timezone = "America/New_York"
packs = ["us-md"]

[[people]]
id = "ann"
name = "Ann Ferris"
[[people.licences]]
number = "MD-C-1"
state = "MD"
kind = "certified"
categories = ["turf and ornamentals"]
from = "2026-01-01"
to = "2027-12-31"

[[customers]]
id = "bay"
name = "Ola Bay"
address = "4 Reed Lane, Crabcove, MD 21099"
phone = "410-555-0199"

[[sites]]
id = "reed-4"
customer = "bay"
address = "4 Reed Lane"
city = "Crabcove"
county = "Calvert"
state = "MD"
zip = "21099"
zones = [
  { id = "front", kind = "turf", area = "4000 sq ft", turf = ["tall fescue"] },
  { id = "walk", kind = "hardscape", area = "200 sq ft" },
]

[[products]]
id = "meadow-16"
name = "Meadow 16-4-8"
form = "granule"
analysis = "16-4-8"
slow_release = "30 %"

[[products]]
id = "coat-40"
name = "Coat 40"
form = "granule"
analysis = "40-0-0"
slow_release = "90 %"
nutrient_kind = "enhanced"

[[products]]
id = "dew-18"
name = "Dew 18-0-3"
form = "liquid"
kind = "fertilizer"
density = "10.2 lb/gal"
analysis = "18-0-3"
"""
AT = "2026-11-06T08:30-05:00"


def visit(product: str, rate: str, day: str = "2026-09-10", **parts: Any) -> str:  # noqa: ANN401 - parts of a JSON document
    """Return a visit that fertilizes the lawn."""
    treatment: dict[str, Any] = {"zones": ["front"], "method": "broadcast", "area": "4000 sq ft"}
    treatment |= {"equipment": "spreader", "products": [{"product": product, "rate": rate}]} | parts
    weather = {"wind_speed": "4 mph", "wind_from": "N", "temperature": "66 degF", "measured_at": f"{day}T09:00"}
    made = {"site": "reed-4", "applicator": "ann", "started": f"{day}T09:00", "finished": f"{day}T09:20"}
    return json.dumps(made | {"weather": weather, "treatments": [treatment]})


@pytest.fixture
def bay(swathbook: Swathbook, tmp_path: Path) -> Path:
    """Return a book of a firm in Maryland, with two visits of fertilizer."""
    book, firm = tmp_path / "bay.db", tmp_path / "bay.toml"
    firm.write_text(FIRM, "utf-8")
    assert swathbook("--book", book, "init", at=AT).code == 0
    assert swathbook("--book", book, "load", firm, at=AT).code == 0
    parts: dict[str, Any] = {"water_distance": "12 ft", "deflector": True, "soil_test": "2025-03-01", "ground": "open"}
    assert (
        swathbook("--book", book, "close", "-", stdin=visit("meadow-16", "5 lb/1000 sq ft", **parts), at=AT).code == 0
    )
    spring = visit("coat-40", "2 lb/1000 sq ft", "2026-05-02", water_distance="40 ft")
    spring = json.dumps(json.loads(spring) | {"confirmed": ["not-checkable"]})
    assert swathbook("--book", book, "close", "-", stdin=spring, at=AT).code == 0
    return book


def test_active_of_a_rate_and_back(swathbook: Swathbook, firm: Path) -> None:
    """3 pt of a 4 lb/gal liquid are 1.5 lb a.e., and back; the basis always stands there."""
    ran = swathbook("--book", firm, "active", "brindle-4l", "3 pt/acre")
    assert ran.code == 0
    assert ran.out.splitlines()[-1].split() == ["brindlac", "acid", "4", "lb/gal", "1.5", "0.03444", "a.e."]
    back = swathbook("--book", firm, "active", "brindle-4l", "--want", "1.5 lb/acre")
    assert "for 1.5 lb/acre a.e. of brindlac acid" in back.out
    assert "pt/acre             3\n" in back.out
    assert "fl oz/1000 sq ft    1.102\n" in back.out
    data = json.loads(swathbook("--book", firm, "--json", "active", "orlop-3w", "3 pt/acre").out)
    assert [row["basis"] for row in data["actives"]] == ["ae", "ae", "ae"]


def test_active_without_a_product(swathbook: Swathbook) -> None:
    """A content by hand needs a form, and no book."""
    ran = swathbook("active", "--content", "75 %", "--form", "dry", "5.33 oz/acre")
    assert ran.code == 0
    assert "0.2498" in ran.out
    assert "a.i." in ran.out
    ran = swathbook(
        "active", "--content", "6 %", "--form", "liquid", "--density", "8.34 lb/gal", "--want", "0.3 lb/acre"
    )
    assert "gal/acre            0.5995" in ran.out
    data = json.loads(
        swathbook("--json", "active", "--content", "75 %", "--form", "dry", "--want", "1 lb/acre", "--basis", "ae").out
    )
    assert data["actives"][0]["product"]["g/1000 sq ft"] == "13.88"
    assert data["actives"][0]["basis"] == "ae"


@pytest.mark.parametrize(
    ("words", "says"),
    [
        (["active"], "no product is named"),
        (["active", "nothing", "3 pt/acre"], "no product 'nothing'"),
        (["active", "brindle-4l"], "one of the two"),
        (["active", "brindle-4l", "3", "pt/acre"], "one word too many"),
        (["active", "brindle-4l", "0.6 fl oz/gal"], "per spray, not per area"),
        (["active", "spreadwell", "1 pt/acre"], "no active ingredient"),
        (["active", "--content", "4 lb/gal", "3 pt/acre"], "--content needs --form"),
        (["actives", "nowhere"], "no site 'nowhere'"),
        (["actives", "lark-lane-7", "--zone", "roof"], "has no zone 'roof'"),
        (["nutrients"], "name a site"),
        (["nutrients", "--want", "1 lb N"], "needs a product"),
        (["nutrients", "brindle-4l", "--want", "1 lb N"], "has no analysis"),
        (["nutrients", "nowhere"], "no site 'nowhere'"),
        (["nutrients", "--year", "26"], "--year"),
        (["active", "--content", "4 lb/gal", "--form", "paste", "3 pt/acre"], "'paste' is not known"),
        (["active", "brindle-4l", "--want", "0 lb/acre"], "is nothing to put on"),
        (["cost", "--from", "2026-10", "--to", "2026-09"], "2026-10-01 is after 2026-09-30"),
        (["find", "--since", "2026-10", "--until", "2026-09"], "--since, the last with --until"),
        (["log", "--from", "2026-10", "--to", "2026-09"], "is after"),
        (["deliveries", "--from", "2026-10", "--to", "2026-09"], "is after"),
    ],
    ids=lambda value: " ".join(value) if isinstance(value, list) else str(value)[:20],
)
def test_what_is_wrong_is_told_in_one_line(words: list[str], says: str, swathbook: Swathbook, firm: Path) -> None:
    """What, why, what to do; each kind of error has its exit code."""
    ran = swathbook("--book", firm, *words)
    assert ran.code not in {0, 1}
    assert says in ran.err
    assert len(ran.err.strip().splitlines()) == 1


def test_actives_of_a_season(swathbook: Swathbook, season_book: Path) -> None:
    """Sums, ceilings with their label line, and the first lawful day with its reasons."""
    ran = swathbook("--book", season_book, "actives", "lark-lane-7", "--on", "2026-10-27")
    words = " ".join(ran.out.split())
    assert ran.code == 0
    assert "brindlac acid (a.e.) in the calendar year 2026:" in words
    assert "where spots overlap" in words
    assert "[label of Brindle 4L (99999-41), revision 2025-11" in words
    assert "Sedgeline 75 WG: next from 2027-01-01" in words
    assert "it would be the 3rd application in the calendar year 2026; the label allows 2" in words
    assert "Brindle 4L: next from 2027-01-01 at the label's lowest rate, 0.8 fl oz/1000 sq ft" in words
    assert "left, by 3 lb/acre of brindlac acid in the calendar year 2026; 1 of 2 applications left" in words
    data = json.loads(
        swathbook("--book", season_book, "--json", "actives", "lark-lane-7", "--zone", "back", "--on", "2026-10-27").out
    )
    assert {one["zone"] for one in data["actives"]} == {"back"}
    sedge = next(one for one in data["actives"] if one["active"] == "carvesulfuron")
    assert sedge["products"][0]["applications_left"] == 0
    assert sedge["products"][0]["first_day"] == "2027-01-01"


def test_over_the_label_is_said(swathbook: Swathbook, firm: Path) -> None:
    """A dose, a rate and a plan that a label does not allow carry a note; what it allows carries none."""
    over = "over the label: it allows at most 1.1 fl oz/1000 sq ft or 3 pt/acre at one time"
    for words, told in (
        (["active", "brindle-4l", "3.2 pt/acre"], over),
        (["active", "brindle-4l", "--want", "2 lb/acre"], over),
        (["cost", "compare", "brindle-4l=5 pt/acre"], "over the label: brindle-4l at 5 pt/acre"),
        (["nutrients", "cobbet-wf", "--want", "0.9 lb N"], "over the label: it allows at most 3.2 lb/1000 sq ft"),
    ):
        ran = swathbook("--book", firm, *words)
        assert ran.code == 0
        assert told in " ".join(ran.out.split())
        assert '"over_label": "it allows' in swathbook("--book", firm, "--json", *words).out
    for words in (["active", "brindle-4l", "3 pt/acre"], ["nutrients", "cobbet-wf", "--want", "0.6 lb N"]):
        assert "over the label" not in swathbook("--book", firm, *words).out


def test_no_active(swathbook: Swathbook, bay: Path) -> None:
    """A site where none went on says so."""
    assert "no active is recorded on reed-4" in swathbook("--book", bay, "actives", "reed-4", at=AT).out
    assert "reed-4, front" in swathbook("--book", bay, "actives", "reed-4", "--zone", "front", at=AT).out


def test_nutrients_of_a_site(swathbook: Swathbook, bay: Path) -> None:
    """0.8 lb of each visit; enhanced fertilizer counts against its own year; the law with how it is known."""
    ran = swathbook("--book", bay, "nutrients", "reed-4", at=AT)
    words = " ".join(ran.out.split())
    assert ran.code == 0
    assert "front 1.6 0.2 0.4 2" in words
    assert "1.7 lb/1000 sq ft N left of 2.5 lb/1000 sq ft (enhanced fertilizer)" in words
    assert "soluble N: at most 0.7 lb/1000 sq ft at one time" in words
    assert "12-01 to 02-29, professional" in words
    assert "(from memory, not checked)" in words
    assert "homeowner" not in words
    data = json.loads(swathbook("--book", bay, "--json", "nutrients", "reed-4", at=AT).out)
    (zone,) = data["zones"]
    assert zone["lb_per_1000_sq_ft"]["N"] == {"certain": "1.6", "possible": "1.6"}
    assert zone["left_this_year"][0]["left"] == "1.7 lb/1000 sq ft"
    assert zone["law"] == "us-md-fertilizer"
    before = swathbook("--book", bay, "nutrients", "reed-4", "--on", "2025-06-01", at=AT)
    assert "front 0 0 0 0" in " ".join(before.out.split())


def test_nutrients_of_a_year(swathbook: Swathbook, bay: Path, firm: Path) -> None:
    """Every zone that was fertilized; a year without any says so, and so does a state without a law."""
    ran = swathbook("--book", bay, "nutrients", "--year", "2026", at=AT)
    assert "reed-4  front  1.6   0.2  0.4  2       1.7 N" in ran.out
    assert "no nutrients on record in 2025" in swathbook("--book", bay, "nutrients", "--year", "2025", at=AT).out
    assert json.loads(swathbook("--book", firm, "--json", "nutrients", "--year", "2026").out)["zones"] == []


@pytest.mark.parametrize(
    ("words", "says"),
    [
        (["meadow-16", "--want", "0.9 lb N", "--area", "4550 sq ft"], ["5.625", "25.59 lb", "0.225 lb P2O5"]),
        (["dew-18", "--want", "0.5 lb N", "--area", "0.25 acre"], ["34.86", "gal", "0.083 lb K2O"]),
        (["meadow-16", "--want", "40 lb N/acre"], ["250", "0.918 lb N"]),
    ],
)
def test_a_dose(words: list[str], says: list[str], swathbook: Swathbook, bay: Path) -> None:
    """Product for each 1,000 sq ft, by the acre, and for the lawn."""
    ran = swathbook("--book", bay, "nutrients", *words, at=AT)
    assert ran.code == 0
    assert [text for text in says if text not in ran.out] == []
    assert json.loads(swathbook("--book", bay, "--json", "nutrients", *words, at=AT).out)["analysis"]


@pytest.mark.parametrize("words", [["meadow-16", "--want", "1 lb"], ["meadow-16", "--want", "1 lb N", "--area", "big"]])
def test_a_dose_that_is_not_understood(words: list[str], swathbook: Swathbook, bay: Path) -> None:
    """What is not understood is told with what would be."""
    ran = swathbook("--book", bay, "nutrients", *words, at=AT)
    assert ran.code not in {0, 1}
    assert "Write it like" in ran.err


def test_a_record_shows_its_nutrients(swathbook: Swathbook, bay: Path) -> None:
    """What went on, and what the rules asked about; frozen in the sealed body."""
    ran = swathbook("--book", bay, "show", "2026-1", at=AT)
    words = " ".join(ran.out.split())
    assert "nutrients 16-4-8, 30 % of the N slow-release: N 0.8, P2O5 0.2, K2O 0.4 lb/1000 sq ft" in words
    assert "from water 12 ft, with a deflector, drop spreader or targeted liquid" in words
    assert "soil test 2025-03-01" in words
    assert "us-md-fertilizer 1" in words
    body = json.loads(swathbook("--book", bay, "--json", "show", "2026-1", at=AT).out)
    (line,) = body["revisions"][0]["body"]["treatments"][0]["applications"]
    assert line["nutrients"] == {"n": "3.2", "p2o5": "0.8", "k2o": "1.6", "soluble_n": "2.24"}
    assert line["product"]["analysis"] == "16-4-8"


def test_a_later_analysis_changes_no_record(swathbook: Swathbook, bay: Path, tmp_path: Path) -> None:
    """Sums are of what was frozen, not of what the catalogue says now."""
    changed = tmp_path / "changed.toml"
    changed.write_text(
        '[[products]]\nid = "meadow-16"\nname = "Meadow"\nform = "granule"\nkind = "adjuvant"\n', "utf-8"
    )
    assert swathbook("--book", bay, "load", changed, at=AT).code == 0
    assert "1.6   0.2  0.4" in swathbook("--book", bay, "nutrients", "--year", "2026", at=AT).out


def test_records_sealed_before_the_analysis(swathbook: Swathbook, bay: Path, tmp_path: Path) -> None:
    """They count by the analysis in the book now, are named, and alone they never stop a visit."""
    bare = '[[products]]\nid = "fern-20"\nname = "Fern 20"\nform = "granule"\nkind = "fertilizer"\n'
    paper = tmp_path / "fern.toml"
    paper.write_text(bare, "utf-8")
    assert swathbook("--book", bay, "load", paper, at=AT).code == 0
    sealed = visit("fern-20", "10 lb/1000 sq ft", "2026-04-02")
    assert swathbook("--book", bay, "close", "-", stdin=sealed, at=AT).code == 0
    assert "1.6   0.2  0.4  2" in swathbook("--book", bay, "nutrients", "reed-4", at=AT).out
    paper.write_text(f'{bare}analysis = "20-0-0"\nnutrient_kind = "enhanced"\n', "utf-8")
    assert swathbook("--book", bay, "load", paper, at=AT).code == 0
    for words in (["reed-4"], ["--year", "2026"]):
        ran = swathbook("--book", bay, "nutrients", *words, at=AT)
        assert "3.6   0.2  0.4  3*" in ran.out
        note = "* 2026-000003 was sealed before the analysis was loaded: counted by the one in the book now"
        assert note in " ".join(ran.out.split())
    data = json.loads(swathbook("--book", bay, "--json", "nutrients", "reed-4", at=AT).out)
    assert data["zones"][0]["by_later_analysis"] == ["2026-000003"]
    year = json.loads(swathbook("--book", bay, "--json", "summary", "2026", at=AT).out)
    assert "20-0-0 (loaded later)" in json.dumps(year["sections"]["by_nutrient"])
    more = visit("coat-40", "0.1 lb/1000 sq ft", "2026-10-02", water_distance="40 ft")
    held = swathbook("--book", bay, "close", "-", stdin=more, at=AT)
    said = " ".join(held.out.split())
    assert "with 2026-000003 by the analysis that was loaded after it was sealed: confirm if" in said, said
    assert "STOP" not in said


def test_a_fertilizer_notice_has_no_words_for_pesticides(swathbook: Swathbook, bay: Path, tmp_path: Path) -> None:
    """No target, no registration and no label are wanted of what is only fertilizer, in either language."""
    wrong = ["not recorded", "against", "registered", "KEEP OFF", "no consta la", "contra", "registrado", "NO PISAR"]
    for language, told in (("en", "over the whole area, fertilized"), ("es", "para fertilizar")):
        out = tmp_path / f"{language}.pdf"
        ran = swathbook("--book", bay, "notice", "2026-1", "--language", language, "--out", out, at=AT)
        assert ran.code == 0
        assert "()" not in ran.out
        text = " ".join(" ".join(page.extract_text().split()) for page in PdfReader(out).pages)
        assert told in text
        assert [words for words in wrong if words in text] == []


def test_a_packet_tells_nutrients_by_zone(swathbook: Swathbook, bay: Path, firm: Path, tmp_path: Path) -> None:
    """A section of its own where any fertilizer went on, in every form of the packet."""
    out = {end: tmp_path / f"packet.{end}" for end in ("json", "csv", "xlsx", "pdf")}
    ways = [part for path in out.values() for part in ("--out", path)]
    assert swathbook("--book", bay, "inspect", *ways, at=AT).code == 0
    section = json.loads(out["json"].read_text("utf-8"))["sections"]["nutrients"]
    keys = ("zone", "date", "serial", "analysis", "n_per_1000", "p2o5_per_1000", "k2o_per_1000", "sq_ft")
    assert [[row[key] for key in keys] for row in section["rows"]] == [
        ["front", "2026-05-02", "2026-000002", "40-0-0", "0.800", "0.000", "0.000", "4000"],
        ["front", "2026-09-10", "2026-000001", "16-4-8", "0.800", "0.200", "0.400", "4000"],
    ]
    assert "Nutrients by zone" in " ".join(" ".join(p.extract_text().split()) for p in PdfReader(out["pdf"]).pages)
    table = list(csv.DictReader(io.StringIO(out["csv"].read_text("utf-8-sig"))))
    fed = [[row[key] for key in keys] for row in table if row["section"] == "nutrients"]
    assert fed[1] == ["front", "2026-09-10", "2026-000001", "16-4-8", "0.800", "0.200", "0.400", "4000"]
    assert list(table[0])[-3:] == ["n_per_1000", "p2o5_per_1000", "k2o_per_1000"]
    assert "nutrients" not in json.loads(swathbook("--book", firm, "--json", "inspect", at=AT).out)["sections"]


def test_notice_and_summary_tell_nutrients(swathbook: Swathbook, bay: Path, tmp_path: Path) -> None:
    """On paper, beside the product; the year by product and in all."""
    out = tmp_path / "notice.pdf"
    assert swathbook("--book", bay, "notice", "2026-1", "--out", out, at=AT).code == 0
    text = " ".join(" ".join(page.extract_text().split()) for page in PdfReader(io.BytesIO(out.read_bytes())).pages)
    assert "16-4-8: N 0.8 lb" in text
    data = json.loads(swathbook("--book", bay, "--json", "summary", "2026", at=AT).out)
    assert "6.400" in json.dumps(data["sections"]["by_nutrient"])


def test_a_refused_visit_is_corrected_word_by_word(swathbook: Swathbook, bay: Path) -> None:
    """Phosphorus without a cause, too near to water: held, corrected with --set, sealed."""
    held = swathbook("--book", bay, "close", "-", stdin=visit("meadow-16", "5 lb/1000 sq ft", "2026-10-20"), at=AT)
    assert held.code == 1
    assert "[over-nutrient]" in held.out
    wrong = swathbook("--book", bay, "held", "correct", "H-1", "--set", "treatments[0].deflector=maybe", at=AT)
    assert "write true or false" in " ".join(wrong.out.split())
    fixed = swathbook(
        "--book",
        bay,
        "held",
        "correct",
        "H-1",
        "--set",
        "treatments[0].deflector=true",
        "--set",
        "treatments[0].water_distance=10 ft",
        "--set",
        "treatments[0].turf_stage=repair",
        at=AT,
    )
    assert fixed.code == 0, fixed.out


def test_as_applied(swathbook: Swathbook, bay: Path) -> None:
    """What broke the law can be sealed as it happened, with a reason and a certified signer."""
    dark = visit("coat-40", "2 lb/1000 sq ft", "2026-12-05", water_distance="5 ft", ground="frozen")
    late = "2026-12-05T18:00-05:00"
    assert swathbook("--book", bay, "close", "-", stdin=dark, at=late).code == 1
    ran = swathbook(
        "--book",
        bay,
        "close",
        "-",
        "--as-applied",
        "early thaw",
        "--signed-by",
        "ann",
        stdin=dark,
        at="2026-12-05T18:01-05:00",
    )
    assert ran.code == 0, ran.out


def test_packs_and_why(swathbook: Swathbook, bay: Path) -> None:
    """The law and the codes explain themselves."""
    ran = swathbook("--book", bay, "pack", "show", "us-md-fertilizer", at=AT)
    assert "15 ft from water" in " ".join(ran.out.split())
    for word in ("over-nutrient", "blackout", "setback", "analysis", "water_distance", "turf_stage"):
        assert swathbook("--book", bay, "why", word, at=AT).code == 0
    assert '"fertilizer"' in swathbook("schema", "pack").out
    assert ran.out.startswith("us-md-fertilizer, version")
    assert "Each record holds, when a product with a fertilizer analysis was put on" in ran.out
    assert " ".join(ran.out.split()).count("may not be put on an impervious surface") == 1
    assert "half its last digit, at most 2 % of the limit" in " ".join(ran.err.split())
    memory = ran.out.partition("(from memory, not\n")[2]
    assert memory.splitlines()[1].startswith("  [4]")  # no address of something that was not read
    for word, told in (
        ("over-nutrient", "soluble N: at most 0.7 lb/1000 sq ft at one time"),
        ("water_distance", "15 ft from water; 10 ft with a drop spreader"),
        ("ground", "N or P2O5 on ground that is frozen"),
    ):
        why = " ".join(swathbook("--book", bay, "why", word, at=AT).out.split())
        assert f"us-md-fertilizer: Maryland: fertilizer on turf - {told}" in why
        assert "other laws that speak of it: us-" in why
        assert "no rule that the tool knows" not in why
    laws = json.loads(swathbook("--book", bay, "--json", "why", "setback", at=AT).out)["laws"]
    assert [(law["pack"], law["is_yours"]) for law in laws][:2] == [
        ("us-md-fertilizer", True),
        ("us-fl-fertilizer", False),
    ]
    assert laws[0]["facts"][0]["source"]["url"].startswith("https://")
    kept = swathbook("--book", bay, "keep", "2026-1", at=AT)
    assert "3 years from the application, COMAR 15.20.10.13" in " ".join(kept.out.split())
