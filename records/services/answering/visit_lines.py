"""Lines of an answer about one visit: the wind, and what did not keep to a label or a rule."""

from __future__ import annotations

import re
from datetime import date
from typing import TYPE_CHECKING, Any

from records.domain.answer_model import AnswerLine
from records.domain.findings import Code
from records.domain.report_model import one_line
from records.domain.weather import parse_direction
from records.services.answering.facts import source_word
from records.services.code_words import CODES
from records.services.notice_content import zone_of
from records.services.notice_words import local_time

if TYPE_CHECKING:
    from collections.abc import Iterator

    from records.domain.report_model import Wording
    from records.services.notice_words import Reader

    Body = dict[str, Any]

_PLACE = re.compile(r"treatments\[(\d+)\]\.products\[(\d+)\]")
_DAY = re.compile(r"\b\d{4}-\d{2}-\d{2}\b")
_KNOWN = {code.value for code in Code}


def wind_lines(say: Wording, read: Reader, body: Body, during: str) -> Iterator[AnswerLine]:
    """Yield wind with gusts and where it blew to, then temperature with how and when it was measured.

    Args:
        say: wording of answers.
        read: of notices.
        body: of the visit.
        during: its time, where several visits are told; else "".
    """
    weather = body.get("weather") or {}
    wind, heat = read.weather(weather, "wind_speed"), read.weather(weather, "temperature")
    toward, gust = _toward(say, read, weather), read.measure(weather.get("wind_gust"))
    parts = [wind or read.not_recorded, say("line.gust", speed=gust) if gust else "", toward]
    lead = f"{say('line.wind')}{f', {during}' if during else ''}:"
    yield AnswerLine(lead, "; ".join(filter(None, parts)), strong=bool(toward), missing=not wind)
    moment = local_time(weather.get("measured_at"))
    at = moment.astimezone(zone_of(body)) if moment is not None and moment.tzinfo is not None else moment
    when = say("line.measured", moment=read.moment(at)) if at is not None else ""
    how = ", ".join(filter(None, (when, say.word(source_word(weather.get("source"))))))
    told = heat or read.not_recorded
    yield AnswerLine(f"{say('line.temperature')}:", f"{told}{f'; {how}' if how else ''}", missing=not heat)


def _toward(say: Wording, read: Reader, weather: Body) -> str:
    if not weather.get("wind_speed") or not weather.get("wind_from"):
        return ""
    try:
        point = parse_direction(str(weather["wind_from"])).downwind
    except ValueError:
        return ""
    return say("line.toward", point=read.word(point)) if point else ""


def deviation_lines(say: Wording, read: Reader, body: Body, phone: str) -> Iterator[AnswerLine]:
    """Yield that a label or a rule was not kept, which, and who signed for it.

    The reason stays out: it is the office's own words, in one language, and may speak of people.
    """
    deviation = body.get("deviation")
    if not deviation:
        return
    yield AnswerLine("", say("line.deviation"), strong=True)
    for finding in body.get("findings") or []:
        if finding.get("severity") == "stop":
            yield AnswerLine("", _broken(say, read, body, finding))
    signed = read.person(deviation.get("signed_by")) or read.not_recorded
    yield AnswerLine("", say("line.signed", person=signed, phone=phone))


def _broken(say: Wording, read: Reader, body: Body, finding: Body) -> str:
    """Return what was not kept: of which product, the limit and what was done, in the words of its code."""
    code = str(finding.get("code"))
    means = CODES[Code(code)].means if code in _KNOWN else code
    limit, found = (_days(read, _measured(say, read, one_line(finding.get(key), 200))) for key in ("limit", "found"))
    text = say("line.broken", text=means)
    if limit and found:
        text = f"{text}; {say('line.limit', limit=limit, found=found)}"
    name = _product(body, str(finding.get("at")))
    return f"{name}: {text}." if name else f"{text[:1].upper()}{text[1:]}."


def _measured(say: Wording, read: Reader, text: str) -> str:
    if not text[:1].isdigit() or _DAY.search(text):
        return text
    return f" {say.word('or')} ".join(map(read.measure, text.split(" or ")))


def _days(read: Reader, text: str) -> str:
    def told(found: re.Match[str]) -> str:
        try:
            return read.day(date.fromisoformat(found[0]))
        except ValueError:
            return found[0]

    return _DAY.sub(told, text)


def _product(body: Body, at: str) -> str:
    found = _PLACE.match(at)
    try:
        line = body["treatments"][int(found[1])]["applications"][int(found[2])] if found else {}
    except (LookupError, TypeError):
        return ""
    return one_line((line.get("product") or {}).get("name"))


def person_line(say: Wording, read: Reader, person: Body, day: str, phone: str, role: str) -> AnswerLine:
    """Return who applied or supervised, with the licence frozen in the record and whether it held on the day."""
    licence = person.get("licence") or {}
    lead = f"{say('line.supervised')} " if role == "supervisor" else ""
    name = one_line(person.get("name")) or one_line(person.get("id"))
    number = one_line(licence.get("number")) or say("line.licence_none")
    if not licence:
        return AnswerLine("", f"{lead}{name}, {number}.", missing=True)
    first, last = str(licence.get("from") or ""), str(licence.get("to") or "")
    kind = say(
        "line.licence",
        kind=say.word(one_line(licence.get("kind"))),
        state=one_line(licence.get("state")),
        first=day_words(read, first),
        last=day_words(read, last),
    )
    is_held = bool(first and last) and first <= day <= last
    held = say("line.licence_held") if is_held else say("line.licence_lapsed", phone=phone)
    text = say("line.person", name=name, licence=number)
    return AnswerLine("", f"{lead}{text}: {kind}. {held}", strong=not is_held)


def day_words(read: Reader, text: str) -> str:
    """Return a day as written in a record in words; what is no day stays, none is not recorded."""
    try:
        return read.day(date.fromisoformat(text))
    except ValueError:
        return text or read.not_recorded
