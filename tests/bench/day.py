"""A whole day planned, in a process that has just started: 30 stops, 4 products, 3 pieces of equipment."""

from __future__ import annotations

import json
import sqlite3
import subprocess
import sys
from typing import TYPE_CHECKING, Any

from tests.bench.books import Cache, big_firm, make_loaded, seal_unchecked
from tests.bench.firm import visits
from tests.bench.measure import Figure, interleaved, milliseconds, seconds

if TYPE_CHECKING:
    from pathlib import Path

    from tests.bench.firm import Firm

Json = dict[str, Any]

APPLICATIONS = 100_000
STOPS = 30
WANTED = 0.1  # seconds
DAY = "2028-10-20"  # behind the last season of the book: eight years at five visits a lawn and year
# Plans one day, once, in a process that has everything imported: the first plan of a start, nothing remembered.
_SCRIPT = """
import gc, json, sys, time
from pathlib import Path
import records.cli.plan_cmd, records.cli.plan_view
from records.services.planning.service import plan
from records.storage.unit_of_work import SqlBook
book = SqlBook(Path(sys.argv[1]))
day = json.loads(sys.argv[2])
with book.read() as work:
    work.records.head()
gc.freeze()
gc.set_threshold(200_000, 20, 50)  # as the command does
start = time.perf_counter()
made = plan(book, day)
taken = time.perf_counter() - start
assert made.plan is not None, made.problems
print(taken)
"""
# What anyone has to read for it: the documents that are named, and what went on at each site.
_DOCUMENTS = "SELECT body FROM catalogue WHERE kind = ? AND id = ? ORDER BY version DESC LIMIT 1"
_PAST = """SELECT r.serial, z.local_date, z.zone_id, a.product_id, a.amount, a.area_nano, z.treated_nano
    FROM application_zone z JOIN application a ON a.id = z.application_id JOIN revision r ON r.id = a.revision_id
    WHERE z.site_id = ? ORDER BY z.local_date"""


def whole_day(firm: Firm, stops: int = STOPS) -> Json:
    """Return a day of three loads: two rigs with four products in all, one of them with a dry one, and spots."""
    liquid = [one for one in firm.products if one["form"] == "liquid" and not one["restricted_use"]][:2]
    dry = [one for one in firm.products if one["form"] == "dry" and not one["restricted_use"]][:1]
    every = [f"{site['id']}" for site in firm.sites[:: max(1, len(firm.sites) // stops)]][:stops]
    third = -(-len(every) // 3)
    first, second = ([_line(one, 0) for one in part] for part in ((liquid[0], dry[0]), (liquid[1], dry[0])))
    wet = {"product": firm.adjuvants[0]["id"], "rate": "0.25 % v/v"}
    spots = [{"site": site, "area": "500 sq ft"} for site in every[2 * third :]]
    return {
        "on": DAY,
        "by": "p0",
        "temperature": "70 degF",
        "loads": [
            {"equipment": "rig-0", "tank": "100 gal", "products": [*first, wet], "stops": every[:third]},
            {"equipment": "rig-1", "tank": "100 gal", "products": [*second, wet], "stops": every[third : 2 * third]},
            {
                "equipment": "rig-2",
                "method": "spot",
                "tank": "4 gal",
                "products": [_line(liquid[0], 1), wet],
                "stops": spots,
            },
        ],
    }


def _line(product: Json, use: int) -> Json:
    return {"product": product["id"], "rate": product["label"]["uses"][use]["rates"][0]["max"]}


def plan_seconds(book: Path, day: Json) -> float:
    """Return how long the first plan of a new process takes, after start-up.

    Raises:
        RuntimeError: there is no plan.
    """
    ran = subprocess.run(
        [sys.executable, "-c", _SCRIPT, str(book), json.dumps(day)], capture_output=True, text=True, check=False
    )
    if ran.returncode:
        raise RuntimeError(ran.stderr[-500:])
    return float(ran.stdout)


def bare_reads(book: Path, day: Json) -> int:
    """Read the same documents and the past of the same sites with nothing but SQLite; return how many rows."""
    connection = sqlite3.connect(book)
    rows = 0
    for load in day["loads"]:
        names = [("equipment", load["equipment"]), *(("product", line["product"]) for line in load["products"])]
        sites = [stop["site"] if isinstance(stop, dict) else stop for stop in load["stops"]]
        for kind, key in [*names, *(("site", site) for site in sites)]:
            found = connection.execute(_DOCUMENTS, (kind, key)).fetchone()
            rows += len(json.loads(found[0])) > 0
        for site in sites:
            rows += len(connection.execute(_PAST, (site,)).fetchall())
    connection.close()
    return rows


def _make_years(path: Path, firm: Firm) -> None:
    """Make a book of as many seasons as it takes."""
    seal_unchecked(make_loaded(path, firm), visits(firm, APPLICATIONS), APPLICATIONS)


def day_figures(cache: Cache, runs: int) -> list[Figure]:
    """Measure the plan of a day against what it may take, and against the bare reading of what it needs."""
    firm = big_firm()
    path = cache.get(f"years-{APPLICATIONS}.db", lambda place: _make_years(place, firm))
    day = whole_day(firm)
    floor, subject = interleaved(lambda: seconds(lambda: bare_reads(path, day)), lambda: plan_seconds(path, day), runs)
    name = f"a day planned: {STOPS} stops, 4 products, 3 pieces of equipment, {APPLICATIONS:,} applications in the book"
    return [
        Figure(name, milliseconds(WANTED), milliseconds(subject), subject / WANTED, 1),
        Figure(
            "the same / bare reading of its documents and past",
            milliseconds(floor),
            milliseconds(subject),
            subject / floor,
            1,
            is_target=False,
        ),
    ]
