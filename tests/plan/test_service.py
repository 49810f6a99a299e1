"""A day planned over a real book: loads, rates, stops as their visits would be, and nothing written."""

from __future__ import annotations

import json
from fractions import Fraction
from typing import TYPE_CHECKING, Any

import pytest

from records.errors import UsageError
from records.services.calibrating import Who, calibrate
from records.services.calibration_methods import Typed
from records.services.planning.service import plan, save
from records.services.planning.telling import jar_words, label_words, plan_document
from tests.kit import LARKIN, SEDGER, codes, labelled
from tests.plan.conftest import DAY, LINE, WETT, Bench, load

if TYPE_CHECKING:
    from records.services.planning.model import Plan, Stop

Json = dict[str, Any]
SEDGE = {"product": "sedger-75", "rate": "0.03 oz/1000 sq ft"}
WETTED = {"product": "wett", "rate": "0.25 % v/v"}


def told(stop: Stop) -> set[str]:
    """Return the codes met at a stop."""
    return {finding.code.value for finding in stop.findings}


def test_a_load_is_worked_out_exactly(bench: Bench) -> None:
    """4,000 + 1,000 + 6,000 sq ft at 2 gal/1,000: 22 gal in a 20 gal tank (by hand)."""
    made = bench.load_of(stops=["mill-9:front,side", {"site": "dock-2", "area": "3000 sq ft"}], products=[LINE, WETTED])
    assert made.area is not None
    assert (made.area.base, made.whole.value, made.split.count) == (Fraction(8000), Fraction(16), 1)
    (charge,) = made.charges
    assert [str(measure.amount) for measure in charge.measures if measure] == ["6 fl oz", "5.12 fl oz"]
    full = bench.load_of(area="12,000 sq ft", stops=None)
    assert [(c.words, c.times, str(c.size)) for c in full.charges] == [
        ("full load", 1, "20 gal"),
        ("last load", 1, "4 gal"),
    ]
    assert [str(c.measures[0].amount) for c in full.charges if c.measures[0]] == ["7.5 fl oz", "1.5 fl oz"]
    assert full.stops[0].loads == (1, 2)


def test_zones_are_those_that_the_labels_allow(bench: Bench) -> None:
    """Bentgrass, zoysia and the bed are left out with the reason; named zones are kept and judged."""
    stop = bench.stop_of("mill-9")
    assert [zone.id for zone in stop.zones] == ["front", "side", "shade", "patch", "wild"]
    left = " ".join(stop.left_out)
    assert "green (bentgrass: not on the label of Larkin 4)" in left
    assert "bed (ornamental bed: not on the label" in left
    named = bench.stop_of("mill-9:green")
    assert told(named) == {"turf-sensitive"}
    nothing = bench.load_of(stops=["mill-9:bed"], products=[LINE])
    assert "site-not-listed" in told(nothing.stops[0])


def test_a_zone_without_a_measure_stops_and_is_not_in_the_total(bench: Bench) -> None:
    stop = bench.stop_of("mill-9:front,wild")
    assert stop.area is not None
    assert stop.area.base == 4000
    (finding,) = [one for one in stop.findings if one.code.value == "missing"]
    assert "zone wild of mill-9 is not measured" in finding.message


def test_no_rate_is_ever_chosen(bench: Bench) -> None:
    """The label prints a range: which ends it prints is said; one printed value alone is taken, and said so."""
    problem = bench.problems(load(products=[{"product": "larkin-4"}]))
    assert "choose a rate for Larkin 4: its label prints 0.5 to 0.75 fl oz/1000 sq ft, or 1.33 to 2 pt/acre" in problem
    only = labelled(use={"rates": [{"min": "0.75 fl oz/1000 sq ft", "max": "0.75 fl oz/1000 sq ft"}]})
    bench.load(products=[only])
    part = bench.load_of(products=[{"product": "larkin-4"}]).parts[0]
    assert (str(part.rate), part.is_labels) == ("0.75 fl oz/1000 sq ft", True)
    bench.load(products=[labelled(use={"rates": [{"max": "0.75 fl oz/1000 sq ft"}]})])
    assert "prints at most 0.75 fl oz/1000 sq ft" in bench.problems(load(products=[{"product": "larkin-4"}]))


