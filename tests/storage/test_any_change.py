"""Whatever value of whatever row somebody changes behind the book's back, by a single character or number: it shows."""

from __future__ import annotations

import shutil
import sqlite3
from contextlib import closing
from typing import TYPE_CHECKING, Any

import pytest
from hypothesis import HealthCheck, assume, given, settings
from hypothesis import strategies as st

from records.errors import RecordsError
from records.storage.base import Base
from records.storage.integrity import verify
from records.storage.schema import PROTECTED, TRIGGERS
from records.storage.unit_of_work import SqlBook
from tests.bodies import spot_treatment
from tests.storage.chain import NOW, append, fill, later, remove, visit

if TYPE_CHECKING:
    from pathlib import Path

COLUMNS = [(table, column.name) for table in PROTECTED for column in Base.metadata.tables[table].columns]


@pytest.fixture(scope="module")
def whole(empty_book: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Return a book with rows in every table: two years, one of them removed, amended, voided and held ones."""
    path = shutil.copyfile(empty_book, tmp_path_factory.mktemp("whole") / "book.db")
    book = SqlBook(path)
    fill(
        book,
        visit(1, "2026-04-01"),
        visit(2, "2025-06-01"),
        visit(3, "2026-06-02", treatments=[spot_treatment()]),
        visit(4, "2026-04-02"),
    )
    with book.write() as unit:
        for key, rate in (("brindle-4l", "40"), ("brindle-4l", "41"), ("kelbrook", "7")):
            unit.catalogue.add("product", key, {"rate": rate}, NOW)
        for number, kind in (("H-000001", "held"), ("H-000001", "dropped"), ("H-000002", "held")):
            unit.held.add(
                number, kind, NOW, document={"a": 1}, findings=[{"code": "x"}], ref="r", person="mo", serial="s"
            )
        append(unit, later(visit(1, "2026-04-01"), "amended", remarks="x"), "2026-000001", 2, "amended")
        append(unit, later(visit(3, "2026-06-02"), "voided"), "2026-000002", 2, "voided")
        unit.commit()
    remove(book, 2025)
    assert verify(book).problems == []
    return path


def other(value: Any, data: st.DataObject, *, is_number: bool) -> Any:  # noqa: ANN401 - a value of any column
    """Return another value of the same kind: one character, or one number, away."""
    if value is None:
        return 1 if is_number else data.draw(st.sampled_from(["x", "2026-05-14"]))
    if isinstance(value, int):
        return value + data.draw(st.sampled_from([-1, 1, 1000]))
    if not value:
        return "x"
    at = data.draw(st.integers(0, len(value) - 1))
    letter = data.draw(st.characters(codec="ascii", exclude_characters="\0").filter(lambda sign: sign != value[at]))
    return value[:at] + letter + value[at + 1 :]


@pytest.mark.parametrize(("table", "column"), COLUMNS, ids=lambda one: one)
@settings(max_examples=4, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(data=st.data())
def test_a_changed_value_shows(whole: Path, tmp_path: Path, table: str, column: str, data: st.DataObject) -> None:
    """`verify` names a problem for a change of any one value of any row of any column."""
    path = shutil.copyfile(whole, tmp_path / "changed.db")
    with closing(sqlite3.connect(path, isolation_level=None)) as connection:
        keys = [one.name for one in Base.metadata.tables[table].primary_key.columns]
        listed = ", ".join(f'"{key}"' for key in keys)
        rows = connection.execute(f'SELECT {listed}, "{column}" FROM {table}').fetchall()  # noqa: S608 - ours
        row = data.draw(st.sampled_from(rows))
        is_number = Base.metadata.tables[table].columns[column].type.python_type is int
        changed = other(row[-1], data, is_number=is_number)
        for name in TRIGGERS:
            connection.execute(f"DROP TRIGGER {name}")
        connection.execute("PRAGMA ignore_check_constraints = ON")
        where = " AND ".join(f'"{key}" IS ?' for key in keys)
        try:
            connection.execute(f'UPDATE {table} SET "{column}" = ? WHERE {where}', (changed, *row[:-1]))  # noqa: S608
        except sqlite3.IntegrityError:
            assume(False)  # noqa: FBT003 - the book itself refuses that value
        for text in TRIGGERS.values():
            connection.execute(text)
    try:
        assert verify(SqlBook(path)).problems
    except RecordsError as error:
        assert "\n" not in str(error)  # noqa: PT017 - a problem, too
