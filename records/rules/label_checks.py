"""The label is the limit: ground, turf, method, target and rate of one application."""

from __future__ import annotations

from typing import TYPE_CHECKING

from records.domain.findings import Code, Finding, Severity
from records.domain.product import Force, PrintedRate, Use
from records.domain.quantities import Per, Rate, exceeds
from records.domain.visit import AreaSource, Evidence, Line, Treatment, Visit
from records.rules.label_match import Match, Matched, fold, match, source_of

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator, Sequence

    from records.rules.context import Context


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
        for zone_index, zone in enumerate(treatment.zones):
            matched = match(line.product.label, zone, treatment)
            found = (*_place(line, treatment, zone_index, matched), *_rates(line, treatment, matched))
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
    """Say where a target is not named on the label.

    A note, as FIFRA section 2(ee)(1) allows it, unless the label forbids it.
    """
    for treatment in visit.treatments:
        listed_by: dict[str, list[str]] = {}
        for line in treatment.lines:
            if line.product.label is None:
                continue
            uses = _uses(line, treatment)
            named = {fold(target) for use in uses for target in use.targets}
            if not named:
                continue
            hit = [target for target in line.targets if fold(target) in named]
            for target in hit:
                listed_by.setdefault(fold(target), []).append(line.product.name)
            missed = [target for target in line.targets if fold(target) not in named]
            forced = bool(uses) and all(use.target_force is Force.MUST for use in uses if use.targets)
            if missed and (not hit or forced):
                yield _unlisted(line, treatment, missed, forced=forced)
                for target in missed:
                    listed_by.setdefault(fold(target), [])
        labelled = [line for line in treatment.lines if line.product.is_pesticide and line.product.label is not None]
        yield from _unlisted_anywhere(treatment, labelled, listed_by)


def _unlisted_anywhere(
    treatment: Treatment, labelled: list[Line], listed_by: dict[str, list[str]]
) -> Iterator[Finding]:
    if not labelled or any(not _named(line, treatment) for line in labelled):
        return
    for index, target in enumerate(treatment.targets):
        if fold(target) not in listed_by:
            message = (
                f"no label of this treatment names {target}; allowed federally unless a label or the state forbids it"
            )
            at = f"{treatment.at}.targets[{index}]"
            yield Finding(Code.TARGET_NOT_LISTED, Severity.NOTE, at, message, "", target, "FIFRA section 2(ee)(1)")


def _named(line: Line, treatment: Treatment) -> bool:
    return any(use.targets for use in _uses(line, treatment))


def _unlisted(line: Line, treatment: Treatment, missed: list[str], *, forced: bool) -> Finding:
    names = ", ".join(missed)
    if forced:
        message = f"the label of {line.product.name} allows only the targets it names, and {names} is not one"
        return Finding(
            Code.TARGET_NOT_LISTED,
            Severity.STOP,
            f"{treatment.at}.targets",
            message,
            "",
            names,
            source_of(line.product),
        )
    message = (
        f"the label of {line.product.name} does not name {names}; "
        "allowed federally unless the label or the state forbids it"
    )
    return Finding(
        Code.TARGET_NOT_LISTED, Severity.NOTE, f"{treatment.at}.targets", message, "", names, "FIFRA section 2(ee)(1)"
    )


def _uses(line: Line, treatment: Treatment) -> list[Use]:
    assert line.product.label is not None  # noqa: S101 - asked for labelled lines only
    found: list[Use] = []
    for zone in treatment.zones:
        found.extend(use for use in match(line.product.label, zone, treatment).uses if use not in found)
    return found


def uses_for(line: Line, treatment: Treatment) -> list[Use]:
    """Return the use lines that speak about this application, those naming one of its targets first."""
    if line.product.label is None:
        return []
    wanted = {fold(target) for target in line.targets}
    return sorted(_uses(line, treatment), key=lambda use: not (wanted & {fold(t) for t in use.targets}))


def _rates(line: Line, treatment: Treatment, matched: Matched) -> Iterator[Finding]:
    if matched.verdict is not Match.LISTED:
        return
    uses = matched.uses
    wanted = {fold(target) for target in line.targets}
    naming = [use for use in uses if wanted & {fold(target) for target in use.targets}]
    uses = tuple(naming) or uses
    by_area = [[rate for rate in use.rates if rate.per is Per.AREA] for use in uses]
    by_spray = [[rate for rate in use.rates if rate.per is Per.SPRAY] for use in uses]
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
            yield _over(line, part, max(lists, key=lambda highs: max(high.base for high in highs)), estimated=estimated)
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
    judged = (any_area and line.per_area) or (any_spray and line.per_spray)
    if judged or (line.amount is None and line.rate is None):
        return
    what = (
        "its label prints no rate for this use" if not (any_area or any_spray) else "the area or the spray is not known"
    )
    severity = Severity.NOTE if treatment.is_spot and treatment.extent else Severity.ASK
    if not line.product.is_pesticide and not (any_area or any_spray):
        return
    yield Finding(
        Code.NOT_CHECKABLE,
        severity,
        line.at,
        f"the rate of {line.product.name} could not be checked: {what}",
        source=source_of(line.product),
    )


def _below(line: Line, uses: Sequence[Use], treatment: Treatment) -> Iterator[Finding]:
    """Say where less went on than the label's minimum: a note, unless the label forbids it."""
    for per, evidence in ((Per.AREA, line.per_area), (Per.SPRAY, line.per_spray)):
        if per is Per.SPRAY and not treatment.is_spot:
            continue
        if per is Per.AREA and treatment.area_source is AreaSource.ESTIMATED:
            continue
        lists = [[rate.low for rate in use.rates if rate.per is per and rate.low is not None] for use in uses]
        lows = [low for bases in lists for low in bases]
        if not evidence or not lows or not all(lists):
            continue
        part = evidence[0]
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
