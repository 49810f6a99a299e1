"""Seals over the rows of the catalogue and of held visits.

They are no part of the chain of records: what a record froze stands in its own body. They show that a label or a
refused visit was changed behind the book's back. Each covers its row and the seal of the row before it.
"""

from __future__ import annotations

from hashlib import sha256
from typing import TYPE_CHECKING

from records.services.sealing import canonical

if TYPE_CHECKING:
    from collections.abc import Iterable


def row_seal(previous: str, values: Iterable[str | int | None]) -> str:
    """Return the seal of a row: SHA-256, in hex, over the canonical JSON list of the seal before it and its values.

    Args:
        previous: seal of the row before it; "" for the first.
        values: the row's values but its seal, in the order of `CATALOGUE` or `HELD`.
    """
    return sha256(canonical([previous, *values])).hexdigest()


CATALOGUE = ("number", "kind", "id", "version", "loaded_at", "body")
HELD = ("id", "number", "seq", "kind", "at", "ref", "person", "reason", "serial", "document", "findings")
