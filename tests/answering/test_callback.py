"""Call-backs: the first lawful day of a repeat is the day on which closing seals it; causes are what records say."""

from __future__ import annotations

import copy
import json
from datetime import date, timedelta
from fractions import Fraction
from typing import TYPE_CHECKING, Any

import pytest

from records.errors import NotFoundError, UsageError
from records.services.amending import Why, void
from records.services.directory import Directory
from records.services.follow_up import Order, rate
from records.services.follow_up.callback import CallBack, Called, call_back
from records.services.follow_up.callback_words import answer_words, callback_document
from records.services.follow_up.causes import Says
from records.services.follow_up.group_history import history_document
from records.services.follow_up.histories import groups_of_site
from records.services.follow_up.repeating import next_on
from records.services.nutrients import law_of
from tests.kit import (
    AMBREL,
    BUSINESS,
    DAY,
    PEOPLE,
    SEDGER,
    SITES,
    TORVANE,
    Kit,
    codes,
    days_after,
    labelled,
    zone_treatment,
)

if TYPE_CHECKING:
    from pathlib import Path

INTERVAL = {"interval": "21 days", "applications": 3}
LOW = {"rate": "0.5 fl oz/1000 sq ft"}


@pytest.fixture
def kit(tmp_path: Path) -> Kit:
    """Return a firm whose weed killer may go on every 21 days."""
    made = Kit.at(tmp_path)
    made.load(products=[labelled(limits=INTERVAL)])
    return made


def ask(kit: Kit, of: str = "mill-9", on: str | None = None, **options: Any) -> CallBack:  # noqa: ANN401 - as in call_back
    """Ask about a call-back on a day, the clock standing on it."""
    kit.set(f"{on or days_after(DAY, 14)}T18:00")
    return call_back(kit.book, kit.clock, of, **options)


def rated(kit: Kit, on: str, *marks: str, of: str = "mill-9", **options: Any) -> None:  # noqa: ANN401 - as in Order
    """Rate the newest visit on a day."""
    kit.set(f"{on}T17:00")
    rate(kit.book, kit.clock, Order(of, marks, by="ruth", **options))


def cause(called: Called, key: str) -> tuple[Says, str]:
    """Return what the check list says of one cause."""
    found = next(one for one in called.causes if one.key == key)
    return found.says, "; ".join(found.evidence)


def test_the_first_line_answers_when_it_can_be_done_again(kit: Kit) -> None:
    """Customer question 7 in one sentence, with the label's interval."""
    kit.sealed(**LOW)
    rated(kit, days_after(DAY, 14), "plantain=40")
    found = ask(kit)
    assert (
        answer_words(found.called[0])
        == f"A repeat with Larkin 4 is lawful from {days_after(DAY, 21)} on (21 days interval)"
    )
    assert found.called[0].repeat.day == date.fromisoformat(days_after(DAY, 21))


def test_the_day_told_is_the_day_that_closing_takes(kit: Kit) -> None:
    """The day before is held as too soon; the day itself is sealed."""
    kit.sealed(**LOW)
    day = ask(kit).called[0].repeat.day
    assert day is not None
    before = (day - timedelta(1)).isoformat()
    assert "too-soon" in codes(kit.close(before, rate=LOW["rate"]), "stop")
    assert kit.close(day.isoformat(), rate=LOW["rate"]).status == "sealed"


def test_zones_that_were_treated_on_other_days_have_other_days(kit: Kit) -> None:
    """Front had it again since; the side did not."""
    kit.sealed(zones=["side"], area="1000 sq ft", **LOW)
    kit.sealed(days_after(DAY, 10), **LOW)
    kit.sealed(days_after(DAY, 40), zones=["front", "side"], area="5000 sq ft", **LOW)
    words = answer_words(ask(kit, on=days_after(DAY, 45)).called[0])
    assert f"from {days_after(DAY, 61)} on" in words
    kit2_first = ask(kit, of="2026-000001", on=days_after(DAY, 45)).called[0]
    assert kit2_first.repeat.zones == ("side",)


def test_a_count_that_is_used_up_waits_for_the_next_year(tmp_path: Path) -> None:
    """Two applications a calendar year: after the second, the first of January."""
    kit = Kit.at(tmp_path)
    kit.load(products=[labelled(limits={"interval": "21 days", "applications": 2})])
    kit.sealed(**LOW)
    kit.sealed(days_after(DAY, 21), **LOW)
    found = ask(kit, on=days_after(DAY, 60)).called[0]
    assert found.repeat.day == date(2027, 1, 1)
    assert "3rd application" in answer_words(found)


