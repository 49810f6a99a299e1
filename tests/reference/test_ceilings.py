"""Published ceilings, each with its source in ceilings.json: the sums and outcomes that the tool has to reach.

Most rows repeat a handbook's or a law's figure. Those of states are facts of packs, and have to stand there with a
status no better than how they were seen.
"""

from __future__ import annotations

import json
from datetime import date
from fractions import Fraction
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING, Any

import pytest

from records.domain.ceilings import Load, Sum, windows
from records.domain.product import Window
from records.domain.quantities import Form, exceeds, parse_rate
from records.domain.strength import active_per_area
from records.rules.pack import Status
from records.rules.packs import newest

if TYPE_CHECKING:
    from records.rules.fertilizer import Fertilizer

Row = dict[str, Any]
ROWS: dict[str, Row] = {
    row["id"]: row
    for row in json.loads(Path(__file__).with_name("ceilings.json").read_text(encoding="utf-8"))["examples"]
}
LAWN = Fraction(5000)


def given(key: str, name: str) -> str:
    """Return an input of a row."""
    return str(ROWS[key]["inputs"][name]["value"])


def law(state: str) -> Fertilizer:
    """Return what a state's pack says about fertilizer."""
    found = newest(f"us-{state}-fertilizer").fertilizer
    assert found is not None
    return found


def limit(state: str, nutrient: str, per: str, most: str, **parts: object) -> Any:  # noqa: ANN401 - a fact of a pack
    """Return the one limit of a pack that says so."""
    base = parse_rate(most, Form.DRY).base
    found = [
        one
        for one in law(state).limits
        if (one.nutrient, one.per, one.most.base) == (nutrient, per, base)
        and all(getattr(one, name) == value for name, value in parts.items())
    ]
    assert len(found) == 1, found
    return found[0]


def put(*rates: str) -> Sum:
    """Return applications that went on all of a lawn."""
    loads = []
    for number, rate in enumerate(rates):
        value = parse_rate(rate, Form.DRY).base * LAWN
        loads.append(Load(f"2026-{number:06d}", date(2026, 5, 1), value, partial(Fraction, value), LAWN, LAWN))
    return Sum(tuple(loads), LAWN)


def test_a_year_that_is_a_season() -> None:
    """0.65 in November and 0.25 in May are 0.90 in 12 months, and 0.65 and 0.25 in two calendar years."""
    key = "ceil-ats-prodiamine-nov-may"
    first, second = given(key, "first"), given(key, "second")
    total = put(f"{first} lb/acre", f"{second} lb/acre").stacked * 43560
    assert total == Fraction(ROWS[key]["expected"]["total"]["value"])
    november, may = date(2025, 11, 20), date(2026, 5, 5)
    ((start, end),) = windows(Window("calendar year"), may, [november])
    assert not start <= november <= end
    assert any(a <= november <= b for a, b in windows(Window("months", 12), may, [november]))


def test_virginia_cool_season_months_do_not_reach_the_year() -> None:
    """0.9 three times and 0.5 come to 3.2, below 3.5: neither limit follows from the other."""
    key = "ceil-dcr-coolseason-year"
    months = [f"{given(key, name)} lb/1000 sq ft" for name in ("september", "october", "early_november", "may")]
    year = limit("va", "N", "year", f"{given(key, 'year_max')} lb/1000 sq ft", turf="cool-season")
    assert year.source.status is Status.MEMORY
    total = put(*months)
    assert total.stacked * 1000 == Fraction("3.2")
    assert (year.most.base - total.stacked) * 1000 == Fraction("0.3")
    assert not total.is_certainly_over(year.most.base)


def test_virginia_warm_season_months_pass_the_year() -> None:
    """Four of 1.0 and one of 0.9 come to 4.9, over 4: each is lawful, the fifth is not."""
    key = "ceil-dcr-warmseason-year"
    names = ("april", "may", "june", "july_or_august", "september_overseeded")
    rates = [f"{given(key, name)} lb/1000 sq ft" for name in names]
    year = limit("va", "N", "year", f"{given(key, 'year_max')} lb/1000 sq ft", turf="warm-season")
    assert not put(*rates[:4]).is_certainly_over(year.most.base)
    assert put(*rates).is_certainly_over(year.most.base)
    assert put(*rates).stacked * 1000 == Fraction("4.9")


def test_a_ceiling_of_one_formulation_and_label() -> None:
    """Atrazine, granular: 2.0 lb a.i. an acre at one time; 2.2 was the older label's."""
    key = "ceil-epa-atrazine-granular"
    new, old = (Fraction(given(key, name)) for name in ("new_max", "old_max"))
    assert exceeds(old, old, new)
    assert not exceeds(new, new, new)
    assert (old - new) / old * 100 == pytest.approx(9.090909)


def test_florida_where_the_two_limits_meet() -> None:
    """2 lb N with 65 % slow-release hold exactly 0.7 lb soluble; with 30 % the soluble limit caps the total at 1 lb."""
    key = "ceil-fl-n-2lb-65crn"
    most, slow = Fraction(given(key, "n_max")), Fraction(given(key, "slow_release_min")) / 100
    soluble = limit("fl", "soluble N", "application", f"{given(key, 'soluble_max')} lb/1000 sq ft")
    assert soluble.source.status is Status.SECONDARY
    assert limit("fl", "N", "application", f"{given(key, 'n_max')} lb/1000 sq ft").source.status is Status.SECONDARY
    assert most * (1 - slow) == Fraction(given(key, "soluble_max"))
    assert Fraction("0.7") / Fraction("0.7") == 1
    below = limit("fl", "N", "application", "1 lb/1000 sq ft")
    assert (below.slow_below, below.source.status) == (slow, Status.MEMORY)


