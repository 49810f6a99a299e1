"""Reads a book's export line by line, in bounded memory, and proves it while reading.

Whoever wrote the file may mean harm: a line has a greatest length, numbers are whole and small, a name stands once in
an object, nothing is nested without end, and every line has exactly the parts that it should have.
"""

from __future__ import annotations

import json
import re
from hashlib import sha256
from typing import TYPE_CHECKING, Any, NoReturn, TypeGuard

from records.errors import InputError, StorageError
from records.services.moving.lines import FORMAT
from records.services.moving.ports import CatalogueVersion, Extent, HeldEvent
from records.services.moving.proof import ChainProof
from records.services.ports import RemovedRow, StoredRevision
from records.services.sealing import canonical

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator
    from typing import IO

    from records.services.ports import Json

MAX_LINE = 32_000_000  # bytes; a visit document has at most two million
MAX_PARTS = 2_000_000  # lists and objects in a line: each takes more memory than its two brackets
_LONGEST_NUMBER = 17  # digits and sign; what can be sealed ends at 2^53
_HINT = "Nothing was kept; get the file again from where it was written"
_INSTANT = re.compile(r"[0-9]{4}-[0-9]{2}-[0-9]{2}T[0-9]{2}:[0-9]{2}:[0-9]{2}(\.[0-9]{1,6})?Z")
_SEAL = re.compile(r"[0-9a-f]{64}")
_SEAL_OR_NONE = re.compile(r"([0-9a-f]{64})?")
_EVENT = re.compile(r"E-[0-9]{6,15}")
_HELD_NUMBER = re.compile(r"H-[0-9]{6,15}")

Part = CatalogueVersion | HeldEvent | RemovedRow | StoredRevision
_STEPS = {"book": 0, "catalogue": 1, "held": 2, "chain": 3, "removed": 3, "end": 4}
_CHAIN = frozenset({"previous", "serial", "revision", "sealed_at", "body", "seal"})


def _pairs(pairs: list[tuple[str, Any]]) -> dict[str, Any]:
    found = dict(pairs)
    if len(found) != len(pairs):
        seen: set[str] = set()
        twice = next(name for name, _ in pairs if name in seen or seen.add(name))  # type: ignore[func-returns-value]
        raise InputError(f"the name {twice[:40]!r} stands twice in one object")
    return found


def _no_fraction(text: str) -> NoReturn:
    raise InputError(f"{text[:40]} is not a whole number")


def _whole_number(text: str) -> int:
    if len(text) > _LONGEST_NUMBER:
        raise InputError(f"the number {text[:20]} has too many digits")
    return int(text)


_DECODER = json.JSONDecoder(
    object_pairs_hook=_pairs, parse_float=_no_fraction, parse_int=_whole_number, parse_constant=_no_fraction
)


def decode(line: bytes) -> Json:
    """Read one line.

    Raises:
        InputError: it is not one JSON object of those that a book's export can have.
    """
    if len(line) > MAX_LINE:
        raise InputError(f"it is longer than {MAX_LINE:,} bytes")
    if line.count(b"[") + line.count(b"{") > MAX_PARTS:
        raise InputError(f"it holds more than {MAX_PARTS:,} lists and objects")
    try:
        document = _DECODER.decode(line.decode())
    except UnicodeDecodeError as error:
        raise InputError("it is not UTF-8 text") from error
    except json.JSONDecodeError as error:
        raise InputError(f"it is not JSON: {error.msg}, column {error.colno}") from error
    except RecursionError as error:
        raise InputError("it is nested too deep") from error
    if not isinstance(document, dict):
        raise InputError("it is no JSON object")
    return document


def is_export(line: bytes) -> bool:
    """Return whether a file's first line is that of a book's export, of whatever format."""
    try:
        return decode(line[:MAX_LINE]).get("kind") == "book"
    except InputError:
        return False


