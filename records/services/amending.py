"""Amending and voiding sealed records: a new sealed revision each time, with who, when and why; no text is lost."""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import datetime
from typing import TYPE_CHECKING
from zoneinfo import ZoneInfo

from records.clock import instant_text
from records.errors import NotFoundError, UsageError
from records.rules.people_checks import licence_on
from records.services.calibrating import Outputs
from records.services.closing.body import licence_body
from records.services.closing.entry import MAX_REMARKS, shown, unprintable
from records.services.closing.reading import PRODUCT_KEYS, TREATMENT_KEYS, VISIT_KEYS
from records.services.closing.service import AMENDS, VOIDED, Base, Outcome, amend_document, append_revision
from records.services.closing.weather_parts import WEATHER_KEYS
from records.services.copies import deliveries_of
from records.services.directory import Directory
from records.services.finding import normal_serial, revisions_of
from records.services.follow_up.ratings import ratings

if TYPE_CHECKING:
    from collections.abc import Iterator

    from records.clock import Clock
    from records.services.closing.signing import AsApplied
    from records.services.copies import Delivery
    from records.services.ports import Catalogue, CatalogueEntry, Json, OpenBook, StoredRevision, UnitOfWork

AMENDED = "amended"


@dataclass(frozen=True, slots=True)
class Why:
    """Who changes a record, and why."""

    reason: str
    by: str | None  # id of a person; None: the only one there is, or the account
    account: str = ""  # of the computer, where nobody is named

    def document(self, serial: str) -> Json:
        """Return it as it is kept with an amendment that is held."""
        return {"serial": serial, "reason": self.reason, "by": self.by, "account": self.account}


class FrozenCatalogue:
    """The catalogue as a record froze it: what it names is found in the version it names, all else in the newest."""

    def __init__(self, catalogue: Catalogue, body: Json) -> None:
        """Keep the versions that a sealed body names."""
        self._catalogue = catalogue
        self._versions = dict(_versions(body))

    def latest(self, kind: str, key: str) -> CatalogueEntry | None:
        """Return the version of a document that the record froze; the newest where it names none."""
        version = self._versions.get((kind, key))
        frozen = None if version is None else self._catalogue.version(kind, key, version)
        return frozen or self._catalogue.latest(kind, key)

    def version(self, kind: str, key: str, version: int) -> CatalogueEntry | None:
        """Return one version of one document."""
        return self._catalogue.version(kind, key, version)

    def count(self) -> int:
        """Return how many versions there are of all documents together."""
        return self._catalogue.count()

    def every(self, kind: str, holding: str = "") -> list[CatalogueEntry]:
        """Return the newest version of every document of a kind, by id."""
        return self._catalogue.every(kind, holding)

    def add(self, kind: str, key: str, body: Json, loaded_at: datetime) -> int:
        """Refuse: a record's catalogue is past."""
        raise NotImplementedError(f"{kind} {key} {loaded_at}: {len(body)} parts")


def _versions(body: Json) -> Iterator[tuple[tuple[str, str], int]]:
    """Yield kind, id and version of every document that a sealed body names."""
    for kind, name in (("customer", "customer"), ("site", "site"), ("person", "applicator"), ("person", "supervisor")):
        part = body[name]
        if part is not None and part.get("version"):
            yield (kind, part["id"]), part["version"]
    yield ("business", "business"), body["business"]["version"]
    for treatment in body["treatments"]:
        for line in treatment["applications"]:
            if line["product"]["id"] and line["product"]["version"]:
                yield ("product", line["product"]["id"]), line["product"]["version"]


def amend(
    book: OpenBook,
    serial: str,
    document: Json,
    why: Why,
    clock: Clock,
    as_applied: AsApplied | None = None,
    *,
    newest: bool = False,
) -> Outcome:
    """Seal a corrected entry as the next revision of a record, checked like a new one.

    It is judged by the packs in force on the day of the work, against the record's past without the record itself, and
    with the products, labels, people and places in the versions that the record froze.

    Args:
        book: with the record.
        serial: of the record.
        document: the whole entry, corrected.
        why: who amends, and why.
        clock: for the moment.
        as_applied: reason and signer, where a broken limit is sealed as it happened.
        newest: take everything in the newest version loaded, to put right what was loaded wrong.

    Returns:
        Sealed with its revision, or held with its number and all findings; the record then stays as it was.

    Raises:
        NotFoundError: no such record, or no such person.
        UsageError: it cannot be amended, or no reason was given.
        InputError: nothing differs, or the entry has another `ref`.
        SignatureError: the signer is not certified; the amendment is held.
    """
    with book.write() as work:
        base = base_of(work, serial, why, clock.now(), newest=newest)
        outcome = amend_document(work, base, document, clock, as_applied)
        if not outcome.is_repeat:
            work.commit()
    if outcome.refusal is not None:
        raise outcome.refusal
    return outcome


