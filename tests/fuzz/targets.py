"""What is fuzzed: each target takes bytes, and lets no error out but those that the tool raises on purpose."""

from __future__ import annotations

import io
import json
import shutil
import tempfile
from contextlib import suppress
from functools import cache
from hashlib import sha256
from pathlib import Path
from typing import TYPE_CHECKING, Any

from records.clock import FixedClock
from records.domain.numerals import QuantityError
from records.domain.quantities import (
    Form,
    parse_amount,
    parse_area,
    parse_output,
    parse_rate,
    parse_speed,
    parse_temperature,
    parse_volume,
)
from records.domain.weather import parse_direction
from records.errors import RecordsError
from records.services.closing.documents import read_document
from records.services.closing.reading import read_visit
from records.services.closing.service import close_lines
from records.services.directory import Directory
from records.services.importing import import_table, read_layout, shipped
from records.services.loading import KINDS, LoadProblem, parse
from records.services.metar import decode
from records.services.moving.exporting import export_book
from records.services.moving.importing import check_export, import_book
from records.services.sealing import canonical, seal
from records.services.weather_sources import read_table
from records.storage.migrate import upgrade
from records.storage.unit_of_work import SqlBook
from tests.hostile.clean import screen
from tests.kit import Kit, moment, visit
from tests.storage.chain import append
from tests.storage.chain import visit as sealed_visit

if TYPE_CHECKING:
    from collections.abc import Callable

CLOCK = FixedClock(moment("2026-05-14T09:40"))
FOLDER = Path(__file__).parents[1] / "import_data"
LAYOUT = """layout = 1
name = "small"
source = "a sheet of one's own"
[file]
date = "MM/DD/YYYY"
[rows]
grain = "job"
timezone = "America/Chicago"
[fields]
date = "Day"
start_time = "From"
customer = "Customer"
product = "Product"
registration = "Number"
amount = "Used"
amount_unit = "Unit"
area = "Area"
wind_speed = "Wind"
target = "Weed"
[constants]
area_unit = "sq ft"
[units]
amount = {"fl oz" = "fl oz", lb = "lb"}
area = {"sq ft" = "sq ft"}
"""
ROWS = b"""Day,From,Customer,Product,Number,Used,Unit,Area,Wind,Weed
05/01/2025,9:10 AM,A. Firm,Brindle 4L,99999-41,4.6,fl oz,"4,200",6 mph,ground ivy
05/02/2025,,\xc3\x85. Firm,,99999-41-AA,1 1/2,lb,,calm,"a; b"
"""


@cache
def folder() -> Path:
    """Return a folder that goes with the process."""
    return Path(tempfile.mkdtemp(prefix="fuzz-"))


@cache
def kit() -> Kit:
    """Return one book with a firm in it."""
    return Kit.at(folder())


@cache
def empty() -> Path:
    """Return an empty book."""
    path = folder() / "empty.db"
    upgrade(path)
    return path


def quantity(data: bytes) -> None:
    """Read an amount, a rate, an area and all else that has a unit; what is read can be written and read again."""
    try:
        text = data.decode("utf-8", "surrogatepass")
    except UnicodeDecodeError:
        text = data.decode("latin-1")
    for form in Form:
        for read in (parse_amount, parse_rate):
            with suppress(QuantityError):
                found = read(text, form)
                assert read(str(found), form) == read(str(read(str(found), form)), form)
    for parse_one in (parse_area, parse_volume, parse_output, parse_speed, parse_temperature, parse_direction):
        with suppress(QuantityError):
            str(parse_one(text))


def document(data: bytes) -> None:
    """Read a visit document into a visit."""
    with suppress(RecordsError):
        typed = read_document(data, "fuzz.json")
        with kit().book.read() as work:
            _, reader = read_visit(typed, Directory(work.catalogue))
        for finding in reader.findings:
            screen(finding.message)


def closing(data: bytes) -> None:
    """Close lines of visits in a book that keeps nothing."""
    for outcome in close_lines(_Forgetful(kit().book), data.split(b"\n")[:3], CLOCK):
        assert outcome.status in {"sealed", "held", "refused"}


class _Forgetful:
    """A book whose transactions are never kept."""

    def __init__(self, book: SqlBook) -> None:
        self._book = book

    def read(self) -> Any:  # noqa: ANN401
        return self._book.read()

    def write(self) -> Any:  # noqa: ANN401
        work = self._book.write()
        work.commit = lambda: None  # type: ignore[method-assign]
        return work


def loading(data: bytes) -> None:
    """Read a document to load, as TOML and as JSON."""
    for name in ("fuzz.toml", "fuzz.json"):
        problems: list[LoadProblem] = []
        content = parse(name, data, problems) or {}
        for section, (_, read) in KINDS.items():
            for value in content[section] if isinstance(content.get(section), list) else [content.get(section)]:
                found: list[Any] = []
                read(value, found, section)
                problems += [LoadProblem(name, one.where, one.what) for one in found]
        for problem in problems:
            screen(str(problem))


def layout(data: bytes) -> None:
    """Read a layout file."""
    with suppress(RecordsError):
        read_layout(data.decode("utf-8", "replace"), "fuzz.toml")


def table(data: bytes) -> None:
    """Read a table by a layout: the first byte says which."""
    layouts = [read_layout(LAYOUT, "small.toml"), *shipped().values()]
    with suppress(RecordsError):
        import_table(
            kit().book,
            data[1:],
            "fuzz.csv",
            layouts[data[0] % len(layouts)] if data else layouts[0],
            CLOCK,
            dry_run=True,
        )


