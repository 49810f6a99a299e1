"""Which packs judge a record: those of its day for a visit being closed, those frozen in it for a sealed one."""

from __future__ import annotations

from datetime import date
from typing import TYPE_CHECKING

from records.rules.pack_reading import read_pack_table
from records.rules.packs import newest, packs_for, versions_of

if TYPE_CHECKING:
    from records.domain.loaded import Problem
    from records.domain.people import Business
    from records.rules.pack import Pack
    from records.services.ports import Catalogue, Json


class Rulebook:
    """The packs that come with the tool, and the firm's own out of the book."""

    def __init__(self, catalogue: Catalogue) -> None:
        """Look the firm's own packs up in this catalogue, for as long as its unit of work lasts."""
        self._catalogue = catalogue
        self._own: dict[str, tuple[Pack, ...]] = {}

    def overlays(self, key: str) -> tuple[Pack, ...]:
        """Return every loaded version of a firm's own pack, the newest first."""
        if key not in self._own:
            found: list[Pack] = []
            entry = self._catalogue.latest("pack", key)
            number = 0 if entry is None else entry.version
            while number > 0:
                entry = self._catalogue.version("pack", key, number)
                problems: list[Problem] = []
                pack = None if entry is None else read_pack_table(entry.body, problems, is_overlay=True)
                if pack is not None:
                    found.append(pack)
                number -= 1
            self._own[key] = tuple(found)
        return self._own[key]

    def overlay_on(self, key: str, day: date) -> Pack | None:
        """Return the newest loaded version of a firm's own pack that is in force on a day."""
        return next((pack for pack in self.overlays(key) if pack.is_in_force(day)), None)

    def pack(self, key: str) -> Pack:
        """Return the newest version of a pack, the tool's or the firm's own.

        Raises:
            RulePackError: no such pack.
        """
        own = self.overlays(key)
        return own[0] if own else newest(key)

    def for_work(
        self, business: Business, state: str, day: date, *, has_restricted: bool, has_fertilizer: bool = False
    ) -> tuple[Pack, ...]:
        """Return the packs that judge work of the firm in a state on a day."""
        return packs_for(
            business.packs,
            state,
            day,
            has_restricted=has_restricted,
            has_fertilizer=has_fertilizer,
            overlay=self.overlay_on,
        )

    def of_record(self, body: Json, business: Business | None) -> tuple[Pack, ...]:
        """Return the packs a sealed record was judged by, in the version frozen in it.

        A record that names none (an import), or a version that this tool no longer carries, is told by the packs that
        were in force on its own day.

        Args:
            body: of the record.
            business: the firm, whose packs count where the record names none.
        """
        frozen = [self._frozen(entry) for entry in body.get("packs") or []]
        if frozen and all(pack is not None for pack in frozen):
            return tuple(pack for pack in frozen if pack is not None)
        if business is None:
            return ()
        state = (body.get("site") or {}).get("state") or business.state
        products = [line["product"] for treatment in body["treatments"] for line in treatment["applications"]]
        return self.for_work(
            business,
            state,
            day_of(body),
            has_restricted=any(product.get("restricted_use") for product in products),
            has_fertilizer=any(product.get("analysis") for product in products),
        )

    def _frozen(self, entry: Json) -> Pack | None:
        key, version = str(entry.get("id")), str(entry.get("version"))
        return next((pack for pack in (*versions_of(key), *self.overlays(key)) if pack.version == version), None)


def day_of(body: Json) -> date:
    """Return the local day of a record; the first of its month where it is a month's total."""
    return date.fromisoformat(body["date"] or f"{body['period']}-01")
