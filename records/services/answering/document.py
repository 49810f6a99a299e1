"""An answer as a JSON document."""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from records.domain.answer_model import AnswerModel
    from records.services.ports import Json


def answer_document(model: AnswerModel) -> Json:
    """Return an answer as JSON; it holds what the page does, and nothing else."""
    return {
        "schema": 1,
        "for": model.kind,
        "language": model.language,
        "title": model.title,
        "subtitle": model.subtitle,
        "recipient": model.recipient or None,
        "records": list(model.serials),
        "issued_on": model.issued_on,
        "firm": {
            "name": model.firm.name,
            "address": model.firm.address,
            "phone": model.firm.phone,
            "licence": model.firm.licence,
        },
        "answers": [
            {
                "key": part.key,
                "question": part.question,
                "lines": [
                    {"lead": line.lead, "text": line.text, "note": line.note, "missing": line.missing}
                    for line in part.lines
                ],
            }
            for part in model.parts
        ],
        "emergency": [{"number": one.number, "name": one.name, "when": one.when} for one in model.emergency],
        "emergency_note": model.emergency_note,
        "footer": list(model.footer),
    }
