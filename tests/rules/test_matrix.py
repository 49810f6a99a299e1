"""Every cell of the comparison of record rules (`matrix.csv`): the pack asks what its rule asks, no more and no less.

The table names rule, page and how well each cell is known; each test is named by pack, field and cell, so that a wrong
pack fails by name.
"""

from __future__ import annotations

import csv
from dataclasses import dataclass
from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING

import pytest

from records.rules.asking import Lack, Part, RecordParts, TreatmentPart, lacks
from records.rules.fields import CONDITIONS, FIELDS, Level
from records.rules.pack import Status
from records.rules.packs import COMMON, newest, pack_ids, packs_for

if TYPE_CHECKING:
    from collections.abc import Iterator
    from collections.abc import Set as AbstractSet

    from records.rules.pack import Pack, Source

TABLE = Path(__file__).with_name("matrix.csv")
STATUSES = {"V": Status.VERIFIED, "V2": Status.SECONDARY, "M": Status.MEMORY, "R?": Status.MEMORY}
RESTRICTED = "restricted_use"
DAY = date(2026, 5, 14)
# Every condition that can hold together, once for broadcast and once for spot work, and the quiet visit: nothing holds.
BROADCAST = frozenset(CONDITIONS) - {"spot", "undiluted", "spot_under_tenth_acre"}
SPOT = frozenset(CONDITIONS) - {"broadcast", "diluted", "other_diluent", "liquid", "spot_under_tenth_acre"}
WORLDS: tuple[frozenset[str], ...] = (
    frozenset(),
    frozenset({RESTRICTED}),
    BROADCAST,
    SPOT,
    BROADCAST - {RESTRICTED},
    SPOT - {RESTRICTED},
)


@dataclass(frozen=True, slots=True)
class Cell:
    """One line of the table."""

    pack: str
    rule: str
    field: str
    cell: str
    status: str
    any_of: tuple[frozenset[str], ...]
    when: frozenset[str]
    unless: frozenset[str]
    note: str

    @property
    def is_field(self) -> bool:
        """Tell whether the line is about something a record holds, not about what the rule is for."""
        return self.field in FIELDS and self.cell not in {"(scope)", "(ret.)"}

    @property
    def is_asked(self) -> bool:
        return self.is_field and self.cell != "-"

    @property
    def fields(self) -> frozenset[str]:
        return frozenset().union(*self.any_of)

    @property
    def name(self) -> str:
        conditions = "".join(f"-if-{word}" for word in sorted(self.when - {RESTRICTED}))
        return f"{self.pack}-{self.field}-{self.cell}{conditions}"


def _cell(line: dict[str, str]) -> Cell:
    any_of = (line["any_of"] or line["field"]).split("|")
    return Cell(
        pack=line["pack"],
        rule=line["rule"],
        field=line["field"],
        cell=line["cell"],
        status=line["status"],
        any_of=tuple(frozenset(alternative.split("+")) for alternative in any_of),
        when=frozenset(line["when"].split()),
        unless=frozenset(line["unless"].split()),
        note=line["note"],
    )


with TABLE.open(encoding="utf-8", newline="") as _lines:
    CELLS = [_cell(line) for line in csv.DictReader(row for row in _lines if not row.startswith("#"))]
ASKED = [cell for cell in CELLS if cell.is_asked]
NOT_ASKED = [cell for cell in CELLS if cell.is_field and not cell.is_asked]
ALTERNATIVES = [(cell, alternative) for cell in ASKED if len(cell.any_of) > 1 for alternative in cell.any_of]


def _record(true: AbstractSet[str], without: AbstractSet[str] = frozenset()) -> RecordParts:
    """Return a record that holds every field there is but some, where these conditions hold."""

    def part(level: Level, at: str) -> Part:
        has = {key for key, field in FIELDS.items() if field.level is level} - without
        return Part(at, has=has, true=set(true), name="Brindle" if level is Level.LINE else "")

    line = part(Level.LINE, "treatments[0].products[0]")
    return RecordParts(part(Level.VISIT, ""), [TreatmentPart(part(Level.TREATMENT, "treatments[0]"), [line])])


