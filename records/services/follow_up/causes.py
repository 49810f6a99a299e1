"""Why a treatment may have failed: the check list of the trade, each point with what the record says of it already.

Evidence, not guesses: a point that nobody wrote down is told as not recorded. The list is common practice: right weed,
right stage, rate really given, rain or watering or mowing too soon, heat or drought, mix fault, the same group again.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from datetime import date, datetime
from enum import StrEnum
from typing import TYPE_CHECKING

from records.domain.numerals import QuantityError
from records.domain.quantities import Form, parse_rate
from records.domain.weather import told_value
from records.rules.label_match import fold
from records.rules.rotation import REPEATS, row_of
from records.services.follow_up.group_history import visits_of
from records.services.notice_words import local_time
from records.services.stocking.entries import purchases
from records.services.weather_words import source_words

if TYPE_CHECKING:
    from collections.abc import Iterator

    from records.domain.follow_up import Look, Rating
    from records.domain.quantities import Rate
    from records.services.directory import Directory
    from records.services.follow_up.treated import Treated
    from records.services.ports import Json, UnitOfWork

_TOO_SOON = re.compile(r"\b(mow|water|irrigat|rain)", re.IGNORECASE)


class Says(StrEnum):
    """What a record says about a cause."""

    FOR = "points to it"
    AGAINST = "speaks against it"
    TOLD = "told"  # there is something to weigh
    UNKNOWN = "not recorded"


@dataclass(frozen=True, slots=True)
class Cause:
    """One point of the check list."""

    key: str
    question: str
    says: Says
    evidence: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Case:
    """What the check list looks at."""

    treated: Treated
    body: Json
    targets: tuple[str, ...]  # that are still there
    ratings: tuple[Rating, ...]  # of the treatment
    past: tuple[Treated, ...]  # of the site, until the day of the treatment, that one included
    look: Look
    day: date  # asked for

    @property
    def treatment(self) -> Json:
        """Return the treatment as frozen."""
        found: Json = self.body["treatments"][self.treated.index]
        return found

    @property
    def killers(self) -> list[Json]:
        """Return its lines against weeds, as frozen."""
        return [
            line for line in self.treatment["applications"] if line["product"]["kind"] in {"pesticide", "minimum-risk"}
        ]

    def findings(self, *codes: str) -> list[str]:
        """Return what closing found of these codes at this treatment."""
        place = f"treatments[{self.treated.index}]"
        return [
            finding["message"]
            for finding in self.body.get("findings") or []
            if finding["code"] in codes
            and (finding["at"].startswith(place) or not finding["at"].startswith("treatments"))
        ]


def causes_of(work: UnitOfWork, directory: Directory, case: Case) -> tuple[Cause, ...]:
    """Return the check list for a treatment that fell short."""
    return (
        _early(case),
        _weed(case),
        Cause(
            "stage",
            "The right stage of growth?",
            Says.UNKNOWN,
            ("growth stage is not recorded: ask who applied, and look at what stands now",),
        ),
        _rate(case),
        _rain(case),
        _weather(directory, case),
        _mix(work, directory, case),
        _group(case),
    )


def _early(case: Case) -> Cause:
    days, look = (case.day - case.treated.day).days, case.look
    told = [
        f"{days} days after the treatment",
        f"usual: {look.first.words}; {look.dead.words}{_status(look.dead.status)}",
    ]
    if days < look.days[0]:
        return Cause("early", "Too early to judge?", Says.FOR, (*told, f"first look is due {look.days[0]} days after"))
    if days < look.days[-1]:
        last = f"the last look is due {look.days[-1]} days after; more may die until then"
        return Cause("early", "Too early to judge?", Says.TOLD, (*told, last))
    return Cause("early", "Too early to judge?", Says.AGAINST, tuple(told))


def _status(status: str) -> str:
    return " (common practice)" if status == "memory" else ""


def _weed(case: Case) -> Cause:
    missed, told = [], []
    for line in case.killers:
        use = ((line.get("label") or {}).get("use")) or {}
        named = {fold(target) for target in use.get("targets") or ()}
        for target in case.targets:
            if named and fold(target) not in named:
                missed.append(f"the label of {line['product']['name']} does not name {target}")
            elif named:
                told.append(f"{target} is on the label of {line['product']['name']}")
    # A weed that one product of a mix is there for need not be on the other's label
    covered = {text.partition(" is on ")[0] for text in told}
    missed = [text for text in missed if text.partition("not name ")[2] not in covered]
    who = "how the weed was made out is not recorded: look again"
    return Cause("weed", "The right weed?", Says.FOR if missed else Says.UNKNOWN, (*missed, *told, who))


def _rate(case: Case) -> Cause:
    told, is_low, is_known = [], False, True
    for line in case.killers:
        name, rate = line["product"]["name"], line.get("rate")
        printed = (((line.get("label") or {}).get("use")) or {}).get("rates") or []
        label = f"; label {', '.join(printed)}" if printed else "; no label rate is recorded"
        is_known = is_known and bool(rate and printed)
        where = _place(rate, printed, line["product"].get("form"))
        is_low = is_low or where.startswith("the label's lowest")
        told.append(f"{name}: {rate or 'rate not recorded'}{f', {where}' if where else ''}{label}")
    low = case.findings("below-rate", "unlikely-amount", "disagree")
    if case.treated.is_estimate:
        told.append("the area is an estimate, and so is a rate by area")
    if case.treated.area is None:
        told.append(f"the area was not measured{f' ({case.treated.extent})' if case.treated.extent else ''}")
    says = Says.FOR if low else Says.TOLD if is_low or case.treated.is_estimate else Says.AGAINST
    if not is_known and says is Says.AGAINST:
        says = Says.UNKNOWN
    return Cause("rate", "The rate really given?", says, (*told, *low))


def _place(rate: str | None, printed: list[str], form: str | None) -> str:
    """Tell where a rate lies between the label's lowest and highest; "" where no basis is alike."""
    if not rate or form not in set(Form):
        return ""
    try:
        given = parse_rate(rate, Form(form))
    except QuantityError:
        return ""
    for text in printed:
        ends = _ends(text, Form(form))
        if ends is None or ends[1].basis != given.basis:
            continue
        low, high = ends
        if low is not None and given.base <= low.base:
            return "below the label's lowest" if given.base < low.base else "the label's lowest"
        if given.base >= high.base:
            return "over the label's highest" if given.base > high.base else "the label's highest"
        return "between the label's lowest and highest" if low is not None else "under the label's highest"
    return ""


