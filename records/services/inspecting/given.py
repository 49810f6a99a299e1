"""Who was told and when: copies given to customers, tries to tell people beforehand, signs put up and taken down."""

from __future__ import annotations

from collections import defaultdict
from datetime import date, datetime, timedelta
from typing import TYPE_CHECKING

from records.domain.report_model import one_line
from records.services.copies import Copies, owed_copies

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from records.rules.pack import Pack
    from records.services.ports import Json, UnitOfWork

EARLIER = 60  # days before the first record in which people may have been told of it

Row = tuple[str, ...]


class Given:
    """The events of a book that tell of the records of a packet."""

    def __init__(self, work: UnitOfWork, first: str | None, now: datetime | None) -> None:
        """Read the events.

        Args:
            work: a unit of work.
            first: day or month of the first record; None: there is none.
            now: the present moment; None: nothing is judged as overdue.
        """
        self.now = now
        self._copies = Copies(())
        self._contacts: defaultdict[tuple[str, str], list[Json]] = defaultdict(list)
        self._signs: defaultdict[str, list[Json]] = defaultdict(list)
        if first is None:
            return
        since = date.fromisoformat(first if len(first) > 7 else f"{first}-01")
        self._copies = Copies.since(work, since)
        for event in work.records.events("contact", since=since - timedelta(EARLIER)):
            data = event.body["data"]
            self._contacts[str(data.get("site")), str(data.get("for"))].append(data)
        for event in work.records.events("sign", since=since):
            self._signs[str(event.body["data"].get("serial"))].append(event.body["data"])

    def rows(self, serial: str, day: str, body: Json) -> Iterator[Row]:
        """Yield what is known of one record: record, date, what, when, to whom, how."""
        site = str((body.get("site") or {}).get("id"))
        for data in self._contacts.get((site, day), ()):
            how = f"{one_line(data.get('how'))}: {one_line(data.get('result'))}"
            note = one_line(data.get("note"))
            who = one_line(data.get("name")) or one_line(data.get("notify"))
            yield serial, day, "told beforehand", _moment(data.get("at")), who, f"{how}; {note}" if note else how
        for data in self._signs.get(serial, ()):
            yield serial, day, f"sign {one_line(data.get('what'))}", _moment(data.get("at")), "", ""
        for copy in self._copies.of(serial, body):
            when = f"{copy.at:%Y-%m-%d %H:%M}"
            what = "copy before the work" if copy.is_before else "copy to the customer"
            if not copy.is_given:
                what = "copy asked for"
            elif copy.role == "other":
                what = "copy to somebody else"
            yield serial, day, what, when, one_line(copy.whom), one_line(copy.how)

    def owed(self, serial: str, body: Json, packs: Sequence[Pack]) -> Iterator[tuple[str, str]]:
        """Yield what a customer did not get in time, each with its rule."""
        if self.now is None:
            return
        for copy in owed_copies(body, packs, self._copies.of(serial, body), self.now):
            rule = f"{copy.pack}: {copy.copy.source.cited}"
            if copy.state == "overdue":
                yield f"no copy to the customer is logged; it was due {copy.due:%Y-%m-%d %H:%M}", rule
            elif copy.state == "late":
                yield f"the customer's copy was due {copy.due:%Y-%m-%d %H:%M}, given {copy.given:%Y-%m-%d %H:%M}", rule


def _moment(text: object) -> str:
    line = one_line(text)
    return line[:16].replace("T", " ")
