"""Fertilizer on turf: how much of a nutrient, on which days and ground, how far from water, phosphorus only with cause.

The facts are those of packs that speak of fertilizer (`rules/fertilizer.py`). All that goes on a zone on one day is one
application, however many passes it took. What the law forbids stops, unless its text was not seen; it can be signed
for where it happened. Good practice is noted.
"""

from __future__ import annotations

from datetime import date
from fractions import Fraction
from functools import partial
from typing import TYPE_CHECKING, NamedTuple

from records.domain.ceilings import Load, Sum, add_months
from records.domain.findings import Code, Finding, Severity
from records.domain.nutrients import Analysis, NutrientUse, Weights, is_turf, season_of, share_text
from records.rules.fertilizer import ALLOWED
from records.rules.ground import breach, grounds, load_of

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator, Sequence

    from records.domain.visit import Line, Treatment, Visit
    from records.rules.context import Context
    from records.rules.fertilizer import Blackout, Fertilizer, NutrientLimit, Phosphorus, Setback
    from records.rules.ground import Ground
    from records.rules.pack import Pack, Source

ZERO = Fraction(0)
HARD = frozenset(
    {"hardscape", "driveway", "walk", "sidewalk", "patio", "pavement", "parking", "street", "road", "gravel"}
)


# A written amount is a reading: it may be half its last digit less, for which a limit gives way by 2 % at most.
WITHIN = "over only within the reading of the written amounts, so it does not count as over"


class Put(NamedTuple):
    """Nutrients that one application put on one zone, of the entry or of the past."""

    load: Load  # of the product
    weights: Weights | None  # of the whole application
    kind: str  # "plain", "enhanced" or "organic"
    slow: Fraction | None
    line: Line | None  # of the entry
    later: bool = False  # sealed before the product had an analysis: counted by the one in the book now


def check_nutrients(visit: Visit, context: Context) -> Iterator[Finding]:
    """Say where fertilizer goes against the law of the site's state."""
    day = visit.day
    laws = [(pack, pack.fertilizer) for pack in context.packs if pack.fertilizer is not None]
    if day is None or not laws:
        return
    told: set[tuple[Code, str, str]] = set()
    for pack, law in laws:
        for finding in _of_law(visit, context, day, pack, law):
            mark = (finding.code, finding.at, finding.message)
            if mark not in told:
                told.add(mark)
                yield finding


def _of_law(visit: Visit, context: Context, day: date, pack: Pack, law: Fertilizer) -> Iterator[Finding]:
    for ground in grounds(visit, context, day):
        fed = [(t, line, analysis) for t, line in ground.entry if (analysis := line.product.analysis) is not None]
        if not fed:
            continue
        if HARD.intersection(ground.zone.kind.lower().split()[:1]):
            for fact in law.hard[:1]:
                at, name = fed[0][0].at, fed[0][1].product.name
                message = f"{name} on {ground.zone.id} ({ground.zone.kind}): {fact.words}"
                yield _finding(Code.SETBACK, fact.source, pack, f"{at}.zones", message, found=ground.zone.kind)
        if not is_turf(ground.zone.kind):
            continue
        puts = [*_own(ground, fed), *_past(ground, context.nutrients)]
        for limit in law.limits:
            yield from _limited(limit, ground, puts, pack)
        for blackout in law.blackout:
            yield from _dark(blackout, ground, fed, puts, pack)
        for rule in law.phosphorus:
            yield from _phosphorus(rule, ground, fed, pack)
    for treatment in visit.treatments:
        yield from _of_treatment(treatment, pack, law)


def _finding(
    code: Code,
    source: Source,
    pack: Pack,
    at: str,
    message: str,
    *,
    sure: bool = True,
    severity: Severity | None = None,
    limit: str = "",
    found: str = "",
) -> Finding:
    weight = Severity.STOP if sure and source.status.binds else Severity.ASK
    return Finding(code, severity or weight, at, message, limit, found, f"{pack.id}: {source.cited}")


def _own(ground: Ground, fed: Sequence[tuple[Treatment, Line, Analysis]]) -> Iterator[Put]:
    for treatment, line, analysis in fed:
        load = load_of(line, treatment, ground)
        weights = None if load.value is None else analysis.of_base(load.value)
        yield Put(load, weights, analysis.kind or "plain", analysis.slow, line)


