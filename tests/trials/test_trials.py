"""Trials: drawn by a seed, put on plots, rated together, and what they can tell."""

from __future__ import annotations

import io
from collections import Counter
from dataclasses import replace
from datetime import date
from fractions import Fraction
from typing import TYPE_CHECKING, Any

import pytest
from hypothesis import given
from hypothesis import strategies as st
from pypdf import PdfReader

from records.domain.ceilings import Load, Sum, are_apart
from records.domain.trials import draw
from records.errors import NotFoundError, UsageError
from records.reports.trial_plan import render_trial
from records.services.actives import allowance
from records.services.comparing.service import Wish, compare
from records.services.directory import Directory
from records.services.follow_up.rating import Order
from records.services.follow_up.rating import rate as rate_one
from records.services.follow_up.ratings import ratings
from records.services.logbook import withdraw
from records.services.trials.planning import Planned, TrialOrder, plan_trial
from records.services.trials.rating import Looked, Round, rate_trial
from records.services.trials.reading import trials
from records.services.trials.showing import TrialResult, show_trial, trial_curve
from records.services.trials.words import page_of, result_document, state_row
from tests.kit import Kit, codes, days_after, labelled, of, zone_treatment

if TYPE_CHECKING:
    from collections.abc import Iterator
    from pathlib import Path

DAY = "2026-05-14"
ENTRIES = ("A=larkin-4=0.75 fl oz/1000 sq ft", "B=clove-mix=10 fl oz/1000 sq ft", "untreated")
PLOT: dict[str, Any] = {"area": "100 sq ft", "targets": ["plantain"]}


@pytest.fixture
def kit(tmp_path: Path) -> Iterator[Kit]:
    """Return a firm without visits, early on the usual day."""
    made = Kit.at(tmp_path)
    made.set(f"{DAY}T07:00")
    yield made
    made.shut()


def plan(kit: Kit, **parts: object) -> Planned:
    """Plan a trial on the front of Mill Path."""
    order = {"name": "ivy-1", "site": "mill-9", "zone": "front", "target": "plantain", "entries": ENTRIES, "blocks": 2}
    return plan_trial(kit.book, kit.clock, TrialOrder(**order | {"seed": 11} | parts))  # type: ignore[arg-type]


def treat(kit: Kit, made: Planned) -> str:
    """Close one visit that treats every plot as planned."""
    parts = []
    for plot in made.trial.plots:
        for product, rate in made.trial.entry_of(plot).products:
            parts.append({**PLOT, "plot": f"{made.trial.name}/{plot.name}", "product": product, "rate": rate})
    first, *rest = parts
    done = kit.sealed(**first, rest=[zone_treatment(**one) for one in rest], ref="trial")
    assert done.serial is not None
    return done.serial


def look(kit: Kit, *marks: str, days: int = 14, **parts: object) -> Round:
    """Rate plots so many days after the usual day."""
    kit.set(f"{days_after(DAY, days)}T18:00")
    looked = Looked("ivy-1", marks, at=f"{days_after(DAY, days)}T09:00", by="ruth", **parts)  # type: ignore[arg-type]
    return rate_trial(kit.book, kit.clock, looked)


def shown(kit: Kit) -> TrialResult:
    """Read the trial."""
    with kit.book.read() as work:
        return show_trial(work, "ivy-1")


def test_the_same_seed_draws_the_same_plan() -> None:
    """The plan of seed 11, as `ALGORITHM` describes it, held fast: an update of the language must not move plots."""
    assert [(one.name, one.block, one.entry) for one in draw("ABC", 2, 11)] == [
        ("1", 1, "A"), ("2", 1, "C"), ("3", 1, "B"), ("4", 2, "B"), ("5", 2, "A"), ("6", 2, "C"),
    ]  # fmt: skip
    assert [one.name for one in draw("AB", 1, 5, ("left", "right"))] == ["left", "right"]
    assert [one.name for one in draw("AB", 2, 5, ("left", "right"))] == ["1-left", "1-right", "2-left", "2-right"]


@given(count=st.integers(2, 12), blocks=st.integers(1, 12), seed=st.integers(0, 10**9))
def test_each_block_has_each_entry_once(count: int, blocks: int, seed: int) -> None:
    letters = "ABCDEFGHIJKL"[:count]
    plots = draw(letters, blocks, seed)
    assert plots == draw(letters[::-1], blocks, seed)
    assert len({one.name for one in plots}) == count * blocks
    for block in range(1, blocks + 1):
        assert sorted(one.entry for one in plots if one.block == block) == list(letters)


