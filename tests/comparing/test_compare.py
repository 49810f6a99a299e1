"""Products compared: sites that count once, days to a control, costs, what can be told and what cannot."""

from __future__ import annotations

import io
import json
from dataclasses import replace
from datetime import date
from fractions import Fraction
from typing import TYPE_CHECKING

import pytest
from pypdf import PdfReader

from records.domain.efficacy import Point, control_days
from records.errors import NotFoundError, UsageError
from records.reports.comparison import render_comparison
from records.services.comparing.gather import window_of
from records.services.comparing.model import WINDOWS, Summary
from records.services.comparing.pictures import bars, curve
from records.services.comparing.sentences import sentence
from records.services.comparing.service import Wish, _is_better, _verdicts, compare
from records.services.comparing.statistics import Test
from records.services.comparing.words import document, page_of, row, sentences
from records.services.follow_up import Order, rate
from tests.comparing.conftest import DAY, RATES, looked
from tests.kit import TORVANE, days_after

if TYPE_CHECKING:
    from records.services.comparing.model import Comparison
    from tests.kit import Kit


Test.__test__ = False  # type: ignore[attr-defined]


def found(kit: Kit, target: str = "plantain", *names: str, **parts: object) -> Comparison:
    """Compare in a book."""
    with kit.book.read() as work:
        return compare(work, Wish(target, names, **parts))  # type: ignore[arg-type]


def test_what_five_sites_each_say(compared: Kit) -> None:
    result = found(compared)
    larkin, clove = result.groups
    assert (larkin.name, clove.name) == ("Larkin 4", "Clove Mix")
    assert (len(larkin.sites), larkin.ratings, larkin.raters) == (5, 15, ("Ruth Sandahl",))
    # On straight lines between 7 and 14 days, 40 + i and 80 + i per cent; the middle site has i = 2
    assert larkin.days_to[0].median == 7 + Fraction(8, 40) * 7
    assert larkin.days_to[1].median == 14 - Fraction(2, 40) * 7
    assert clove.days_to[1].median is None
    assert (clove.days_to[1].never, clove.days_to[1].count) == (5, 5)
    assert larkin.final.median == 92
    assert clove.final.median == 62
    assert larkin.final.low == 90
    assert larkin.final.high == 94
    assert larkin.final.quarters == (Fraction(91), Fraction(93))
    assert larkin.final.interval is not None
    assert larkin.final.interval.level == Fraction(15, 16)
    assert not larkin.final.interval.is_enough
    assert [(one.days, one.sites, one.median) for one in larkin.curve] == [
        (7, 5, Fraction(42)),
        (14, 5, Fraction(82)),
        (28, 5, Fraction(92)),
    ]


def test_what_it_costs(compared: Kit) -> None:
    """0.75 fl oz at 50 cents; the area under the medians until day 28 by trapezoids."""
    larkin, clove = found(compared).groups
    assert larkin.cost.median == Fraction(3, 8)
    area = Fraction(42 * 7, 2) + Fraction((42 + 82) * 7, 2) + (82 + 92) * 7
    assert larkin.control_days == area
    assert larkin.cost_per_control_day == Fraction(3, 8) * 100 / area
    assert clove.cost.median is None
    assert clove.unpriced == ("Clove Mix: no price",)
    assert any("Clove Mix: cost known at 0 of 5 sites" in caution for caution in found(compared).cautions)


def test_the_area_is_that_of_disease_progress() -> None:
    """F. de Mendiburu's worked example (after Campbell and Madden 1990): 2,030 %-days from day 7 to day 42."""
    days, values = (7, 14, 21, 28, 35, 42), (10, 40, 50, 70, 80, 90)
    points = [Point(day, Fraction(value)) for day, value in zip(days, values, strict=True)]
    before = Fraction(10 * 7, 2)  # ours begins with no control on the day of the treatment
    area = control_days(points, 42) - before
    assert area == 2030
    assert area / (100 * (42 - 7)) == Fraction("0.58")  # the relative area that the same example prints