def _lacking(pack: Pack, true: AbstractSet[str], without: AbstractSet[str] = frozenset()) -> list[Lack]:
    return list(lacks(_record(true, without), [pack]))


def _of(cell: Cell, found: list[Lack]) -> list[Lack]:
    """Return what was found about the fields of a cell."""
    return [lack for lack in found if any(frozenset(need.asked.fields) == cell.fields for need in lack.needs)]


def _ids(cells: list[Cell]) -> list[str]:
    return [cell.name for cell in cells]


def test_the_table_is_whole() -> None:
    """Twenty-seven rules, each with every field of the comparison, told in words that the packs know."""
    rules = {cell.rule for cell in CELLS}
    compared = {cell.field for cell in CELLS if cell.rule == "MN" and cell.cell != "(a)"}
    assert (len(rules), len(compared)) == (27, 32)
    for rule in rules:
        assert compared <= {cell.field for cell in CELLS if cell.rule == rule}, rule
    assert not {name for cell in ASKED for name in cell.fields} - set(FIELDS)
    assert not {word for cell in CELLS for word in cell.when | cell.unless} - set(CONDITIONS)
    assert all(cell.status in STATUSES for cell in ASKED)
    assert {cell.pack for cell in CELLS} <= set(pack_ids())


@pytest.mark.parametrize("key", pack_ids())
def test_a_full_record_lacks_nothing(key: str) -> None:
    """No pack asks for anything that a full record could not hold, whatever conditions hold."""
    for true in WORLDS:
        assert not _lacking(newest(key), true)


@pytest.mark.parametrize("cell", ASKED, ids=_ids(ASKED))
def test_taken_away_is_told(cell: Cell) -> None:
    """The field taken away: told with field, rule and citation; binding only where the text was read."""
    pack = newest(cell.pack)
    found = _of(cell, _lacking(pack, cell.when, cell.fields))
    assert found, f"{cell.pack} does not ask for {cell.field}"
    (need,) = [need for lack in found for need in lack.needs if frozenset(need.asked.fields) == cell.fields]
    assert found[0].field in cell.fields
    assert need.told().startswith(f"{cell.pack}: ")
    assert need.source.citation
    assert need.source.citation in need.told()
    assert frozenset(frozenset(one) for one in need.asked.any_of) == frozenset(cell.any_of)
    assert need.source.status is STATUSES[cell.status]
    assert found[0].binds is (cell.status in {"V", "V2"})


@pytest.mark.parametrize("cell", ASKED, ids=_ids(ASKED))
def test_only_while_its_conditions_hold(cell: Cell) -> None:
    """One condition off, or an exception on: the field taken away is not told for this cell."""
    pack = newest(cell.pack)
    for off in cell.when:
        assert not _asking_as(cell, _lacking(pack, cell.when - {off}, cell.fields)), off
    for exception in cell.unless:
        assert not _asking_as(cell, _lacking(pack, cell.when | {exception}, cell.fields)), exception


def _asking_as(cell: Cell, found: list[Lack]) -> list[Lack]:
    """Return what was found about a cell under its own conditions: another line may ask the same under others."""
    same_else = [other for other in ASKED if other.pack == cell.pack and other.fields == cell.fields]
    conditions = {(other.when, other.unless) for other in same_else}
    return _of(cell, found) if len(conditions) == 1 else []


@pytest.mark.parametrize("cell", ASKED, ids=_ids(ASKED))
def test_required_whatever_else_holds(cell: Cell) -> None:
    """Other conditions make no difference to a cell: spot or broadcast, diluted or not, restricted or not."""
    pack = newest(cell.pack)
    for world in WORLDS:
        true = (world | cell.when) - cell.unless
        assert _of(cell, _lacking(pack, true, cell.fields)), sorted(true)


