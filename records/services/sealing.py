"""Seals: SHA-256 over the canonical JSON (RFC 8785) of a revision and of the seal before it.

Only str, int, bool, null, lists and objects are sealed. Numbers with a fraction are refused: amounts are text.
"""

from __future__ import annotations

import json
from hashlib import sha256
from typing import TYPE_CHECKING, Any

import rfc8785

from records.errors import BookDamagedError, InputError

if TYPE_CHECKING:
    from collections.abc import Iterable

    from records.services.ports import Json, StoredRevision

_LARGEST = 2**53 - 1  # RFC 8785 numbers are IEEE 754 doubles; beyond this, integers are no longer exact
_HINT = "Use plain text, whole numbers, true, false, null, lists and objects"
_DEEPEST = 100
_LISTS = frozenset({list, tuple})

_encode = json.JSONEncoder(
    ensure_ascii=False, sort_keys=True, separators=(",", ":"), allow_nan=False, check_circular=False
).encode


def _refuse(value: object) -> None:
    """Refuse a value that is neither a whole number in range nor a text of a kind (the rest was looked at before)."""
    if isinstance(value, float):
        raise InputError(f"the document has a number with a fraction: {value!r}", "Write amounts as text")
    if isinstance(value, str):
        return  # a member of an enumeration
    if not isinstance(value, int):
        raise InputError(f"the document has a value of type {type(value).__name__}", _HINT)
    if not -_LARGEST <= value <= _LARGEST:
        raise InputError("the document has a whole number beyond 2^53", "Write it as text")


def _are_ascii(keys: Iterable[object]) -> bool:
    """Return whether all names are ASCII.

    Raises:
        InputError: a name is not text.
    """
    try:
        return "".join(keys).isascii()  # type: ignore[arg-type]  # joining tells
    except TypeError as error:
        raise InputError("the document has a name that is not text", _HINT) from error


_checked: dict[int, Json] = {}  # parts that were looked through before; kept, so that no other object gets their id
_MOST_CHECKED = 4096


def checked(part: Json) -> Json:
    """Return a part of bodies that is put into many of them and never changed, remembered as fit to be sealed.

    Raises:
        InputError: something in it cannot be sealed.
    """
    if len(_checked) >= _MOST_CHECKED:
        _checked.clear()
    if _has_ascii_keys(part):
        _checked[id(part)] = part
    return part


def _has_ascii_keys(value: object) -> bool:
    """Check a whole value, level by level; return whether all its keys are ASCII.

    Raises:
        InputError: something in it cannot be sealed.
    """
    keys: list[object] = []
    level: list[Any] = [value]
    for _ in range(_DEEPEST):
        deeper: list[Any] = []
        for item in level:
            kind = type(item)
            if kind is str:  # by far the most
                continue
            if kind is dict:
                if id(item) in _checked:
                    continue
                keys.extend(item)
                deeper.extend(item.values())
            elif kind in _LISTS:
                deeper.extend(item)
            elif item is not None and kind is not bool:
                _refuse(item)
        if not deeper:
            return _are_ascii(keys)
        level = deeper
    raise InputError(f"the document is nested more than {_DEEPEST} levels deep", "Write it flatter")


def canonical(value: object) -> bytes:
    """Return the RFC 8785 form of a JSON value.

    Objects whose keys are ASCII sort the same by code point and by UTF-16 unit, so the quick encoder of the standard
    library writes them; any other key sends the value to the `rfc8785` package. A test holds the two equal.

    Raises:
        InputError: a number with a fraction or beyond 2^53, a lone surrogate, a value that is not JSON.
    """
    ascii_keys = _has_ascii_keys(value)
    try:
        if ascii_keys:
            return _encode(value).encode()
        return rfc8785.dumps(value)  # type: ignore[arg-type]
    except (UnicodeEncodeError, rfc8785.CanonicalizationError) as error:
        raise InputError("the document has a character that is half a pair (a lone surrogate)", _HINT) from error


def seal_bytes(previous: str, serial: str, revision: int, sealed_at: str, body: bytes) -> str:
    """Return the seal of a revision whose body is already canonical."""
    head, tail = b'{"body":', {"previous": previous, "revision": revision, "sealed_at": sealed_at, "serial": serial}
    # "body" sorts before the other four names, so the canonical form of the whole is this splice; the four are our own
    # plain texts and a whole number, which need no looking through.
    return sha256(b"".join((head, body, b",", _encode(tail)[1:].encode()))).hexdigest()


def seal(previous: str, serial: str, revision: int, sealed_at: str, body: object) -> str:
    """Return the seal of a revision: SHA-256, in hex, over the canonical JSON of these five.

    Args:
        previous: seal of the revision sealed before it in the book, "" for the first.
        serial: such as `2026-000001`.
        revision: 1 for the first text of a record.
        sealed_at: UTC instant as text, such as `2026-05-14T14:33:01.123456Z`.
        body: everything the revision says.

    Raises:
        InputError: the body holds something that cannot be sealed.
    """
    return seal_bytes(previous, serial, revision, sealed_at, canonical(body))


def sealed(previous: str, serial: str, revision: int, sealed_at: str, body: object) -> tuple[str, str]:
    """Return the seal of a revision, and its body as canonical JSON, which is what a book stores.

    Raises:
        InputError: the body holds something that cannot be sealed.
    """
    text = canonical(body)
    return seal_bytes(previous, serial, revision, sealed_at, text), text.decode()


def digest(document: object) -> str:
    """Return the SHA-256, in hex, of a document's canonical JSON.

    Raises:
        InputError: the document holds something that cannot be sealed.
    """
    return sha256(canonical(document)).hexdigest()


def has_its_seal(revision: StoredRevision) -> bool:
    """Tell whether a stored revision is what was sealed; whether it stands at its place is for `verify` to say."""
    text = revision.text.encode() if revision.text else canonical(revision.body)
    made = seal_bytes(revision.previous, revision.serial, revision.revision, revision.sealed_at, text)
    return made == revision.seal


def proved(revision: StoredRevision) -> StoredRevision:
    """Return a stored revision that is about to be handed over.

    Raises:
        BookDamagedError: it is not what was sealed.
    """
    if not has_its_seal(revision):
        raise BookDamagedError(
            f"{revision.serial} revision {revision.revision} was changed after it was sealed: its seal does not fit",
            "Nothing was made of it; swathbook verify tells all that differs, a backup has what was sealed",
        )
    return revision