def test_a_difference_in_a_plain_sentence(compared: Kit) -> None:
    """Five against five, all apart: p is 2/252, twice that for two comparisons at once."""
    result = found(compared)
    by_what = {one.what: one for one in result.verdicts}
    final = by_what["final control"]
    assert final.test is not None
    assert abs(final.test.p - Fraction(4, 252)) < Fraction(1, 10**5)
    assert final.sentence == (
        "Larkin 4 controlled more in the end than Clove Mix, by about 30 points "
        "(n=5 and 5; p=0.02, of 2 comparisons together)"
    )
    days = by_what["days to 80 %"]
    assert days.difference is None
    assert days.sentence.startswith("Larkin 4 was faster to 80 % than Clove Mix (n=5 and 5; p=0.02")


def put_out(kit: Kit, product: str, site: int, looks: dict[int, int]) -> None:
    """Treat a site on the usual day and rate it so many days after."""
    done = kit.sealed(
        site=f"site-{site}", product=product, rate="1 fl oz/1000 sq ft", lot="T1", ref=f"{product}-{site}"
    )
    assert done.serial is not None
    kit.set("2026-12-01T18:00")
    for days, control in looks.items():
        on = f"{days_after(DAY, days)}T09:00"
        rate(kit.book, kit.clock, Order(of=done.serial, marks=(f"plantain={control}",), at=on, by="ruth"))


def early(kit: Kit) -> None:
    """Put a pre-emergence product (group 3: looks at 28, 56 and 84 days) on the sites of Clove Mix."""
    active = {"name": "halwanil", "content": "2 lb/gal", "group": "3"}
    kit.load(products=[TORVANE | {"id": "halwan-2", "name": "Halwan 2", "actives": [active]}])
    for number in range(5):
        put_out(kit, "halwan-2", 5 + number, {28: 60 + number, 56: 80 + number, 84: 90 + number})


def test_final_control_is_that_of_the_last_look_of_the_mode_of_action(own: Kit) -> None:
    """At 28 days the pre-emergence product has 62 %, at its last look 92 %, which is what Larkin 4 has at 28 days."""
    early(own)
    result = found(own, "plantain", "larkin-4", "halwan-2")
    by_name = {one.name: one for one in result.groups}
    assert by_name["Halwan 2"].final.median == 92
    assert by_name["Larkin 4"].final.median == 92
    (verdict,) = result.verdicts
    assert verdict.sentence.startswith("final control: no difference can be told")
    assert not any("cut at" in caution for caution in result.cautions)


def test_a_cut_by_days_says_what_it_cuts_off(own: Kit) -> None:
    early(own)
    result = found(own, "plantain", "larkin-4", "halwan-2", until_days=42)
    by_name = {one.name: one for one in result.groups}
    assert by_name["Halwan 2"].final.median == 62
    (verdict,) = result.verdicts
    assert verdict.sentence.startswith("Larkin 4 controlled more within 42 days than Halwan 2, by about 30 points (")
    assert result.cautions[0] == (
        "Halwan 2: a cut at 42 days leaves 10 later looks at 5 sites out of the final control; its last look is about "
        "day 84"
    )
    assert bars(result)[2].title == "Final control (within 42 days)"


def test_no_days_to_a_control_are_told_of_a_pre_emergence_product(own: Kit) -> None:
    """What it held down before the first look nobody saw: no line, no days and no cost of a day are drawn from it."""
    early(own)
    result = found(own)
    halwan = next(one for one in result.groups if one.name == "Halwan 2")
    assert halwan.is_early
    assert [one.count for one in halwan.days_to] == [0, 0]
    assert halwan.cost_per_control_day is None
    assert row(halwan)[2:4] == ("-", "-")
    line = next(one for one in curve(result).series if one.name == "Halwan 2")
    assert line.dots[0].x == 28
    assert "pre-emergence: not told" in [bar.text for bar in bars(result)[0].bars]
    assert {one.what for one in result.verdicts if "Halwan 2" in (one.first, one.second)} == {"final control"}
    assert any(one.startswith("pre-emergence: Halwan 2; no days") for one in result.cautions)


YOUNG = ({28: 65}, {28: 65}, {14: 50}, {14: 51}, {7: 30})  # looks at five sites, three of them before the last look