def test_all_problems_are_told_at_once(bench: Bench) -> None:
    problem = bench.problems(
        load(
            equipment="rigg",
            stops=["mill-8", "mill-9:frnt", ":"],
            products=[{"product": "larkin"}, LINE | {"rate": "2 lb/acre"}],
        ),
        load(equipment="bare"),
        load(area="1 acre"),
        by="nobody",
    )
    for words in (
        "rigg",
        "mill-8",
        "no zone 'frnt'",
        "no stop",
        "'larkin' is no product",
        "bare has no output",
        "goes with no stops",
        "'nobody' is no person",
    ):
        assert words in problem, words


@pytest.mark.parametrize(
    ("parts", "words"),
    [
        ({"products": []}, "give at least one"),
        ({"products": [LINE, LINE]}, "named twice"),
        ({"products": [LINE, {"product": "ambrel-g", "rate": "3 lb/M"}]}, "granules are spread dry"),
        ({"products": [LINE | {"rate": "0 fl oz/acre"}]}, "is nothing"),
        ({"stops": None}, "name the sites"),
        ({"tank": "0 gal"}, "is zero"),
        ({"tank": "5 lb"}, "is no volume"),
        ({"output": "2 lb/acre"}, "not a volume"),
        ({"order": "abc"}, "is not known"),
        ({"nozle": "x"}, "is not known"),
        (
            {"equipment": "bare", "products": [{"product": "larkin-4", "rate": "0.6 fl oz/gal"}], "method": "spot"},
            "no output",
        ),
        ({"equipment": "spreader", "products": [{"product": "ambrel-g", "rate": "0.5 lb/gal"}]}, "is per spray"),
        (
            {"equipment": "rig", "tank": "5 gal", "products": [{"product": "ambrel-g", "rate": "3 lb/M"}]},
            "is no weight",
        ),
        (
            {
                "equipment": "spreader",
                "products": [{"product": "ambrel-g", "rate": "3 lb/M"}],
                "stops": ["mill-9:wild"],
            },
            "granules go by area",
        ),
        ({"products": [{"product": "wett"}, LINE], "stops": [{"site": "mill-9", "area": "0 sq ft"}]}, "is zero"),
    ],
)
def test_what_cannot_be_planned_says_why(bench: Bench, parts: Json, words: str) -> None:
    assert words in bench.problems(load(**parts))


def test_a_day_has_to_be_named(bench: Bench) -> None:
    assert "on: is missing" in "\n".join(plan(bench.book, {"loads": [load()]}).problems)
    assert plan(bench.book, "words").plan is None
    assert "temperature" in "\n".join(
        plan(bench.book, {"on": DAY, "temperature": "900 degF", "loads": [load()]}).problems
    )


def test_what_the_visit_would_meet_is_met_now(bench: Bench) -> None:
    """Rate, interval, ceiling, count and heat by the checks that close; what only the visit knows is not missing."""
    limits = {"temperature": "85 degF", "interval": "21 days", "applications": 2, "per_year": "1 fl oz/1000 sq ft"}
    bench.load(products=[labelled(limits=limits)])
    bench.sealed("2026-05-04")
    day = bench.planned(load(), by="ruth", temperature="90 degF")
    stop = day.loads[0].stops[0]
    assert told(stop) >= {"too-soon", "over-year", "over-temperature"}
    assert "missing" not in told(stop)
    (room,) = stop.rooms
    assert (room.times_left, str(room.lawful_from)) == (1, "2026-05-25")
    assert room.left_words.startswith("0.25 of 1 fl oz/1000 sq ft")
    assert day.stops
    assert day.not_checked == ()


def test_what_was_not_said_is_named(bench: Bench) -> None:
    day = bench.planned(load(targets=None))
    assert [text.partition(":")[0] for text in day.not_checked] == ["licences", "weeds", "heat"]
    assert not {finding.code.value for finding in day.every_finding()} & {"missing", "licence-missing"}


