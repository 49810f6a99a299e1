"""Goes through the records of a packet once and keeps of each only what the tables need: numbers and short texts."""

from __future__ import annotations

from collections import Counter, defaultdict
from dataclasses import dataclass, field
from functools import lru_cache
from sys import intern
from typing import TYPE_CHECKING, NamedTuple

from records.domain.report_model import one_line
from records.rules.asking import asked_fields, lacks
from records.rules.fields import FIELDS
from records.services.body_parts import PESTICIDES, parts_of_body
from records.services.inspecting.nutrients import fed
from records.services.inspecting.words import past_words, place_words, registration_words
from records.services.summarising import NANO

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from records.domain.people import Business
    from records.rules.asking import Lack
    from records.rules.pack import Pack
    from records.services.inspecting.given import Given
    from records.services.inspecting.nutrients import Fed
    from records.services.ports import Json, Match, StoredRevision
    from records.services.rulebook import Rulebook

LONG = 600  # characters of a reason or a finding in a table
TELLING = frozenset({"late"})  # notes that matter to an inspector; what stops or asks always does


class Kept(NamedTuple):
    """One record as the completeness table needs it; fields are bits, by their number in `Gathered.fields`."""

    serial: str
    day: str
    state: str
    asked: int
    lacking: int
    reasoned: int


class Use(NamedTuple):
    """Active put on one zone by one application."""

    day: str
    serial: str
    pounds: int | None  # 10^-9 lb of the whole application
    treated: int | None  # 10^-9 sq ft of it in this zone
    area: int | None  # 10^-9 sq ft of the whole application


class LicenceKey(NamedTuple):
    """A person as frozen in records, with the licence."""

    person: str
    role: str
    number: str
    kind: str
    state: str
    categories: str
    first: str
    last: str


class Gap(NamedTuple):
    """Something that is not complete."""

    serial: str
    day: str
    what: str
    rule: str  # citation and status


@dataclass(slots=True)
class Gathered:
    """What a packet's tables are made from."""

    fields: dict[str, int] = field(default_factory=dict)  # field -> its bit
    kept: list[Kept] = field(default_factory=list)
    gaps: list[Gap] = field(default_factory=list)
    deviations: list[tuple[str, ...]] = field(default_factory=list)
    findings: list[tuple[str, ...]] = field(default_factory=list)
    licences: defaultdict[LicenceKey, Counter[str]] = field(default_factory=lambda: defaultdict(Counter))
    labels: defaultdict[tuple[str, ...], list[str]] = field(default_factory=lambda: defaultdict(list))
    uses: defaultdict[tuple[str, str, str, str], list[Use]] = field(default_factory=lambda: defaultdict(list))
    zones: dict[tuple[str, str], int | None] = field(default_factory=dict)  # site and zone -> measured area
    packs: Counter[Pack] = field(default_factory=Counter)
    firms: Counter[str] = field(default_factory=Counter)
    changed: list[str] = field(default_factory=list)  # serials of records with several revisions
    applications: int = 0
    incomplete: int = 0
    late: int = 0
    amended: int = 0
    voided: int = 0
    without_pack: int = 0
    given: list[tuple[str, ...]] = field(default_factory=list)  # copies, contacts and signs
    places: dict[str, str] = field(default_factory=dict)  # a site as written -> its id
    fed: list[Fed] = field(default_factory=list)  # nutrients by application and zone
    last_site: Json | None = None
    site_ids: set[str] = field(default_factory=set)


def gather(
    matches: Sequence[Match],
    bodies: Iterator[StoredRevision],
    rulebook: Rulebook,
    business: Business | None,
    given: Given,
) -> Gathered:
    """Go through the records.

    Args:
        matches: of the packet.
        bodies: the latest revision of each, in that order.
        rulebook: finds the packs that judge a record.
        business: the firm as loaded last.
        given: what customers and others were told.
    """
    found = Gathered()
    for revision in bodies:
        _record(found, revision, rulebook, business, given)
    found.changed = [match.serial for match in matches if match.revision > 1]
    return found


