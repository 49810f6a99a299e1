"""Finds the label's use lines that speak about a treatment on a zone."""

from __future__ import annotations

from dataclasses import dataclass, fields, replace
from enum import StrEnum
from functools import lru_cache
from typing import TYPE_CHECKING

from records.domain.product import Label, Limits, Product, Use

if TYPE_CHECKING:
    from records.domain.place import Zone
    from records.domain.visit import Treatment


class Match(StrEnum):
    """How far the label speaks about a treatment on a zone."""

    LISTED = "listed"
    SITE = "site"  # the kind of ground is not listed
    TURF = "turf"  # the species is not listed
    NOT_TOLERANT = "not tolerant"  # the species is named as not to be treated
    METHOD = "method"  # the method is not allowed there


@dataclass(frozen=True, slots=True)
class Matched:
    """The verdict, the use lines that apply, and the species the label calls sensitive."""

    verdict: Match
    uses: tuple[Use, ...] = ()
    sensitive: tuple[str, ...] = ()
    unlisted: tuple[str, ...] = ()
    species_unknown: bool = False


@lru_cache(maxsize=8192)
def fold(text: str) -> str:
    """Return a name as it is compared: lower case, single blanks, no hyphens."""
    return " ".join(text.lower().replace("-", " ").split())


def _covers(use: Use, ground: str) -> bool:
    site, kind = fold(use.site), fold(ground)
    return site in {kind, "any"} or (site == "lawn" and kind == "turf")


def _species(use: Use, species: str) -> Match | None:
    """Return NOT_TOLERANT, LISTED or TURF for one species; None when sensitive."""
    name = fold(species)
    if name in map(fold, use.not_tolerant):
        return Match.NOT_TOLERANT
    if name in map(fold, use.sensitive):
        return None
    if not use.turf or name in map(fold, use.turf):
        return Match.LISTED
    return Match.TURF


def does_method(use: Use, method: str) -> bool:
    """Tell whether a use line allows a method; one without a method allows any."""
    wanted = fold(method)
    return not use.method or any(
        fold(m) == wanted or (wanted.startswith("spot") and fold(m).startswith("spot")) for m in use.method
    )


def match(label: Label, zone: Zone, treatment: Treatment) -> Matched:
    """Find the use lines for a zone, narrowing by ground, species and method in this order."""
    return match_ground(label, zone.kind, zone.turf, treatment.method)


@lru_cache(maxsize=4096)
def match_ground(label: Label, kind: str, turf: tuple[str, ...], method: str) -> Matched:
    """Find the use lines for a kind of ground, its grasses and a method: every check asks this, visit after visit."""
    uses = [use for use in label.uses if _covers(use, kind)]
    if not uses:
        return Matched(Match.SITE)
    sensitive: list[str] = []
    is_turf = fold(kind) == "turf"
    if is_turf:
        for species in turf:
            verdicts = [(use, _species(use, species)) for use in uses]
            good = [use for use, verdict in verdicts if verdict in {Match.LISTED, None}]
            if not good:
                bad = any(verdict is Match.NOT_TOLERANT for _, verdict in verdicts)
                return Matched(Match.NOT_TOLERANT if bad else Match.TURF, unlisted=(species,))
            allowed = [use for use in good if does_method(use, method)]
            if all(_species(use, species) is None for use in (allowed or good)):
                sensitive.append(species)
            uses = good
    species_unknown = is_turf and not turf and any(u.turf or u.sensitive or u.not_tolerant for u in uses)
    by_method = [use for use in uses if does_method(use, method)]
    if not by_method:
        return Matched(Match.METHOD, tuple(uses), tuple(sensitive), species_unknown=species_unknown)
    return Matched(Match.LISTED, tuple(by_method), tuple(sensitive), species_unknown=species_unknown)


def limits_of(label: Label, use: Use | None) -> Limits:
    """Return the label's limits with those of one use line put in their place."""
    if use is None or use.limits is None:
        return label.limits
    # The window of a use is its own or, where it names none, already the label's (services/reading/limits.py).
    given = {f.name: getattr(use.limits, f.name) for f in fields(Limits) if getattr(use.limits, f.name)}
    return replace(label.limits, **given)


def source_of(product: Product) -> str:
    """Return how a finding cites the label."""
    revision = product.label.revision if product.label else ""
    number = f" ({product.registration})" if product.registration else ""
    return f"label of {product.name}{number}, revision {revision}"
