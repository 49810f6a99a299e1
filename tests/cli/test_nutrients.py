"""Fertilizer and actives on the command line: doses, what went on a zone, what the law and labels still allow."""

from __future__ import annotations

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
        (["active", "--content", "4 lb/gal", "3 pt/acre"], "--form"),
        (["actives", "nowhere"], "no site 'nowhere'"),
        (["actives", "lark-lane-7", "--zone", "roof"], "has no zone 'roof'"),
        (["nutrients"], "name a site"),
        (["nutrients", "--want", "1 lb N"], "needs a product"),
        (["nutrients", "brindle-4l", "--want", "1 lb N"], "has no analysis"),
        (["nutrients", "nowhere"], "no site 'nowhere'"),
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
    data = json.loads(
        swathbook("--book", season_book, "--json", "actives", "lark-lane-7", "--zone", "back", "--on", "2026-10-27").out
    )
    assert {one["zone"] for one in data["actives"]} == {"back"}
    sedge = next(one for one in data["actives"] if one["active"] == "carvesulfuron")
    assert sedge["products"][0]["applications_left"] == 0
    assert sedge["products"][0]["first_day"] == "2027-01-01"


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
    assert "reed-4  front  1.6   0.2  0.4  2" in ran.out
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
    kept = swathbook("--book", bay, "keep", "2026-1", at=AT)
    assert "3 years from the application, COMAR 15.20.10.13" in " ".join(kept.out.split())
