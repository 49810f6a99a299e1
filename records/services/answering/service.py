"""Answers a customer or a neighbour: finds the visit, lets through what may be told, puts it under questions."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Protocol
from zoneinfo import ZoneInfo

from records.domain.answer_model import CUSTOMER, NEIGHBOUR
from records.domain.report_model import LabelWords, one_line
from records.errors import UsageError
from records.services.answering.again import around
from records.services.answering.build import Answers, answer_model
from records.services.answering.facts import readable
from records.services.answering.neighbour import for_neighbour
from records.services.answering.place import owner_of, plain, visits_asked
from records.services.directory import Directory
from records.services.finding import read_day
from records.services.notice_content import owed_on
from records.services.notice_corrections import with_corrections
from records.services.notice_words import Reader
from records.services.noticing import visit_notice
from records.services.reporting import first_of
from records.services.rulebook import Rulebook

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable, Iterator
    from datetime import date

    from records.clock import Clock
    from records.domain.answer_model import AnswerModel
    from records.domain.people import Business
    from records.domain.report_model import LabelPart, NoticeModel, Wording
    from records.services.answering.place import Asked
    from records.services.notice_content import Owed
    from records.services.ports import OpenBook, StoredRevision


LANGUAGES = ("en", "es")  # that --only looks through


class Wordings(Protocol):
    """Has the firm's wording of notices and of answers."""

    def wording(self, language: str) -> Wording:
        """Return the wording of notices."""

    def answers(self, language: str) -> Wording:
        """Return the wording of answers."""


@dataclass(frozen=True, slots=True)
class Ask:
    """What is asked, and by whom."""

    text: str  # a serial, an address, a name, a site
    on: str | None = None
    language: str | None = None  # None: the customer's own; a neighbour's is English
    is_neighbour: bool = False
    season: bool = False  # the earlier visits of the year as well
    only: str | None = None  # a word of the questions that are to be answered; None: all


@dataclass(frozen=True, slots=True)
class Answer:
    """An answer, and the name of a file for it."""

    model: AnswerModel
    file: str
    notes: tuple[str, ...] = ()  # for who hands it over


@dataclass(frozen=True, slots=True)
class _Told:
    """One visit as it may be told: its record, its first text where it was amended, and what rules want told."""

    record: StoredRevision
    first: StoredRevision | None
    owed: Owed


def answer(book: OpenBook, words: Wordings, clock: Clock, ask: Ask) -> Answer:
    """Return the answer to what is asked.

    Raises:
        NotFoundError: nothing fits, or several places do.
        UsageError: the record named was voided, a neighbour asks about a whole season, or no question has that word.
        TemplateError: no wording in that language.
    """
    if ask.is_neighbour and ask.season:
        raise UsageError("a neighbour is told of one treatment, not of a season", "Leave out --all, or --neighbour")
    now = clock.now()
    with book.read() as work:
        directory = Directory(work.catalogue)
        business = directory.business()
        zone = ZoneInfo(business[0].timezone) if business is not None else ZoneInfo("UTC")
        today = now.astimezone(zone).date()
        asked = visits_asked(work, directory, ask.text, read_day(ask.on), today)
        rules = Rulebook(work.catalogue)
        firm = None if business is None else business[0]
        told = [
            _readable(_Told(one, first_of(work, one), owed_on(one.body, rules.of_record(one.body, firm))), firm)
            for one in asked.records
        ]
        found = None if ask.is_neighbour else around(work, directory, asked.records, today)
        notes = () if ask.is_neighbour else tuple(_notes(directory, asked))
        spoken = ask.language or (None if ask.is_neighbour else _language(directory, asked)) or "en"
    say, notice = words.answers(spoken), words.wording(spoken)
    last = told[-1].record
    street = one_line((last.body["site"] or {}).get("address"))
    is_deviation = any(one.record.body.get("deviation") for one in told)
    if ask.is_neighbour:
        told = [_near(one) for one in told]
    is_noticed = found is None or (bool(found.given) and not asked.is_former)
    model = _notice(told, notice if is_noticed else _unnoticed(notice, say), spoken, today)
    answers = Answers(say, notice, model, [one.record for one in told], is_former=asked.is_former)
    if found is None:
        made = answer_model(answers, tuple(answers.neighbour(is_deviation=is_deviation)), NEIGHBOUR, street)
    else:
        parts = tuple(answers.customer(found, asked.earlier if ask.season else (), today))
        made = answer_model(answers, parts, CUSTOMER, street)
    return Answer(_only(made, ask.only, words), f"answer-{last.serial}.pdf", notes)


def _readable(told: _Told, firm: Business | None) -> _Told:
    record, first = told.record, told.first
    return replace(
        told,
        record=replace(record, body=readable(record.body, firm)),
        first=None if first is None else replace(first, body=readable(first.body, firm)),
    )


