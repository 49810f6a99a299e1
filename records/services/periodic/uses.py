"""One application line of a sealed record, as periodic reports need it: its keys, its exact amount, who reports it."""

from __future__ import annotations

from datetime import date, datetime, timedelta
from fractions import Fraction
from functools import lru_cache
from typing import TYPE_CHECKING, NamedTuple

from records.domain.people import LicenceKind
from records.rules.visit_parts import is_undiluted
from records.units import UNITS, Kind, factor

if TYPE_CHECKING:
    from collections.abc import Iterator

    from records.services.ports import Json, StoredRevision

NANO = 10**9
_PLACES = 9
_NIGHT = timedelta(hours=12)  # work that ends the next day and took no longer is one visit, on the day it began

Identity = tuple[str | None, str | None, str | None]  # product id, name and number: what the yearly sums keep apart


class Filer(NamedTuple):
    """Who reports a piece of work, as the record froze it."""

    id: str | None
    name: str | None
    licence: str | None
    state: str | None  # of the licence
    trouble: str = ""  # why nobody may be named


class Use(NamedTuple):
    """One product line of one treatment."""

    serial: str
    place: str  # in the body
    day: date | None  # None: a month's total
    period: str
    values: dict[str, str | None]  # by key of a layout
    targets: tuple[str, ...]
    product: Identity
    kind: str
    form: str
    exemption: str
    amount: int | None  # 10^-9 of `unit`
    unit: str | None
    gap: str  # what the source of an import says in place of an amount
    area: int | None  # 10^-9 sq ft
    applications: int  # that the line stands for: a month's total holds several
    spray: str | None
    is_undiluted: bool  # put out as bought, so that spray and product are one
    days: tuple[str, str] | None  # first and last day of work that took several
    filer: Filer

    @property
    def measure(self) -> Kind | None:
        """Return what the amount measures; None where there is none, or in no unit."""
        return UNITS[self.unit].kind if self.unit in UNITS else None

    @property
    def name(self) -> str:
        """Return the product as messages call it."""
        return self.product[1] or self.product[0] or "a product without a name"


@lru_cache(maxsize=4096)
def split_amount(text: str | None) -> tuple[int | None, str | None]:
    """Return an amount such as `4.62 fl oz` as whole billionths and unit, exactly."""
    if text is None:
        return None, None
    number, _, unit = text.partition(" ")
    whole, _, decimals = number.partition(".")
    return int(whole) * NANO + int(decimals.ljust(_PLACES, "0")), unit


def base_amount(nano: int, unit: str) -> Fraction:
    """Return an exact amount in its kind's base unit (fl oz, lb); an ounce of unknown kind in ounces."""
    size = Fraction(1) if UNITS[unit].kind is Kind.OUNCE else factor(unit)
    return Fraction(nano, NANO) * size


def filer_of(body: Json) -> Filer:
    """Return who reports the work of a record.

    Each certified person and each technician reports under the own number; what a trainee does is reported by the
    certified person who supervises (DEC's reporting service: apprentices' work goes under the supervisor's number).
    """
    person, supervisor = body["applicator"], body.get("supervisor")
    if not person:
        return Filer(None, None, None, None, "nobody is named who did the work")
    licence = person.get("licence")
    kind = (licence or {}).get("kind")
    if licence and kind != LicenceKind.TRAINEE:  # an import may not say of which kind it is
        return _filer(person, licence)
    above = (supervisor or {}).get("licence")
    if supervisor and above and above.get("kind") == LicenceKind.CERTIFIED:
        return _filer(supervisor, above)
    name = person.get("name") or person["id"]
    if kind == LicenceKind.TRAINEE:
        return Filer(person["id"], name, None, None, f"{name} is a trainee, and no certified person supervised")
    return Filer(person["id"], name, None, None)


def _filer(person: Json, licence: Json) -> Filer:
    return Filer(person["id"], person.get("name") or None, licence.get("number") or None, licence.get("state") or None)


def _local_day(moment: Json | None) -> datetime | None:
    return datetime.fromisoformat(moment["local"]) if moment else None


def _days(body: Json) -> tuple[str, str] | None:
    """Return first and last day of work that took several days; a night's work is none."""
    start, end = _local_day(body.get("started")), _local_day(body.get("finished"))
    if start is None or end is None or start.date() == end.date() or end - start <= _NIGHT:
        return None
    return start.date().isoformat(), end.date().isoformat()


def _gap(body: Json, place: str) -> str:
    """Return what an import's source says where the amount belongs, such as `3 each`."""
    message = next((one["message"] for one in body["findings"] if one["at"] == f"{place}.amount"), "")
    return str(message.partition(": ")[2])


def uses_of(revision: StoredRevision) -> Iterator[Use]:
    """Yield every application line of a record."""
    body = revision.body
    site, person = body["site"] or {}, body["applicator"] or {}
    day = None if body["date"] is None else date.fromisoformat(body["date"])
    days, filer = _days(body), filer_of(body)
    shared: dict[str, str | None] = {
        "date": body["date"],
        "month": body["period"],
        **{key: site.get(key) or None for key in ("state", "county", "zip", "city", "address")},
        "applicator": person.get("name") or person.get("id"),
        "filer_name": filer.name,
        "filer_licence": filer.licence,
    }
    for index, treatment in enumerate(body["treatments"]):
        for line, application in enumerate(treatment["applications"]):
            product, place = application["product"], f"treatments[{index}].applications[{line}]"
            amount, unit = split_amount(application["amount"])
            count = application.get("count")
            yield Use(
                serial=revision.serial,
                place=place,
                day=day,
                period=body["period"],
                values=shared
                | {
                    "site_kind": treatment["site_kind"] or None,
                    "method": treatment["method"],
                    "product": product["name"] or product["id"],
                    "registration": product["registration"] or None,
                    "kind": product["kind"],
                    "form": product["form"],
                },
                targets=tuple(dict.fromkeys(application["targets"])),
                product=(product["id"], product["name"], product["registration"]),
                kind=product["kind"],
                form=product["form"],
                exemption=product.get("exemption") or "",
                amount=amount,
                unit=unit,
                gap="" if amount is not None and amount else _gap(body, place),
                area=split_amount(application["area"])[0],
                applications=1 if count is None else count,
                spray=treatment.get("spray"),
                is_undiluted=is_undiluted(product["form"], treatment.get("dilution") or ""),
                days=days,
                filer=filer,
            )
