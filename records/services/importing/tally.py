"""Where every line of an imported table went."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Mapping


@dataclass(slots=True)
class Tally:
    """Every line read is in exactly one of: complete, incomplete, duplicate, already in the book, not a use, refused.

    Rows are numbered as a spreadsheet numbers them: the header is row 1. Rows without any text are not lines.

    Attributes:
        read: lines read.
        complete: lines imported whose every cell that the layout needs is filled.
        incomplete: lines imported with gaps; which fields, and how often, is in `gaps`.
        duplicate: row and the earlier row of the same file that it equals in every column but the ignored ones.
        already: rows that an earlier import sealed into this book; nothing is written for them.
        not_use: row and period of lines that report that nothing was used.
        refused: row and reason.
        records: records sealed (or that would be, in a dry run).
        serials: first and last serial of each year.
        lacking: fields that the source has no column for; missing on every record and shown so.
    """

    layout: str
    file: str
    dry_run: bool = False
    read: int = 0
    complete: int = 0
    incomplete: int = 0
    duplicate: list[tuple[int, int]] = field(default_factory=list)
    already: int = 0
    not_use: list[tuple[int, str]] = field(default_factory=list)
    refused: list[tuple[int, str]] = field(default_factory=list)
    gaps: dict[str, int] = field(default_factory=dict)
    lacking: tuple[str, ...] = ()
    records: int = 0
    visits: int = 0
    periods: int = 0
    applications: int = 0
    serials: dict[int, tuple[str, str]] = field(default_factory=dict)

    @property
    def imported(self) -> int:
        """Return the lines imported, with or without gaps."""
        return self.complete + self.incomplete

    def check(self) -> None:
        """Make sure that every line is accounted for.

        Raises:
            AssertionError: the parts do not add up to the lines read: a fault in this program.
        """
        parts = self.imported + len(self.duplicate) + self.already + len(self.not_use) + len(self.refused)
        if parts != self.read or self.records != self.visits + self.periods:
            msg = f"{self.file}: {self.read} lines read, {parts} accounted for"
            raise AssertionError(msg)

    def lines(self) -> list[str]:
        """Return the tally as it is printed."""
        verb = "would be imported" if self.dry_run else "imported"
        rows = [
            (self.read, "lines read"),
            (self.imported, verb),
            (self.complete, "  of them with every needed cell filled"),
            (self.incomplete, "  of them incomplete (a needed cell is empty or no use)"),
            (len(self.duplicate), "duplicates of an earlier line, left out"),
            (self.already, "already in the book"),
            (len(self.not_use), "not a use (a report that nothing was used)"),
            (len(self.refused), "refused"),
        ]
        width = max(len(f"{count:,}") for count, _ in rows)
        out = [f"{count:>{width},}  {text}" for count, text in rows]
        out.append(
            f"{self.records:>{width},}  records: {self.visits:,} dated visits, {self.periods:,} totals of a month;"
            f" {self.applications:,} applications"
        )
        out += [f"{'':>{width}}  sealed as {first} to {last}" for _, (first, last) in sorted(self.serials.items())]
        if self.gaps:
            out.append(f"Gaps: {', '.join(f'{name} {count:,}' for name, count in sorted(self.gaps.items()))}")
        if self.lacking:
            out.append(f"The source has no column for: {', '.join(self.lacking)}; shown as missing on every record")
        return out

    def document(self) -> Mapping[str, object]:
        """Return the tally as one JSON object."""
        return {
            "schema": 1,
            "layout": self.layout,
            "file": self.file,
            "dry_run": self.dry_run,
            "read": self.read,
            "imported": self.imported,
            "complete": self.complete,
            "incomplete": self.incomplete,
            "duplicate": [{"row": row, "same_as": first} for row, first in self.duplicate],
            "already": self.already,
            "not_use": [{"row": row, "period": period} for row, period in self.not_use],
            "refused": [{"row": row, "reason": reason} for row, reason in self.refused],
            "gaps": dict(sorted(self.gaps.items())),
            "lacking": list(self.lacking),
            "records": self.records,
            "visits": self.visits,
            "periods": self.periods,
            "applications": self.applications,
            "serials": [{"first": first, "last": last} for _, (first, last) in sorted(self.serials.items())],
        }
