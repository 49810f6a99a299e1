"""A call-back as a JSON document, and the lines that screen and document share."""

from __future__ import annotations

from typing import TYPE_CHECKING

from records.domain.quantities import decimal_text
from records.services.costing.words import dollars
from records.services.follow_up.repeating import repeat_words

if TYPE_CHECKING:
    from records.domain.follow_up import Look, Rating, Told
    from records.services.follow_up.callback import CallBack, Called
    from records.services.follow_up.others import Other
    from records.services.follow_up.repeating import Next
    from records.services.ports import Json

THE_LABEL = (
    "The label wins over every line here: read it before you go. All of this is worked out from label data in the book."
)
NOT_FREE = "Whether a repeat is free is between the firm and the customer; the book says only which day was promised."


def answer_words(one: Called) -> str:
    """Return the plain first line: when a repeat is lawful, and whether it is too early to judge."""
    early = f"; too early to judge, the first look is due {one.looks[0].day}" if one.is_early and one.looks else ""
    return f"{repeat_words(one.repeat)}{early}"


def expected(look: Look) -> list[tuple[str, Told]]:
    """Return what is usual for a mode of action, each with its standing."""
    return [("first symptoms", look.first), ("judged", look.dead), ("looks", look.when)]


def status_words(told: Told) -> str:
    """Return how a fact of the trade is known."""
    return told.source if told.status == "verified" and told.source else "common practice, from memory"


def results_words(one: Called) -> list[tuple[str, str]]:
    """Return what the labels, as frozen in the record, say is to be expected: product and words."""
    found = [(line.name, str((line.label or {}).get("results") or "")) for line in one.treated.killers]
    return [(name, text) for name, text in found if text]


def money(one: Other) -> str:
    """Return what 1,000 sq ft of a product cost; "" where it was never bought with a price."""
    if one.cost is None:
        return ""
    low, high = map(dollars, one.cost)
    return f"{low} per 1,000 sq ft" if low == high else f"{low} to {high} per 1,000 sq ft"


def callback_document(found: CallBack) -> Json:
    """Return a call-back as JSON."""
    return {
        "schema": 1,
        "site": found.site,
        "address": found.address,
        "day": found.day.isoformat(),
        "want": decimal_text(found.want + 0, 2) if not isinstance(found.want, int) else str(found.want),
        "note": found.note or None,
        "promised": found.promised and found.promised.isoformat(),
        "treatments": [_called(one) for one in found.called],
        "caution": THE_LABEL,
    }


def _called(one: Called) -> Json:
    treated = one.treated
    return {
        "answer": answer_words(one),
        "serial": treated.serial,
        "treatment": treated.index + 1,
        "date": treated.day.isoformat(),
        "days": one.days,
        "zones": list(treated.zones),
        "method": treated.method,
        "applicator": treated.applicator,
        "products": [{"product": line.name, "rate": line.rate, "amount": line.amount} for line in treated.used],
        "targets": [
            {"target": short.target, "short": short.is_short, "rating": short.rating and _rating(short.rating)}
            for short in one.shorts
        ],
        "injury": one.injury and _rating(one.injury),
        "early": one.is_early,
        "looks": [
            {"days": look.days, "day": look.day.isoformat(), "taken": look.taken and look.taken.serial}
            for look in one.looks
        ],
        "expected": [
            {"what": what, "words": told.words, "status": told.status, "source": told.source, "url": told.url}
            for what, told in expected(one.look)
        ],
        "results": [{"product": name, "label": text} for name, text in results_words(one)],
        "repeat": {
            "first_day": one.repeat.day and one.repeat.day.isoformat(),
            "not_in_the_book": list(one.repeat.gone),
            "zones": [_next(line) for line in one.repeat.lines],
        },
        "others": [_other(other) for other in one.others.found],
        "same_group": list(one.others.same),
        "without_group": list(one.others.without_group),
        "causes": [
            {"cause": cause.key, "question": cause.question, "says": cause.says.value, "evidence": list(cause.evidence)}
            for cause in one.causes
        ],
    }


def _rating(one: Rating) -> Json:
    return {
        "event": one.serial,
        "control": None if one.control is None else decimal_text(one.control, 2),
        "injury": None if one.injury is None else decimal_text(one.injury, 2),
        "way": one.way,
        "days": one.days,
        "rater": one.rater or None,
        "since": list(one.since),
    }


def _next(line: Next) -> Json:
    return {
        "zone": line.zone,
        "product": line.product,
        "first_day": line.day and line.day.isoformat(),
        "why": line.why or None,
        "because": list(line.allowance.because),
        "applications": line.allowance.applications,
        "applications_left": line.allowance.applications_left,
        "left": list(line.left),
        "label": line.allowance.source,
    }


def _other(one: Other) -> Json:
    return {
        "product": one.product,
        "name": one.name,
        "groups": list(one.groups),
        "shared_groups": list(one.shared),
        "targets": list(one.targets),
        "other_methods": list(one.methods),
        "first_day": one.day and one.day.isoformat(),
        "zones": [_next(line) for line in one.lines],
        "rates": list(one.rates),
        "cautions": list(one.cautions),
        "cost_per_1000_sq_ft": None if one.cost is None else [decimal_text(value, 4) for value in one.cost],
        "on_hand": one.on_hand or None,
        "own_ratings": one.own or None,
        "label": one.source,
    }
