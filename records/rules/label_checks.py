"""The label is the limit: ground, turf, method, target and rate of one application."""

from __future__ import annotations

from functools import lru_cache
from typing import TYPE_CHECKING

from records.domain.findings import Code, Finding, Severity
from records.domain.product import Force, Label, Limits, PrintedRate, Use
from records.domain.quantities import Per, Rate, exceeds
from records.domain.visit import AreaSource, Evidence, Line, Treatment, Visit
from records.rules.label_match import Match, Matched, fold, limits_of, match, match_ground, source_of

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator, Sequence

    from records.domain.place import Zone
    from records.rules.context import Context

NAMED = 5  # targets that one finding names


def lines(visit: Visit) -> Iterator[tuple[Treatment, Line]]:
    """Yield each product line with its treatment."""
    for treatment in visit.treatments:
        for line in treatment.lines:
            yield treatment, line


def check_label(visit: Visit, _context: Context) -> Iterator[Finding]:
    """Say where ground, turf, method, target or rate is not as the label allows."""
    for treatment, line in lines(visit):
        if line.product.label is None:
            if line.product.is_pesticide:
                yield Finding(
                    Code.NOT_CHECKABLE,
                    Severity.ASK,
                    f"{line.at}.product",
                    f"the book has no label of {line.product.name}, so nothing can be checked; load the label",
                )
            continue
        seen: set[tuple[str, str]] = set()
        judged: list[tuple[Use, ...]] = []  # zones under the same use lines have the same rates
        for zone_index, zone in enumerate(treatment.zones):
            matched = match(line.product.label, zone, treatment)
            found = [*_place(line, treatment, zone_index, matched)]
            if matched.verdict is Match.LISTED and matched.uses not in judged:
                judged.append(matched.uses)
                found.extend(_rates(line, treatment, matched))
            for finding in found:
                if (finding.code, finding.message) not in seen:
                    seen.add((finding.code, finding.message))
                    yield finding


def _place(line: Line, treatment: Treatment, zone_index: int, matched: Matched) -> Iterator[Finding]:
    zone, label, product = treatment.zones[zone_index], line.product.label, line.product
    assert label is not None  # noqa: S101 - the caller passes labelled lines only
    at, source = f"{treatment.at}.zones[{zone_index}]", source_of(product)
    if matched.verdict is Match.SITE:
        listed = ", ".join(dict.fromkeys(use.site for use in label.uses)) or "no site"
        message = f"{product.name} is not labelled for {zone.kind} ({zone.id}); its label lists {listed}"
        yield Finding(Code.SITE_NOT_LISTED, Severity.STOP, at, message, listed, zone.kind, source)
    elif matched.verdict in {Match.TURF, Match.NOT_TOLERANT}:
        species = matched.unlisted[0]
        listed = ", ".join(dict.fromkeys(name for use in label.uses for name in (*use.turf, *use.sensitive)))
        if matched.verdict is Match.TURF:
            message = f"{product.name} is not labelled for {species} ({zone.id}); its label lists {listed}"
            yield Finding(Code.TURF_NOT_LISTED, Severity.STOP, at, message, listed, species, source)
        else:
            message = f"the label of {product.name} names {species} ({zone.id}) as turf not to be treated"
            yield Finding(Code.TURF_SENSITIVE, Severity.STOP, at, message, listed, species, source)
    elif matched.verdict is Match.METHOD and treatment.method:
        methods = ", ".join(dict.fromkeys(method for use in matched.uses for method in use.method))
        message = f"the label of {product.name} does not allow {treatment.method} on {zone.kind}; it allows {methods}"
        yield Finding(
            Code.METHOD_NOT_ALLOWED, Severity.STOP, f"{treatment.at}.method", message, methods, treatment.method, source
        )
    for species in matched.sensitive:
        message = (
            f"the label calls {species} ({zone.id}) sensitive to {product.name}; look at the turf and the rate first"
        )
        yield Finding(Code.TURF_SENSITIVE, Severity.ASK, at, message, "", species, source)
    if matched.species_unknown:
        message = (
            f"the grass of zone {zone.id} is not in the book, so the turf list of {product.name} cannot be checked"
        )
        yield Finding(Code.NOT_CHECKABLE, Severity.ASK, at, message, "", "", source)


def check_targets(visit: Visit, _context: Context) -> Iterator[Finding]:
    """Say where a target is not named: a note, as FIFRA section 2(ee)(1) allows it, unless the label forbids it.

    In a can with two products each weed has to be one product's; it need not be on the other's label too.
    """
    for treatment in visit.treatments:
        named_by = [(line, _named(line, treatment)) for line in treatment.lines if line.product.label is not None]
        judged = [(line, named) for line, named in named_by if named]
        covered = {fold(target) for line, named in judged for target in line.targets if fold(target) in named}
        # A pesticide whose label names no target may be used against any.
        open_ended = any(not named and line.product.is_pesticide for line, named in named_by)
        told: set[str] = set()
        for line, named in judged:
            hit = any(fold(target) in named for target in line.targets)
            forced = all(use.target_force is Force.MUST for use in uses_for(line, treatment) if use.targets)
            missed = [
                target
                for target in line.targets
                if fold(target) not in named and not (hit and (open_ended or fold(target) in covered))
            ]
            if missed and (forced or not hit or not told.issuperset(missed)):
                told.update(missed)
                yield _unlisted(line, treatment, missed, forced=forced)