def _ends(text: str, form: Form) -> tuple[Rate | None, Rate] | None:
    """Read a printed rate as records freeze it: `0.8 to 1.1 fl oz/1000 sq ft`, or the highest alone."""
    low, to, high = text.partition(" to ")
    try:
        top = parse_rate(high if to else low, form)
        unit = (high if to else low).strip().partition(" ")[2]
        return (parse_rate(low if low.strip().partition(" ")[2] else f"{low} {unit}", form) if to else None), top
    except QuantityError:
        return None


def _rain(case: Case) -> Cause:
    since = [f"{words} (told {one.day})" for one in case.ratings for words in one.since]
    lines = [text for line in case.killers for text in (line.get("label") or {}).get("precautions") or ()]
    asked = [f'the label: "{text}"' for text in dict.fromkeys(lines) if _TOO_SOON.search(text)]
    question = "Rain, watering or mowing too soon?"
    if since:
        return Cause("since", question, Says.TOLD, (*dict.fromkeys(since), *asked))
    none = "what happened since is not recorded; swathbook rate --since keeps it"
    return Cause("since", question, Says.UNKNOWN, (none, *asked))


def _weather(directory: Directory, case: Case) -> Cause:
    weather = case.body.get("weather") or {}
    told = []
    for key, words in (("temperature", "temperature"), ("wind_speed", "wind")):
        value, why = weather.get(key), (weather.get("not_measured") or {}).get(key)
        point = weather.get("wind_from") if key == "wind_speed" and value else None
        given = told_value(str(value)) + (f" from {point}" if point and point != "calm" else "") if value else ""
        told.append(f"{words} {given or ('not measured: ' + why if why else 'not recorded')}")
    if weather.get("source"):
        told.append(f"by {source_words(weather)}")
    over = case.findings("over-temperature", "over-wind", "drift-weather")
    limits = list(_limits(directory, case))
    is_told = any("drought" in words.lower() for one in case.ratings for words in one.since)
    drought = "" if is_told else "drought is not recorded"
    known = bool(weather.get("temperature") and weather.get("wind_speed"))
    says = Says.FOR if over else Says.TOLD if known else Says.UNKNOWN
    evidence = (", ".join(told), *over, *limits, drought)
    return Cause("weather", "Heat, drought or wind?", says, tuple(filter(None, evidence)))


