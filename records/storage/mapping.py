"""Derives all rows of a revision from its body. Pure: the same body always gives the same rows.

`append` stores what this says and `integrity.verify` says it again and compares; nothing else writes derived values.
Rows are tuples in the order of the tables' columns, ready for the driver.
"""

from __future__ import annotations

import json
import re
from dataclasses import dataclass, field
from functools import lru_cache
from typing import TYPE_CHECKING, Any

from records.errors import InputError
from records.storage.types import NANO

if TYPE_CHECKING:
    from records.services.ports import Json, StoredRevision

Row = tuple[Any, ...]
_DECIMAL = re.compile(r"[0-9]+(?:\.[0-9]{1,9})?")
_LARGEST = 2**63 - 1
_NOBODY: dict[str, Any] = {}


@dataclass(slots=True)
class Derived:
    """The rows of one revision, each a tuple in its table's column order."""

    revision: Row
    applications: list[Row] = field(default_factory=list)  # without their last column, the number of their group
    groups: list[tuple[str, str]] = field(default_factory=list)  # period and facts of each application's group
    targets: list[Row] = field(default_factory=list)
    actives: list[Row] = field(default_factory=list)
    zones: list[Row] = field(default_factory=list)


@lru_cache(maxsize=4096)
def nano(number: str) -> int:
    """Return a plain decimal text of at most nine places as whole billionths, exactly.

    Raises:
        InputError: no such decimal, or too large to be kept.
    """
    if not _DECIMAL.fullmatch(number):
        raise InputError(f"{number[:40]!r} is not a decimal of at most nine places", "Write a plain number")
    whole, _, decimals = number.partition(".")
    value = int(whole) * NANO + int(decimals.ljust(9, "0"))
    if value > _LARGEST:
        raise InputError(f"{number[:40]} is too large to be kept", "Check the amount and its unit")
    return value


@lru_cache(maxsize=4096)
def measured(text: str | None) -> tuple[int | None, str | None]:
    """Split an amount such as `4.62 fl oz` into billionths and unit.

    Raises:
        InputError: the number is not a plain decimal.
    """
    if text is None:
        return None, None
    number, _, unit = text.partition(" ")
    return nano(number), unit


def number_of(serial: str) -> tuple[int, int]:
    """Return year and number of a serial such as `2026-000001`; events (`E-000001`) stand in the year 0."""
    year, _, number = serial.partition("-")
    return 0 if year == "E" else int(year), int(number)


def action_of(revision: int, body: Json) -> str:
    """Return what a revision did; later ones say so under `change`, where the seal covers it.

    Raises:
        InputError: a later revision does not say.
    """
    if revision == 1:
        return "sealed"
    action = _part(body, "change").get("action")
    if action not in {"amended", "voided"}:
        raise InputError(
            "a later revision does not say what it changed", 'Its body needs change.action, "amended" or "voided"'
        )
    return str(action)


def _part(body: Json, name: str) -> Json:
    return body.get(name) or _NOBODY


def _late_days(body: Json) -> int:
    """Return the days after the work of a record that its rules call late; 0 while their clock had not run out.

    Records sealed before rules were asked for their clock count every day.
    """
    days = int(body["late_days"])
    if "late" not in body:
        return days
    return 0 if body["late"] is None else max(days, 1)


def _is_incomplete(body: Json) -> int:
    return int(any(finding.get("code") == "missing" for finding in body["findings"]))


def revision_row(revision: StoredRevision, order: int, text: str) -> Row:
    """Return the row of `revision`.

    Args:
        revision: what was sealed.
        order: its place in the order of sealing.
        text: its body as canonical JSON.
    """
    body = revision.body
    year, number = number_of(revision.serial)
    site, customer, person = _part(body, "site"), _part(body, "customer"), _part(body, "applicator")
    return (
        order,
        revision.serial,
        revision.revision,
        year,
        number,
        body["kind"],
        action_of(revision.revision, body),
        body["ref"],
        body["document_digest"],
        revision.sealed_at,
        revision.previous,
        revision.seal,
        body["date"],
        body["period"],
        _part(body, "started").get("utc"),
        _part(body, "finished").get("utc"),
        body["timezone"],
        body["entered_at"],
        site.get("id"),
        customer.get("id"),
        customer.get("name"),
        site.get("address"),
        site.get("city"),
        site.get("county"),
        site.get("zip"),
        site.get("state"),
        person.get("id"),
        person.get("name"),
        body["origin"]["kind"],
        int(body["deviation"] is not None),
        _is_incomplete(body),
        _late_days(body),
        text,
    )


_encode = json.JSONEncoder(ensure_ascii=False, separators=(",", ":"), check_circular=False).encode


@lru_cache(maxsize=4096)
def _facts_text(values: Row) -> str:
    return _encode(values)


def facts(body: Json, treatment: Json, application: Json, unit: str | None) -> str:
    """Return what an application shares with all that a yearly summary counts together, as a JSON list.

    In the order of `ports.UseRow`, up to its counts, followed by the list of targets.
    """
    site, person, product = _part(body, "site"), _part(body, "applicator"), application["product"]
    return _facts_text(
        (
            product["id"],
            product["version"],
            product["name"],
            product["registration"],
            product["kind"],
            product["form"],
            bool(product["restricted_use"]),
            treatment["site_kind"],
            site.get("county"),
            site.get("zip"),
            person.get("id"),
            person.get("name"),
            body["period"],
            unit,
            body["deviation"] is not None,
            tuple(dict.fromkeys(application["targets"])),
        )
    )


def _application_row(treatment: Json, application: Json, keys: Row) -> Row:
    product = application["product"]
    amount, unit = measured(application["amount"])
    area, _ = measured(application["area"])
    return (
        *keys,
        product["id"],
        product["version"],
        product["name"],
        product["registration"],
        product.get("federal"),
        product["kind"],
        product["type"],
        product["form"],
        int(bool(product["restricted_use"])),
        treatment["method"],
        treatment["site_kind"],
        application["rate"],
        application["amount"],
        unit,
        amount,
        measured(application.get("least"))[0],
        area,
        treatment["area_source"],
        1 if application.get("count") is None else application["count"],
        application.get("mix") or None,
        application.get("lot") or None,
        (application.get("label") or _NOBODY).get("revision") or None,
    )


def derive(revision: StoredRevision, order: int, text: str, first: int) -> Derived:
    """Return every row that follows from a revision's body.

    Args:
        revision: what was sealed.
        order: its place in the order of sealing.
        text: its body as canonical JSON.
        first: number of its first application.

    Raises:
        InputError: an amount in the body is not a decimal that can be kept.
    """
    body = revision.body
    site_id, day = _part(body, "site").get("id"), body["date"]
    derived = Derived(revision_row(revision, order, text))
    number = first
    for index, treatment in enumerate(body["treatments"]):
        zones = [(zone["id"], site_id, measured(zone["treated"])[0], day) for zone in treatment["zones"]]
        for line, application in enumerate(treatment["applications"]):
            row = _application_row(treatment, application, (number, order, index, line))
            derived.applications.append(row)
            derived.groups.append(
                (body["period"], facts(body, treatment, application, measured(application["amount"])[1]))
            )
            derived.targets.extend([(number, target) for target in dict.fromkeys(application["targets"])])
            derived.actives.extend(
                [
                    (number, place, active["name"], active["as"], nano(active["pounds"]) if active["pounds"] else None)
                    for place, active in enumerate(application["actives"])
                ]
            )
            derived.zones.extend([(number, place, *zone) for place, zone in enumerate(zones)])
            number += 1
    return derived
