"""One page for a doctor or a fire service: what was put out at an address lately, and the labels' first aid words."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import timedelta
from typing import TYPE_CHECKING

from records.domain.packet_model import EmergencyModel, EmergencyProduct, EmergencyVisit, FirstAid
from records.domain.report_model import EmergencyLine, one_line
from records.errors import NotFoundError
from records.services.body_parts import PESTICIDES
from records.services.closing.body import product_body
from records.services.directory import Directory
from records.services.inspecting.held import day_of, products_of, site_of
from records.services.inspecting.packet import firm_head
from records.services.inspecting.producing import MEDICAL, handed, local_day, log_production
from records.services.inspecting.request import sites_like
from records.services.inspecting.words import actives_words, amount_words, day_or_month, place_words, registration_words
from records.services.notice_words import EMERGENCY, NPIC, POISON_HELP
from records.services.ports import Packet
from records.services.summary_words import day_words

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence
    from datetime import date

    from records.clock import Clock
    from records.domain.people import Business
    from records.services.inspecting.producing import Draft
    from records.services.ports import Json, OpenBook, StoredRevision, UnitOfWork

DAYS = 30
_NAMED = 8  # products of an entry that is still held
NO_FIRST_AID = "no first aid text is in the record: read the product's label, or call Poison Help"
PHONES = (
    EmergencyLine(EMERGENCY, "Emergency", "collapsed, has a seizure, or cannot breathe"),
    EmergencyLine(POISON_HELP, "Poison Help", "day and night"),
    EmergencyLine(NPIC, "NPIC, pesticide information", "weekdays; no emergency line"),
)
CAUTIONS = (
    "Have the product name and its EPA registration number at hand when you call.",
    "First aid words are those of the product labels as they stood at the application.",
    (
        "The product label is the law and wins over this page, which is an aid and not legal or medical advice; "
        "confirm with the state's pesticide agency and a licensed professional."
    ),
)


@dataclass(frozen=True, slots=True)
class Emergency:
    """The sheet of a site, with what its production has to say."""

    model: EmergencyModel
    key: str  # of the site
    site: Json | None  # as frozen in its records
    business: Business | None
    version: int


def emergency(book: OpenBook, site: str, clock: Clock) -> Emergency:
    """Return the sheet of a site: the applications of the last 30 days, at least those of the last visit.

    Args:
        book: that holds the records.
        site: id, or part of the address; one site alone.
        clock: for the day of issue.

    Raises:
        NotFoundError: no site or several fit, or nothing was ever applied there.
    """
    with book.read() as work:
        business, version = Directory(work.catalogue).business() or (None, 0)
        today, _ = local_day(business, clock.now())
        key = _one_site(work, site)
        records = list(_latest(work, key, today))
        unsealed, held_aid = _unsealed(work, key, today)
        head = work.records.head()
        known = work.catalogue.latest("site", key)
        voided = _voided(work, key)
    if not records and not unsealed:
        told = f"; {', '.join(voided)} did, and was voided" if voided else ""
        raise NotFoundError(
            f"nothing that stands is recorded for {site[:40]!r}{told}", "swathbook find --site SITE shows what there is"
        )
    place = (records[0].body.get("site") if records else {"id": key, **(known.body if known else {})}) or {}
    sealed_aid = first_aid_of(records)
    model = EmergencyModel(
        title="Pesticides applied at this address",
        address=place_words(place) or one_line(key),
        issued=f"Made on {day_words(today)}",
        issued_on=today.isoformat(),
        firm=firm_head(business),
        phones=PHONES,
        first_aid=(*sealed_aid, *(one for one in held_aid if one.text not in {aid.text for aid in sealed_aid})),
        span=_span(records, today),
        visits=tuple(_visit(record) for record in records),
        unsealed=tuple(unsealed),
        left_out="",
        last_seal=head,
        cautions=CAUTIONS,
    )
    return Emergency(model, key, place if records else None, business, version)


def _one_site(work: UnitOfWork, site: str) -> str:
    found = sites_like(work, site)
    if len(found) > 1:
        named = ", ".join(key for key, _ in found[:5])
        raise NotFoundError(f"{site[:40]!r} fits {len(found)} sites: {named}", "Name one by its id")
    return found[0][0]


def _voided(work: UnitOfWork, site: str) -> list[str]:
    """Return the last records of a site that were voided: whether rightly, is for who reads them to judge."""
    matches = work.records.matching(Packet(sites=frozenset({site})))
    found = work.records.bodies([match.order for match in matches[-5:]])
    return [record.serial for record in found if record.action == "voided"]


def _latest(work: UnitOfWork, site: str, today: date) -> Iterator[StoredRevision]:
    """Yield the records of the last days, newest first; where there are none, those of the last day with any."""
    matches = work.records.matching(Packet(sites=frozenset({site})))
    since = (today - timedelta(DAYS)).isoformat()
    last: str | None = None
    for record in work.records.bodies([match.order for match in reversed(matches)]):
        if record.action == "voided":
            continue
        day = _day(record)
        if last is not None and day < since and day != last:
            return
        last = day
        yield record


def _day(record: StoredRevision) -> str:
    """Return the day of a record; a month's total counts as the end of its month."""
    return str(record.body.get("date") or f"{record.body.get('period')}-99")