def base_of(work: UnitOfWork, serial: str, why: Why, now: datetime, *, newest: bool = False) -> Base:
    """Return what an amendment of a record stands on.

    Raises:
        NotFoundError: no such record, or no such person.
        UsageError: it cannot be amended, or no reason was given.
    """
    found = _revisions(work, serial)
    first, last = found[0], found[-1]
    _refuse_voided(last)
    if first.body["origin"]["kind"] != "entered":
        raise UsageError(
            f"{first.serial} was imported, so there is no entry to correct",
            "Void it, and close the visit with what is known",
        )
    reason = _reason(why)
    catalogue: Catalogue = work.catalogue if newest else FrozenCatalogue(work.catalogue, last.body)
    change = _change(work, AMENDED, last, replace(why, reason=reason), now)
    amends = why.document(first.serial) | {"newest": newest, "of": last.revision}
    directory = Directory(catalogue)
    # An estimated area is worked out again by what the log said then, unless all is taken as it is now.
    directory.outputs = Outputs(work, None if newest else datetime.fromisoformat(last.sealed_at))
    return Base(first, last, change, directory, amends, newest)


@dataclass(frozen=True, slots=True)
class Voided:
    """What a voiding did."""

    revision: StoredRevision
    dropped: tuple[str, ...] = ()  # held amendments of the record, which can never be sealed any more
    is_repeat: bool = False  # it was voided so before; nothing was written


def void(book: OpenBook, serial: str, why: Why, clock: Clock) -> Voided:
    """Seal that a record does not stand: what never happened, or was entered twice. Its text stays readable.

    Said again with the same reason, it writes nothing. Amendments of it that are held are dropped.

    Raises:
        NotFoundError: no such record, or no such person.
        UsageError: it cannot be voided, or no reason was given.
    """
    now = clock.now()
    with book.write() as work:
        last = _revisions(work, serial)[-1]
        change = _change(work, VOIDED, last, replace(why, reason=_reason(why)), now)
        if last.action == VOIDED and _is_same(last.body["change"], change):
            return Voided(last, is_repeat=True)
        _refuse_voided(last)
        revision = append_revision(work, last, last.body | {"change": change}, now)
        dropped = tuple(_drop_amendments(work, revision, now))
        work.commit()
    return Voided(revision, dropped)


def _drop_amendments(work: UnitOfWork, voided: StoredRevision, now: datetime) -> Iterator[str]:
    """Drop the held amendments of a record that was voided; yield their numbers. Their texts stay in the book."""
    for entry in work.held.open():
        kept = entry.document.get(AMENDS)
        if isinstance(kept, dict) and kept.get("serial") == voided.serial:
            work.held.add(
                entry.number,
                "dropped",
                now,
                document=entry.document,
                findings=entry.findings,
                ref=entry.ref,
                person=entry.person,
                reason=f"{voided.serial}, which it amends, was voided: {voided.body['change']['reason']}",
            )
            yield entry.number


def amendments_held(book: OpenBook, serial: str) -> list[str]:
    """Return the numbers of what is held to amend a record."""
    with book.read() as work:
        return [
            entry.number
            for entry in work.held.open()
            if isinstance(kept := entry.document.get(AMENDS), dict) and kept.get("serial") == serial
        ]


def notices_given(book: OpenBook, serial: str) -> list[Delivery]:
    """Return the notices of a record that its customer has, oldest first."""
    with book.read() as work:
        body = _revisions(work, serial)[-1].body
        site = (body["site"] or {}).get("id")
        events = work.records.events("delivery", site=site)
    return [one for one in deliveries_of(events) if one.is_notice and one.serial == normal_serial(serial)]