@pytest.mark.parametrize(
    ("cell", "alternative"),
    ALTERNATIVES,
    ids=[f"{cell.name}-by-{'+'.join(sorted(alternative))}" for cell, alternative in ALTERNATIVES],
)
def test_one_alternative_is_enough(cell: Cell, alternative: frozenset[str]) -> None:
    """Each alternative alone will do, and only whole."""
    pack = newest(cell.pack)
    others = cell.fields - alternative
    assert not _of(cell, _lacking(pack, cell.when, others))
    for part in alternative if len(alternative) > 1 else ():
        assert _of(cell, _lacking(pack, cell.when, others | {part})), part


@pytest.mark.parametrize("cell", NOT_ASKED, ids=_ids(NOT_ASKED))
def test_not_asked_is_not_missed(cell: Cell) -> None:
    """A field that the rule does not ask for may be absent, whatever conditions hold."""
    for true in WORLDS:
        assert not _lacking(newest(cell.pack), true, {cell.field})


@pytest.mark.parametrize("key", sorted({cell.pack for cell in CELLS}))
def test_nothing_beyond_the_table(key: str) -> None:
    """A pack asks for nothing that no cell of its rule asks for, under no conditions that no cell names."""
    pack = newest(key)
    scope = {RESTRICTED} if pack.products == "restricted" else set()  # said once, for the whole pack
    told = {(frozenset(cell.any_of), cell.when - scope, cell.unless) for cell in ASKED if cell.pack == key}
    for asked in pack.asked:
        made = (frozenset(map(frozenset, asked.any_of)), frozenset(asked.when), frozenset(asked.unless))
        assert made in told, asked.field


@pytest.mark.parametrize("key", sorted({cell.pack for cell in CELLS}))
def test_scope_by_restricted_use(key: str) -> None:
    """A rule whose every cell is for restricted-use products only judges nothing else."""
    cells = [cell for cell in ASKED if cell.pack == key]
    is_restricted = all(RESTRICTED in cell.when for cell in cells)
    pack = newest(key)
    assert (pack.products == "restricted") is is_restricted
    if is_restricted:
        assert not _lacking(pack, BROADCAST - {RESTRICTED}, set(FIELDS))
        day = pack.effective_to or DAY
        assert pack in packs_for([key], pack.state, day, has_restricted=True)
        assert pack not in packs_for([key], pack.state, day, has_restricted=False)


def _sources(pack: Pack) -> Iterator[Source]:
    """Yield the source of every single fact of a pack."""
    for facts in (pack.asked, pack.retention, pack.production, pack.copies, pack.reports, pack.signs, pack.advance):
        yield from (fact.source for fact in facts)
    yield from (duty.source for duty in pack.duties)
    yield from (clock.source for clock in (pack.complete, pack.hand_over) if clock is not None)
    if pack.fertilizer is not None:
        yield from (source for _, _, _, source in pack.fertilizer.facts())


@pytest.mark.parametrize("key", pack_ids())
def test_every_fact_has_its_source(key: str) -> None:
    """Citation, whole address, day read and status for every fact; no source that no fact stands on.

    What is from memory was read nowhere: it has neither address nor day.
    """
    pack = newest(key)
    used = set()
    for source in _sources(pack):
        assert source.citation
        if source.status is Status.MEMORY:
            assert (source.url, source.seen) == ("", None)
        else:
            assert source.url.partition("://")[2].count("/") >= 1, source.url
            assert "..." not in source.url
            assert source.seen is not None
        assert source.status in set(Status) - {Status.FIRM}
        used.add(source.citation)
    assert {source.citation for _, source in pack.sources} == used


def test_common_is_the_strict_union() -> None:
    """What the common pack asks is asked by a rule that was read, and every one of its fields is told when absent."""
    common = newest(COMMON)
    rules = [newest(cell.pack) for cell in ASKED if cell.status in {"V", "V2"}]
    asked_somewhere = {name for pack in rules for asked in pack.asked for name in asked.fields}
    for asked in common.asked:
        assert set(asked.fields) <= asked_somewhere
        assert asked.source.status.binds, asked.field
        (lack, *_) = [one for one in _lacking(common, set(asked.when), set(asked.fields)) if one.field == asked.field]
        assert lack.binds
