"""What an inspector would find in the sealed records themselves: over, incomplete, late, not licensed, no label."""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import date, datetime
from typing import TYPE_CHECKING
from zoneinfo import ZoneInfo

from records.domain.findings import WAIVABLE, Code
from records.domain.spans import lapse, late_by
from records.rules.asking import lacks
from records.rules.due import completion, copy_due
from records.rules.fields import FIELDS
from records.services.body_parts import PESTICIDES, parts_of_body
from records.services.readiness.model import Cited, Gap, rules_of

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator

    from records.rules.asking import Lack
    from records.rules.pack import CustomerCopy, Pack
    from records.services.ports import Json, Outline, StoredRevision
    from records.services.readiness.firm import Firm

_LICENCE = frozenset(
    code.value for code in (Code.LICENCE_MISSING, Code.LICENCE_LAPSED, Code.LICENCE_CATEGORY, Code.SUPERVISION)
)
_OVER = frozenset(code.value for code in WAIVABLE) - _LICENCE
_PAGE = 500


def local(instant: str, zone: str) -> datetime:
    """Return a stored instant in a zone."""
    return datetime.fromisoformat(instant).astimezone(ZoneInfo(zone))


def work_end(record: Outline) -> datetime | None:
    """Return when the work of a record ended, or began, on the site's own clock; None where neither is known."""
    instant = record.finished or record.started
    return None if instant is None else local(instant, record.timezone)


@dataclass
class RecordLook:
    """Looks at records one by one, keeping only what is found.

    Entered records were judged when they were sealed, and what was found then is sealed with them: only those with
    something missing are judged again, to say by which rule. Imported ones were never judged by packs.
    """

    firm: Firm
    delivered: dict[str, datetime]  # serial -> when the customer got the first copy
    listing: frozenset[str]  # sites that list somebody who has to be told beforehand
    visits: list[Outline] = field(default_factory=list)  # to those
    people: dict[str, str] = field(default_factory=dict)  # who worked, with the last day
    equipment: dict[str, str] = field(default_factory=dict)  # what was used, with the last day
    imported: dict[str, int] = field(default_factory=dict)  # month -> imported records without label and notice
    count: int = 0

    def gaps(self, records: Iterable[Outline]) -> Iterator[Gap]:
        """Yield what is wrong with records, reading bodies by the page, and only of those that need it."""
        waiting: list[Outline] = []
        for record in records:
            if record.action == "voided":
                continue
            self._note(record)
            yield from self._from_outline(record)
            if record.incomplete or record.origin == "import" or self.firm.of_outline(record.packs) is None:
                waiting.append(record)
            if len(waiting) >= _PAGE:
                yield from self._from_bodies(waiting)
                waiting = []
        yield from self._from_bodies(waiting)

    def _note(self, record: Outline) -> None:
        self.count += 1
        if record.origin == "import":
            self.imported[record.period] = self.imported.get(record.period, 0) + 1
            return
        if record.pesticide and record.site in self.listing:
            self.visits.append(record)
        for machine in record.equipment:
            if record.day and record.day > self.equipment.get(machine, ""):
                self.equipment[machine] = record.day
        for person in (record.person, record.supervisor):
            if person and record.day and record.day > self.people.get(person, ""):
                self.people[person] = record.day

    def _from_outline(self, record: Outline) -> Iterator[Gap]:
        if record.findings:
            yield from _broken(record)
        if record.origin == "import":
            return
        packs = self.firm.of_outline(record.packs)
        if packs is not None:
            yield from self._timed(record, packs)

    def _from_bodies(self, records: list[Outline]) -> Iterator[Gap]:
        bodies = self.firm.work.records.bodies([record.order for record in records])
        for record, stored in zip(records, bodies, strict=True):
            packs = self.firm.of_outline(record.packs)
            if packs is None:
                packs = self.firm.rulebook.of_record(stored.body, self.firm.business)
                if record.origin != "import":
                    yield from self._timed(record, packs)
            yield from incomplete(record, stored.body, packs)

    def _timed(self, record: Outline, packs: tuple[Pack, ...]) -> Iterator[Gap]:
        work = work_end(record)
        if work is None:
            return
        if record.late_days or record.late is not None:
            yield from _late(record, packs, work)
        if record.pesticide:
            yield from self._copies(record, packs, work)

    def _copies(self, record: Outline, packs: tuple[Pack, ...], work: datetime) -> Iterator[Gap]:
        """Yield that the customer did not get in time what the packs owe after a visit."""
        given = self.delivered.get(record.serial)
        at = self.firm.now if given is None else given
        owed: list[tuple[datetime, Pack, CustomerCopy]] = []
        for pack in packs:
            for copy in pack.copies:
                due = copy_due(copy, work)
                if due is not None:
                    owed.append((due, pack, copy))
        over = [one for one in owed if one[0] < at]
        told = over or (owed if given is None else [])
        if not told:
            return
        binding = [one for one in told if one[2].source.status.binds]
        due = min((one[0] for one in binding or told), key=datetime.timestamp)
        if given is not None:
            when = f"{given.astimezone(due.tzinfo):%Y-%m-%d}"
            what = f"known: given late; the copy was due {due:%Y-%m-%d}, given {when}, {lapse(given - due)} after"
        else:
            ago = f", {lapse(at - due)} ago" if over else ""
            what = f"no copy logged; {'was' if over else 'is'} due {due:%Y-%m-%d}{ago}"
        # What was handed over late stays late, and cannot be put right any more: it is known.
        kind = "notice-late" if given is not None else "notice" if over else "notice-due"
        # The day is that of the visit; no time is filled in, as a pasted line must not make one up.
        yield Gap(
            kind if binding else "unread",
            record.serial,
            record.day or record.period,
            f"{place(record)}: {what}",
            rules_of((pack, copy.source) for _, pack, copy in told),
            _shown(record)
            if given is not None
            else f"swathbook deliver {record.serial} --how paper --at {work:%Y-%m-%d}THH:MM",
        )


