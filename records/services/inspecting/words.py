"""Parts of a sealed record in words: times, licences, places, amounts, actives."""

from __future__ import annotations

from datetime import datetime
from functools import lru_cache
from typing import Any
from zoneinfo import ZoneInfo, ZoneInfoNotFoundError

from records.domain.report_model import one_line
from records.domain.spans import late_by

Json = dict[str, Any]
LONG = 2_000  # characters of free text told
_clean = lru_cache(maxsize=8192)(one_line)


def line_of(value: object) -> str:
    """Return a value as one safe line; "" for nothing."""
    if value is None:
        return ""
    return _clean(value if isinstance(value, str) else str(value))


def moment(stamp: Json | None) -> str:
    """Return a local time with its distance from UTC: `2026-05-14 09:10 (UTC-05:00)`."""
    local = line_of((stamp or {}).get("local"))
    if not local:
        return ""
    local = local.replace("T", " ")
    return f"{local[:-6]} (UTC{local[-6:]})" if local[-6:-5] in {"+", "-"} else local


def instant(text: object) -> str:
    """Return an instant of the book to the minute: `2026-05-14 14:33 UTC`."""
    line = line_of(text)
    return f"{line[:16].replace('T', ' ')} UTC" if line else ""


def due_words(late: Json, body: Json) -> str:
    """Return when a record was due, by the clock of the place: `2026-05-14 23:59 (UTC-05:00)`."""
    try:
        due = datetime.fromisoformat(str(late["due"])).astimezone(ZoneInfo(str(body["timezone"])))
    except (KeyError, ValueError, ZoneInfoNotFoundError):
        return instant(late.get("due"))
    return moment({"local": due.isoformat(timespec="minutes")})


def day_or_month(body: Json) -> str:
    """Return the day of a record, or the month it sums up."""
    if body.get("date"):
        return line_of(body["date"])
    return f"{line_of(body.get('period'))} (a month's total, no day)"


def licence_words(licence: Json | None) -> str:
    """Return a licence with kind, state, categories and validity."""
    if not licence:
        return ""
    kind = ", ".join(filter(None, (line_of(licence.get("kind")), line_of(licence.get("state")))))
    categories = "/".join(line_of(name) for name in licence.get("categories") or [])
    valid = f"{licence.get('from') or '?'} to {licence.get('to') or '?'}" if licence.get("to") else "dates not recorded"
    return f"{line_of(licence.get('number')) or 'no number'} ({'; '.join(filter(None, (kind, categories, valid)))})"


def person_words(person: Json | None) -> str:
    """Return a name with the licence frozen in the record."""
    if not person:
        return ""
    name = line_of(person.get("name")) or line_of(person.get("id"))
    return ", ".join(filter(None, (name, licence_words(person.get("licence")) or "no licence recorded")))


def place_words(site: Json | None) -> str:
    """Return a treated address in one line."""
    site = site or {}
    end = " ".join(filter(None, (line_of(site.get("state")), line_of(site.get("zip")))))
    return ", ".join(filter(None, (line_of(site.get("address")), line_of(site.get("city")), end)))


def amount_words(amount: object) -> str:
    """Return an amount; an ounce of unknown kind is never left to look like a known one."""
    line = line_of(amount)
    return f"{line} (fluid or by weight: not recorded)" if line.partition(" ")[2] == "oz" else line


def registration_words(product: Json) -> str:
    """Return the registration number of a product, or why it has none."""
    number = line_of(product.get("registration"))
    if number:
        return number
    if product.get("exemption"):
        return f"exempt: {line_of(product['exemption'])}"
    return "" if product.get("kind") in {"pesticide", "minimum-risk"} else f"none ({line_of(product.get('kind'))})"


def actives_words(product: Json, *, content: bool) -> str:
    """Return the actives of a product, with how much of each it holds where that is wanted."""
    told = []
    for active in product.get("actives") or []:
        name, held = line_of(active.get("name")), line_of(active.get("content"))
        told.append(f"{name} {held} {line_of(active.get('as'))}".strip() if content and held else name)
    return "; ".join(told)


def late_words(body: Json) -> str:
    """Return by how much a record was completed late; "" when it was not, or nothing says so."""
    late = body.get("late")
    if late and late.get("due"):
        by = ", ".join(line_of(key) for key in late.get("by") or [])
        return past_words(body) + (f" ({by})" if by else "")
    days = body.get("late_days") or 0
    told = f"{days} {'day' if days == 1 else 'days'} after the work" if days else ""
    return f"{told}; no rule's time had run out" if told and "late" in body else told


def past_words(body: Json) -> str:
    """Return by how much a late record missed its rules' time, and when it was due, in the words of `ready`.

    Records sealed before rules were asked for their clock know the days after the work only.
    """
    late, days = body.get("late") or {}, body.get("late_days") or 0
    try:
        entered, due = (datetime.fromisoformat(str(text)) for text in (body["entered_at"], late["due"]))
        return late_by(entered, due, due_words(late, body))
    except (KeyError, ValueError, TypeError):
        told = f"completed late {days} {'day' if days == 1 else 'days'} after the work"
        return f"{told}; it was due {due_words(late, body)}" if late.get("due") else told