def test_maryland_enhanced_efficiency() -> None:
    """2.5 lb a year; the share of the yearly rate and the release by month are asked about at one application."""
    key = "ceil-md-eef-year"
    found = limit("md", "N", "year", f"{given(key, 'year_max')} lb/1000 sq ft", products=("enhanced",))
    assert found.source.status is Status.VERIFIED
    once = limit("md", "N", "application", f"{given(key, 'month_release_max')} lb/1000 sq ft", products=("enhanced",))
    assert once.source.status is Status.VERIFIED
    assert f"{given(key, 'share_max')} %" in once.ask
    assert f"{given(key, 'month_release_max')} lb/1000 sq ft of it is released a month" in once.ask


@pytest.mark.parametrize(
    ("who", "day", "allowed"),
    [
        ("homeowner", "2026-11-20", False),  # "homeowner_nov20"
        ("professional", "2026-11-20", True),  # "professional_nov20"
        ("professional", "2026-12-02", False),  # "professional_dec2"
        ("professional", "2026-12-01", True),
        ("professional", "2026-03-01", True),
        ("professional", "2024-02-29", False),
        ("homeowner", "2026-11-15", True),
    ],
)
def test_new_jersey_days(who: str, day: str, *, allowed: bool) -> None:
    """N.J.S.A. 58:10A-62: before March 1 and after the closing day; the days themselves are allowed."""
    assert "ceil-nj-blackout-dates" in ROWS
    (rule,) = [one for one in law("nj").blackout if one.who == who]
    assert rule.source.status is Status.VERIFIED
    assert rule.season.holds(date.fromisoformat(day)) is not allowed


def test_new_jersey_slow_release() -> None:
    """0.9 lb with 20 % slow-release, told of consumers' fertilizer: it asks of a firm, never stops."""
    key = "ceil-nj-slow-release"
    found = limit("nj", "N", "application", f"{given(key, 'n_max_per_application')} lb/1000 sq ft")
    assert found.slow_least == Fraction(given(key, "slow_release_min")) / 100
    assert not found.source.status.binds
    assert Fraction("0.9") * found.slow_least == Fraction("0.18")
    assert found.most.base * 43560 == Fraction("39.204")


def test_two_passes_share_the_maximum() -> None:
    """Rutgers: 0.45 lb each of two crossing passes."""
    key = "ceil-rutgers-nj-09-halfpass"
    each = Fraction(given(key, "n_max_per_application")) / int(given(key, "passes"))
    assert each == Fraction(ROWS[key]["expected"]["n_per_pass"]["value"])
    whole = limit("nj", "N", "application", "0.9 lb/1000 sq ft").most.base
    assert not put(*[f"{float(each)} lb/1000 sq ft"] * 2).is_certainly_over(whole)


def test_new_york_one_pound_is_guidance() -> None:
    """1 lb N at one time: guidance, which is noted; the law of New York sets no rate of nitrogen."""
    key = "ceil-ny-1lb-per-application"
    found = limit("ny", "N", "application", f"{given(key, 'n_max_per_application')} lb/1000 sq ft")
    assert found.advice
    assert Fraction(1) / Fraction("0.46") == pytest.approx(2.173913)


def test_full_applications_are_counted_down() -> None:
    """Bensulide granule: 4.6 a year hold two full ones of 1.8, and 1.0 is left."""
    key = "ceil-pnw-bensulide-year"
    rate, year = (f"{given(key, name)} lb/1000 sq ft" for name in ("rate", "year_max"))
    top = parse_rate(year, Form.DRY).base
    assert not put(rate, rate).is_certainly_over(top)
    assert put(rate, rate, rate).is_certainly_over(top)
    assert (top - put(rate, rate).stacked) * 1000 == 1
    assert top * 43560 == Fraction("200.376")


def test_three_limits_at_once() -> None:
    """15 fl oz twice is exactly 30; the actives of two such applications (PNW, orchardgrass for seed)."""
    key = "ceil-pnw-bromoxynil-pyrasulfotole"
    rate = parse_rate(f"{given(key, 'rate_max')} fl oz/acre", Form.LIQUID)
    assert rate.value * int(given(key, "applications")) == Fraction(given(key, "year_max"))
    per_base = Fraction("1.75") / 128  # lb/gal of the one active, which gives the row's 0.41 lb
    assert 2 * active_per_area(rate, per_base) * 43560 == pytest.approx(0.41, abs=0.0005)


def test_maryland_applications_at_the_maximum() -> None:
    """1.8 lb a year at 0.9 lb each are two applications."""
    key = "ceil-umd-n-09-18"
    once = limit("md", "N", "application", f"{given(key, 'n_max_per_application')} lb/1000 sq ft")
    whole = Fraction(given(key, "n_per_year")) / (once.most.base * 1000)
    assert whole == int(ROWS[key]["expected"]["applications_at_max"]["value"])


def test_every_row_is_used() -> None:
    """No row of the file goes unseen."""
    source = Path(__file__).read_text(encoding="utf-8")
    assert [key for key in ROWS if f'"{key}"' not in source] == []
