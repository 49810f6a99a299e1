"""Small files that would take all memory or hours: refused in one line, within bounds of memory and time.

Each is given to the tool in a process of its own, with as little memory as a small machine has.
"""

from __future__ import annotations

import json
import os
import resource
import shutil
import subprocess
import sys
import zipfile
from pathlib import Path
from typing import TYPE_CHECKING, Any

import pytest

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


# Runs many command lines, and tells the code and the time of each where its answer ends
CHILD = """
import json, sys, time
from records.cli.app import main
for words in json.loads(sys.argv[1]):
    began = time.process_time()
    code = main(["--book", "book.db", *words])
    print(f"\\0{code} {time.process_time() - began}\\0", end="", flush=True)
    print("\\0", end="", file=sys.stderr, flush=True)
"""


def run(place: Path, *commands: list[str], stdin: str = os.devnull) -> None:
    """Run the tool with bounded memory; no command exceeds its time, breaks, or says more than what is wrong."""

    def bound() -> None:
        resource.setrlimit(resource.RLIMIT_AS, (MEMORY, MEMORY))
        resource.setrlimit(resource.RLIMIT_CPU, (60, 60))

    with Path(stdin).open("rb") as source:
        ran = subprocess.run(
            [sys.executable, "-c", CHILD, json.dumps(commands)],
            stdin=source,
            capture_output=True,
            cwd=place,
            check=False,
            preexec_fn=bound,  # one thread here
        )
    answers, told = ran.stdout.decode().split("\0"), ran.stderr.decode().split("\0")
    assert len(told) == len(commands) + 1, told[-1][-2_000:]
    for words, answer, ended, error in zip(commands, answers[::2], answers[1::2], told, strict=False):
        code, spent = ended.split()
        clean.screen(answer)
        clean.screen(error)
        assert code in {"0", "1", "8", "15"}, (words, code, error)
        assert "memory" not in error, (words, error)
        assert error.count("\n") == 1 or code in {"0", "1"}, (words, error)
        assert len(answer) < 100_000, (words, len(answer))
        assert float(spent) < SECONDS, (words, spent)


DOCUMENTS: dict[str, Callable[[], str]] = {
    "a name twice among many": lambda: "{" + ",".join(f'"a{i}":1' for i in range(130_000)) + ',"a129999":1}',
    "lists in a list": lambda: '{"a":[' + "[]," * 600_000 + "[]]}",
    "deep": lambda: '{"a":' * 300_000,
    "digits": lambda: '{"ref":' + "9" * 1_900_000 + "}",
    "escapes": lambda: '{"remarks":"' + "\\u0000" * 300_000 + '"}',
    "too long": lambda: '{"remarks":"' + "x" * 10 * MEGA + '"}',
    "powers": lambda: '{"ref":1e999999999,"treatments":[{"area":1e-999999999,"spray":-1e999999999}]}',
}


def test_visits(place: Path) -> None:
    """Refused or held, alone and among lines."""
    commands = []
    for name, made in DOCUMENTS.items():
        (place / f"{name}.json").write_text(made(), "utf-8")
        commands += [["close", f"{name}.json"], ["close", "--lines", f"{name}.json"]]
    run(place, *commands, ["held"], ["ready"])


LOADED: dict[str, Callable[[], str]] = {
    "json empty tables": lambda: '{"people":[' + "{}," * 600_000 + "{}]}",
    "json few empty tables": lambda: '{"people":[' + "{}," * 200_000 + "{}]}",
    "json texts": lambda: '{"people":[' + '"a",' * 1_100_000 + '"a"]}',
    "json names": lambda: "{" + ",".join(f'"a{i}":1' for i in range(400_000)) + "}",
    "json lists": lambda: '{"people":' + "[" * 300_000,
    "json powers": lambda: '{"people":[{"id":1e999999999}],"mixes":[{"water":1e999999999}]}',
    "toml tables": lambda: "[[people]]\n" * 300_000,
    "toml lists": lambda: "a=" + "[" * 300_000,
    "toml dots": lambda: "\n".join(f"{'.'.join(['a'] * 150)}.b{i}=1" for i in range(4_000)),
    "toml hexadecimal digits": lambda: "[[people]]\nid=0x" + "f" * 2 * MEGA,
    "toml inline tables": lambda: "a=" + "{a=" * 300_000,
    "toml equal signs": lambda: "=" * MEGA,
}


def test_documents_to_load(place: Path) -> None:
    """Refused with few problems; as a layout too."""
    commands = []
    for name, made in LOADED.items():
        ending, _, what = name.partition(" ")
        text = made()
        (place / f"{what}.{ending}").write_text(text, "utf-8")
        commands.append(["load", f"{what}.{ending}"])
        if ending == "toml":
            (place / f"layout {what}.toml").write_text(text[:900_000], "utf-8")
            commands.append(["import", "mine.toml", "--layout", f"layout {what}.toml"])
    run(place, *commands)


TABLES: dict[str, Callable[[], str]] = {
    "refused lines": lambda: "x\n" * 300_000,
    "cells": lambda: "," * 3 * MEGA,
    "an open quotation mark": lambda: '"' + "x\n" * MEGA,
    "quotation marks": lambda: '"' * 3 * MEGA,
    "a long cell": lambda: "2025-05-01," + "y" * 3 * MEGA + ",B,99999-41,4.6,floz",
}


def test_tables(place: Path) -> None:
    """Refused."""
    for name, made in TABLES.items():
        (place / f"{name}.csv").write_text("Day,Customer,Product,Number,Used,Unit\n" + made(), "utf-8")
    run(place, *(["import", f"{name}.csv", "--layout", "mine.toml"] for name in TABLES))


def test_what_never_ends(place: Path) -> None:
    """A device, by name and as standard input."""
    endless = [["close", "-"], ["close", "--lines", "-"], ["load", "-"], ["import", "-", "--layout", "mine.toml"]]
    run(place, *endless, stdin="/dev/zero")
    run(place, *(["/dev/zero" if word == "-" else word for word in words] for words in endless))


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
        "sheet": [
            "".join(map(str, sheet([LAUGHING], before=f'<?xml version="1.0" encoding="UTF-16"?>{LAUGHS}'))).encode(
                "utf-16"
            )
        ]
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


def test_workbooks(place: Path) -> None:
    """Refused, packed a thousand to one; what is large, packed not at all as well."""
    commands = []
    for name, parts in SHEETS.items():
        for level in (1, 0) if name in {"cells", "anything", "texts"} else (1,):
            workbook(place / f"{name} {level}.xlsx", level, dict(parts))
            commands.append(["import", f"{name} {level}.xlsx", "--layout", "mine.toml"])
    run(place, *commands)
    for path in place.glob("*.xlsx"):
        path.unlink()
