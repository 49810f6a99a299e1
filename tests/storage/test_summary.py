"""The yearly totals against the same totals added up in plain Python."""

from __future__ import annotations

from collections import Counter
from typing import TYPE_CHECKING, Any

from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from records.services.ports import ActiveRow, FlaggedRecord, TargetRow
from records.storage.types import NANO
from records.storage.unit_of_work import SqlBook
from tests.bodies import application, spot_treatment, treatment
from tests.storage.chain import append, fill, later, visit
from tests.summary_rows import use

if TYPE_CHECKING:
    from pathlib import Path

    from records.services.ports import SummaryRows


def summary(book: SqlBook, year: int = 2026) -> SummaryRows:
    with book.read() as unit:
        return unit.records.summary(year)


def test_an_empty_year(book: SqlBook) -> None:
    """A year without records has no rows and no seal."""
    assert not any(summary(book))


def test_one_visit(book: SqlBook) -> None:
    """Two equal visits double every sum; each combination is one row."""
    made = fill(book, visit(1), visit(2), visit(3, "2025-05-14"))
    rows = summary(book)
    assert (rows.records, rows.voided, rows.flagged, rows.head) == (2, 0, [], made[-1].seal)
    uses = {row.product_id: row for row in rows.uses}
    assert len(uses) == len(rows.uses) == 3
    assert uses["brindle-4l"] == use(applications=2, amount_nano=9_240_000_000, area_nano=8400 * NANO)
    assert uses["sedgeline-75"].form == "dry"
    assert set(rows.targets) == {
        TargetRow("ground ivy", 4, 4 * 4200 * NANO, 0),
        TargetRow("yellow nutsedge", 2, 600 * NANO, 0),
    }
    assert set(rows.actives) == {
        ActiveRow("brindle-4l", "Brindle 4L", "99999-41", "brindlac acid", "ae", 288_750_000, 0),
        ActiveRow("sedgeline-75", "Sedgeline 75 WG", "99999-63", "carvesulfuron", "ai", 1_190_496, 0),
    }
    assert {type(row[place]) for row in rows.uses for place in (6, 14)} == {bool}


def test_what_is_unknown_is_counted_not_added(book: SqlBook) -> None:
    """A missing amount, area or active is a count of its own beside sums of what is known."""
    unknown = application(amount=None, area=None, actives=[{"name": "brindlac acid", "as": None, "pounds": None}])
    fill(book, visit(1, treatments=[treatment(applications=[unknown])], applicator=None, site=None))
    rows = summary(book)
    (use,) = rows.uses
    assert (use.applications, use.amount_nano, use.area_nano, use.no_amount, use.no_area) == (1, 0, 0, 1, 1)
    assert (use.amount_unit, use.applicator_id, use.county, use.zip) == (None, None, None, None)
    assert rows.targets == [TargetRow("ground ivy", 1, 0, 1)]
    assert rows.actives == [ActiveRow("brindle-4l", "Brindle 4L", "99999-41", "brindlac acid", "", 0, 1)]


def test_a_line_that_sums_several_counts_as_so_many_without(book: SqlBook) -> None:
    """A month's total of 16 applications without area is 16 without area: as many as are counted, not one."""
    active = [{"name": "brindlac acid", "as": "ae", "pounds": None}]
    unknown = application(amount=None, area=None, actives=active, count=16)
    fill(book, visit(1, treatments=[treatment(applications=[unknown])]))
    rows = summary(book)
    (use,) = rows.uses
    assert (use.applications, use.no_amount, use.no_area) == (16, 16, 16)
    assert rows.targets == [TargetRow("ground ivy", 16, 0, 16)]
    assert [row.unknown for row in rows.actives] == [16]