def _record(
    found: Gathered, revision: StoredRevision, rulebook: Rulebook, business: Business | None, given: Given
) -> None:
    body, serial = revision.body, revision.serial
    day = intern(str(body.get("date") or body.get("period") or ""))  # many records share it
    is_void = revision.action == "voided"
    packs = rulebook.of_record(body, business)
    site = body.get("site")
    if site:
        found.last_site = site
        found.site_ids.add(str(site.get("id")))
    state = []
    if is_void:
        found.voided += 1
        state.append("voided")
    elif revision.revision > 1:
        found.amended += 1
        state.append("amended")
    if body.get("deviation"):
        state.append("deviation")
        _deviation(found, body, serial, day)
    if _late(found, body, serial, day, packs):
        state.append("late")
    found.given.extend(given.rows(serial, day, body))
    if not is_void:
        found.gaps.extend(Gap(serial, day, what, rule) for what, rule in given.owed(serial, body, packs))
    found.packs.update(packs)
    found.without_pack += not packs
    _completeness(found, revision, packs, day, state)
    for finding in body.get("findings") or []:
        if finding["severity"] != "note" or finding["code"] in TELLING:
            found.findings.append(_finding(finding, serial, day))
    _people(found, body, serial, day)
    _labels(found, body, serial, day, is_void=is_void)
    if not is_void:
        _uses(found, body, serial, day)


def _finding(finding: Json, serial: str, day: str) -> tuple[str, ...]:
    message, limit, value, source = (
        one_line(finding.get(key), LONG) for key in ("message", "limit", "found", "source")
    )
    return serial, day, one_line(finding["code"]), one_line(finding["severity"]), message, limit, value, source


def signature(deviation: Json) -> tuple[str, str]:
    """Return who signed for a deviation, and with which licence."""
    signer = deviation.get("signed_by") or {}
    licence = signer.get("licence") or {}
    name = one_line(signer.get("name")) or one_line(signer.get("id"))
    told = ", ".join(filter(None, (one_line(licence.get(key)) for key in ("number", "kind", "state"))))
    if licence.get("to"):
        told += f", {licence.get('from') or '?'} to {licence['to']}"
    return name, told


def broken(body: Json) -> str:
    """Return what a deviation broke: the messages of the findings that would have stopped it."""
    told = [one_line(part.get("message"), LONG) for part in body.get("findings") or [] if part["severity"] == "stop"]
    return "; ".join(filter(None, told))


def _deviation(found: Gathered, body: Json, serial: str, day: str) -> None:
    deviation = body["deviation"]
    name, licence = signature(deviation)
    reason = one_line(deviation.get("reason"), LONG)
    found.deviations.append((serial, day, broken(body), reason, name, licence))
    if not name or not licence:
        found.gaps.append(Gap(serial, day, "the deviation has no signature with a licence", "a rule of this book"))


def is_late(body: Json) -> bool:
    """Tell whether a record was completed after the clock of its rules."""
    return bool(body.get("late")) or any(finding["code"] == "late" for finding in body.get("findings") or [])


def _late(found: Gathered, body: Json, serial: str, day: str, packs: Sequence[Pack]) -> bool:
    if not is_late(body):
        return False
    found.late += 1
    late = body.get("late") or {}
    by = late.get("by") or [pack.id for pack in packs if pack.complete]
    rules = [
        f"{pack.id}: {pack.complete.source.cited}" for pack in packs if pack.complete is not None and pack.id in by
    ]
    found.gaps.append(Gap(serial, day, past_words(body), "; ".join(rules) or _source(body, "late")))
    return True


def _source(body: Json, code: str) -> str:
    sources = [one_line(part.get("source"), LONG) for part in body.get("findings") or [] if part["code"] == code]
    return "; ".join(dict.fromkeys(filter(None, sources))) or "no rule named in the record"


def _completeness(
    found: Gathered, revision: StoredRevision, packs: tuple[Pack, ...], day: str, state: list[str]
) -> None:
    parts = parts_of_body(revision.body)
    missing = list(lacks(parts, packs))
    lacking, asked, reasoned = {lack.field for lack in missing}, 0, 0
    reasons = parts.visit.reasons
    for name in asked_fields(parts, packs):
        bit = 1 << found.fields.setdefault(name, len(found.fields))
        asked |= bit
        if name in reasons and name not in lacking and name not in parts.visit.has:
            reasoned |= bit
    mask = sum(1 << found.fields.setdefault(name, len(found.fields)) for name in lacking)
    told = [part for part in revision.body.get("findings") or [] if part["code"] == "missing"] if not packs else []
    if (missing or told) and revision.action != "voided":
        found.incomplete += 1
        state.append("incomplete")
        found.gaps.extend(_gaps(missing, revision.serial, day))
        found.gaps.extend(
            Gap(revision.serial, day, one_line(part["message"], LONG), one_line(part.get("source"), LONG) or "-")
            for part in told
        )
    found.kept.append(Kept(revision.serial, day, ", ".join(state), asked, mask, reasoned))


