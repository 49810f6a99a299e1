"""Did it work: per cent control from counts, days after treatment, and the words that go with a rating.

A rating of control goes from 0 (no effect) to 100 (all dead), judged by eye against ground that was not treated; injury
of the turf is rated apart, on the same scale. Counts before and after give control too, corrected by an untreated
check where there is one, since weeds come and go by themselves.

Sources: W. S. Abbott 1925, "A Method of Computing the Effectiveness of an Insecticide", Journal of Economic Entomology
18, 265-267; C. F. Henderson and E. W. Tilton 1955, "Tests with Acaricides against the Brown Wheat Mite", Journal of
Economic Entomology 48, 157-161.
"""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Sequence
    from datetime import date

HUNDRED = Fraction(100)

# Over which rating a class begins, best first, with the step in which it is rated. The printed table has whole numbers
# (91-100, 80-90, 60-79, under 60); what lies between two of them belongs to the lower one.
# Source: Canadian Weed Science Society, rating scale for herbicide efficacy, 2018, table 1,
# http://weedscience.ca/cwss-visual-ratings-scale/
CLASSES = (
    (91, "very good to excellent", 2),
    (80, "good to very good", 5),
    (60, "suppression", 5),
    (0, "poor", 10),
)


@dataclass(frozen=True, slots=True)
class Point:
    """Control so many days after the treatment."""

    days: int
    control: Fraction  # per cent


def class_of(rating: Fraction) -> tuple[str, int]:
    """Return the word for a rating, and the step in which it is rated, in per cent.

    Args:
        rating: control in per cent, 0 to 100.
    """
    return next((word, step) for least, word, step in CLASSES if rating >= least)


def days_after(treated: date, rated: date) -> int:
    """Return the days after treatment; the day of the treatment is 0."""
    return (rated - treated).days


def abbott(check: Fraction, treated: Fraction) -> Fraction:
    """Return control in per cent by Abbott's formula, (X - Y) / X x 100.

    Args:
        check: what lives on untreated ground, X; a count or per cent above zero.
        treated: what lives on treated ground at the same time, Y, in the same unit.

    Raises:
        ValueError: nothing lives on the untreated ground, so nothing can be told.
    """
    if check <= 0:
        msg = "nothing lives on the untreated check any more, so control cannot be told from it"
        raise ValueError(msg)
    return (check - treated) / check * HUNDRED


def henderson_tilton(before: Fraction, after: Fraction, check_before: Fraction, check_after: Fraction) -> Fraction:
    """Return control in per cent by the formula of Henderson and Tilton, (1 - Ta/Tb x Cb/Ca) x 100.

    Args:
        before: count on the treated ground before the treatment, Tb.
        after: count on it after the treatment, Ta.
        check_before: count on the untreated check before, Cb.
        check_after: count on the check after, Ca.

    Raises:
        ValueError: nothing was there before, or nothing lives on the check after.
    """
    if before <= 0:
        msg = "nothing was counted before the treatment; no control can be told from it"
        raise ValueError(msg)
    if check_before <= 0:
        msg = "nothing was counted on the untreated check before, so it cannot tell what died by itself"
        raise ValueError(msg)
    if check_after <= 0:
        msg = "nothing lives on the untreated check any more, so control cannot be told from it"
        raise ValueError(msg)
    return (1 - after / before * check_before / check_after) * HUNDRED


def plain_control(before: Fraction, after: Fraction) -> Fraction:
    """Return control in per cent from counts without a check: what vanished by itself is counted as killed.

    Raises:
        ValueError: nothing was there before.
    """
    if before <= 0:
        msg = "nothing was counted before the treatment; no control can be told from it"
        raise ValueError(msg)
    return (before - after) / before * HUNDRED


def days_to(points: Sequence[Point], control: Fraction) -> Fraction | None:
    """Return after how many days a control was reached first, on straight lines between ratings; None: it never was.

    The line begins with no control on the day of the treatment.

    Args:
        points: ratings by day, oldest first.
        control: wanted, in per cent.
    """
    last = Point(0, Fraction(0))
    for point in points:
        if point.control >= control:
            rise = point.control - last.control
            if not rise or point.days == last.days:
                return Fraction(point.days)
            return last.days + (control - last.control) / rise * (point.days - last.days)
        last = point
    return None


def control_days(points: Sequence[Point], until: int) -> Fraction:
    """Return the area under the curve of control in per cent-days, by trapezoids, from the treatment to a day.

    After the last rating nothing is known, so nothing is added.

    Source of the rule: area under the disease progress curve, J. W. Shaner and R. E. Finney 1977, Phytopathology 67,
    1051-1056 (from memory), turned to control.
    """
    total, last = Fraction(0), Point(0, Fraction(0))
    for point in points:
        if point.days > until:
            break
        total += (last.control + point.control) / 2 * (point.days - last.days)
        last = point
    return total
