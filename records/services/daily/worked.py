"""Whether a visit worked, in a few words."""

from __future__ import annotations

from typing import TYPE_CHECKING

from records.services.follow_up.telling import control_percent

if TYPE_CHECKING:
    from collections.abc import Sequence

    from records.services.follow_up import Rated, Treated


def worked(visit: Sequence[Treated], rated: Sequence[Rated]) -> str:
    """Return how well the targets of a visit were controlled, by their newest ratings."""
    newest = {one.rating.target: one.rating for one in rated if one.rating.control is not None}
    if newest:
        return ", ".join(
            f"{rating.target} {control_percent(rating.control)} after {rating.days} days"
            for rating in newest.values()
            if rating.control is not None
        )
    targets = ", ".join(dict.fromkeys(target for one in visit for target in one.targets))
    return f"against {targets}, not rated" if targets else "not rated"
