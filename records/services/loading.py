"""Load documents into the book: TOML or JSON, all or nothing, every problem told with its file, key and reason."""

from __future__ import annotations

import json
import re
from dataclasses import dataclass, field
from datetime import date, datetime
from decimal import Decimal
from typing import TYPE_CHECKING, Any

import tomli

from records.domain.loaded import Table, kind_of, shown, suggestion
from records.domain.numerals import QuantityError
from records.domain.product import Product
from records.domain.quantities import UnitKindError, parse_amount
from records.rules.pack_reading import read_pack_table
from records.rules.packs import pack_ids
from records.services.reading import (
    Problem,
    read_business,
    read_customer,
    read_equipment,
    read_mix,
    read_person,
    read_product,
    read_site,
)

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable, Iterator, Sequence

    from records.clock import Clock
    from records.rules.pack import Pack
    from records.services.ports import Catalogue, Json, OpenBook

MAX_BYTES = 20 * 1024 * 1024
MAX_DOTS = 200  # dots in one key; the work of reading such a key grows with their square
MOST_DOTS = 500_000  # dots in all
MAX_PARTS = 1_000_000  # signs that part values, in all: each value takes many times the memory that it takes as text
MAX_PROBLEMS = 500  # told of one file; more come after these are mended
_DIGITS = re.compile(r"[0-9A-Fa-f_]{5000}")  # readers of TOML take gigabytes for the longest
BUSINESS = "business"  # kind and id of the one firm in a book
_BROKEN = (ValueError, ArithmeticError, RecursionError, MemoryError)  # what parsers raise on hostile text


def read_overlay(doc: object, problems: list[Problem], where: str = "") -> Pack | None:
    """Read the firm's own record rules."""
    return read_pack_table(doc, problems, where, is_overlay=True)


# Key in the file -> kind in the catalogue and its reader, in the order in which they are stored.
KINDS: dict[str, tuple[str, Callable[[object, list[Problem], str], object]]] = {
    BUSINESS: (BUSINESS, read_business),
    "people": ("person", read_person),
    "customers": ("customer", read_customer),
    "sites": ("site", read_site),
    "products": ("product", read_product),
    "equipment": ("equipment", read_equipment),
    "mixes": ("mix", read_mix),
    "packs": ("pack", read_overlay),
}


@dataclass(frozen=True, slots=True)
class LoadProblem:
    """One thing wrong: in which file, at which key ("" = the file as a whole), and what."""

    file: str
    where: str
    what: str

    def __str__(self) -> str:
        """Return the line shown to the user."""
        return ": ".join(part for part in (self.file, self.where, self.what) if part)


@dataclass(slots=True)
class Counts:
    """How many documents of a kind were new, differed from what the book held, or did not."""

    added: int = 0
    changed: int = 0
    unchanged: int = 0


@dataclass(frozen=True, slots=True)
class LoadReport:
    """What loading did: everything, or nothing and why."""

    problems: tuple[LoadProblem, ...] = ()
    counts: dict[str, Counts] = field(default_factory=dict)  # by key of the file, such as "products"

    @property
    def ok(self) -> bool:
        """Tell whether everything was stored."""
        return not self.problems


@dataclass(frozen=True, slots=True)
class _Item:
    """One document of a file; `value` is None when it has problems of its own."""

    section: str
    file: str
    where: str
    doc: Any
    value: object

    @property
    def kind(self) -> str:
        return KINDS[self.section][0]

    @property
    def key(self) -> str:
        if self.kind == BUSINESS:
            return BUSINESS
        key = self.doc.get("id") if isinstance(self.doc, dict) else None
        return key.strip() if isinstance(key, str) else ""


def load(book: OpenBook, sources: Sequence[tuple[str, bytes]], clock: Clock) -> LoadReport:
    """Load the documents of some files: all of them in one transaction, or none.

    Args:
        book: where they go.
        sources: name and content of each file; `-` stands for standard input.
        clock: says when they were loaded.
    """
    problems: list[LoadProblem] = []
    items: list[_Item] = []
    for name, data in sources:
        content = parse(name, data, problems)
        if content is not None:
            items.extend(_items(name, content, problems))
    problems.extend(_repeated(items))
    if not items:
        return LoadReport(tuple(problems) or (LoadProblem("", "", "no file was given"),))
    with book.write() as work:
        problems.extend(_dangling(items, work.catalogue))
        if problems:
            return LoadReport(tuple(problems))
        counts = _store(items, work.catalogue, clock.now())
        work.commit()
    return LoadReport((), counts)


