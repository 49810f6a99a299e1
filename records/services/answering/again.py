"""What the answer needs beside the record itself: when labels allow it again, ratings, notices given, signs."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime
from typing import TYPE_CHECKING

from records.services.actives import history_of
from records.services.copies import Copies
from records.services.follow_up.ratings import ratings
from records.services.follow_up.repeating import repeat_of
from records.services.follow_up.treated import treatments_of
from records.services.notice_content import zone_of

if TYPE_CHECKING:
    from collections.abc import Sequence

    from records.services.copies import Delivery
    from records.services.directory import Directory
    from records.services.follow_up.ratings import Rated
    from records.services.follow_up.repeating import Repeat
    from records.services.ports import StoredRevision, UnitOfWork


@dataclass(frozen=True, slots=True)
class Around:
    """What the book knows around some visits."""

    repeats: tuple[Repeat | None, ...]  # one for each treatment against weeds; None: its site is not in the book
    names: tuple[str, ...]  # of the products of each
    rated: tuple[Rated, ...]
    given: tuple[Delivery, ...]  # notices of these visits
    signs: tuple[tuple[str, datetime], ...]  # "placed" or "removed", and when


def around(work: UnitOfWork, directory: Directory, records: Sequence[StoredRevision], today: date) -> Around:
    """Return what the book knows around the visits of a day.

    Args:
        work: a unit of work.
        directory: of it.
        records: latest revisions of one site.
        today: from which on a repeat is thought of.
    """
    key = (records[-1].body["site"] or {}).get("id") or ""
    found = directory.site(key) if key else None
    history = history_of(work, found[0], today) if found is not None else []
    repeats: list[Repeat | None] = []
    names: list[str] = []
    for record in records:
        for treated in treatments_of(record):
            if treated.killers:
                names.append(treated.name)
                known = found is not None and treated.zones
                repeats.append(
                    repeat_of(work, directory, found[0], treated, today, history) if known and found else None
                )
    rated = [one for record in records for one in ratings(work, record=record.serial, site=key or None)]
    copies = Copies(work.records.events("delivery", site=key)) if key else None
    given = [one for record in records if copies for one in copies.of(record.serial, record.body) if one.is_notice]
    serials, day = {record.serial for record in records}, records[-1].body["date"]
    signs = [
        (event.body["data"]["what"], datetime.fromisoformat(event.body["data"]["at"]).astimezone(zone_of(event.body)))
        for event in (work.records.events("sign", site=key) if key else ())
        if event.body["data"].get("serial") in serials
        or (not event.body["data"].get("serial") and event.body["date"] == day)
    ]
    return Around(tuple(repeats), tuple(names), tuple(rated), tuple(given), tuple(sorted(signs, key=_when)))


def _when(sign: tuple[str, datetime]) -> float:
    return sign[1].timestamp()
