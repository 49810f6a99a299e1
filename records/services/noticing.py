"""Customer notices: from sealed records to a page model, in the firm's wording and the labels' own words.

Pure: no clock, no files. First aid, precautions, results and keep-off wording are copied from the label data frozen in
the record and never made up here; what the record lacks is said to be not recorded.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import datetime
from itertools import groupby
from typing import TYPE_CHECKING, Any

from records.domain.report_model import (
    EmergencyLine,
    FirmHead,
    LabelPart,
    LabelWords,
    NoticeModel,
    ProductLine,
    TreatmentPart,
    VisitPart,
    one_line,
)
from records.domain.spans import read_span
from records.errors import NotFoundError
from records.services.closing.nutrient_body import per_area
from records.services.notice_content import Owed, ended
from records.services.notice_words import EMERGENCY, NPIC, POISON_HELP, Reader, local_time

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence
    from datetime import date

    from records.domain.report_model import Fact, Wording
    from records.services.ports import StoredRevision

    Body = dict[str, Any]

_PESTICIDES = {"pesticide", "minimum-risk"}
_FERTILIZER = "fertilizer"
_NOTHING_MORE = Owed()


@dataclass(slots=True)
class _Said:
    """Where one text of a label was found."""

    text: str
    note: str
    missing: bool
    sources: dict[str, list[str]] = field(default_factory=dict)  # product -> places


def visit_notice(
    record: StoredRevision, wording: Wording, language: str, issued_on: date, owed: Owed = _NOTHING_MORE
) -> NoticeModel:
    """Return the notice of one visit.

    Args:
        record: the revision to tell of; the latest one, as the caller chooses.
        wording: the firm's template in that language.
        language: `en` or `es`; the label's own Spanish is used where the record has it.
        issued_on: the day printed as the day of issue.
        owed: what the rules of the place want on it besides.
    """
    read = Reader(wording)
    subtitle = wording(
        "document.subtitle",
        date=read.when(record.body) or read.not_recorded,
        address=_address(read, record.body),
    )
    return _notice(
        [record],
        read,
        language,
        issued_on,
        kind="visit",
        title=wording("document.corrected_title" if record.revision > 1 else "document.title"),
        subtitle=subtitle,
        owed=owed,
    )


def season_notice(
    records: Sequence[StoredRevision],
    year: int,
    wording: Wording,
    language: str,
    issued_on: date,
) -> NoticeModel:
    """Return one notice for everything applied at a site in a year.

    Args:
        records: the latest revision of each record of the site in that year, in any order.
        year: the year, for the title.
        wording: the firm's template in that language.
        language: `en` or `es`.
        issued_on: the day printed as the day of issue.

    Raises:
        NotFoundError: there is no record to tell of.
    """
    if not records:
        raise NotFoundError(f"no visits at this site in {year}", "Look with: swathbook find --site SITE")
    read = Reader(wording)
    ordered = sorted(records, key=_order)
    return _notice(
        ordered,
        read,
        language,
        issued_on,
        kind="season",
        title=wording("document.season_title", year=str(year)),
        subtitle=wording("document.season_subtitle", address=_address(read, ordered[-1].body)),
    )


def _order(record: StoredRevision) -> tuple[str, str, str]:
    body = record.body
    started = (body.get("started") or {}).get("utc") or ""
    return str(body.get("date") or body.get("period") or ""), str(started), record.serial


def _notice(
    records: Sequence[StoredRevision],
    read: Reader,
    language: str,
    issued_on: date,
    *,
    kind: str,
    title: str,
    subtitle: str,
    owed: Owed = _NOTHING_MORE,
) -> NoticeModel:
    wording, bodies = read.wording, [record.body for record in records]
    last = bodies[-1]
    firm = _firm(read, last)
    season = kind == "season"
    fed = "_fertilizer" if _only_fertilizer(_last_day(bodies)) else ""
    heading = wording(f"keep_off.heading{fed}")
    if season:
        heading = wording(f"keep_off.last_visit{fed}", date=read.when(last) or read.not_recorded)
    customer = one_line((last.get("customer") or {}).get("name"))
    return NoticeModel(
        kind=kind,
        language=language,
        title=title,
        subtitle=subtitle,
        subject=wording("document.subject"),
        issued=wording("document.issued", date=read.day(issued_on)),
        issued_on=issued_on.isoformat(),
        firm=firm,
        recipient=(read.fact("customer", customer), read.fact("address", _site(last))),
        keep_off_heading=heading,
        keep_off=_keep_off(read, _last_day(bodies), language, firm.phone),
        sign=_sign(read, last, owed),
        precautions=_labels(read, bodies, language, "precautions", firm.phone),
        emergency_heading=wording("emergency.heading"),
        emergency=(
            EmergencyLine(EMERGENCY, wording("emergency.call_911"), wording("emergency.when_911")),
            EmergencyLine(POISON_HELP, wording("emergency.poison_help"), wording("emergency.when_poison_help")),
            EmergencyLine(NPIC, wording("emergency.npic"), wording("emergency.when_npic")),
        ),
        emergency_note=wording("emergency.note"),
        first_aid=_labels(read, bodies, language, "first_aid", firm.phone),
        results=_results(read, bodies, language),
        visits_heading=wording("visit.season_heading" if season else "visit.heading"),
        columns=(wording("visit.product"), wording("visit.active"), wording("fact.rate"), wording("fact.amount")),
        visits=tuple(_visit(read, record, firm.phone) for record in records),
        footer=(
            wording("footer.label_copy", firm=firm.name, phone=firm.phone),
            *wording.lists["footer.cautions"],
        ),
        page_word=wording("document.page"),
        continued=wording("document.continued", firm=firm.name, title=title),
        signatures=_signatures(read, last) if owed.signature else (),
        reentry=tuple(LabelWords(said.text, _where(read, said)) for said in _reentry(read, _last_day(bodies))),
    )


def _last_day(bodies: list[Body]) -> list[Body]:
    """Return the last visit, and those before it on the same day: the ground has to be kept off for each of them."""
    day = bodies[-1].get("date")
    return [body for body in bodies[:-1] if day and body.get("date") == day] + bodies[-1:]


def _only_fertilizer(bodies: list[Body]) -> bool:
    """Tell whether all that was put down is fertilizer: it has no target, no registration, and mostly no label here."""
    kinds = {(line.get("product") or {}).get("kind") for body in bodies for _, line in _lines(body)}
    return kinds == {_FERTILIZER}


def _firm(read: Reader, body: Body) -> FirmHead:
    business = body.get("business") or {}
    name, address, phone, licence = (
        one_line(business.get(key)) or read.not_recorded for key in ("name", "address", "phone", "licence")
    )
    return FirmHead(name, address, phone, read.wording("firm.licence", number=licence))


def _site(body: Body) -> str:
    site = body.get("site") or {}
    place = " ".join(filter(None, (one_line(site.get("state")), one_line(site.get("zip")))))
    return ", ".join(filter(None, (one_line(site.get("address")), one_line(site.get("city")), place)))


def _address(read: Reader, body: Body) -> str:
    return _site(body) or read.not_recorded


def _sign(read: Reader, body: Body, owed: Owed) -> str:
    until = local_time(body.get("sign_removal")) or owed.sign
    if until is None:
        phone = _firm(read, body).phone
        return read.wording("keep_off.sign_missing", phone=phone) if owed.removal else ""
    told = read.moment(until) if isinstance(until, datetime) else read.day(until)
    return read.wording("keep_off.sign", time=told)


def _signatures(read: Reader, body: Body) -> tuple[str, ...]:
    """Return who has room to sign: who applied, and who answered for it."""
    told = [read.person(body.get("applicator")) or read.not_recorded, read.person(body.get("supervisor"))]
    return tuple(read.wording("fact.signature", person=person) for person in dict.fromkeys(filter(None, told)))


def _visit(read: Reader, record: StoredRevision, phone: str) -> VisitPart:
    body, wording = record.body, read.wording
    when = read.when(body)
    serial = record.serial
    if record.revision > 1:
        serial += f", {wording('fact.remade', revision=str(record.revision))}"
    facts = [
        read.fact("date", when),
        read.fact("time", read.times(body)),
        read.fact("applicator", read.person(body.get("applicator"))),
        *([read.fact("supervisor", read.person(body["supervisor"]))] if body.get("supervisor") else []),
        read.fact("wind", read.weather(body.get("weather"), "wind_speed")),
        read.fact("temperature", read.weather(body.get("weather"), "temperature")),
        read.fact("serial", serial),
    ]
    treatments = tuple(_treatment(read, treatment) for treatment in body.get("treatments") or [])
    heading = wording("visit.visit", date=when or read.not_recorded)
    return VisitPart(heading, serial, tuple(facts), treatments, _deviation(read, body, phone))


def _deviation(read: Reader, body: Body, phone: str) -> tuple[str, ...]:
    deviation = body.get("deviation")
    if not deviation:
        return ()
    reason = one_line(deviation.get("reason"), 600) or read.not_recorded
    signed = read.person(deviation.get("signed_by")) or read.not_recorded
    broken = [
        one_line(finding.get("message"), 400)
        for finding in body.get("findings") or []
        if finding.get("severity") == "stop"
    ]
    broken = [read.wording("visit.broken", text=text) for text in broken if text]
    told = [f"{read.wording('visit.deviation', reason=reason)}"]
    return (*told, *broken, read.wording("visit.signed", person=signed, phone=phone))


def _treatment(read: Reader, treatment: Body) -> TreatmentPart:
    fed = _only_fertilizer([{"treatments": [treatment]}])
    targets = read.words(treatment.get("targets") or []) or ("" if fed else read.word(treatment.get("purpose")))
    where, method = read.zones(treatment), read.word(treatment.get("method")) or read.not_recorded
    if targets or not fed:
        told = targets or read.not_recorded
        heading = read.wording("visit.treatment", where=where, method=method, targets=told)
    else:
        heading = read.wording("visit.treatment_fertilizer", where=where, method=method)
    facts: list[Fact] = [read.fact("area", read.area(treatment))]
    if treatment.get("spray"):
        facts.append(read.fact("spray", read.measure(treatment["spray"])))
    equipment = one_line((treatment.get("equipment") or {}).get("name"))
    if equipment:
        facts.append(read.fact("equipment", equipment))
    lines = tuple(_product(read, line, treatment) for line in treatment.get("applications") or [])
    return TreatmentPart(heading, tuple(facts), lines)


def _product(read: Reader, line: Body, treatment: Body) -> ProductLine:
    product = line.get("product") or {}
    notes = []
    if line.get("targets") and line["targets"] != treatment.get("targets"):
        notes.append(read.wording("value.for_targets", targets=read.words(line["targets"])))
    if line.get("area") and line["area"] != treatment.get("area"):
        notes.append(read.wording("value.this_area", area=read.measure(line["area"])))
    notes.extend(_nutrients(read, line))
    return ProductLine(
        name=_name(read, product),
        identity=", ".join(_identity(read, product)),
        actives=_actives(read, product),
        rate=read.fact("rate", read.measure(line.get("rate"))),
        amount=read.fact("amount", read.measure(line.get("amount"))),
        note=", ".join(notes),
    )


def _nutrients(read: Reader, line: Body) -> Iterator[str]:
    """Yield the grade of a fertilizer and the nutrients it put on; their symbols are those of every language."""
    found = per_area(line)
    if found is not None:
        grade, parts = found
        told = ", ".join(f"{symbol} {read.measure(amount)}" for symbol, amount in parts)
        yield f"{one_line(grade)}: {told}" if told else one_line(grade)


def _name(read: Reader, product: Body) -> str:
    return one_line(product.get("name")) or one_line(product.get("id")) or read.not_recorded


def _identity(read: Reader, product: Body) -> Iterator[str]:
    wording = read.wording
    registration, exemption = one_line(product.get("registration")), one_line(product.get("exemption"))
    if registration:
        yield wording("value.registration", number=registration)
    elif exemption:
        yield wording("value.exempt", exemption=exemption)
    elif product.get("kind") in _PESTICIDES:
        yield wording("value.no_registration")
    elif product.get("kind") != _FERTILIZER:
        yield wording("value.not_registered")
    kind, type_ = read.word(product.get("kind")), read.word(product.get("type"))
    # An adjuvant that carries the default type of a product file is still shown as what it is.
    shown = (type_ or kind) if product.get("kind") in _PESTICIDES else kind
    if shown:
        yield shown
    if product.get("signal_word"):
        yield wording("value.signal_word", word=read.word(product["signal_word"]))
    if product.get("restricted_use"):
        yield wording("value.restricted")
    if product.get("maker"):
        yield wording("value.maker", maker=one_line(product["maker"]))


def _actives(read: Reader, product: Body) -> str:
    wording, told = read.wording, []
    for is_ae, actives in groupby(product.get("actives") or [], lambda active: active.get("as") == "ae"):
        listed = [
            f"{one_line(active.get('name'))} {read.measure(active.get('content')) or read.not_recorded}"
            for active in actives
        ]
        told.append(wording("value.ae" if is_ae else "value.ai", actives=", ".join(listed)))
    if told:
        return "; ".join(told)
    return wording("value.actives_missing" if product.get("kind") in _PESTICIDES else "value.no_actives")


def _said(line: Body, key: str, language: str) -> tuple[list[str], bool]:
    """Return the label's texts under a key, and whether they are English where another language was wanted."""
    label = line.get("label") or {}
    own = (label.get("spanish") or {}).get(key) if language == "es" else None
    texts = own or label.get(key) or []
    listed = texts if isinstance(texts, list) else [texts]
    return [text for text in (one_line(text, None) for text in listed) if text], language != "en" and not own


