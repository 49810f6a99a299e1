"""The owner's season: a year's work, money and success on one page, with the figures behind it."""

from __future__ import annotations

from records.services.season.build import Season, Table, build_season
from records.services.season.gather import Year, gather_year
from records.services.season.writing import season_csv, season_document, season_xlsx

__all__ = ["Season", "Table", "Year", "build_season", "gather_year", "season_csv", "season_document", "season_xlsx"]
