"""The modes of action that each zone of a lawn has seen, year by year, and where a group was used again and again."""

from __future__ import annotations

from collections import defaultdict
from dataclasses import dataclass, field
from typing import TYPE_CHECKING

from records.rules.label_match import fold
from records.rules.rotation import REPEATS, SOURCE, WHY, repeat_words, row_of
from records.services.follow_up.alone import overtaken_by

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator, Sequence
    from datetime import date
    from fractions import Fraction

    from records.services.follow_up.ratings import Rated
    from records.services.follow_up.treated import Treated
    from records.services.ports import Json


@dataclass(frozen=True, slots=True)
class Reached:
    """The last rating of one target of one treatment."""

    target: str
    control: Fraction | None  # per cent
    days: int  # after treatment
    rater: str
    after: str = ""  # what else was put on the same ground against it before that look; "" where it speaks alone


@dataclass(slots=True)
class GroupYear:
    """One mode of action on one zone in one year."""

    zone: str
    year: int
    group: str  # "" where the product names none
    products: list[str] = field(default_factory=list)
    serials: list[str] = field(default_factory=list)  # visits, each once
    targets: dict[str, list[Reached]] = field(default_factory=dict)  # by target, what was reached; empty: not rated


@dataclass(frozen=True, slots=True)
class Caution:
    """A group that was used again and again."""

    zone: str
    group: str
    count: int
    target: str  # "" for whatever it was used on
    words: str
    serials: tuple[str, ...]
    is_over: bool = False  # another group came since


@dataclass(frozen=True, slots=True)
class GroupHistory:
    """What one site has seen."""

    site: str
    years: tuple[GroupYear, ...]  # by zone, newest year first, then group
    cautions: tuple[Caution, ...]


def group_history(site: str, treatments: Sequence[Treated], rated: Sequence[Rated]) -> GroupHistory:
    """Return the group history of a site.

    Args:
        site: its id.
        treatments: of the site, by day.
        rated: its ratings, by day.
    """
    last = _last(treatments, rated)
    found: dict[tuple[str, int, str], GroupYear] = {}
    for treated in treatments:
        for zone in treated.zones:
            for line in treated.killers:
                for group in line.groups or ("",):
                    part = found.setdefault((zone, treated.day.year, group), GroupYear(zone, treated.day.year, group))
                    _add(part, treated, line.name, last)
    order = sorted(found.values(), key=lambda one: (one.zone, -one.year, _number(one.group)))
    return GroupHistory(site, tuple(order), tuple(cautions_of(treatments)))


def _last(treatments: Sequence[Treated], rated: Sequence[Rated]) -> dict[tuple[str, int, str], Reached]:
    """Return the last rating of each target of each treatment.

    One that was taken after something else came upon the same ground speaks of both: it counts only where there is no
    other, and says what came between.
    """
    against: defaultdict[str, list[Treated]] = defaultdict(list)
    for treated in treatments:
        if treated.killers:
            for target in treated.targets:
                against[fold(target)].append(treated)
    found: dict[tuple[str, int, str], Reached] = {}
    for one in rated:
        rating, key = one.rating, (one.rating.record, one.rating.treatment, fold(one.rating.target))
        if rating.control is None:
            continue
        other = overtaken_by(one, against[key[2]])
        if other is None:
            found[key] = Reached(rating.target, rating.control, rating.days, rating.rater)
        elif key not in found or found[key].after:
            found[key] = Reached(rating.target, rating.control, rating.days, rating.rater, other.name)
    return found


def _add(part: GroupYear, treated: Treated, product: str, last: dict[tuple[str, int, str], Reached]) -> None:
    if product not in part.products:
        part.products.append(product)
    if treated.serial not in part.serials:
        part.serials.append(treated.serial)
    for target in treated.targets:
        reached = last.get((treated.serial, treated.index, fold(target)))
        told = part.targets.setdefault(target, [])
        if reached is not None and reached not in told:
            told.append(reached)


def _number(group: str) -> tuple[int, str]:
    return (int(group), "") if group.isascii() and group.isdigit() else (999, group)


def visits_of(treatments: Iterable[Treated], zone: str) -> list[tuple[Treated, set[str]]]:
    """Return the visits of a zone that used a weed killer, the last first, each with the groups it used."""
    found: dict[str, tuple[Treated, set[str]]] = {}
    for one in treatments:
        if zone in one.zones and one.killers:
            found.setdefault(one.serial, (one, set()))[1].update(one.groups or ("",))
    return list(reversed(found.values()))


def cautions_of(treatments: Sequence[Treated]) -> Iterator[Caution]:
    """Yield where visits of a zone in a row all used one group, and where a target has seen one group in a row."""
    for zone in dict.fromkeys(zone for one in treatments for zone in one.zones):
        visits = [(one.serial, one.day, groups) for one, groups in visits_of(treatments, zone)]
        yield from _rows(zone, "", visits)
        yield from _on_targets(zone, treatments)


def _rows(zone: str, target: str, visits: Sequence[tuple[str, date, set[str]]]) -> Iterator[Caution]:
    """Yield the rows of one group that are worth a word: the present one, else the newest that is over.

    Args:
        zone: its id.
        target: that all the visits were against; "" for any.
        visits: serial, day and groups, the last first.
    """
    rows = [groups for _, _, groups in visits]
    where = f"{target} ({zone})" if target else zone
    for group in sorted(set().union(*rows), key=_number):
        starts = (index for index in range(len(rows)) if group and (index == 0 or group not in rows[index - 1]))
        place, count = next(
            ((start, count) for start in starts if (count := row_of(group, rows[start:])) >= REPEATS), (0, 0)
        )
        if count:
            words = repeat_words(group, where, count)
            if place:
                words = f"group {group} on {where} {count} times in a row until {visits[place][1]}; another group since"
            serials = tuple(serial for serial, _, _ in visits[place : place + count])
            yield Caution(zone, group, count, target, words, serials, bool(place))


def _on_targets(zone: str, treatments: Sequence[Treated]) -> Iterator[Caution]:
    by_target: defaultdict[str, list[Treated]] = defaultdict(list)
    names: dict[str, str] = {}
    for one in treatments:
        if zone in one.zones and one.killers:
            for target in one.targets:
                by_target[fold(target)].append(one)
                names.setdefault(fold(target), target)
    for key, used in sorted(by_target.items()):
        visits: dict[str, tuple[str, date, set[str]]] = {}
        for one in used:
            visits.setdefault(one.serial, (one.serial, one.day, set()))[2].update(one.groups)
        yield from _rows(zone, names[key], list(reversed(visits.values())))


def history_document(found: GroupHistory) -> Json:
    """Return a group history as JSON."""
    return {
        "site": found.site,
        "years": [
            {
                "zone": one.zone,
                "year": one.year,
                "group": one.group or None,
                "products": one.products,
                "times": len(one.serials),
                "records": one.serials,
                "targets": [
                    {
                        "target": target,
                        "ratings": [
                            {
                                "control": None if each.control is None else f"{float(each.control):.0f}",
                                "days": each.days,
                                "rater": each.rater,
                                "after": each.after or None,
                            }
                            for each in reached
                        ],
                    }
                    for target, reached in one.targets.items()
                ],
            }
            for one in found.years
        ],
        "cautions": [
            {
                "zone": one.zone,
                "group": one.group,
                "target": one.target or None,
                "times": one.count,
                "over": one.is_over,
                "words": one.words,
                "records": list(one.serials),
                "source": SOURCE,
            }
            for one in found.cautions
        ],
        "why": WHY,
    }
