"""Held entries: listed, shown, corrected where a finding points, dropped with a reason."""

from __future__ import annotations

import json
from typing import TYPE_CHECKING, Any

import pytest

from records.errors import UsageError
from records.services.holding import normal_number, with_changes
from tests.cli.conftest import VISITS, visit

if TYPE_CHECKING:
    from pathlib import Path

    from tests.cli.conftest import Swathbook


@pytest.fixture
def held(swathbook: Swathbook, firm: Path) -> Path:
    """Return a book with one over-rate visit held as H-000001."""
    assert swathbook("--book", firm, "close", VISITS / "over-rate.json").code == 1
    return firm


def test_the_list(swathbook: Swathbook, held: Path) -> None:
    """`held`, `held list` and `find --held` are the same list."""
    ran = swathbook("--book", held, "held")
    assert ran.code == 0
    assert "H-000001  mill-loop-230  2026-10-20T09:20  mo      over-rate" in ran.out
    assert swathbook("--book", held, "held", "list").out == ran.out
    assert swathbook("--book", held, "find", "--held").out == ran.out
    mixed = swathbook("--book", held, "find", "--held", "--site", "elsewhere")
    assert (mixed.code, mixed.out) == (2, "")
    assert "--held takes no other condition" in mixed.err
    (told,) = swathbook("--book", held, "held", "--json").json["held"]
    assert (told["held"], told["site"], told["person"]) == ("H-000001", "mill-loop-230", "mo")
    assert swathbook("--book", held, "held", "list", "--json").json["held"] == [told]


@pytest.mark.parametrize("number", ["H-000001", "h-1", "1", "H1"])
def test_show_tells_findings_and_what_was_typed(number: str, swathbook: Swathbook, held: Path) -> None:
    """The number may be typed short."""
    ran = swathbook("--book", held, "held", "show", number)
    assert ran.code == 0
    assert ran.out.startswith("H-000001: held (since 2026-10-21 23:00 UTC)\n")
    assert "[over-rate]" in ran.out
    told = swathbook("--book", held, "held", "show", number, "--json").json
    assert told["document"] == json.loads((VISITS / "over-rate.json").read_text("utf-8"))
    assert told["state"] == "held"


def test_what_was_typed_becomes_a_file_to_correct(swathbook: Swathbook, held: Path, tmp_path: Path) -> None:
    """`--out` writes the entry; corrected there, it is closed again."""
    ran = swathbook("--book", held, "held", "show", "1", "--out", "again.json")
    assert (ran.code, ran.out, ran.err) == (0, "", "wrote again.json\n")
    path = tmp_path / "again.json"
    document = json.loads(path.read_text("utf-8"))
    document["treatments"][0]["products"][0]["rate"] = "1.1 fl oz/1000 sq ft"
    path.write_text(json.dumps(document), "utf-8")
    ran = swathbook("--book", held, "held", "correct", "1", path)
    assert ran.code == 0
    assert "SEALED 2026-000001" in ran.out
    assert swathbook("--book", held, "held").out == "nothing is held\n"
    shown = swathbook("--book", held, "held", "show", "1")
    assert "H-000001: sealed as 2026-000001" in shown.out
    ran = swathbook("--book", held, "held", "correct", "1")
    assert (ran.code, ran.out) == (14, "")
    assert "H-000001 was sealed as 2026-000001" in ran.err


def test_one_part_is_corrected_where_the_finding_points(swathbook: Swathbook, held: Path) -> None:
    """The place of the finding is the place of `--set`."""
    findings = swathbook("--book", held, "held", "show", "1", "--json").json["findings"]
    (at,) = [finding["at"] for finding in findings if finding["code"] == "over-rate"]
    ran = swathbook("--book", held, "held", "correct", "1", "--set", f"{at}=1.1 fl oz/1000 sq ft")
    assert ran.code == 0, ran.out
    assert "SEALED" in ran.out