def stray_notes(book: OpenBook, serial: str) -> list[str]:
    """Return a note on the ratings of each target or treatment that a record does not hold any more."""
    number = normal_serial(serial)
    with book.read() as work:
        strays = [one for one in ratings(work, record=number, strays=True) if one.is_stray]
    events: dict[str, list[str]] = {}
    for one in strays:
        what = f"{one.rating.target}, which this record does not name any more"
        if one.treated is None:
            what = f"treatment {one.rating.treatment + 1}, which this record does not hold any more"
        events.setdefault(what, []).append(one.rating.serial)
    return [_stray_note(what, names) for what, names in events.items()]


def _stray_note(what: str, events: list[str]) -> str:
    rates, counts, them = ("rates", "counts", "it") if len(events) == 1 else ("rate", "count", "them")
    ways = f"withdraw {them} (swathbook withdraw {events[0]} --reason WHY), or amend the record back"
    return f"{', '.join(events)} {rates} {what}, and {counts} nowhere: {ways}"


def entry_of(book: OpenBook, serial: str) -> Json:
    """Return the entry of a record as it was typed, to be corrected.

    Raises:
        NotFoundError: no such record.
        UsageError: it was not entered here.
    """
    number = normal_serial(serial)
    with book.read() as work:
        body = revisions_of(work.records.revisions(number), serial)[-1].body
    if not isinstance(body.get("document"), dict):
        raise UsageError(
            f"{number} was not entered as a visit, so there is no entry to show", "swathbook show tells it"
        )
    return _in_order(body["document"], VISIT_KEYS)


def _in_order(part: Json, names: tuple[str, ...]) -> Json:
    """Return a part of an entry with its names in the order in which people tell them; sealed, they are sorted."""
    found = {name: part[name] for name in (*names, *part) if name in part}
    for name, inner in (("weather", WEATHER_KEYS), ("treatments", TREATMENT_KEYS), ("products", PRODUCT_KEYS)):
        value = found.get(name)
        if isinstance(value, dict):
            found[name] = _in_order(value, inner)
        elif isinstance(value, list):
            found[name] = [_in_order(one, inner) if isinstance(one, dict) else one for one in value]
    return found


def _is_same(before: Json, change: Json) -> bool:
    return bool(before["reason"] == change["reason"] and before["by"]["name"] == change["by"]["name"])


def _refuse_voided(last: StoredRevision) -> None:
    if last.action == VOIDED:
        raise UsageError(
            f"{last.serial} was voided",
            "Close the visit anew with a ref of its own, if it took place; what is held for it: swathbook held drop",
        )


def _revisions(work: UnitOfWork, serial: str) -> list[StoredRevision]:
    """Return the revisions of a record.

    Raises:
        NotFoundError: no such record.
        UsageError: an event.
    """
    number = normal_serial(serial)
    found = revisions_of(work.records.revisions(number), serial)
    if found[0].body["kind"] == "event":
        raise UsageError(f"{number} is an event, which is never changed", "Log another one")
    return found


def _reason(why: Why) -> str:
    reason = " ".join(why.reason.split())
    if not reason:
        raise UsageError("a change needs a reason", "Add --reason 'what was wrong'")
    if len(reason) > MAX_REMARKS or unprintable(reason):
        raise UsageError("the reason cannot be printed", f"Write at most {MAX_REMARKS:,} plain characters")
    return reason


def _change(work: UnitOfWork, action: str, last: StoredRevision, why: Why, now: datetime) -> Json:
    """Return what a revision seals of the change itself."""
    return {
        "action": action,
        "reason": why.reason,
        "by": _who(Directory(work.catalogue), why, last.body, now),
        "at": instant_text(now),
        "of": last.revision,
    }


def _who(directory: Directory, why: Why, body: Json, now: datetime) -> Json:
    """Return who changes a record, with the licence of the day; without a person, the account of the computer."""
    key = why.by
    if key is None:
        ids = directory.ids("person")
        if len(ids) != 1:
            if not why.account:
                raise UsageError(f"{len(ids)} people are in the book", "Say who changes the record: --by PERSON")
            name = shown(f"account {why.account} of this computer")
            return {"id": None, "name": name, "licence": None, "version": 0}
        key = ids[0]
    found = directory.person(key)
    if found is None:
        raise NotFoundError(f"no person {shown(key)!r} in the book", "swathbook catalogue people lists them")
    person, version = found
    day, state = now.astimezone(ZoneInfo(body["timezone"])).date(), (body["site"] or {}).get("state", "")
    licence = licence_body(licence_on(person, day, state))
    return {"id": person.id, "name": person.name, "licence": licence, "version": version}
