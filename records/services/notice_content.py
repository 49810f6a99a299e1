"""What rule packs want on a customer's notice, and which of it a sealed record cannot supply; pure."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime, timedelta
from typing import TYPE_CHECKING, Any
from zoneinfo import ZoneInfo

from records.domain.report_model import one_line
from records.domain.spans import Span, read_span
from records.rules.fields import NOTICE_CONTENT
from records.services.body_parts import PESTICIDES
from records.services.notice_words import local_time

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator, Sequence

    from records.rules.pack import CustomerCopy, Pack, Sign, Source

    Body = dict[str, Any]

MOMENTS = {
    "before": "before the work",
    "visit": "when the work is done",
    "days": "within {within}",
    "request": "on request",
}
BY_HAND = "the notice says 'not recorded' there: write it in by hand before you hand it over"


@dataclass(frozen=True, slots=True)
class Wanted:
    """One pack that wants a piece on the notice."""

    pack: str
    when: str  # in plain words
    source: Source

    @property
    def told(self) -> str:
        """Return pack, moment, citation and status in one line."""
        return f"{self.pack}: {self.source.cited}, {self.when}"


@dataclass(frozen=True, slots=True)
class Lacking:
    """A piece that packs want on the notice and the record does not hold."""

    piece: str  # key of `NOTICE_CONTENT`
    products: tuple[str, ...]  # for which products, where it is about products
    wanted: tuple[Wanted, ...]

    @property
    def binds(self) -> bool:
        """Tell whether any of the rules that want it was read."""
        return any(one.source.status.binds for one in self.wanted)

    @property
    def words(self) -> str:
        """Return the piece in plain words."""
        named = f" of {', '.join(self.products)}" if self.products else ""
        return f"{NOTICE_CONTENT[self.piece]}{named}"

    def document(self) -> Body:
        """Return it as plain JSON."""
        return {
            "piece": self.piece,
            "words": self.words,
            "binds": self.binds,
            "wanted": [
                {
                    "pack": one.pack,
                    "when": one.when,
                    "citation": one.source.citation,
                    "url": one.source.url,
                    "status": one.source.status.value,
                }
                for one in self.wanted
            ],
        }


@dataclass(frozen=True, slots=True)
class Owed:
    """What a notice has to carry beyond what every notice does."""

    signature: bool = False
    removal: bool = False  # when the lawn sign may come down has to be said
    sign: datetime | date | None = None  # and that is when, as far as it is known


@dataclass(frozen=True, slots=True)
class OutTime:
    """When a lawn sign may come down: a moment, or a day of which the rule names no hour."""

    moment: datetime | None
    day: date | None = None
    sunset: bool = False  # not before the sun sets on that day


def wanted_content(packs: Sequence[Pack]) -> dict[str, tuple[Wanted, ...]]:
    """Return every piece that packs want on what the customer gets, with who wants it."""
    found: dict[str, list[Wanted]] = {}
    for pack in packs:
        for copy in pack.copies:
            for piece in copy.content:
                found.setdefault(piece, []).append(Wanted(pack.id, told_when(copy), copy.source))
    return {piece: tuple(wanted) for piece, wanted in found.items()}


def told_when(copy: CustomerCopy) -> str:
    """Return in plain words when a copy is owed."""
    return MOMENTS[copy.moment].replace("{within}", str(copy.within))


def lacking(body: Body, packs: Sequence[Pack]) -> tuple[Lacking, ...]:
    """Return the pieces that packs want on the notice and that the record cannot supply, in the packs' own order.

    A record without any pesticide owes nobody a notice.

    Args:
        body: of the sealed record.
        packs: that judge it.
    """
    if not has_pesticide(body):
        return ()
    found = []
    for piece, wanted in wanted_content(packs).items():
        absent: tuple[str, ...] | None
        if piece == "sign_removal":
            absent = None if sign_time(body, packs) is not None else ()
        elif piece in _OF_VISIT:
            absent = None if _OF_VISIT[piece](body) else ()
        elif piece in _OF_LINE:
            absent = _without(body, _OF_LINE[piece])
        else:  # the notice prints it whatever the record holds
            continue
        if absent is not None:
            found.append(Lacking(piece, absent, wanted))
    return tuple(found)


def owed_on(body: Body, packs: Sequence[Pack]) -> Owed:
    """Return what the notice of a record has to carry beyond the usual."""
    wanted = wanted_content(packs) if has_pesticide(body) else {}
    removal = "sign_removal" in wanted
    return Owed("signature" in wanted, removal, sign_time(body, packs) if removal else None)


def has_pesticide(body: Body) -> bool:
    """Tell whether any product of a record is one in the eyes of the law."""
    return next(_lines(body), None) is not None


def _lines(body: Body) -> Iterator[tuple[Body, Body]]:
    for treatment in body.get("treatments") or []:
        for line in treatment.get("applications") or []:
            if (line.get("product") or {}).get("kind") in PESTICIDES:
                yield treatment, line


def _without(body: Body, holds: Callable[[Body, Body], object]) -> tuple[str, ...] | None:
    """Return the products whose lines lack something; None where none does."""
    names = [
        one_line(line["product"].get("name")) or one_line(line["product"].get("id"))
        for treatment, line in _lines(body)
        if not holds(treatment, line)
    ]
    return tuple(dict.fromkeys(names)) if names else None


def _of(part: str, key: str) -> Callable[[Body], object]:
    return lambda body: one_line((body.get(part) or {}).get(key))


def _licence(body: Body) -> object:
    """Return the licence number of who applied, or of who answered for it: rules take either where one has none."""
    people = (body.get("applicator"), body.get("supervisor"))
    return next(filter(None, (one_line(((one or {}).get("licence") or {}).get("number")) for one in people)), "")


def _measured(body: Body, *keys: str) -> bool:
    """Tell whether readings are there, each or a stated reason why not: the notice prints that in its place."""
    weather = body.get("weather") or {}
    stated = weather.get("not_measured") or {}
    return all(weather.get(key) or stated.get(key) for key in keys)


_OF_VISIT: dict[str, Callable[[Body], object]] = {
    "firm_name": _of("business", "name"),
    "firm_address": _of("business", "address"),
    "firm_phone": _of("business", "phone"),
    "firm_licence": _of("business", "licence"),
    "applicator_name": _of("applicator", "name"),
    "applicator_licence": _licence,
    "customer_name": _of("customer", "name"),
    "service_address": _of("site", "address"),
    "date": lambda body: body.get("date"),
    "start_time": lambda body: local_time(body.get("started")),
    "end_time": lambda body: local_time(body.get("finished")),
    "wind": lambda body: _measured(body, "wind_speed", "wind_from"),
    "temperature": lambda body: _measured(body, "temperature"),
    "label_offer": _of("business", "phone"),  # whom to ask
}
_OF_LINE: dict[str, Callable[[Body, Body], object]] = {
    "area": lambda treatment, line: line.get("area") or treatment.get("area") or treatment.get("extent"),
    "where": lambda treatment, _: treatment.get("zones"),
    "target": lambda treatment, line: line.get("targets") or treatment.get("targets") or treatment.get("purpose"),
    "product_name": lambda _, line: line["product"].get("name"),
    "registration": lambda _, line: line["product"].get("registration") or line["product"].get("exemption"),
    "active": lambda _, line: line["product"].get("actives"),
    "product_type": lambda _, line: line["product"].get("type"),
    "amount": lambda treatment, line: (
        line.get("amount") or (line.get("rate") and (treatment.get("area") or treatment.get("extent")))
    ),
    "rate": lambda _, line: line.get("rate"),
    "precautions": lambda _, line: (line.get("label") or {}).get("precautions"),
    "reentry": lambda _, line: (line.get("label") or {}).get("keep_off") or (line.get("label") or {}).get("reentry"),
}


def ended(body: Body) -> datetime | None:
    """Return the end of a visit in its own zone, its start where no end is recorded."""
    moment = local_time(body.get("finished")) or local_time(body.get("started"))
    return None if moment is None or moment.tzinfo is None else moment.astimezone(zone_of(body))


def zone_of(body: Body) -> ZoneInfo:
    """Return the zone of a record; UTC where it names none that is known here."""
    try:
        return ZoneInfo(str(body.get("timezone") or "UTC"))
    except (ValueError, OSError, LookupError):
        return ZoneInfo("UTC")


def reentry_end(body: Body) -> datetime | None:
    """Return when the longest re-entry interval that a label of the record sets is over; None where none does."""
    end = ended(body)
    texts = {(line.get("label") or {}).get("reentry") for _, line in _lines(body)}
    spans = [span for span in map(read_span, filter(None, texts)) if span is not None]
    if end is None or not spans:
        return None
    return max((span.end_after(end) for span in spans), key=datetime.timestamp)


def out_time(sign: Sign, end: datetime, reentry: datetime | None) -> OutTime | None:
    """Return when a sign may come down by one rule; None where its text gives neither hours nor a day.

    Args:
        sign: what the rule says.
        end: of the work, aware, in the zone of the site.
        reentry: when the longest re-entry interval of the labels used is over; counts where the rule says so.
    """
    until = reentry if "re-entry" in sign.stays else None
    if sign.hours is not None:
        moment = Span(sign.hours, "hours").end_after(end)
        return OutTime(moment if until is None else max(moment, until, key=datetime.timestamp))
    if not any(words in sign.stays for words in ("next day", "day after")):
        return None
    day = end.date() + timedelta(days=1)
    return OutTime(until) if until is not None and until.date() > day else OutTime(None, day, "sunset" in sign.stays)


def sign_time(body: Body, packs: Sequence[Pack]) -> datetime | date | None:
    """Return when the sign may come down: as recorded, else by the sign rule of the site's own state."""
    recorded, end = local_time(body.get("sign_removal")), ended(body)
    if recorded is not None or end is None:
        return recorded
    state, reentry = (body.get("site") or {}).get("state"), reentry_end(body)
    rules = [sign for pack in packs if pack.state and pack.state == state for sign in pack.signs]
    times = [out_time(sign, end, reentry) for sign in rules if sign.source.status.binds]
    found = [one.moment or one.day for one in times if one is not None]
    return max((one for one in found if one is not None), key=_day_of, default=None)


def _day_of(when: datetime | date) -> tuple[date, bool]:
    return (when.date(), False) if isinstance(when, datetime) else (when, True)
