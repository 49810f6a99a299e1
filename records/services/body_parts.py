"""Tells a sealed record in the words of rule packs: years later it is judged by the same code as a visit."""

from __future__ import annotations

from decimal import Decimal
from typing import TYPE_CHECKING, Any

from records.rules.asking import Part, RecordParts, TreatmentPart
from records.rules.visit_parts import INDOORS, TENTH_ACRE, is_undiluted, is_water, join, same_place
from records.services.notice_words import local_time

if TYPE_CHECKING:
    from collections.abc import Iterable

    Body = dict[str, Any]

_WEATHER = (("wind_speed", "wind_speed"), ("wind_direction", "wind_from"), ("temperature", "temperature"))
PESTICIDES = frozenset({"pesticide", "minimum-risk"})


def parts_of_body(body: Body) -> RecordParts:
    """Return what a sealed record holds.

    Args:
        body: as sealed; keys that older records lack count as not recorded.
    """
    treatments = [
        _treatment(treatment, body, f"treatments[{number}]") for number, treatment in enumerate(body["treatments"])
    ]
    return join(_visit(body), treatments, has_only_small_spots=_small_spots(body))


def _held(pairs: Iterable[tuple[str, object]]) -> set[str]:
    return {name for name, value in pairs if value}


def _visit(body: Body) -> Part:
    business, customer, site = (body.get(name) or {} for name in ("business", "customer", "site"))
    applicator, weather = body.get("applicator") or {}, body.get("weather") or {}
    has = _held(
        (
            ("date", body.get("date")),
            ("time", body.get("started") or body.get("finished")),
            ("start_time", body.get("started")),
            ("end_time", body.get("finished")),
            ("customer_name", customer.get("name")),
            ("customer_address", customer.get("address")),
            ("customer_phone", customer.get("phone")),
            ("authorized_by", body.get("authorized_by") or customer.get("name")),
            ("site_address", site.get("address")),
            ("city", site.get("city")),
            ("county", site.get("county")),
            ("zip", site.get("zip")),
            ("applicator_name", applicator.get("name")),
            ("applicator_licence", (applicator.get("licence") or {}).get("number")),
            ("supervisor", body.get("supervisor")),
            ("business_name", business.get("name")),
            ("business_address", business.get("address")),
            ("business_licence", business.get("licence")),
            ("insurance", business.get("insurer") and business.get("insured")),
            ("incident", body.get("incident")),
            ("permit", body.get("permit")),
            ("mixing_place", body.get("mixing_place")),
            *((name, weather.get(key)) for name, key in _WEATHER),
        )
    )
    stated = weather.get("not_measured") or {}
    part = Part("", has, {name: stated[key] for name, key in _WEATHER if stated.get(key)}, {"not_own_property"})
    if (applicator.get("licence") or {}).get("kind") == "certified":
        has.add("supervisor")
    elif applicator:
        part.true.add("someone_else_applied")
    if customer and site and not same_place(site.get("address") or "", customer.get("address") or ""):
        part.true.add("site_differs")
    return part


def _treatment(treatment: Body, body: Body, at: str) -> TreatmentPart:
    zones, method, area = treatment["zones"], treatment.get("method") or "", treatment.get("area")
    is_spot = method.startswith("spot")
    has = _held(
        (
            ("site_type", treatment.get("site_kind")),
            ("area", area or (is_spot and treatment.get("extent"))),
            ("extent", area or treatment.get("extent")),
            ("method", method),
            ("equipment", treatment.get("equipment")),
            ("purpose", treatment.get("purpose") or treatment.get("targets")),
            ("diluent", treatment.get("diluent")),
            ("total_mix", treatment.get("spray")),
        )
    )
    part = Part(at, has, {}, {"spot" if is_spot else "broadcast"})
    kinds = [zone["kind"] for zone in zones] or [treatment.get("site_kind") or ""]
    if any(kind.split()[:1] and kind.split()[0] not in INDOORS for kind in kinds):
        part.true.add("outdoors")
    if not is_water(treatment.get("diluent") or ""):
        part.true.add("other_diluent")
    lines = [
        _line(line, treatment, body, f"{at}.products[{number}]", is_spot=is_spot)
        for number, line in enumerate(treatment["applications"])
        if line["product"]["kind"] in PESTICIDES or line["product"].get("analysis")
    ]
    # Of a treatment without any pesticide, what went on is its granules all the same.
    spread = [line for line in lines if line.is_pesticide] or lines
    if spread and all("undiluted" in line.true and "amount" in line.has for line in spread):
        has.add("total_mix")
    return TreatmentPart(part, lines)


def _line(line: Body, treatment: Body, body: Body, at: str, *, is_spot: bool) -> Part:
    product, label, rate = line["product"], line.get("label") or {}, line.get("rate")
    actives = product.get("actives") or []
    undiluted = is_undiluted(product["form"], treatment.get("dilution") or "")
    per_area = rate is not None and "/gal" not in rate and "%" not in rate
    spray = treatment.get("spray")
    has = _held(
        (
            ("product_name", product.get("name")),
            ("epa_reg_no", product.get("registration") or product.get("exemption")),
            ("active_ingredient", actives),
            ("active_percent", actives and all(active.get("content") for active in actives)),
            ("formulation", product["form"] != "unknown"),
            ("analysis", product.get("analysis")),
            ("maker", product.get("maker")),
            ("supplier", line.get("supplier")),
            ("amount", line.get("amount")),
            ("rate", rate or (line.get("amount") and (line.get("area") or spray))),
            ("dilution", (rate and not per_area) or treatment.get("dilution") or spray or undiluted),
            ("target_pest", line.get("targets")),
            ("reentry", label.get("reentry") and local_time(body.get("finished"))),
        )
    )
    site = body.get("site") or {}
    true = _held(
        (
            ("restricted_use", product.get("restricted_use")),
            ("has_registration", product["kind"] == "pesticide"),
            ("liquid", product["form"] not in {"granule", "unknown"}),
            ("regulated_herbicide", site.get("state") in (product.get("regulated") or [])),
            ("label_reentry", label.get("reentry")),
            ("fertilizer", product.get("analysis")),
            ("undiluted", undiluted),
            ("diluted", not undiluted),
            ("area_rate", per_area if rate is not None else not is_spot),
        )
    )
    name = product.get("name") or product.get("id") or ""
    return Part(at, has, {}, true, name, product["kind"] in PESTICIDES)


def _small_spots(body: Body) -> bool:
    """Tell whether all restricted-use work was on spots of together less than 1/10 acre, strictly."""
    restricted = [
        treatment
        for treatment in body["treatments"]
        if any(line["product"].get("restricted_use") for line in treatment["applications"])
    ]
    if not restricted or not all((treatment.get("method") or "").startswith("spot") for treatment in restricted):
        return False
    areas = [treatment.get("area") for treatment in restricted]
    if not all(areas):
        return False
    return sum(Decimal(str(area).partition(" ")[0]) for area in areas) < TENTH_ACRE
