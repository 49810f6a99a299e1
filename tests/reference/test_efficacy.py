"""Published values of control, counts and days after treatment, each with its source in efficacy.json."""

from __future__ import annotations

import json
import re
from datetime import date, timedelta
from fractions import Fraction
from pathlib import Path
from typing import Any

import pytest

from records.domain.efficacy import Point, abbott, class_of, control_days, days_after, henderson_tilton
from records.domain.follow_up import parse_percent
from records.domain.numerals import QuantityError
from records.domain.nutrients import Analysis, parse_grade
from records.domain.quantities import Form, parse_area, parse_output, parse_rate, parse_speed
from records.domain.weather import POINTS, SECTOR, parse_direction

ROWS = {row["id"]: row for row in json.loads(Path(__file__).with_name("efficacy.json").read_text("utf-8"))}


def given(row: dict[str, Any], name: str, part: str = "inputs") -> str:
    """Return a value as the source prints it."""
    return str(row[part][name]["value"])


def of(row: dict[str, Any], name: str, part: str = "inputs") -> Fraction:
    """Return a number of the source."""
    return Fraction(given(row, name, part))


@pytest.mark.parametrize("name", [key for key in ROWS if key.startswith("cwss-")])
def test_the_words_of_a_rating(name: str) -> None:
    """Canadian Weed Science Society, 2018: classes and suggested steps of the 0-100 scale."""
    row = ROWS[name]
    word, step = class_of(of(row, "rating"))
    assert (word, str(step)) == (given(row, "class", "expected"), given(row, "rating_step", "expected"))


def test_what_lies_between_two_classes() -> None:
    """The printed classes leave gaps: 90.5 and 79.5 belong to the lower one."""
    assert class_of(Fraction("90.5"))[0] == "good to very good"
    assert class_of(Fraction("79.5"))[0] == "suppression"


def test_abbott() -> None:
    """Abbott 1925: what lives on the check is the base; the naive difference is half of the truth."""
    row = ROWS["abbott-1925-20-natural"]
    assert abbott(100 - of(row, "check_dead"), of(row, "treated_living")) == of(row, "abbott", "expected") == 90
    row = ROWS["abbott-1925-50-98"]
    check, treated = 100 - of(row, "check_dead"), 100 - of(row, "treated_dead")
    assert abbott(check, treated) == of(row, "abbott", "expected") == 96
    assert of(row, "treated_dead") - of(row, "check_dead") == of(row, "naive_difference", "expected") == 48


def test_henderson_tilton() -> None:
    """Counts before and after on treated and untreated ground."""
    for name, result, scale in (("henderson-tilton-form", "T", 100), ("psu-henderson-contrast", "control", 1)):
        row = ROWS[name]
        parts = [of(row, part) for part in ("treated_before", "treated_after", "control_before", "control_after")]
        assert henderson_tilton(*parts) == of(row, result, "expected") * scale


@pytest.mark.parametrize("name", [key for key in ROWS if key.startswith("iastate-2000-dat")])
def test_days_after_treatment(name: str) -> None:
    """Iowa State turf trial, 2000: the day of the treatment counts as 0."""
    row = ROWS[name]
    days = days_after(date.fromisoformat(given(row, "treated")), date.fromisoformat(given(row, "rated")))
    assert days == int(given(row, "dat", "expected"))


@pytest.mark.parametrize("name", [key for key in ROWS if key.startswith("va-dat-")])
def test_days_back_to_a_date(name: str) -> None:
    """Virginia trial, 2014."""
    row = ROWS[name]
    treated, days = date.fromisoformat(given(row, "treated")), int(given(row, "dat"))
    rated = treated + timedelta(days)
    assert (rated.isoformat(), days_after(treated, rated)) == (given(row, "date", "expected"), days)


def test_a_wrong_number_of_weeks_on_a_page() -> None:
    """Penn State calls 2 July three weeks after 16 June: it is 16 days, and so the tool says."""
    row = ROWS["psu-dat-dates"]
    days = days_after(date.fromisoformat(given(row, "first")), date.fromisoformat(given(row, "second")))
    assert days == int(given(row, "days", "expected")) != 21


def test_area_under_a_curve() -> None:
    """AUDPC of six weekly ratings (from memory, recomputed): from the first rating on, without the way up to it."""
    row = ROWS["audpc-six"]
    days = [int(one) for one in given(row, "time").split(",")]
    points = [Point(day, Fraction(one)) for day, one in zip(days, given(row, "severity").split(","), strict=True)]
    way_up = Fraction(points[0].days) * points[0].control / 2
    assert control_days(points, 42) - way_up == of(row, "audpc", "expected") == 2030