class BookReader:
    """Reads an export from its first line to its last."""

    def __init__(self, stream: IO[bytes], name: str, first: bytes | None = None) -> None:
        """Begin.

        Args:
            stream: to read.
            name: of the file, for messages.
            first: its first line, where that was read already.
        """
        self._stream = stream
        self._name = name
        self._first = first
        self._number = 0
        self._digest = sha256()
        self._step = 0
        self._counts = [0, 0]  # of catalogue and held lines
        self._proof = ChainProof()
        self.extent = Extent(0, 0, 0, 0, "", "", "")  # as the first line has it

    def read(self, keep: Callable[[Part], None] = lambda _: None) -> Extent:
        """Read and prove all of it.

        Args:
            keep: is handed each part; what it cannot take is told with the number of the line.

        Raises:
            InputError: a line is not as it should be; it is named with its number.
        """
        for line in self._lines():
            with _Numbered(self._name, self._number):
                if self._step == _STEPS["end"]:
                    raise InputError("there is more after the line that ends the book")
                part = self._part(line)
                if part is not None:
                    keep(part)
            self._digest.update(line)
        if self._step != _STEPS["end"]:
            raise InputError(f"{self._name} is cut short after line {self._number}", _HINT)
        return self.extent

    def _lines(self) -> Iterator[bytes]:
        line = self._stream.readline(MAX_LINE + 1) if self._first is None else self._first
        while line:
            self._number += 1
            yield line
            line = self._stream.readline(MAX_LINE + 1)

    def _part(self, line: bytes) -> Part | None:
        document = decode(line)
        kind = document.get("kind", "chain" if document.keys() >= {"seal", "body"} else None)
        step = _STEPS.get(kind) if isinstance(kind, str) else None
        if step is None:
            raise InputError("it is no line of a book's export")
        if (self._number == 1) != (step == 0):
            raise InputError("a book's export begins with one line of kind book, and has one of them")
        if step < self._step:
            raise InputError(f"a line of kind {kind} comes before those of the chain" if step < 3 else "it comes late")
        self._step = step
        return self._read(str(kind), document)

    def _read(self, kind: str, document: Json) -> Part | None:
        if kind == "book":
            self.extent = _header(document)
        elif kind == "catalogue":
            self._counts[0] += 1
            return _catalogue(document)
        elif kind == "held":
            self._counts[1] += 1
            return _held(document)
        elif kind == "removed":
            stub = _stub(document)
            self._proof.follow_stub(stub)
            return stub
        elif kind == "chain":
            revision = _revision(document, self._proof.order + 1)
            self._proof.follow(revision)
            return revision
        else:
            self._end(document)
        return None

    def _end(self, document: Json) -> None:
        told = _extent(document, {"sha256"})
        proof = self._proof
        proof.finish()
        found = (proof.revisions, proof.removed, *self._counts, proof.last_seal)
        for extent, where in ((self.extent, "the first line"), (told, "this line")):
            for name, value, says in zip(Extent._fields, found, extent, strict=False):
                if value != says:
                    raise InputError(f"{where} says {name} {says}, but the lines before give {value or 'none'}")
        if told != self.extent:
            raise InputError("it does not say what the first line says")
        if document["sha256"] != self._digest.hexdigest():
            raise InputError("the lines before it were changed: their SHA-256 is another one")


class _Numbered:
    """Puts file and line before what is wrong with the line."""

    def __init__(self, name: str, number: int) -> None:
        self._name = name
        self._number = number

    def __enter__(self) -> None:
        """Begin with the line."""

    def __exit__(self, kind: object, error: BaseException | None, trace: object) -> None:
        """Name the line."""
        if isinstance(error, _NO_PARTS):
            what = "its body does not have the parts that a sealed record has"
        elif isinstance(error, InputError) or _refused(error):
            what = error.what
        else:  # not the line's fault: a full disk, a lock, a server that is gone
            return
        raise InputError(f"{self._name} line {self._number}: {what}", _HINT) from error


_NO_PARTS = (KeyError, TypeError, AttributeError, IndexError, ValueError)


def _refused(error: BaseException | None) -> TypeGuard[StorageError]:
    """Return whether a book refused what the line holds: its place, or its shape."""
    if not isinstance(error, StorageError):
        return False
    cause = error.__cause__
    names = {kind.__name__ for kind in type(cause).__mro__}
    # A driver alone finds a value unfit; what a server said of rights and the like has a code
    unfit = "ProgrammingError" in names and getattr(cause, "sqlstate", None) is None
    return cause is None or unfit or not names.isdisjoint({"IntegrityError", "InterfaceError"})