def _unnoticed(notice: Wording, say: Wording) -> Wording:
    """Return the wording of notices where none was given: a correction takes the place of nothing."""
    own = {"fact.corrected": say.texts["line.corrected"], "visit.changed": say.texts["line.changed"]}
    return replace(notice, texts={**notice.texts, **own})


def _language(directory: Directory, asked: Asked) -> str | None:
    """Return the language of whoever is told: the customer of the record, or who has the place now."""
    if asked.is_former:
        present = directory.customer(owner_of(directory, asked.records[-1].body))
        return present[0].language if present is not None else None
    language: str | None = (asked.records[-1].body["customer"] or {}).get("language")
    return language


def _only(model: AnswerModel, word: str | None, words: Wordings) -> AnswerModel:
    """Return the questions that hold a word or its beginning; capitals and accents make no difference.

    The word may be of any language that questions are kept in: who asks need not speak the customer's.
    """
    if word is None:
        return model
    wanted = f" {plain(word)}"

    def fits(question: str) -> bool:
        return bool(wanted.strip()) and wanted in f" {plain(question)}"

    kept = tuple(part for part in model.parts if fits(part.question))
    for language in LANGUAGES:
        if not kept and language != model.language:
            say = words.answers(language)
            kept = tuple(part for part in model.parts if fits(say(f"question.{part.key}")))
    if not kept:
        asked = "; ".join(part.question for part in model.parts)
        raise UsageError(f"no question has the word {word[:40]!r}", f"Take a word of one of these: {asked}")
    return replace(model, parts=kept)


def _notes(directory: Directory, asked: Asked) -> Iterator[str]:
    """Yield what whoever hands it over should know, and what stays off the page."""
    body = asked.records[-1].body
    site, then = (body["site"] or {}).get("id"), (body["customer"] or {}).get("id")
    if asked.is_former:
        yield (
            f"{asked.records[-1].serial} was done for {then or 'an earlier customer'}, but {site} is"
            f" {owner_of(directory, body)}'s now: name, looks and promises are left out"
        )
    elif then and owner_of(directory, body) not in {"", then}:
        yield (
            f"the record names {then}, but {site} is {owner_of(directory, body)}'s now; --neighbour names no customer"
        )
    for record in asked.records:
        if record.body.get("deviation"):
            reason = one_line(record.body["deviation"].get("reason"), 600) or "none"
            yield f"the reason written down for the deviation of {record.serial} stays off the page: {reason}"


def _near(one: _Told) -> _Told:
    """Return a visit as a neighbour may hear of it; that it was corrected is the customer's business."""
    record = replace(one.record, body=for_neighbour(one.record.body), revision=1)
    return replace(one, record=record, first=None)


def _notice(told: list[_Told], wording: Wording, language: str, today: date) -> NoticeModel:
    """Return one notice of the visits of a day, each label's words once."""
    models = []
    read = Reader(wording)
    for one in told:
        model = visit_notice(one.record, wording, language, today, one.owed)
        if one.first is not None:
            before = visit_notice(one.first, wording, language, today, one.owed)
            model = with_corrections(model, before, one.record.body, wording)
        if len(told) > 1:
            model = _timed(model, read.times(one.record.body))
        models.append(model)
    last = models[-1]

    def merged(part: Callable[[NoticeModel], LabelPart]) -> LabelPart:
        parts = [part(model) if len(models) == 1 else _named(part(model), model, wording) for model in models]
        return replace(part(last), words=tuple(dict.fromkeys(words for one in parts for words in one.words)))

    return replace(
        last,
        visits=tuple(visit for model in models for visit in model.visits),
        keep_off=_merged(words for model in models for words in model.keep_off),
        reentry=tuple(dict.fromkeys(words for model in models for words in model.reentry)),
        precautions=merged(lambda model: model.precautions),
        first_aid=merged(lambda model: model.first_aid),
        results=merged(lambda model: model.results),
    )


def _named(part: LabelPart, model: NoticeModel, wording: Wording) -> LabelPart:
    """Return label words with their products: what each of one visit says is not what those of another say."""
    names = dict.fromkeys(
        line.name for visit in model.visits for treatment in visit.treatments for line in treatment.products
    )
    source = wording("label.source", products=", ".join(names))
    return replace(part, words=tuple(replace(words, source=words.source or source) for words in part.words))


def _timed(model: NoticeModel, times: str) -> NoticeModel:
    """Return a notice whose keep-off words say of which visit of the day they are."""
    if not times:
        return model
    kept = [replace(words, source=f"{times}, {words.source}") if words.source else words for words in model.keep_off]
    return replace(model, keep_off=tuple(kept))


def _merged(every: Iterable[LabelWords]) -> tuple[LabelWords, ...]:
    """Return each text once, with all that it was said for."""
    found: dict[tuple[str, str, bool], list[str]] = {}
    for words in every:
        found.setdefault((words.text, words.note, words.missing), []).append(words.source)
    return tuple(
        LabelWords(text, "; ".join(dict.fromkeys(filter(None, sources))), note, missing)
        for (text, note, missing), sources in found.items()
    )