def test_the_draw_favours_no_place() -> None:
    """Over 6,000 seeds each of the six orders comes up about a thousand times; 150 is five standard deviations."""
    orders = Counter("".join(one.entry for one in draw("ABC", 1, seed)) for seed in range(6000))
    assert len(orders) == 6
    assert all(abs(count - 1000) < 150 for count in orders.values())


def test_a_plan_is_sealed_and_read_back(kit: Kit) -> None:
    made = plan(kit)
    with kit.book.read() as work:
        assert trials(work) == [made.trial]
    assert [one.letter for one in made.trial.entries] == ["A", "B", "C"]
    assert made.trial.entries[2].is_untreated
    with pytest.raises(UsageError, match="there already"):
        plan(kit, name="IVY-1")
    withdraw(kit.book, kit.clock, made.trial.serial, "laid out elsewhere", None)
    with kit.book.read() as work:
        assert trials(work) == []


@pytest.mark.parametrize(
    ("parts", "why"),
    [
        ({"entries": ENTRIES[:1]}, "compares 2 to 12 entries"),
        ({"entries": ("A=larkin-4=1 fl oz/1000 sq ft", "A=untreated")}, "same letter"),
        ({"entries": (ENTRIES[0], "C=larkin-4=0.75 fl oz/1000 sq ft")}, "are the same"),
        ({"entries": ("larkin-4", "untreated")}, "has no rate"),
        ({"entries": ("larkin-4=much", "untreated")}, "larkin-4: "),
        ({"entries": ("larkin-4=1 lb/1000 sq ft", "untreated")}, "larkin-4"),
        ({"name": "../ivy"}, "no name for a trial"),
        ({"name": "ivy/1"}, "no name for a trial"),
        ({"blocks": 0}, "out of bounds"),
        ({"blocks": 13}, "out of bounds"),
        ({"seed": -1}, "out of bounds"),
        ({"layout": "left,right"}, "names 2 places, the trial has 3"),
        ({"layout": "left,left,right"}, "cannot be read"),
        ({"target": " "}, "--target is empty"),
        ({"zone": "roof"}, "has no zone"),
        ({"site": "nowhere"}, "no site"),
        ({"entries": ("nothing=1 fl oz/1000 sq ft", "untreated")}, "nothing"),
    ],
)
def test_what_cannot_be_planned(kit: Kit, parts: dict[str, object], why: str) -> None:
    with pytest.raises((UsageError, NotFoundError), match=why):
        plan(kit, **parts)


def test_notes_of_a_plan(kit: Kit) -> None:
    made = plan(kit, entries=("A=larkin-4=2 fl oz/1000 sq ft", ENTRIES[1]))
    assert any("refused" in note for note in made.notes)
    assert any("no entry is left untreated" in note for note in made.notes)


@pytest.mark.parametrize(
    ("parts", "why"),
    [
        ({"zone": "bed"}, "A: larkin-4 on bed: not labelled for ornamental bed; a visit that puts it out is refused"),
        ({"zone": "south"}, "A: larkin-4 on south: not labelled for zoysiagrass"),
        ({"zone": "green"}, "A: larkin-4 on green: its label names bentgrass as turf not to be treated"),
        ({"zone": "shade"}, "A: larkin-4 on shade: its label calls fine fescue sensitive"),
        ({"zone": "patch"}, "A: larkin-4 on patch: the grass is not in the book"),
        ({"method": "injection"}, "A: larkin-4 on front: not labelled for injection on turf, its label has broadcast"),
        ({"entries": ("larkin-4=2 fl oz/gal", "untreated")}, "2 fl oz/gal is over the label's 0.6 fl oz/gal for turf"),
        ({"entries": ("clove-mix=2 fl oz/gal", "untreated")}, "prints no rate in the spray for turf"),
        ({"entries": ("bare-2=1 fl oz/gal", "untreated")}, "A: bare-2 on front: the book has no label of it"),
    ],
)
def test_a_plan_tells_what_labels_say_on_that_ground_and_is_kept(kit: Kit, parts: dict[str, object], why: str) -> None:
    made = plan(kit, **parts)
    assert any(why in note for note in made.notes), made.notes
    with kit.book.read() as work:
        assert trials(work) == [made.trial]


