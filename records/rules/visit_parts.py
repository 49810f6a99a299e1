"""Tells a visit that is being closed in the words of rule packs."""

from __future__ import annotations

import re
from functools import lru_cache
from typing import TYPE_CHECKING

from records.domain.product import ProductKind
from records.domain.quantities import Form, Per
from records.rules.asking import Part, RecordParts, TreatmentPart
from records.rules.people_checks import is_certified_on

if TYPE_CHECKING:
    from records.domain.product import Product
    from records.domain.visit import Line, Treatment, Visit

TENTH_ACRE = 4356  # sq ft, exactly; the federal short form is for less than that (7 CFR 110.3)
INDOORS = frozenset({"structure", "building", "indoor", "indoors", "greenhouse", "interior"})
UNDILUTED = re.compile(r"undiluted|not diluted|ready[ -]to[ -]use|rtu|none|neat", re.ASCII)
_WEATHER = (("wind_speed", "wind_speed"), ("wind_direction", "wind_from"), ("temperature", "temperature"))


@lru_cache(maxsize=8192)
def same_place(site_address: str, customer_address: str) -> bool:
    """Tell whether a customer's address names the treated place, whatever the commas and capitals."""
    plain = [" ".join(re.split(r"[\s,.]+", text.casefold())).strip() for text in (site_address, customer_address)]
    return bool(plain[0]) and plain[1].startswith(plain[0])


def is_undiluted(form: str, dilution: str) -> bool:
    """Tell whether a product was put out as it came: granules always are, others where the entry says so."""
    return form == Form.GRANULE or UNDILUTED.match(dilution.strip().casefold()) is not None


def is_water(diluent: str) -> bool:
    """Tell whether a product was diluted with nothing but water, as is meant where nothing is written."""
    return diluent.strip().casefold() in {"", "water"}


def visit_parts(visit: Visit) -> RecordParts:
    """Return what a visit holds.

    Args:
        visit: as far as it could be understood.
    """
    treatments = [_treatment(treatment, visit) for treatment in visit.treatments]
    return join(_visit(visit), treatments, has_only_small_spots=_small_spots(visit))


def join(visit: Part, treatments: list[TreatmentPart], *, has_only_small_spots: bool) -> RecordParts:
    """Carry conditions between the parts: what is true of a visit holds for its lines, of any line for its visit."""
    if has_only_small_spots:
        visit.true.add("spot_under_tenth_acre")
    whole = frozenset(visit.true)
    for treatment in treatments:
        own = frozenset(treatment.part.true)
        for line in treatment.lines:
            # What is no pesticide tells its treatment that nutrients went on, and nothing that pesticide rules ask.
            treatment.part.true |= line.true if line.is_pesticide else line.true & {"fertilizer"}
            line.true |= own | whole
        visit.true |= treatment.part.true
        treatment.part.true |= whole
    return RecordParts(visit, treatments)


def _held(*fields: tuple[str, object]) -> set[str]:
    return {name for name, value in fields if value}


def _visit(visit: Visit) -> Part:
    part = Part("")
    has = part.has
    if visit.day is not None:
        has.update(("date", "time"))
    if visit.started is not None:
        has.add("start_time")
    if visit.finished is not None:
        has.add("end_time")
    _places(visit, part)
    _people(visit, part)
    business, weather = visit.business, visit.weather
    part.has |= _held(
        ("business_name", business.name),
        ("business_address", business.address),
        ("business_licence", business.licence),
        ("insurance", business.insurer and business.insured),
        ("incident", visit.incident),
        ("permit", visit.permit),
        ("mixing_place", visit.mixing_place),
        ("wind_speed", weather.wind_speed),
        ("wind_direction", weather.wind_from),
        ("temperature", weather.temperature),
    )
    if visit.weather.not_measured:
        stated = dict(visit.weather.not_measured)
        part.reasons = {name: stated[key] for name, key in _WEATHER if key in stated}
    return part


def _places(visit: Visit, part: Part) -> None:
    site, customer = visit.site, visit.customer
    if site is not None:
        part.has |= _held(
            ("site_address", site.address), ("city", site.city), ("county", site.county), ("zip", site.zip)
        )
    if customer is not None:
        part.has |= _held(
            ("customer_name", customer.name),
            ("customer_address", customer.address),
            ("customer_phone", customer.phone),
        )
    if visit.authorized_by or "customer_name" in part.has:
        part.has.add("authorized_by")
    part.true.add("not_own_property")
    if site is not None and customer is not None and not same_place(site.address, customer.address):
        part.true.add("site_differs")


