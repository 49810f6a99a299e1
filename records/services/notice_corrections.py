"""What the notice of a corrected record tells otherwise than the first one did, for a customer who holds both."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

from records.services.notice_words import Reader

if TYPE_CHECKING:
    from records.domain.report_model import NoticeModel, VisitPart, Wording
    from records.services.ports import Json


def with_corrections(model: NoticeModel, first: NoticeModel, body: Json, wording: Wording) -> NoticeModel:
    """Return a notice that says when its record was corrected last, and all that differs from the first notice.

    Args:
        model: the notice of a visit as it stands.
        first: the notice of the visit's first text, in the same language.
        body: what stands.
        wording: the firm's template in that language.
    """
    read = Reader(wording)
    told = [_told(wording, one.visits[0]) for one in (first, model)]
    changed = [
        wording("visit.changed", what=what, before=told[0].get(what) or "-", after=told[1].get(what) or "-")
        for what in dict.fromkeys([*told[0], *told[1]])
        if told[0].get(what) != told[1].get(what)
    ]
    lines = tuple(filter(None, (read.corrected(body), *changed)))
    return replace(model, visits=(replace(model.visits[0], corrected=lines),))


def _told(wording: Wording, part: VisitPart) -> dict[str, str]:
    """Return all that a visit's part of a notice says, by its name."""
    found = {fact.label: fact.value for fact in part.facts[:-1]}  # the last one is the serial
    for number, treatment in enumerate(part.treatments, 1):
        mark = f" ({number})" if len(part.treatments) > 1 else ""
        found[f"{wording('visit.treated')}{mark}"] = treatment.heading
        found |= {f"{fact.label}{mark}": fact.value for fact in treatment.facts}
        for line in treatment.products:
            found[f"{line.name}{mark}"] = f"{line.rate.value}, {line.amount.value}"
    return found