def test_a_plan_tells_what_ceilings_leave_this_year(kit: Kit) -> None:
    kit.load(products=[labelled(limits={"per_year": "1 fl oz/1000 sq ft", "interval": "21 days"})])
    assert not any("larkin-4" in note for note in plan(kit).notes)
    kit.sealed(rate="0.5 fl oz/1000 sq ft")
    assert any("lawful from 2026-06-04 on, not before (21 days interval)" in one for one in plan(kit, name="b").notes)
    kit.set("2026-06-10T07:00")
    (note,) = plan(kit, name="c").notes
    assert "0.75 fl oz/1000 sq ft is more than its ceilings leave there: 0.5 fl oz/1000 sq ft of 1 fl oz" in note
    kit.sealed("2026-06-10", rate="0.5 fl oz/1000 sq ft")
    assert any("lawful from 2027-01-01 on" in one for one in plan(kit, name="d").notes)


def test_plots_are_checked_at_closing(kit: Kit) -> None:
    """Unknown names stop; what differs from the plan asks."""
    plan(kit)
    for plot, why in (("ivy-2/1", "no trial is called"), ("ivy-1/9", "has no plot"), ("ivy-1", "has no plot")):
        done = kit.close(ref=plot, plot=plot, **PLOT)
        assert done.status == "held"
        assert why in of(done, "unknown-name")["message"]
    done = kit.close(ref="other-product", plot="ivy-1/3", **PLOT)
    assert of(done, "disagree")["limit"] == "clove-mix 10 fl oz/1000 sq ft"
    assert "disagree" in codes(kit.close(ref="on-untreated", plot="ivy-1/2", **PLOT), "ask")
    done = kit.close(ref="other-zone", plot="ivy-1/1", zones=["side"], **PLOT)
    assert of(done, "disagree")["at"] == "treatments[0].zones"
    done = kit.close(ref="other-weed", plot="ivy-1/1", area="100 sq ft", targets=["ground ivy"])
    assert of(done, "disagree")["at"] == "treatments[0].targets"
    done = kit.close(ref="elsewhere", site="dock-2", plot="ivy-1/1", **PLOT)
    assert "lies at mill-9" in of(done, "unknown-name")["message"]
    done = kit.close(ref="as-planned", plot="IVY-1/1", **PLOT)
    assert done.status == "sealed"
    assert {"unknown-name", "disagree", "unlikely-amount"}.isdisjoint(codes(done))


def test_another_rate_than_planned_is_noted(kit: Kit) -> None:
    plan(kit)
    near = kit.close(ref="near", plot="ivy-1/1", rate="0.7 fl oz/1000 sq ft", **PLOT)
    assert "disagree" not in codes(near)
    far = kit.close(ref="far", plot="ivy-1/5", rate="0.5 fl oz/1000 sq ft", on=days_after(DAY, 1), **PLOT)
    assert far.status == "sealed"
    assert "it got 0.67 times that" in of(far, "disagree")["message"]


def test_plots_of_one_trial_are_never_the_same_ground(kit: Kit) -> None:
    """Each plot gets the full rate, once: neither a day's sum nor a year's asks, nor an interval, nor a count."""
    limits = {"per_year": "0.75 fl oz/1000 sq ft", "applications": 1, "interval": "28 days"}
    active = {"active_per_year": {"larkinic acid": "1.2 lb/acre"}}
    kit.load(products=[labelled(limits=limits | active)])
    made = plan(kit, entries=("A=larkin-4=0.75 fl oz/1000 sq ft", "untreated"), blocks=4)
    first, second, third, fourth = [f"ivy-1/{one.name}" for one in made.trial.plots if one.entry == "A"]
    broken = {"over-rate", "over-year", "over-active", "over-count", "too-soon"}
    done = kit.close(ref="two", plot=first, **PLOT, rest=[zone_treatment(plot=second, **PLOT)])
    assert done.status == "sealed", done.findings
    assert not broken & codes(done)
    done = kit.close(days_after(DAY, 1), ref="third", plot=third.upper(), **PLOT)
    assert done.status == "sealed", done.findings
    assert not broken & codes(done)
    again = kit.close(days_after(DAY, 2), ref="again", plot=first, **PLOT)
    assert broken - {"over-rate"} <= codes(again, "ask")
    assert f"with {again_serial(kit)}; the label" in of(again, "over-year")["message"]
    both = kit.close(days_after(DAY, 2), ref="both", plot=fourth, **PLOT, rest=[zone_treatment(plot=fourth, **PLOT)])
    assert "over-rate" in codes(both, "ask")
    everywhere = kit.close(days_after(DAY, 2), ref="all", area="100 sq ft", targets=["plantain"])
    assert "comes to 1.5 fl oz/1000 sq ft" in of(everywhere, "over-year")["message"]


