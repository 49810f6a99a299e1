"""Data to stdout, talk to stderr; nothing a record holds can steer the terminal."""

from __future__ import annotations

import json
import shutil
import sys
import textwrap
import unicodedata
from collections.abc import Iterable, Sequence
from typing import IO, Any

MIN_WIDTH = 40
_TURNING = frozenset("\u202a\u202b\u202c\u202d\u202e\u2066\u2067\u2068\u2069\u200e\u200f\u061c\u2028\u2029")
MARKS = {"stop": "STOP", "ask": "ASK ", "note": "note"}


def printable(text: str) -> str:
    """Return a text without control codes, escapes and direction marks; line breaks stay."""
    if text.isascii() and text.isprintable():
        return text
    return "".join(
        char if char == "\n" or (unicodedata.category(char) not in {"Cc", "Cs"} and char not in _TURNING) else "\ufffd"
        for char in text
    )


def width() -> int:
    """Return the width to write in: the terminal's, at most 100; 80 where there is none."""
    return max(MIN_WIDTH, min(shutil.get_terminal_size((80, 24)).columns, 100))


def say(text: str = "") -> None:
    """Write data to stdout."""
    _write(sys.stdout, text)


def talk(text: str) -> None:
    """Write talk to stderr."""
    _write(sys.stderr, text)


def _write(stream: IO[str], text: str) -> None:
    stream.write(printable(text) + "\n")


def say_json(document: Any) -> None:  # noqa: ANN401 - any JSON value
    """Write one JSON document to stdout."""
    sys.stdout.write(json.dumps(document, ensure_ascii=False, indent=1).replace("\x7f", "\\u007f") + "\n")


def wrapped(text: str, indent: str = "", first: str | None = None) -> str:
    """Return a text wrapped to the terminal."""
    lead = indent if first is None else first
    return textwrap.fill(
        printable(text).replace("\n", " "),
        width(),
        initial_indent=lead,
        subsequent_indent=indent,
        break_long_words=True,
        break_on_hyphens=False,
    )


def pairs(rows: Iterable[tuple[str, str | None]], indent: str = "  ", gap: int = 14) -> None:
    """Write names and values, one pair a line, long values wrapped under themselves."""
    for name, value in rows:
        if value:
            say(wrapped(value, indent + " " * gap, f"{indent}{name:<{gap}}"))


def table(head: Sequence[str], rows: Sequence[Sequence[str]], *, right: Iterable[int] = ()) -> None:
    """Write a table; the widest text column gives way where the terminal is narrow."""
    cells = [[printable(cell).replace("\n", " ") for cell in row] for row in (head, *rows)]
    widths = [max(display_width(row[i]) for row in cells) for i in range(len(head))]
    spare = width() - 2 * (len(head) - 1)
    while sum(widths) > spare and max(widths) > 8:  # noqa: PLR2004 - below that a column says nothing
        widths[widths.index(max(widths))] -= 1
    rights = set(right)
    for number, row in enumerate(cells):
        say(
            "  ".join(
                _fit(cell, size, i in rights) for i, (cell, size) in enumerate(zip(row, widths, strict=True))
            ).rstrip()
        )
        if number == 0:
            say("  ".join("-" * size for size in widths))


def display_width(text: str) -> int:
    """Return how many terminal columns a text takes."""
    if text.isascii():
        return len(text)
    return sum(
        0 if unicodedata.combining(char) else 2 if unicodedata.east_asian_width(char) in "WF" else 1 for char in text
    )


def _fit(text: str, size: int, right: bool) -> str:  # noqa: FBT001 - a private helper of one caller
    while display_width(text) > size:
        text = text[: size - 1 - max(display_width(text) - len(text), 0)] + "~" if len(text) > 1 else ""
        if display_width(text) > size:
            text = text[:-2] + "~"
    blank = " " * (size - display_width(text))
    return blank + text if right else text + blank


def findings(found: Sequence[dict[str, str]]) -> None:
    """Write findings, worst first, each with where, what and the source."""
    order = {"stop": 0, "ask": 1, "note": 2}
    for finding in sorted(found, key=lambda part: order[part["severity"]]):
        mark = MARKS[finding["severity"]]
        say(wrapped(finding["message"], "       ", f"  {mark} "))
        source = f"; {finding['source']}" if finding["source"] else ""
        say(wrapped(f"[{finding['code']}] at {finding['at'] or 'the entry'}{source}", "         ", "       "))
