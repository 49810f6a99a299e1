"""Small files that would take all memory or hours: refused in one line, within bounds of memory and time.

Each is given to the tool in a process of its own, with as little memory as a small machine has.
"""

from __future__ import annotations

import os
import resource
import shutil
import subprocess
import sys
import zipfile
from pathlib import Path
from typing import TYPE_CHECKING, Any

import pytest

from tests.cli.conftest import TOOL
from tests.cli.test_reports import LAYOUT
from tests.hostile import clean
from tests.kit import template

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable

MEMORY = 1_500_000_000  # bytes of addresses
SECONDS = 5.0  # of the processor, starting included: other tests may run beside this one
NS = "http://schemas.openxmlformats.org/spreadsheetml/2006/main"
TYPES = "application/vnd.openxmlformats-officedocument.spreadsheetml."
PACKAGE = "http://schemas.openxmlformats.org/package/2006"
OFFICE = "http://schemas.openxmlformats.org/officeDocument/2006/relationships"
HEADER = "".join(
    f'<c t="inlineStr"><is><t>{name}</t></is></c>' for name in ("Day", "Customer", "Product", "Number", "Used", "Unit")
)
MEGA = 1_000_000

pytestmark = pytest.mark.skipif(sys.platform != "linux", reason="memory is bounded by the system here only on Linux")


