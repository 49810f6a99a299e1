"""Answers made of a notice: the same facts and label words, put under the questions that people ask.

Pure. What labels say is copied from the record; what the record lacks is said to be not recorded.
"""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction
from typing import TYPE_CHECKING, Any

from records.domain.answer_model import NEIGHBOUR, AnswerLine, AnswerModel, AnswerPart
from records.domain.quantities import format_number
from records.domain.report_model import LabelWords, NoticeModel, ProductLine, Wording, one_line
from records.rules.looks import look_of
from records.services.answering.facts import is_unusual
from records.services.answering.repeats import repeat_lines
from records.services.answering.topics import CARE, DRIFT, KEEP_OFF, REST, topics_of
from records.services.answering.visit_lines import day_words, deviation_lines, person_line, wind_lines
from records.services.notice_words import Reader

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence
    from datetime import date

    from records.services.answering.again import Around
    from records.services.copies import Delivery
    from records.services.ports import StoredRevision

    Body = dict[str, Any]

_KILLERS = {"pesticide", "minimum-risk"}


class Answers:
    """Puts the facts of the visits of one day under questions."""

    def __init__(
        self,
        wording: Wording,
        notice: Wording,
        model: NoticeModel,
        records: Sequence[StoredRevision],
        *,
        is_former: bool = False,
    ) -> None:
        """Answer in these words.

        Args:
            wording: of answers.
            notice: of notices, in the same language.
            model: the notice of these records.
            records: of one day and place, in the order of the work.
            is_former: whether they were done for an earlier customer of the place than the one who is told.
        """
        self.say, self.read, self.model = wording, Reader(notice), model
        self.records, self.bodies = list(records), [record.body for record in records]
        self.phone, self.is_former = model.firm.phone, is_former
        self.is_fed = {(line.get("product") or {}).get("kind") for line in self._applications()} == {"fertilizer"}

    def customer(self, around: Around, earlier: Sequence[StoredRevision], today: date) -> Iterator[AnswerPart]:
        """Yield the ten questions of a customer, and the season where it is asked for."""
        parts: tuple[tuple[str, Iterator[AnswerLine]], ...] = (
            ("what", self._what()),
            ("keep_off", self._keep_off(around)),
            ("who", self._who()),
            ("safety", self._safety()),
            ("care", self._care()),
            ("results", self._results()),
            ("again", self._again(around, today)),
            ("drift", self._drift()),
            ("where", self._where()),
            ("next", self._next(around)),
        )
        for key, lines in parts:
            yield self._part(key, lines)
        if earlier:
            yield self._part("earlier", self._earlier(earlier))

    def neighbour(self, *, is_deviation: bool) -> Iterator[AnswerPart]:
        """Yield the questions of a neighbour."""
        yield self._part("near_what", self._near_what(is_deviation=is_deviation))
        yield self._part("near_keep_off", self._keep_off(None))
        yield self._part("near_drift", self._drift())
        yield self._part("near_safety", self._safety())
        yield self._part("near_label", self._near_label())

    def _part(self, key: str, lines: Iterator[AnswerLine]) -> AnswerPart:
        return AnswerPart(key, self.say(f"question.{key}"), tuple(lines))

    def _line(self, key: str, **values: str) -> AnswerLine:
        text = self.say(f"line.{key}", **values)
        return AnswerLine("", text.removesuffix(".") if text.endswith("..") else text)  # "a. m." ends a sentence itself

    def _label(self, words: LabelWords) -> AnswerLine:
        note = self.say("line.from_english") if words.note else ""
        return AnswerLine(words.source or "•", words.text, note, missing=words.missing)

    def _time(self, body: Body) -> AnswerLine:
        when, times = self.read.when(body), self.read.times(body)
        text = self.say("line.when", date=when or self.read.not_recorded, times=times or self.say("line.no_time"))
        return AnswerLine("", text, missing=not (when and times))

    def _what(self) -> Iterator[AnswerLine]:
        if self.is_former:
            yield self._line("former")
        for body, visit in zip(self.bodies, self.model.visits, strict=True):
            yield self._time(body)
            for number, text in enumerate(visit.corrected):
                yield AnswerLine("", text, strong=number == 0)
            yield from deviation_lines(self.say, self.read, body, self.phone)
            for treatment, raw in zip(visit.treatments, body.get("treatments") or [], strict=True):
                yield AnswerLine(self._heading(raw, treatment.heading), "", self._unspoken(raw.get("targets") or []))
                for line, used in zip(treatment.products, raw.get("applications") or [], strict=True):
                    text = self._identity("product", line, used)
                    key = "amount_alone" if line.rate.missing and not line.amount.missing else "amount"
                    amount = self.say(f"line.{key}", rate=line.rate.value, amount=line.amount.value)
                    note = f" ({line.note})" if line.note else ""
                    yield AnswerLine(f"{line.name}:", f"{amount} {text}{note}", missing=line.amount.missing)

    def _heading(self, treatment: Body, heading: str) -> str:
        """Return where, how and against what; of what an imported record lacks both, what is left."""
        if treatment.get("zones") or treatment.get("method"):
            return heading
        targets = self.read.words(treatment.get("targets") or [])
        return _upper(self.say("line.against", targets=targets)) if targets else self._kind(treatment)

    def _unspoken(self, targets: Sequence[object]) -> str:
        """Return that weeds are named in English where another language is spoken that has no word for one of them."""
        known = self.read.wording.words
        is_own = self.model.language == "en" or all(one_line(name).casefold() in known for name in targets)
        return "" if is_own else self.say("line.english")

    def _kind(self, treatment: Body) -> str:
        """Return what stands in place of weeds where none is named."""
        kinds = {(line.get("product") or {}).get("kind") for line in treatment.get("applications") or []}
        return _upper(self.say("line.fed" if kinds == {"fertilizer"} else "line.for_nothing"))

    def _identity(self, key: str, line: ProductLine, used: Body) -> str:
        product = used.get("product") or {}
        if not product.get("actives") and product.get("kind") not in _KILLERS:  # a fertilizer, an adjuvant
            return f"{_upper(line.identity)}." if line.identity else ""
        return self.say(f"line.{key}", identity=_upper(line.identity), actives=line.actives)

    def _near_what(self, *, is_deviation: bool) -> Iterator[AnswerLine]:
        for body, visit in zip(self.bodies, self.model.visits, strict=True):
            yield self._time(body)
            for treatment, raw in zip(visit.treatments, body.get("treatments") or [], strict=True):
                for line, used in zip(treatment.products, raw.get("applications") or [], strict=True):
                    yield AnswerLine(f"{line.name}:", self._identity("near_product", line, used))
        if is_deviation:
            yield AnswerLine("", self.say("line.near_deviation", phone=self.phone), strong=True)
        yield self._line("near_caution" if len(self.bodies) == 1 else "near_caution_day")

    def _keep_off(self, around: Around | None) -> Iterator[AnswerLine]:
        """Yield when the ground may be walked on; our sign is the customer's to look after, no neighbour's."""
        for words in self.model.keep_off:
            if words.text:
                # What is no label's text - whom to ask - stands by itself; that it was but fertilizer is no headline
                is_told = self.is_fed and not words.source
                text = words.text
                if not (words.missing or words.note or is_told):
                    text = self.say("line.keep_off", words=words.text)
                yield AnswerLine("", text, strong=not is_told, missing=words.missing)
            source = words.source.removeprefix(f"{self.read.not_recorded}: ")  # of an imported record's place
            told = ". ".join(filter(None, (source, words.note)))
            if told:
                yield AnswerLine("", told)
        for words in self.model.reentry:
            yield AnswerLine("", f"{words.text} ({words.source})", strong=True)
        is_down = around is not None and bool(around.signs) and around.signs[-1][0] == "removed"
        if self.model.sign and around is not None and not is_down:
            yield AnswerLine("", self.model.sign)
        yield from self._precautions(KEEP_OFF, REST)

    def _precautions(self, *topics: str) -> Iterator[AnswerLine]:
        """Yield the lines of the labels on some topics; that a label's lines are not recorded is told with the rest."""
        for words in self.model.precautions.words:
            if not topics_of(words.text).isdisjoint(topics) if not words.missing else REST in topics:
                yield self._label(words)

    def _who(self) -> Iterator[AnswerLine]:
        told: set[str] = set()
        for body in self.bodies:
            for role in ("applicator", "supervisor"):
                person = body.get(role)
                if not person or f"{role} {person.get('id')}" in told:
                    continue
                told.add(f"{role} {person.get('id')}")
                yield person_line(self.say, self.read, person, str(body.get("date")), self.phone, role)
            if not body.get("applicator"):
                yield AnswerLine("", self.read.not_recorded, missing=True)

    def _safety(self) -> Iterator[AnswerLine]:
        words: dict[str, dict[str, None]] = {}
        for line in self._applications():
            product = line.get("product") or {}
            signal = self.read.word(product.get("signal_word"))
            if signal:
                words.setdefault(signal, {})[one_line(product.get("name"))] = None
        told = [
            f"{', '.join(names)}: {self.read.wording('value.signal_word', word=signal)}."
            for signal, names in words.items()
        ]
        if words:
            yield AnswerLine("", " ".join([*told, self.say("line.signal")]))
        part = self.model.first_aid
        if not part.words:
            return
        if len(part.words) == 1 and not part.words[0].source:
            yield replace(self._label(part.words[0]), lead=f"{part.heading}:")
        else:
            yield AnswerLine(f"{part.heading}:", "")
            yield from (self._label(said) for said in part.words)

    def _applications(self) -> Iterator[Body]:
        for body in self.bodies:
            for treatment in body.get("treatments") or []:
                yield from treatment.get("applications") or []

    def _care(self) -> Iterator[AnswerLine]:
        found = list(self._precautions(CARE))
        yield from found
        if not all((line.get("label") or {}).get("precautions") for line in self._applications()):
            yield self._line("care_unknown", phone=self.phone)
        elif not found:
            yield self._line("care_none", phone=self.phone)

    def _results(self) -> Iterator[AnswerLine]:
        told = set()
        for words in self.model.results.words:
            told.add(words.text)
            yield replace(self._label(words), lead=words.source)
        for line in self._applications():
            product, label = line.get("product") or {}, line.get("label") or {}
            name = one_line(product.get("name"))
            if product.get("kind") not in _KILLERS or label.get("results") or name in told:
                continue
            told.add(name)
            groups = [str(active["group"]) for active in product.get("actives") or [] if active.get("group")]
            look = look_of(groups)
            if not look.group:  # of no known group: nothing is usual
                yield AnswerLine(f"{name}:", self.say("line.results_unknown", phone=self.phone), missing=True)
                continue
            texts = [
                self.say("line.usual_first", words=self.say.word(look.first.words)),
                self.say("line.usual_dead", words=self.say.word(look.dead.words)),
            ]
            early = f" {self.say('line.usual_pre')}" if look.is_early else ""
            yield AnswerLine(f"{name}:", f"{'; '.join(texts)} ({self.say('line.usual')}).{early}")
        if not told:
            yield self._line("again_none")

    def _again(self, around: Around, today: date) -> Iterator[AnswerLine]:
        for one in () if self.is_former else around.rated:
            if one.rating.control is not None:
                yield self._line(
                    "looked",
                    date=self.read.day(one.rating.day),
                    control=format_number(max(one.rating.control, Fraction(0)), 0),  # below 0 more grew than was there
                    target=self.read.word(one.rating.target),
                )
        for repeat, name in zip(around.repeats, around.names, strict=True):
            if repeat is None or not repeat.lines or repeat.gone:
                yield self._line("again_unknown", product=one_line(name), phone=self.phone)
            else:
                yield from repeat_lines(self.say, self.read.day, self._zone, repeat, today, self.phone)
        if not around.names:
            yield self._line("again_none")
        promised = [day_words(self.read, str(body["follow_up"])) for body in self.bodies if body.get("follow_up")]
        if self.is_former:  # what was promised was promised to somebody else
            return
        look = self.say("line.promised", date=promised[-1]) if promised else self.say("line.promised_none")
        yield AnswerLine("", f"{look} {self.say('line.free', phone=self.phone)}")

    def _zone(self, key: str) -> str:
        """Return a zone as the rest of the page names it."""
        for body in self.bodies:
            for treatment in body.get("treatments") or []:
                for zone in treatment.get("zones") or []:
                    if zone.get("id") == key:
                        return self.read.places({"zones": [zone]})
        return one_line(key)

    def _drift(self) -> Iterator[AnswerLine]:
        for body in self.bodies:
            during = self.read.times(body) if len(self.bodies) > 1 else ""
            yield from wind_lines(self.say, self.read, body, during)
            if is_unusual(body):
                yield replace(self._line("incident", phone=self.phone), strong=True)
        yield from self._precautions(DRIFT)
        unusual = any(map(is_unusual, self.bodies))
        yield self._line("damage" if unusual else "drift_unknown", phone=self.phone)

    def _where(self) -> Iterator[AnswerLine]:
        for body in self.bodies:
            for treatment in body.get("treatments") or []:
                area = self.read.area(treatment) or self.read.not_recorded
                method = self.read.word(treatment.get("method"))
                extent = one_line(treatment.get("extent"))
                more = f"; {extent}" if extent and treatment.get("area") else ""
                text = ", ".join(filter(None, (method, self.say("line.place", area=area))))
                known = bool(treatment.get("zones"))
                where = self.read.zones(treatment) if known else self.say("line.where_unknown")
                yield AnswerLine(f"{where}:", f"{text}{more}", missing=not (known and treatment.get("area")))

    def _next(self, around: Around) -> Iterator[AnswerLine]:
        yield self._line("next_ask", firm=self.model.firm.name, phone=self.phone)
        yield AnswerLine("", self.model.footer[0])
        for record in () if self.is_former else self.records:
            during = f"{self.read.times(record.body)}:" if len(self.records) > 1 else ""
            for line in self._given([one for one in around.given if one.serial in {"", record.serial}]):
                yield replace(line, lead=during)
        for what, at in around.signs:
            yield self._line("sign_up" if what == "placed" else "sign_down", moment=self.read.moment(at))
        if not any(what == "placed" for what, _ in around.signs):
            yield self._line("sign_none")

    def _given(self, given: Sequence[Delivery]) -> Iterator[AnswerLine]:
        """Yield when the notices of a visit were given."""
        for one in given:
            yield self._line("given_email" if one.how == "email" else "given_paper", moment=self.read.moment(one.at))
        if not given:
            yield self._line("given_none", phone=self.phone)

    def _earlier(self, earlier: Sequence[StoredRevision]) -> Iterator[AnswerLine]:
        for record in earlier:
            for treatment in record.body["treatments"]:
                names = [
                    one_line(line["product"]["name"] or line["product"]["id"]) for line in treatment["applications"]
                ]
                targets = self.read.words(treatment.get("targets") or [])
                against = self.say("line.against", targets=targets) if targets else self._kind(treatment)
                where = self.read.places(treatment)
                text = self.say("line.earlier", products=", ".join(names), targets=against, where=where)
                yield AnswerLine(f"{self.read.when(record.body)}:", text)

    def _near_label(self) -> Iterator[AnswerLine]:
        firm = self.model.firm
        yield self._line("near_firm", firm=firm.name, address=firm.address, phone=firm.phone, licence=firm.licence)
        yield self._line("near_label", firm=firm.name, phone=firm.phone)


