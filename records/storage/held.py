"""Refused visits: a list of events, never changed; the last event of a number says how it stands."""

from __future__ import annotations

import json
from datetime import datetime
from typing import TYPE_CHECKING, Any

from sqlalchemy import bindparam, func, literal_column, select
from sqlalchemy.orm import aliased

from records.clock import instant_text
from records.services.ports import HeldEntry
from records.storage.link import ONE, ZERO, Prepared
from records.storage.rowseal import row_seal
from records.storage.tables import HeldEventRow

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping

    from records.services.ports import Json
    from records.storage.link import Link

_H = HeldEventRow
_newer = aliased(_H)
_first = aliased(_H)
_standing = (
    select(_H.number, _H.kind, _first.at, _H.at, _H.ref, _H.person, _H.document, _H.findings, _H.reason, _H.serial)
    .join(_first, (_first.number == _H.number) & (_first.seq == ONE))
    .where(~select(_newer.id).where(_newer.number == _H.number, _newer.seq > _H.seq).exists())
)
_still_held = _standing.where((_H.kind == literal_column("'held'")) | (_H.kind == literal_column("'corrected'")))
_GET = Prepared(lambda: _standing.where(_H.number == bindparam("number")), "number")
_BY_REF = Prepared(lambda: _still_held.where(_H.ref == bindparam("ref")).order_by(_first.id), "ref")
_KNOWS_REF = Prepared(lambda: select(_H.id).where(_H.ref == bindparam("ref")).limit(ONE).offset(ZERO), "ref")
_OPEN = Prepared(lambda: _still_held.order_by(_first.id))
_LAST_SEQ = Prepared(
    lambda: select(func.coalesce(func.max(_H.seq), ZERO)).where(_H.number == bindparam("number")), "number"
)
_LAST = Prepared(lambda: select(_H.id, _H.seal).order_by(_H.id.desc()).limit(ONE).offset(ZERO))
_LAST_NUMBER = Prepared(lambda: select(func.max(_H.number)).where(func.length(_H.number) == bindparam("size")), "size")
_LONGEST = Prepared(lambda: select(func.max(func.length(_H.number))))


def _entry(row: tuple[Any, ...]) -> HeldEntry:
    number, kind, at, changed_at, ref, person, document, findings, reason, serial = row
    return HeldEntry(
        number,
        kind if kind in {"sealed", "dropped"} else "held",
        datetime.fromisoformat(at),
        datetime.fromisoformat(changed_at),
        ref,
        person,
        json.loads(document),
        json.loads(findings),
        reason,
        serial,
    )


class SqlHeld:
    """Refused visits of one book, within one transaction."""

    def __init__(self, link: Link) -> None:
        """Work on one transaction."""
        self._link = link

    def next_number(self) -> str:
        """Return the next free number, such as `H-000001`."""
        # The longest are the newest: past a million, text order alone would put H-1000000 before H-999999.
        size = self._link.row(_LONGEST)[0]
        last = self._link.row(_LAST_NUMBER, size)[0] if size else "H-0"
        return f"H-{int(last[2:]) + 1:06d}"

    def add(
        self,
        number: str,
        kind: str,
        at: datetime,
        *,
        document: Json,
        findings: Iterable[Mapping[str, str]],
        ref: str | None,
        person: str | None,
        reason: str = "",
        serial: str | None = None,
    ) -> None:
        """Store an event: `held`, `corrected`, `sealed` or `dropped`."""
        last, seal = self._link.row(_LAST) or (0, "")
        order = last + 1
        seq = self._link.row(_LAST_SEQ, number)[0] + 1
        # As typed, not canonical: what was refused may hold just what cannot be sealed, such as bare fractions.
        texts = json.dumps(document, default=str), json.dumps([dict(finding) for finding in findings], default=str)
        row = (order, number, seq, kind, instant_text(at), ref, person, reason, serial)
        self._link.add(HeldEventRow, [(*row, row_seal(seal, (*row, *texts)), *texts)])

    def get(self, number: str) -> HeldEntry | None:
        """Return a held entry as it stands."""
        row = self._link.row(_GET, number)
        return None if row is None else _entry(row)

    def by_ref(self, ref: str) -> HeldEntry | None:
        """Return the entry with that reference that is still held."""
        if self._link.row(_KNOWS_REF, ref) is None:
            return None  # as nearly always: asked for every visit that is closed
        row = self._link.row(_BY_REF, ref)
        return None if row is None else _entry(row)

    def open(self) -> list[HeldEntry]:
        """Return what is still held, oldest first."""
        return [_entry(row) for row in self._link.rows(_OPEN)]
