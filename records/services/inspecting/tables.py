"""The tables of a packet, each a heading, columns, and rows put into words."""

from __future__ import annotations

from collections import defaultdict
from datetime import date
from fractions import Fraction
from itertools import pairwise
from typing import TYPE_CHECKING, cast

from records.domain.packet_model import FIELD_CODES, NO, NOT_ASKED, REASON, YES, Counted, Table, Told
from records.domain.report_model import Column
from records.rules.fields import FIELDS
from records.rules.pack import STATUS_WORDS
from records.services.inspecting.changes import change_words
from records.services.summarising import ACRE, NANO
from records.services.summary_words import fixed, serial_ranges

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator, Mapping

    from records.domain.packet_model import RevisionPart
    from records.rules.pack import Pack, Source
    from records.services.inspecting.gather import Gathered, Kept, LicenceKey, Use

THOUSAND = 1000  # sq ft, the trade's measure for lawns
MOST_DAYS = 40  # stretches of days told for one licence


def columns(*named: str) -> tuple[Column, ...]:
    """Return text columns by key and title: `serial=Record`; a title that ends in `#` is a number."""
    found = []
    for name in named:
        key, _, title = name.partition("=")
        found.append(Column(key, title.removesuffix("#"), numeric=title.endswith("#")))
    return tuple(found)


def gaps_table(found: Gathered, held: Iterable[tuple[str, ...]]) -> Table:
    """Return what is not complete, records first, then entries that are still held."""
    rows = [(gap.serial, gap.day, gap.what, gap.rule) for gap in found.gaps]
    return Table(
        "not_complete",
        "What is not complete",
        columns("serial=Record", "date=Date", "what=What is not complete", "rule=Rule and how it is known"),
        (*rows, *held),
        empty=(
            "Nothing: every record holds all that its rules ask for, in time, customers got what they are owed, and no "
            "entry is held."
            if found.kept
            else "No record matches what was asked, and no entry is held."
        ),
    )


def given_table(found: Gathered) -> Table:
    """Return who was told, when and how: customers, people on a site's list, and the signs."""
    titles = columns("serial=Record", "date=Date", "what=What", "when=When", "to=To", "how=How")
    return Table("told", "Copies given, people told, signs", titles, tuple(found.given), empty="Nothing is logged.")


def packs_table(packs: Mapping[Pack, int], without: int) -> Table:
    """Return which rules judged the records, with the text they stand in."""
    rows: list[tuple[str, ...]] = []
    for pack, records in sorted(packs.items(), key=lambda item: (item[0].id, item[0].version)):
        for source in _sources(pack):
            seen = source.seen.isoformat() if source.seen else ""
            rows.append(
                (
                    pack.id,
                    pack.version,
                    pack.title,
                    str(records),
                    source.citation,
                    STATUS_WORDS[source.status],
                    ", ".join(filter(None, (source.edition, f"seen {seen}" if seen else ""))),
                    source.url,
                )
            )
    note = f"{without} of the records name no pack." if without else ""
    titles = columns(
        "pack=Pack",
        "version=Version",
        "title=Rule",
        "records=Records#",
        "citation=Citation",
        "status=How it is known",
        "text=Text",
        "url=Address",
    )
    return Table("rules", "Rules that the records were judged by", titles, tuple(rows), note)


def _sources(pack: Pack) -> list[Source]:
    """Return every source that what a pack asks of records rests on, each once."""
    facts = [asked.source for asked in pack.asked]
    facts += [clock.source for clock in (pack.complete, pack.hand_over) if clock is not None]
    facts += [kept.source for kept in pack.retention]
    facts += [shown.source for shown in pack.production]
    return list(dict.fromkeys(facts))


def matrix_table(found: Gathered) -> Table:
    """Return the completeness table: a row for each record, a column for each field that any of its rules asks for."""
    fields = [(name, 1 << number) for name, number in found.fields.items()]

    def words(fact: object) -> tuple[str, ...]:
        kept = cast("Kept", fact)
        cells = [
            NO if kept.lacking & bit else REASON if kept.reasoned & bit else YES if kept.asked & bit else NOT_ASKED
            for _, bit in fields
        ]
        return (kept.serial, kept.day, kept.state, *cells)

    titles = (
        *columns("serial=Record", "day=Date", "standing=State"),
        *(Column(name, FIELDS[name].words.removeprefix("the ")) for name, _ in fields),
    )
    codes = {name: FIELD_CODES.get(name, name[:2].title()) for name, _ in fields}
    return Table("completeness", "Completeness", titles, Told(tuple(found.kept), words), codes=codes)