def _lines(body: Body) -> Iterator[tuple[Body, Body]]:
    for treatment in body.get("treatments") or []:
        for line in treatment.get("applications") or []:
            yield treatment, line


def _collect(read: Reader, bodies: list[Body], language: str, key: str, missing: str) -> list[_Said]:
    """Return each different text once, with the products and places it was said for."""
    found: dict[tuple[str, bool], _Said] = {}
    for body in bodies:
        for treatment, line in _lines(body):
            product = line.get("product") or {}
            texts, english = _said(line, key, language)
            absent = not texts and product.get("kind") in _PESTICIDES
            for text in [missing] if absent else texts:
                note = read.wording("label.from_english") if english and not absent else ""
                said = found.setdefault((text, absent), _Said(text, note, missing=absent))
                places = said.sources.setdefault(_name(read, product), [])
                where = read.places(treatment)
                if where not in places:
                    places.append(where)
    return list(found.values())


def _keep_off(read: Reader, bodies: list[Body], language: str, phone: str) -> tuple[LabelWords, ...]:
    missing = read.wording("keep_off.missing", phone=phone)
    found = _collect(read, bodies, language, "keep_off", missing)
    if not found and _only_fertilizer(bodies):
        return (LabelWords(read.wording("keep_off.fertilizer", phone=phone), ""),)
    if not found:  # nothing but products without a label, or an empty visit: never leave the question open
        return (LabelWords(missing, "", missing=True),)
    ask, words = read.wording("keep_off.ask_first", phone=phone), []
    for said in found:
        if not said.note:
            words.append(LabelWords(said.text, _where(read, said), "", said.missing))
            continue
        # What the reader may not understand is no headline: large is whom to ask, and that but once.
        quoted = read.wording("keep_off.from_english", text=said.text)
        words.append(LabelWords("" if any(one.text == ask for one in words) else ask, _where(read, said), quoted))
    return tuple(words)


