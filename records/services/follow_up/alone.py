"""Tells whether a rating speaks of one treatment alone."""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Iterable

    from records.services.follow_up.ratings import Rated
    from records.services.follow_up.treated import Treated


def overtaken_by(rated: Rated, others: Iterable[Treated]) -> Treated | None:
    """Return the treatment that came upon the same ground between a treatment and its rating; None: there is none.

    Args:
        rated: the rating.
        others: treatments of that site against the same target, any order.
    """
    first = rated.treated
    if first is None:
        return None
    return next(
        (
            other
            for other in others
            if first.day < other.day < rated.rating.day
            and other.plot in {"", first.plot}
            and set(other.zones) & set(first.zones)
            and (other.serial, other.index) != (first.serial, first.index)
        ),
        None,
    )