def test_people_are_told_once(bench: Bench) -> None:
    day = bench.planned(load(stops=["mill-9:front", "dock-2"]), by="nils")
    assert {finding.code.value for finding in day.findings} == {"licence-missing"}
    assert bench.planned(load(), by="emil").findings[0].code.value == "supervision"
    assert not bench.planned(load(), by="emil", supervisor="ruth").findings


def test_two_loads_of_one_day_are_one_visit(bench: Bench) -> None:
    """Each within the label, together over it on the same ground."""
    day = bench.planned(
        load(),
        load(
            equipment="can",
            method="spot",
            products=[{"product": "larkin-4", "rate": "0.6 fl oz/gal"}],
            stops=[{"site": "mill-9", "zones": ["front"], "area": "500 sq ft"}],
        ),
    )
    assert "over-rate" in {finding.code.value for finding in day.every_finding()}
    assert "over-rate" not in {finding.code.value for finding in bench.planned(load()).every_finding()}


def test_planning_writes_nothing(bench: Bench) -> None:
    before = bench.path.read_bytes()
    bench.planned(load(products=[LINE, SEDGE, WETTED]), by="ruth")
    assert bench.path.read_bytes() == before


def test_a_hand_can_is_dosed_by_the_gallon(bench: Bench) -> None:
    """The spots are not measured: one full can, its area, and the dose of each gallon, with the label's own."""
    made = bench.load_of(
        equipment="can",
        method="spot",
        products=[{"product": "larkin-4", "rate": "0.6 fl oz/gal"}],
        stops=["mill-9:front"],
    )
    assert any("one full tank is planned" in note for note in made.notes)
    assert [(c.words, str(c.size), str(c.covers)) for c in made.charges] == [
        ("full load", "2 gal", "2000 sq ft"),
        ("each gallon", "1 gal", "1000 sq ft"),
    ]
    part = made.parts[0]
    assert part.own_dose == "0.4 fl oz/gal to 0.6 fl oz/gal"
    assert str(part.dose) == "0.6 fl oz/gal"
    per_area = bench.load_of(equipment="can", products=[LINE], stops=["mill-9:side"])
    assert str(per_area.parts[0].dose) == "0.75 fl oz/gal"  # 0.75 fl oz/1,000 sq ft in 1 gal/1,000 sq ft
    assert [c.words for c in per_area.charges] == ["the load", "a full one", "each gallon"]


def test_spray_that_is_named_is_made(bench: Bench) -> None:
    made = bench.load_of(
        equipment="can",
        method="spot",
        spray="3 gal",
        products=[{"product": "larkin-4", "rate": "0.6 fl oz/gal"}],
        stops=[{"site": "mill-9", "zones": ["front"], "spray": "4 gal"}, "mill-9:side"],
    )
    assert (made.whole.value, made.split.count) == (Fraction(3), 2)
    assert "4 gal are needed for these stops, 3 gal are made" in made.notes[0]
    more = bench.load_of(
        equipment="can",
        method="spot",
        products=[{"product": "larkin-4", "rate": "0.6 fl oz/gal"}],
        stops=[{"site": "mill-9", "zones": ["front"], "spray": "1 gal"}, "mill-9:side"],
    )
    assert "1 stop has neither area nor spray" in more.notes[0]


def test_granules_are_spread_by_weight(bench: Bench) -> None:
    made = bench.load_of(
        equipment="spreader", products=[{"product": "ambrel-g", "rate": "4 lb/1000 sq ft"}], tank="10 lb"
    )
    assert (made.is_spread, made.whole.value, made.split.full) == (True, Fraction(16), 1)
    assert [str(c.size) for c in made.charges] == ["10 lb", "6 lb"]
    assert made.recipe is None
    assert made.jar_tests == ()


