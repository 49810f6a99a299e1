"""Who may do this work on that day."""

from __future__ import annotations

from functools import lru_cache
from typing import TYPE_CHECKING

from records.domain.findings import Code, Finding, Severity
from records.domain.people import Licence, LicenceKind, Person

if TYPE_CHECKING:
    from collections.abc import Iterator
    from datetime import date

    from records.domain.visit import Visit
    from records.rules.context import Context
    from records.rules.pack import Pack

SOURCE = "licence data of the book"

# Category words that say in plain language which ground they cover. A licence with any other category (a state's
# number or letter code) is not judged by words.
_COVERED = {
    "turf": {"turf"},
    "lawn": {"turf"},
    "turfgrass": {"turf"},
    "ornamental": {"ornamental"},
    "ornamentals": {"ornamental"},
    "turf and ornamental": {"turf", "ornamental", "hardscape"},
    "turf and ornamentals": {"turf", "ornamental", "hardscape"},
    "ornamental and turf": {"turf", "ornamental", "hardscape"},
    "right-of-way": {"hardscape", "right-of-way"},
    "aquatic": {"pond", "water", "aquatic"},
    "agricultural": {"crop", "pasture"},
    "forest": {"forest"},
    "structural": {"structure", "building"},
}


@lru_cache(maxsize=4096)
def licences_on(person: Person, day: date, state: str) -> tuple[Licence, ...]:
    """Return the licences of a person that are valid on a day in a state, certified ones first."""
    order = [LicenceKind.CERTIFIED, LicenceKind.TECHNICIAN, LicenceKind.TRAINEE]
    valid = [licence for licence in person.licences if licence.is_valid_on(day) and licence.state == state]
    return tuple(sorted(valid, key=lambda licence: order.index(licence.kind)))


def licence_on(person: Person, day: date, state: str) -> Licence | None:
    """Return the best licence of a person that is valid on a day in a state, or None."""
    return next(iter(licences_on(person, day, state)), None)


def is_certified_on(person: Person, day: date, state: str) -> bool:
    """Tell whether a person holds a valid certified licence in a state on a day."""
    licence = licence_on(person, day, state)
    return licence is not None and licence.kind is LicenceKind.CERTIFIED


@lru_cache(maxsize=256)
def _sources(packs: tuple[Pack, ...], field: str, otherwise: str, *, is_supervised: bool = False) -> str:
    """Return the rules that ask for a licence or a supervisor, beside where the fact itself comes from.

    Some ask for the number of the certified person alone: of a supervised helper they ask none, and are not cited.
    """
    asking = [
        f"{pack.id}: {asked.source.cited}"
        for pack in packs
        for asked in pack.asked
        if field in asked.fields and not (is_supervised and "someone_else_applied" in asked.unless)
    ]
    return "; ".join((*dict.fromkeys(asking), otherwise))


def check_licences(visit: Visit, context: Context) -> Iterator[Finding]:
    """Say who lacked a valid licence of the right state on the day of the application."""
    day = visit.day
    if day is None or visit.site is None or not visit.has_pesticide:
        return
    for role, person in (("applicator", visit.applicator), ("supervisor", visit.supervisor)):
        if person is not None:
            is_supervised = role == "applicator" and visit.supervisor is not None
            field = "applicator_licence" if role == "applicator" else "supervisor"
            source = _sources(context.packs, field, SOURCE, is_supervised=is_supervised)
            yield from _licence(person, role, day, visit.site.state, source)


def _licence(person: Person, role: str, day: date, state: str, source: str) -> Iterator[Finding]:
    if licence_on(person, day, state) is not None:
        return
    here = [licence for licence in person.licences if licence.state == state]
    if not here:
        held = ", ".join(f"{licence.number} ({licence.state})" for licence in person.licences) or "none"
        yield Finding(
            Code.LICENCE_MISSING,
            Severity.STOP,
            role,
            f"{person.name} has no {state} licence in the book; load it, or name who holds one",
            limit=f"a licence of {state}",
            found=held,
            source=source,
        )
        return
    spans = ", ".join(f"{lic.number} from {lic.first_day} to {lic.last_day}" for lic in here)
    yield Finding(
        Code.LICENCE_LAPSED,
        Severity.STOP,
        role,
        f"no {state} licence of {person.name} was valid on {day}; load the renewed licence if there is one",
        limit=spans,
        found=day.isoformat(),
        source=source,
    )


def check_supervision(visit: Visit, context: Context) -> Iterator[Finding]:
    """Say where a certified person has to be named and is not."""
    day, person = visit.day, visit.applicator
    if day is None or person is None or visit.site is None or not visit.has_pesticide:
        return
    state = visit.site.state
    if licence_on(person, day, state) is None or is_certified_on(person, day, state):
        return
    if visit.supervisor is not None and is_certified_on(visit.supervisor, day, state):
        return
    restricted = [line.product.name for t in visit.treatments for line in t.lines if line.product.restricted_use]
    why = f"; {restricted[0]} is for restricted use" if restricted else ""
    lacking = "no supervisor is named" if visit.supervisor is None else f"{visit.supervisor.name} is not certified"
    licence = licence_on(person, day, state)
    yield Finding(
        Code.SUPERVISION,
        Severity.STOP,
        "supervisor",
        f"{person.name} works under supervision ({licence.kind if licence else 'unlicensed'}) and {lacking}{why}; "
        "name the certified person who answered for the work",
        limit="a certified supervisor",
        found="none" if visit.supervisor is None else visit.supervisor.name,
        source=_sources(
            context.packs,
            "supervisor",
            (
                "40 CFR 171.201"
                if restricted
                else "the licence in the book: technicians and trainees work under a certified person (common practice)"
            ),
        ),
    )


def check_category(visit: Visit, _context: Context) -> Iterator[Finding]:
    """Say where no category of the licence covers the kind of ground, as far as the words tell."""
    day = visit.day
    if day is None or visit.site is None or not visit.has_pesticide:
        return
    in_charge = visit.applicator
    if in_charge is not None and not is_certified_on(in_charge, day, visit.site.state):
        in_charge = visit.supervisor
    valid = () if in_charge is None else licences_on(in_charge, day, visit.site.state)
    licences = [licence for licence in valid if licence.kind is valid[0].kind]
    if in_charge is None or not licences or not all(licence.categories for licence in licences):
        return
    words = [" ".join(category.lower().split()) for licence in licences for category in licence.categories]
    if any(word not in _COVERED for word in words):
        return
    number = " and ".join(licence.number for licence in licences)
    covered = set().union(*(_COVERED[word] for word in words))
    for treatment in visit.treatments:
        for zone in treatment.zones:
            kind = zone.kind.split()[0] if zone.kind else ""
            if kind in {"turf", "ornamental", "pond", "crop", "forest", "structure"} and kind not in covered:
                yield Finding(
                    Code.LICENCE_CATEGORY,
                    Severity.STOP,
                    f"{treatment.at}.zones",
                    f"licence {number} of {in_charge.name} covers {', '.join(words)}, not {zone.kind}; "
                    "name who holds the category",
                    limit=", ".join(words),
                    found=zone.kind,
                    source=SOURCE,
                )
                return