def _exactly(document: Json, *names: str) -> None:
    if document.keys() != set(names):
        lacking, beyond = sorted(set(names) - document.keys()), sorted(document.keys() - set(names))
        what = f"has no {lacking[0]!r}" if lacking else f"has a part {beyond[0][:40]!r} that is not known"
        raise InputError(f"it {what}")


def _text(document: Json, name: str) -> str:
    value = document[name]
    if not isinstance(value, str):
        raise InputError(f"{name} is no text")
    return value


def _shaped(document: Json, name: str, shape: re.Pattern[str], what: str) -> str:
    value = _text(document, name)
    if not shape.fullmatch(value):
        raise InputError(f"{name} is no {what}")
    return value


def _count(document: Json, name: str, least: int = 1) -> int:
    value = document[name]
    if type(value) is not int or value < least:
        raise InputError(f"{name} is no whole number of {least} or more")
    return value


def _perhaps(document: Json, name: str) -> str | None:
    return None if document[name] is None else _text(document, name)


def _extent(document: Json, more: set[str]) -> Extent:
    _exactly(document, "kind", *Extent._fields, *more)
    counts = [_count(document, name, 0) for name in Extent._fields[:4]]
    seals = [_shaped(document, name, _SEAL_OR_NONE, "seal") for name in Extent._fields[4:]]
    return Extent(*counts, *seals)  # type: ignore[arg-type]  # four numbers and three texts


def _header(document: Json) -> Extent:
    if document.get("format") != FORMAT:
        raise InputError(
            f"its format is {str(document.get('format'))[:40]!r}, and this version of the tool reads {FORMAT}"
        )
    extent = _extent(document, {"format", "exported_at"})
    _shaped(document, "exported_at", _INSTANT, "instant of UTC")
    return extent


def _catalogue(document: Json) -> CatalogueVersion:
    _exactly(document, "kind", "type", "id", "version", "loaded_at", "body")
    if not isinstance(document["body"], dict):
        raise InputError("body is no object")
    return CatalogueVersion(
        _text(document, "type"),
        _text(document, "id"),
        _count(document, "version"),
        _shaped(document, "loaded_at", _INSTANT, "instant of UTC"),
        canonical(document["body"]).decode(),
    )


def _held(document: Json) -> HeldEvent:
    _exactly(document, "kind", "event", *(name for name in HeldEvent._fields if name != "kind"))
    event = HeldEvent(
        _shaped(document, "number", _HELD_NUMBER, "number such as H-000001"),
        _count(document, "seq"),
        _text(document, "event"),
        _shaped(document, "at", _INSTANT, "instant of UTC"),
        _perhaps(document, "ref"),
        _perhaps(document, "person"),
        _text(document, "reason"),
        _perhaps(document, "serial"),
        _text(document, "document"),
        _text(document, "findings"),
    )
    for name, kind in (("document", dict), ("findings", list)):
        if not isinstance(_held_json(name, document[name]), kind):
            raise InputError(f"{name} is not the JSON of {'an object' if kind is dict else 'a list'}")
    canonical(list(event))  # no half pairs of characters
    return event


def _held_json(name: str, text: str) -> object:
    try:
        return json.loads(text)
    except (ValueError, RecursionError) as error:
        raise InputError(f"{name} is not JSON") from error


def _stub(document: Json) -> RemovedRow:
    _exactly(document, "kind", *RemovedRow._fields)
    return RemovedRow(
        _count(document, "order"),
        _text(document, "serial"),
        _count(document, "revision"),
        _shaped(document, "seal", _SEAL, "seal"),
        _shaped(document, "event", _EVENT, "serial of an event"),
    )


def _revision(document: Json, order: int) -> StoredRevision:
    _exactly(document, *_CHAIN)
    body, revision = document["body"], _count(document, "revision")
    if not isinstance(body, dict):
        raise InputError("body is no object")
    change = body.get("change")
    action = change.get("action") if isinstance(change, dict) and revision > 1 else "sealed"
    return StoredRevision(
        order,
        _text(document, "serial"),
        revision,
        str(action),
        _shaped(document, "sealed_at", _INSTANT, "instant of UTC"),
        _shaped(document, "previous", _SEAL_OR_NONE, "seal"),
        _shaped(document, "seal", _SEAL, "seal"),
        body,
        canonical(body).decode(),
    )