def test_the_newest_calibration_counts_and_a_stale_one_is_told(bench: Bench) -> None:
    """The loaded output of an unknown day is stale; what is given wins; a spreader's own output is compared."""
    assert any("calibrate rig before mixing" in note for note in bench.load_of().notes)
    given = bench.load_of(output="1 gal/1000 sq ft")
    assert (given.whole.value, given.notes) == (Fraction(4), ())
    rigs: list[Json] = [{"id": "rig", "name": "Rig", "output": "3 gal/1000 sq ft", "calibrated_on": "2026-04-30"}]
    bench.load(equipment=rigs)
    made = bench.load_of()
    assert (made.whole.value, made.notes) == (Fraction(12), ())
    assert made.output is not None
    assert made.output.words == "calibrated 2026-04-30"
    granules = {"equipment": "spreader", "products": [{"product": "ambrel-g", "rate": "4 lb/1000 sq ft"}]}
    assert "nothing says what its setting puts out" in bench.load_of(**granules).notes[0]
    bench.set(f"{DAY}T08:00")
    calibrate(bench.book, "spreader", "coverage", Typed(used="3 lb", area="1000 sq ft"), Who(by="ruth"), bench.clock)
    spread = bench.load_of(**granules)
    assert spread.notes == ("spreader puts out 3 lb/1000 sq ft, the plan asks 4 lb/1000 sq ft: set it anew",)
    assert "has no output" in bench.problems(load(equipment="spreader"))


def test_a_plain_area_is_checked_against_the_labels(bench: Bench) -> None:
    over = bench.load_of(area="1000 sq ft", stops=None, products=[LINE | {"rate": "0.9 fl oz/1000 sq ft"}])
    assert told(over.stops[0]) == {"over-rate"}
    assert told(bench.load_of(area="1000 sq ft", stops=None).stops[0]) == set()
    bed = bench.load_of(area="1000 sq ft", stops=None, ground="ornamental bed")
    assert "site-not-listed" in told(bed.stops[0])


def test_partners_of_both_labels(bench: Bench) -> None:
    """A forbidden partner stops the mix with the line; it is told once, of the mix."""
    label = LARKIN["label"] | {"mixing": {"forbidden": [{"with": "sedger-75", "text": "Not with sulfonylureas."}]}}
    bench.load(products=[LARKIN | {"label": label}])
    day = bench.planned(load(products=[LINE, SEDGE], stops=["mill-9:front", "mill-9:side"]))
    (finding,) = day.loads[0].findings
    assert "Not with sulfonylureas." in finding.message
    assert day.stops
    assert all("partner" not in code for stop in day.loads[0].stops for code in told(stop))


def test_a_pair_new_to_the_book_is_tried_in_a_jar(bench: Bench) -> None:
    made = bench.load_of(products=[LINE, WETTED])
    assert made.jar_tests == (("Larkin 4", "Wett NIS"),)
    bench.sealed("2026-05-01", products=[LINE | {"lot": "L1"}, WETTED], spray="8 gal")
    assert bench.load_of(products=[LINE, WETTED]).jar_tests == ()
    three = bench.load_of(products=[LINE, WETTED, SEDGE])
    assert "Larkin 4 with Sedger 75; Wett NIS with Sedger 75" in jar_words(three)
    with bench.book.read() as work:
        assert work.records.together("wett", "larkin-4")
        assert work.records.together("larkin-4", "wett")
        assert not work.records.together("larkin-4", "sedger-75")


def test_marks_stay_under_the_label_and_its_ceiling(bench: Bench) -> None:
    """At the label's maximum no mark is above the exact amount."""
    made = bench.load_of(area="4260 sq ft", stops=None)
    (measure,) = [m for m in made.charges[0].measures if m]
    assert measure.most == measure.amount.base
    assert measure.marks
    assert all(mark.base <= measure.amount.base for mark in measure.marks)


