"""Seals what is no visit: a delivery, a production, a contact, a report, a removal, a sign taken down.

Events stand in the same chain as the records and are numbered on their own (`E-000001`); nothing that counts, finds or
sums up records sees them.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from records.clock import instant_text
from records.services.ports import StoredRevision
from records.services.sealing import digest, sealed

if TYPE_CHECKING:
    from datetime import date, datetime

    from records.services.ports import Json, UnitOfWork

SCHEMA = 1
LOGGED = ("calibration", "purchase", "disposal", "rinse", "count")  # the shop log: what may be withdrawn (`logbook.py`)
FOLLOWED = (
    "rating",
    "trial",
    "stop",
)  # looks at what treatments did, trials, stops to make; withdrawn like the shop log
EVENTS = ("production", "delivery", "contact", "report", "removal", "sign", *LOGGED, *FOLLOWED, "withdrawal")
_NO_WEATHER = dict.fromkeys(("wind_speed", "wind_from", "temperature", "humidity", "measured_at", "source"))


def append_event(
    work: UnitOfWork,
    event: str,
    data: Json,
    now: datetime,
    *,
    day: date,
    timezone: str,
    business: Json | None = None,
    site: Json | None = None,
    person: Json | None = None,
) -> StoredRevision:
    """Number, chain, seal and store an event; the caller commits.

    Args:
        work: a writing unit of work.
        event: what it is, one of `EVENTS`.
        data: what it is about, plain JSON; a `delivery` and a `sign` name their record under `serial` (a delivery that
            is not the customer's notice of it, under `record`).
        now: the moment of entry.
        day: on which it happened, local.
        timezone: of that day.
        business: the firm as frozen in records.
        site: as frozen in records.
        person: who did it, with `id`, `name`, `licence` and `version`, as frozen in records.

    Returns:
        The event as stored, apart from its order.

    Raises:
        ValueError: there is no such event.
        InputError: the data hold something that cannot be sealed.
    """
    if event not in EVENTS:
        msg = f"no event is called {event!r}"
        raise ValueError(msg)
    body = _body(event, data, now, day, timezone)
    body |= {"business": business, "site": site, "applicator": person}
    serial = f"E-{work.records.next_event():06d}"
    previous, sealed_at = work.records.head(), instant_text(now)
    mark, text = sealed(previous, serial, 1, sealed_at, body)
    revision = StoredRevision(0, serial, 1, "sealed", sealed_at, previous, mark, body, text)
    work.records.append(revision)
    return revision


def _body(event: str, data: Json, now: datetime, day: date, timezone: str) -> Json:
    """Return the body without firm, site and person: with all keys of a record's, so that one reader fits both."""
    return {
        "schema": SCHEMA,
        "kind": "event",
        "ref": None,
        "document_digest": digest(data),
        "origin": {"kind": event},
        "customer": None,
        "timezone": timezone,
        "date": day.isoformat(),
        "period": day.isoformat()[:7],
        "started": None,
        "finished": None,
        "entered_at": instant_text(now),
        "late_days": 0,
        "supervisor": None,
        "weather": {**_NO_WEATHER, "not_measured": {}},
        "treatments": [],
        "sign_removal": None,
        "follow_up": None,
        "confirmed": [],
        "remarks": "",
        "findings": [],
        "deviation": None,
        "packs": [],
        "document": {},
        "data": data,
    }