def again_serial(kit: Kit) -> str:
    """Return the serial of the first visit that was sealed."""
    with kit.book.read() as work:
        return next(one.serial for one in work.records.walk() if one.body["kind"] == "visit")


def test_which_loads_may_have_hit_the_same_ground() -> None:
    """Of each trial one plot: the entry's own where it treats nothing else, the one with most where it may be any."""

    def stacked(*loads: tuple[str, int, str]) -> Fraction:
        made = [
            Load(serial, date(2026, 5, 14), Fraction(value), Fraction, Fraction(1), Fraction(1), plot=plot)
            for serial, value, plot in loads
        ]
        return Sum(tuple(made), Fraction(100)).stacked

    past = (("p", 4, "T/1"), ("q", 2, "t/2"), ("r", 1, ""), ("s", 7, "U/1"), ("t", 3, "U/2"))
    assert stacked(*past) == 4 + 1 + 7
    assert stacked(*past, ("", 10, "")) == 10 + 4 + 1 + 7
    assert stacked(*past, ("", 10, "T/2")) == 10 + 2 + 1 + 7
    assert stacked(*past, ("", 10, "T/2"), ("", 9, "T/1")) == 9 + 4 + 1 + 7
    assert stacked(*past, ("", 10, "T/3")) == 10 + 1 + 7
    assert Sum((), None).stacked == 0
    assert not are_apart("T/1", "")
    assert not are_apart("T/1", "U/2")
    assert not are_apart("T/a", "t/A")
    assert are_apart("T/1", "t/2")


def test_two_raters_are_told_and_nobody_is_no_rater(kit: Kit) -> None:
    treat(kit, plan(kit))
    look(kit, "1=80")
    unnamed = rate_trial(kit.book, kit.clock, Looked("ivy-1", ("3=60",), at=f"{days_after(DAY, 14)}T09:00"))
    assert "nobody is named as rater: --by PERSON" in unnamed.notes
    cautions = shown(kit).cautions
    assert "nobody is named as rater of 1 rating by eye" in cautions
    assert not any("raters (" in one for one in cautions)


def test_what_is_left_of_a_zone_counts_one_plot_of_a_trial(kit: Kit) -> None:
    kit.load(products=[labelled(limits={"per_year": "2 fl oz/1000 sq ft", "applications": 2})])
    treat(kit, plan(kit, blocks=4))
    with kit.book.read() as work:
        directory = Directory(work.catalogue)
        (site, _), product = directory.site("mill-9") or (None, 0), directory.product("larkin-4")
        assert site is not None
        assert product is not None
        one = allowance(work, site, site.zones[0], product, date(2026, 5, 20))
    assert one.product_left[0].put_most * 1000 == Fraction(3, 4)
    assert one.applications_left == 1


def test_a_plot_stands_in_the_body_only_where_there_is_one(kit: Kit) -> None:
    plan(kit)
    with_plot = kit.sealed(ref="a", plot="ivy-1/1", **PLOT).serial
    without = kit.sealed(ref="b", on=days_after(DAY, 1)).serial
    assert with_plot is not None
    assert without is not None
    with kit.book.read() as work:
        assert work.records.revisions(with_plot)[0].body["treatments"][0]["plot"] == "ivy-1/1"
        assert "plot" not in work.records.revisions(without)[0].body["treatments"][0]


