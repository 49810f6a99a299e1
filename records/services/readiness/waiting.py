"""What waits for somebody: held entries and reports, licences that end, people who were to be told."""

from __future__ import annotations

from datetime import datetime, timedelta
from typing import TYPE_CHECKING

from records.domain.report_model import one_line
from records.rules.due import Timed, completion
from records.services.readiness.model import Cited, Gap, rules_of

if TYPE_CHECKING:
    from collections.abc import Iterator

    from records.rules.pack import Pack
    from records.services.ports import HeldEntry, Json
    from records.services.readiness.firm import Firm

_YEARS = range(1900, 2200)  # what was typed may be any year there is
OLD = timedelta(days=14)  # where no rule sets a time: the longest that one was seen to give (7 CFR 110.3)
_NO_CLOCK = Cited(
    "", "no rule that was read sets a time; 14 days are the longest seen (7 CFR 110.3)", "common practice"
)


def held(firm: Firm) -> Iterator[Gap]:
    """Yield what is still held: past its packs' time to finish a record, still in time, or under no clock."""
    for entry in firm.work.held.open():
        work = _work_of(entry, firm)
        timed = completion(_packs_of(entry.document, work, firm), work)
        binding = [one for one in timed if one.clock.source.status.binds]
        if binding:
            kind = "held" if binding[0].due < firm.now else "held-young"
        else:
            kind = "held" if firm.now - work > OLD else "held-open"
        yield _held(entry, work, next(iter(binding or timed), None), kind, has_clock=bool(binding))


def _held(entry: HeldEntry, work: datetime, first: Timed | None, kind: str, *, has_clock: bool) -> Gap:
    codes = dict.fromkeys(finding["code"] for finding in entry.findings if finding["severity"] != "note")
    site = entry.document.get("site")
    where = one_line(site) if isinstance(site, str) and site else "no site"
    was = "was" if kind == "held" else "is"
    until = "" if first is None else f"; {was} to be finished by {first.due:%Y-%m-%d %H:%M}"
    rules = () if first is None else rules_of([(first.pack, first.clock.source)])
    return Gap(
        kind,
        entry.number,
        f"{work:%Y-%m-%d}",
        f"{where}: held for {', '.join(codes) or 'a signature'}{until}",
        rules if has_clock else (*rules, _NO_CLOCK),
        f"swathbook held correct {entry.number} --ask",
    )


def _work_of(entry: HeldEntry, firm: Firm) -> datetime:
    """Return when the work ended as typed; where that cannot be read, when it was first held."""
    site = entry.document.get("site")
    zone = firm.zone_of(firm.sites.get(site) if isinstance(site, str) else None)
    for key in ("finished", "started"):
        try:
            moment = datetime.fromisoformat(str(entry.document.get(key) or "").strip())
        except ValueError:
            continue
        if moment.year in _YEARS:
            return moment.replace(tzinfo=zone) if moment.tzinfo is None else moment.astimezone(zone)
    return entry.at.astimezone(zone)


def _packs_of(document: Json, work: datetime, firm: Firm) -> tuple[Pack, ...]:
    """Return the packs that would judge an entry, as far as what was typed can be understood."""
    if firm.business is None:
        return ()
    site = document.get("site")
    state = firm.sites.get(site, {}).get("state") if isinstance(site, str) else None
    products = [firm.directory.document("product", key) or {} for key in _products(document)]
    return firm.rulebook.for_work(
        firm.business,
        state or firm.business.state,
        work.date(),
        has_restricted=any(product.get("restricted_use") for product in products),
        has_fertilizer=any(product.get("analysis") for product in products),
    )


def _products(document: Json) -> Iterator[str]:
    """Yield the product ids of an entry, which may hold anything anywhere."""
    treatments = document.get("treatments")
    for treatment in treatments if isinstance(treatments, list) else []:
        lines = treatment.get("products") if isinstance(treatment, dict) else None
        for line in lines if isinstance(lines, list) else []:
            key = line.get("product") if isinstance(line, dict) else None
            if isinstance(key, str):
                yield key