def _reentry(read: Reader, bodies: list[Body]) -> list[_Said]:
    """Return what labels with a re-entry interval set: for how long, and until when."""
    found: dict[str, _Said] = {}
    for body in bodies:
        end = ended(body)
        for treatment, line in _lines(body):
            span = read_span((line.get("label") or {}).get("reentry") or "")
            if span is None:
                continue
            told = read.measure(str(span))
            text = read.wording("keep_off.reentry_open", span=told)
            if end is not None:
                text = read.wording("keep_off.reentry", span=told, time=read.moment(span.end_after(end)))
            said = found.setdefault(text, _Said(text, "", missing=False))
            places, where = said.sources.setdefault(_name(read, line.get("product") or {}), []), read.places(treatment)
            if where not in places:
                places.append(where)
    return list(found.values())


def _where(read: Reader, said: _Said) -> str:
    """Return the places and products a text was said for, products of one place together."""
    places: dict[str, list[str]] = {}
    for product, where in said.sources.items():
        places.setdefault(", ".join(where), []).append(product)
    return "; ".join(
        read.wording("keep_off.source", products=", ".join(products), where=where) for where, products in places.items()
    )


def _results(read: Reader, bodies: list[Body], language: str) -> LabelPart:
    """Return what the labels say is to be expected; nothing where none says it, as no rule asks for it."""
    part = _labels(read, bodies, language, "results", "")
    return LabelPart(part.heading, tuple(words for words in part.words if not words.missing))


def _labels(read: Reader, bodies: list[Body], language: str, key: str, phone: str) -> LabelPart:
    wording = read.wording
    missing = wording(f"label.{key}_missing", phone=phone, poison_help=POISON_HELP) if key != "results" else "-"
    products = {_name(read, line.get("product") or {}) for body in bodies for _, line in _lines(body)}
    words = tuple(
        LabelWords(
            said.text,
            # What every product says needs no names.
            "" if said.sources.keys() == products else wording("label.source", products=", ".join(said.sources)),
            said.note,
            said.missing,
        )
        for said in _collect(read, bodies, language, key, missing)
    )
    return LabelPart(wording(f"label.{key}"), words)