def deviations_table(found: Gathered) -> Table:
    """Return what was sealed as applied, why, and who signed."""
    titles = columns(
        "serial=Record",
        "date=Date",
        "broken=What was broken",
        "reason=Reason",
        "signed_by=Signed by",
        "licence=Licence",
    )
    return Table("deviations", "Deviations and who signed for them", titles, tuple(found.deviations))


def findings_table(found: Gathered) -> Table:
    """Return what stopped a record, asked, or noted it as late, when it was sealed."""
    titles = columns(
        "serial=Record",
        "date=Date",
        "code=Finding",
        "severity=Weight",
        "message=What",
        "limit=Limit",
        "found=Found",
        "source=Source",
    )
    return Table("findings", "Findings at sealing that matter", titles, tuple(found.findings))


def revisions_table(revisions: Iterable[tuple[str, RevisionPart]]) -> Table:
    """Return every text of the records that were amended or voided."""
    rows = tuple(
        (serial, str(part.number), part.action, part.sealed_at, part.who, part.reason, change_words(part), part.seal)
        for serial, part in revisions
    )
    titles = columns(
        "serial=Record",
        "revision=Revision#",
        "action=What was done",
        "sealed_at=Sealed at",
        "who=By",
        "reason=Why",
        "changes=What changed",
        "seal=Seal",
    )
    return Table("revisions", "Amended and voided records, every text of them", titles, rows)


def licences_table(found: Gathered) -> Table:
    """Return who worked on which days under which licence."""
    rows = []
    for key, days in sorted(found.licences.items(), key=lambda item: (item[0].person.casefold(), item[0])):
        span = f"{key.first} to {key.last}" if key.last else "not recorded"
        licence = key.number or "none recorded"
        told = (key.person, key.role, licence, ", ".join(filter(None, (key.kind, key.state))), key.categories, span)
        rows.append((*told, _validity(key, days), str(days.total()), day_ranges(days)))
    titles = columns(
        "person=Person",
        "role=Part",
        "licence=Licence",
        "kind=Kind, state",
        "categories=Categories",
        "valid=Valid",
        "covered=All days covered",
        "records=Records#",
        "days=On these days",
    )
    return Table("licences", "Licences on the days of the work", titles, tuple(rows))


def _validity(key: LicenceKey, days: Mapping[str, int]) -> str:
    if not key.last:
        return "not known" if key.number else "NO LICENCE"
    outside = sorted(day for day in days if len(day) == 10 and not key.first <= day <= key.last)
    return f"NO: {day_ranges(outside)}" if outside else "yes"


def day_ranges(days: Iterable[str]) -> str:
    """Return days with runs folded: `2026-05-01 to 2026-05-05, 2026-05-09`."""
    runs: list[list[str]] = []
    last: date | None = None
    for text in sorted(set(days)):
        here = date.fromisoformat(text) if len(text) == 10 else None
        if here is not None and last is not None and (here - last).days == 1:
            runs[-1][1:] = [text]
        else:
            runs.append([text])
        last = here
    told = [" to ".join(run) for run in runs]
    if len(told) > MOST_DAYS:
        told = [*told[:MOST_DAYS], f"and {len(told) - MOST_DAYS} more"]
    return ", ".join(told)


def labels_table(found: Gathered) -> Table:
    """Return which label revisions the work was judged by."""
    rows = tuple(
        (name, registration or "not recorded", revision or "NOT RECORDED", str(len(serials)), serial_ranges(serials))
        for (name, registration, revision), serials in sorted(found.labels.items())
    )
    titles = columns(
        "product=Product",
        "registration=Registration number",
        "revision=Label revision",
        "records=Records#",
        "serials=Which",
    )
    return Table("labels", "Label revisions used", titles, rows)


def totals_table(found: Gathered) -> Table:
    """Return the season total of each active on each zone, with the days between visits."""

    def told() -> Iterator[tuple[str, ...]]:
        for key, uses in sorted(found.uses.items()):
            for year, of_year in sorted(_years(uses).items()):
                yield _total_words(key, year, of_year, found.zones.get(key[:2]))

    count = sum(len({use.day[:4] for use in uses}) for uses in found.uses.values())
    titles = columns(
        "site=Site",
        "zone=Zone",
        "active=Active ingredient",
        "basis=Counted as",
        "year=Year",
        "visits=Visits#",
        "pounds=Active, lb#",
        "zone_sq_ft=Zone, sq ft#",
        "lb_per_acre=lb/acre of zone#",
        "lb_per_1000=lb/1,000 sq ft of zone#",
        "least_days=Fewest days between#",
        "not_computable=Not computable#",
    )
    note = (
        "Of the whole calendar year in this book, records outside this packet included. Over the whole zone: a spot "
        "treatment puts more on its spots. One treatment of several zones is shared out by their treated areas."
    )
    return Table("active_totals", "Season total of each active on each zone", titles, Counted(count, told), note)


