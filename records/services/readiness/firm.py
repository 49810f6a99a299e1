"""What the firm works under: its day, the packs it names, and those of the states it has sites in."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from typing import TYPE_CHECKING
from zoneinfo import ZoneInfo

from records.rules.packs import pack_ids, pack_on
from records.services.directory import Directory
from records.services.rulebook import Rulebook

if TYPE_CHECKING:
    from datetime import date, datetime, tzinfo

    from records.domain.people import Business
    from records.rules.pack import Pack
    from records.services.ports import Json, UnitOfWork

UTC_ZONE = "UTC"


@dataclass
class Firm:
    """The firm as the book knows it, at one moment."""

    work: UnitOfWork
    now: datetime

    @cached_property
    def directory(self) -> Directory:
        """The loaded documents."""
        return Directory(self.work.catalogue)

    @cached_property
    def rulebook(self) -> Rulebook:
        """The packs, the firm's own among them."""
        return Rulebook(self.work.catalogue)

    @cached_property
    def business(self) -> Business | None:
        """The firm; None before it is loaded."""
        found = self.directory.business()
        return None if found is None else found[0]

    @cached_property
    def zone(self) -> tzinfo:
        """The firm's zone."""
        return ZoneInfo(self.business.timezone if self.business else UTC_ZONE)

    @cached_property
    def today(self) -> date:
        """The firm's local day."""
        return self.now.astimezone(self.zone).date()

    @cached_property
    def sites(self) -> dict[str, Json]:
        """Every loaded site, as loaded, by id."""
        return {entry.id: entry.body for entry in self.work.catalogue.every("site")}

    @cached_property
    def states(self) -> frozenset[str]:
        """The states that the firm has sites in."""
        return frozenset(str(site.get("state") or "") for site in self.sites.values()) - {""}

    def zone_of(self, site: Json | None) -> tzinfo:
        """Return the zone of a site as loaded."""
        name = (site or {}).get("timezone")
        return ZoneInfo(name) if name else self.zone

    def packs_on(self, day: date) -> tuple[Pack, ...]:
        """Return the packs the firm works under on a day: those it names, and those of the states it has sites in."""
        names = () if self.business is None else self.business.packs
        named = (pack_on(name, day) or self.rulebook.overlay_on(name, day) for name in names)
        found = [pack for pack in named if pack is not None]
        others = (pack_on(key, day) for key in pack_ids() if key not in names)
        # Fertilizer law judges the work that it is about, and says nothing of how the firm keeps its other records.
        found += [
            pack
            for pack in others
            if pack is not None and pack.state and pack.state in self.states and pack.products != "fertilizer"
        ]
        return tuple(found)

    def names(self, pack: Pack) -> bool:
        """Tell whether the firm names a pack."""
        return self.business is not None and pack.id in self.business.packs

    def of_outline(self, packs: tuple[tuple[str, str], ...]) -> tuple[Pack, ...] | None:
        """Return the packs frozen in a record; None where they cannot be told without its body."""
        if packs not in self._known:
            body = {"packs": [{"id": key, "version": version} for key, version in packs]}
            self._known[packs] = self.rulebook.of_record(body, None) or None
        return self._known[packs]

    @cached_property
    def _known(self) -> dict[tuple[tuple[str, str], ...], tuple[Pack, ...] | None]:
        return {}