def _past(ground: Ground, uses: Iterable[NutrientUse]) -> Iterator[Put]:
    for use in uses:
        if use.zone != ground.zone.id:
            continue
        # The whole application is 1, and its nutrients are multiples of it.
        load = Load(use.serial, use.day, Fraction(1), partial(Fraction, use.low), use.area, use.treated)
        weights = use.weights
        slow = None
        if weights is not None and weights.soluble is not None and weights.n:
            slow = 1 - weights.soluble / weights.n
        yield Put(load, weights, use.kind or "plain", slow, None, use.later)


def _loads(puts: Iterable[Put], nutrient: str, *, most: bool) -> list[Load]:
    """Return loads of one nutrient: the most, or least, it may be where the slow-release share is not known."""
    found = []
    for put in puts:
        load, weights = put.load, put.weights
        if weights is None or load.value is None:
            found.append(load._replace(value=None))
            continue
        pounds = weights.of(nutrient)
        if pounds is None:
            pounds = weights.n if most else ZERO
        whole = load.value
        part = pounds / whole if whole else ZERO
        found.append(load._replace(value=pounds, low_of=partial(_part_of, load, part)))
    return found


def _part_of(load: Load, part: Fraction) -> Fraction:
    return load.low * part


def _sums(puts: Sequence[Put], limit: NutrientLimit, ground: Ground) -> tuple[Sum, Sum]:
    """Return what may count against a limit, and what surely does."""
    treated = [put.load.treated for put in puts if put.load.treated is not None]
    area = ground.area or max(treated, default=None)
    sure = [put for put in puts if not put.later and (limit.slow_below is None or put.slow is not None)]
    may, must = _loads(puts, limit.nutrient, most=True), _loads(sure, limit.nutrient, most=False)
    return Sum(tuple(may), area), Sum(tuple(must), area)


def _counts(limit: NutrientLimit, put: Put) -> bool:
    if limit.products and put.kind not in limit.products:
        return False
    return limit.slow_below is None or put.slow is None or put.slow < limit.slow_below


def _limited(limit: NutrientLimit, ground: Ground, puts: Sequence[Put], pack: Pack) -> Iterator[Finding]:
    if limit.turf and limit.turf != season_of(ground.zone.turf):
        return
    if limit.season is not None and not limit.season.holds(ground.day):
        return
    counted = [put for put in puts if _counts(limit, put)]
    within = [
        put
        for put in counted
        if (put.load.day == ground.day if limit.per == "application" else put.load.day.year == ground.day.year)
    ]
    mine = [put.line for put in within if put.line is not None]
    if not mine:
        return
    result, certain = _sums(within, limit, ground)
    if limit.ask:
        if result.is_possibly_over(limit.most.base):
            yield _asked(limit, result, mine[-1], ground, pack)
        return
    broken = breach([(date(ground.day.year, 1, 1), result, certain)], (limit.most,))
    span = "one application" if limit.per == "application" else f"the calendar year {ground.day.year}"
    if broken is not None:
        before = f" with {', '.join(broken.serials)}" if broken.serials else ""
        amount = limit.most.like(broken.value)
        tail = "" if broken.sure else _doubt(within, limit)
        message = (
            f"{limit.nutrient} on {ground.zone.id} comes to {amount} in {span}{before}; "
            f"{_who(pack, advice=limit.advice)} {limit.most}{tail}"
        )
        yield _finding(
            Code.OVER_NUTRIENT,
            limit.source,
            pack,
            mine[-1].at,
            message,
            sure=broken.sure,
            severity=Severity.NOTE if limit.advice else None,
            limit=f"{limit.most} in {span}",
            found=amount,
        )
    elif result.stacked > limit.most.base and not limit.advice:
        message = (
            f"{limit.nutrient} on {ground.zone.id} comes to {limit.most.like(result.stacked)} in {span}; "
            f"{_who(pack, advice=False)} {limit.most}: {WITHIN}"
        )
        found, most = limit.most.like(result.stacked), f"{limit.most} in {span}"
        yield _finding(
            Code.OVER_NUTRIENT,
            limit.source,
            pack,
            mine[-1].at,
            message,
            severity=Severity.NOTE,
            limit=most,
            found=found,
        )
    elif limit.per == "year" and result.unknown:
        message = (
            f"the yearly {limit.nutrient} on {ground.zone.id} could not be checked in full: "
            f"{result.unknown} application{'s' if result.unknown > 1 else ''} without a known area or weight"
        )
        yield _finding(Code.NOT_CHECKABLE, limit.source, pack, mine[-1].at, message, severity=Severity.NOTE)
    yield from _slow(limit, mine, pack)