def _span(records: Sequence[StoredRevision], today: date) -> str:
    since = today - timedelta(DAYS)
    if records and _day(records[0]) >= since.isoformat():
        return f"All applications recorded here in the last {DAYS} days, since {day_words(since)}."
    told = f"No application is recorded here in the last {DAYS} days, since {day_words(since)}."
    return f"{told} This is the last one before." if records else told


def _unsealed(work: UnitOfWork, site: str, today: date) -> tuple[list[str], list[FirstAid]]:
    """Return what is still held for a site, and the first aid of its labels.

    Nobody has checked it, but it may have been put out; what the book knows of a product is told with its name.
    """
    since, directory = (today - timedelta(DAYS)).isoformat(), Directory(work.catalogue)
    told: list[str] = []
    aid: dict[str, FirstAid] = {}
    for entry in work.held.open():
        day, products = day_of(entry), products_of(entry)
        if site_of(entry) != site or (day and day < since) or not products:
            continue
        names = []
        for key, much in products[:_NAMED]:
            found = directory.product(key)
            names.append(_typed(key if found is None else product_body(found), much))
            if found is not None and found.label is not None and found.label.first_aid:
                aid[found.name] = FirstAid((one_line(found.name),), one_line(found.label.first_aid, None))
        more = f"; and {len(products) - _NAMED} more" if len(products) > _NAMED else ""
        told.append(f"{entry.number} of {day or 'a day not told'}: {'; '.join(names)}{more}")
    return told, list(aid.values())


def _typed(product: Json | str, much: str) -> str:
    """Return a product of a held entry: all that a doctor asks for where the book knows it, else what was typed."""
    if isinstance(product, str):
        return f"{product}, not a product of this book" + (f" ({much})" if much else "")
    word = one_line(product.get("signal_word"))
    parts = (
        one_line(product["name"]),
        _number(product),
        f"signal word {word}" if word else "",
        actives_words(product, content=True),
        much,
    )
    return ", ".join(filter(None, parts))


def _visit(record: StoredRevision) -> EmergencyVisit:
    body = record.body
    products = [_product(treatment, line) for treatment in body["treatments"] for line in treatment["applications"]]
    person, start, end = body.get("applicator") or {}, _clock(body.get("started")), _clock(body.get("finished"))
    times = f", {start or '?'} to {end or '?'}" if start or end else ""
    name = one_line(person.get("name")) or one_line(person.get("id")) or "not recorded"
    return EmergencyVisit(f"{day_or_month(body)}{times}", record.serial, name, tuple(products))


def _clock(stamp: Json | None) -> str:
    return one_line((stamp or {}).get("local"))[11:16]