def test_what_is_rated_well_enough_is_passed_over_and_said_so(kit: Kit) -> None:
    """90 % is no failure at 80 % wanted, and is one at 95 %."""
    kit.sealed(**LOW)
    rated(kit, days_after(DAY, 14), "plantain=90")
    assert "80 % or more" in ask(kit).note
    strict = ask(kit, want=Fraction(95))
    assert strict.note == ""
    assert strict.called[0].shorts[0].is_short
    assert strict.called[0].shorts[0].words.startswith("plantain: 90 % control 14 days after, by Ruth Sandahl")


def test_an_older_failure_is_found_behind_a_newer_success(kit: Kit) -> None:
    """The newest treatment that falls short is told, not the newest one."""
    first = kit.sealed(**LOW)
    rated(kit, days_after(DAY, 14), "plantain=30")
    kit.sealed(days_after(DAY, 30), targets=["ground ivy"], **LOW)
    rated(kit, days_after(DAY, 44), "ground ivy=95")
    assert [one.treated.serial for one in ask(kit, on=days_after(DAY, 50)).called] == [first.serial]


def test_unrated_is_said_and_early_is_said(kit: Kit) -> None:
    """Three days after, a synthetic auxin cannot be judged; nobody rated it yet."""
    kit.sealed(**LOW)
    one = ask(kit, on=days_after(DAY, 3)).called[0]
    assert one.is_early
    assert one.shorts[0].words == "plantain: not rated"
    assert f"too early to judge, the first look is due {days_after(DAY, 7)}" in answer_words(one)
    assert cause(one, "early")[0] is Says.FOR


def test_control_judged_after_three_days_on_an_als_product(kit: Kit) -> None:
    """Failure story: the expected symptoms and the earliest lawful day stand in the first line and in the check list.

    "Take several days at least": University of California, herbicide symptoms, ALS or AHAS inhibitors.
    """
    sedger = labelled(SEDGER, limits={"interval": "42 days"})
    kit.load(products=[sedger])
    kit.sealed(product="sedger-75", rate="0.02 oz wt/1000 sq ft", targets=["yellow nutsedge"])
    rated(kit, days_after(DAY, 3), "yellow nutsedge=10")
    one = ask(kit, on=days_after(DAY, 3)).called[0]
    assert answer_words(one) == (
        f"A repeat with Sedger 75 is lawful from {days_after(DAY, 42)} on (42 days interval); "
        f"too early to judge, the first look is due {days_after(DAY, 14)}"
    )
    assert "symptoms take several days at least" in cause(one, "early")[1]


def test_other_products_need_another_group_the_target_and_the_turf(kit: Kit) -> None:
    """Torvane has group 14 and names plantain; Ambrel shares group 4; Sedger is for nutsedge; Clove names no group."""
    kit.sealed(**LOW)
    others = ask(kit).called[0].others
    assert [one.name for one in others.found] == ["Torvane R"]
    assert others.found[0].groups == ("14",)
    assert any("restricted use" in text for text in others.found[0].cautions)
    assert others.same == ("Ambrel G (group 4)",)
    assert others.without_group == ("Clove Mix",)


def test_own_ratings_of_the_other_product_come_with_their_number(kit: Kit) -> None:
    """No claim without its number of sites and raters; what went on together with something else does not count."""
    kit.sealed(product="torvane-r", rate="1 fl oz/1000 sq ft", zones=["side"], area="1000 sq ft")
    rated(kit, days_after(DAY, 14), "plantain=70")
    rated(kit, days_after(DAY, 28), "plantain=90")
    kit.sealed(days_after(DAY, 29), **LOW)
    other = ask(kit, on=days_after(DAY, 45)).called[0].others.found[0]
    assert other.own == "own last ratings: median 90 % control (1 site, 1 rater)"


def test_heat_and_sensitive_turf_of_the_other_label_are_told(kit: Kit) -> None:
    """Cautions are the label's: its temperature, its sensitive species."""
    product = labelled(
        TORVANE,
        use={"turf": [{"name": "kentucky bluegrass", "tolerance": "sensitive"}]},
        limits={"temperature": "85 degF"},
    )
    kit.load(products=[product])
    kit.sealed(**LOW)
    told = "; ".join(ask(kit).called[0].others.found[0].cautions)
    assert "not above 85 degF" in told
    assert "calls kentucky bluegrass sensitive" in told


