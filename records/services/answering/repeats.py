"""Lines of an answer that tell when a treatment may be done again: one for each product, as each has its own label."""

from __future__ import annotations

from typing import TYPE_CHECKING

from records.domain.answer_model import AnswerLine

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator
    from datetime import date

    from records.domain.report_model import Wording
    from records.services.follow_up.repeating import Next, Repeat


def repeat_lines(
    say: Wording,
    day_words: Callable[[date], str],
    zone_words: Callable[[str], str],
    repeat: Repeat,
    today: date,
    phone: str,
) -> Iterator[AnswerLine]:
    """Yield when each product of a treatment may be put out again by its label, and when all of them may.

    Args:
        say: wording of answers.
        day_words: writes a day.
        zone_words: names a zone as the rest of the page does.
        repeat: of the treatment.
        today: from which on it is thought of.
        phone: of the firm.
    """
    told: dict[tuple[str, date | None, str], list[Next]] = {}
    for line in repeat.lines:
        key = _key(line, today)
        told.setdefault((line.product, line.day, key), []).append(line)
    for (product, day, key), lines in told.items():
        where = ", ".join(dict.fromkeys(zone_words(line.zone) for line in lines))
        values = {"product": product, "where": where, "phone": phone}
        text = say(f"line.again_{key}", **values, date="" if day is None else day_words(day))
        yield AnswerLine("", f"{text} {_why(say, lines[0], today)}".strip())
    products = {line.product for line in repeat.lines}
    if len(products) > 1 and repeat.day is not None and repeat.day > today:
        yield AnswerLine("", say("line.again_together", date=day_words(repeat.day)))


def _key(line: Next, today: date) -> str:
    if line.day is None:
        return "never"
    if line.day > today:
        return "from"
    return "silent" if line.is_silent else "now"


def _why(say: Wording, line: Next, today: date) -> str:
    """Return why it is not sooner; "" where nothing stands against it."""
    if line.is_by_interval:
        return say("line.again_interval", days=str(line.interval))
    if line.day is None or line.day <= today:
        return ""
    return say("line.again_law") if line.blackout else say("line.again_ceiling")