def _total_words(key: tuple[str, str, str, str], year: str, uses: list[Use], area: int | None) -> tuple[str, ...]:
    site, zone, active, basis = key
    pounds = [share(use) for use in uses]
    known = sum((one for one in pounds if one is not None), Fraction(0))
    unknown = sum(one is None for one in pounds)
    between = [gap for gap in _gaps(sorted({use.day for use in uses})) if gap is not None]
    return (
        site,
        zone,
        active,
        _basis(basis),
        year,
        str(len({use.serial for use in uses})),
        "" if unknown == len(pounds) else decimal(known, 4),
        "" if area is None else decimal(Fraction(area, NANO), 0),
        _per(known, area, ACRE, unknown),
        _per(known, area, THOUSAND, unknown),
        str(min(between)) if between else "",
        str(unknown) if unknown else "",
    )


def visits_table(found: Gathered) -> Table:
    """Return each visit that put an active on a zone, with the days since the one before."""
    for uses in found.uses.values():
        uses.sort(key=lambda use: (use.day, use.serial))

    def told() -> Iterator[tuple[str, ...]]:
        for key, uses in sorted(found.uses.items()):
            last = before = ""  # two products on one day are one visit
            for use in uses:
                if use.day != last:
                    before, last = last, use.day
                yield _visit_words(key, use, _days(before, use.day))

    titles = columns(
        "site=Site",
        "zone=Zone",
        "active=Active ingredient",
        "date=Date",
        "serial=Record",
        "pounds=Active, lb#",
        "sq_ft=Treated, sq ft#",
        "lb_per_acre=lb/acre#",
        "lb_per_1000=lb/1,000 sq ft#",
        "days=Days since the last#",
    )
    note = "The visit before is any in this book and year; area and rates are those of the ground treated."
    return Table(
        "active_visits", "Visits by zone and active", titles, Counted(sum(map(len, found.uses.values())), told), note
    )


def _visit_words(key: tuple[str, str, str, str], use: Use, days: int | None) -> tuple[str, ...]:
    site, zone, active, _ = key
    pounds = share(use)
    return (
        site,
        zone,
        active,
        use.day,
        use.serial,
        "" if pounds is None else decimal(pounds, 5),
        "" if use.treated is None else decimal(Fraction(use.treated, NANO), 0),
        "" if pounds is None else _per(pounds, use.treated, ACRE, 0),
        "" if pounds is None else _per(pounds, use.treated, THOUSAND, 0),
        "" if days is None else str(days),
    )


def share(use: Use) -> Fraction | None:
    """Return the pounds of an application that went onto one zone; None when they cannot be worked out."""
    if use.pounds is None:
        return None
    if use.treated is None or not use.area or use.treated == use.area:
        # One zone gets all of it; of several zones without areas nobody knows the shares.
        return Fraction(use.pounds, NANO) if use.treated == use.area else None
    return Fraction(use.pounds * use.treated, use.area * NANO)


def decimal(value: Fraction, places: int) -> str:
    """Return a value as decimal text, rounded once."""
    return fixed(value.numerator, value.denominator, places)


def _per(pounds: Fraction, area: int | None, over: int, unknown: int) -> str:
    if not area or unknown:
        return ""
    return decimal(pounds * over * NANO / area, 3 if over == ACRE else 4)


def _years(uses: Iterable[Use]) -> dict[str, list[Use]]:
    found: defaultdict[str, list[Use]] = defaultdict(list)
    for use in uses:
        found[use.day[:4]].append(use)
    return found


def _gaps(days: list[str]) -> list[int | None]:
    return [_days(before, after) for before, after in pairwise(days)]


def _days(before: str, after: str) -> int | None:
    if len(before) != 10 or len(after) != 10:
        return None
    return (date.fromisoformat(after) - date.fromisoformat(before)).days


def _basis(basis: str) -> str:
    return {"ae": "acid equivalent", "ai": "active ingredient"}.get(basis, basis)
