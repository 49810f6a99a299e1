"""What was put where before: the sealed past, as ceilings and intervals need it."""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

if TYPE_CHECKING:
    from datetime import date
    from fractions import Fraction

    from records.domain.quantities import Quantity


class PastUse(NamedTuple):
    """One sealed application on one zone (latest revisions only), as ceilings and intervals need it."""

    serial: str
    day: date
    treatment: int
    zone: str
    product: str
    registration: str
    method: str
    amount: Quantity | None  # the whole application's amount
    area: Fraction | None  # sq ft of the whole application
    treated: Fraction | None  # sq ft of it in this zone
    actives: tuple[tuple[str, str, Fraction | None], ...]  # name, basis, lb of the whole application
    plot: str = ""  # "TRIAL/PLOT" where it was put on a plot of a trial, and that was asked for
