"""Composes the sealed body of a visit: every fact frozen as it was at closing, in text, without a float."""

from __future__ import annotations

from datetime import UTC
from functools import lru_cache
from typing import TYPE_CHECKING, Any

from records.clock import instant_text
from records.domain.findings import Code, Finding
from records.domain.quantities import Quantity, decimal_text, format_number, scaled_text
from records.domain.registration import RegistrationError, read_registration
from records.rules.ground import least_of
from records.rules.label_checks import uses_for
from records.rules.people_checks import licence_on
from records.rules.plausibility import late_days, lateness
from records.services.closing.amounts import derived_rate
from records.services.closing.nutrient_body import analysis_body, ground_body, nutrients_body
from records.services.closing.reading import local_text
from records.services.sealing import checked
from records.units import Kind, factor

if TYPE_CHECKING:
    from fractions import Fraction

    from records.domain.people import Business, Licence, Person
    from records.domain.place import Customer, Zone
    from records.domain.product import Label, Product, Use
    from records.domain.visit import Line, Treatment, Visit
    from records.rules.context import Context
    from records.services.ports import Json

SCHEMA = 1
STEP = 9  # decimals kept: amounts are exact whole numbers of billionths in the tables


def _said(**parts: str) -> Json:
    """Return what few records hold, where it was said: a key that says nothing would only make every record longer."""
    return {name: text for name, text in parts.items() if text}


def quantity_text(quantity: Quantity | None) -> str | None:
    """Return an amount for the record: the number as typed where it is plain decimal, else rounded to nine decimals."""
    if quantity is None:
        return None
    number = quantity.number
    if not number or "/" in number or len(number.partition(".")[2]) > STEP:
        number = format_number(quantity.value)
    return f"{number} {quantity.unit}"


def square_feet(value: Fraction | None) -> str | None:
    """Return an area for the record, in sq ft."""
    return None if value is None else f"{decimal_text(value, 6)} sq ft"


def licence_body(licence: Licence | None) -> Json | None:
    """Return a licence as frozen in a record."""
    if licence is None:
        return None
    return {
        "number": licence.number,
        "state": licence.state,
        "kind": licence.kind.value,
        "categories": list(licence.categories),
        "from": licence.first_day.isoformat(),
        "to": licence.last_day.isoformat(),
    }


def person_body(person: Person | None, visit: Visit, version: int) -> Json | None:
    """Return a person as frozen in a record, with the licence valid on the day."""
    if person is None:
        return None
    licence = None
    if visit.day is not None and visit.site is not None:
        licence = licence_on(person, visit.day, visit.site.state)
    return {"id": person.id, "name": person.name, "licence": licence_body(licence), "version": version}


def business_body(business: Business, version: int) -> Json:
    """Return the firm as frozen in a record."""
    return {
        "name": business.name,
        "address": business.address,
        "phone": business.phone,
        "licence": business.licence,
        "state": business.state,
        "timezone": business.timezone,
        "version": version,
        **_said(insurer=business.insurer, insured=business.insured),
    }


def _customer(customer: Customer | None, version: int) -> Json | None:
    if customer is None:
        return None
    return {
        "id": customer.id,
        "name": customer.name,
        "address": customer.address,
        "phone": customer.phone,
        "email": customer.email,
        "language": customer.language,
        "version": version,
        **_said(email_consent="" if customer.email_consent is None else customer.email_consent.isoformat()),
    }


def _site(visit: Visit) -> Json | None:
    site = visit.site
    if site is None:
        return None
    return {
        "id": site.id,
        "address": site.address,
        "city": site.city,
        "county": site.county,
        "state": site.state,
        "zip": site.zip,
        "version": visit.versions["site"],
    }


def _weather(visit: Visit) -> Json:
    weather = visit.weather
    beside = weather.beside
    # What only a station or a gust adds is there only where there is any: older bodies have none of it.
    added = {
        "wind_gust": None if weather.wind_gust is None else str(weather.wind_gust),
        "metar": weather.metar,
        "station": weather.station,
        "distance": None if weather.distance is None else str(weather.distance),
        "of_station": list(weather.filled),
        "beside": None
        if beside is None
        else {
            "wind_speed": None if beside.wind_speed is None else str(beside.wind_speed),
            "wind_from": beside.wind_from,
            "wind_gust": None if beside.wind_gust is None else str(beside.wind_gust),
            "temperature": None if beside.temperature is None else str(beside.temperature),
            "humidity": beside.humidity,
            "measured_at": local_text(beside.measured_at),
        },
    }
    return {
        "wind_speed": None if weather.wind_speed is None else str(weather.wind_speed),
        "wind_from": weather.wind_from,
        "temperature": None if weather.temperature is None else str(weather.temperature),
        "humidity": weather.humidity,
        "measured_at": local_text(weather.measured_at),
        "source": weather.source,
        "not_measured": dict(weather.not_measured),
        **{name: value for name, value in added.items() if value},
    }