def _upper(text: str) -> str:
    return f"{text[:1].upper()}{text[1:]}"


def answer_model(answers: Answers, parts: Sequence[AnswerPart], kind: str, street: str) -> AnswerModel:
    """Return the page model of some answers.

    Args:
        answers: with the notice that they are made of.
        parts: questions with their answers.
        kind: CUSTOMER or NEIGHBOUR.
        street: what a neighbour's page is headed by.
    """
    say, notice = answers.say, answers.model
    is_near = kind == NEIGHBOUR
    title = say("document.neighbour_title") if is_near else say("document.title")
    when = answers.read.when(answers.bodies[-1]) or answers.read.not_recorded
    if is_near:
        subtitle = say("document.neighbour_subtitle", date=when, address=street or answers.read.not_recorded)
    else:
        subtitle = say("document.subtitle", date=when, address=notice.recipient[1].value)
    serials = tuple(record.serial for record in answers.records)
    return AnswerModel(
        kind=kind,
        language=notice.language,
        title=title,
        subtitle=subtitle,
        subject=say("document.subject"),
        issued=notice.issued,
        issued_on=notice.issued_on,
        firm=notice.firm,
        recipient="" if is_near or answers.is_former or notice.recipient[0].missing else notice.recipient[0].value,
        serial=say("document.serial", serial=", ".join(serials)),
        serials=serials,
        parts=tuple(parts),
        emergency_heading=notice.emergency_heading,
        emergency=notice.emergency,
        emergency_note=notice.emergency_note,
        footer=notice.footer[1:],  # how to get the label stands under its question
        page_word=say("document.page"),
        continued=say("document.continued", firm=notice.firm.name, title=title),
    )