def test_rooms_of_actives_and_of_a_rolling_year(bench: Bench) -> None:
    """3 lb/acre of a 4 lb/gal product is 96 fl oz/acre; a rolling window counts what is within it only."""
    bench.load(products=[labelled(limits={"active_per_year": "3 lb/acre", "window": "12 months"})])
    bench.sealed("2026-04-01")
    (room,) = bench.stop_of("mill-9:front").rooms
    assert room.left == Fraction(96, 43560) - Fraction("0.75") / 1000
    # Rounded down; the ceiling as the label prints it. Put out: 0.75 fl oz x 4 lb/128 fl oz x 43.56 = 1.0209 lb/acre.
    assert room.left_words == "1.453 fl oz/1000 sq ft; all larkinic acid: 1.979 of 3 lb/acre, 12 months from 2025-05-15"


def test_a_ceiling_is_told_on_the_basis_that_the_label_prints(bench: Bench) -> None:
    """3 fl oz/1000 sq ft beside 8 pt/acre: by arithmetic alone the former is 8.167 pt/acre, which no label prints."""
    limits = {"per_year": ["8 pt/acre", "3 fl oz/1000 sq ft"], "window": "calendar year"}
    bench.load(products=[labelled(limits=limits)])
    rooms = bench.stop_of("mill-9:front", products=[{"product": "larkin-4", "rate": "2 pt/acre"}]).rooms
    assert [room.left_words for room in rooms] == ["3 of 3 fl oz/1000 sq ft, calendar year 2026"]
    assert rooms[0].left == Fraction(3, 1000)


def test_what_a_label_has_no_line_for_is_named(bench: Bench) -> None:
    """A label without a line for the use is no missing label: site, turf, method and weed are told as closing does."""
    lacking = {
        "no line for ornamental bed [site-not-listed]": load(stops=["mill-9:bed"]),
        "no line for bentgrass [turf-sensitive]": load(stops=["mill-9:green"]),
        "no line for aerial on turf [method-not-allowed]": load(stops=["mill-9:front"], method="aerial"),
    }
    for words, asked in lacking.items():
        (made,) = bench.planned(asked).loads
        assert (made.parts[0].printed, label_words(made.parts[0])) == ("", words)
    (named,) = bench.planned(load(targets=["moss"])).loads
    assert label_words(named.parts[0]).endswith("; no line for moss [target-not-listed]")
    assert "its label has no line for ornamental bed" in bench.problems(
        load(stops=["mill-9:bed"], products=[{"product": "larkin-4"}])
    )


def test_saving_a_mix(bench: Bench) -> None:
    """The first load is stored, made now; a visit can name it at once; a stopped plan saves nothing."""
    day = bench.planned(load(products=[LINE, WETTED]))
    bench.set(f"{DAY}T07:30")
    document = save(bench.book, day, "mix-1", bench.clock)
    assert document["made_at"] == f"{DAY}T07:30"
    assert document["water"] == "8 gal"
    assert [line["amount"] for line in document["products"]] == ["3 fl oz", "2.56 fl oz"]
    outcome = bench.sealed(mix="mix-1", spray="8 gal", products=None, equipment="rig")
    assert outcome.status == "sealed"
    with pytest.raises(UsageError, match="has a mix"):
        save(bench.book, day, "mix-1", bench.clock)
    over = bench.planned(load(products=[LINE | {"rate": "1 fl oz/1000 sq ft"}]))
    with pytest.raises(UsageError, match="stops it"):
        save(bench.book, over, "mix-2", bench.clock)
    spread = bench.planned(load(equipment="spreader", products=[{"product": "ambrel-g", "rate": "3 lb/M"}]))
    with pytest.raises(UsageError, match="granules are not mixed"):
        save(bench.book, spread, "mix-2", bench.clock)


def test_the_json_holds_everything_as_text(bench: Bench) -> None:
    day: Plan = bench.planned(load(products=[LINE, SEDGE, WETTED]), load(equipment="can"))
    document = plan_document(day)
    text = json.dumps(document)
    assert "Fraction" not in text
    assert json.loads(text) == document
    first = document["loads"][0]
    assert first["area"] == "4000 sq ft"
    assert first["charges"][0]["products"][1]["amount"] == "0.12 oz wt"
    assert first["order"]["steps"][1]["product"] == "sedger-75"
    assert codes(document["loads"][0]["findings"]) == set()
    assert SEDGER["id"] in text
    assert WETT["id"] in text
