"""The lines that a rule wants on a lawn sign, as one would write them on it; pure."""

from __future__ import annotations

import re
from dataclasses import dataclass
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Iterator

BLANK = "____________"
_GAP = ", "
_MOST_WORDS = 5  # of a part that only names facts: "when it may be removed"
_CODE = re.ASCII | re.IGNORECASE
_STATES_OWN = re.compile(r"\bstate('s| shows)", _CODE)  # words that the pack does not hold
_INSTRUCTION = re.compile(r"(?:and:?\s+)?((?:keep|stay|do not|customer to|for more)\b.*)", _CODE)
_OPEN = re.compile(r"the date of safe entry", _CODE)
# What is filled in, in the order in which it stands on a sign, by the words that packs use for it.
_FACTS = (
    ("firm", re.compile(r"\b(?:company|business|licensee|applicator|name)\b", _CODE)),
    ("phone", re.compile(r"\bphone\b", _CODE)),
    ("product", re.compile(r"\bproducts?\b", _CODE)),
    ("date", re.compile(r"(?<!removal )\bdate\b", _CODE)),
    ("time", re.compile(r"\btime\b", _CODE)),
    ("keep off", re.compile(r"\bre-entry text\b", _CODE)),
    ("removal", re.compile(r"\bwhen it may be removed\b|\bremoval date\b", _CODE)),
)


@dataclass(frozen=True, slots=True)
class SignLine:
    """One line of a sign."""

    text: str  # what to write; "" where only the state's own form has the words
    note: str = ""  # what the rule says about this line


@dataclass(frozen=True, slots=True)
class SignFacts:
    """What can be filled in; "" leaves room to write it by hand."""

    firm: str = ""
    phone: str = ""
    date: str = ""
    time: str = ""
    product: str = ""
    removal: str = ""


def sign_lines(wording: str, known: SignFacts) -> tuple[SignLine, ...]:
    """Return the lines of a sign from a rule's wording, facts filled in as far as they are known.

    Args:
        wording: as packs hold it: parts between semicolons, words of the sign beside facts that are to stand on it.
        known: what can be filled in.
    """
    return tuple(line for part in wording.split(";") if part.strip() for line in _part(part.strip(), known))


def _part(part: str, known: SignFacts) -> Iterator[SignLine]:
    if _STATES_OWN.search(part):
        yield SignLine("", f"{part}: take it from the state's own form")
        return
    where, colon, rest = part.partition(": ")
    pieces = (rest if colon and where.startswith("on ") else part).split(",")
    told: list[str] = []  # facts, filled in
    for piece in (piece.strip() for piece in pieces):
        instruction = _INSTRUCTION.fullmatch(piece)
        facts = [] if instruction or _is_shouted(piece) else _facts(piece, known)
        told += [fact for fact in facts if fact not in told]
        if not facts:
            if told:
                yield SignLine(_GAP.join(told))
                told = []
            yield _verbatim(instruction[1] if instruction else piece)
    if told:
        yield SignLine(_GAP.join(told), part if _says_more(part) else "")


def _says_more(part: str) -> bool:
    """Tell whether a part says more than which facts stand there."""
    return len(part.split()) > _MOST_WORDS or " or " in part


def _is_shouted(piece: str) -> bool:
    """Tell whether a piece is words of the sign as the rule prints them, which begin with a word in capitals."""
    first = piece.split(" ", 1)[0]
    return len(first) > 1 and first.isupper()


def _verbatim(words: str) -> SignLine:
    """Return words that stand on the sign; other ways that the rule allows go beside them."""
    text, bracket, other = words.partition(" (or ")
    text = _OPEN.sub(BLANK, text)
    return SignLine(
        text if any(letter.isupper() for letter in text) else text.upper(), f"or {other[:-1]}" if bracket else ""
    )


def _facts(piece: str, known: SignFacts) -> list[str]:
    found = []
    for key, pattern in _FACTS:
        if not pattern.search(piece):
            continue
        if key in {"firm", "phone"}:
            found.append(getattr(known, key) or f"{key.capitalize()}: {BLANK}")
        elif key == "keep off":
            found.append(f"Re-entry, as the label says: {BLANK}")
        else:
            label = {"removal": "May be removed"}.get(key, key.capitalize())
            found.append(f"{label}: {getattr(known, key) or BLANK}")
    return found
