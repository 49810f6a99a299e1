"""The tables as typed rows. All of them only ever grow; triggers refuse any change (`schema.py`).

`revision.body` is the truth. Every other column of `revision` and every row of the `application` tables is derived
from it by `mapping.py`, and can be derived again to be compared.
"""

from __future__ import annotations

from sqlalchemy import CheckConstraint, ForeignKey, Index, UniqueConstraint, text
from sqlalchemy.orm import Mapped, mapped_column

from records.storage.base import Base
from records.storage.types import (
    Day,
    Flag,
    Instant,
    Json,
    Key,
    Nano,
    day,
    flag,
    instant,
    length,
    not_negative,
    one_of,
)

FLAGGED = "deviation > 0 OR incomplete > 0 OR late_days > 0"  # records that a summary names
STRICT = {"sqlite_strict": True}
# Rows found only through their owner's number are kept in the primary key itself.
STRICT_BY_KEY = {"sqlite_strict": True, "sqlite_with_rowid": False}


def _partial(name: str, *columns: str, where: str, unique: bool = False) -> Index:
    """Return an index over a part of a table."""
    condition = text(where)
    return Index(name, *columns, unique=unique, sqlite_where=condition, postgresql_where=condition)


class CatalogueRow(Base):
    """One version of a loaded document."""

    __tablename__ = "catalogue"
    __table_args__ = (
        one_of("kind", "business", "person", "customer", "site", "product", "equipment", "mix", "pack", edition=2),
        UniqueConstraint("number"),
        not_negative("version"),
        instant("loaded_at"),
        length("seal", 64),
        STRICT,
    )

    kind: Mapped[str] = mapped_column(primary_key=True)
    id: Mapped[str] = mapped_column(primary_key=True)
    version: Mapped[int] = mapped_column(primary_key=True, autoincrement=False)
    number: Mapped[int]  # the order of loading, without gaps
    loaded_at: Mapped[Instant]
    seal: Mapped[str]  # of this row and the one loaded before it (`rowseal.py`)
    body: Mapped[Json]


class RevisionRow(Base):
    """One sealed revision of a record, or an event; `id` is the order of sealing, without gaps.

    What was removed with its year has left a `RemovedRow` under its number. Events stand in the year 0.
    """

    __tablename__ = "revision"
    __table_args__ = (
        UniqueConstraint("serial", "revision"),
        UniqueConstraint("year", "number", "revision"),
        UniqueConstraint("seal"),
        _partial("ix_revision_ref", "ref", where="revision = 1 AND ref IS NOT NULL", unique=True),
        _partial("ix_revision_later", "serial", "revision", "action", where="revision > 1"),
        _partial("ix_revision_flagged", "year", "number", where=FLAGGED),
        _partial("ix_revision_event", "origin", "local_date", where="kind = 'event'"),
        _partial("ix_revision_customer", "customer_id", "customer_name", "origin", where="origin = 'import'"),
        Index(None, "site_id", "local_date"),
        # With all that a match of an inspection is made from, so that a long span of days needs no row
        Index("ix_revision_person", "applicator_id", "local_date", "serial", "revision", "applicator_name"),
        one_of("kind", "visit", "usage", "event", edition=2),
        CheckConstraint("(kind = 'event') = (year = 0)", name="kind_year"),
        one_of("action", "sealed", "amended", "voided"),
        not_negative("number"),
        not_negative("late_days"),
        length("seal", 64),
        length("document_digest", 64),
        instant("sealed_at"),
        day("local_date"),
        length("period", 7),
        flag("deviation"),
        flag("incomplete"),
        STRICT,
    )

    id: Mapped[Key]
    serial: Mapped[str]
    revision: Mapped[int]
    year: Mapped[int]
    number: Mapped[int]
    kind: Mapped[str]
    action: Mapped[str]
    ref: Mapped[str | None]
    document_digest: Mapped[str]
    sealed_at: Mapped[Instant]
    previous: Mapped[str]
    seal: Mapped[str]
    local_date: Mapped[Day | None]
    period: Mapped[str]
    started_utc: Mapped[Instant | None]
    finished_utc: Mapped[Instant | None]
    timezone: Mapped[str]
    entered_at: Mapped[Instant]
    site_id: Mapped[str | None]
    customer_id: Mapped[str | None]
    customer_name: Mapped[str | None]
    address: Mapped[str | None]
    city: Mapped[str | None]
    county: Mapped[str | None]
    zip: Mapped[str | None]
    state: Mapped[str | None]
    applicator_id: Mapped[str | None]
    applicator_name: Mapped[str | None]
    origin: Mapped[str]
    deviation: Mapped[Flag]
    incomplete: Mapped[Flag]
    late_days: Mapped[int]
    # Last, since SQLite walks through all pages of a long text to reach what stands behind it
    body: Mapped[Json]