def _shown(record: Outline) -> str:
    return f"swathbook show {record.serial}"


def _put_right(record: Outline) -> str:
    """Return the way to put right what a record lacks; what was imported has no entry to correct."""
    if record.origin != "entered":
        return _shown(record)
    return f"swathbook amend {record.serial} --set 'PLACE=VALUE' --reason 'WHY'"


def place(record: Outline) -> str:
    """Return where a record's work was, in words."""
    return record.address or record.site or "place not recorded"


def _broken(record: Outline) -> Iterator[Gap]:
    """Yield the limits a record broke, and the licences it was made without, with who signed for them."""
    stops = [finding for finding in record.findings if finding.get("severity") == "stop"]
    signed = (record.deviation or {}).get("signed_by") or {}
    by = f"; signed by {signed.get('name') or signed.get('id')}" if signed else "; nobody signed"
    for codes, kind in ((_LICENCE, "licence"), (_OVER, "as-applied" if signed else "over")):
        found = [finding for finding in stops if finding.get("code") in codes]
        if not found:
            continue
        yield Gap(
            kind,
            record.serial,
            record.day or record.period,
            "; ".join(_short(finding) for finding in found) + by,
            tuple(dict.fromkeys(Cited("", finding.get("source") or "label", "") for finding in found)),
            f"swathbook show {record.serial}",
            weight=len(found) + (0 if signed else 100),
        )


def _short(finding: Json) -> str:
    """Return a finding without what it told the person who typed the entry to do."""
    told, sign, _ = str(finding.get("message") or finding.get("code")).partition("; ")
    limit, found = finding.get("limit"), finding.get("found")
    if sign or not (limit and found) or str(found) in told:
        return told
    return f"{told} ({found}; limit {limit})"


