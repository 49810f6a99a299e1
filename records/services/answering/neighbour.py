"""What of a record a neighbour may hear: a list of what is let through, so that nothing private can slip by.

Let through are the day and time, the street, the firm, each product with number, actives, signal word and its label's
words, and the weather as figures. Everything else - customer, people, names of zones, weeds, amounts, remarks, reasons,
findings, cost, other visits - is not in what the page is made of.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from records.services.answering.facts import is_unusual
from records.services.weather_words import is_of_station

if TYPE_CHECKING:
    from collections.abc import Iterable

    Body = dict[str, Any]

_BODY = ("kind", "date", "period", "started", "finished", "timezone", "sign_removal")
_FIRM = ("name", "address", "phone", "licence", "state")
_PRODUCT = ("name", "registration", "exemption", "kind", "type", "signal_word", "restricted_use")
_LABEL = ("keep_off", "precautions", "first_aid", "reentry", "spanish")
_WEATHER = ("wind_speed", "wind_from", "wind_gust", "temperature", "measured_at")


def for_neighbour(body: Body) -> Body:
    """Return the part of a record that a neighbour may hear of, in the shape of a record."""
    weather = body.get("weather") or {}
    kept: Body = {
        **_of(body, _BODY),
        "business": _of(body.get("business") or {}, _FIRM),
        "site": {"address": (body.get("site") or {}).get("address")},
        "customer": None,
        "applicator": None,
        "supervisor": None,
        "deviation": None,
        "findings": [],
        "incident": "yes" if is_unusual(body) else "",  # that there was one, not what
        # Why something was not measured is in somebody's own words
        "weather": {**_of(weather, _WEATHER), "source": "station" if is_of_station(weather) else ""},
        "treatments": [_treatment(treatment) for treatment in body.get("treatments") or []],
    }
    return kept


def _of(part: Body, names: Iterable[str]) -> Body:
    return {name: part[name] for name in names if name in part}


def _treatment(treatment: Body) -> Body:
    return {
        # A zone is told by what grows there: its own name may say anything
        "zones": [
            {"id": kind, "kind": kind}
            for kind in dict.fromkeys(str(zone.get("kind") or "") for zone in treatment.get("zones") or [])
        ],
        "applications": [_line(line) for line in treatment.get("applications") or []],
    }


def _line(line: Body) -> Body:
    product = line.get("product") or {}
    actives = [_of(active, ("name", "content", "as")) for active in product.get("actives") or []]
    return {
        "product": {**_of(product, _PRODUCT), "actives": actives},
        "label": _of(line.get("label") or {}, _LABEL),
    }