class UseGroupRow(Base):
    """What applications share that a yearly summary counts together, as a JSON list (`mapping.facts`).

    Grouping by one number that an index keeps in order is ten times as quick as by fifteen texts.
    """

    __tablename__ = "use_group"
    __table_args__ = (UniqueConstraint("period", "facts"), length("period", 7), STRICT)

    id: Mapped[Key]
    period: Mapped[str]
    facts: Mapped[Json]


class ApplicationRow(Base):
    """One product line of a treatment."""

    __tablename__ = "application"
    __table_args__ = (
        UniqueConstraint("revision_id", "treatment", "line"),
        Index(None, "product_id", "method"),
        _partial("ix_application_mix", "mix_id", "revision_id", where="mix_id IS NOT NULL"),
        Index("ix_application_use_group", "use_group_id", "revision_id", "amount_nano", "area_nano", "uses"),
        not_negative("uses"),
        not_negative("amount_nano"),
        not_negative("least_nano"),
        not_negative("area_nano"),
        flag("restricted_use"),
        STRICT,
    )

    id: Mapped[Key]
    revision_id: Mapped[int] = mapped_column(ForeignKey("revision.id"))
    treatment: Mapped[int]
    line: Mapped[int]
    product_id: Mapped[str | None]
    product_version: Mapped[int | None]
    product_name: Mapped[str | None]
    registration: Mapped[str | None]
    federal: Mapped[str | None]  # the federal number within one that a state has extended
    product_kind: Mapped[str | None]
    product_type: Mapped[str | None]
    form: Mapped[str | None]
    restricted_use: Mapped[Flag]
    method: Mapped[str | None]
    site_kind: Mapped[str | None]
    rate: Mapped[str | None]
    amount: Mapped[str | None]
    amount_unit: Mapped[str | None]
    amount_nano: Mapped[Nano | None]
    least_nano: Mapped[Nano | None]  # the lowest amount that reads as written
    area_nano: Mapped[Nano | None]
    area_source: Mapped[str | None]
    uses: Mapped[int]  # 1; a line imported from a monthly table may sum several applications
    mix_id: Mapped[str | None]  # the load that it was a share of
    lot: Mapped[str | None]
    label_revision: Mapped[str | None]
    use_group_id: Mapped[int] = mapped_column(ForeignKey("use_group.id"))


class TargetRow(Base):
    """One weed that an application was meant for."""

    __tablename__ = "application_target"
    __table_args__ = (STRICT_BY_KEY,)

    application_id: Mapped[int] = mapped_column(ForeignKey("application.id"), primary_key=True, autoincrement=False)
    target: Mapped[str] = mapped_column(primary_key=True)


class ActiveRow(Base):
    """One active of an application, in billionths of a pound."""

    __tablename__ = "application_active"
    __table_args__ = (not_negative("pounds_nano"), STRICT_BY_KEY)

    application_id: Mapped[int] = mapped_column(ForeignKey("application.id"), primary_key=True, autoincrement=False)
    position: Mapped[int] = mapped_column(primary_key=True, autoincrement=False)
    name: Mapped[str]
    basis: Mapped[str | None]
    pounds_nano: Mapped[Nano | None]


class ZoneRow(Base):
    """One zone that an application went onto."""

    __tablename__ = "application_zone"
    __table_args__ = (
        Index(None, "site_id", "local_date"),
        not_negative("treated_nano"),
        STRICT_BY_KEY,
    )

    application_id: Mapped[int] = mapped_column(ForeignKey("application.id"), primary_key=True, autoincrement=False)
    position: Mapped[int] = mapped_column(primary_key=True, autoincrement=False)
    zone_id: Mapped[str]
    site_id: Mapped[str | None]
    treated_nano: Mapped[Nano | None]
    local_date: Mapped[Day | None]


class RemovedRow(Base):
    """What is left of a revision that was removed with its year, so that the chain can still be followed."""

    __tablename__ = "removed_revision"
    __table_args__ = (
        UniqueConstraint("serial", "revision"),
        length("seal", 64),
        STRICT,
    )

    id: Mapped[Key]  # as it was: the order of sealing
    serial: Mapped[str]
    revision: Mapped[int]
    seal: Mapped[str]
    event_serial: Mapped[str]  # of the sealed removal


class HeldEventRow(Base):
    """One thing that happened to a refused visit; the last one says how it stands."""

    __tablename__ = "held_event"
    __table_args__ = (
        UniqueConstraint("number", "seq"),
        Index(None, "ref"),
        one_of("kind", "held", "corrected", "sealed", "dropped"),
        not_negative("seq"),
        instant("at"),
        length("seal", 64),
        STRICT,
    )

    id: Mapped[Key]
    number: Mapped[str]
    seq: Mapped[int]
    kind: Mapped[str]
    at: Mapped[Instant]
    ref: Mapped[str | None]
    person: Mapped[str | None]
    reason: Mapped[str]
    serial: Mapped[str | None]
    seal: Mapped[str]  # of this row and the one before it (`rowseal.py`)
    document: Mapped[Json]
    findings: Mapped[Json]
