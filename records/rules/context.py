"""What a check may know besides the visit itself."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable, Sequence
    from datetime import date, datetime
    from fractions import Fraction

    from records.domain.contacts import Contact
    from records.domain.history import PastUse
    from records.domain.mixing import LoadPast
    from records.domain.nutrients import NutrientUse
    from records.domain.product import Product
    from records.domain.trials import Trial
    from records.domain.unlikely import Usual
    from records.rules.pack import Pack


@dataclass(frozen=True, slots=True)
class Context:
    """The present moment, the site's sealed past, and look-ups into the book."""

    now: datetime  # aware, UTC
    packs: tuple[Pack, ...] = ()  # that judge the visit
    completed: datetime | None = None  # when the record was first complete; None: now
    history: Sequence[PastUse] = ()
    nutrients: Sequence[NutrientUse] = ()  # of the site's sealed past, where the visit puts on any
    contacts: Sequence[Contact] = ()  # tries to tell people of work at this site
    same_day: Sequence[tuple[str, str]] = ()  # serial and applicator of other visits here that day
    trial: Callable[[str], Trial | None] = field(default=lambda _: None)  # by its name
    product: Callable[[str], Product | None] = field(default=lambda _: None)
    load: Callable[[str], LoadPast | None] = field(default=lambda _: None)  # by id of the mix
    lot_day: Callable[[str, str], date | None] = field(default=lambda _product, _lot: None)  # last day of use
    recent_rates: Callable[[str, str], Usual | Iterable[Fraction]] = field(default=lambda _product, _method: ())

    @property
    def made(self) -> datetime:
        """Return when the record was first complete, which its rules' clock is about."""
        return self.completed or self.now