def test_only_what_stands_is_counted(book: SqlBook) -> None:
    """An amended record counts as amended, once; a voided one is counted as voided only."""
    fill(book, visit(1), visit(2), visit(3), visit(4, "2025-05-14"))
    with book.write() as unit:
        append(unit, later(visit(1), "amended", treatments=[spot_treatment()]), "2026-000001", 2, "amended")
        append(unit, later(visit(1), "amended", treatments=[treatment()]), "2026-000001", 3, "amended")
        append(unit, later(visit(2), "voided"), "2026-000002", 2, "voided")
        append(unit, later(visit(4, "2025-05-14"), "voided"), "2025-000001", 2, "voided")
        unit.commit()
    rows = summary(book)
    assert Counter({row.product_id: row.applications for row in rows.uses}) == {
        "brindle-4l": 2,
        "spreadwell": 2,
        "sedgeline-75": 1,
    }
    assert (rows.records, rows.voided) == (2, 1)
    assert (summary(book, 2025).records, summary(book, 2025).voided, summary(book, 2025).uses) == (0, 1, [])


def test_records_to_be_named(book: SqlBook) -> None:
    """Deviations, incomplete and late records are named in the order of their serials, unless voided."""
    deviation = {"reason": "wind rose", "signed_by": {"id": "ada", "name": "Ada Brook", "licence": None}}
    missing = [
        {"code": "missing", "severity": "stop", "at": "weather", "message": "", "limit": "", "found": "", "source": ""}
    ]
    fill(
        book,
        visit(1, late_days=3),
        visit(2, findings=missing),
        visit(3),
        visit(4, deviation=deviation),
        visit(5, late_days=1),
    )
    with book.write() as unit:
        append(unit, later(visit(5, late_days=1), "voided"), "2026-000005", 2, "voided")
        unit.commit()
    rows = summary(book)
    assert rows.flagged == [
        FlaggedRecord("2026-000001", deviation=False, incomplete=False, late_days=3),
        FlaggedRecord("2026-000002", deviation=False, incomplete=True, late_days=0),
        FlaggedRecord("2026-000004", deviation=True, incomplete=False, late_days=0),
    ]
    assert {row.deviation for row in rows.uses} == {False, True}


lines = st.builds(
    application,
    amount=st.sampled_from([None, "4.62 fl oz", "0.000000001 fl oz", "1 pt"]),
    area=st.sampled_from([None, "4200 sq ft", "0.5 sq ft"]),
    targets=st.lists(st.sampled_from(["ground ivy", "clover", "plantain"]), max_size=3),
)
visits = st.lists(
    st.tuples(st.sampled_from(["2026-04-30", "2026-05-01", "2025-12-31"]), st.lists(lines, max_size=3)), max_size=6
)


@settings(max_examples=25, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(visits)
def test_sums_equal_those_of_plain_python(empty_book: Path, tmp_path: Path, made: list[tuple[str, list[Any]]]) -> None:
    """For any visits, counts and sums are those of adding up the bodies one by one."""
    path = tmp_path / "book.db"
    path.write_bytes(empty_book.read_bytes())
    book = SqlBook(path)
    fill(book, *(visit(n, day, treatments=[treatment(applications=found)]) for n, (day, found) in enumerate(made)))
    rows = summary(book)
    here = [(day, line) for day, found in made for line in found if day.startswith("2026")]
    assert sum(row.applications for row in rows.uses) == len(here)
    assert sum(row.no_amount for row in rows.uses) == sum(line["amount"] is None for _, line in here)
    expected: Counter[tuple[str, str | None]] = Counter()
    for day, line in here:
        number, _, unit = (line["amount"] or "0").partition(" ")
        whole, _, decimals = number.partition(".")
        expected[day[:7], unit or None] += int(whole) * NANO + int(decimals.ljust(9, "0"))
    found_sums: Counter[tuple[str, str | None]] = Counter()
    for row in rows.uses:
        found_sums[row.period, row.amount_unit] += row.amount_nano
    assert found_sums == expected
    targets = Counter(target for _, line in here for target in set(line["targets"]))
    assert {row.target: row.applications for row in rows.targets} == targets
    assert len({row[:15] for row in rows.uses}) == len(rows.uses)