def _people(visit: Visit, part: Part) -> None:
    """Tell who applied; whether a licence fits is the licence checks' to say, which cite the packs too."""
    if visit.applicator is None:
        return
    part.has.update(("applicator_name", "applicator_licence"))
    if visit.day is None or visit.site is None or is_certified_on(visit.applicator, visit.day, visit.site.state):
        part.has.add("supervisor")
    else:
        part.true.add("someone_else_applied")
        part.has.add("supervisor")  # check_supervision tells a lack, and lets it be signed for


def _treatment(treatment: Treatment, visit: Visit) -> TreatmentPart:
    part = Part(treatment.at)
    has, true = part.has, part.true
    if treatment.zones and all(zone.kind for zone in treatment.zones):
        has.add("site_type")
    if treatment.area is not None:
        has.update(("area", "extent"))
    elif treatment.is_spot and treatment.extent:
        # Rules want the extent of spot work told, not square feet made up (Maine 01-026 ch. 50 says so outright).
        has.update(("area", "extent"))
    has |= _held(
        ("method", treatment.method),
        ("equipment", treatment.equipment),
        ("purpose", treatment.purpose or treatment.targets),
        ("diluent", treatment.diluent),
        ("total_mix", treatment.spray),
    )
    true.add("spot" if treatment.is_spot else "broadcast")
    if any(zone.kind.split()[:1] and zone.kind.split()[0] not in INDOORS for zone in treatment.zones):
        true.add("outdoors")
    if not is_water(treatment.diluent):
        true.add("other_diluent")
    lines = [
        _line(line, treatment, visit)
        for line in treatment.lines
        if line.product.is_pesticide or line.product.analysis is not None
    ]
    # Of a treatment without any pesticide, what went on is its granules all the same.
    spread = [line for line in lines if line.is_pesticide] or lines
    if spread and all("undiluted" in line.true and "amount" in line.has for line in spread):
        has.add("total_mix")  # what went out is the product itself
    return TreatmentPart(part, lines)


@lru_cache(maxsize=1024)
def _of_product(product: Product, state: str) -> tuple[frozenset[str], frozenset[str]]:
    """Return what a product gives every line that names it: fields and conditions."""
    has = {
        name
        for name, value in (
            ("product_name", product.name),
            ("epa_reg_no", product.registration or product.exemption),
            ("active_ingredient", product.actives),
            ("active_percent", product.actives and all(active.content.text for active in product.actives)),
            ("maker", product.maker),
            ("supplier", product.supplier),
            ("formulation", product.form is not Form.UNKNOWN),
            ("analysis", product.analysis),
        )
        if value
    }
    true = {
        name
        for name, value in (
            ("liquid", product.form not in {Form.UNKNOWN, Form.GRANULE}),
            ("restricted_use", product.restricted_use),
            ("has_registration", product.kind is ProductKind.PESTICIDE),
            ("regulated_herbicide", state in product.regulated),
            ("label_reentry", product.label is not None and product.label.reentry is not None),
            ("fertilizer", product.analysis is not None),
        )
        if value
    }
    return frozenset(has), frozenset(true)


def _line(line: Line, treatment: Treatment, visit: Visit) -> Part:
    has, true = _of_product(line.product, "" if visit.site is None else visit.site.state)
    part = Part(line.at, set(has), {}, set(true), line.product.name, line.product.is_pesticide)
    rate, amount = line.rate, line.amount
    if amount is not None:
        part.has.add("amount")
    is_undone = is_undiluted(line.product.form, treatment.dilution)
    part.true.add("undiluted" if is_undone else "diluted")
    if rate is not None or (amount is not None and (treatment.area is not None or treatment.spray is not None)):
        part.has.add("rate")
    if (rate is not None and rate.per is Per.SPRAY) or treatment.dilution or treatment.spray is not None or is_undone:
        part.has.add("dilution")
    if rate.per is Per.AREA if rate is not None else not treatment.is_spot:
        part.true.add("area_rate")
    if line.targets:
        part.has.add("target_pest")
    if line.supplier:
        part.has.add("supplier")
    if "label_reentry" in true and visit.finished is not None:
        part.has.add("reentry")
    return part


def _small_spots(visit: Visit) -> bool:
    """Tell whether all restricted-use work was on spots of together less than 1/10 acre, strictly."""
    restricted = [t for t in visit.treatments if any(line.product.restricted_use for line in t.lines)]
    areas = [t.area for t in restricted]
    if not restricted or not all(t.is_spot for t in restricted):
        return False
    return all(area is not None for area in areas) and sum(area.base for area in areas if area is not None) < TENTH_ACRE