@pytest.mark.parametrize("name", [key for key in ROWS if key.startswith("iastate-dat-")])
def test_days_between_applications(name: str) -> None:
    """Iowa State trials, 1998: 48 days is what the report calls six to eight weeks."""
    row = ROWS[name]
    first, later = date.fromisoformat(given(row, "first")), date.fromisoformat(given(row, "later"))
    assert days_after(first, later) == int(given(row, "days", "expected"))


@pytest.mark.parametrize("name", [key for key in ROWS if key.startswith("iastate-2000-pt-")])
def test_rates_of_a_trial(name: str) -> None:
    """Iowa State, 2000: pints for an acre as fl oz, and for 1,000 sq ft."""
    row = ROWS[name]
    rate = parse_rate(f"{given(row, 'rate')} pt/acre", Form.LIQUID)
    assert rate.amount(parse_area("1 acre")).to("fl oz") == of(row, "rate_a", "expected")
    small = rate.amount(parse_area("1000 sq ft")).to("fl oz")
    assert abs(small - of(row, "rate_1000", "expected")) <= Fraction("5e-5")


def test_wind_of_a_trial() -> None:
    """Iowa State, 2000: 10 to 15 mph from the south-west, in knots and degrees."""
    row = ROWS["iastate-2000-wind"]
    for mph, name in zip(given(row, "wind").split("-"), ("low", "high"), strict=True):
        assert abs(parse_speed(f"{mph} mph").to("kn") - of(row, name, "expected")) <= Fraction("0.005")
    point = parse_direction(given(row, "direction")).point
    assert POINTS.index(point) * SECTOR == of(row, "bearing", "expected")


@pytest.mark.parametrize(
    ("name", "volume", "plot", "within"),
    [
        ("iastate-plot-water", "3 gal/1000 sq ft", "25 sq ft", "1"),
        ("psu-boom-40gpa", "40 gal/acre", "18 sq ft", "0.05"),
    ],
)
def test_water_for_a_plot(name: str, volume: str, plot: str, within: str) -> None:
    """Iowa State, 1999 (another report of that year prints 287 mL, 1.1 % high), and Penn State, 2014."""
    water = parse_output(volume).amount(parse_area(plot)).to("mL")
    assert abs(water - of(ROWS[name], "water", "expected")) <= Fraction(within)


def test_spray_volume_of_a_trial() -> None:
    """Iowa State, 1999: 3 gal for 1,000 sq ft are 130.68 gal for an acre."""
    volume = parse_output("3 gal/1000 sq ft").amount(parse_area("1 acre")).to("gal")
    assert volume == of(ROWS["iastate-3gal-gpa"], "rate", "expected")


def test_meal_for_a_plot_and_its_nitrogen() -> None:
    """Iowa State, 1999: 40 lb of corn gluten meal for 1,000 sq ft hold 4 lb of nitrogen."""
    rate = parse_rate("40 lb/1000 sq ft", Form.GRANULE)
    plot = rate.amount(parse_area(f"{given(ROWS['iastate-cgm-plot'], 'plot')} sq ft"))
    assert plot.to("lb") == of(ROWS["iastate-cgm-plot"], "material", "expected")
    weights = Analysis("10-0-0", *parse_grade("10-0-0")).weights(rate.amount(parse_area("1000 sq ft")))
    assert weights is not None
    assert weights.of("N") == of(ROWS["iastate-cgm-n"], "n", "expected")


def test_a_dose_series_in_metric() -> None:
    """Christians, 1993: g/m2 as lb for 1,000 sq ft; six rates against five results printed there."""
    row = ROWS["christians-1993-rates"]
    for metric, pounds in zip(
        given(row, "rates").split(", "), given(row, "rates", "expected").split(", "), strict=True
    ):
        rate = parse_rate(f"{metric} g/sq m", Form.GRANULE)
        assert abs(rate.amount(parse_area("1000 sq ft")).to("lb") - Fraction(pounds)) <= Fraction(1, 2)


def test_a_quality_scale_is_no_per_cent() -> None:
    """Iowa State, 1999: turf quality from 9 (best) to 1; a part of 9 is refused."""
    row = ROWS["iastate-9to1-scale"]
    best, acceptable = given(row, "best"), given(row, "acceptable")
    assert given(row, "is_percent", "expected") == "false"
    with pytest.raises(QuantityError, match="another scale"):
        parse_percent(f"{acceptable}/{best}", "control")


# What the tool has no use for, and why.
UNUSED = {
    "grade21-": "the tool keeps per cent; the 21 grades are steps of 5 %, and nobody types grades",
    "lsd-": "means of one trial's analysis of variance; the tool compares medians over sites, with its own test",
}


def test_every_row_is_used_or_said_to_be_of_no_use() -> None:
    text = Path(__file__).read_text("utf-8")
    patterns = re.findall(r"startswith\(\"([a-z0-9-]+)\"\)", text)
    for name in ROWS:
        known = f'"{name}"' in text or name.startswith((*patterns, *UNUSED))
        assert known, name
