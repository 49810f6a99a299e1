"""The annual summary of a big year: JSON against bare SQL that groups the same rows, PDF against a bare canvas."""

from __future__ import annotations

import io
import json
import sqlite3
import sys
from dataclasses import replace
from typing import TYPE_CHECKING

from reportlab.pdfgen.canvas import Canvas

from records.clock import SystemClock
from records.reports.fonts import BOLD, REGULAR, face
from records.reports.layout import paper_size
from records.reports.summary import render_summary, summary_pages
from records.services.reporting import summary
from records.services.summarising import summary_document
from records.storage.unit_of_work import SqlBook
from tests.bench.books import Cache, big_firm, make_unchecked
from tests.bench.firm import FIRST_YEAR
from tests.bench.measure import Figure, interleaved, milliseconds, run, seconds, swathbook

if TYPE_CHECKING:
    from pathlib import Path

    from records.domain.report_model import Section, SummaryModel

APPLICATIONS = 100_000
ROWS = 1_500  # of each long table in the printed summary: a few hundred pages

# The groupings of the summary as anyone would write them first, over the tables that hold the facts themselves.
GROUPINGS = (
    """SELECT a.product_id, a.product_name, a.registration, a.form, a.amount_unit, count(*), sum(a.amount_nano),
    sum(a.area_nano) FROM application a JOIN revision r ON r.id = a.revision_id
    WHERE r.period BETWEEN ? AND ? GROUP BY 1, 2, 3, 4, 5""",
    """SELECT r.period, a.amount_unit, count(*), sum(a.amount_nano), sum(a.area_nano)
    FROM application a JOIN revision r ON r.id = a.revision_id
    WHERE r.period BETWEEN ? AND ? GROUP BY 1, 2""",
    """SELECT r.applicator_id, r.applicator_name, a.amount_unit, count(*), sum(a.amount_nano), sum(a.area_nano)
    FROM application a JOIN revision r ON r.id = a.revision_id
    WHERE r.period BETWEEN ? AND ? GROUP BY 1, 2, 3""",
    """SELECT a.site_kind, a.amount_unit, count(*), sum(a.amount_nano), sum(a.area_nano)
    FROM application a JOIN revision r ON r.id = a.revision_id
    WHERE r.period BETWEEN ? AND ? GROUP BY 1, 2""",
    """SELECT r.county, r.zip, a.amount_unit, count(*), sum(a.amount_nano), sum(a.area_nano)
    FROM application a JOIN revision r ON r.id = a.revision_id
    WHERE r.period BETWEEN ? AND ? GROUP BY 1, 2, 3""",
    """SELECT t.target, count(*), sum(a.area_nano)
    FROM application_target t JOIN application a ON a.id = t.application_id JOIN revision r ON r.id = a.revision_id
    WHERE r.period BETWEEN ? AND ? GROUP BY 1""",
    """SELECT x.name, x.basis, count(*), sum(x.pounds_nano)
    FROM application_active x JOIN application a ON a.id = x.application_id JOIN revision r ON r.id = a.revision_id
    WHERE r.period BETWEEN ? AND ? GROUP BY 1, 2""",
)
_BARE_SCRIPT = """
import json, sqlite3, sys
connection = sqlite3.connect(sys.argv[1])
span = sys.argv[2] + "-01", sys.argv[2] + "-12"
json.dump([connection.execute(text, span).fetchall() for text in json.loads(sys.argv[3])], sys.stdout)
"""


def _book(cache: Cache) -> Path:
    return cache.get(f"year-{APPLICATIONS}.db", lambda path: make_unchecked(path, big_firm(), APPLICATIONS))


def bare_sql(connection: sqlite3.Connection, year: int) -> str:
    """Group the same rows with nothing but SQLite, and write the rows as JSON."""
    span = f"{year}-01", f"{year}-12"
    return json.dumps([connection.execute(text, span).fetchall() for text in GROUPINGS])


def json_figures(cache: Cache, runs: int) -> list[Figure]:
    """Measure the summary as JSON: the service call with the writing, and the whole command."""
    path = _book(cache)
    book, clock = SqlBook(path), SystemClock()
    connection = sqlite3.connect(path)

    def service() -> object:
        return json.dumps(summary_document(summary(book, FIRST_YEAR, clock)), ensure_ascii=False)

    count = connection.execute("SELECT count(*) FROM application").fetchone()[0]
    floor, subject = interleaved(
        lambda: seconds(lambda: bare_sql(connection, FIRST_YEAR)), lambda: seconds(service), runs
    )
    connection.close()
    bare: list[str | Path] = [sys.executable, "-c", _BARE_SCRIPT, path, str(FIRST_YEAR), json.dumps(GROUPINGS)]
    command = swathbook("--book", path, "--json", "summary", str(FIRST_YEAR))
    floor_run, subject_run = interleaved(lambda: run(bare).seconds, lambda: run(command).seconds, runs)
    name = f"annual summary as JSON, {count:,} applications / bare SQL"
    return [
        Figure(name, milliseconds(floor), milliseconds(subject), subject / floor, 5),
        Figure(
            "the same as whole processes",
            milliseconds(floor_run),
            milliseconds(subject_run),
            subject_run / floor_run,
            5,
            is_target=False,
        ),
    ]


def long_model(model: SummaryModel, rows: int = ROWS) -> SummaryModel:
    """Return a summary with its longest tables repeated under other names, so that it fills many pages."""
    return replace(model, sections=tuple(_longer(section, rows) for section in model.sections))


def _longer(section: Section, rows: int) -> Section:
    if section.key not in {"by_product", "by_target", "by_place", "by_active"} or not section.rows:
        return section
    many = [(f"{row[0]} {number}", *row[1:]) for number in range(-(-rows // len(section.rows))) for row in section.rows]
    return replace(section, rows=tuple(many[:rows]))


def bare_canvas(model: SummaryModel) -> bytes:
    """Draw the same strings at the same places with the same fonts, and nothing else, with a plain canvas."""
    pages, paper = summary_pages(model, "letter"), paper_size("letter")
    target = io.BytesIO()
    strings = [[(text.font, text.size, text.x, paper[1] - text.y, text.text) for text in page.texts] for page in pages]

    def draw() -> None:
        canvas = Canvas(target, pagesize=paper, pageCompression=1, invariant=1)
        for page in strings:
            for font, size, x, y, text in page:
                canvas.setFont(font, size)
                canvas.drawString(x, y, text)
            canvas.showPage()
        canvas.save()

    _taken.append((len(pages), seconds(draw)))
    return target.getvalue()


_taken: list[tuple[int, float]] = []


def pdf_figures(cache: Cache, runs: int) -> list[Figure]:
    """Measure the pages a second of the printed summary."""
    face(REGULAR), face(BOLD)
    model = long_model(summary(SqlBook(_book(cache)), FIRST_YEAR, SystemClock()))

    def floor_time() -> float:
        bare_canvas(model)
        return _taken[-1][1]

    floor, subject = interleaved(floor_time, lambda: seconds(lambda: render_summary(model)), min(runs, 5))
    pages = _taken[-1][0]
    return [
        Figure(
            f"annual summary as PDF, {pages} pages / bare canvas, same strings",
            f"{pages / floor:,.0f} pages a second",
            f"{pages / subject:,.0f} pages a second",
            floor / subject,
            0.5,
            at_least=True,
        )
    ]
