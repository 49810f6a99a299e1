"""Page models: what a report says, as plain text already formatted, before anything is drawn.

A service builds a model, `records/reports` draws it, and a test compares it. Every text in a model is one line, in
Unicode NFC, free of control and direction marks (see `one_line`), so that no record can steer a printer, a terminal
or a reader's eye.
"""

from __future__ import annotations

import re
import unicodedata
from dataclasses import dataclass
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Mapping

MARK = "\N{REPLACEMENT CHARACTER}"
CUT = "\N{HORIZONTAL ELLIPSIS}"
NAME_LENGTH = 240  # longer than any name, address or target of the trade; longer text is cut, with a mark

_BLANKS = re.compile(r"[\t\n\x0b\x0c\r\x85\u2028\u2029 ]+")
# Control codes, lone surrogates, and the marks that turn the direction of text: shown as a replacement character.
_STEERING = re.compile(
    r"[\x00-\x08\x0e-\x1f\x7f-\x84\x86-\x9f\ud800-\udfff\u061c\u200e\u200f\u202a-\u202e\u2066-\u206f\ufffe\uffff]"
)
# Invisible joiners, soft hyphens and variation selectors: left out, they have no shape of their own.
_INVISIBLE = re.compile(r"[\u00ad\u200b-\u200d\u2060-\u2065\ufe00-\ufe0f\ufeff]")


def one_line(text: object, limit: int | None = NAME_LENGTH) -> str:
    """Return user text as one safe line: NFC, blanks collapsed, steering characters made visible, cut at a length.

    Args:
        text: what a record holds; None is empty.
        limit: characters kept, the last one then an ellipsis; None keeps all (a label's own words are never cut).
    """
    if text is None:
        return ""
    line = str(text)
    if limit is not None and len(line) > limit * 4:
        line = line[: limit * 4]  # a very long text is not worth cleaning to its end
    if not (line.isascii() and line.isprintable()):
        line = _INVISIBLE.sub("", _STEERING.sub(MARK, _BLANKS.sub(" ", line)))
        line = unicodedata.normalize("NFC", line)
    line = (re.sub(" +", " ", line) if "  " in line else line).strip()
    if limit is not None and len(line) > limit:
        line = line[: limit - 1].rstrip() + CUT
    return line


@dataclass(frozen=True, slots=True)
class Fact:
    """One named value; `missing` when the record does not hold it."""

    label: str
    value: str
    missing: bool = False


@dataclass(frozen=True, slots=True)
class FirmHead:
    """Who stands for the report."""

    name: str
    address: str
    phone: str
    licence: str  # with its word, as printed


@dataclass(frozen=True, slots=True)
class LabelWords:
    """Words of one or several labels, exactly as the label data has them."""

    text: str
    source: str  # whose label, where on the property
    note: str = ""  # such as "the label's English text"
    missing: bool = False


@dataclass(frozen=True, slots=True)
class EmergencyLine:
    """A number to call and when."""

    number: str
    name: str
    when: str


@dataclass(frozen=True, slots=True)
class ProductLine:
    """One application on a notice."""

    name: str
    identity: str  # registration number (or why there is none), type, signal word
    actives: str
    rate: Fact
    amount: Fact
    note: str = ""  # what differs from the rest of the treatment


@dataclass(frozen=True, slots=True)
class TreatmentPart:
    """One treatment on a notice: where, how, against what, with which products."""

    heading: str
    facts: tuple[Fact, ...]
    products: tuple[ProductLine, ...]


@dataclass(frozen=True, slots=True)
class VisitPart:
    """One visit on a notice."""

    heading: str  # date and serial (season notices)
    serial: str
    facts: tuple[Fact, ...]
    treatments: tuple[TreatmentPart, ...]
    deviation: tuple[str, ...]  # sentences; empty when nothing was broken
    corrected: tuple[str, ...] = ()  # what differs from the first notice of this visit


@dataclass(frozen=True, slots=True)
class LabelPart:
    """What the labels say under one heading."""

    heading: str
    words: tuple[LabelWords, ...]


@dataclass(frozen=True, slots=True)
class NoticeModel:
    """A customer notice: one visit, or everything at a site in a year."""

    kind: str  # "visit" or "season"
    language: str
    title: str
    subtitle: str
    subject: str
    issued: str  # "Issued ..." as printed
    issued_on: str  # the day, ISO 8601
    firm: FirmHead
    recipient: tuple[Fact, ...]
    keep_off_heading: str
    keep_off: tuple[LabelWords, ...]
    sign: str  # until when the sign stays; "" when the record has none
    precautions: LabelPart
    emergency_heading: str
    emergency: tuple[EmergencyLine, ...]
    emergency_note: str
    first_aid: LabelPart
    results: LabelPart
    visits_heading: str
    columns: tuple[str, str, str, str]  # product, active, rate, amount
    visits: tuple[VisitPart, ...]
    footer: tuple[str, ...]  # how to get the label, cautions
    page_word: str  # "Page {page} of {pages}"
    continued: str  # heading of pages after the first
    signatures: tuple[str, ...] = ()  # who signs, each under a line to sign on
    reentry: tuple[LabelWords, ...] = ()  # intervals that labels set, until when


@dataclass(frozen=True, slots=True)
class Column:
    """One column of a summary section: its key in JSON and CSV, and its heading on paper."""

    key: str
    title: str
    numeric: bool = False


@dataclass(frozen=True, slots=True)
class Section:
    """One table of a summary; the same strings go to paper, JSON and CSV."""

    key: str
    title: str
    columns: tuple[Column, ...]
    rows: tuple[tuple[str, ...], ...]
    total: tuple[str, ...] | None = None
    note: str = ""


@dataclass(frozen=True, slots=True)
class Chart:
    """Bars over the twelve months."""

    title: str
    labels: tuple[str, ...]
    values: tuple[str, ...]
    heights: tuple[int, ...]  # per thousand of the highest bar


@dataclass(frozen=True, slots=True)
class SummaryModel:
    """The annual summary."""

    year: int
    title: str
    subject: str
    firm: FirmHead
    issued: str
    issued_on: str
    last_seal: str
    facts: tuple[Fact, ...]
    charts: tuple[Chart, ...]
    sections: tuple[Section, ...]
    cautions: tuple[str, ...]


_PLACE = re.compile(r"\{([a-z_]+)\}")


@dataclass(frozen=True, slots=True)
class Wording:
    """The firm's own wording of a report, read from its template; keys are `section.name`."""

    texts: Mapping[str, str]
    lists: Mapping[str, tuple[str, ...]]
    words: Mapping[str, str]  # the trade's words in the language of the report, lower case

    def __call__(self, key: str, **values: str) -> str:
        """Return a text with its places filled; what is filled in is never read again for places."""
        return _PLACE.sub(lambda found: values.get(found[1], found[0]), self.texts[key])

    def word(self, text: str) -> str:
        """Return a word of the trade in the language of the report, or itself."""
        return self.words.get(text.casefold(), text)


def places(text: str) -> set[str]:
    """Return the places of a template text, such as `date` for `{date}`."""
    return set(_PLACE.findall(text))
