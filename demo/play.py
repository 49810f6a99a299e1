"""Plays the season into a book: visits closed a few minutes after they ended, notices left, and the looks afterwards.

python demo/play.py BOOK          the season, to the evening before the single visits of `visits/`
python demo/play.py BOOK looks    what was seen in the week of those visits, all entered on its last evening
"""

from __future__ import annotations

import heapq
import sys
from datetime import UTC, date, datetime, timedelta
from pathlib import Path
from typing import TYPE_CHECKING, Any
from zoneinfo import ZoneInfo

from records.bootstrap import assemble
from records.clock import FixedClock
from records.reports.render import PdfRenderer
from records.rules.looks import look_of
from records.services.closing.service import close_visit
from records.services.delivering import deliver
from records.services.follow_up import Order, Treated, rate, treated_since, treatments_of

sys.path.insert(0, str(Path(__file__).parent))

from ratings import seen
from season import visits

if TYPE_CHECKING:
    from collections.abc import Callable

FORGOTTEN = 46  # every so many visits, nobody noted that the notice was left at the door
ZONE = ZoneInfo("America/Chicago")
LAST = date(2026, 10, 18)  # the last day of the season as played; the single visits follow
WEEK = datetime(2026, 10, 23, 17, 45, tzinfo=ZONE)  # when the looks of the week after that were entered
RATERS = {"mo": "mo", "wes": "mo", "jory": "mo", "ines": "ines", "tam": "ines"}  # who comes back, by who applied


class Play:
    """One season, told in the order of time."""

    def __init__(self, where: str) -> None:
        self.clock = FixedClock(datetime(2026, 4, 1, 12, tzinfo=UTC))
        self.book = assemble(where, self.clock).book()
        self.renderer = PdfRenderer()
        self.sealed = self.looked = 0
        self.coming: list[tuple[datetime, int, Callable[[], None]]] = []  # a heap
        self.number = 0

    def later(self, moment: datetime, what: Callable[[], None]) -> None:
        """Plan something for a moment."""
        self.number += 1
        heapq.heappush(self.coming, (moment, self.number, what))

    def run(self) -> None:
        """Do all that is planned, in the order of time."""
        while self.coming:
            moment, _, what = heapq.heappop(self.coming)
            self.clock.set(moment)
            what()

    def visit(self, document: dict[str, Any]) -> None:
        """Close a visit, leave the notice, and plan to look again."""
        outcome = close_visit(self.book, document, self.clock)
        if outcome.status != "sealed":
            codes = ", ".join(finding["code"] for finding in outcome.findings)
            print(f"{document['ref']}: {outcome.status}: {codes}")
            return
        self.sealed += 1
        if self.sealed % FORGOTTEN:
            self.clock.set(self.clock.now() + timedelta(minutes=1))
            deliver(self.book, self.renderer, outcome.serial, self.clock, how="paper", by=document["applicator"])
        with self.book.read() as work:
            record = work.records.revisions(outcome.serial)[-1]
        for treated in treatments_of(record):
            for days, moment in looks_at(treated):
                if moment.date() <= LAST:
                    self.later(moment, lambda t=treated, d=days, w=document["applicator"]: self.look(t, d, w))

    def week(self) -> None:
        """Enter the looks of the week after the season, all on one evening."""
        with self.book.read() as work:
            season = treated_since(work, date(2026, 4, 1), LAST)
            people = {
                one: work.records.revisions(one)[-1].body["applicator"]["id"] for one in {t.serial for t in season}
            }
        found = [
            (moment, number, treated, days)
            for number, treated in enumerate(season)
            for days, moment in looks_at(treated)
            if LAST < moment.date() <= WEEK.date()
        ]
        for number, (moment, _, treated, days) in enumerate(sorted(found, key=lambda one: one[:2])):
            self.clock.set(WEEK + timedelta(minutes=number))
            self.look(treated, days, people[treated.serial], moment)

    def look(self, treated: Treated, days: int, applicator: str, moment: datetime | None = None) -> None:
        """Rate what can be seen, weed by weed; at a moment before, or now."""
        for target in treated.targets:
            found = seen(treated.serial, treated.site, tuple(line.product for line in treated.killers), target, days)
            if found is None:
                continue
            rate(
                self.book,
                self.clock,
                Order(
                    of=treated.serial,
                    marks=(f"{target}=" if found.count else f"{target}={found.control}",),
                    treatment=treated.index + 1,
                    at=None if moment is None else f"{moment:%Y-%m-%dT%H:%M}",
                    by=RATERS[applicator],
                    injury=str(found.injury),
                    before=str(found.before),
                    cover=str(found.cover),
                    count=found.count or None,
                    check=found.check or None,
                    rain=found.rain or None,
                    mowed=str(treated.day + timedelta(days=found.mowed)) if found.mowed else None,
                ),
            )
            self.looked += 1


def looks_at(treated: Treated) -> list[tuple[int, datetime]]:
    """Return on which days after a treatment somebody looks, and at which moment that is."""
    found = []
    for days in look_of(treated.groups).days if treated.killers else ():
        on = treated.day + timedelta(days=days)
        found.append((days, datetime(on.year, on.month, on.day, 17, 5 + treated.index, tzinfo=ZONE)))
    return found


def main(where: str, part: str = "season") -> int:
    """Play the season, or the looks of the week after it, and tell how much of it was sealed."""
    play = Play(where)
    if part == "looks":
        play.week()
        print(f"{play.looked} ratings of the week before {WEEK:%d %B}, entered that evening")
        return 0
    documents = visits()
    for document in documents:
        ended = datetime.fromisoformat(document["finished"]).replace(tzinfo=ZONE)
        play.later(ended + timedelta(minutes=4), lambda d=document: play.visit(d))
    play.run()
    print(f"{len(documents)} visits from April to October: {play.sealed} sealed; {play.looked} ratings")
    return 0 if play.sealed == len(documents) else 1


if __name__ == "__main__":
    sys.exit(main(*sys.argv[1:3]))
