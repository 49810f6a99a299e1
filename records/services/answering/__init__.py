"""What a customer or a neighbour asks about a treatment, answered from the sealed record."""

from __future__ import annotations

from records.services.answering.document import answer_document
from records.services.answering.service import Answer, Ask, answer

__all__ = ["Answer", "Ask", "answer", "answer_document"]
