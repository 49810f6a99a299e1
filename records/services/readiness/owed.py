"""What is owed besides the records: reports to agencies, words to people beforehand, licences to renew."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, timedelta
from typing import TYPE_CHECKING

from records.rules.advance_checks import owed_contacts
from records.rules.due import is_licence_ending, periods_due, span_of
from records.services.advance import contacts_of, state_packs
from records.services.copies import Copies, owed_copies
from records.services.readiness.model import Cited, Gap, cited, rules_of
from records.services.readiness.records import local, place

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator, Sequence

    from records.domain.contacts import Contact
    from records.domain.people import Licence, Person
    from records.rules.advance_checks import Told
    from records.rules.pack import Pack, PeriodicReport
    from records.services.copies import OwedCopy
    from records.services.ports import Outline, StoredRevision
    from records.services.readiness.firm import Firm

SOON = 30  # days before a licence's end
RECENT = 90  # days since somebody worked
_WHY = {"registry": "on a registry", "asked": "asked to be told", "abutting": "lives next door"}
LICENCE_LAW = Cited("", "licence data of the book; the last day still counts", "")


# -- reports ---------------------------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class Owed:
    """One report about one period."""

    pack: Pack
    report: PeriodicReport
    period: str
    due: date

    def is_over(self, today: date) -> bool:
        """Tell whether the period is over, so that the book knows whether there was work in it."""
        return span_of(self.period)[1] < today


def logged_reports(firm: Firm) -> dict[tuple[str, str], bool]:
    """Return report and period of what was written, and whether it was handed in: all its parts that were written."""
    parts: dict[tuple[str, str], dict[tuple[str, str], bool]] = {}
    for event in firm.work.records.events("report"):
        data = event.body["data"]
        key = (str(data.get("report")), str(data.get("period")))
        part = (str(data.get("person")), str(data.get("county")))
        known = parts.setdefault(key, {})
        known[part] = known.get(part, False) or data.get("filed_on") is not None
    return {key: all(known.values()) for key, known in parts.items()}


def is_filed(owed: Owed, logged: dict[tuple[str, str], bool]) -> bool:
    """Tell whether a report was handed in, under the pack's name for it or the name of its layout."""
    return logged.get((owed.report.id, owed.period), False) or logged.get((owed.report.layout, owed.period), False)


def is_written(owed: Owed, logged: dict[tuple[str, str], bool]) -> bool:
    """Tell whether a report was written, handed in or not."""
    return (owed.report.id, owed.period) in logged or (owed.report.layout, owed.period) in logged


def reports_due(firm: Firm, since: date, until: date) -> Iterator[Owed]:
    """Yield what is due within some days under the packs of the firm, logged or not."""
    for pack in firm.packs_on(firm.today):
        for report in pack.reports:
            for period, due in periods_due(report, since, until):
                yield Owed(pack, report, period, due)


class Months:
    """Which months have records in a state; a year is read once, and only where a report asks."""

    def __init__(self, firm: Firm) -> None:
        """Look through the records of the firm's book."""
        self._firm = firm
        self._years: dict[int, dict[str, set[str]]] = {}

    def of_year(self, year: int) -> dict[str, set[str]]:
        """Return the months with records of a year, by state; "" for all states."""
        if year not in self._years:
            found: dict[str, set[str]] = {"": set()}
            for record in self._firm.work.records.outlines(date(year, 1, 1), date(year, 12, 31)):
                if record.action != "voided":
                    found.setdefault(record.state or "", set()).add(record.period)
                    found[""].add(record.period)
            self._years[year] = found
        return self._years[year]

    def has_work(self, state: str, period: str) -> bool:
        """Tell whether there was work in a state (any, where none is named) in a period."""
        return any(month.startswith(period) for month in self.of_year(int(period[:4])).get(state, ()))

    def begin(self) -> date:
        """Return the day from which the book knows of work: its first record, or its first firm."""
        known = self._firm.work.catalogue.version("business", "business", 1)
        first = self._firm.today if known is None else known.loaded_at.astimezone(self._firm.zone).date()
        for year in self._firm.work.records.years()[:1]:
            months = self.of_year(year)[""]
            first = min([first, *(span_of(month)[0] for month in months)])
        return first