def _asked(limit: NutrientLimit, result: Sum, line: Line, ground: Ground, pack: Pack) -> Finding:
    """Ask what a rule wants above some amount and nothing here can check."""
    amount = limit.most.like(result.stacked)
    message = (
        f"{limit.nutrient} of {line.product.name} on {ground.zone.id} comes to {amount} in one application; "
        f"{_who(pack, advice=False)} that only where {limit.ask}: look at its label, and confirm if so"
    )
    return _finding(
        Code.NOT_CHECKABLE,
        limit.source,
        pack,
        line.at,
        message,
        severity=Severity.ASK,
        limit=str(limit.most),
        found=amount,
    )


def _who(pack: Pack, *, advice: bool) -> str:
    if advice:
        return "good practice is at most"
    return f"the law of {pack.state} allows" if pack.state else "the rule allows"


def _doubt(puts: Sequence[Put], limit: NutrientLimit) -> str:
    if (limit.nutrient == "soluble N" or limit.slow_below is not None) and any(put.slow is None for put in puts):
        return ", unless enough of the nitrogen is slow-release: the product in the book does not say"
    if later := ", ".join(dict.fromkeys(put.load.serial for put in puts if put.later)):
        return f", with {later} by the analysis that was loaded after it was sealed: confirm if that was not its own"
    return ", if the treatments hit the same ground: confirm if they did not"


def _slow(limit: NutrientLimit, mine: Sequence[Line], pack: Pack) -> Iterator[Finding]:
    """Ask about nitrogen with too small a slow-release share: laws word that share of one application in many ways."""
    if limit.slow_least is None:
        return
    for line in mine:
        analysis = line.product.analysis
        if analysis is None or not analysis.n or analysis.slow is None or analysis.slow >= limit.slow_least:
            continue
        least = share_text(limit.slow_least)
        message = (
            f"{share_text(analysis.slow)} of the nitrogen of {line.product.name} is slow-release; the law wants at "
            f"least {least} of it: confirm if its text lets this application be"
        )
        yield _finding(
            Code.OVER_NUTRIENT,
            limit.source,
            pack,
            line.at,
            message,
            severity=Severity.ASK,
            limit=f"at least {least} slow-release",
            found=share_text(analysis.slow),
        )


def _holds(nutrients: tuple[str, ...], analysis: Analysis) -> bool:
    return not nutrients or not analysis.has.isdisjoint(nutrients)


def _dark(
    rule: Blackout,
    ground: Ground,
    fed: Sequence[tuple[Treatment, Line, Analysis]],
    puts: Sequence[Put],
    pack: Pack,
) -> Iterator[Finding]:
    if rule.who == "homeowner" or not rule.season.holds(ground.day):
        return
    lines = [line for _, line, analysis in fed if _holds(rule.nutrients, analysis)]
    if not lines:
        return
    if rule.above is not None:
        today = [put for put in puts if put.load.day == ground.day]
        put = Sum(tuple(_loads(today, "N", most=False)), ground.area)
        if not put.unknown and not put.is_possibly_over(rule.above.base):
            if put.stacked > rule.above.base:
                amount = rule.above.like(put.stacked)
                message = (
                    f"N on {ground.zone.id} on {ground.day} comes to {amount}; {_who(pack, advice=False)} "
                    f"{rule.above} from {rule.season.first} to {rule.season.last}: {WITHIN}"
                )
                at, limit = "started", f"{rule.above}, {rule.season}"
                yield _finding(
                    Code.BLACKOUT,
                    rule.source,
                    pack,
                    at,
                    message,
                    severity=Severity.NOTE,
                    limit=limit,
                    found=amount,
                )
            return
    names = ", ".join(dict.fromkeys(line.product.name for line in lines))
    what = f"more than {rule.above} N" if rule.above is not None else "this fertilizer"
    message = (
        f"{names} on {ground.zone.id} on {ground.day}: no {what.removeprefix('this ')} is put on turf from "
        f"{rule.season.first} to {rule.season.last}"
    )
    yield _finding(
        Code.BLACKOUT, rule.source, pack, "started", message, limit=f"not {rule.season}", found=str(ground.day)
    )


