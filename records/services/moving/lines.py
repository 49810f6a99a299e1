"""The lines of a book's export, as they are written (DEVELOPERS.md, "Format of an export").

A line of the chain is the canonical JSON that its seal covers, with the seal put between `revision` and `sealed_at`.
"""

from __future__ import annotations

import json
import re
from hashlib import sha256
from typing import TYPE_CHECKING

from records.errors import BookDamagedError, InputError
from records.services.sealing import canonical

if TYPE_CHECKING:
    from records.services.moving.ports import CatalogueVersion, Extent, HeldEvent
    from records.services.ports import Json, RemovedRow, StoredRevision

FORMAT = "swathbook-book/1"
# What could steer a terminal: control codes that JSON lets stand, and marks that turn the direction of writing
_STEERING = re.compile("[\x7f-\x9f\u061c\u200e\u200f\u2028-\u202e\u2066-\u2069]")


def line(text: str) -> bytes:
    """Return a JSON text as one line whose every character may be shown."""
    if not text.isascii() or "\x7f" in text:
        text = _STEERING.sub(lambda found: f"\\u{ord(found[0]):04x}", text)
    return text.encode() + b"\n"


def _plain(document: Json) -> bytes:
    return line(json.dumps(document, ensure_ascii=False, separators=(",", ":")))


def header(extent: Extent, exported_at: str) -> bytes:
    """Return the first line."""
    return _plain({"kind": "book", "format": FORMAT, "exported_at": exported_at, **extent._asdict()})


def catalogue_line(version: CatalogueVersion) -> bytes:
    """Return the line of one version of a loaded document.

    Raises:
        BookDamagedError: its body cannot be read.
    """
    try:
        body = json.loads(version.body)
    except (ValueError, RecursionError) as error:
        raise _damaged(f"{version.kind} {version.id} version {version.version}") from error
    return _plain(
        {
            "kind": "catalogue",
            "type": version.kind,
            "id": version.id,
            "version": version.version,
            "loaded_at": version.loaded_at,
            "body": body,
        }
    )


def held_line(event: HeldEvent) -> bytes:
    """Return the line of one thing that happened to a refused visit."""
    parts = event._asdict()
    return _plain({"kind": "held", "event": parts.pop("kind"), **parts})


def stub_line(stub: RemovedRow) -> bytes:
    """Return the line of what is left of a removed revision."""
    return _plain({"kind": "removed", **stub._asdict()})


def chain_line(revision: StoredRevision) -> tuple[bytes, bool]:
    """Return the line of a sealed revision, and whether its seal fits.

    Raises:
        BookDamagedError: its body holds what cannot be sealed.
    """
    try:
        body = canonical(revision.body)
        head, tail = _around(body, revision)
    except InputError as error:
        raise _damaged(f"{revision.serial} revision {revision.revision}") from error
    fits = sha256(head + b',"sealed_at"' + tail).hexdigest() == revision.seal
    seal = json.dumps(revision.seal).encode()
    return line((head + b',"seal":' + seal + b',"sealed_at"' + tail).decode()), fits


def _around(body: bytes, revision: StoredRevision) -> tuple[bytes, bytes]:
    """Return the canonical JSON of a revision in two parts, before and after the name `sealed_at`."""
    previous, number = canonical(revision.previous), canonical(revision.revision)
    sealed_at, serial = canonical(revision.sealed_at), canonical(revision.serial)
    return (
        b'{"body":%b,"previous":%b,"revision":%b' % (body, previous, number),
        b':%b,"serial":%b}' % (sealed_at, serial),
    )


def end_line(extent: Extent, digest: str) -> bytes:
    """Return the last line: what went before, so that a file cut short shows."""
    return _plain({"kind": "end", **extent._asdict(), "sha256": digest})


def _damaged(what: str) -> BookDamagedError:
    return BookDamagedError(f"{what} cannot be read as it is stored", "See what verify says, or restore a backup")