def test_the_check_list_says_what_the_record_holds(kit: Kit) -> None:
    """Rate at the label's lowest, weather as measured, since as told; stage and identity are never guessed."""
    kit.sealed(**LOW)
    rated(kit, days_after(DAY, 14), "plantain=40", since=("rain after 2 h",))
    one = ask(kit).called[0]
    assert "0.5 fl oz/1000 sq ft, the label's lowest; label 0.5 to 0.75 fl oz/1000 sq ft" in cause(one, "rate")[1]
    assert cause(one, "since") == (Says.TOLD, f"rain after 2 h (told {days_after(DAY, 14)})")
    assert "temperature 71 degF, wind 6 mph from NW" in cause(one, "weather")[1]
    assert cause(one, "stage")[0] is Says.UNKNOWN
    assert cause(one, "weed")[0] is Says.UNKNOWN
    assert "plantain is on the label of Larkin 4" in cause(one, "weed")[1]
    assert "lot L77" in cause(one, "mix")[1]


def test_below_the_label_and_a_weed_it_does_not_name_point_to_a_cause(kit: Kit) -> None:
    """Evidence that speaks for a cause is marked so."""
    kit.sealed(rate="0.3 fl oz/1000 sq ft", targets=["clover"])
    one = ask(kit).called[0]
    assert cause(one, "rate")[0] is Says.FOR
    assert "below the label's lowest" in cause(one, "rate")[1]
    assert cause(one, "weed")[0] is Says.FOR
    assert "does not name clover" in cause(one, "weed")[1]


def test_what_was_not_measured_is_told_with_its_reason(kit: Kit) -> None:
    """Missing is not zero."""
    kit.sealed(
        wind_speed=None,
        wind_from=None,
        not_measured={"wind_speed": "meter broken", "wind_from": "meter broken"},
        confirmed=["missing"],
        **LOW,
    )
    assert "wind not measured: meter broken" in cause(ask(kit).called[0], "weather")[1]


def test_the_third_time_with_one_group_points_to_resistance(kit: Kit) -> None:
    """As closing notes it, in the same words."""
    for number in range(3):
        last = kit.sealed(days_after(DAY, 21 * number), **LOW)
    words = next(one["message"] for one in last.findings if one["code"] == "group-repeat")
    found = groups_of_site(kit.book, "mill-9")
    assert words in [one.words for one in found.cautions]
    assert found.years[0].products == ["Larkin 4"]
    assert len(found.years[0].serials) == 3
    says, evidence = cause(ask(kit, on=days_after(DAY, 60)).called[0], "group")
    assert says is Says.FOR
    assert "3 of 3 visits in this book, 3 in a row" in evidence


def test_a_row_that_is_over_is_told_as_over_and_two_are_none(kit: Kit) -> None:
    """Another group since; and a target's own row is told beside the zone's."""
    kit.sealed(**LOW)
    kit.sealed(days_after(DAY, 21), **LOW)
    assert groups_of_site(kit.book, "mill-9").cautions == ()
    kit.sealed(days_after(DAY, 42), **LOW)
    kit.sealed(days_after(DAY, 63), product="sedger-75", rate="0.02 oz wt/1000 sq ft", targets=["yellow nutsedge"])
    found = groups_of_site(kit.book, "mill-9").cautions
    assert [(one.target, one.is_over) for one in found] == [("", True), ("plantain", False)]
    assert f"3 times in a row until {days_after(DAY, 42)}" in found[0].words


def test_control_reached_stands_in_the_history(kit: Kit) -> None:
    """The last rating of each target, with its days and rater."""
    kit.sealed(**LOW)
    rated(kit, days_after(DAY, 7), "plantain=40")
    rated(kit, days_after(DAY, 28), "plantain=85")
    reached = groups_of_site(kit.book, "mill-9", "front").years[0].targets["plantain"]
    assert [(one.control, one.days, one.rater) for one in reached] == [(Fraction(85), 28, "Ruth Sandahl")]


def test_control_reached_is_not_what_another_product_did_since(kit: Kit) -> None:
    """The rating before the second product counts; where there is none, the one after it says so."""
    first = kit.sealed(**LOW).serial
    assert first is not None
    rated(kit, days_after(DAY, 7), "plantain=40", of=first)
    kit.sealed(days_after(DAY, 21), product="torvane-r", rate="1 fl oz/1000 sq ft", lot="T1")
    rated(kit, days_after(DAY, 28), "plantain=85", of=first)

    def reached(of: str) -> list[tuple[Fraction | None, int, str]]:
        years = groups_of_site(kit.book, "mill-9", "front").years
        found = next(one for one in years if of in one.serials).targets["plantain"]
        return [(one.control, one.days, one.after) for one in found]

    assert reached(first) == [(Fraction(40), 7, "")]
    other = kit.sealed(days_after(DAY, 42), zones=["side"], area="1000 sq ft", **LOW).serial
    assert other is not None
    kit.sealed(days_after(DAY, 50), zones=["side"], area="1000 sq ft", product="torvane-r",
               rate="1 fl oz/1000 sq ft", lot="T1")  # fmt: skip
    rated(kit, days_after(DAY, 70), "plantain=90", of=other)
    side = next(one for one in groups_of_site(kit.book, "mill-9").years if one.zone == "side" and one.group == "4")
    assert [(one.control, one.after) for one in side.targets["plantain"]] == [(Fraction(90), "Torvane R")]
    assert '"after": "Torvane R"' in json.dumps(history_document(groups_of_site(kit.book, "mill-9")))


