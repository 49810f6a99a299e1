"""Functions that the statements need and that SQLite and PostgreSQL write differently."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from sqlalchemy import BigInteger, Text, bindparam, literal_column
from sqlalchemy.ext.compiler import compiles
from sqlalchemy.sql.functions import GenericFunction

if TYPE_CHECKING:
    from sqlalchemy import ColumnElement
    from sqlalchemy.sql.compiler import SQLCompiler

__all__ = ["casefold", "equipment", "is_listed", "part", "parts", "position"]


class casefold(GenericFunction[str]):  # noqa: N801 - SQL's own spelling
    """A text in the form in which texts are compared in whatever case."""

    type = Text()
    inherit_cache = True
    name = "casefold"


class position(GenericFunction[int]):  # noqa: N801 - SQL's own spelling
    """Where in a text another begins, counted from 1; 0 where it does not stand in it."""

    type = BigInteger()
    inherit_cache = True
    name = "instr"


class numbers_of(GenericFunction[int]):  # noqa: N801 - SQL's own spelling
    """The whole numbers of a JSON list, as a subquery."""

    type = BigInteger()
    inherit_cache = True
    name = "numbers_of"


class part(GenericFunction[str]):  # noqa: N801 - SQL's own spelling
    """One part of a JSON text, by the names that lead to it: a text as it is, anything else as JSON."""

    type = Text()
    inherit_cache = True
    name = "part"

    def __init__(self, column: Any, *path: str) -> None:  # noqa: ANN401 - a mapped column of any row
        """Name the column and the way to the part; the names are ours, plain words."""
        self.path = path
        super().__init__(column, *(literal_column(f"'{name}'") for name in path))


class parts(GenericFunction[str]):  # noqa: N801 - SQL's own spelling
    """The first members of a JSON list, as a JSON list."""

    type = Text()
    inherit_cache = True
    name = "parts"

    def __init__(self, column: Any, count: int) -> None:  # noqa: ANN401 - a mapped column of any row
        """Name the column and how many of its members."""
        super().__init__(column, *(literal_column(str(place)) for place in range(count)))


class equipment(GenericFunction[str]):  # noqa: N801 - SQL's own spelling
    """The ids of the equipment of the first treatments of a body, null where there is none, as a JSON list."""

    type = Text()
    inherit_cache = True
    name = "equipment"

    def __init__(self, column: Any, count: int) -> None:  # noqa: ANN401 - a mapped column of any row
        """Name the column and how many of its treatments."""
        super().__init__(column, *(literal_column(str(place)) for place in range(count)))


def is_listed(column: Any, name: str) -> ColumnElement[bool]:  # noqa: ANN401 - a mapped column of any row
    """Return the condition that a column's number is in the JSON list that a parameter holds."""
    condition: ColumnElement[bool] = column.op("IN", is_comparison=True)(numbers_of(bindparam(name)))
    return condition


def _arguments(element: GenericFunction[Any], compiler: SQLCompiler, **kw: object) -> list[str]:
    return [compiler.process(clause, **kw) for clause in element.clauses]


@compiles(casefold, "postgresql")
def _casefold(element: casefold, compiler: SQLCompiler, **kw: object) -> str:
    return f"book_casefold({', '.join(_arguments(element, compiler, **kw))})"


@compiles(position, "postgresql")
def _position(element: position, compiler: SQLCompiler, **kw: object) -> str:
    return f"strpos({', '.join(_arguments(element, compiler, **kw))})"


@compiles(numbers_of, "sqlite")
def _numbers_in_file(element: numbers_of, compiler: SQLCompiler, **kw: object) -> str:
    return f"(SELECT value FROM json_each({_arguments(element, compiler, **kw)[0]}))"  # noqa: S608 - a bound parameter


@compiles(numbers_of, "postgresql")
def _numbers_on_server(element: numbers_of, compiler: SQLCompiler, **kw: object) -> str:
    listed = _arguments(element, compiler, **kw)[0]
    return f"(SELECT value::bigint FROM json_array_elements_text(CAST({listed} AS json)) AS t(value))"  # noqa: S608 - bound


def _names(element: GenericFunction[Any], compiler: SQLCompiler, **kw: object) -> tuple[str, list[str]]:
    column, *names = _arguments(element, compiler, **kw)
    return column, [name.strip("'") for name in names]


@compiles(part, "sqlite")
def _part_in_file(element: part, compiler: SQLCompiler, **kw: object) -> str:
    column, names = _names(element, compiler, **kw)
    return f"json_extract({column}, '$.{'.'.join(names)}')"


@compiles(part, "postgresql")
def _part_on_server(element: part, compiler: SQLCompiler, **kw: object) -> str:
    # json, not jsonb: it keeps the text as it stands, and takes every text that a body may hold
    column, names = _names(element, compiler, **kw)
    return f"(CAST({column} AS json) #>> '{{{','.join(names)}}}')"


@compiles(parts, "sqlite")
def _parts_in_file(element: parts, compiler: SQLCompiler, **kw: object) -> str:
    column, places = _names(element, compiler, **kw)
    paths = ", ".join(f"'$[{place}]'" for place in places)
    return f"json_extract({column}, {paths})"


@compiles(equipment, "sqlite")
def _equipment_in_file(element: equipment, compiler: SQLCompiler, **kw: object) -> str:
    column, places = _names(element, compiler, **kw)
    paths = ", ".join(f"'$.treatments[{place}].equipment.id'" for place in places)
    return f"json_extract({column}, {paths})"


@compiles(equipment, "postgresql")
def _equipment_on_server(element: equipment, compiler: SQLCompiler, **kw: object) -> str:
    column, places = _names(element, compiler, **kw)
    members = ", ".join(f"CAST({column} AS json) #>> '{{treatments,{place},equipment,id}}'" for place in places)
    return f"CAST(json_build_array({members}) AS text)"


@compiles(parts, "postgresql")
def _parts_on_server(element: parts, compiler: SQLCompiler, **kw: object) -> str:
    column, places = _names(element, compiler, **kw)
    members = ", ".join(f"CAST({column} AS json) -> {place}" for place in places)
    return f"CAST(json_build_array({members}) AS text)"
