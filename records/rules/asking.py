"""What a record holds, and what packs ask of it: either/or groups and conditions worked out, each lack with its rules.

A record's parts are told as plain words (`Part`), so that a visit being closed and a sealed body years later are judged
by the same code.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from functools import lru_cache
from typing import TYPE_CHECKING, NamedTuple

from records.rules.fields import FIELDS, Level

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from records.rules.pack import Asked, Pack, Source


@dataclass(slots=True)
class Part:
    """What one part of a record holds: fields that are there, reasons for what was not measured, what is true of it."""

    at: str
    has: set[str] = field(default_factory=set)
    reasons: dict[str, str] = field(default_factory=dict)  # field -> why it was not measured
    true: set[str] = field(default_factory=set)  # conditions that hold
    name: str = ""  # of the product, for messages
    is_pesticide: bool = True  # of a product line: what is none is asked by rules about fertilizer only


@dataclass(slots=True)
class TreatmentPart:
    """One treatment with its product lines; only lines that rules are about (pesticides, fertilizers) are listed."""

    part: Part
    lines: list[Part] = field(default_factory=list)


@dataclass(slots=True)
class RecordParts:
    """A whole record, told in the words of `fields.py`."""

    visit: Part
    treatments: list[TreatmentPart] = field(default_factory=list)


@dataclass(frozen=True, slots=True)
class Need:
    """One thing asked by one pack."""

    pack: Pack
    asked: Asked

    @property
    def source(self) -> Source:
        """Return where it stands."""
        return self.asked.source

    def told(self) -> str:
        """Return pack and citation in one line."""
        return f"{self.pack.id}: {self.source.cited}"


@dataclass(frozen=True, slots=True)
class Lack:
    """One thing that packs ask for and the record does not hold."""

    field: str
    at: str  # the part of the record
    needs: tuple[Need, ...]  # all packs that ask for it there, the stricter first
    product: str = ""
    reason: str = ""  # why it was not measured, where that is stated

    @property
    def binds(self) -> bool:
        """Tell whether any of the rules that ask for it was read, so that it may stop a visit."""
        return any(need.source.status.binds for need in self.needs)


class _Needs(NamedTuple):
    """What is asked of one kind of part."""

    always: frozenset[str]  # fields asked for plainly: where all are there, nothing of `plain` has to be looked at
    plain: tuple[Need, ...]
    others: tuple[Need, ...]  # either/or groups


@lru_cache(maxsize=256)
def _quick(packs: tuple[Pack, ...]) -> dict[Level, _Needs]:
    """Return what packs ask of each part of a record, what is nearly always there set apart."""
    found = {}
    for level, needs in _needs(packs).items():
        plain = tuple(need for need in needs if len(need.asked.fields) == 1 and not need.asked.when)
        others = tuple(need for need in needs if need not in plain)
        found[level] = _Needs(frozenset(need.asked.field for need in plain), plain, others)
    return found


@lru_cache(maxsize=256)
def _needs(packs: tuple[Pack, ...]) -> dict[Level, tuple[Need, ...]]:
    """Return what packs ask of each part of a record."""
    found: dict[Level, list[Need]] = {level: [] for level in Level}
    for pack in packs:
        for asked in pack.asked:
            found[level_of(asked)].append(Need(pack, asked))
    return {level: tuple(needs) for level, needs in found.items()}


def level_of(asked: Asked) -> Level:
    """Return the part that something asked is looked for in: the most detailed one of its fields."""
    return max((FIELDS[name].level for name in asked.fields), key=list(Level).index)


_ABOUT = {"restricted": "restricted_use", "fertilizer": "fertilizer"}  # what a whole pack is about -> condition


def _speaks_of(need: Need, part: Part) -> bool:
    """Tell whether a rule is about such a line at all."""
    return part.is_pesticide or need.pack.products == "fertilizer"


def _is_on(need: Need, true: set[str]) -> bool:
    asked = need.asked
    if (about := _ABOUT.get(need.pack.products)) is not None and about not in true:
        return False
    return true.issuperset(asked.when) and true.isdisjoint(asked.unless)


def lacks(record: RecordParts, packs: Sequence[Pack]) -> Iterator[Lack]:
    """Yield what packs ask for and the record does not hold, one lack for each field and part.

    Args:
        record: what it holds.
        packs: that judge it.
    """
    needs = _quick(tuple(packs))
    yield from _of_part(record.visit, [], needs[Level.VISIT])
    for treatment in record.treatments:
        yield from _of_part(treatment.part, [record.visit], needs[Level.TREATMENT])
        for line in treatment.lines:
            yield from _of_part(line, [treatment.part, record.visit], needs[Level.LINE])


def _of_part(part: Part, above: list[Part], needs: _Needs) -> Iterator[Lack]:
    has = part.has.union(*(other.has for other in above)) if above else part.has
    lacking: dict[str, list[Need]] = {}
    for need in needs.others if needs.always <= has else (*needs.plain, *needs.others):
        any_of = need.asked.any_of
        if any(has.issuperset(alternative) for alternative in any_of):
            continue
        if (
            _speaks_of(need, part)
            and _is_on(need, part.true)
            and not (need.asked.if_applicable and need.asked.field in part.reasons)
        ):
            lacking.setdefault(need.asked.field, []).append(need)
    for name, found in lacking.items():
        found.sort(key=lambda need: (not need.source.status.binds, len(need.asked.any_of)))
        yield Lack(name, part.at, tuple(found), part.name, part.reasons.get(name, ""))


def asked_fields(record: RecordParts, packs: Sequence[Pack]) -> dict[str, bool]:
    """Return every field that packs ask of a record, with whether all its parts hold it; for completeness tables.

    An either/or group counts under its first field. Fields whose conditions do not hold are left out.

    Args:
        record: what it holds.
        packs: that judge it.
    """
    found: dict[str, bool] = {}
    needs = _needs(tuple(packs))
    parts = [(record.visit, Level.VISIT)]
    for treatment in record.treatments:
        parts.append((treatment.part, Level.TREATMENT))
        parts.extend((line, Level.LINE) for line in treatment.lines)
    for part, level in parts:
        for need in needs[level]:
            if _speaks_of(need, part) and _is_on(need, part.true):
                found.setdefault(need.asked.field, True)
    for lack in lacks(record, packs):
        found[lack.field] = False
    return {name: found[name] for pack in packs for name in dict.fromkeys(a.field for a in pack.asked) if name in found}


def needed_fields(packs: Sequence[Pack]) -> dict[str, str]:
    """Return the fields that packs cannot do without, each with the id of one that asks for it.

    Neither under a condition, nor in place of another, nor where it applies: those can be told only of a whole entry.
    """
    return {
        asked.field: pack.id
        for pack in packs
        if pack.products == "all"
        for asked in pack.asked
        if asked.fields == (asked.field,) and not (asked.when or asked.unless or asked.if_applicable)
        if asked.source.status.binds
    }