def test_ratings_by_eye(kit: Kit) -> None:
    serial = treat(kit, plan(kit))
    done = look(kit, "1=80", "3=60", "4=55", "5=75", "2=0", "6=5")
    assert [(one.plot, one.entry, one.days, one.control) for one in done.ratings] == [
        ("1", "A", 14, Fraction(80)), ("2", "C", 14, Fraction(0)), ("3", "B", 14, Fraction(60)),
        ("4", "B", 14, Fraction(55)), ("5", "A", 14, Fraction(75)), ("6", "C", 14, Fraction(5)),
    ]  # fmt: skip
    with kit.book.read() as work:
        found = ratings(work)
    assert sum(one.is_untreated for one in found) == 2
    assert {one.rating.record for one in found if one.treated} == {serial}
    result = shown(kit)
    means = {one.entry.letter: [(look.days, look.plots, look.mean) for look in one.looks] for one in result.entries}
    assert means["A"] == [(14, 2, Fraction(155, 2))]
    (pair,) = result.pairs
    assert (pair.first, pair.second, pair.mean) == ("A", "B", Fraction(20))
    assert pair.test is not None
    assert (pair.test.could_tell, pair.test.p) == (False, Fraction(1, 2))
    assert "no difference can be told from 2 blocks, whatever they say (seen: 20 points" in result.sentences[0]


def test_counts_are_corrected_by_the_untreated_plot_of_the_block(kit: Kit) -> None:
    """Published counts (Henderson-Tilton form, tests/reference/efficacy.json): 40 to 6 against 20 to 15 is 80 %."""
    treat(kit, plan(kit))
    done = look(kit, counts=["1=40:6", "2=20:15", "5=75:15", "6=75:60", "3=:6"])
    by_plot = {one.plot: one for one in done.ratings}
    assert (by_plot["1"].control, by_plot["1"].way) == (Fraction(80), "Henderson-Tilton")
    assert by_plot["1"].check == "untreated plot 2 of its block"
    assert by_plot["5"].control == 75
    assert by_plot["5"].check == "untreated plot 6 of its block"
    assert (by_plot["3"].control, by_plot["3"].way) == (Fraction(60), "Abbott")  # 6 against 15, nobody counted before
    assert by_plot["2"].control is None
    assert "plots not rated in this round: 4" in done.notes[0]


def test_the_best_founded_rating_of_a_day_counts_and_the_others_stand_beside(kit: Kit) -> None:
    serial = treat(kit, plan(kit))
    look(kit, counts=["1=40:6", "2=20:15"], days=28)
    look(kit, "1=95", days=28)
    rate_one(kit.book, kit.clock, Order(serial, ("plantain",), treatment=1, at=days_after(DAY, 28), count="40:10"))
    look(kit, "5=60", days=28)
    look(kit, "5=70", days=28)
    result = shown(kit)
    (first, *_, fifth, _) = result.plots
    day = date.fromisoformat(days_after(DAY, 28))
    assert (first.control(day), fifth.control(day)) == (Fraction(80), Fraction(65))
    (entry, *_) = result.entries
    assert [(one.plots, one.mean) for one in entry.looks] == [(2, Fraction(145, 2))]
    assert (
        f"plot 1 on {day}: Henderson-Tilton, 80 %, counts; not counted: 95 % (by eye), 75 % (counts without a check)"
        in (result.cautions)
    )
    assert f"plot 5 on {day}: the mean of 2 ratings by eye, 65 %, counts" in result.cautions
    assert state_row(first)[-1] == (
        "28 d 80 % (Henderson-Tilton), 28 d 95 % (by eye, not counted), 28 d 75 % (counts without a check, not counted)"
    )
    assert [one["counts"] for one in result_document(result)["plots"][0]["ratings"]] == [True, False, False]


@pytest.mark.parametrize(("entries", "mean"), [(ENTRIES, None), (ENTRIES[:2], Fraction(75))])
def test_counts_without_a_check_never_count_beside_untreated_plots(
    kit: Kit, entries: tuple[str, ...], mean: Fraction | None
) -> None:
    treat(kit, plan(kit, entries=entries))
    done = look(kit, counts=["1=40:10"])
    assert any("what the trial tells leaves such counts out" in note for note in done.notes) == (mean is None)
    result = shown(kit)
    means = [one.mean for entry in result.entries for one in entry.looks]
    assert means == ([] if mean is None else [mean])
    assert any("nothing of it counts; not counted: 75 %" in one for one in result.cautions) == (mean is None)


def test_without_an_untreated_plot_in_the_block_the_mean_of_all_is_the_check(kit: Kit) -> None:
    treat(kit, plan(kit))
    (_, one) = look(kit, counts=["1=40:6", "6=20:15"]).ratings[::-1]
    assert one.check == "mean of untreated plots 6"
    lone = look(kit, counts=["1=40:10"], days=21)
    assert (lone.ratings[0].control, lone.ratings[0].way) == (Fraction(75), "counts without a check")
    assert "what died by itself is counted as killed" in lone.notes[-1]