def parse(name: str, data: bytes, problems: list[LoadProblem]) -> Json | None:
    """Return the content of a TOML or JSON file, or None beside a problem.

    The ending of the name says which it is; without one that is known, a first `{` means JSON.

    Args:
        name: of the file; `-` stands for standard input.
        data: its content, UTF-8 with or without a byte order mark.
        problems: what is wrong is added here.
    """
    if len(data) > MAX_BYTES:
        size = f"{len(data) / 1_048_576:,.0f} MB"
        problems.append(LoadProblem(name, "", f"is {size}; files up to {MAX_BYTES // 1_048_576} MB are read, split it"))
        return None
    try:
        text = data.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        reason = f"is not UTF-8 text (byte {error.start + 1:,}); save it as UTF-8 text, TOML or JSON"
        problems.append(LoadProblem(name, "", reason))
        return None
    if too_much := _too_much(text):
        problems.append(LoadProblem(name, "", too_much))
        return None
    ending = name.lower().rpartition(".")[2]
    is_json = ending == "json" or (ending != "toml" and text.lstrip().startswith("{"))
    try:
        content = _json(name, text, problems) if is_json else _toml(name, text, problems)
    except _BROKEN as error:
        problems.append(LoadProblem(name, "", _reason(error, "JSON" if is_json else "TOML")))
        return None
    if content is not None and not isinstance(content, dict):
        what = f"holds {kind_of(content)}; an object with business, people, products ... belongs there"
        problems.append(LoadProblem(name, "", what))
        return None
    return content


def _too_much(text: str) -> str:
    """Return why a text is not even parsed; "" where it is."""
    if not text.strip():
        return "is empty; nothing to load"
    if _DIGITS.search(text):
        return "holds a number out of bounds"
    if sum(map(text.count, ",\n[{")) > MAX_PARTS:
        return f"holds more than {MAX_PARTS:,} values; split it"
    return ""


def _reason(error: BaseException, language: str) -> str:
    """Return why a text could not be read, in one line."""
    if isinstance(error, RecursionError):
        return f"is nested too deeply to be read as {language}; no document of this kind is"
    if isinstance(error, MemoryError):
        return f"holds something too large to be read as {language}"
    if not isinstance(error, json.JSONDecodeError | tomli.TOMLDecodeError):
        return f"is not {language} that can be read: it holds a number out of bounds"
    told = "".join(c if c.isprintable() else "?" for c in str(error)[:120])
    return f"is not {language}: {told[0].lower()}{told[1:]}"


def _json(name: str, text: str, problems: list[LoadProblem]) -> Any:  # noqa: ANN401 - whatever the file holds
    twice: dict[str, None] = {}

    def collect(pairs: list[tuple[str, Any]]) -> Json:
        found = dict(pairs)
        if len(found) < len(pairs):
            seen: set[str] = set()
            for key, _ in pairs:
                if key in seen:
                    twice[key] = None
                seen.add(key)
        return found

    content = json.loads(text, object_pairs_hook=collect, parse_float=Decimal, parse_constant=Decimal)
    problems.extend(LoadProblem(name, shown(key), "is given twice in one object; keep one") for key in list(twice)[:20])
    return content


def _toml(name: str, text: str, problems: list[LoadProblem]) -> Json | None:
    if max(part.count(".") for line in text.splitlines() for part in line.split("=")) > MAX_DOTS:
        problems.append(LoadProblem(name, "", f"has a line with more than {MAX_DOTS:,} dots, which no document needs"))
        return None
    if text.count(".") > MOST_DOTS:
        problems.append(LoadProblem(name, "", f"holds more than {MOST_DOTS:,} dots; split it"))
        return None
    return tomli.loads(text, parse_float=Decimal)


def _items(name: str, content: Json, problems: list[LoadProblem]) -> Iterator[_Item]:
    """Yield every document of a file, read; its problems are added to the list."""
    if "treatments" in content:
        problems.append(LoadProblem(name, "", "is a visit, nothing to load; close it with: swathbook close FILE"))
        return
    found: list[Problem] = []
    top = Table(content, "", found)
    several: list[_Item] = []
    for section, (kind, read) in KINDS.items():
        value = top.raw(section)
        if value is None:
            continue
        if kind == BUSINESS:
            several.append(_Item(section, name, section, value, read(value, found, section)))
        elif isinstance(value, list):
            for index, doc in enumerate(value):
                where = f"{section}[{index}]"
                several.append(_Item(section, name, where, doc, read(doc, found, where)))
                if len(found) > MAX_PROBLEMS:
                    found.append(Problem(where, "is as far as was read; correct what is told above, and load again"))
                    break
        else:
            top.problem(section, f"is {kind_of(value)}; a list of tables belongs here ([[{section}]] in TOML)")
    top.finish()
    if not several and not found:
        found.append(Problem("", f"holds nothing to load; known here: {', '.join(KINDS)}"))
    problems.extend(LoadProblem(name, problem.where, problem.what) for problem in found)
    yield from several


def _repeated(items: Iterable[_Item]) -> Iterator[LoadProblem]:
    """Yield a problem for every document whose id was given before in this load."""
    first: dict[tuple[str, str], _Item] = {}
    for item in items:
        if not item.key:
            continue
        before = first.setdefault((item.kind, item.key), item)
        if before is not item:
            place = before.where if before.file == item.file else f"{before.file}: {before.where}"
            what = "is given twice" if item.kind == BUSINESS else f"has the id {shown(item.key)} a second time"
            yield LoadProblem(item.file, item.where, f"{what}, first at {place}; keep one, or give another id")


