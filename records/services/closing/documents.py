"""Reads the JSON of entry documents: strict about structure, lenient about numbers typed where text is meant."""

from __future__ import annotations

import json
from codecs import BOM_UTF8
from typing import TYPE_CHECKING, Any, Never

from records.errors import InputError

if TYPE_CHECKING:
    from records.services.ports import Json

MAX_BYTES = 2_000_000  # far above any visit, far below what would hurt
MAX_DEPTH = 30


def _pairs(pairs: list[tuple[str, Any]]) -> dict[str, Any]:
    found = dict(pairs)
    if len(found) != len(pairs):
        seen: set[str] = set()
        twice = next(key for key, _ in pairs if key in seen or seen.add(key))  # type: ignore[func-returns-value]
        raise InputError(f"the name {twice[:40]!r} stands twice in one object", "Keep one of the two")
    return found


def _integer(text: str) -> int | str:
    return int(text) if len(text) <= 15 else text


def _constant(text: str) -> Never:
    raise InputError(
        f"{text} is no value of JSON", "Write an amount with its unit in quotes; leave out what is not known"
    )


# A number with a point stays the text it was typed as: binary floating point never sees it, and the reader of amounts
# then says that the unit is missing.
_DECODER = json.JSONDecoder(
    object_pairs_hook=_pairs, parse_float=str, parse_int=_integer, parse_constant=_constant, strict=True
)


def read_document(data: bytes | str, name: str) -> Json:
    """Read one entry document.

    Args:
        data: JSON text, UTF-8 (a byte order mark is passed over).
        name: of the file, for messages.

    Raises:
        InputError: no JSON object, NaN or Infinity in it, too large, nested too deep, or a name that stands twice.
    """
    if len(data) > MAX_BYTES:
        raise InputError(f"{name} is {len(data):,} bytes; a visit takes at most {MAX_BYTES:,}", "Shorten it")
    if isinstance(data, bytes):
        try:
            data = data.removeprefix(BOM_UTF8).decode()
        except UnicodeDecodeError as error:
            raise InputError(f"{name} is not UTF-8 text (byte {error.start})", "Save it as UTF-8") from error
    try:
        document = _DECODER.decode(data.strip(" \t\r\n\ufeff"))
    except json.JSONDecodeError as error:
        raise InputError(
            f"{name} is not JSON: {error.msg}, line {error.lineno} column {error.colno}",
            "swathbook schema visit shows the shape",
        ) from error
    except RecursionError as error:
        raise InputError(f"{name} is nested too deep", "A visit needs five levels") from error
    if not isinstance(document, dict):
        raise InputError(
            f"{name} holds no JSON object", "A visit begins with { ; swathbook schema visit shows the shape"
        )
    # No deeper than it has brackets, and no half pair without an escape: an ordinary visit needs no closer look.
    if data.count("{") + data.count("[") > MAX_DEPTH and _depth(document) > MAX_DEPTH:
        raise InputError(f"{name} is nested too deep", "A visit needs five levels")
    if "\\u" in data and (bad := _surrogate(document)):
        raise InputError(f"{name} holds half a character pair (U+{bad:04X})", "Type that text again")
    return document


def _depth(value: object) -> int:
    deepest, level = 0, [value]
    while level and deepest <= MAX_DEPTH:
        deepest += 1
        level = [
            inner
            for outer in level
            if isinstance(outer, dict | list)
            for inner in (outer.values() if isinstance(outer, dict) else outer)
        ]
    return deepest


def _surrogate(document: Json) -> int:
    text = json.dumps(document, ensure_ascii=False)
    if text.isascii():
        return 0
    try:
        text.encode()
    except UnicodeEncodeError as error:
        return ord(text[error.start])
    return 0