def _zone(zone: Zone, treatment: Treatment) -> Json:
    return {
        "id": zone.id,
        "kind": zone.kind,
        "turf": list(zone.turf),
        "area": None if zone.area is None else square_feet(zone.area.base),
        "treated": square_feet(treatment.treated(zone)),
    }


@lru_cache(maxsize=1024)
def federal_number(registration: str) -> str | None:
    """Return the federal number within a registration number that a state has extended; None where there is none."""
    if not registration:
        return None
    try:
        return read_registration(registration).federal or None
    except RegistrationError:
        return None


@lru_cache(maxsize=1024)
def product_body(product: Product) -> Json:
    """Return a product as frozen in a record; the same object each time, not to be changed."""
    made = {
        "id": product.id,
        "version": product.version,
        "name": product.name,
        "registration": product.registration,
        "federal": federal_number(product.registration),
        "exemption": product.exemption,
        "kind": product.kind.value,
        "type": product.type,
        "form": product.form.value,
        "signal_word": product.signal_word,
        "restricted_use": product.restricted_use,
        "actives": [
            {
                "name": active.printed or active.name,
                "content": active.content.text,
                "as": active.basis,
                "group": active.group,
            }
            for active in product.actives
        ],
    }
    if product.maker:
        made["maker"] = product.maker
    if product.regulated:
        made["regulated"] = list(product.regulated)
    if product.analysis is not None:
        made |= analysis_body(product.analysis)
    return checked(made)


def _use(use: Use) -> Json:
    rates = []
    for printed in use.rates:
        if printed.low is not None and printed.high is not None and printed.low.unit_text == printed.high.unit_text:
            rates.append(f"{str(printed.low).partition(' ')[0]} to {printed.high}")
        else:
            rates.append(" to ".join(str(end) for end in (printed.low, printed.high) if end is not None))
    return {"site": use.site, "method": list(use.method), "targets": list(use.targets), "rates": rates}


def label_body(line: Line, treatment: Treatment) -> Json | None:
    """Return the label revision a line was judged by, with the wording the customer is owed.

    The same label and use give the same object, not to be changed.
    """
    label = line.product.label
    if label is None:
        return None
    use = next(iter(uses_for(line, treatment)), None)
    return _label(label, None if use is None else label.uses.index(use))


@lru_cache(maxsize=1024)
def _label(label: Label, number: int | None) -> Json:
    use = None if number is None else label.uses[number]
    spanish: dict[str, Any] = {}
    for key, text in label.spanish:
        spanish.setdefault(key, []).append(text)
    return checked(
        {
            "revision": label.revision,
            "keep_off": label.keep_off,
            "precautions": list(label.precautions),
            "first_aid": label.first_aid,
            "results": label.results,
            "reentry": None if label.reentry is None else str(label.reentry),
            "spanish": {key: texts if key == "precautions" else texts[0] for key, texts in spanish.items()},
            "use": None if use is None else _use(use),
        }
    )


def _least(line: Line, treatment: Treatment) -> str | None:
    """Return the lowest amount that reads as written, rounded down, so that later sums give its reading no more."""
    amount = line.amount
    if amount is None or amount.kind is Kind.OUNCE:
        return None
    area = None if treatment.area is None else treatment.area.base
    least, size = least_of(line, amount, area), factor(amount.unit)
    steps = least.numerator * size.denominator * 10**STEP // (least.denominator * size.numerator)
    return f"{scaled_text(max(steps, 0), STEP)} {amount.unit}"


def _application(line: Line, treatment: Treatment) -> Json:
    amount = line.amount
    actives = []
    for active in line.product.actives:
        pounds = None if amount is None or amount.kind not in {Kind.VOLUME, Kind.WEIGHT} else active.pounds(amount)
        kept = None if pounds is None else decimal_text(pounds, STEP)
        actives.append({"name": active.name, "as": active.basis, "pounds": kept})
    return {
        "product": product_body(line.product),
        "label": label_body(line, treatment),
        "mix": line.mix or None,
        "lot": line.lot or None,
        "rate": derived_rate(line, treatment),
        "amount": quantity_text(amount),
        "least": _least(line, treatment),
        "area": None if treatment.area is None else square_feet(treatment.area.base),
        "targets": list(line.targets),
        "actives": actives,
        **_said(supplier=line.supplier or line.product.supplier),
        **nutrients_body(line),
    }


