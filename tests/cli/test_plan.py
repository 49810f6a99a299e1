"""`swathbook plan`: what goes into the tank and what every stop would meet, on one screen; the card; the mix."""

from __future__ import annotations

import copy
import io
import json
import tomllib
from pathlib import Path
from typing import TYPE_CHECKING, Any

import pytest
from jsonschema import Draft202012Validator
from pypdf import PdfReader

from records.services.planning.reading import read_asked
from records.services.schemas import schema

if TYPE_CHECKING:
    from records.domain.loaded import Problem
    from tests.cli.conftest import Swathbook

LINE = ["--product", "orlop-3w=1 fl oz/1000 sq ft", "--product", "spreadwell=0.25 % v/v"]
LOAD = ["--equipment", "skid-1", "--tank", "55 gal", "--on", "2026-04-28"]
EVE = "2026-04-27T18:00-05:00"
ROOT = Path(__file__).resolve().parents[2]
PLAN = Draft202012Validator(schema("plan"))


def test_a_load_on_the_screen(firm: Path, swathbook: Swathbook) -> None:
    """Figures, order, limits and stops; by hand: 9,300 + 10,000 sq ft at 2 gal/1,000 are 38.6 gal."""
    ran = swathbook(
        "--book", firm, "plan", "--site", "lark-lane-7", "--site", "marigold-112", *LINE, *LOAD,
        "--by", "mo", "--target", "dandelion", "--temperature", "70 degF", at=EVE,
    )  # fmt: skip
    assert ran.code == 0, ran.out + ran.err
    words = " ".join(ran.out.split())
    for text in (
        "Plan for Tuesday 2026-04-28, Mo Lindqvist; forecast 70 degF",
        "nothing was found that would stop a visit",
        "19,300 sq ft, 2 stops",
        "38.6 gal of spray: one load (tank 55 gal)",
        "19.3 fl oz",
        "12.352 fl oz",
        "(soluble liquid, SL)",
        "Mixing order, A-W-A-M-L-E-S",
        "at most 10 mph (Orlop Three-Way)",
        "(not drive (hardscape:",
        "never a weight in a cup",
        "The product label is the law and wins",
        "1-800-222-1222",
    ):
        assert text in words, text


def test_what_stops_a_visit_is_told_before_anything_is_mixed(year: Path, swathbook: Swathbook) -> None:
    """Over the label's yearly active after a season: exit 1, and no mix is saved."""
    words = ["plan", "--site", "lark-lane-7", *LINE, *LOAD[:-1], "2026-10-27", "--by", "mo"]
    ran = swathbook("--book", year, *words, at="2026-10-26T18:00-05:00")
    assert ran.code == 1
    assert "STOP stop 1" in ran.out
    assert "Still allowed there" in ran.out
    refused = swathbook("--book", year, *words, "--save", "mix-9", at="2026-10-26T18:00-05:00")
    assert (refused.code, refused.out) == (1, ran.out)  # told in full, as without --save
    why = " ".join(refused.err.split())
    assert why.startswith("mix mix-9 was not saved: the plan meets something that stops it (over-active")
    assert len(refused.err.strip().splitlines()) <= 2
    assert "mix-9" not in swathbook("--book", year, "--json", "catalogue", "mixes").out
    told = swathbook("--book", year, "--json", *words, "--save", "mix-9", at="2026-10-26T18:00-05:00")
    assert (told.code, told.json["stops"], told.json["mix"]) == (1, True, None)


def test_a_mix_is_saved_and_a_visit_can_name_it(firm: Path, swathbook: Swathbook) -> None:
    ran = swathbook("--book", firm, "plan", "--area", "12,000 sq ft", *LINE, *LOAD, "--save", "mix-a", at=EVE)
    assert ran.code == 0
    assert "mix mix-a: 24 gal saved" in ran.err
    shown = swathbook("--book", firm, "--json", "catalogue", "mixes")
    assert "mix-a" in shown.out
    again = swathbook("--book", firm, "plan", "--area", "12,000 sq ft", *LINE, *LOAD, "--save", "mix-a", at=EVE)
    assert (again.code, "already" in again.err) == (2, True)


