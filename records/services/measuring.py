"""Works out the ground of a lawn from its figures, and keeps them with the zone of a site."""

from __future__ import annotations

import copy
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any
from zoneinfo import ZoneInfo

from records.domain.area import HOW, OffsetRule
from records.domain.figures import Figure, parse_figure, sum_of
from records.domain.loaded import suggestion
from records.domain.numerals import QuantityError
from records.domain.quantities import Quantity, format_number, to_decimal
from records.errors import InputError, UsageError
from records.rules.label_match import fold
from records.services.boundary import read_outline
from records.services.directory import Directory
from records.services.finding import read_day
from records.services.occasions import firm_of, person_of, site_of, words_of
from records.services.reading import read_site

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence
    from fractions import Fraction

    from records.clock import Clock
    from records.domain.loaded import Problem
    from records.domain.place import Site, Zone
    from records.services.ports import Json, OpenBook

WIDE_APART = 10  # per cent between the rules of one lawn from which it is said


@dataclass(frozen=True, slots=True)
class Ground:
    """Figures with what they make together."""

    figures: tuple[Figure, ...]
    area: Quantity

    @property
    def acres(self) -> str:
        """Return the whole in acres, to six decimals."""
        return format_number(self.area.to("acre"))

    def document(self) -> Json:
        """Return it as JSON."""
        return {
            "figures": [
                {
                    "figure": str(one),
                    "kind": one.kind,
                    "name": one.name or None,
                    "minus": one.minus,
                    "area": f"{shown_feet(one.area)} sq ft",
                    "rule": one.way if one.kind == "offsets" else None,
                    "rules": {rule: shown_feet(area) if area else None for rule, area in rules_of(one)} or None,
                }
                for one in self.figures
            ],
            "area": str(self.area),
            "acres": self.acres,
        }


@dataclass(frozen=True, slots=True)
class Kept:
    """What storing figures with a zone changed."""

    site: str
    zone: str
    version: int
    is_new: bool  # the zone was not there before
    before: str | None  # the area as it was
    after: str
    notes: tuple[str, ...] = ()  # words of a new zone that nothing else in the book has

    def document(self) -> Json:
        """Return it as JSON."""
        return {
            "site": self.site,
            "zone": self.zone,
            "version": self.version,
            "new": self.is_new,
            "before": self.before,
            "after": self.after,
            "notes": list(self.notes),
        }


@dataclass(frozen=True, slots=True)
class Taken:
    """How, when and by whom figures were taken, and of what, as typed."""

    site: str
    zone: str
    how: str | None = None
    on: str | None = None
    by: str | None = None
    kind: str | None = None  # of a new zone
    turf: tuple[str, ...] = ()


def shown_feet(area: Fraction) -> str:
    """Return an area in sq ft to a hundredth."""
    return format(to_decimal(area, 2), "f")


def measure(texts: Sequence[str], outline: tuple[str, bytes] | None = None) -> Ground:
    """Work out what figures make.

    Args:
        texts: of the figures.
        outline: name and content of a GeoJSON file; it comes first.

    Raises:
        UsageError: one of them cannot be read, or they make nothing together.
        InputError: the outline cannot be measured.
    """
    figures = [] if outline is None else [read_outline(outline[1], outline[0])]
    try:
        figures += [parse_figure(text) for text in texts]
        return Ground(tuple(figures), sum_of(figures))
    except QuantityError as error:
        raise UsageError(str(error)) from error


def rules_of(figure: Figure) -> list[tuple[str, Fraction | None]]:
    """Return what each rule makes of offsets, None where it cannot take them; empty for other figures."""
    if figure.kind != "offsets":
        return []
    found: list[tuple[str, Fraction | None]] = []
    for rule in OffsetRule:
        try:
            found.append((rule.value, figure.by_rule(rule)))
        except QuantityError:
            found.append((rule.value, None))
    return found


def apart(figure: Figure) -> int:
    """Return by how many per cent of the smallest the rules differ, in whole numbers."""
    areas = [area for _, area in rules_of(figure) if area is not None]
    return round((max(areas) - min(areas)) / min(areas) * 100) if areas else 0


