"""When a periodic report is due, and what period a text means: as the rule packs say."""

from __future__ import annotations

import calendar
import re
from dataclasses import dataclass
from datetime import date, timedelta
from typing import TYPE_CHECKING

from records.errors import UsageError
from records.rules.due import report_due
from records.rules.packs import newest, pack_ids

if TYPE_CHECKING:
    from collections.abc import Iterable

    from records.rules.pack import Pack, PeriodicReport

_YEAR, _MONTH = re.compile(r"\d{4}", re.ASCII), re.compile(r"(\d{4})-(\d{2})", re.ASCII)


@dataclass(frozen=True, slots=True)
class Period:
    """A year or a month that a report is about."""

    text: str  # "2026", "2026-05"
    since: date
    until: date


def read_period(text: str, kind: str) -> Period:
    """Read a period.

    Args:
        text: such as `2026` or `2026-05`.
        kind: `year` or `month`, as the report has it.

    Raises:
        UsageError: no such period.
    """
    found = _MONTH.fullmatch(text.strip()) if kind == "month" else None
    if kind == "year" and _YEAR.fullmatch(text.strip()) and int(text) > 0:
        year = int(text)
        return Period(text.strip(), date(year, 1, 1), date(year, 12, 31))
    if found is not None and 1 <= int(found[2]) <= 12 and int(found[1]) > 0:
        return month_of(date(int(found[1]), int(found[2]), 1))
    example = "2026-05" if kind == "month" else "2026"
    raise UsageError(f"{text[:20]!r} is no {kind}", f"This report is about a {kind}; write it like {example}")


def month_of(day: date) -> Period:
    """Return the month of a day."""
    last = calendar.monthrange(day.year, day.month)[1]
    return Period(f"{day:%Y-%m}", day.replace(day=1), day.replace(day=last))


def period_before(kind: str, day: date) -> Period:
    """Return the last period that was over before a day."""
    if kind == "month":
        return month_of(day.replace(day=1) - timedelta(days=1))
    return read_period(f"{day.year - 1:04d}", "year")


def due_day(report: PeriodicReport, period: Period) -> date:
    """Return the last day to hand a report in: of the year or the month that follows its period."""
    return report_due(report, period.text)


def asked_reports(own: Iterable[Pack] = ()) -> list[tuple[Pack, PeriodicReport]]:
    """Return every report that the packs of the tool, and the firm's own, ask for, with its pack."""
    return [(pack, report) for pack in (*map(newest, pack_ids()), *own) for report in pack.reports]


def asked_by(pack: str, layout: str) -> tuple[Pack, PeriodicReport] | None:
    """Return the report that a pack asks for in a layout."""
    return next(((newest(pack), report) for report in newest(pack).reports if report.layout == layout), None)