def test_the_card_is_written(firm: Path, swathbook: Swathbook, tmp_path: Path) -> None:
    card = tmp_path / "card.pdf"
    ran = swathbook("--book", firm, "plan", "--site", "lark-lane-7", *LINE, *LOAD, "--card", card, at=EVE)
    assert ran.code == 0
    pages = PdfReader(io.BytesIO(card.read_bytes())).pages
    assert len(pages) == 1
    assert "Orlop Three-Way" in pages[0].extract_text()
    assert "7 Lark Lane, Birchfold: front, back" in pages[0].extract_text()


def test_json(firm: Path, swathbook: Swathbook) -> None:
    ran = swathbook("--book", firm, "--json", "plan", "--site", "lark-lane-7:front", *LINE, *LOAD, at=EVE)
    load = ran.json["loads"][0]
    assert (ran.json["schema"], ran.json["stops"], load["whole"]) == (1, False, "8.4 gal")
    assert load["charges"][0]["products"][0]["amount"] == "4.2 fl oz"
    assert load["stops"][0]["zones"] == ["front"]
    assert ran.json["card"] is None


def day(**parts: Any) -> dict[str, Any]:  # noqa: ANN401 - JSON of any shape
    """Return a day of three loads."""
    skid = {"id": "skid", "equipment": "skid-1", "tank": "20 gal", "stops": ["lark-lane-7", "kettle-ct-31"]}
    can = {"id": "can", "equipment": "can-1", "tank": "2 gal", "method": "spot", "stops": ["marigold-112"]}
    spread = {"id": "spread", "equipment": "spreader-1", "stops": ["basswood-77"]}
    products = [("orlop-3w", "1 fl oz/M"), ("sedgeline-75", "0.85 g/gal"), ("nidder-04g", "3 lb/M")]
    loads = [
        load | {"products": [{"product": key, "rate": rate}]}
        for load, (key, rate) in zip((skid, can, spread), products, strict=True)
    ]
    return {"on": "2026-04-28", "by": "mo", "loads": loads, **parts}


def test_a_whole_day_from_a_file(firm: Path, swathbook: Swathbook, tmp_path: Path) -> None:
    """Three pieces of equipment, each with its load; cards of a page each; from stdin too."""
    file = tmp_path / "day.json"
    file.write_text(json.dumps(day()), "utf-8")
    card = tmp_path / "day.pdf"
    ran = swathbook("--book", firm, "plan", file, "--card", card, at=EVE)
    assert ran.code == 0, ran.out
    for text in ("skid: Skid sprayer", "can: Hand can", "spread: Walk-behind", "46.5 lb of granules", "1.700 g"):
        assert text in ran.out, text
    assert len(PdfReader(io.BytesIO(card.read_bytes())).pages) == 3
    told = swathbook("--book", firm, "--json", "plan", "-", stdin=json.dumps(day()), at=EVE)
    assert [load["id"] for load in told.json["loads"]] == ["skid", "can", "spread"]


def test_toml(firm: Path, swathbook: Swathbook) -> None:
    text = """on = 2026-04-28
[[loads]]
equipment = "skid-1"
stops = ["lark-lane-7"]
products = [{product = "orlop-3w", rate = "1 fl oz/M"}]
"""
    assert swathbook("--book", firm, "plan", "-", stdin=text, at=EVE).code == 0


def test_problems_all_at_once(firm: Path, swathbook: Swathbook) -> None:
    ran = swathbook(
        "--book",
        firm,
        "plan",
        "--site",
        "lark-lane-8",
        "--product",
        "orlop-3w",
        "--equipment",
        "skid-9",
        "--on",
        "someday",
    )
    assert ran.code == 1
    assert "someday" in ran.out
    more = swathbook(
        "--book",
        firm,
        "plan",
        "--site",
        "lark-lane-8",
        "--product",
        "orlop-3w",
        "--equipment",
        "skid-9",
        "--on",
        "2026-04-28",
    )
    for text in ("lark-lane-8", "choose a rate", "skid-9"):
        assert text in more.out, text
    told = swathbook(
        "--book",
        firm,
        "--json",
        "plan",
        "--site",
        "lark-lane-7",
        "--product",
        "orlop-3w",
        "--equipment",
        "skid-1",
        "--on",
        "2026-04-28",
    )
    assert told.code == 1
    assert "1 to 1.5 fl oz/1000 sq ft" in told.json["problems"][0]