def _calibration(treatment: Treatment) -> Json:
    """Return the calibration that an area was estimated by; nothing where none was."""
    found = treatment.calibration
    if found is None:
        return {}
    said = _said(serial=found.serial, by=found.by, nozzle=found.nozzle, pressure=found.pressure, words=found.words)
    on = None if found.day is None else found.day.isoformat()
    return {"calibration": {"output": str(found.rate), "on": on, "stale": found.is_stale, **said}}


def _treatment(treatment: Treatment) -> Json:
    equipment = treatment.equipment
    return {
        "zones": [_zone(zone, treatment) for zone in treatment.zones],
        "site_kind": treatment.zones[0].kind if treatment.zones else "",
        "method": treatment.method or None,
        "targets": list(treatment.targets),
        "equipment": None if equipment is None else {"id": equipment.id, "name": equipment.name},
        "spray": quantity_text(treatment.spray),
        "area": None if treatment.area is None else square_feet(treatment.area.base),
        "area_source": None if treatment.area_source is None else treatment.area_source.value,
        "extent": treatment.extent or None,
        **_calibration(treatment),
        **_said(purpose=treatment.purpose, dilution=treatment.dilution, diluent=treatment.diluent),
        **ground_body(treatment),
        **_said(plot=treatment.plot),
        "applications": [_application(line, treatment) for line in treatment.lines],
    }


def compose(
    visit: Visit,
    document: Json,
    digest: str,
    findings: list[Finding],
    context: Context,
    *,
    deviation: Json | None = None,
) -> Json:
    """Compose the body to seal.

    Args:
        visit: as read and checked; it has a day.
        document: the entry as typed.
        digest: of the entry.
        findings: all that were found.
        context: the moment of entry, kept apart from the moment of application, and the packs that judged it.
        deviation: reason and signer where a limit was broken and it is sealed as applied.

    Raises:
        ValueError: the visit has no day; `missing` stops such an entry before.
    """
    day = visit.day
    if day is None:
        raise ValueError("a visit without a day cannot be sealed")
    versions, now = visit.versions, context.now
    return {
        "schema": SCHEMA,
        "kind": "visit",
        "ref": visit.ref,
        "document_digest": digest,
        "origin": {"kind": "entered"},
        "business": business_body(visit.business, versions["business"]),
        "customer": _customer(visit.customer, versions.get("customer", 0)),
        "site": _site(visit),
        "timezone": visit.timezone,
        "date": day.isoformat(),
        "period": day.isoformat()[:7],
        "started": local_text(visit.started),
        "finished": local_text(visit.finished),
        "entered_at": instant_text(now),
        "late_days": late_days(visit, context),
        "late": _late(visit, context),
        "applicator": person_body(visit.applicator, visit, versions.get("applicator", 0)),
        "supervisor": person_body(visit.supervisor, visit, versions.get("supervisor", 0)),
        "weather": _weather(visit),
        "treatments": [_treatment(treatment) for treatment in visit.treatments],
        "sign_removal": local_text(visit.sign_removal),
        "follow_up": None if visit.follow_up is None else visit.follow_up.isoformat(),
        **_said(
            meter=visit.meter,
            incident=visit.incident,
            permit=visit.permit,
            authorized_by=visit.authorized_by,
            mixing_place=visit.mixing_place,
        ),
        "confirmed": sorted(visit.confirmed),
        "remarks": visit.remarks,
        "findings": [finding.document() for finding in findings],
        "deviation": deviation,
        "packs": [pack.frozen for pack in context.packs],
        "document": document,
    }


def _late(visit: Visit, context: Context) -> Json | None:
    """Return by when the record should have been complete, and by which pack; None when it was in time."""
    late = lateness(visit, context)
    if late is None:
        return None
    return {"due": instant_text(late.due.astimezone(UTC)), "within": str(late.clock.within), "by": [late.pack.id]}


def is_incomplete(findings: list[Finding]) -> bool:
    """Tell whether a record was sealed with something missing."""
    return any(finding.code is Code.MISSING for finding in findings)