def _named(line: Line, treatment: Treatment) -> frozenset[str]:
    return frozenset(fold(target) for use in uses_for(line, treatment) for target in use.targets)


def _unlisted(line: Line, treatment: Treatment, missed: list[str], *, forced: bool) -> Finding:
    at = f"{treatment.at if line.targets == treatment.targets else line.at}.targets"
    more = f" and {len(missed) - NAMED} more" if len(missed) > NAMED else ""
    names = ", ".join(missed[:NAMED]) + more
    if forced:
        message = f"the label of {line.product.name} allows only the targets it names, and {names} is not one"
        return Finding(Code.TARGET_NOT_LISTED, Severity.STOP, at, message, "", names, source_of(line.product))
    message = (
        f"the label of {line.product.name} does not name {names}; "
        "allowed federally unless the label or the state forbids it"
    )
    return Finding(Code.TARGET_NOT_LISTED, Severity.NOTE, at, message, "", names, "FIFRA section 2(ee)(1)")


_Grounds = tuple[tuple[str, tuple[str, ...]], ...]  # kind and grasses of each zone


def uses_for(line: Line, treatment: Treatment) -> tuple[Use, ...]:
    """Return the use lines that speak about this application, those naming one of its targets first."""
    if line.product.label is None:
        return ()
    grounds = tuple([(zone.kind, zone.turf) for zone in treatment.zones])
    return _uses(line.product.label, grounds, treatment.method, line.targets)


def use_on(line: Line, treatment: Treatment, zone: Zone) -> Use | None:
    """Return the use line that speaks about this application on one of its zones, or None."""
    if line.product.label is None:
        return None
    return next(iter(_uses(line.product.label, ((zone.kind, zone.turf),), treatment.method, line.targets)), None)


def limits_on(line: Line, treatment: Treatment) -> list[Limits]:
    """Return the label limits of an application, once for each use line that its zones fall under."""
    if line.product.label is None:
        return []
    uses: list[Use | None] = []
    for zone in treatment.zones:
        use = use_on(line, treatment, zone)
        if use not in uses:
            uses.append(use)
    return [limits_of(line.product.label, use) for use in uses or [None]]


@lru_cache(maxsize=4096)
def _uses(label: Label, grounds: _Grounds, method: str, targets: tuple[str, ...]) -> tuple[Use, ...]:
    found: list[Use] = []
    for kind, turf in grounds:
        found.extend(use for use in match_ground(label, kind, turf, method).uses if use not in found)
    wanted = {fold(target) for target in targets}
    return tuple(sorted(found, key=lambda use: wanted.isdisjoint(map(fold, use.targets))))


@lru_cache(maxsize=4096)
def _naming(uses: tuple[Use, ...], targets: tuple[str, ...]) -> tuple[Use, ...]:
    """Return the use lines that name a target; all of them where none does."""
    wanted = {fold(target) for target in targets}
    return tuple(use for use in uses if not wanted.isdisjoint(map(fold, use.targets))) or uses


def highs_on(line: Line, treatment: Treatment, zone: Zone) -> list[Rate]:
    """Return the most per area that the label prints for an application on a zone, on every basis of every use."""
    if line.product.label is None:
        return []
    matched = match(line.product.label, zone, treatment)
    if matched.verdict is not Match.LISTED:
        return []
    by_use = [
        [rate.high for rate in use.rates if rate.per is Per.AREA and rate.high is not None]
        for use in _naming(matched.uses, line.targets)
    ]
    return [high for highs in by_use for high in highs] if all(by_use) else []


@lru_cache(maxsize=4096)
def _printed(uses: tuple[Use, ...], per: Per) -> list[list[PrintedRate]]:
    """Return the rates that use lines print on one kind of basis, line by line; not to be changed."""
    return [[rate for rate in use.rates if rate.per is per] for use in uses]


def _rates(line: Line, treatment: Treatment, matched: Matched) -> Iterator[Finding]:
    if matched.verdict is not Match.LISTED:
        return
    uses = _naming(matched.uses, line.targets)
    by_area, by_spray = _printed(uses, Per.AREA), _printed(uses, Per.SPRAY)
    estimated = treatment.area_source is AreaSource.ESTIMATED
    if any(by_area):
        yield from _against(line, line.per_area, by_area, estimated=estimated)
    elif any(by_spray) and treatment.is_spot:
        yield from _against_whole(line, treatment, estimated=estimated)
    spray_typed = line.rate is not None and line.rate.per is Per.SPRAY
    if any(by_spray) and (treatment.is_spot or spray_typed or not any(by_area)):
        yield from _against(line, line.per_spray, by_spray)
    yield from _unjudged(line, treatment, any_area=any(by_area), any_spray=any(by_spray))
    yield from _below(line, uses, treatment)


