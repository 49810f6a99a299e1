"""What a look over the book finds: gaps, each with its rule and what to do, in groups, worst first."""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache
from typing import TYPE_CHECKING, Any

from records.rules.pack import STATUS_WORDS

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence
    from datetime import date

    from records.rules.pack import Pack, Source

# key -> heading, and whether what stands in it is wrong or only worth knowing; worst first
GROUPS: dict[str, tuple[str, bool]] = {
    "over": ("Over a limit, and nobody signed for it", True),
    "licence": ("No valid licence for the work", True),
    "incomplete": ("Records that lack what a rule asks", True),
    "held": ("Held visits past the time to finish a record", True),
    "late": ("Records completed too late", True),
    "notice": ("Copies that customers should have got", True),
    "advance": ("People who were not told before the work", True),
    "report": ("Reports past their day and not handed in", True),
    "label": ("No label revision on the record", True),
    "as-applied": ("Over a limit, known: sealed as applied and signed for", False),
    "notice-late": ("Copies that were given late, known", False),
    "held-young": ("Held visits, still in time", False),
    "held-open": ("Held visits, no rule sets a time", False),
    "notice-due": ("Copies for customers, still in time", False),
    "licence-ending": ("Licences that end soon or have ended", False),
    "calibration": ("Equipment used without a calibration that counts", False),
    "report-due": ("Reports due today", False),
    "report-other": ("Reports that this tool cannot write", False),
    "report-before": ("Reports about times before this book began", False),
    "unread": ("Asked only by rules that are known from memory", False),
    "imported": ("Imported records", False),
}
# key -> what to know about all of its gaps
HINTS = {
    "notice": "if it was given in time, log it with that moment (--at DAYTHH:MM); given now, it stays late",
    "held-open": "from 14 days after the work on, these count as wrong",
}


@dataclass(frozen=True, slots=True)
class Cited:
    """The rule behind a gap."""

    pack: str  # "" where it is no pack's
    citation: str
    status: str  # in words; "" where it is no fact of a pack
    url: str = ""

    def __str__(self) -> str:
        """Return the rule in one line."""
        told = f"{self.pack}: {self.citation}" if self.pack else self.citation
        return f"{told} ({self.status})" if self.status else told


@dataclass(frozen=True, slots=True)
class Gap:
    """One thing an inspector would find."""

    kind: str
    subject: str  # a serial, a held entry's number, a person's, site's or report's id
    day: str  # local day, or the month of a month's total; "" where it has none
    what: str
    rules: tuple[Cited, ...]
    do: str  # a command to copy
    weight: int = 0  # the more, the worse within its group


@dataclass(frozen=True, slots=True)
class Group:
    """Gaps of one kind, worst first."""

    key: str
    title: str
    wrong: bool
    gaps: tuple[Gap, ...]

    @property
    def hint(self) -> str:
        """Return what to know about all of them; "" where there is nothing."""
        return HINTS.get(self.key, "")


@dataclass(frozen=True, slots=True)
class Readiness:
    """All that was found in a span of days."""

    since: date
    until: date
    today: date
    records: int  # that stand, in the span
    packs: tuple[str, ...]  # that the firm works under
    groups: tuple[Group, ...]

    @property
    def wrong(self) -> int:
        """Return how much is wrong, notes left out."""
        return sum(len(group.gaps) for group in self.groups if group.wrong)

    @property
    def notes(self) -> int:
        """Return how much is only worth knowing."""
        return sum(len(group.gaps) for group in self.groups if not group.wrong)


@lru_cache(maxsize=4096)
def cited(pack: str, source: Source) -> Cited:
    """Return a rule with what is known of it."""
    return Cited(pack, source.citation, STATUS_WORDS[source.status], source.url)


def rules_of(found: Iterable[tuple[Pack, Source]]) -> tuple[Cited, ...]:
    """Return each rule once, those that were read first."""
    told = sorted(found, key=lambda pair: not pair[1].status.binds)
    return tuple(dict.fromkeys(cited(pack.id, source) for pack, source in told))


def grouped(gaps: Iterable[Gap]) -> tuple[Group, ...]:
    """Return gaps by kind, the worst kind and the worst of each kind first, then the oldest."""
    found: dict[str, list[Gap]] = {key: [] for key in GROUPS}
    for gap in gaps:
        found[gap.kind].append(gap)
    for few in found.values():
        few.sort(key=lambda gap: (-gap.weight, gap.day, gap.subject))
    return tuple(Group(key, title, wrong, tuple(found[key])) for key, (title, wrong) in GROUPS.items() if found[key])


def readiness_document(found: Readiness) -> dict[str, Any]:
    """Return what was found as a JSON document."""
    return {
        "schema": 1,
        "from": found.since.isoformat(),
        "to": found.until.isoformat(),
        "today": found.today.isoformat(),
        "packs": list(found.packs),
        "records": found.records,
        "wrong": found.wrong,
        "notes": found.notes,
        "groups": [
            {
                "kind": group.key,
                "title": group.title,
                "wrong": group.wrong,
                "count": len(group.gaps),
                "hint": group.hint or None,
                "gaps": [_gap(gap) for gap in group.gaps],
            }
            for group in found.groups
        ],
    }


def _gap(gap: Gap) -> dict[str, Any]:
    return {
        "subject": gap.subject,
        "day": gap.day or None,
        "what": gap.what,
        "rules": rules_document(gap.rules),
        "do": gap.do,
    }


def rules_document(rules: Sequence[Cited]) -> list[dict[str, str | None]]:
    """Return rules as JSON."""
    return [
        {"pack": rule.pack or None, "citation": rule.citation, "status": rule.status or None, "url": rule.url or None}
        for rule in rules
    ]