def _phosphorus(
    rule: Phosphorus, ground: Ground, fed: Sequence[tuple[Treatment, Line, Analysis]], pack: Pack
) -> Iterator[Finding]:
    for treatment, line, analysis in fed:
        if analysis.p2o5 <= (rule.above or ZERO) or _is_allowed(rule, treatment, analysis, ground.day):
            continue
        ways = " or ".join(ALLOWED[name] for name in rule.allowed) or "the law lets it"
        stale = ""
        if treatment.soil_test is not None and "soil_test" in rule.allowed:
            stale = f"; the soil test of {treatment.soil_test} is not one of the last {rule.test_years} years"
        message = (
            f"{line.product.name} ({analysis.text}) holds phosphorus, which goes on turf ({ground.zone.id}) only where "
            f"{ways}{stale}; write soil_test or turf_stage of the treatment where one holds"
        )
        limit = f"P2O5 at most {share_text(rule.above or ZERO)}"
        yield _finding(
            Code.OVER_NUTRIENT,
            rule.source,
            pack,
            line.at,
            message,
            limit=limit,
            found=f"P2O5 {share_text(analysis.p2o5)}",
        )


def _is_allowed(rule: Phosphorus, treatment: Treatment, analysis: Analysis, day: date) -> bool:
    if treatment.turf_stage in rule.allowed or analysis.kind in rule.allowed:
        return True
    test = treatment.soil_test
    if "soil_test" not in rule.allowed or test is None or test > day:
        return False
    return rule.test_years is None or add_months(test, 12 * rule.test_years) >= day


def _of_treatment(treatment: Treatment, pack: Pack, law: Fertilizer) -> Iterator[Finding]:
    """Say what is wrong with a whole treatment: its ground, and how near to water it came."""
    fed = [line for line in treatment.lines if line.product.analysis is not None]
    if not fed or not any(is_turf(zone.kind) for zone in treatment.zones):
        return
    names = ", ".join(dict.fromkeys(line.product.name for line in fed))
    for rule in law.ground:
        held = [line for line in fed if line.product.analysis and _holds(rule.nutrients, line.product.analysis)]
        if treatment.ground in rule.states and held:
            words = f" ({rule.words})" if rule.words else ""
            message = f"{names} on ground that is {treatment.ground}: the law bars it{words}"
            at = f"{treatment.at}.ground"
            yield _finding(Code.BLACKOUT, rule.source, pack, at, message, limit="open ground", found=treatment.ground)
    for setback in law.setback:
        if any(line.product.analysis and _holds(setback.nutrients, line.product.analysis) for line in fed):
            yield from _near(setback, treatment, names, pack)


def _near(rule: Setback, treatment: Treatment, names: str, pack: Pack) -> Iterator[Finding]:
    if treatment.turf_stage in rule.stages:
        return
    at = f"{treatment.at}.water_distance"
    kept = treatment.water_distance
    if kept is None:
        if not rule.advice:
            message = (
                f"how far {names} stayed from water is not recorded; where there is any, write water_distance: the law "
                f"keeps {rule.told()}"
            )
            yield _finding(Code.SETBACK, rule.source, pack, at, message, severity=Severity.NOTE)
        return
    wanted = rule.smaller if treatment.deflector and rule.smaller is not None else rule.distance
    if kept.base + kept.base_half >= wanted.base:
        return
    told = str(wanted)
    if treatment.deflector is None and rule.smaller is not None:
        told += f" ({rule.smaller} with a drop spreader, deflector or targeted liquid)"
    message = f"{names} went on {kept} from water; the law keeps it {told}"
    severity = Severity.ASK if rule.unless else None
    if rule.unless:
        message += f", unless {rule.unless}: confirm if so"
    if rule.advice:
        message, severity = f"{names} went on {kept} from water; good practice keeps {told}", Severity.NOTE
    yield _finding(Code.SETBACK, rule.source, pack, at, message, severity=severity, limit=str(wanted), found=str(kept))