def _against(
    line: Line, evidence: Sequence[Evidence], printed: Iterable[list[PrintedRate]], *, estimated: bool = False
) -> Iterator[Finding]:
    """Compare with each use line's printed bases: over only when over on every basis of every line that applies."""
    lists = [[rate.high for rate in rates if rate.high is not None] for rates in printed if rates]
    if not lists or not all(lists):
        return
    for part in evidence:
        if all(all(exceeds(part.low, part.value, high.base) for high in highs) for highs in lists):
            typed = line.rate is not None and line.rate.per is Per.AREA and part.text == str(line.rate)
            most = max(lists, key=lambda highs: max(high.base for high in highs))
            yield _over(line, part, most, estimated=estimated and not typed)  # a typed rate needs no area to be over
            return


def _over(line: Line, part: Evidence, highs: list[Rate], *, estimated: bool, borrowed: bool = False) -> Finding:
    like = [high for high in highs if line.rate is not None and high.basis == line.rate.basis]
    limit = (like or highs)[0]
    others = [str(high) for high in highs if high is not limit]
    printed = " or ".join([str(limit), *others])
    found = (
        part.text
        if line.rate is not None and part.text == str(line.rate)
        else f"{part.text} = {limit.like(part.value)}"
    )
    if estimated:
        message = f"{line.product.name}: {found} is over the label's {printed}, if the estimated area is right"
    elif borrowed:
        message = (
            f"{line.product.name}: {found}; its spot directions give no rate per area, and its other directions allow "
            f"at most {printed}; check what the label says for spots"
        )
    else:
        message = f"{line.product.name}: {found} is over the label's maximum of {printed} for one application"
    severity = Severity.ASK if estimated or borrowed else Severity.STOP
    return Finding(Code.OVER_RATE, severity, part.at, message, printed, found, source_of(line.product))


def _against_whole(line: Line, treatment: Treatment, *, estimated: bool) -> Iterator[Finding]:
    """Compare spot work that has only a dose per gallon with what the label's other directions allow per area."""
    label = line.product.label
    assert label is not None  # noqa: S101 - asked for labelled lines only
    kinds = {fold(zone.kind) for zone in treatment.zones}
    highs = [
        rate.high
        for use in label.uses
        if fold(use.site) in kinds
        for rate in use.rates
        if rate.per is Per.AREA and rate.high is not None
    ]
    for part in line.per_area:
        if highs and all(exceeds(part.low, part.value, high.base) for high in highs):
            yield _over(line, part, highs, estimated=estimated, borrowed=True)
            return


def _unjudged(line: Line, treatment: Treatment, *, any_area: bool, any_spray: bool) -> Iterator[Finding]:
    """Say what of the label's rates could not be judged, unless what is lacking is told as missing."""
    if line.amount is None and line.rate is None:
        return
    described = treatment.is_spot and bool(treatment.extent)
    if (any_area and line.per_area) or (any_spray and line.per_spray):
        if not any_area or line.per_area or not described:
            return
        what = "the area is not known, so only the dose in the spray was"
        severity = Severity.NOTE
    elif any_area or any_spray:
        what, severity = "the area or the spray is not known", Severity.NOTE if described else Severity.ASK
    elif line.product.is_pesticide:
        what, severity = "its label prints no rate for this use", Severity.ASK
    else:
        return
    yield Finding(
        Code.NOT_CHECKABLE,
        severity,
        line.at,
        f"the rate of {line.product.name} could not be checked in full: {what}",
        source=source_of(line.product),
    )


def _below(line: Line, uses: Sequence[Use], treatment: Treatment) -> Iterator[Finding]:
    """Say where less went on than the label's minimum: a note, unless the label forbids it."""
    for per, evidence in ((Per.AREA, line.per_area), (Per.SPRAY, line.per_spray)):
        if per is Per.SPRAY and not treatment.is_spot:
            continue
        if per is Per.AREA and treatment.area_source is AreaSource.ESTIMATED:
            continue
        if not evidence:
            continue
        lists = [[rate.low for rate in rates if rate.low is not None] for rates in _printed(tuple(uses), per)]
        lows = [low for bases in lists for low in bases]
        if not lows or not all(lists):
            continue
        part = evidence[0]
        if any(part.value >= low.base for low in lows):
            continue
        high_reading = part.value + (part.value - part.low)
        if all(min(high_reading, part.value + low.base * 2 / 100) < low.base for low in lows):
            like = [low for low in lows if line.rate is not None and low.basis == line.rate.basis]
            limit = (like or lows)[0]
            must = all(use.minimum_force is Force.MUST for use in uses)
            message = f"{line.product.name}: {part.text} is below the label's minimum of {limit}; " + (
                "the label does not allow less" if must else "lawful, but it may not control the weed"
            )
            source = source_of(line.product) if must else "FIFRA section 2(ee)(2)"
            yield Finding(
                Code.BELOW_RATE,
                Severity.STOP if must else Severity.NOTE,
                part.at,
                message,
                str(limit),
                part.text,
                source,
            )
            return