def whole_book(data: bytes) -> None:
    """Prove an export; then put it into an empty book. Digests that the fuzzer cannot find are made right first."""
    with suppress(RecordsError):
        check_export(io.BytesIO(data), "fuzz.jsonl")
    path = folder() / "book.db"
    shutil.copyfile(empty(), path)
    book = SqlBook(path)
    try:
        with suppress(RecordsError):
            import_book(book, io.BytesIO(sealed_again(data)), "fuzz.jsonl")
    finally:
        for engine in book._engines.values():
            engine.dispose()


class _Sealer:
    """Makes the seals of an export's lines right, so that their content is looked at."""

    def __init__(self) -> None:
        self.last = {"chain": "", "catalogue": "", "held": ""}
        self.counts = {"revisions": 0, "removed": 0, "catalogue": 0, "held": 0}

    def line(self, line: bytes) -> Any:  # noqa: ANN401
        """Return a line read, its seal made right; one that cannot be read as it is."""
        try:
            made = json.loads(line)
            if "kind" not in made:
                parts = (made["serial"], made["revision"], made["sealed_at"], made["body"])
                made["previous"] = self.last["chain"]
                made["seal"] = self.last["chain"] = seal(self.last["chain"], *parts)
                self.counts["revisions"] += 1
            elif made["kind"] in {"catalogue", "held"}:
                self._row(made["kind"], made)
        except Exception:  # noqa: BLE001 - left as it is
            return line
        return made

    def _row(self, kind: str, made: dict[str, Any]) -> None:
        self.counts[kind] += 1
        names: tuple[str, ...] = (
            "number",
            "seq",
            "event",
            "at",
            "ref",
            "person",
            "reason",
            "serial",
            "document",
            "findings",
        )
        if kind == "catalogue":
            names = ("type", "id", "version", "loaded_at")
        values = [made[name] for name in names]
        if kind == "catalogue":
            values.append(canonical(made["body"]).decode())
        self.last[kind] = sha256(canonical([self.last[kind], self.counts[kind], *values])).hexdigest()

    def says(self) -> dict[str, Any]:
        """Return what the first and the last line have to say."""
        last = self.last
        return {
            **self.counts,
            "last_seal": last["chain"],
            "catalogue_seal": last["catalogue"],
            "held_seal": last["held"],
        }


def sealed_again(data: bytes) -> bytes:
    """Return an export whose seals, counts and digest are those of its content."""
    sealer = _Sealer()
    lines = [sealer.line(line) for line in data.rstrip(b"\n").split(b"\n")[:40]]
    digest = sha256()
    out = []
    for item in lines:
        if isinstance(item, dict) and item.get("kind") in {"book", "end"}:
            item.update(sealer.says())
            if item["kind"] == "end":
                item["sha256"] = digest.hexdigest()
        line = (item if isinstance(item, bytes) else json.dumps(item).encode()) + b"\n"
        digest.update(line)
        out.append(line)
    return b"".join(out)


def exported() -> bytes:
    """Return the export of a small book."""
    path = Path(tempfile.mkdtemp(dir=folder())) / "small.db"
    shutil.copyfile(kit().path, path)
    book = SqlBook(path)
    with book.write() as work:
        append(work, sealed_visit(1))
        work.commit()
    list(close_lines(book, [json.dumps(visit(ref="h", applicator="nobody")).encode()], CLOCK))
    stream = io.BytesIO()
    with book.read() as work:
        export_book(work.moving, stream, CLOCK.now())
    lines = stream.getvalue().splitlines(keepends=True)
    # Few lines: what is fuzzed is their shape
    short = [lines[0], *(line for line in lines if b'"person"' in line[:60] or b'"customer"' in line[:60])][:3]
    return b"".join([*short, *(line for line in lines[1:] if b'"kind":"catalogue"' not in line)])


def metar(data: bytes) -> None:
    """Decode a pasted airport report."""
    with suppress(QuantityError):
        decode(data.decode("utf-8", "replace"), CLOCK.now())


def hours(data: bytes) -> None:
    """Read an hourly station table."""
    with suppress(RecordsError):
        read_table(data, "hours.csv", "X")


TARGETS: dict[str, Callable[[bytes], None]] = {
    "quantity": quantity,
    "metar": metar,
    "hours": hours,
    "document": document,
    "closing": closing,
    "loading": loading,
    "layout": layout,
    "table": table,
    "book": whole_book,
}


def seeds(name: str) -> list[bytes]:
    """Return what a target begins with."""
    entry = json.dumps(visit(ref="r", remarks="x", follow_up="2026-05-28", confirmed=["same-day"])).encode()
    return {
        "quantity": [
            text.encode()
            for text in (
                "4,200 sq ft",
                "1 1/2 pt",
                "0.085 oz/1000 sq ft",
                "0.5 % v/v",
                "44 GPA",
                "-3 degC",
                "NNE",
                "\N{VULGAR FRACTION ONE HALF} gal/M",
                "1e400 lb",
                "20 fl oz per 100 gal of spray",
            )
        ],
        "metar": [b"KXYZ 141453Z AUTO 22015G25KT 180V260 1 1/2SM -RA FEW010 18/M01 A2992 RMK AO2 T01821011"],
        "hours": [b"origin,time_hour,wind_dir,wind_speed,temp,humid\nX,2026-05-14T15:00:00Z,200,9.2,60,NA\n"],
        "document": [entry],
        "closing": [entry + b"\n" + entry],
        "loading": [
            b'[[people]]\nid = "a"\nname = "B"\nlicences = [{number = "1", state = "MN", kind = "certified"}]\n',
            json.dumps({"people": [{"id": "a", "name": "B"}], "packs": [{"id": "x", "version": "1"}]}).encode(),
        ],
        "layout": [LAYOUT.encode()],
        "table": [b"\0" + ROWS],
        "book": [exported()],
    }[name]