@pytest.mark.parametrize(
    ("words", "code", "said"),
    [
        ([], 2, "nothing was asked for"),
        (["day.json", "--area", "1 acre"], 2, "does not go with it"),
        (["missing.json"], 8, "cannot be read"),
        (["--area", "1 acre", "--vessel", "bucket"], 2, "is not known"),
    ],
)
def test_usage(words: list[str], code: int, said: str, firm: Path, swathbook: Swathbook) -> None:
    ran = swathbook("--book", firm, "plan", *words)
    assert ran.code == code
    assert said in ran.err


def test_a_file_that_is_no_plan(firm: Path, swathbook: Swathbook) -> None:
    assert swathbook("--book", firm, "plan", "-", stdin="{").code == 8
    ran = swathbook("--book", firm, "plan", "-", stdin='{"loads": 3, "wind": 1}')
    assert ran.code == 1
    assert "wind" in ran.out


def test_the_card_goes_to_stdout_alone(firm: Path, tmp_path: Path, swathbook: Swathbook) -> None:
    file = tmp_path / "c.pdf"
    ran = swathbook(
        "--book", firm, "plan", "--area", "1000 sq ft", *LINE, *LOAD, "--card", file, "--paper", "a4", at=EVE
    )
    assert ran.code == 0
    assert ran.err.startswith("wrote ")


PARTNERS: dict[str, Any] = {
    "products": [
        {
            "id": "orbel-50",
            "name": "Orbel 50 WDG",
            "registration": "99999-301",
            "form": "dry",
            "formulation": "WDG",
            "actives": [{"name": "orbelam", "content": "50 %", "group": "2"}],
            "label": {
                "revision": "2026-01",
                "reentry": "12 hours",
                "ppe": {"mix": ["Dust/mist respirator", "Long-sleeved shirt"], "apply": ["Long-sleeved shirt"]},
                "uses": [{"site": "turf", "rates": [{"min": "0.5 g/1000 sq ft", "max": "1.3 g/1000 sq ft"}]}],
                "limits": {"wind": "8 mph", "temperature": {"value": "80 degF", "force": "should"}},
                "mixing": {
                    "forbidden": [{"with": "quillonil", "text": "Do not mix with quillonil."}],
                    "needs_adjuvant": {"text": "Add a nonionic surfactant.", "kinds": ["NIS"]},
                    "notes": ["Use within 24 hours of mixing."],
                },
            },
        },
        {
            "id": "quillon-2ec",
            "name": "Quillon 2EC",
            "registration": "99999-302",
            "form": "liquid",
            "formulation": "EC",
            "actives": [{"name": "quillonil", "content": "2 lb/gal", "group": "14"}],
            "label": {
                "revision": "2026-01",
                "ppe": ["Chemical-resistant gloves", "Long-sleeved shirt"],
                "uses": [{"site": "turf", "rates": [{"min": "0.5 fl oz/1000 sq ft", "max": "0.5 fl oz/1000 sq ft"}]}],
            },
        },
        {"id": "wettaid", "name": "Wettaid", "kind": "adjuvant", "form": "liquid", "formulation": "NIS"},
    ]
}


