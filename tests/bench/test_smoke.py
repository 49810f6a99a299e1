"""The benchmark's generators at a tiny size: what they make is lawful, so the benchmark does not rot unseen."""

from __future__ import annotations

import json
from typing import TYPE_CHECKING

from pypdf import PdfReader

from records.clock import SystemClock
from records.reports.packet import PacketPdf
from records.services.closing.service import close_lines
from records.services.reporting import summary
from records.services.summarising import summary_document
from records.storage.unit_of_work import SqlBook
from tests.bench.accounting import cost_text, make_bought, stock_text
from tests.bench.books import Cache, make_loaded, make_sealed, make_unchecked, write_lines
from tests.bench.day import bare_reads, plan_seconds, whole_day
from tests.bench.firm import FIRST_YEAR, make_firm, visits
from tests.bench.measure import Figure, run, swathbook
from tests.bench.packet import Nowhere, bare_seconds, draw_packet, first_byte, make_many, peak
from tests.bench.yearly import bare_canvas, long_model

if TYPE_CHECKING:
    from pathlib import Path

FIRM = make_firm(sites=8, products=10, people=5)


def test_every_generated_visit_is_sealed(tmp_path: Path) -> None:
    book = make_loaded(tmp_path / "book.db", FIRM)
    lines = [json.dumps(visit).encode() for visit in visits(FIRM, 80)]
    outcomes = list(close_lines(book, lines, SystemClock()))
    assert [outcome.findings for outcome in outcomes if outcome.status != "sealed"] == []
    assert len({outcome.serial for outcome in outcomes}) == 80


def test_the_same_seed_gives_the_same_visits() -> None:
    assert list(visits(FIRM, 20)) == list(visits(make_firm(8, 10, 5), 20))
    assert list(visits(FIRM, 20)) != list(visits(FIRM, 20, seed=1))


def test_a_year_of_unchecked_visits_adds_up(tmp_path: Path) -> None:
    make_unchecked(tmp_path / "year.db", FIRM, 60)
    model = summary(SqlBook(tmp_path / "year.db"), FIRST_YEAR, SystemClock())
    assert int(summary_document(model)["totals"]["applications"]) >= 60
    assert bare_canvas(long_model(model, 40)).startswith(b"%PDF-")


def test_stock_and_cost_of_a_tiny_year_agree(tmp_path: Path) -> None:
    make_bought(tmp_path / "bought.db", FIRM, 60)
    book = SqlBook(tmp_path / "bought.db")
    products = json.loads(stock_text(book))["products"]
    totals = [json.loads(cost_text(book, per))["total"] for per in ("product", "month", "visit")]
    assert sum(one["applications"] for one in products) == totals[0]["applications"] >= 60
    assert {one["cost"] for one in totals} == {totals[0]["cost"]}
    assert totals[0]["priced_by_lot"] > 0
    assert totals[0]["priced_by_average"] > 0


def test_the_command_closes_the_generated_lines(tmp_path: Path) -> None:
    cache = Cache(tmp_path / "cache")
    book = cache.get("book.db", lambda path: make_sealed(path, FIRM, 8))
    lines = tmp_path / "lines.jsonl"
    write_lines(lines, FIRM, 12)
    ran = run(swathbook("--book", cache.copy(book), "close", "--lines", lines))
    assert ran.seconds > 0
    assert ran.peak > 0


def test_a_packet_is_drawn_and_answers(tmp_path: Path) -> None:
    book = tmp_path / "many.db"
    make_many(book, 60, 8)
    pages = draw_packet(book, PacketPdf(Nowhere(), "letter"))
    assert pages > 10
    assert bare_seconds(book) > 0
    first, counted = first_byte(book, ("--random", "2"))
    assert 0 < first <= counted
    assert peak(Cache(tmp_path), book) > 0
    assert len(PdfReader(tmp_path / "packet.pdf").pages) == pages


def test_a_figure_knows_whether_it_is_met() -> None:
    assert Figure("slow", "1", "4", 4.0, 3).row().endswith("| MISSED |")
    assert Figure("quick", "1", "2", 2.0, 3).is_met
    assert Figure("many", "1", "2", 0.4, 0.5, at_least=True).is_met is False
    assert Figure("told", "1", "9", 9.0, 5, is_target=False).is_met


def test_a_day_is_planned(tmp_path: Path) -> None:
    make_sealed(tmp_path / "book.db", FIRM, 40)
    day = whole_day(FIRM, stops=6)
    assert len(day["loads"]) == 3
    assert sum(len(load["stops"]) for load in day["loads"]) == 6
    assert plan_seconds(tmp_path / "book.db", day) > 0
    assert bare_reads(tmp_path / "book.db", day) > 0
