"""What was put on the zones of a packet in the whole year: records outside the packet count too.

A season total over the records that somebody happened to ask for would be no season total, and the days since the
visit before would skip visits.
"""

from __future__ import annotations

from datetime import date
from typing import TYPE_CHECKING

from records.services.inspecting.gather import Use
from records.services.summarising import NANO

if TYPE_CHECKING:
    from fractions import Fraction

    from records.services.inspecting.gather import Gathered
    from records.services.inspecting.request import Request
    from records.services.ports import UnitOfWork


def is_whole_years(request: Request) -> bool:
    """Tell whether a packet holds every record of its calendar years, so that nothing outside it can count."""
    filters = (
        request.site,
        request.customer,
        request.person,
        request.product,
        request.registration,
        request.active,
        request.random,
        request.serials or None,
    )
    starts = request.since is None or (request.since.month, request.since.day) == (1, 1)
    ends = request.until is None or (request.until.month, request.until.day) == (12, 31)
    return starts and ends and all(one is None for one in filters)


def whole_season(work: UnitOfWork, found: Gathered) -> None:
    """Put every use of the packet's calendar years in place of those of the packet, for its zones and actives.

    Args:
        work: a unit of work.
        found: of the packet; places without an id (imports) keep what the packet itself has.
    """
    years: dict[str, set[int]] = {}
    names: dict[str, list[tuple[str, str, str, str]]] = {}  # of the uses at each site
    for name, uses in found.uses.items():
        years.setdefault(name[0], set()).update(int(use.day[:4]) for use in uses)
        names.setdefault(name[0], []).append(name)
    for site, of in years.items():
        key = found.places.get(site)
        if key is None:
            continue
        wanted: dict[tuple[str, str, str, str], list[Use]] = {name: [] for name in names[site]}
        for past in work.records.history(key, date(min(of), 1, 1)):
            if past.day.year not in of:
                continue
            for active, basis, pounds in past.actives:
                here = wanted.get((site, past.zone or "-", active, basis))
                if here is not None:
                    day = past.day.isoformat()
                    here.append(Use(day, past.serial, _nano(pounds), _nano(past.treated), _nano(past.area)))
        for name, here in wanted.items():
            if here:  # what the packet knows by month alone stays as it is
                found.uses[name] = here


def _nano(value: Fraction | None) -> int | None:
    return None if value is None else int(value * NANO)
