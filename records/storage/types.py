"""Column types and shape checks that SQLite STRICT tables and PostgreSQL both accept.

STRICT tables take TEXT, INTEGER and BLOB only, and a column without affinity to a number turns an integer into text
without a word; so days, instants and flags are TEXT or INTEGER with a CHECK for their shape. Values are written by
`mapping.py` alone, already as text and whole numbers: no type converts anything, so prepared statements can go to the
driver as they are. Amounts are whole billionths (`*_nano`), which hold every decimal of up to nine places exactly.
"""

from __future__ import annotations

from typing import Annotated

from sqlalchemy import BigInteger, CheckConstraint, Integer, Text
from sqlalchemy.orm import mapped_column

NANO = 10**9

# SQLite integers are always 64 bits wide, and STRICT knows no other name for them.
Wide = BigInteger().with_variant(Integer(), "sqlite")
# Compared and sorted by code point everywhere, whatever the language of a server.
Plain = Text().with_variant(Text(collation="C"), "postgresql")

Day = Annotated[str, mapped_column(Plain)]  # 2026-05-14, local
Instant = Annotated[str, mapped_column(Plain)]  # 2026-05-14T14:10:00Z, UTC, seconds or finer
Json = Annotated[str, mapped_column(Plain)]
Flag = Annotated[int, mapped_column(Wide)]  # 0 or 1
Nano = Annotated[int, mapped_column(Wide)]
Key = Annotated[int, mapped_column(Wide, primary_key=True, autoincrement=False)]


def flag(column: str) -> CheckConstraint:
    """Return the check that a column is 0 or 1."""
    return CheckConstraint(f"{column} IN (0, 1)", name=f"{column}_flag")


def one_of(column: str, *values: str, edition: int = 1) -> CheckConstraint:
    """Return the check that a column holds one of some words.

    Args:
        column: its name.
        values: the words.
        edition: counted up when the words change, since migrations compare the names of checks only.
    """
    listed = ", ".join(f"'{value}'" for value in values)
    suffix = "" if edition == 1 else f"_{edition}"
    return CheckConstraint(f"{column} IN ({listed})", name=f"{column}_word{suffix}")


def length(column: str, size: int) -> CheckConstraint:
    """Return the check that a text, where there is one, has exactly so many characters."""
    return CheckConstraint(f"length({column}) = {size}", name=f"{column}_length")


def instant(column: str) -> CheckConstraint:
    """Return the check that a text ends as UTC instants do."""
    return CheckConstraint(f"{column} LIKE '____-__-__T__:__:__%Z'", name=f"{column}_instant")


def day(column: str) -> CheckConstraint:
    """Return the check that a text has the shape of a day."""
    return CheckConstraint(f"{column} LIKE '____-__-__'", name=f"{column}_day")


def not_negative(column: str) -> CheckConstraint:
    """Return the check that a number is zero or more."""
    return CheckConstraint(f"{column} >= 0", name=f"{column}_range")