def test_partners_order_and_equipment_on_screen_and_card(firm: Path, swathbook: Swathbook, tmp_path: Path) -> None:
    """A forbidden partner stops with its line; the rest of the mix is told in order, with what is worn and why."""
    assert swathbook("--book", firm, "load", "-", stdin=json.dumps(PARTNERS)).code == 0
    words = ["plan", "--site", "lark-lane-7", *LOAD, "--product", "orbel-50=1 g/1000 sq ft"]
    wet = ["--product", "wettaid=0.25 % v/v"]
    stopped = swathbook("--book", firm, *words, "--product", "quillon-2ec", *wet, at=EVE)
    assert stopped.code == 1
    told = " ".join(stopped.out.split())
    assert "STOP mix: the label of Orbel 50 WDG forbids Quillon 2EC in the same mix: Do not mix with quillonil." in told
    assert "(the label's only rate)" in told
    assert "jar test first: no two of these" in told
    dry = swathbook("--book", firm, *words, at=EVE)
    assert "asks for an adjuvant: Add a nonionic surfactant; none is in the mix" in " ".join(dry.out.split())
    card = tmp_path / "card.pdf"
    good = swathbook("--book", firm, *words, *wet, "--card", card, "--paper", "a4", "--temperature", "84 degF", at=EVE)
    assert good.code == 0
    told = " ".join(good.out.split())
    for text in (
        "note stop 1: Orbel 50 WDG: temperature 84 degF is over the label's 80 degF",
        "2 Orbel 50 WDG (water dispersible granules, WDG); make a slurry with water, add it slowly.",
        "4 Wettaid (nonionic surfactant, NIS).",
        "advised, at most 80 degF",
        "re-entry 12 hours",
        "Dust/mist respirator, Long-sleeved shirt (Orbel 50 WDG)",
        "9.300 g on a scale that shows 0.01 g",
        "jar test first, not sealed together in this book before: Orbel 50 WDG with Wettaid",
    ):
        assert text in told, text
    (page,) = PdfReader(io.BytesIO(card.read_bytes())).pages
    text = " ".join(page.extract_text().split())
    assert "Jar test first" in text
    assert "Dust/mist respirator" in text


def test_two_loads_are_told_apart(firm: Path, swathbook: Swathbook, tmp_path: Path) -> None:
    """What is met in one load stands on its card, not on the other's."""
    over = day()
    over["loads"][0]["products"][0]["rate"] = "2 fl oz/M"
    card = tmp_path / "day.pdf"
    ran = swathbook("--book", firm, "plan", "-", "--card", card, stdin=json.dumps(over), at=EVE)
    assert ran.code == 1
    assert "STOP skid stop 1, 2" in ran.out
    first, second, _ = (page.extract_text() for page in PdfReader(io.BytesIO(card.read_bytes())).pages)
    assert "STOP (stop 1, 2)" in first
    assert "STOP" not in second


def test_no_such_paper(firm: Path, swathbook: Swathbook) -> None:
    words = ["plan", "--area", "1000 sq ft", *LINE, *LOAD, "--paper", "a5", "--card", "x.pdf"]
    ran = swathbook("--book", firm, *words, at=EVE)
    assert ran.code == 2
    assert "paper" in ran.err


def test_the_day_of_the_demo_fits_the_schema_and_is_planned(firm: Path, swathbook: Swathbook) -> None:
    text = (ROOT / "demo" / "day.toml").read_text("utf-8")
    document = json.loads(json.dumps(tomllib.loads(text), default=str))
    assert not list(PLAN.iter_errors(document))
    ran = swathbook("--book", firm, "plan", ROOT / "demo" / "day.toml", at=EVE)
    assert ran.code == 0, ran.out + ran.err
    assert "300 sq ft at 1 of 2 stops; 1 is not measured" in ran.out
    assert "1 stop has neither area nor spray" in ran.out


def test_the_schema_of_a_plan_has_the_keys_that_are_read() -> None:
    """A key that only one of the two has would be told as unknown here, or there."""
    parts = schema("plan")["$defs"]
    filled: dict[str, Any] = {
        part: dict.fromkeys(parts[part]["properties"], "x") for part in ("product", "stop", "load")
    }
    load = filled["load"] | {"products": [filled["product"]], "stops": [filled["stop"]]}
    problems: list[Problem] = []
    read_asked(dict.fromkeys(schema("plan")["properties"], "x") | {"loads": [load]}, problems)
    assert problems
    assert not [one for one in problems if "not known" in one.what and "order" not in one.where]
    problems.clear()
    read_asked({"on": "2026-04-28", "loads": [{"colour": "green"}]}, problems)
    (unknown,) = [one.what for one in problems if "colour" in one.where]
    known = set(unknown.partition("known here: ")[2].split(", "))
    assert known == set(parts["load"]["properties"])