def reports(firm: Firm, since: date, until: date) -> Iterator[Gap]:
    """Yield the reports about a span of days, or due in it, that are due and not logged."""
    logged, months = logged_reports(firm), Months(firm)
    for owed in reports_due(firm, since, firm.today):
        about = span_of(owed.period)
        touches = about[0] <= until and about[1] >= since
        if not (touches or owed.due <= until) or is_filed(owed, logged):
            continue
        if not owed.report.nil and not months.has_work(owed.pack.state, owed.period):
            continue
        yield _report(owed, firm, is_before=about[1] < months.begin(), written=is_written(owed, logged))


def _report(owed: Owed, firm: Firm, *, is_before: bool, written: bool) -> Gap:
    report, source = owed.report, owed.report.source
    kind = "report" if owed.due < firm.today else "report-due"
    kind = kind if report.layout else "report-other"
    kind = "report-before" if is_before else kind if source.status.binds else "unread"
    also = "" if firm.names(owed.pack) else f" ({owed.pack.state} has sites of yours; your firm names other packs)"
    nil = "; due even when nothing was applied" if report.nil else ""
    return Gap(
        kind,
        report.id,
        owed.period,
        f"{report.title} about {owed.period}, to {report.to}: {'is' if owed.due == firm.today else 'was'} due "
        f"{owed.due}{'; written, not handed in' if written else ''}{nil}{also}",
        (cited(owed.pack.id, source),),
        report_command(owed, written=written),
        weight=(firm.today - owed.due).days,
    )


def report_command(owed: Owed, *, written: bool = False) -> str:
    """Return the command that writes a report, or notes that it was handed in: written before, or by other means."""
    name = owed.report.layout
    if name and not written:
        return f"swathbook report {name} {owed.period} --out {name}.csv"
    return f"swathbook report filed {name or owed.report.id} {owed.period} --on DAY"


# -- people who are to be told ---------------------------------------------------------------------------------------


def not_told(firm: Firm, visits: Sequence[Outline]) -> Iterator[Gap]:
    """Yield who was listed on the day of a visit and was not told in time.

    Args:
        firm: with its sites as they are loaded now; listings have their own first and last days.
        visits: to sites that list somebody.
    """
    contacts: dict[str, list[Contact]] = {}
    for record in visits:
        found = firm.directory.site(record.site or "")
        if found is None or not record.day or not record.started or firm.business is None:
            continue
        site, day, start = found[0], date.fromisoformat(record.day), local(record.started, record.timezone)
        if site.id not in contacts:
            contacts[site.id] = contacts_of(firm.work.records.events("contact", site=site.id))
        packs = state_packs(firm.rulebook, firm.business, site.state, day)
        rules = rules_of((pack, fact.source) for pack in packs for fact in pack.advance)
        for told in owed_contacts(site, day, start, contacts[site.id], packs):
            yield _not_told(record, told, rules or (Cited("", f"the list of {site.id}", ""),))


def _not_told(record: Outline, told: Told, rules: tuple[Cited, ...]) -> Gap:
    who, late = told.who, told.too_late
    lead = f"at least {told.lead} before" if told.lead else "before"
    said = f"; {len(told.tried)} logged, none that counts" if told.tried else "; nothing is logged"
    if late is not None:
        said = f"; told {late.at.astimezone(told.latest.tzinfo):%Y-%m-%d %H:%M}"
    return Gap(
        "advance",
        record.serial,
        record.day or "",
        f"{place(record)}: {who.name} ({_WHY.get(who.why, who.why)}) was to be told {lead}, by "
        f"{told.latest:%Y-%m-%d %H:%M}{said}",
        rules,
        f"swathbook contact {record.site} {who.id} --for {record.day} --how HOW --result RESULT --at MOMENT",
    )


# -- copies that no visit brings along --------------------------------------------------------------------------------


def copies_apart(firm: Firm, since: date, until: date) -> Iterator[Gap]:
    """Yield copies owed before the work, and those asked for, that were not given or were given late.

    Only a few states have such a rule, so bodies are read only where a pack of the firm's has one.
    """
    packs = [pack for pack in firm.packs_on(firm.today) if _apart(pack)]
    if not packs:
        return
    ids, copies = {pack.id for pack in packs}, Copies.since(firm.work, since)
    orders = [
        record.order
        for record in firm.work.records.outlines(since, until)
        if record.action != "voided"
        and record.origin != "import"
        and record.pesticide
        and (not record.packs or any(key in ids for key, _ in record.packs))
    ]
    for stored in firm.work.records.bodies(orders):
        body = stored.body
        frozen = firm.rulebook.of_record(body, firm.business)
        given = copies.of(stored.serial, body)
        owed = [one for one in owed_copies(body, frozen, given, firm.now) if one.copy.moment in {"before", "request"}]
        for binds in (True, False):
            some = [one for one in owed if one.copy.source.status.binds is binds and one.state not in _FINE]
            if some:
                yield _copy(stored, some, frozen, binds=binds)


