"""Seals a look at what a treatment did: control, injury, cover, counts, what happened since, photos."""

from __future__ import annotations

import re
from dataclasses import dataclass
from datetime import date
from typing import TYPE_CHECKING
from zoneinfo import ZoneInfo

from records.domain.follow_up import BY_EYE, Counts, Rating, parse_percent
from records.domain.numerals import QuantityError, clean, split_number
from records.domain.quantities import parse_length
from records.errors import NotFoundError, UsageError
from records.services.directory import Directory
from records.services.events import append_event
from records.services.finding import normal_serial, read_day, revisions_of
from records.services.follow_up.notes import notes_of
from records.services.follow_up.ratings import rating_of, ratings
from records.services.follow_up.telling import counts_document, share_text
from records.services.follow_up.treated import Treated, treated_since, treatments_of
from records.services.logbook import Logged
from records.services.occasions import day_or_moment, firm_of, local, person_of, site_of, words_of

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence
    from datetime import datetime
    from fractions import Fraction

    from records.clock import Clock
    from records.domain.follow_up import Photo
    from records.services.ports import Json, OpenBook, StoredRevision, UnitOfWork

SIGNS = "+-.,%\u2212"  # that a number, or what was meant as one, begins with
LONG_AGO = 400  # days back in which the newest visit of a site is looked for


@dataclass(frozen=True, slots=True)
class Order:
    """A look as typed."""

    of: str  # serial of a record, or a site
    marks: Sequence[str]  # `80`, or `dandelion=80`, or `dandelion` where counts tell the control
    treatment: int | None = None  # from 1, as people count; None: the one that fits
    at: str | None = None
    by: str | None = None
    injury: str | None = None
    before: str | None = None
    cover: str | None = None
    count: str | None = None  # BEFORE:AFTER or :AFTER
    check: str | None = None  # of untreated ground, the same way
    since: Sequence[str] = ()  # words
    rain: str | None = None  # like 0.4 in
    mowed: str | None = None  # day
    watered: str | None = None  # day
    remark: str | None = None
    photos: Sequence[Photo] = ()


@dataclass(frozen=True, slots=True)
class Done:
    """What was sealed."""

    ratings: tuple[Rating, ...]
    treated: Treated
    notes: tuple[str, ...]


def rate(book: OpenBook, clock: Clock, order: Order, keep: Callable[[], None] | None = None) -> Done:
    """Seal one rating for each target named; all of them or none.

    Args:
        book: to write to.
        clock: for the present moment.
        order: the look as typed.
        keep: keeps the photos that the order names; called when all else is right, before anything is sealed.

    Raises:
        UsageError: something cannot be read, or it is not clear what is rated; all of it is told at once.
        NotFoundError: no such record, site or person.
    """
    now = clock.now()
    with book.write() as work:
        directory = Directory(work.catalogue)
        treatments = _candidates(work, directory, order, now)
        revision = work.records.revisions(treatments[0].serial)[-1]
        zone = ZoneInfo(revision.body["timezone"])
        moment = day_or_moment(order.at, "--on", zone, now)
        counts = _both(order.count, order.check)
        problems: list[str] = []
        marks = _marks(order, treatments, counts, problems)
        problems += _of_one_weed(order)
        shared = _shared(order, problems)
        for treated, _, _ in marks:
            if moment.date() < treated.day:
                problems.append(f"{moment:%Y-%m-%d} lies before the treatment of {treated.day}")
        problems += _check_since(order, treatments[0].day, moment.date())
        if problems:
            raise UsageError("; ".join(dict.fromkeys(problems)), "Nothing was written; correct it and type it again")
        state = (revision.body["business"] or {}).get("state") or ""
        person = person_of(directory, order.by, moment.date(), state)
        if keep is not None:
            keep()
        done = [
            _seal(work, revision, (treated, target, control), (counts, shared, order), moment, now, person)
            for treated, target, control in marks
        ]
        earlier = ratings(work, site=treatments[0].site, record=treatments[0].serial)
        work.commit()
    notes = notes_of(done, marks[0][0], [one.rating for one in earlier])
    return Done(tuple(done), marks[0][0], notes)


