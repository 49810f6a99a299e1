"""Formulas of calibration: what a sprayer or a spreader puts out per area, from what was caught or used.

Every name says its unit, every value is an exact fraction. 43,560 sq ft make an acre, 128 fl oz a gallon, 5,280 ft a
mile; all constants of the trade (5940, 495, 340) follow from these.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, timedelta
from fractions import Fraction
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Sequence

    from records.domain.place import Equipment
    from records.domain.quantities import Rate

ACRE = Fraction(43_560)  # sq ft
GALLON = Fraction(128)  # fl oz
MILE = Fraction(5_280)  # ft
HOUR = Fraction(3_600)  # s
OUNCE_ACRE = ACRE / GALLON  # sq ft on which a fluid ounce is a gallon per acre: 340.3125; the trade takes 340
FEET_CONSTANT = ACRE * 60 / MILE  # 495
INCHES_CONSTANT = FEET_CONSTANT * 12  # 5940
OFF_MEAN = Fraction(1, 10)  # a nozzle farther off the mean than this is cleaned or replaced (common practice)
STALE_DAYS = 365  # common practice: once a season
SEASON_START = (3, 1)  # month and day from which a calibration of an earlier year is that of an earlier season


def course_length(swath_ft: Fraction) -> Fraction:
    """Return the feet to walk or drive so that fluid ounces caught are gallons per acre (1/128 acre)."""
    return OUNCE_ACRE / swath_ft


def per_area(amount: Fraction, area_sq_ft: Fraction) -> Fraction:
    """Return what went on a square foot, in the unit of the amount: refill, coverage, or a catch over a strip."""
    return amount / area_sq_ft


def ounces_per_sq_ft(caught_fl_oz: Fraction, swath_ft: Fraction, course_ft: Fraction | None = None) -> Fraction:
    """Return fl oz per sq ft by the 1/128-acre method.

    Args:
        caught_fl_oz: what all nozzles over one swath put out in the time that the course takes.
        swath_ft: width of the swath: spacing of the nozzles, of the rows, or the sprayed width.
        course_ft: length of the course; None: just that of 1/128 acre.
    """
    return caught_fl_oz / (OUNCE_ACRE if course_ft is None else swath_ft * course_ft)


def timed_per_sq_ft(caught: Fraction, caught_s: Fraction, cover_s: Fraction, area_sq_ft: Fraction) -> Fraction:
    """Return what goes on a square foot: caught in some seconds, as much as the seconds to cover the area give."""
    return caught * cover_s / caught_s / area_sq_ft


def gpm(caught_fl_oz: Fraction, seconds: Fraction) -> Fraction:
    """Return gallons per minute from a catch."""
    return caught_fl_oz / GALLON * 60 / seconds


def gpa_of_nozzle(flow_gpm: Fraction, speed_mph: Fraction, spacing_in: Fraction) -> Fraction:
    """Return gallons per acre: 5940 x GPM / (mph x inches)."""
    return INCHES_CONSTANT * flow_gpm / (speed_mph * spacing_in)


def gpa_of_swath(flow_gpm: Fraction, speed_mph: Fraction, swath_ft: Fraction) -> Fraction:
    """Return gallons per acre of a boomless sprayer: 495 x GPM / (mph x feet)."""
    return FEET_CONSTANT * flow_gpm / (speed_mph * swath_ft)


def gpm_for(gpa: Fraction, speed_mph: Fraction, spacing_in: Fraction) -> Fraction:
    """Return the flow that a nozzle needs for an output at a speed."""
    return gpa * speed_mph * spacing_in / INCHES_CONSTANT


def mph_for(flow_gpm: Fraction, gpa: Fraction, spacing_in: Fraction) -> Fraction:
    """Return the speed that gives an output at a flow."""
    return INCHES_CONSTANT * flow_gpm / (gpa * spacing_in)


def mph(distance_ft: Fraction, seconds: Fraction) -> Fraction:
    """Return a speed from a distance and the time it took."""
    return distance_ft / seconds * HOUR / MILE


def seconds_for(distance_ft: Fraction, speed_mph: Fraction) -> Fraction:
    """Return how long a distance takes at a speed."""
    return distance_ft * HOUR / (speed_mph * MILE)


def mean(values: Sequence[Fraction]) -> Fraction:
    """Return the mean of one value or more."""
    return sum(values, Fraction(0)) / len(values)


@dataclass(frozen=True, slots=True)
class OffMean:
    """A nozzle that puts out more or less than the others."""

    number: int  # counted from 1, in the order of the catches
    share: Fraction  # of the mean, above or below zero: -0.12 is 12 % less


def off_mean(caught: Sequence[Fraction]) -> list[OffMean]:
    """Return the nozzles more than 10 % off the mean."""
    if len(caught) < 2:
        return []
    usual = mean(caught)
    shares = ((number, one / usual - 1) for number, one in enumerate(caught, 1))
    return [OffMean(number, share) for number, share in shares if abs(share) > OFF_MEAN]


@dataclass(frozen=True, slots=True)
class Output:
    """What a piece of equipment puts out on a day, as far as it is known: the newest calibration not later than it."""

    rate: Rate  # spray per area, of a spreader weight per area
    day: date | None  # of the calibration; None where nobody wrote it down
    serial: str  # of the sealed calibration; "" = from the loaded document
    by: str  # name; "" where nobody is named
    nozzle: str
    pressure: str
    is_stale: bool
    words: str  # "calibrated 2026-04-13 by Mo Reyes, E-000012"


def age_words(done: date | None, day: date) -> str:
    """Return why a calibration no longer counts on a day; "" while it does.

    Common practice: it is done anew each season. One of an earlier year counts until the first of March, and none
    longer than 365 days.
    """
    if done is None:
        return "of an unknown day"
    if day - done > timedelta(days=STALE_DAYS):
        return f"{(day - done).days} days old"
    if done.year < day.year and (day.month, day.day) >= SEASON_START:
        return "of the season before"
    return ""


def of_document(equipment: Equipment, day: date) -> Output | None:
    """Return the output that the loaded document of some equipment tells for a day; None where it tells none."""
    if equipment.output is None:
        return None
    done = date.fromisoformat(equipment.calibrated_on) if equipment.calibrated_on else None
    if done is not None and done > day:
        return None
    why = age_words(done, day)
    words = f"calibrated {done}" if done else "calibrated"
    return Output(equipment.output, done, "", "", equipment.nozzle, "", bool(why), f"{words} ({why})" if why else words)


def done_without_output(equipment: Equipment, day: date) -> date | None:
    """Return the day of a calibration of which only the day was loaded, as that of a spreader; None where none was."""
    if equipment.output is not None or not equipment.calibrated_on:
        return None
    done = date.fromisoformat(equipment.calibrated_on)
    return done if done <= day else None


def change_words(before: Fraction, now: Fraction) -> str:
    """Return how far an output is from an earlier one, in words."""
    share = now / before - 1
    if not share:
        return "the same"
    percent = abs(share) * 100
    told = f"{float_free(percent)} %"
    return f"{told} {'more' if share > 0 else 'less'}"


def float_free(percent: Fraction) -> str:
    """Return per cent with one decimal, rounded half-even."""
    tenths = round(percent * 10)
    return f"{tenths // 10}.{tenths % 10}".removesuffix(".0") if tenths else "less than 0.1"
