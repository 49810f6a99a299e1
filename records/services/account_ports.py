"""What the mix account, stock and cost need of the sealed records, as a Protocol.

All of it counts the latest revision of each record, and none that was voided. Amounts are whole billionths of the unit
beside them, so that sums are exact.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple, Protocol

if TYPE_CHECKING:
    from collections.abc import Sequence

__all__ = ["Account", "LotUse", "MixSum", "MixUse", "Spent", "Used"]


class MixUse(NamedTuple):
    """One product line of a stop that took its share of a load."""

    mix: str
    order: int  # of the revision
    serial: str
    started: str | None  # UTC
    day: str | None
    site: str | None
    address: str | None
    treatment: int
    line: int
    product: str | None
    lot: str | None
    amount: str | None


class MixSum(NamedTuple):
    """What all stops together took of one product out of one load, in one unit."""

    mix: str
    product: str | None
    unit: str | None
    lines: int
    amount_nano: int


class Used(NamedTuple):
    """What went out of one product and lot with one label revision, in one unit."""

    product: str | None
    registration: str | None
    name: str | None  # of what has no id
    lot: str | None
    label: str | None  # revision that the record froze
    unit: str | None
    first: int  # order of the first record
    uses: int
    amount_nano: int
    no_amount: int  # uses without an amount


class Spent(NamedTuple):
    """The same for a cost: by whatever it is told for."""

    key: str | None  # serial, product, site or month
    product: str | None
    registration: str | None
    lot: str | None
    unit: str | None
    day: str
    uses: int
    amount_nano: int
    no_amount: int
    area_nano: int  # of these applications
    ground_nano: int  # of the treatments whose first line stands here: each treated area once
    no_area: int
    address: str | None  # of the visit, where it is told for one


class Laid(NamedTuple):
    """One application as its price and its ground go: several of one treatment share it."""

    key: str | None  # serial, product, site or month
    revision: int
    treatment: int
    line: int
    product: str | None
    registration: str | None
    lot: str | None
    unit: str | None
    day: str
    no_amount: int
    area_nano: int


class LotUse(NamedTuple):
    """One application of a product whose order counts: by the start of its stop."""

    serial: str
    started: str | None
    day: str
    treatment: int
    line: int
    product: str | None
    lot: str | None
    unit: str | None
    uses: int
    amount_nano: int
    site: str | None
    mix: str | None


class Account(Protocol):
    """Sums over sealed applications."""

    def of_mixes(self, mixes: Sequence[str]) -> list[MixUse]:
        """Return what was taken out of some loads, in the order of work."""

    def mix_sums(self) -> list[MixSum]:
        """Return what was taken out of every load, by product."""

    def used(self, product: str | None = None) -> list[Used]:
        """Return all that went out, by product, lot, label revision and unit."""

    def spent(self, per: str, since: str, until: str) -> list[Spent]:
        """Return what went out between two days, both included, by `visit`, `product`, `site` or `month`."""

    def laid(self, per: str, since: str, until: str) -> list[Laid]:
        """Return every application between two days, both included, with its treatment and its ground."""

    def lot_uses(self, product: str, lots: Sequence[str], since: str) -> list[LotUse]:
        """Return the applications of a product from a day on, oldest start first; of some lots where any are named."""

    def serial(self, order: int) -> str:
        """Return the serial of a revision by its place in the order of sealing; "" where there is none."""

    def addresses(self, since: str, until: str) -> dict[str, str]:
        """Return the addresses of the sites that were treated in a span of days."""