@pytest.fixture(scope="module")
def place(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Return a folder with a book and a layout."""
    folder = tmp_path_factory.mktemp("bombs")
    shutil.copyfile(template(), folder / "book.db")
    (folder / "mine.toml").write_text(LAYOUT, "utf-8")
    return folder


def run(place: Path, *words: str, stdin: str = os.devnull) -> subprocess.CompletedProcess[bytes]:
    """Run the tool with bounded memory; it neither exceeds its time nor breaks."""

    def bound() -> None:
        resource.setrlimit(resource.RLIMIT_AS, (MEMORY, MEMORY))
        resource.setrlimit(resource.RLIMIT_CPU, (int(SECONDS) * 4, int(SECONDS) * 4))

    before = resource.getrusage(resource.RUSAGE_CHILDREN)
    with Path(stdin).open("rb") as source:
        ran = subprocess.run(
            [TOOL, "--book", "book.db", *words],
            stdin=source,
            capture_output=True,
            cwd=place,
            timeout=60,
            check=False,
            preexec_fn=bound,  # noqa: PLW1509 - one thread here
        )
    after = resource.getrusage(resource.RUSAGE_CHILDREN)
    spent = after.ru_utime + after.ru_stime - before.ru_utime - before.ru_stime
    told = ran.stderr.decode()
    clean.screen(told)
    clean.screen(ran.stdout.decode())
    assert "unexpected" not in told
    assert "memory" not in told
    assert ran.returncode in {0, 1, 8, 15}, (ran.returncode, told)
    assert told.count("\n") <= 1
    assert len(ran.stdout) < 100_000
    assert spent < SECONDS, spent
    return ran


DOCUMENTS: dict[str, Callable[[], str]] = {
    "a name twice among many": lambda: "{" + ",".join(f'"a{i}":1' for i in range(130_000)) + ',"a129999":1}',
    "lists in a list": lambda: '{"a":[' + "[]," * 600_000 + "[]]}",
    "deep": lambda: '{"a":' * 300_000,
    "digits": lambda: '{"ref":' + "9" * 1_900_000 + "}",
    "escapes": lambda: '{"remarks":"' + "\\u0000" * 300_000 + '"}',
    "too long": lambda: '{"remarks":"' + "x" * 10 * MEGA + '"}',
    "powers": lambda: '{"ref":1e999999999,"treatments":[{"area":1e-999999999,"spray":-1e999999999}]}',
}


@pytest.mark.parametrize("name", DOCUMENTS)
def test_visits(name: str, place: Path) -> None:
    """Refused or held, alone and among lines."""
    (place / "x.json").write_text(DOCUMENTS[name](), "utf-8")
    run(place, "close", "x.json")
    run(place, "close", "--lines", "x.json")


LOADED: dict[str, Callable[[], str]] = {
    "x.json of empty tables": lambda: '{"people":[' + "{}," * 600_000 + "{}]}",
    "x.json of few empty tables": lambda: '{"people":[' + "{}," * 200_000 + "{}]}",
    "x.json of texts": lambda: '{"people":[' + '"a",' * 1_100_000 + '"a"]}',
    "x.json of names": lambda: "{" + ",".join(f'"a{i}":1' for i in range(400_000)) + "}",
    "x.json of lists": lambda: '{"people":' + "[" * 300_000,
    "x.json of powers": lambda: '{"people":[{"id":1e999999999}],"mixes":[{"water":1e999999999}]}',
    "x.toml of tables": lambda: "[[people]]\n" * 300_000,
    "x.toml of lists": lambda: "a=" + "[" * 300_000,
    "x.toml of dots": lambda: "\n".join(f"{'.'.join(['a'] * 150)}.b{i}=1" for i in range(4_000)),
    "x.toml of hexadecimal digits": lambda: "[[people]]\nid=0x" + "f" * 2 * MEGA,
    "x.toml of inline tables": lambda: "a=" + "{a=" * 300_000,
    "x.toml of equal signs": lambda: "=" * MEGA,
}


@pytest.mark.parametrize("name", LOADED)
def test_documents_to_load(name: str, place: Path) -> None:
    """Refused with few problems; as a layout too."""
    file = name.split()[0]
    text = LOADED[name]()
    (place / file).write_text(text, "utf-8")
    run(place, "load", file)
    if file == "x.toml":
        (place / file).write_text(text[:900_000], "utf-8")
        run(place, "import", "x.json", "--layout", file)


TABLES: dict[str, Callable[[], str]] = {
    "refused lines": lambda: "x\n" * 300_000,
    "cells": lambda: "," * 3 * MEGA,
    "an open quotation mark": lambda: '"' + "x\n" * MEGA,
    "quotation marks": lambda: '"' * 3 * MEGA,
    "a long cell": lambda: "2025-05-01," + "y" * 3 * MEGA + ",B,99999-41,4.6,floz",
}


@pytest.mark.parametrize("name", TABLES)
def test_tables(name: str, place: Path) -> None:
    """Refused."""
    (place / "x.csv").write_text("Day,Customer,Product,Number,Used,Unit\n" + TABLES[name](), "utf-8")
    run(place, "import", "x.csv", "--layout", "mine.toml")


@pytest.mark.parametrize("words", [["close", "-"], ["close", "--lines", "-"], ["load", "-"], ["import", "-", "--layout", "mine.toml"]])
def test_what_never_ends(words: list[str], place: Path) -> None:
    """A device, by name and as standard input."""
    run(place, *words, stdin="/dev/zero")
    if words[0] != "import":
        run(place, *("/dev/zero" if word == "-" else word for word in words))


def repeated(piece: str, size: int) -> Iterable[bytes]:
    """Return so many bytes of one text over and over, in blocks."""
    block = piece.encode() * max(1, MEGA // len(piece))
    return [block] * (size // len(block))


def sheet(inside: Iterable[bytes | str], after: Iterable[bytes | str] = (), before: str = "") -> Iterable[bytes | str]:
    """Return a sheet with the header and whatever else."""
    head = f'{before}<worksheet xmlns="{NS}"><sheetData><row r="1">{HEADER}</row>'
    return [head, *inside, "</sheetData>", *after, "</worksheet>"]


LAUGHS = '<!DOCTYPE x [<!ENTITY a "aaaaaaaaaa">' + "".join(
    f'<!ENTITY {chr(98 + i)} "{f"&{chr(97 + i)};" * 10}">' for i in range(9)
)
LAUGHS += "]>"
LAUGHING = '<row><c t="inlineStr"><is><t>&j;</t></is></c></row>'
SHEETS: dict[str, dict[str, Any]] = {
    "a sheet as large as can be": {"sheet": sheet(['<row r="1048576"><c r="XFD1048576"><v>1</v></c></row>'])},
    "a row beyond all": {"sheet": sheet(['<row r="99999999999"><c><v>1</v></c></row>'])},
    "wide rows": {"sheet": sheet(repeated('<row><c r="XFD1"><v>1</v></c></row>', 1_100_000))},
    "cells": {"sheet": sheet(["<row>", *repeated("<c/>", 60 * MEGA), "</row>"])},
    "few cells": {"sheet": sheet(["<row>", *repeated("<c/>", 1_900_000), "</row>"])},
    "rows": {"sheet": sheet(repeated("<row/>", 60 * MEGA))},
    "anything": {"sheet": sheet([], repeated("<x/>", 60 * MEGA))},
    "deep": {"sheet": sheet(repeated("<x>", 60 * MEGA))},
    "texts": {"strings": [f'<sst xmlns="{NS}">', *repeated("<si><t/></si>", 60 * MEGA), "</sst>"]},
    "styles": {"xl/styles.xml": [f'<styleSheet xmlns="{NS}"><cellXfs>', *repeated("<xf/>", 60 * MEGA)]},
    "one text": {"sheet": sheet(['<row><c t="inlineStr"><is><t>', *repeated("a", 60 * MEGA), "</t></is></c></row>"])},
    "digits": {"sheet": sheet(["<row><c><v>", *repeated("9", 1_900_000), "</v></c></row>"])},
    "numbers out of bounds": {"sheet": sheet(['<row><c t="s"><v>99999999</v></c></row>'])},
    "names": {"sheet": sheet(["<row ", *(f'a{i}="" ' for i in range(150_000)), "/>"])},
    "laughs": {"sheet": sheet([LAUGHING], before=LAUGHS)},
    "late laughs": {"sheet": sheet([LAUGHING], before=f"<!--{' ' * 5_000}-->{LAUGHS}")},
    "wide laughs": {
        "sheet": ["".join(map(str, sheet([LAUGHING], before=f'<?xml version="1.0" encoding="UTF-16"?>{LAUGHS}'))).encode("utf-16")]
    },
    "a file in an entity": {
        "sheet": sheet(
            ['<row><c t="inlineStr"><is><t>&a;</t></is></c></row>'],
            before=f'<!--{" " * 5_000}--><!DOCTYPE x [<!ENTITY a SYSTEM "file:///etc/passwd">]>',
        )
    },
    "a sheet as the workbook": {"workbook": "xl/worksheets/sheet1.xml"},
}


def workbook(path: Path, level: int, parts: dict[str, Any]) -> None:
    """Write a workbook, some parts of it as given."""
    main = parts.pop("workbook", "xl/workbook.xml")
    sheets = '<sheets><sheet name="S" sheetId="1" r:id="rId1"/></sheets>'
    usual: dict[str, Any] = {
        "[Content_Types].xml": f'<Types xmlns="{PACKAGE}/content-types">'
        f'<Override PartName="/{main}" ContentType="{TYPES}sheet.main+xml"/>'
        f'<Override PartName="/xl/worksheets/sheet1.xml" ContentType="{TYPES}worksheet+xml"/>'
        f'<Override PartName="/xl/sharedStrings.xml" ContentType="{TYPES}sharedStrings+xml"/></Types>',
        "xl/workbook.xml": f'<workbook xmlns="{NS}" xmlns:r="{OFFICE}">{sheets}</workbook>',
        "xl/_rels/workbook.xml.rels": f'<Relationships xmlns="{PACKAGE}/relationships">'
        f'<Relationship Id="rId1" Type="{OFFICE}/worksheet" Target="worksheets/sheet1.xml"/></Relationships>',
        "xl/worksheets/sheet1.xml": parts.pop("sheet", sheet([])),
        "xl/sharedStrings.xml": parts.pop("strings", f'<sst xmlns="{NS}"/>'),
        **parts,
    }
    with zipfile.ZipFile(path, "w", zipfile.ZIP_DEFLATED, compresslevel=level) as archive:
        for name, content in usual.items():
            with archive.open(name, "w", force_zip64=True) as part:
                for piece in [content] if isinstance(content, str) else content:
                    part.write(piece.encode() if isinstance(piece, str) else piece)


@pytest.mark.parametrize("name", SHEETS)
def test_workbooks(name: str, place: Path) -> None:
    """Refused, packed a thousand to one; what is large, packed not at all as well."""
    workbook(place / "x.xlsx", 1, dict(SHEETS[name]))
    run(place, "import", "x.xlsx", "--layout", "mine.toml")
    if name in {"cells", "anything", "texts"}:
        workbook(place / "x.xlsx", 0, dict(SHEETS[name]))
        run(place, "import", "x.xlsx", "--layout", "mine.toml")
    (place / "x.xlsx").unlink()
