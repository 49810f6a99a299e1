"""What fertilizer put on each zone, as a packet tells it: one row an application and zone, as the record was sealed."""

from __future__ import annotations

from fractions import Fraction
from typing import TYPE_CHECKING, NamedTuple

from records.domain.packet_model import Table
from records.domain.report_model import one_line
from records.services.closing.nutrient_body import number, weights_of
from records.services.inspecting.tables import columns, decimal
from records.services.inspecting.writing import LAST

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator

    from records.services.ports import Json

THOUSAND = 1000  # sq ft


class Fed(NamedTuple):
    """Nutrients that one application put on one zone, as texts."""

    site: str
    zone: str
    day: str
    serial: str
    product: str
    analysis: str
    n: str
    p2o5: str
    k2o: str
    treated: str


def fed(site: str, serial: str, day: str, body: Json) -> Iterator[Fed]:
    """Yield what a sealed record says of nutrients.

    Args:
        site: as the packet's other tables call it.
        serial: of the record.
        day: of the work.
        body: as sealed.
    """
    for treatment in body["treatments"]:
        for line in treatment["applications"]:
            if not line.get("nutrients"):
                continue
            product, weights, area = line["product"], weights_of(line), number(line.get("area"))
            each = weights.over(area / THOUSAND) if weights is not None and area else None
            told = [decimal(one, 3) for one in each[:3]] if each is not None else [""] * 3
            name = one_line(product.get("name")) or one_line(product.get("id"))
            for zone in treatment.get("zones") or [{}]:
                where = one_line(zone.get("name")) or one_line(zone.get("id")) or "-"
                treated = number(zone.get("treated"))
                ground = "" if treated is None else decimal(Fraction(treated), 0)
                grade = one_line(product.get("analysis"))
                yield Fed(site, where, day, serial, name, grade, told[0], told[1], told[2], ground)


def nutrients_table(rows: Iterable[Fed]) -> Table:
    """Return the nutrients of every application on every zone."""
    titles = columns(
        "site=Site",
        "zone=Zone",
        "date=Date",
        "serial=Record",
        "product=Product",
        "analysis=Analysis",
        "n_per_1000=N, lb/1,000 sq ft#",
        "p2o5_per_1000=P2O5, lb/1,000 sq ft#",
        "k2o_per_1000=K2O, lb/1,000 sq ft#",
        "sq_ft=Treated, sq ft#",
    )
    note = (
        "Over the ground treated, by the analysis sealed with each record; empty where weight or area is not known. "
        "What was sealed without an analysis is not in it."
    )
    return Table(LAST, "Nutrients by zone", titles, tuple(sorted(rows)), note)
