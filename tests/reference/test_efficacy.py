"""Published values of control, counts and days after treatment, each with its source in efficacy.json."""

from __future__ import annotations

import json
from datetime import date, timedelta
from fractions import Fraction
from pathlib import Path
from typing import Any

import pytest

from records.domain.efficacy import Point, abbott, class_of, control_days, days_after, henderson_tilton

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