_FINE = frozenset({"given", "on request", "none"})
_KINDS = {"overdue": "notice", "owed": "notice-due", "late": "notice-late"}


def _apart(pack: Pack) -> bool:
    return any(copy.moment in {"before", "request"} for copy in pack.copies)


def _copy(stored: StoredRevision, owed: list[OwedCopy], packs: Iterable[Pack], *, binds: bool) -> Gap:
    """Return one record's copies of one certainty, told by the worst of them."""
    worst = min(owed, key=lambda one: tuple(_KINDS).index(one.state))
    body, site = stored.body, stored.body["site"] or {}
    is_before = worst.copy.moment == "before"
    what = "copy before the work" if is_before else "copy asked for"
    told = f"no {what} is logged" + ("" if worst.due is None else f"; it was due {worst.due:%Y-%m-%d %H:%M}")
    do = f"swathbook deliver {stored.serial} --how paper" + (" --before --at DAYTHH:MM" if is_before else "")
    if worst.given is not None and worst.due is not None:
        told = f"known: {what} given late, {worst.given:%Y-%m-%d %H:%M}; it was due {worst.due:%Y-%m-%d %H:%M}"
        do = f"swathbook show {stored.serial}"
    named = {one.pack for one in owed}
    return Gap(
        _KINDS[worst.state] if binds else "unread",
        stored.serial,
        body["date"] or body["period"],
        f"{site.get('address') or site.get('id') or 'place not recorded'}: {told}",
        rules_of((pack, one.copy.source) for pack in packs if pack.id in named for one in owed if one.pack == pack.id),
        do,
    )


# -- licences --------------------------------------------------------------------------------------------------------


def next_end(person: Person, licence: Licence, today: date) -> date | None:
    """Return the last day of a licence that is in force and not renewed beyond it; None where there is another."""
    later = any(
        other.state == licence.state
        and other.kind == licence.kind
        and other.last_day > licence.last_day
        and other.first_day <= licence.last_day + timedelta(1)
        for other in person.licences
    )
    return None if later or licence.last_day < today else licence.last_day


def lapsed_on(person: Person, licence: Licence, today: date) -> date | None:
    """Return the last day of a licence that ended lately and that no other of its kind and state follows."""
    followed = any(
        other.state == licence.state and other.kind == licence.kind and other.last_day > licence.last_day
        for other in person.licences
    )
    is_recent = today - timedelta(RECENT) <= licence.last_day < today
    return licence.last_day if is_recent and not followed else None


def licences_ending(firm: Firm, people: dict[str, str]) -> Iterator[Gap]:
    """Yield the licences of people who worked lately that end soon, or ended since without another to follow.

    Args:
        firm: with its people as they are loaded now.
        people: with the last day each worked.
    """
    recent = (firm.today - timedelta(RECENT)).isoformat()
    for key, last in people.items():
        found = firm.directory.person(key)
        if found is None or last < recent:
            continue
        for licence in found[0].licences:
            end, gone = next_end(found[0], licence, firm.today), lapsed_on(found[0], licence, firm.today)
            if gone is not None:
                told = f"ended on {gone}; no work before the renewed one is loaded"
            elif end is not None and is_licence_ending(end, firm.today, SOON):
                told = "ends on this day, which still counts; load the renewed one"
            else:
                continue
            yield Gap(
                "licence-ending",
                key,
                licence.last_day.isoformat(),
                f"{found[0].name}: {licence.kind} {licence.number} ({licence.state}) {told}",
                (LICENCE_LAW,),
                f"swathbook catalogue people {key}",
                weight=SOON - (licence.last_day - firm.today).days,
            )


def imported(months: Iterable[tuple[str, int]]) -> Iterator[Gap]:
    """Yield one note about imported records: what no foreign table holds is not held against each of them."""
    found = sorted(months)
    count = sum(number for _, number in found)
    if count:
        first, last = found[0][0], found[-1][0]
        yield Gap(
            "imported",
            "import",
            first if first == last else f"{first} to {last}",
            f"{count:,} imported {'record' if count == 1 else 'records'}: when they were finished, what the "
            "customer got and which label revision was used is not in this book; keep the old papers",
            (Cited("", "the source table is kept with each record", ""),),
            f"swathbook find --since {first} --until {last}",
        )