def _product(treatment: Json, line: Json) -> EmergencyProduct:
    product = line["product"]
    word = one_line(product.get("signal_word"))
    identity = ", ".join(
        filter(
            None,
            (
                _number(product),
                f"signal word {word}" if word else "",
                "RESTRICTED USE" if product.get("restricted_use") else "",
                one_line(product.get("form")),
            ),
        )
    )
    zones = ", ".join(one_line(zone.get("name")) or one_line(zone.get("id")) for zone in treatment.get("zones") or [])
    where = ", ".join(filter(None, (zones or one_line(treatment.get("site_kind")), one_line(treatment.get("method")))))
    amount = amount_words(line.get("amount")) or "amount not recorded"
    over = one_line(treatment.get("area")) or one_line(treatment.get("extent"))
    spray = one_line(treatment.get("spray"))
    told = " ".join(filter(None, (amount, f"over {over}" if over else "", f"in {spray} of spray" if spray else "")))
    name = one_line(product.get("name")) or one_line(product.get("id"))
    actives = actives_words(product, content=True)
    if not actives:
        is_pesticide = product.get("kind") in PESTICIDES
        actives = (
            "active ingredients not recorded" if is_pesticide else f"no pesticide: {one_line(product.get('kind'))}"
        )
    return EmergencyProduct(name, identity, actives, told, where or "place not recorded")


def _number(product: Json) -> str:
    if product.get("registration"):
        return f"EPA Reg. No. {registration_words(product)}"
    if product.get("exemption"):
        return registration_words(product)
    return "registration number not recorded" if product.get("kind") in PESTICIDES else "no registration number"


def first_aid_of(records: Sequence[StoredRevision]) -> tuple[FirstAid, ...]:
    """Return each first aid text of the labels once, with the products that say it."""
    told: dict[str, list[str]] = {}
    for record in records:
        for treatment in record.body["treatments"]:
            for line in treatment["applications"]:
                product = line["product"]
                name = one_line(product.get("name")) or one_line(product.get("id"))
                text = one_line((line.get("label") or {}).get("first_aid"), None)
                if text or product.get("kind") in PESTICIDES:
                    names = told.setdefault(text, [])
                    if name not in names:
                        names.append(name)
    return tuple(
        FirstAid(tuple(names), text or NO_FIRST_AID, missing=not text)
        for text, names in sorted(told.items(), key=lambda item: not item[0])
    )


def emergency_document(model: EmergencyModel) -> Json:
    """Return the sheet as JSON."""
    return {
        "schema": 1,
        "kind": "emergency sheet",
        "title": model.title,
        "address": model.address,
        "issued_on": model.issued_on,
        "firm": {"name": model.firm.name, "phone": model.firm.phone},
        "phones": [{"number": one.number, "name": one.name, "when": one.when} for one in model.phones],
        "first_aid": [
            {"products": list(one.products), "text": None if one.missing else one.text} for one in model.first_aid
        ],
        "visits": [
            {
                "when": visit.when,
                "serial": visit.serial,
                "applied_by": visit.who,
                "products": [
                    {
                        "name": product.name,
                        "identity": product.identity,
                        "actives": product.actives,
                        "amount": product.amount,
                        "where": product.where,
                    }
                    for product in visit.products
                ],
            }
            for visit in model.visits
        ],
        "span": model.span,
        "not_sealed_yet": list(model.unsealed),
        "left_out": model.left_out or None,
        "last_seal": model.last_seal,
        "cautions": list(model.cautions),
    }


def log_emergency(
    book: OpenBook, made: Emergency, clock: Clock, asked_by: str, drafts: Sequence[Draft], files: Sequence[Json]
) -> StoredRevision:
    """Seal that the sheet was handed over, and put its files in place.

    Args:
        book: that keeps it.
        made: the sheet.
        clock: the moment.
        asked_by: who asked, as told.
        drafts: files to put in place.
        files: the same, as sealed.
    """
    serials = [visit.serial for visit in made.model.visits]
    data = {
        **handed(MEDICAL, asked_by, "", files, serials),
        "question": {
            "words": f"emergency sheet of {made.model.address}",
            "criteria": {"sites": [made.key], "days": DAYS},
        },
        "seed": None,
        "last_seal": made.model.last_seal,
    }
    return log_production(book, data, clock, made.business, made.version, made.site, drafts)
