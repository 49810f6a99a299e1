"""The command line over the demo firm, as in the tests of the commands."""

from __future__ import annotations

from tests.cli.conftest import firm, firm_book, swathbook

__all__ = ["firm", "firm_book", "swathbook"]