def test_a_correction_that_is_wrong_too_stays_held(swathbook: Swathbook, held: Path) -> None:
    """The entry keeps its number and the new text."""
    at = "treatments[0].products[0].rate"
    ran = swathbook("--book", held, "held", "correct", "1", "--set", f"{at}=1.6 fl oz/1000 sq ft", "--json")
    assert ran.code == 1
    assert ran.json["held"] == "H-000001"
    told = swathbook("--book", held, "held", "show", "1", "--json").json
    assert told["document"]["treatments"][0]["products"][0]["rate"] == "1.6 fl oz/1000 sq ft"


def test_a_question_is_confirmed(swathbook: Swathbook, firm: Path) -> None:
    """The screen's own line, with `--confirm`, seals what stands as typed."""
    assert swathbook("--book", firm, "close", "-", stdin=json.dumps(visit(ref="a"))).code == 0
    second: dict[str, Any] = visit(ref="b", started="2026-10-20T14:00", finished="2026-10-20T14:20")
    second["treatments"][0].update(
        method="spot",
        zones=["back"],
        area="100 sq ft",
        equipment="can-1",
        spray="0.1 gal",
        targets=["yellow nutsedge"],
        products=[{"product": "sedgeline-75", "rate": "0.9 g/gal", "lot": "G1"}],
    )
    second["weather"]["measured_at"] = "2026-10-20T13:58"
    ran = swathbook("--book", firm, "close", "-", stdin=json.dumps(second))
    assert ran.code == 1
    assert "swathbook held correct H-000001 --confirm same-day" in " ".join(ran.out.split())
    assert "  ASK  this site already has a record of that day" in ran.out
    ran = swathbook("--book", firm, "held", "correct", "H-000001", "--confirm", "same-day")
    assert ran.code == 0, ran.out
    shown = swathbook("--book", firm, "show", "2026-000002").out
    for screen in (ran.out, shown):  # answered: it does not read as an open question any more
        assert "  confirmed: this site already has a record of that day" in screen
        assert "ASK" not in screen
    wrong = swathbook("--book", firm, "held", "correct", "1", "--confirm", "sameday")
    assert (wrong.code, wrong.out) == (2, "")


def test_as_applied_on_a_held_entry(swathbook: Swathbook, held: Path) -> None:
    """It stands as typed, with reason and signature."""
    ran = swathbook("--book", held, "held", "correct", "1", "--as-applied", "Read the wrong line.", "--signed-by", "mo")
    assert ran.code == 0
    assert "AS APPLIED" in ran.out


def test_drop_needs_a_reason_and_keeps_it(swathbook: Swathbook, held: Path) -> None:
    """Dropped text stays readable; dropping twice is refused."""
    assert swathbook("--book", held, "held", "drop", "1").code == 2
    assert swathbook("--book", held, "held", "drop", "1", "--reason", " ").code == 2
    ran = swathbook("--book", held, "held", "drop", "1", "--reason", "typed twice")
    assert (ran.code, ran.out) == (0, "H-000001 dropped; its text and the reason stay in the book\n")
    assert swathbook("--book", held, "held").out == "nothing is held\n"
    shown = swathbook("--book", held, "held", "show", "1")
    assert "H-000001: dropped" in shown.out
    assert "reason: typed twice" in shown.out
    assert swathbook("--book", held, "held", "drop", "1", "--reason", "again", "--json").code == 14


@pytest.mark.parametrize("number", ["H-000009", "x", "", "2026-000001", "999999999999"])
def test_an_entry_that_is_not_there(number: str, swathbook: Swathbook, held: Path) -> None:
    """Exit 9."""
    for words in (["show", number], ["correct", number], ["drop", number, "--reason", "x"]):
        ran = swathbook("--book", held, "held", *words)
        assert (ran.code, ran.out) == (9, "")


def test_numbers_may_be_typed_short() -> None:
    """`3`, `h-3` and `H-000003` are the same; anything else is left as it is."""
    assert {normal_number(text) for text in ("3", "h3", " H-3 ", "H-000003")} == {"H-000003"}
    assert normal_number("x-3") == "X-3"