def _candidates(work: UnitOfWork, directory: Directory, order: Order, now: datetime) -> list[Treated]:
    """Return the treatments of the record named, or of the newest visit at the site named against those weeds."""
    serial = normal_serial(order.of)
    if re.fullmatch(r"\d{4}-\d+", serial, re.ASCII):
        revision = revisions_of(work.records.revisions(serial), order.of)[-1]
        if revision.action == "voided":
            raise UsageError(f"{serial} was voided", "Rate the record that stands in its place")
        found = [one for one in treatments_of(revision) if one.killers or one.targets]
        if not found:
            raise UsageError(f"{serial} holds no treatment against a weed", "Nothing is there to rate")
        return found
    site, _ = site_of(directory, order.of)
    today = now.astimezone(ZoneInfo(site.timezone or firm_of(directory)[0].timezone)).date()
    past = treated_since(work, date.fromordinal(today.toordinal() - LONG_AGO), today, site.id)
    visits: dict[str, list[Treated]] = {}  # the newest first
    for one in reversed(past):
        if one.killers:
            visits.setdefault(one.serial, []).insert(0, one)
    if not visits:
        raise NotFoundError(
            f"no weed was treated at {site.id} within {LONG_AGO} days",
            f"Name the record; swathbook find --site {site.id} shows the past",
        )
    named = [target for mark in order.marks if (target := _name_in(mark)[0])]
    every = [
        visit
        for visit in visits.values()
        if all(any(_matches(target, name) for one in visit for name in one.targets) for target in named)
    ]
    return (every or list(visits.values()))[0]


def _name_in(mark: str) -> tuple[str, str]:
    """Return the target of a mark, "" where it has none, and what is written behind it.

    What has no equals sign and does not begin like a number is a target: where plants were counted, its name is enough.
    """
    target, equals, written = mark.rpartition("=")
    if not equals and (name := mark.strip()) and not (name[0].isnumeric() or name[0] in SIGNS):
        target, equals, written = name, "=", ""
    return (" ".join(target.split()), written) if equals else ("", mark)


def _matches(wanted: str, name: str) -> bool:
    return wanted.casefold() in name.casefold()


def _marks(
    order: Order, treatments: list[Treated], counts: Counts | None, problems: list[str]
) -> list[tuple[Treated, str, Fraction | None]]:
    """Return treatment, target and control of each mark."""
    if order.treatment is not None:
        treatments = [one for one in treatments if one.index == order.treatment - 1]
        if not treatments:
            problems.append(f"--treatment {order.treatment}: the visit has no such treatment")
            return []
    found: list[tuple[Treated, str, Fraction | None]] = []
    for mark in order.marks or ("=",):
        target, written = _name_in(mark)
        fits = _fitting(target, treatments, problems)
        control: Fraction | None = None
        if written.strip():
            try:
                control = parse_percent(written, "control")
            except QuantityError as error:
                problems.append(str(error))
        elif counts is None and order.injury is None:
            problems.append(f"{mark!r:.40} has no per cent; write {target or 'dandelion'}=80, or give --count")
        if fits is not None:
            found.append((*fits, control))
    return found


def _fitting(target: str, treatments: list[Treated], problems: list[str]) -> tuple[Treated, str] | None:
    """Return the one treatment with that target; "" stands for the only one there is."""
    pairs = [(one, name) for one in treatments for name in one.targets]
    if target:
        fits = [pair for pair in pairs if pair[1].casefold() == target.casefold()] or [
            pair for pair in pairs if _matches(target, pair[1])
        ]
    else:
        fits = pairs
    if len(fits) == 1:
        return fits[0]
    told = ", ".join(
        dict.fromkeys(
            f"{name} (treatment {one.index + 1})" if len(treatments) > 1 else name for one, name in fits or pairs
        )
    )
    if not pairs:
        problems.append("the visit names no target; say what is rated: dandelion=80")
    elif not fits:
        problems.append(f"the visit was not against {target[:40]!r}; it was against {told}")
    elif target:
        problems.append(f"{target[:40]!r} fits {told}; add --treatment")
    else:
        problems.append(f"say which target: {told}, such as {fits[0][1]}=80")
    return None


def _both(count: str | None, check: str | None) -> Counts | None:
    """Read counts before and after, of treated and of untreated ground.

    Raises:
        UsageError: they cannot be read, or tell nothing.
    """
    if count is None:
        if check is not None:
            raise UsageError("--check without --count", "Give the counts of the treated ground as well: --count 40:6")
        return None
    before, after = pair_of_counts(count, "--count")
    check_before, check_after = (None, None) if check is None else pair_of_counts(check, "--check")
    counts = Counts(before, after, check_before, check_after)
    try:
        counts.control()
    except ValueError as error:
        given = f"--count {count[:20]!r}" + ("" if check is None else f", --check {check[:20]!r}")
        raise UsageError(f"{given}: {error}") from error
    return counts


def pair_of_counts(text: str, option: str) -> tuple[Fraction | None, Fraction]:
    """Read counts before and after, such as `40:6`, or `:6` where nobody counted before.

    Raises:
        UsageError: they cannot be read.
    """
    before, colon, after = text.partition(":")
    if not colon:
        raise UsageError(f"{option} {text[:20]!r} has no colon", "Write BEFORE:AFTER, such as 40:6")
    try:
        return (_count(before, option) if before.strip() else None), _count(after, option)
    except QuantityError as error:
        raise UsageError(
            f"{option} {text[:20]!r} cannot be read: {error}", "Write BEFORE:AFTER, such as 40:6"
        ) from error