def test_problems_of_the_line_name_its_options(firm: Path, swathbook: Swathbook) -> None:
    """What was typed as options is not told as places of a document, and a tank is asked for in gallons."""
    words = ["--book", firm, "plan", "--site", "lark-lane-7", "--equipment", "skid-1", "--on", "2026-04-28"]
    lacking = swathbook(*words, at=EVE)
    assert (lacking.code, lacking.out.strip()) == (1, "--product: is missing; write --product ID=RATE")
    tank = swathbook(*words, "--product", "brindle-4l=1 fl oz/M", "--tank", "10", at=EVE)
    assert "--tank: '10' is no size: write a volume, such as 10 gal" in " ".join(tank.out.split())
    stop = ["--site", "nowhere", "--product", "brindel-4l=1 fl oz/M", "--by", "no"]
    told = " ".join((swathbook(*words, *stop, at=EVE).out + swathbook(*words[:-4], *stop, at=EVE).out).split())
    for text in ("--site nowhere: no site", "--product brindel-4l: 'brindel-4l' is no product", "--by: 'no'"):
        assert text in told, text
    for text in ("--on: is missing", "--equipment: is missing; name what it is put out with"):
        assert text in told, text
    assert "loads[0]" not in told


def test_a_card_that_cannot_be_written_names_its_option(firm: Path, swathbook: Swathbook, tmp_path: Path) -> None:
    ran = swathbook(
        "--book", firm, "plan", "--site", "lark-lane-7", *LINE, *LOAD, "--card", tmp_path / "no/x.pdf", at=EVE
    )
    assert ran.err.endswith("Choose another place with --card\n")


def test_what_is_worked_out_is_told_in_units_that_are_measured(firm: Path, swathbook: Swathbook) -> None:
    """3 pt/acre at 1 gal/1,000 sq ft are 48 fl oz / 43.56 = 1.102 fl oz a gallon (by hand); JSON keeps it exact."""
    words = ["--book", firm, "plan", "--area", "5000 sq ft", "--equipment", "can-1", "--on", "2026-04-28"]
    words += ["--product", "orlop-3w=3 pt/acre", "--product", "kelbrook-60=3 oz wt/acre"]
    ran = swathbook(*words, at=EVE)
    told = " ".join(ran.out.split())
    for text in ("1.1 fl oz/gal,", "1.95 g/gal"):
        assert text in told, text
    assert "0.068870523" not in told
    assert "1.952 g (0.0689 oz wt)" in told
    assert "3 loads, 2 full and the last one of 1 gal" in told
    exact = swathbook("--json", *words, at=EVE).json["loads"][0]
    assert exact["products"][0]["per_gallon"] == "0.068870523 pt/gal"
    for area, made in (("2000 sq ft", "one full load (tank 2 gal)"), ("4000 sq ft", "2 full loads (tank 2 gal)")):
        words[4] = area
        assert made in swathbook(*words, at=EVE).out


def test_a_note_of_the_mix_is_on_the_card(firm: Path, swathbook: Swathbook, tmp_path: Path) -> None:
    """The adjuvant that a label asks for is told to who mixes, whether it stops or not."""
    card = tmp_path / "card.pdf"
    (orbel, *_) = copy.deepcopy(PARTNERS["products"])
    orbel["label"]["mixing"]["needs_adjuvant"]["force"] = "should"
    assert swathbook("--book", firm, "load", "-", stdin=json.dumps({"products": [orbel]})).code == 0
    words = ["plan", "--site", "lark-lane-7", "--product", "orbel-50=1 g/gal", "--method", "spot", *LOAD]
    ran = swathbook("--book", firm, *words, "--card", card, at=EVE)
    assert ran.code == 0
    asked = "asks for an adjuvant: Add a nonionic surfactant; none is in the mix"
    assert asked in " ".join(ran.out.split())
    text = " ".join(PdfReader(io.BytesIO(card.read_bytes())).pages[0].extract_text().split())
    assert f"Note: the label of Orbel 50 WDG {asked}" in text
    assert "not measured" in text