def keep(book: OpenBook, ground: Ground, taken: Taken, clock: Clock) -> Kept:
    """Store figures with a zone, as a new version of its site; the area of the zone follows from them.

    Args:
        book: that holds the site.
        ground: the figures.
        taken: how, when, by whom, and of what.
        clock: for today.

    Raises:
        UsageError: how is missing or not known, or the day is none.
        NotFoundError: no such site or person.
        InputError: the site cannot be read with it.
    """
    how = (taken.how or "").strip().lower()
    if how not in HOW:
        raise UsageError(f"--how says how it was measured: {', '.join(HOW)}", "Such as --how wheel")
    with book.write() as work:
        directory = Directory(work.catalogue)
        business, _ = firm_of(directory)
        site, version = site_of(directory, taken.site)
        now = clock.now()
        today = now.astimezone(ZoneInfo(site.timezone or business.timezone)).date()
        on = read_day(taken.on) or today
        if taken.on is not None and taken.on.count("-") != 2:
            raise UsageError(f"--on {taken.on[:20]!r} is no single day", "Write it like 2026-05-14")
        if on > today:
            raise UsageError(f"--on {on} is after today, {today}", "Give the day of measuring")
        person_of(directory, taken.by, on, business.state)
        said: Json = {"how": how, "on": on.isoformat(), "figures": [str(one) for one in ground.figures]}
        if taken.by:
            said["by"] = taken.by
        body = copy.deepcopy(directory.document("site", site.id) or {})
        zone, is_new = _zone_of(body, site, taken)
        before = site.zone(zone["id"])
        zone["measured"] = said
        zone.pop("area", None)  # it follows from the figures
        after = _read(body, zone["id"])
        stored = work.catalogue.add("site", site.id, body, now)
        if stored != version:
            work.commit()
        notes = tuple(_strange(directory, site, taken)) if is_new else ()
    return Kept(site.id, zone["id"], stored, is_new, _area(before), str(after.area), notes)


def _strange(directory: Directory, site: Site, taken: Taken) -> Iterator[str]:
    """Yield the words of a new zone that no label and no other zone of the book has: labels are matched by them."""
    labels = [product.label for product in directory.products() if product.label is not None]
    others = [found[0] for key in directory.ids("site") if (found := directory.site(key)) is not None]
    zones = [zone for one in others for zone in one.zones if (one.id, zone.id) != (site.id, taken.zone)]
    kinds = {use.site for label in labels for use in label.uses} | {zone.kind for zone in zones}
    grasses = {
        grass for label in labels for use in label.uses for grass in (*use.turf, *use.sensitive, *use.not_tolerant)
    }
    grasses |= {grass for zone in zones for grass in zone.turf}
    for option, words, known in (("--kind", [taken.kind or ""], kinds), ("--turf", taken.turf, grasses)):
        for word in words:
            if word and fold(word) not in {fold(one) for one in known}:
                near = suggestion(word, sorted(known))
                told = (
                    f"{option} {word}: no label and no other zone of the book has that word; labels are matched by it"
                )
                yield f"{told}{'; ' + near if near else ''}"


def _area(zone: Zone | None) -> str | None:
    return None if zone is None or zone.area is None else str(zone.area)


def _zone_of(body: Json, site: Site, taken: Taken) -> tuple[Json, bool]:
    """Return the zone to write into, and whether it is new.

    Raises:
        UsageError: what a new zone needs is missing, or an old one is given it.
    """
    key = words_of(taken.zone, "--zone", 64)
    old: list[Any] = body["zones"]
    found = next((zone for zone in old if zone["id"].strip() == key), None)
    if found is not None:
        if taken.kind or taken.turf:
            raise UsageError(
                f"{site.id} has the zone {key} already; --kind and --turf are for a new one",
                "Its kind and turf are changed by loading the site again",
            )
        return found, False
    if not taken.kind:
        known = ", ".join(zone.id for zone in site.zones)
        raise UsageError(
            f"{site.id} has no zone {key[:40]!r}; it has {known}",
            "Name one of them, or make a new one: --kind turf --turf 'tall fescue'",
        )
    made: Json = {"id": key, "kind": taken.kind}
    if taken.turf:
        made["turf"] = list(taken.turf)
    old.append(made)
    return made, True


def _read(body: Json, key: str) -> Zone:
    """Return the zone as it will be read.

    Raises:
        InputError: it cannot be.
    """
    problems: list[Problem] = []
    site = read_site(body, problems)
    zone = None if site is None else site.zone(key)
    if zone is None:
        told = "; ".join(f"{one.where}: {one.what}" for one in problems[:3])
        raise InputError(f"the site cannot be stored: {told}", "Correct it, and load the site again")
    return zone