def _limits(directory: Directory, case: Case) -> Iterator[str]:
    """Yield what the labels say of heat and wind, to compare with; records do not freeze limits, the book has them."""
    for used in case.treated.killers:
        product = directory.product(used.product) if used.product else None
        label = None if product is None else product.label
        if label is None:
            continue
        limits = label.limits
        parts = [f"not above {limits.temperature.value}"] if limits.temperature is not None else []
        parts += [f"wind at most {limits.wind.value}"] if limits.wind is not None else []
        is_same = (used.label or {}).get("revision") == label.revision
        if parts:
            yield f"the label of {used.name}{'' if is_same else f', now revision {label.revision}'}: {', '.join(parts)}"


def _mix(work: UnitOfWork, directory: Directory, case: Case) -> Cause:
    told, is_bad = [], False
    if case.treatment.get("spray"):
        told.append(f"{case.treatment['spray']} of spray put out")
    for line in case.killers:
        mix = line.get("mix")
        made = directory.mix(mix) if mix else None
        if mix:
            told.append(f"{line['product']['name']} out of load {mix}" + (_age(made[0].made_at, case) if made else ""))
    lots = [*_lots(work, case)]
    is_bad = any("past its day" in text for text in lots)
    faults = case.findings("adjuvant-missing", "partner-not-allowed", "calibration-stale")
    says = Says.FOR if faults or is_bad else Says.TOLD if lots or told else Says.UNKNOWN
    rest = () if told or lots or faults else ("load and lot are not recorded",)
    return Cause("mix", "A fault of the mix?", says, (*faults, *lots, *told, *rest))


def _age(made: str, case: Case) -> str:
    start = local_time(case.body.get("started"))
    try:
        moment = datetime.fromisoformat(made)
    except ValueError:
        return ""
    if start is None:
        return f", made up {made}"
    moment = moment.replace(tzinfo=start.tzinfo) if moment.tzinfo is None else moment
    hours = (start - moment).total_seconds() / 3600
    return f", made up {hours:.0f} h before" if 0 <= hours < 48 else f", made up {made[:10]}"


def _lots(work: UnitOfWork, case: Case) -> Iterator[str]:
    """Yield lots: whether past their day, and whether others than before on this site."""
    before: dict[str, str] = {}
    earlier = [one.serial for one in case.past if one.serial != case.treated.serial]
    for revision in work.records.all_revisions(list(dict.fromkeys(earlier))) if earlier else ():
        for treatment in revision.body["treatments"]:
            before |= {line["product"]["id"]: line["lot"] for line in treatment["applications"] if line.get("lot")}
    for line in case.killers:
        name, key, lot = line["product"]["name"], line["product"]["id"], line.get("lot")
        if not lot:
            yield f"{name}: lot not recorded"
            continue
        ends = [one.expires for one in purchases(work, key) if one.lot == lot and one.expires is not None]
        parts = [f"{name}: lot {lot}"]
        if ends and min(ends) < case.treated.day:
            parts.append(f"past its day, {min(ends)}, when it was used")
        if key in before and before[key] != lot:
            parts.append(f"another lot than here before ({before[key]})")
        yield ", ".join(parts)


def _group(case: Case) -> Cause:
    told, row = [], 0
    for zone in case.treated.zones:
        visits = visits_of(case.past, zone)
        for group in case.treated.groups:
            times = sum(group in groups for _, groups in visits)
            count = row_of(group, [groups for _, groups in visits])
            row = max(row, count)
            seen = f"group {group} on {zone}: {times} of {len(visits)} visits in this book"
            told.append(f"{seen}, {count} in a row" if count > 1 else seen)
    question = "Resistance (the same group again)?"
    if not told:
        return Cause("group", question, Says.UNKNOWN, ("the mode-of-action group is not recorded",))
    return Cause("group", question, Says.FOR if row >= REPEATS else Says.AGAINST, tuple(told))