def _gaps(missing: Sequence[Lack], serial: str, day: str) -> Iterator[Gap]:
    """Yield the lacks of a record, those that the same rules ask for together."""
    grouped: dict[str, list[str]] = {}
    for lack in missing:
        rules = "; ".join(need.told() for need in lack.needs)
        of = f" ({one_line(lack.product)})" if lack.product else ""
        why = f", stated: {one_line(lack.reason)}" if lack.reason else ""
        grouped.setdefault(rules, []).append(f"{FIELDS[lack.field].words}{of}{why}")
    for rules, words in grouped.items():
        told = list(dict.fromkeys(words))
        yield Gap(serial, day, f"missing: {'; '.join(told)}", rules)


def _people(found: Gathered, body: Json, serial: str, day: str) -> None:
    for key, role in (("applicator", "applied"), ("supervisor", "supervised")):
        person = body.get(key)
        if not person:
            continue
        licence = person.get("licence") or {}
        name = one_line(person.get("name")) or one_line(person.get("id"))
        number, kind, state, first, last = (
            one_line(licence.get(part)) for part in ("number", "kind", "state", "from", "to")
        )
        categories = ", ".join(one_line(part) for part in licence.get("categories") or [])
        found.licences[LicenceKey(name, role, number, kind, state, categories, first, last)][day] += 1
        if not licence:
            found.gaps.append(Gap(serial, day, f"no licence of {name} valid on that day is recorded", "-"))
        elif last and body.get("date") and not (first or "") <= day <= last:
            found.gaps.append(Gap(serial, day, f"the licence of {name} ({number}) was not valid on that day", "-"))


def _labels(found: Gathered, body: Json, serial: str, day: str, *, is_void: bool) -> None:
    bare = []
    for treatment in body["treatments"]:
        for line in treatment["applications"]:
            product, label = line["product"], line.get("label")
            found.applications += not is_void
            name = one_line(product.get("name")) or one_line(product.get("id"))
            revision = one_line((label or {}).get("revision"))
            serials = found.labels[name, registration_words(product), revision]
            if not serials or serials[-1] != serial:
                serials.append(serial)
            if not revision and product.get("kind") in PESTICIDES:
                bare.append(name)
    if bare and not is_void:
        told = ", ".join(dict.fromkeys(bare))
        found.gaps.append(Gap(serial, day, f"no label revision is recorded for {told}", "-"))


@lru_cache(maxsize=4096)
def nano(text: str | None) -> int | None:
    """Return the number of an amount such as `4200 sq ft` as whole billionths; None where there is none."""
    number = (text or "").partition(" ")[0]
    whole, _, decimals = number.partition(".")
    if not (whole.isascii() and whole.isdigit() and (not decimals or (decimals.isascii() and decimals.isdigit()))):
        return None
    return int(whole) * NANO + int(decimals[:9].ljust(9, "0"))


def _uses(found: Gathered, body: Json, serial: str, day: str) -> None:
    site = place_words(body.get("site")) or one_line((body.get("site") or {}).get("id")) or "not recorded"
    if (body.get("site") or {}).get("id"):
        found.places[site] = body["site"]["id"]
    found.fed.extend(fed(site, serial, day, body))
    for treatment in body["treatments"]:
        zones = treatment.get("zones") or [{}]
        treated = [
            (one_line(zone.get("name")) or one_line(zone.get("id")), nano(zone.get("treated"))) for zone in zones
        ]
        for zone in zones:
            if zone.get("area"):
                found.zones[site, one_line(zone.get("name")) or one_line(zone.get("id"))] = nano(zone["area"])
        for line in treatment["applications"]:
            area = nano(line.get("area") or treatment.get("area"))
            for active in line.get("actives") or []:
                pounds = nano(active.get("pounds")) if active.get("pounds") else None
                for zone, share in treated:
                    here = area if len(treated) == 1 else share
                    key = site, zone or "-", one_line(active.get("name")), one_line(active.get("as"))
                    found.uses[key].append(Use(day, serial, pounds, here, area))
