"""Data to stdout, talk to stderr; nothing a record holds can steer the terminal."""

from __future__ import annotations

import json
import os
import re
import shutil
import sys
import unicodedata
from collections.abc import Iterable, Sequence
from contextlib import suppress
from typing import IO

MIN_WIDTH = 40
_TURNING = frozenset("\u202a\u202b\u202c\u202d\u202e\u2066\u2067\u2068\u2069\u200e\u200f\u061c\u2028\u2029")
_STEERING = re.compile("[\x7f-\x9f\u061c\u200e\u200f\u2028-\u202e\u2066-\u2069\ud800-\udfff]")
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
    """Write talk to stderr, after what was said before: a file that takes both keeps their order.

    Raises:
        OSError: what was said before cannot be written; that is never passed over.
    """
    if sys.stdout is not None and not sys.stdout.closed:
        sys.stdout.flush()
    try:
        _write(sys.stderr, text)
        sys.stderr.flush()
    except OSError:  # nobody listens any more
        silence(sys.stderr)


def silence(stream: IO[str]) -> None:
    """Send what a stream still holds nowhere, so that leaving does not fail once more."""
    with suppress(OSError, ValueError):
        os.dup2(os.open(os.devnull, os.O_WRONLY), stream.fileno())


def _write(stream: IO[str], text: str) -> None:
    stream.write(printable(text) + "\n")


def json_text(document: object, indent: int | None = None) -> str:
    """Return JSON whose every character may be shown: what could steer a terminal is written as an escape."""
    text = json.dumps(document, ensure_ascii=False, indent=indent)
    if text.isascii() and "\x7f" not in text:
        return text
    return _STEERING.sub(lambda found: f"\\u{ord(found[0]):04x}", text)


def say_json(document: object) -> None:
    """Write one JSON document to stdout."""
    sys.stdout.write(json_text(document, 1) + "\n")


def counted(number: int, word: str) -> str:
    """Return a number with its word, in one number or the other."""
    return f"{number:,} {word}{'' if number == 1 else 's'}"


def wrapped(text: str, indent: str = "", first: str | None = None) -> str:
    """Return a text wrapped to the terminal, broken at blanks alone: codes and options stay whole."""
    lead = indent if first is None else first
    size = width() - max(display_width(lead), display_width(indent))
    lines = _fold(" ".join(printable(text).split()), max(size, 8), at_hyphens=False)
    return "\n".join((lead if number == 0 else indent) + line for number, line in enumerate(lines))


def command(text: str, indent: str = "    ") -> str:
    """Return a command to copy; where it takes several lines, the shell joins them."""
    if display_width(indent + text) <= width():
        return indent + text
    room = max(width() - display_width(indent) - 2, 8)  # the sign that joins the lines takes two columns
    return " \\\n".join(indent + line for line in _fold(printable(text), room, at_hyphens=False))


def pairs(rows: Iterable[tuple[str, str | None]], indent: str = "  ", gap: int = 14) -> None:
    """Write names and values, one pair a line, long values wrapped under themselves."""
    for name, value in rows:
        if value:
            say(wrapped(value, indent + " " * gap, f"{indent}{name:<{gap}}"))


def table(
    head: Sequence[str], rows: Sequence[Sequence[str]], *, right: Iterable[int] = (), keep: Iterable[int] = ()
) -> None:
    """Write a table within the terminal's width; cells that do not fit are wrapped, nothing is cut.

    Args:
        head: titles of the columns.
        rows: one text for each column.
        right: columns that stand on the right.
        keep: columns that are wrapped last, such as serials and amounts.
    """
    cells = [[printable(cell).replace("\n", " ") for cell in row] for row in (head, *rows)]
    widths = [max(display_width(row[i]) for row in cells) for i in range(len(head))]
    spare = width() - 2 * (len(head) - 1)
    kept, rights = set(keep), set(right)
    every = set(range(len(head)))
    words = [max(display_width(part) for row in cells for part in _parts(row[i])) for i in range(len(head))]
    # First no word is broken and what is kept stays whole; then each gives way in turn.
    for shrinking, least in ((every - kept, words), (every - kept, [9] * len(head)), (every, [2] * len(head))):
        while sum(widths) > spare and (wide := [i for i in shrinking if widths[i] > max(least[i], 2)]):
            widths[max(wide, key=widths.__getitem__)] -= 1
    for number, row in enumerate(cells):
        folded = [_fold(cell, size) for cell, size in zip(row, widths, strict=True)]
        for line in range(max(len(parts) for parts in folded)):
            texts = [parts[line] if line < len(parts) else "" for parts in folded]
            say("  ".join(_fit(text, widths[i], i in rights) for i, text in enumerate(texts)).rstrip())
        if number == 0:
            say("  ".join("-" * size for size in widths))


_AT_BLANKS = re.compile(r"(?<= )(?=[^ ])")
_AT_HYPHENS = re.compile(r"(?<= )(?=[^ ])|(?<=[A-Za-z]-)(?=[A-Za-z])")  # those between letters too


def _parts(text: str, *, at_hyphens: bool = True) -> list[str]:
    """Return the pieces that a text may be broken into."""
    return (_AT_HYPHENS if at_hyphens else _AT_BLANKS).split(text)


def _pieces(text: str, size: int, *, at_hyphens: bool) -> list[str]:
    """Return the words of a text; one that is too long for a line is broken at its hyphens."""
    words = _parts(text, at_hyphens=False)
    if not at_hyphens:
        return words
    return [piece for word in words for piece in ([word] if display_width(word.rstrip()) <= size else _parts(word))]


def _fold(text: str, size: int, *, at_hyphens: bool = True) -> list[str]:
    """Return a text as lines of at most so many terminal columns, broken in words only where one is too long."""
    lines = [""]
    for part in _pieces(text, size, at_hyphens=at_hyphens):
        if display_width(lines[-1] + part.rstrip()) > size and lines[-1]:
            lines.append("")
        for char in part:
            if display_width((lines[-1] + char).rstrip()) > size:
                lines.append("")
            lines[-1] += char
    return [line.strip() for line in lines]


def display_width(text: str) -> int:
    """Return how many terminal columns a text takes."""
    if text.isascii():
        return len(text)
    return sum(
        0 if unicodedata.combining(char) else 2 if unicodedata.east_asian_width(char) in "WF" else 1 for char in text
    )


def _fit(text: str, size: int, right: bool) -> str:
    blank = " " * (size - display_width(text))
    return blank + text if right else text + blank


def findings(found: Sequence[dict[str, str]], confirmed: Iterable[str] = (), *, is_signed: bool = False) -> None:
    """Write findings, worst first, each with where, what and the source.

    Args:
        found: as the contract has them.
        confirmed: codes of questions that the entry says were looked at: they are told as answered.
        is_signed: whether who signed for a deviation answered the other questions.
    """
    order = {"stop": 0, "ask": 1, "note": 2}
    answered = set(confirmed)

    def is_asked(finding: dict[str, str]) -> bool:
        return finding["severity"] == "ask" and not is_signed and finding["code"] not in answered

    for finding in sorted(found, key=lambda part: (order[part["severity"]], not is_asked(part))):
        mark = f"{MARKS[finding['severity']]} "
        if finding["severity"] == "ask" and not is_asked(finding):
            mark = "confirmed: " if finding["code"] in answered else "signed for: "
        say(wrapped(finding["message"], "       ", f"  {mark}"))
        source = f"; {finding['source']}" if finding["source"] else ""
        say(wrapped(f"[{finding['code']}] at {finding['at'] or 'the entry'}{source}", "         ", "       "))