def test_one_treatment_of_several_can_be_asked_for_by_its_weed(kit: Kit) -> None:
    """Each treatment has its own answer; --target keeps one."""
    other = zone_treatment(zones=["side"], area="1000 sq ft", targets=["ground ivy"], **LOW)
    kit.sealed(rest=[other], **LOW)
    assert len(ask(kit).called) == 2
    assert [one.treated.zones for one in ask(kit, target="Ground Ivy").called] == [("side",)]
    with pytest.raises(NotFoundError, match="against 'crabgrass'"):
        ask(kit, target="crabgrass")


def test_a_product_that_is_gone_from_the_book_is_named(kit: Kit) -> None:
    """Nothing is said of a label that is not there; ceilings and intervals are what the book holds now."""
    kit.sealed(product="bare-2", rate="0.5 fl oz/1000 sq ft", confirmed=["not-checkable", "missing"])
    words = answer_words(ask(kit).called[0])
    assert "no label in the book" in words


def test_wrong_names_and_voided_records_are_refused_in_one_line(kit: Kit) -> None:
    """What is wrong, and what to do."""
    with pytest.raises(NotFoundError, match="no site"):
        ask(kit, "nowhere-1")
    with pytest.raises(NotFoundError, match="no record"):
        ask(kit, "2026-000099")
    with pytest.raises(NotFoundError, match="no weed was treated"):
        ask(kit, "dock-2")
    with pytest.raises(UsageError, match="no day"):
        call_back(kit.book, kit.clock, "mill-9", on="soon")
    made = kit.sealed(**LOW)
    void(kit.book, made.serial or "", Why("wrong yard", "ruth"), kit.clock)
    with pytest.raises(UsageError, match="was voided"):
        ask(kit, made.serial or "")
    with pytest.raises(NotFoundError, match="no weed was treated"):
        ask(kit)


def test_the_document_holds_what_the_screen_tells(kit: Kit) -> None:
    """Days as ISO dates, amounts as text, every reason with its label."""
    kit.sealed(**LOW)
    document = callback_document(ask(kit))
    treatment = document["treatments"][0]
    assert document["schema"] == 1
    assert treatment["repeat"]["first_day"] == days_after(DAY, 21)
    assert "revision 2025-10" in treatment["repeat"]["zones"][0]["label"]
    assert {one["cause"] for one in treatment["causes"]} == {
        "early",
        "weed",
        "stage",
        "rate",
        "since",
        "weather",
        "mix",
        "group",
    }
    assert {one["status"] for one in treatment["expected"]} <= {"verified", "memory"}


def test_a_blackout_of_fertilizer_puts_a_weed_and_feed_off(tmp_path: Path) -> None:
    """New Jersey bars firms from 2 December to the end of February (N.J.S.A. 58:10A-62): from 1 March on."""
    kit = Kit.at(tmp_path)
    feed = labelled(AMBREL, id="feed-g", name="Feed G", analysis="22-0-4", limits={"interval": "30 days"})
    site, people = copy.deepcopy(SITES[0]), copy.deepcopy(PEOPLE[:1])
    site["state"] = "NJ"
    for licence in people[0]["licences"]:
        licence["state"] = "NJ"
    kit.load(business={**BUSINESS, "packs": ["us-nj"]}, sites=[site], people=people, products=[feed])
    with kit.book.read() as work:
        directory = Directory(work.catalogue)
        ground = directory.site("mill-9")
        product = directory.product("feed-g")
        assert ground is not None
        assert product is not None
        law = law_of(work, "NJ", date(2026, 12, 10))
        zone = ground[0].zones[0]
        made = next_on(work, directory, (ground[0], zone), product, date(2026, 12, 10), "broadcast", [], law)
        before = next_on(work, directory, (ground[0], zone), product, date(2026, 11, 20), "broadcast", [], law)
    assert made.day == date(2027, 3, 1)
    assert "no fertilizer 12-02 to 02-29" in made.why
    assert before.day == date(2026, 11, 20)
