"""Who was told before the work, how and when: every try that was logged, with those that failed."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime
from typing import TYPE_CHECKING

from records.domain.contacts import POSTPONED, counts_as_told
from records.services.notice_content import zone_of

if TYPE_CHECKING:
    from records.services.ports import Json, OpenBook


@dataclass(frozen=True, slots=True)
class Try:
    """One try to tell somebody of the work of a day, or that the work was put off."""

    event: str
    site: str
    day: date  # of the work
    at: datetime  # aware, local
    name: str
    how: str
    result: str
    put_off_to: str  # "" unless the work was put off
    by: str
    note: str

    @property
    def words(self) -> str:
        """Return it in one line."""
        by = f", by {self.by}" if self.by else ""
        note = f" ({self.note})" if self.note else ""
        if self.put_off_to:
            return f"put off to {self.put_off_to}{by}{note}"
        failed = "" if counts_as_told(self.how, self.result) else ", not told"
        return f"{self.name}, {self.how}: {self.result}{failed}{by}{note}"

    def document(self) -> Json:
        """Return it as plain JSON."""
        return {
            "event": self.event,
            "site": self.site,
            "for": self.day.isoformat(),
            "at": self.at.isoformat(),
            "name": self.name or None,
            "how": self.how or None,
            "result": self.result,
            "put_off_to": self.put_off_to or None,
            "by": self.by or None,
            "note": self.note or None,
        }


def tries(book: OpenBook, since: date | None, until: date | None, site: str | None = None) -> list[Try]:
    """Return what was logged of telling people before the work of some days, by the moment of the try.

    Args:
        book: to look in.
        since: first day of the work; None: from the beginning.
        until: last day of the work; None: to the end.
        site: only this one, by id.
    """
    found = []
    with book.read() as work:
        for event in work.records.events("contact", site=site):
            data = event.body["data"]
            day = date.fromisoformat(data["for"])
            if (since is not None and day < since) or (until is not None and day > until):
                continue
            found.append(
                Try(
                    event=event.serial,
                    site=data["site"],
                    day=day,
                    at=datetime.fromisoformat(data["at"]).astimezone(zone_of(event.body)),
                    name=data["name"],
                    how=data["how"],
                    result=data["result"],
                    put_off_to=data.get("to") or "" if data["result"] == POSTPONED else "",
                    by=(event.body["applicator"] or {}).get("name") or "",
                    note=data["note"],
                )
            )
    return sorted(found, key=lambda one: one.at.timestamp())
