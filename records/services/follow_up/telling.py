"""Ratings in words and as JSON."""

from __future__ import annotations

from fractions import Fraction
from typing import TYPE_CHECKING

from records.domain.efficacy import class_of
from records.domain.follow_up import BY_EYE
from records.domain.quantities import decimal_text

if TYPE_CHECKING:
    from records.domain.follow_up import Counts, Rating
    from records.services.follow_up.ratings import Rated
    from records.services.ports import Json


def percent(value: Fraction | None) -> str:
    """Return a per cent for a screen, to whole numbers; "" where it is not known."""
    return "" if value is None else f"{decimal_text(value, 0)} %"


def control_percent(value: Fraction) -> str:
    """Return control for a screen, to whole numbers; never rounded up into a better class: 79.6 is 79 %."""
    shown = Fraction(decimal_text(value, 0))
    if value >= 0 and class_of(shown) != class_of(value):
        shown -= 1
    return percent(shown)


def control_words(rating: Rating) -> str:
    """Return control with its formula, where it was not rated by eye."""
    if rating.control is None:
        return "not rated"
    return control_percent(rating.control) + (f" ({rating.way})" if rating.way not in {"", BY_EYE} else "")


def counts_words(counts: Counts | None) -> str:
    """Return what was counted; "" where nothing was."""
    if counts is None:
        return ""

    def both(before: Fraction | None, after: Fraction) -> str:
        was = "" if before is None else f"{decimal_text(before, 2)} before, "
        return f"{was}{decimal_text(after, 2)} after"

    check = "" if counts.check_after is None else f"; untreated {both(counts.check_before, counts.check_after)}"
    return both(counts.before, counts.after) + check


def class_words(rating: Rating) -> str:
    """Return the word for a control on the Canadian scale; "" below zero or where there is none."""
    return "" if rating.control is None or rating.control < 0 else class_of(rating.control)[0]


def set_aside(one: Rated) -> str:
    """Return why a rating is left out of what is worked out; "" where it is not."""
    rating = one.rating
    if one.treated is None and one.is_stray:
        return f"{rating.record} has no treatment {rating.treatment + 1} any more: counted nowhere"
    if one.is_stray:
        return f"{rating.record} does not name it any more: counted nowhere"
    return "too late to tell what the treatment did: in no season" if one.is_late else ""


def share_text(value: Fraction | None) -> str | None:
    """Return a rating or a count as exact text; None where there is none."""
    return None if value is None else decimal_text(value, 6)


def counts_document(counts: Counts | None) -> Json | None:
    """Return counts as JSON, as they are sealed and told."""
    if counts is None:
        return None
    return {
        "before": share_text(counts.before),
        "after": share_text(counts.after),
        "check_before": share_text(counts.check_before),
        "check_after": share_text(counts.check_after),
    }


def rated_document(one: Rated) -> Json:
    """Return a rating as JSON; numbers as exact text."""
    rating, treated = one.rating, one.treated
    counts = rating.counts
    return {
        "event": rating.serial,
        "record": rating.record or None,
        "treatment": rating.treatment + 1 if rating.record else None,
        "site": one.site,
        "target": rating.target,
        "products": None if treated is None else treated.name,
        "day": rating.day.isoformat(),
        "days_after": rating.days,
        "control": share_text(rating.control),
        "way": rating.way or None,
        "class": class_words(rating) or None,
        "injury": share_text(rating.injury),
        "cover_before": share_text(rating.before),
        "cover": share_text(rating.cover),
        "counts": counts_document(counts),
        "by": rating.rater or None,
        "since": list(rating.since),
        "photos": [{"name": photo.name, "sha256": photo.sha256, "size": photo.size} for photo in rating.photos],
        "remark": rating.remark,
        "trial": rating.trial or None,
        "plot": rating.plot or None,
        "stray": one.is_stray,
        "late": one.is_late,
    }