def test_young_looks_are_no_final_control_and_leave_days_open(own: Kit) -> None:
    """Two of five sites are judged; at the other three nobody knows yet whether 80 % will be reached."""
    for number, looks in enumerate(YOUNG):
        put_out(own, "torvane-r", number, looks)
    result = found(own, "plantain", "torvane-r")
    (torvane,) = result.groups
    assert (torvane.final.count, torvane.final.median, len(torvane.not_judged)) == (2, Fraction(65), 3)
    to_80 = torvane.days_to[1]
    assert (to_80.never, sorted(to_80.open_at), to_80.count) == (2, [Fraction(7), Fraction(14), Fraction(14)], 5)
    assert to_80.median is None
    assert to_80.is_open
    # 50 % was reached at four; the fifth may reach it on day 8 or never: the median lies between 14 and 21.5 days
    to_50 = torvane.days_to[0]
    assert (to_50.never, to_50.open_at, to_50.is_open) == (0, (Fraction(7),), True)
    assert to_50.between == (Fraction(14), Fraction(28 * 50, 65))
    assert row(torvane)[2:5] == ("14-22 d", "?3/5", "65 %")
    assert result.cautions[0] == (
        "Torvane R: 3 of 5 sites are not judged yet, with no rating from day 21 on; no part of its final control"
    )
    assert "the median cannot be told yet of days to 80 % (open at 3 of 5 sites)" in result.cautions[1]
    drawn = [chart.bars[0] for chart in bars(result)[:3]]
    assert [(bar.value, bar.text) for bar in drawn[:2]] == [
        (None, "14-22 days, open at 1 of 5 sites"),
        (None, "not known yet: open at 3 of 5 sites"),
    ]
    assert (drawn[2].value, drawn[2].note) == (Fraction(65), "2 of 5 sites judged")
    assert curve(result).series[0].dots[-1].y == 65
    told = document(result)["groups"][0]
    assert (told["not_judged"], told["days_to_80"]["open"], told["days_to_80"]["not_reached"]) == (3, 3, 2)


def test_what_was_treated_again_is_said_to_be_missing_from_the_final_control(own: Kit) -> None:
    own.sealed(on=days_after(DAY, 20), site="site-0", ref="repeat")
    assert found(own).cautions[0] == (
        "Larkin 4: 1 of 5 sites is not judged, treated again before a look from day 21 on; no part of its final "
        "control, which may look too good: what is treated again may be what failed"
    )


def test_no_caution_is_left_out_on_paper(own: Kit) -> None:
    """What does not fit on the page of pictures goes on to the next."""
    result = found(own)
    many = replace(result, cautions=tuple(f"caution number {number} of many" for number in range(60)))
    reader = PdfReader(io.BytesIO(render_comparison(page_of(many, "Firm", date(2026, 10, 1)))))
    assert len(reader.pages) == 2
    text = " ".join(page.extract_text() for page in reader.pages)
    assert all(caution in text for caution in many.cautions)
    assert "read off straight lines between looks" in " ".join(text.split())


def test_few_sites_tell_nothing(compared: Kit) -> None:
    """One and five sites cannot show a difference, however far apart they are."""
    with compared.book.read() as work:
        result = compare(work, Wish("plantain", site="site-0"))
    assert sentences(result) == ["only Larkin 4 was rated; there is nothing to compare it with"]
    assert result.groups[0].final.interval is None


def test_sites_count_once(own: Kit) -> None:
    """A second rater, a second look in the window and a second treatment change no number of sites."""
    looked(own, "2026-000001", 7, 60, by="emil")
    looked(own, "2026-000001", 8, 60, by="emil")
    done = own.sealed(on=days_after(DAY, 40), site="site-0", ref="again")
    assert done.serial is not None
    looked(own, done.serial, 47, 44)
    result = found(own)
    larkin = result.groups[0]
    assert (len(larkin.sites), larkin.treatments, larkin.ratings) == (5, 6, 18)
    assert larkin.curve[0].sites == 5
    first = next(site for site in larkin.sites if site.site == "site-0")
    # Day 7: median of 40 and 60 by two raters, 50; day 8: 60; the other treatment's day 7: 44
    assert dict(first.looks)[7] == 50
    assert any("2 raters" in caution for caution in result.cautions)


