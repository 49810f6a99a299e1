"""Plays the season into a book: each visit is closed a few minutes after it ended, and the notice left at the door.

python demo/play.py BOOK
"""

import sys
from datetime import UTC, datetime, timedelta
from pathlib import Path
from zoneinfo import ZoneInfo

from records.bootstrap import assemble
from records.clock import FixedClock
from records.reports.render import PdfRenderer
from records.services.closing.service import close_visit
from records.services.delivering import deliver

sys.path.insert(0, str(Path(__file__).parent))

from season import visits

FORGOTTEN = 46  # every so many visits, nobody noted that the notice was left at the door
ZONE = ZoneInfo("America/Chicago")


def main(where: str) -> int:
    """Close every visit of the season and tell how many were sealed."""
    clock = FixedClock(datetime(2026, 4, 1, 12, tzinfo=UTC))
    book, renderer = assemble(where, clock).book(), PdfRenderer()
    sealed = 0
    documents = visits()
    for document in documents:
        ended = datetime.fromisoformat(document["finished"]).replace(tzinfo=ZONE)
        clock.set(ended + timedelta(minutes=4))
        outcome = close_visit(book, document, clock)
        sealed += outcome.status == "sealed"
        if outcome.serial is not None and sealed % FORGOTTEN:
            clock.set(ended + timedelta(minutes=5))
            deliver(book, renderer, outcome.serial, clock, how="paper", by=document["applicator"])
        if outcome.status != "sealed":
            codes = ", ".join(finding["code"] for finding in outcome.findings)
            print(f"{document['ref']}: {outcome.status}: {codes}")
    print(f"{len(documents)} visits from April to October: {sealed} sealed")
    return 0 if sealed == len(documents) else 1


if __name__ == "__main__":
    sys.exit(main(sys.argv[1]))