def _count(text: str, option: str) -> Fraction:
    value, _, _, rest = split_number(clean(text, option, "40"), option, "40")
    if rest.strip():
        msg = f"{rest.strip()[:20]!r} stands behind the number"
        raise QuantityError(msg)
    return value


def _of_one_weed(order: Order) -> list[str]:
    """Return which figures are about one weed, where several are rated."""
    given = (("--before", order.before), ("--cover", order.cover), ("--count", order.count))
    names = ", ".join(name for name, text in given if text is not None)
    if len(order.marks) < 2 or not names:
        return []
    return [f"{names}: of which weed? Rate each on a line of its own"]


def _shared(order: Order, problems: list[str]) -> dict[str, Fraction | None]:
    """Return the other percentages, each None where it was not given."""
    found: dict[str, Fraction | None] = {}
    for name, option, text in (
        ("injury", "--injury", order.injury),
        ("cover_before", "--before", order.before),
        ("cover", "--cover", order.cover),
    ):
        found[name] = None
        if text is not None:
            try:
                found[name] = parse_percent(text, option)
            except QuantityError as error:
                problems.append(str(error))
    return found


def _seal(
    work: UnitOfWork,
    revision: StoredRevision,
    mark: tuple[Treated, str, Fraction | None],
    looked: tuple[Counts | None, dict[str, Fraction | None], Order],
    moment: datetime,
    now: datetime,
    person: Json | None,
) -> Rating:
    treated, target, control = mark
    counts, shared, order = looked
    way = BY_EYE if control is not None else ""
    if control is None and counts is not None:
        control, way = counts.control()
    data: Json = {
        "serial": treated.serial,
        "treatment": treated.index,
        "site": treated.site,
        "target": target,
        "days": (moment.date() - treated.day).days,
        "control": share_text(control),
        "way": way,
        **{name: share_text(value) for name, value in shared.items()},
        "counts": counts_document(counts),
        "photos": [{"name": one.name, "sha256": one.sha256, "size": one.size} for one in order.photos],
        "since": _since(order),
        "remark": words_of(order.remark, "--remark"),
        "trial": treated.plot.partition("/")[0] or None,
        "plot": treated.plot.partition("/")[2] or None,
        "at": local(moment),
    }
    data["words"] = rating_words(target, data)
    event = append_event(
        work,
        "rating",
        data,
        now,
        day=moment.date(),
        timezone=revision.body["timezone"],
        business=revision.body["business"],
        site=revision.body["site"],
        person=person,
    )
    logged = Logged(
        event.serial, "rating", moment, (person or {}).get("name") or "", (person or {}).get("id") or "", data, ""
    )
    return rating_of(logged, treated)


def _check_since(order: Order, treated: date, looked: date) -> list[str]:
    """Return what cannot be read of what happened since, or did not happen between the treatment and the look."""
    problems = []
    try:
        if order.rain is not None:
            parse_length(order.rain)
    except QuantityError as error:
        problems.append(f"--rain: {error}")
    for option, text in (("--mowed", order.mowed), ("--watered", order.watered)):
        if text is None:
            continue
        day = _one_day(text)
        if day is None:
            problems.append(f"{option}: {text[:20]!r} is no day; write it like {looked}")
        elif not treated <= day <= looked:
            problems.append(f"{option}: {day} does not lie between the treatment of {treated} and the look on {looked}")
    return problems


def _one_day(text: str) -> date | None:
    """Read a single day; None where it is none, or a whole month."""
    try:
        first, last = read_day(text), read_day(text, last=True)
    except UsageError:
        return None
    return first if first == last else None


def _since(order: Order) -> list[str]:
    """Return what happened since, in words."""
    found = [f"rain {parse_length(order.rain)}"] if order.rain is not None else []
    found += [
        f"{word} {_one_day(day)}"
        for word, day in (("mowed", order.mowed), ("watered", order.watered))
        if day is not None
    ]
    return [*found, *(words_of(line, "--since", 200) for line in order.since)]


def rating_words(target: str, data: Json) -> str:
    """Return a rating in one line, for the log."""
    parts = [f"{data['serial'] or 'untreated plot'}: {target}"]
    if data["control"] is not None:
        parts.append(f"{data['control']} % control")
    if data["injury"] is not None:
        parts.append(f"{data['injury']} % injury")
    return f"{parts[0]} {', '.join(parts[1:])}, {data['days']} days after" if parts[1:] else parts[0]