@pytest.mark.parametrize(
    ("change", "place", "value"),
    [
        ("remarks=a = b", ("remarks",), "a = b"),
        ("ref=", ("ref",), None),
        ("weather.wind_speed=6 mph", ("weather", "wind_speed"), "6 mph"),
        ("treatments[0].targets=ground ivy, dandelion", ("treatments", 0, "targets"), ["ground ivy", "dandelion"]),
        ("treatments[0].products[1].product=spreadwell", ("treatments", 0, "products", 1, "product"), "spreadwell"),
        ('treatments[0].zones=["front"]', ("treatments", 0, "zones"), ["front"]),
        (
            'weather.wind_speed={"not_measured": "meter broken"}',
            ("weather", "wind_speed"),
            {"not_measured": "meter broken"},
        ),
    ],
)
def test_a_change_is_written_where_it_says(change: str, place: tuple[str | int, ...], value: object) -> None:
    """The document itself stays as it was."""
    before = visit()
    changed: Any = with_changes(before, [change])
    for step in place:
        changed = changed[step]
    assert changed == value
    assert before == visit()


@pytest.mark.parametrize(
    ("change", "hint"),
    [
        ("treatments[0].rate=0.9 g/gal", "such as treatments[0].products[0].rate"),
        ("wether.wind_speed=6 mph", "such as weather.wind_speed"),
        ("colour=green", "as the finding names it"),
    ],
)
def test_a_place_that_no_visit_has_is_refused_with_one_that_it_has(change: str, hint: str) -> None:
    """Written into the entry it would hold it for good."""
    with pytest.raises(UsageError) as caught:
        with_changes(visit(), [change])
    assert hint in caught.value.hint


@pytest.mark.parametrize(
    ("short", "whole"),
    [
        ("rate=0.9 fl oz/M", "treatments[0].products[0].rate=0.9 fl oz/M"),
        ("lot=B9", "treatments[0].products[0].lot=B9"),
        ("area=300 sq ft", "treatments[0].area=300 sq ft"),
        ("wind_speed=6 mph", "weather.wind_speed=6 mph"),
        ("finished=2026-10-20T09:40", "finished=2026-10-20T09:40"),
    ],
)
def test_a_last_name_alone_is_enough_where_one_place_has_it(short: str, whole: str) -> None:
    """Nobody types brackets at the truck."""
    assert with_changes(visit(), [short]) == with_changes(visit(), [whole])


def test_a_last_name_that_fits_several_places_is_refused() -> None:
    """Nothing is guessed: both places are named."""
    entry = visit()
    entry["treatments"][0]["products"].append({"product": "spreadwell"})
    with pytest.raises(UsageError, match="lot stands in 2 places") as caught:
        with_changes(entry, ["lot=B9"])
    assert caught.value.hint.endswith("treatments[0].products[0].lot or treatments[0].products[1].lot")


def test_what_is_not_part_of_a_visit_is_taken_out_again() -> None:
    """No value takes out an unknown key, and a whole line of a list."""
    before = visit()
    before["rate"] = "1 g/gal"
    before["treatments"][0]["products"].append({"product": "spreadwell"})
    assert with_changes(before, ["rate=", "treatments[0].products[1]="]) == visit()


@pytest.mark.parametrize(
    "change",
    [
        "",
        "remarks",
        "=x",
        "..=x",
        "Treatments=x",
        "treatments[x]=y",
        "treatments[5].area=1",
        "treatments[-1].area=1",
        "treatments.area=1",
        "site.name=x",
        "weather[0]=x",
        "a.b.c.d.e.f.g.h.i=x",
        "treatments[0].zones=[1",
        "../../x=1",
        "treatments[99999999999]=x",
    ],
)
def test_a_change_that_leads_nowhere_is_refused(change: str) -> None:
    """With what to write instead."""
    with pytest.raises(UsageError):
        with_changes(visit(), [change])