def test_what_was_treated_again_speaks_no_more_of_the_first(own: Kit) -> None:
    own.sealed(on=days_after(DAY, 20), site="site-0", ref="repeat")
    result = found(own)
    first = next(site for site in result.groups[0].sites if site.site == "site-0")
    assert [window for window, _ in first.looks] == [7, 14]
    assert any(
        one == "1 rating left out: the same ground had been treated against it again by then" for one in result.cautions
    )


def test_areas_compare_up_to_the_day_that_all_share(own: Kit) -> None:
    """Torvane was looked at on day 21 only: the others' curves are cut there, on a straight line between two looks."""
    done = own.sealed(site="mill-9", product="torvane-r", rate="1 fl oz/1000 sq ft", lot="T1", ref="torvane")
    assert done.serial is not None
    looked(own, done.serial, 21, 70)
    result = found(own)
    areas = {one.name: one.control_days for one in result.groups}
    assert result.shared_day == 21
    assert areas["Torvane R"] == Fraction(70 * 21, 2)
    larkin = Fraction(42 * 7, 2) + Fraction((42 + 82) * 7, 2) + Fraction((82 + 87) * 7, 2)
    assert areas["Larkin 4"] == larkin
    assert "no difference can be told from so few sites" in sentences(result)[-1]


def test_seasons_methods_and_ages_are_said(own: Kit) -> None:
    done = own.sealed(
        on="2027-07-14", site="mill-9", zones=["side"], area="1000 sq ft", ref="next", product="torvane-r",
        rate="1 fl oz/1000 sq ft", lot="T1", method="spot",
    )  # fmt: skip
    assert done.serial is not None
    own.set("2027-08-30T18:00")
    order = Order(of=done.serial, marks=("plantain=70",), at="2027-08-20", by="ruth")
    rate(own.book, own.clock, order)
    told = " | ".join(found(own).cautions)
    assert "2 seasons together (2026 to 2027)" in told
    assert "different turf: Larkin 4 on kentucky bluegrass" in told
    assert "different methods: Larkin 4 by broadcast" in told
    assert "Torvane R mostly June to August" in told
    assert "final looks are not of one age: Larkin 4 28 days; Torvane R 37 days; Clove Mix 28 days" in told
    assert "first looked at after the usual first look: Torvane R at 1 of 1 site" in told


def test_more_than_six_groups_are_each_held_against_the_first(compared: Kit) -> None:
    larkin, clove = found(compared).groups
    many = [larkin, *[replace(clove, name=f"Clove {number}") for number in range(7)]]
    verdicts = _verdicts(many)
    assert len(verdicts) == 2 * 7
    assert {one.first for one in verdicts} == {"Larkin 4"}


def test_looks_out_of_season_are_left_out(own: Kit) -> None:
    """On the day itself nothing is to be seen, and after most of a year something else is."""
    looked(own, "2026-000001", 0, 100)
    result = found(own)
    first = next(site for site in result.groups[0].sites if site.site == "site-0")
    assert first.days_to[1] == 14
    assert any("1 rating left out: on the day of the treatment" in caution for caution in result.cautions)


def test_cautions(own: Kit) -> None:
    """What differs besides the product is said."""
    larkin = own.sealed(on="2026-07-01", site="site-9", zones=["front"], ref="summer", rate="0.5 fl oz/1000 sq ft")
    assert larkin.serial is not None
    own.set("2026-07-30T18:00")
    looked(own, larkin.serial, 62, 70)
    told = " | ".join(found(own).cautions)
    assert "not given their product by lot" in told
    assert "1 site had more than one of them" in told
    assert "Larkin 4 went out at unlike rates: the highest is 1.5 times the lowest" in told
    assert "fewer than 6 sites give no interval of 95 %: Larkin 4 (5), Clove Mix (5)" in told


def test_adjuvants_split_only_where_wanted(own: Kit) -> None:
    more = [{"product": "stickfast", "rate": "0.25 % v/v", "lot": "S1"}]
    done = own.sealed(site="mill-9", spray="4 gal", more=more, ref="with-sticker", lot="L77")
    assert done.serial is not None
    looked(own, done.serial, 14, 85)
    assert [len(one.sites) for one in found(own).groups] == [6, 5]
    split = found(own, with_adjuvants=True)
    assert {one.name for one in split.groups} == {"Larkin 4", "Larkin 4 + Stickfast", "Clove Mix"}
    lone = next(one for one in split.groups if "Stickfast" in one.name)
    assert lone.cost.median is None  # an adjuvant that was never bought has no price, and costs not nothing
    assert lone.unpriced == ("Stickfast: no price",)


