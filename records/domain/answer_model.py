"""The answer to a customer or a neighbour: questions as people ask them, each with lines of plain text."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from records.domain.report_model import EmergencyLine, FirmHead

CUSTOMER, NEIGHBOUR = "customer", "neighbour"
SAFETY = frozenset({"safety", "near_safety"})  # the questions under which the emergency numbers stand
KEEP_OFF = frozenset({"keep_off", "near_keep_off"})


@dataclass(frozen=True, slots=True)
class AnswerLine:
    """One line of an answer: bold words, then text; `strong` where it must not be overlooked."""

    lead: str
    text: str
    note: str = ""  # such as "the label's own English text"
    strong: bool = False
    missing: bool = False  # the record does not hold it

    @property
    def words(self) -> str:
        """Return it in one line."""
        return " ".join(filter(None, (self.lead, self.text, self.note)))


@dataclass(frozen=True, slots=True)
class AnswerPart:
    """One question and its answer."""

    key: str
    question: str
    lines: tuple[AnswerLine, ...]


@dataclass(frozen=True, slots=True)
class AnswerModel:
    """All questions about one visit."""

    kind: str  # CUSTOMER or NEIGHBOUR
    language: str
    title: str
    subtitle: str
    subject: str
    issued: str  # "Issued ..." as printed
    issued_on: str  # the day, ISO 8601
    firm: FirmHead
    recipient: str  # whom it is for; "" for a neighbour
    serial: str  # as printed
    serials: tuple[str, ...]
    parts: tuple[AnswerPart, ...]
    emergency_heading: str
    emergency: tuple[EmergencyLine, ...]
    emergency_note: str
    footer: tuple[str, ...]
    page_word: str
    continued: str
