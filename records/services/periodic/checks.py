"""What keeps a line out of a periodic report, in the words of the trade: what is wrong, and what to do about it.

The New York reporting service rejects product with its water, amounts of active ingredient, units such as each or
bags, a rate in place of a unit, ranges of days and wrong numbers of persons; both kinds of unit for one product are a
known fault of such data.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from typing import TYPE_CHECKING

from records.domain.product import ProductKind
from records.domain.quantities import Form
from records.domain.registration import RegistrationError, read_registration
from records.services.periodic.uses import base_amount, split_amount
from records.units import UNITS, Kind

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator

    from records.services.periodic.layout import ReportLayout
    from records.services.periodic.uses import Use

_ZIP = re.compile(r"(\d{5})(?:-?\d{4})?", re.ASCII)
_POST_BOX = re.compile(r"\bp\.?\s*o\.?\s*box\b|\bpost(?:al)?\s+(?:office\s+)?box\b", re.IGNORECASE)


@dataclass(frozen=True, slots=True)
class Trouble:
    """One thing that keeps a line out of a report."""

    code: str
    serial: str
    at: str
    message: str
    do: str


def five_digits(text: str | None) -> str | None:
    """Return the five digits of a ZIP code; None where it has none."""
    found = _ZIP.fullmatch((text or "").strip())
    return None if found is None else found[1]


Said = tuple[str, str, str]  # code, message, what to do


def _of_place(use: Use, layout: ReportLayout) -> Iterator[Said]:
    values = use.values
    if layout.states and values["state"] is None:
        yield "state", "the record does not say in which state the place is", "put the state of the site on the record"
    address = values["address"]
    if address is None:
        yield "address", "there is no street address", "put the address of the site on the record"
    elif _POST_BOX.search(address):
        yield "post-box", f"{address[:60]!r} is a post box, not a treated place", "put the street address on the record"
    zip_code = values["zip"]
    if five_digits(zip_code) is None:
        found = "there is no ZIP code" if zip_code is None else f"{zip_code[:20]!r} is no ZIP code of five digits"
        yield "zip", found, "put the five digits of the site on the record"
    county, known = values["county"], layout.list_of("county")
    if county is None:
        yield "county", "there is no county", "put the county of the site on the record"
    elif known is not None and known.name(county) is None:
        what = f"{county[:40]!r} is not among the {len(known.values)} counties of the agency's list"
        yield "county-unknown", what, "put the county on the record as the agency spells it"
    if values["site_kind"] is None:
        yield "site-kind", "the kind of ground is not on the record", "put the treated zones on the record"


def _of_time(use: Use, _layout: ReportLayout) -> Iterator[Said]:
    if use.day is None:
        what = f"it is the total of {use.period} without a day, and a line of this report is one day"
        yield "day", what, "record the single visits in its place, and void it"
    elif use.days is not None:
        what = f"the work ran from {use.days[0]} to {use.days[1]}, and a line of this report is one day"
        yield "day-range", what, "record each day on its own"


def _of_person(use: Use, _layout: ReportLayout) -> Iterator[Said]:
    filer = use.filer
    if filer.trouble:
        yield "person", filer.trouble, "put the person who answers for it on the record"
    elif filer.licence is None:
        yield (
            "licence",
            f"no licence of {filer.name} is on the record",
            "put the licence valid on that day on the record",
        )
    elif filer.state is not None and use.values["state"] not in {None, filer.state}:
        what = f"the licence {filer.licence} of {filer.name} is of {filer.state}, the place is in {use.values['state']}"
        yield "licence-state", what, "put the licence of the place's own state on the record"


def _of_product(use: Use, _layout: ReportLayout) -> Iterator[Said]:
    number = use.values["registration"]
    if number is None:
        if use.kind != ProductKind.MINIMUM_RISK:
            what = f"{use.name} has no registration number"
            yield "registration", what, "put the number on the record as its label prints it"
        return
    try:
        read_registration(number)
    except RegistrationError as error:
        yield "registration-format", f"{use.name}: {error}", "put the number on the record as its label prints it"


def _of_amount(use: Use, _layout: ReportLayout) -> Iterator[Said]:
    do = "put the amount of undiluted product on the record, with its unit"
    if use.amount is None or use.unit is None:
        told = f": {use.gap}" if use.gap else ""
        # An import keeps no amount for what its layout calls no unit: its words are then the source's own.
        code = "unit" if use.gap and use.gap[0].isdigit() else "amount"
        yield code, f"the amount of {use.name} is not known{told}", do
        return
    if use.unit not in UNITS:
        yield "unit", f"{use.name} is counted in {use.unit[:20]!r}, which is no unit of volume or weight", do
        return
    measure = UNITS[use.unit].kind
    if not use.amount:
        yield "zero", f"the amount of {use.name} is zero", "put the amount on the record, or take the product off"
    elif measure is Kind.OUNCE:
        yield "ounce", f"the ounces of {use.name} may be by volume or by weight", "say fl oz or oz wt on the record"
    elif measure not in {Kind.VOLUME, Kind.WEIGHT}:
        yield "unit", f"{use.name} is counted in {use.unit}, which is no unit of volume or weight", do
    elif use.form != Form.UNKNOWN and measure is not Form(use.form).kind:
        what = f"{use.name} is {use.form}, and its amount is a {measure} ({use.unit})"
        if measure is Kind.VOLUME:
            what += ": that may be the mix and not the product"
        yield "unit-kind", what, do
    elif _is_mix(use):
        what = f"the amount of {use.name} is as much as the spray that was put out, {use.spray}: product with its water"
        yield "mix", what, f"{do}; where it was put out as bought, write undiluted under dilution"


def _is_mix(use: Use) -> bool:
    """Tell whether as much of a liquid is recorded as spray was put out in all."""
    spray, unit = split_amount(use.spray)
    if (
        spray is None
        or use.is_undiluted
        or unit not in UNITS
        or use.measure is not Kind.VOLUME
        or use.amount is None
        or use.unit is None
    ):
        return False
    return UNITS[unit].kind is Kind.VOLUME and base_amount(use.amount, use.unit) >= base_amount(spray, unit) > 0


_CHECKS: tuple[Callable[[Use, ReportLayout], Iterator[Said]], ...] = (
    _of_time,
    _of_person,
    _of_place,
    _of_product,
    _of_amount,
)


def troubles_of(use: Use, layout: ReportLayout) -> list[Trouble]:
    """Return everything that keeps a line out of a report."""
    if not layout.refuse:
        return []
    return [
        Trouble(code, use.serial, use.place, message, do)
        for check in _CHECKS
        for code, message, do in check(use, layout)
        if code in layout.refuse
    ]
