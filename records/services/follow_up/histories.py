"""Reads the group history of one site out of a book."""

from __future__ import annotations

from datetime import date
from typing import TYPE_CHECKING

from records.errors import NotFoundError
from records.services.directory import Directory
from records.services.follow_up.group_history import GroupHistory, group_history
from records.services.follow_up.ratings import ratings
from records.services.follow_up.treated import treated_since
from records.services.occasions import site_of

if TYPE_CHECKING:
    from records.services.ports import OpenBook


def groups_of_site(book: OpenBook, text: str, zone: str | None = None) -> GroupHistory:
    """Return the modes of action that a site's zones have seen.

    Args:
        book: to read.
        text: id of the site, or part of its address.
        zone: that has to be there.

    Raises:
        NotFoundError: no such site or zone.
    """
    with book.read() as work:
        site, _ = site_of(Directory(work.catalogue), text)
        treatments = treated_since(work, date.min, date.max, site.id)
        known = dict.fromkeys([*(one.id for one in site.zones), *(key for one in treatments for key in one.zones)])
        if zone is not None and zone not in known:
            raise NotFoundError(f"{site.id} has no zone {zone[:40]!r}", f"Its zones: {', '.join(known) or 'none'}")
        return group_history(site.id, treatments, ratings(work, site=site.id))
