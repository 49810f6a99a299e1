"""Measures everything and prints one table: `python -m tests.bench [--only NAME] [--runs N] [--cache FOLDER]`.

Exits with 1 when a target is missed.
"""

from __future__ import annotations

import argparse
import sys
from pathlib import Path
from typing import TYPE_CHECKING

from tests.bench.accounting import account_figures
from tests.bench.books import Cache, default_cache
from tests.bench.day import day_figures
from tests.bench.many_visits import lines_figures
from tests.bench.measure import HEAD, Figure, machine
from tests.bench.packet import first_byte_figures, page_figures
from tests.bench.proving import growth_figures, proving_figures
from tests.bench.startup import close_figures, help_figures
from tests.bench.yearly import json_figures, pdf_figures

if TYPE_CHECKING:
    from collections.abc import Callable

MEASURES: dict[str, Callable[[Cache, int], list[Figure]]] = {
    "help": help_figures,
    "close": close_figures,
    "close_lines": lines_figures,
    "summary_json": json_figures,
    "summary_pdf": pdf_figures,
    "day": day_figures,
    "account": account_figures,
    "packet": page_figures,
    "packet_first": first_byte_figures,
    "proving": proving_figures,
    "growth": growth_figures,
}


def main(argv: list[str] | None = None) -> int:
    """Run the chosen measurements; return the exit code."""
    parser = argparse.ArgumentParser(prog="python -m tests.bench", description=__doc__)
    parser.add_argument("--only", action="append", choices=MEASURES, help="one of them; may be given again")
    parser.add_argument("--runs", type=int, default=9, help="runs whose median counts (fewer for the long ones)")
    parser.add_argument("--cache", type=Path, default=default_cache(), help="where generated books are kept")
    chosen = parser.parse_args(argv)
    cache = Cache(chosen.cache)
    cache.folder.mkdir(parents=True, exist_ok=True)
    print(f"{machine()}; floor and subject in turn, medians\n\n{HEAD}", flush=True)  # noqa: T201 - its output
    missed = 0
    for name in chosen.only or MEASURES:
        for figure in MEASURES[name](cache, max(1, chosen.runs)):
            print(figure.row(), flush=True)  # noqa: T201 - its output
            missed += not figure.is_met
    return 1 if missed else 0


if __name__ == "__main__":
    sys.exit(main())