class _Known:
    """Looks an id up in this load, then in the book."""

    def __init__(self, items: Iterable[_Item], catalogue: Catalogue) -> None:
        self._items = {(item.kind, item.key): item for item in items}
        self._catalogue = catalogue

    def has(self, kind: str, key: str) -> bool:
        return (kind, key) in self._items or self._catalogue.latest(kind, key) is not None

    def product(self, key: str) -> Product | None:
        item = self._items.get(("product", key))
        if item is not None:
            return item.value if isinstance(item.value, Product) else None
        entry = self._catalogue.latest("product", key)
        return None if entry is None else read_product(entry.body, [])

    def hint(self, kind: str, key: str) -> str:
        ids = [known for of, known in self._items if of == kind]
        ids += [entry.id for entry in self._catalogue.every(kind)]
        ids += pack_ids() if kind == "pack" else ()
        return suggestion(key, ids) or f"load the {kind} too, or correct the id"


def _dangling(items: Sequence[_Item], catalogue: Catalogue) -> Iterator[LoadProblem]:
    """Yield a problem for every reference that neither this load nor the book answers."""
    known = _Known(items, catalogue)
    for item in items:
        for where, kind, key in _references(item):
            if not known.has(kind, key):
                what = f"{shown(key)} is no {kind} of this load or of the book; {known.hint(kind, key)}"
                yield LoadProblem(item.file, f"{item.where}.{where}", what)
        yield from _misfits(item, known)


def _references(item: _Item) -> Iterator[tuple[str, str, str]]:
    """Yield place, kind and id of everything a document refers to."""
    doc = item.doc if isinstance(item.doc, dict) else {}
    wanted = {"site": (("customer", "customer"),), "mix": (("equipment", "equipment"),)}
    for key, kind in wanted.get(item.kind, ()):
        if isinstance(doc.get(key), str) and doc[key].strip():
            yield key, kind, doc[key].strip()
    packs = doc.get("packs") if item.kind == BUSINESS else None
    for index, key in enumerate([packs] if isinstance(packs, str) else packs if isinstance(packs, list) else []):
        if isinstance(key, str) and key.strip() and key.strip() not in pack_ids():
            yield f"packs[{index}]", "pack", key.strip()
    for index, _, product, _ in _mix_lines(item):
        yield f"products[{index}].product", "product", product
    carried = doc.get("carried") if item.kind == "mix" else None
    for index, leftover in enumerate(carried if isinstance(carried, list) else []):
        earlier = leftover.get("mix") if isinstance(leftover, dict) else None
        if isinstance(earlier, str) and earlier.strip():
            yield f"carried[{index}].mix", "mix", earlier.strip()


def _mix_lines(item: _Item) -> Iterator[tuple[int, Json, str, str]]:
    """Yield index, table, product id and amount of the lines of a mix, as far as they are texts."""
    lines = item.doc.get("products") if item.kind == "mix" and isinstance(item.doc, dict) else None
    for index, line in enumerate(lines if isinstance(lines, list) else []):
        product = line.get("product") if isinstance(line, dict) else None
        if isinstance(product, str) and product.strip():
            amount = line.get("amount")
            yield index, line, product.strip(), amount if isinstance(amount, str) else ""


def _misfits(item: _Item, known: _Known) -> Iterator[LoadProblem]:
    """Yield a problem for every amount of a mix that its product is not measured in."""
    for index, _, key, amount in _mix_lines(item):
        product = known.product(key)
        if product is None or not amount:
            continue
        try:
            parse_amount(amount, product.form)
        except UnitKindError as error:
            yield LoadProblem(item.file, f"{item.where}.products[{index}].amount", str(error))
        except QuantityError:
            continue  # already told when the mix was read


def _store(items: Sequence[_Item], catalogue: Catalogue, now: datetime) -> dict[str, Counts]:
    counts: dict[str, Counts] = {}
    order = list(KINDS)
    for item in sorted(items, key=lambda one: order.index(one.section)):
        count = counts.setdefault(item.section, Counts())
        before = catalogue.latest(item.kind, item.key)
        version = catalogue.add(item.kind, item.key, _plain(item.doc), now)
        if before is None:
            count.added += 1
        elif version != before.version:
            count.changed += 1
        else:
            count.unchanged += 1
    return counts


def _plain(value: Any) -> Any:  # noqa: ANN401 - a JSON value
    """Return a document as JSON values: days and times as ISO text, keys without a value left out."""
    if isinstance(value, dict):
        return {key: _plain(one) for key, one in value.items() if one is not None}
    if isinstance(value, list):
        return [_plain(one) for one in value]
    if isinstance(value, date):
        return value.isoformat()
    return value