@pytest.mark.parametrize(
    ("marks", "counts", "why"),
    [
        (["9=80"], [], "no plot '9'"),
        (["1=180"], [], "plot 1"),
        (["1"], [], "cannot be read"),
        (["1=80", "1=70"], [], "named twice"),
        ([], ["1=40"], "no colon"),
        ([], [], "no plot is rated"),
        ([], ["1=40:6", "2=0:0"], "plot 1"),
    ],
)
def test_what_cannot_be_rated(kit: Kit, marks: list[str], counts: list[str], why: str) -> None:
    treat(kit, plan(kit))
    with pytest.raises(UsageError, match=why):
        look(kit, *marks, counts=counts)
    with kit.book.read() as work:
        assert ratings(work) == []


def test_a_plot_without_a_treatment_waits(kit: Kit) -> None:
    plan(kit)
    with pytest.raises(UsageError, match=r'no record by 2026-05-28 treats plot 1; .*"plot": "ivy-1/1"'):
        look(kit, "1=80")
    with pytest.raises(NotFoundError, match="no trial is called"):
        rate_trial(kit.book, kit.clock, Looked("other", ("1=80",)))


def test_six_blocks_can_tell(kit: Kit) -> None:
    """Six differences of one sign: p is 2/64, Fisher's smallest for six pairs."""
    made = plan(kit, blocks=6, entries=ENTRIES[:2])
    treat(kit, made)
    marks = [f"{one.name}={(80 if one.entry == 'A' else 60) + one.block}" for one in made.trial.plots]
    look(kit, *marks)
    result = shown(kit)
    (sentence,) = result.sentences
    assert sentence == (
        "A (larkin-4 0.75 fl oz/1000 sq ft) controlled more than B (clove-mix 10 fl oz/1000 sq ft), by about 20 points "
        "on 2026-05-28 (n=6 blocks; p=0.03)"
    )


def test_trials_count_in_a_comparison_unless_left_out(kit: Kit) -> None:
    treat(kit, plan(kit))
    look(kit, "1=80", "3=60", "4=55", "5=76", days=28)
    with kit.book.read() as work:
        result = compare(work, Wish("plantain"))
        assert [(one.name, len(one.sites), one.final.median) for one in result.groups] == [
            ("Larkin 4", 1, Fraction(78)), ("Clove Mix", 1, Fraction(115, 2)),
        ]  # fmt: skip
        assert not any("by lot" in caution for caution in result.cautions)
        with pytest.raises(NotFoundError):
            compare(work, Wish("plantain", with_trials=False))


@pytest.mark.parametrize("paper", ["letter", "a4"])
def test_the_sketch_gives_way_so_that_a_page_has_room_for_every_sentence(kit: Kit, paper: str) -> None:
    treat(kit, plan(kit, blocks=6))
    look(kit, *(f"{plot}=50" for plot in range(1, 19)))
    page = page_of(shown(kit), "Firm", date(2026, 6, 1))
    assert page.curve is not None
    assert page.cautions[-1].startswith("The product label is the law and wins over this plan.")
    for lines in range(0, 11, 2):
        told = replace(page, cautions=(*("one site: what holds here need not hold elsewhere",) * lines, *page.cautions))
        pages = PdfReader(io.BytesIO(render_trial(told, paper))).pages
        assert len(pages) == 1, lines
        assert "wins over this plan" in pages[0].extract_text()


def test_page_and_json(kit: Kit) -> None:
    treat(kit, plan(kit))
    look(kit, "1=80", "3=60", "2=0")
    result = shown(kit)
    page = page_of(result, "Firm", date(2026, 6, 1))
    data = render_trial(page)
    assert data == render_trial(page)
    text = PdfReader(io.BytesIO(data)).pages[0].extract_text()
    for part in ("Trial ivy-1", "1: A", "6: C", "seed", "block 2", "Mersenne"):
        assert part in text
    document = result_document(result)
    assert [one["plot"] for one in document["plots"]] == ["1", "2", "3", "4", "5", "6"]
    assert document["plots"][0]["ratings"][0]["control"] == "80"
    assert document["seed"] == 11
    assert [one.name for one in trial_curve(result).series] == [
        "A larkin-4 0.75 fl oz/1000 sq ft",
        "B clove-mix 10 fl oz/1000 sq ft",
        "C untreated",
    ]
