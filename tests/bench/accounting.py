"""A year of stock and cost of a big firm, against bare SQL that adds up the same rows."""

from __future__ import annotations

import json
import sqlite3
from datetime import date
from typing import TYPE_CHECKING

from records.clock import SystemClock
from records.services.costing import cost
from records.services.costing.words import cost_document
from records.services.stocking import log_bought, stock
from records.services.stocking.words import stock_document
from records.storage.unit_of_work import SqlBook
from tests.bench.books import Cache, big_firm, make_unchecked
from tests.bench.firm import FIRST_YEAR
from tests.bench.measure import Figure, interleaved, milliseconds, seconds

if TYPE_CHECKING:
    from pathlib import Path

    from tests.bench.firm import Firm

APPLICATIONS = 100_000
LOTS = (*(f"L{number:03d}" for number in range(0, 23, 2)), "L7")  # the other half was never bought: the average
SPAN = date(FIRST_YEAR, 1, 1), date(FIRST_YEAR, 12, 31)

# What stock and cost are made from, as anyone would write it first.
BARE_STOCK = """SELECT product_id, lot, amount_unit, count(*), sum(amount_nano) FROM application GROUP BY 1, 2, 3"""
BARE_COST = """SELECT {key}, a.product_id, a.lot, a.amount_unit, count(*), sum(a.amount_nano), sum(a.area_nano)
    FROM application a JOIN revision r ON r.id = a.revision_id
    WHERE r.local_date BETWEEN ? AND ? GROUP BY 1, 2, 3, 4"""


def make_bought(path: Path, firm: Firm, applications: int) -> None:
    """Make a book of one year with at least so many applications, and the purchases of half of its lots."""
    make_unchecked(path, firm, applications)
    clock = SystemClock()
    with SqlBook(path).write() as work:
        for number, product in enumerate((*firm.products, *firm.adjuvants)):
            size = "50 gal" if product["form"] == "liquid" else "200 lb"
            for place, lot in enumerate(LOTS):
                day = f"{FIRST_YEAR}-{1 + place % 9:02d}-{1 + number:02d}"
                price = f"{900 + 7 * number + place}.50"
                log_bought(work, clock.now(), product["id"], size, lot=lot, label="2020-11", price=price, at=day)
        work.commit()


def _book(cache: Cache) -> Path:
    return cache.get(f"bought-{APPLICATIONS}.db", lambda path: make_bought(path, big_firm(), APPLICATIONS))


def stock_text(book: SqlBook) -> str:
    """Return the stock as JSON."""
    with book.read() as work:
        return json.dumps(stock_document(stock(work, SystemClock().now())), ensure_ascii=False)


def cost_text(book: SqlBook, per: str) -> str:
    """Return the cost of the year as JSON."""
    with book.read() as work:
        return json.dumps(cost_document(cost(work, per, *SPAN)), ensure_ascii=False)


def bare_text(connection: sqlite3.Connection, *statements: tuple[str, tuple[str, ...]]) -> str:
    """Add up the same rows with nothing but SQLite, and write the sums as JSON."""
    return json.dumps([connection.execute(*one).fetchall() for one in statements])


def account_figures(cache: Cache, runs: int) -> list[Figure]:
    """Measure stock, and cost by product, month and visit."""
    path = _book(cache)
    book, connection = SqlBook(path), sqlite3.connect(path)
    count = connection.execute("SELECT count(*) FROM application").fetchone()[0]
    span = tuple(day.isoformat() for day in SPAN)
    keys = {"product": "a.product_id", "month": "r.period", "visit": "r.serial"}
    found = []
    floor, subject = interleaved(
        lambda: seconds(lambda: bare_text(connection, (BARE_STOCK, ()))),
        lambda: seconds(lambda: stock_text(book)),
        runs,
    )
    found.append(("stock", floor, subject))
    for per, key in keys.items():
        statement = BARE_COST.format(key=key)
        floor, subject = interleaved(
            lambda statement=statement: seconds(lambda: bare_text(connection, (statement, span))),  # type: ignore[misc]
            lambda per=per: seconds(lambda: cost_text(book, per)),  # type: ignore[misc]
            runs,
        )
        found.append((f"cost by {per}", floor, subject))
    connection.close()
    return [
        Figure(
            f"{name} of a year, {count:,} applications / bare SQL",
            milliseconds(floor),
            milliseconds(subject),
            subject / floor,
            5,
        )
        for name, floor, subject in found
    ]