def _late(record: Outline, packs: tuple[Pack, ...], work: datetime) -> Iterator[Gap]:
    """Yield by how much a record missed the clocks of its packs."""
    entered = datetime.fromisoformat(record.entered_at)  # UTC, so that instants are compared
    missed = [timed for timed in completion(packs, work) if timed.due < entered]
    if not missed:
        if record.late is not None:  # by packs that cannot be told any more: what was sealed stands
            yield _sealed_late(record, record.late)
        return
    first = missed[0]
    binding = [timed for timed in missed if timed.clock.source.status.binds]
    if binding:
        first = binding[0]
    others = f" and {len(missed) - 1} more" if len(missed) > 1 else ""
    yield Gap(
        "late" if binding else "unread",
        record.serial,
        record.day or record.period,
        f"{place(record)}: {late_by(entered, first.due)} ({_within(first.clock.within)}; {first.pack.id}{others})",
        rules_of((timed.pack, timed.clock.source) for timed in missed),
        f"swathbook show {record.serial}",
        weight=int((entered - first.due).total_seconds() // 60),
    )


def _sealed_late(record: Outline, late: Json) -> Gap:
    due = local(str(late.get("due") or record.entered_at), record.timezone)
    named = late.get("by") or []
    by = ", ".join(map(str, named)) if isinstance(named, list) else str(named)
    return Gap(
        "late",
        record.serial,
        record.day or record.period,
        f"{place(record)}: {late_by(datetime.fromisoformat(record.entered_at), due)}",
        (Cited(by, "the time to finish, as sealed with the record", ""),),
        f"swathbook show {record.serial}",
    )


def _within(span: object) -> str:
    return str(span).removeprefix("the ") if str(span) == "the same day" else f"within {span}"


def incomplete(record: Outline, body: Json, packs: tuple[Pack, ...]) -> Iterator[Gap]:
    """Yield what rules that were read ask and the record lacks, and apart from that what others ask."""
    found = list(lacks(parts_of_body(body), packs))
    for binds, kind in ((True, "incomplete"), (False, "unread")):
        some = [lack for lack in found if lack.binds is binds]
        if some:
            yield Gap(
                kind,
                record.serial,
                record.day or record.period,
                f"{place(record)}: {_lacking(some)}",
                rules_of((need.pack, need.source) for lack in some for need in lack.needs),
                _put_right(record),
                weight=len(some),
            )


def _lacking(found: list[Lack]) -> str:
    """Return what is missing in words, a field once with the products it is missing for."""
    named: dict[str, list[str]] = {}
    for lack in found:
        named.setdefault(lack.field, []).extend([lack.product] if lack.product else [])
    told = []
    for name, products in named.items():
        several = list(dict.fromkeys(products))
        of = f" of {several[0]}" if len(several) == 1 else f" of {len(several)} products" if several else ""
        told.append(FIELDS[name].words + of)
    reasons = list(dict.fromkeys(lack.reason for lack in found if lack.reason))
    why = f" (not measured: {'; '.join(reasons)})" if reasons else ""
    return f"no {', no '.join(_bare(words) for words in told)}{why}"


def _bare(words: str) -> str:
    return words.removeprefix("the ").removeprefix("a ")


def without_label(firm: Firm, since: date, until: date) -> Iterator[Gap]:
    """Yield entered records with a pesticide of which the book held no label then.

    Versions of a product without a label are few, so they lead, through the index on products.
    """
    from records.services.ports import Packet  # noqa: PLC0415 - a value only here

    orders: set[int] = set()
    for entry in firm.work.catalogue.every("product"):
        versions = (firm.work.catalogue.version("product", entry.id, number) for number in range(1, entry.version + 1))
        if all(version is None or version.body.get("label") for version in versions):
            continue
        orders.update(match.order for match in firm.work.records.matching(Packet(since, until, product=entry.id)))
    for stored in firm.work.records.bodies(sorted(orders)):
        yield from _label(stored)


def _label(stored: StoredRevision) -> Iterator[Gap]:
    body = stored.body
    if stored.action == "voided" or body["origin"]["kind"] == "import":
        return
    names = [
        line["product"]["name"]
        for treatment in body["treatments"]
        for line in treatment["applications"]
        if line["product"]["kind"] in PESTICIDES and not line.get("label")
    ]
    if names:
        yield Gap(
            "label",
            stored.serial,
            body["date"] or body["period"],
            f"no label revision of {', '.join(dict.fromkeys(names))} stands on the record; no rate was checked",
            (Cited("", "7 USC 136j(a)(2)(G), use by the label; common practice is to name its revision", ""),),
            f"swathbook show {stored.serial}",
        )