def test_names_pick_groups(compared: Kit) -> None:
    assert [one.key for one in found(compared, "plantain", "clove-mix").groups] == [("clove-mix",)]
    assert [one.key for one in found(compared, "PLANTAIN", "Larkin 4").groups] == [("larkin-4",)]
    with pytest.raises(NotFoundError, match="no rating that fits"):
        found(compared, "plantain", "larkin-4+clove-mix")
    with pytest.raises(NotFoundError, match="nothing against 'dandelion' was rated"):
        found(compared, "dandelion")
    with pytest.raises(NotFoundError, match="no treatment of plantain that fits"):
        found(compared, "plantain", since=date(2027, 1, 1))
    with pytest.raises(NotFoundError, match="no site"):
        found(compared, "plantain", site="nowhere")
    with pytest.raises(NotFoundError):
        found(compared, "plantain", method="spot")
    assert len(found(compared, "plantain", turf="bluegrass").groups) == 2


def test_a_part_that_fits_two_targets_is_asked(own: Kit) -> None:
    done = own.sealed(site="mill-9", ref="two", targets=["plantain", "broadleaf plantain"])
    assert done.serial is not None
    looked(own, done.serial, 14, 85, target="broadleaf plantain")
    assert found(own, "plantain").target == "plantain"  # the whole name comes first
    with pytest.raises(UsageError, match="fits"):
        found(own, "plan")


def test_windows() -> None:
    assert [window_of(days) for days in (0, 1, 2, 5, 10, 11, 24, 25, 140, 141)] == [
        None, 1, 3, 7, 7, 14, 21, 28, 112, None,
    ]  # fmt: skip
    assert list(WINDOWS) == sorted(WINDOWS)


def test_the_faster_is_named_by_ranks_where_both_medians_are_never() -> None:
    """Four of nine sites against none of nine: no median is known, and still the right one is called faster."""
    some = Summary((*map(Fraction, (5, 6, 7, 8)), *[None] * 5), None, None, None, None, None)
    none = Summary((None,) * 9, None, None, None, None, None)
    assert _is_better(some, none, is_days=True)
    assert not _is_better(none, some, is_days=True)
    assert sentence("days to 80 %", ("A", "B"), (9, 9), None, Test(Fraction(1, 50), Fraction(1, 1000), "exact"), 1) == (
        "A was faster to 80 % than B (n=9 and 9; p=0.02)"
    )
    assert sentence("final control", ("A", "B"), (2, 0), None, None, 1) == (
        "final control: nothing to compare, B has no site with it"
    )


def test_pictures_page_and_json(compared: Kit) -> None:
    result = found(compared)
    line = curve(result)
    assert [one.note for one in line.series] == ["5 sites, 1 rater"] * 2
    assert line.series[0].dots[0].x == 0
    charts = bars(result)
    assert [bar.text for bar in charts[1].bars] == ["14 days", "not reached at 5 of 5 sites"]
    assert [bar.text for bar in charts[3].bars] == ["$0.38", "no price"]
    page = page_of(result, "Firm <b>&", date(2026, 10, 1))
    data = render_comparison(page)
    assert data == render_comparison(page)
    reader = PdfReader(io.BytesIO(data))
    assert len(reader.pages) == 1
    text = reader.pages[0].extract_text()
    for part in ("Products on plantain", "Larkin 4", "5 sites", "Firm <b>&", "Read with care", "92 %"):
        assert part in text
    told = json.loads(json.dumps(document(result)))
    assert told["groups"][0]["days_to_80"]["median"] == "13.65"
    assert told["groups"][1]["days_to_80"]["not_reached"] == 5
    assert told["verdicts"][1]["told"] is True


def test_rates_of_the_book_are_those_sealed(compared: Kit) -> None:
    """The rate that costs is the one recorded, not one of the label."""
    larkin = found(compared).groups[0]
    rates = {rate for site in larkin.sites for course in site.courses for _, rate in course.rates}
    assert rates == {Fraction(RATES["larkin-4"].split()[0]) / 1000}
