"""The treatments of sealed records, as those need them who ask what became of them."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from typing import TYPE_CHECKING

from records.domain.product import ProductKind
from records.domain.quantities import parse_area
from records.services.ports import Packet

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator
    from fractions import Fraction

    from records.services.ports import Json, StoredRevision, UnitOfWork


@dataclass(frozen=True, slots=True)
class Used:
    """One product line of a treatment, as frozen in its record."""

    product: str  # id; "" for a product without one (imported)
    name: str
    registration: str  # "" where there is none
    groups: tuple[str, ...]  # mode-of-action numbers of its actives
    kind: str  # one of `ProductKind`
    rate: str  # as recorded; "" where it is not known
    amount: str
    mix: str  # id of the load it came from
    label: Json | None
    lot: str = ""

    @property
    def is_adjuvant(self) -> bool:
        """Tell whether it only helps others."""
        return self.kind == ProductKind.ADJUVANT

    @property
    def is_weed_killer(self) -> bool:
        """Tell whether it is there for a weed: a pesticide, or one that federal law exempts."""
        return self.kind in {ProductKind.PESTICIDE, ProductKind.MINIMUM_RISK}


@dataclass(frozen=True, slots=True)
class Treated:
    """One treatment of a record that stands."""

    serial: str
    index: int  # its place in the visit, from 0
    day: date  # local; day 0 of what is counted after it
    site: str  # id
    address: str
    zones: tuple[str, ...]
    turf: tuple[str, ...]
    method: str
    targets: tuple[str, ...]
    area: Fraction | None  # sq ft
    is_estimate: bool  # whether the area is one
    extent: str  # where, in words; "" where the area says it
    applicator: str  # name
    customer: str  # name
    follow_up: date | None  # the day promised to look again
    plot: str  # "TRIAL/PLOT" of a trial; "" for other work
    used: tuple[Used, ...]
    is_voided: bool = False

    @property
    def killers(self) -> tuple[Used, ...]:
        """Return the products that are there for a weed."""
        return tuple(line for line in self.used if line.is_weed_killer)

    @property
    def key(self) -> tuple[str, ...]:
        """Return what was put out against weeds, as ids (or names) in order: what compares with what."""
        return tuple(sorted(line.product or line.name for line in self.killers))

    @property
    def name(self) -> str:
        """Return the same in words."""
        return " + ".join(sorted(line.name for line in self.killers))

    @property
    def groups(self) -> tuple[str, ...]:
        """Return the mode-of-action numbers of all that was put out, each once."""
        return tuple(dict.fromkeys(group for line in self.killers for group in line.groups))


def treatments_of(revision: StoredRevision) -> Iterator[Treated]:
    """Yield the treatments of a record; a month's total has none."""
    body = revision.body
    if body["kind"] != "visit" or body["date"] is None:
        return
    site, person, customer = body["site"] or {}, body["applicator"] or {}, body["customer"] or {}
    promised = body.get("follow_up")
    for index, treatment in enumerate(body["treatments"]):
        yield Treated(
            serial=revision.serial,
            index=index,
            day=date.fromisoformat(body["date"]),
            site=site.get("id") or "",
            address=site.get("address") or "",
            zones=tuple(zone["id"] for zone in treatment["zones"]),
            turf=tuple(dict.fromkeys(turf for zone in treatment["zones"] for turf in zone.get("turf") or ())),
            method=treatment["method"] or "",
            targets=tuple(treatment["targets"]),
            area=None if treatment["area"] is None else parse_area(treatment["area"]).to("sq ft"),
            is_estimate=treatment["area_source"] == "estimated",
            extent=treatment.get("extent") or "",
            applicator=person.get("name") or "",
            customer=customer.get("name") or "",
            follow_up=None if not promised else date.fromisoformat(promised),
            plot=treatment.get("plot") or "",
            used=tuple(_used(line) for line in treatment["applications"]),
            is_voided=revision.action == "voided",
        )


def _used(line: Json) -> Used:
    product = line["product"]
    return Used(
        product=product["id"] or "",
        name=product["name"] or "",
        registration=product["registration"] or "",
        groups=tuple(dict.fromkeys(str(active["group"]) for active in product["actives"] if active.get("group"))),
        kind=product["kind"],
        rate=line["rate"] or "",
        amount=line["amount"] or "",
        mix=line.get("mix") or "",
        label=line["label"],
        lot=line.get("lot") or "",
    )


def latest_of(work: UnitOfWork, serials: Iterable[str]) -> dict[str, StoredRevision]:
    """Return the latest revision of each record, voided ones too; those that are not there are left out."""
    wanted = list(dict.fromkeys(serials))
    found: dict[str, StoredRevision] = {}
    for revision in work.records.all_revisions(wanted):
        found[revision.serial] = revision
    return found


def treated_since(work: UnitOfWork, since: date, until: date, site: str | None = None) -> list[Treated]:
    """Return the treatments of records that stand, by day, then order of sealing.

    Args:
        work: a unit of work.
        since: first day.
        until: last day.
        site: id; None: any.
    """
    wanted = Packet(since=since, until=until, sites=frozenset({site}) if site else frozenset())
    orders = [match.order for match in work.records.matching(wanted)]
    return [
        treated
        for revision in work.records.bodies(orders)
        if revision.action != "voided"
        for treated in treatments_of(revision)
    ]
