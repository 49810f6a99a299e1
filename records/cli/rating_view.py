"""Ratings on a screen: one in full, and many by the treatment they are about."""

from __future__ import annotations

from typing import TYPE_CHECKING

from records.cli.output import counted, display_width, pairs, printable, say, talk, width, wrapped

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

    from records.domain.follow_up import Photo, Rating
    from records.services.follow_up import Rated


def facts_of(one: Rating, where: Callable[[Photo], str] | None = None) -> list[tuple[str, str | None]]:
    """Return what a rating says, as names and words.

    Args:
        one: the rating.
        where: tells where a photo lies; None: its hash is told.
    """
    from records.services.follow_up.telling import class_words, control_words, counts_words, percent

    word = class_words(one)
    photos = [
        ("photo", f"{photo.name}: {where(photo) if where else f'sha256 {photo.sha256[:12]}...'}")
        for photo in one.photos
    ]
    cover = percent(one.cover) or ("not rated" if one.before is not None else "")
    return [
        ("control", f"{control_words(one)}{f', {word}' if word else ''}" if one.control is not None else None),
        ("counts", counts_words(one.counts) or None),
        ("injury", f"{percent(one.injury)} of the turf" if one.injury is not None else None),
        ("cover", f"{percent(one.before)} before, {cover} now" if one.before is not None else cover or None),
        ("since", "; ".join(one.since) or None),
        *photos,
        ("remark", one.remark or None),
    ]


def tell_rating(one: Rated, where: Callable[[Photo], str], withdrawn: str = "") -> None:
    """Write one rating in full, but for its seal.

    Args:
        one: the rating, with the treatment it is about where that stands.
        where: tells where a photo lies.
        withdrawn: who withdrew it and why; "" where it counts.
    """
    from records.services.follow_up.telling import set_aside

    rating, treated = one.rating, one.treated
    say(f"RATING {rating.serial}: {rating.target}, {counted(rating.days, 'day')} after treatment")
    if withdrawn:
        say(wrapped(f"** WITHDRAWN: it counts nowhere ** {withdrawn}", "  "))
    if treated is not None and treated.is_voided:
        say(wrapped(f"** {treated.serial} WAS VOIDED: the rating counts nowhere **", "  "))
    if why := set_aside(one):
        say(wrapped(f"** {why} **", "  "))
    what = "nothing: an untreated plot" if not rating.record else "not known: the record is not in the book"
    if treated is not None:
        what = f"{treated.name or 'nothing against weeds'} on {treated.day}"
    elif rating.record and one.is_stray:
        what = "a treatment that the record does not hold any more"
    record = f"{rating.record}, treatment {rating.treatment + 1}" if rating.record else None
    pairs(
        [
            ("looked at", f"{rating.day}{f' by {rating.rater}' if rating.rater else ''}"),
            ("site", one.site if treated is None else f"{treated.address} ({one.site})"),
            ("treated with", what),
            ("record", record),
            ("trial", f"{rating.trial}, plot {rating.plot}" if rating.trial else None),
            *facts_of(rating, where),
        ]
    )


def tell_ratings(found: Sequence[Rated]) -> None:
    """Write ratings in the order of treatments, each treatment with its looks by day after it."""
    if not found:
        say("no rating fits; swathbook looks lists what to look at")
        return
    groups: dict[tuple[str, str, int], list[Rated]] = {}
    for one in found:
        rating = one.rating
        key = (rating.record, "", rating.treatment) if rating.record else ("", f"{one.site}/{rating.trial}", 0)
        groups.setdefault(key, []).append(one)
    longest = max(display_width(printable(one.rating.target)) for one in found)
    days = max(len(str(one.rating.days)) for one in found)
    for own in sorted(groups.values(), key=_place):
        say(wrapped(_title(own[0]), "    ", ""))
        for one in sorted(own, key=lambda each: (each.rating.target, each.rating.days, each.rating.serial)):
            _tell_line(one, min(longest, width() // 3), days)
    talk(f"{counted(len(found), 'rating')}; by eye where no formula is named; injury where there was some")


def _place(own: Sequence[Rated]) -> tuple[str, str, int]:
    """Return what a treatment is sorted by: its day, then its record."""
    first = own[0]
    day = first.rating.day if first.treated is None else first.treated.day
    return day.isoformat(), first.rating.record, first.rating.treatment


def _title(one: Rated) -> str:
    treated = one.treated
    if treated is None and one.rating.record:
        return f"{one.rating.record}  {one.site}: treatment {one.rating.treatment + 1}, which it does not hold any more"
    if treated is None:
        return f"untreated plots of {one.rating.trial or 'no trial'} at {one.site}"
    return f"{treated.serial}  {one.site}, {treated.day}: {treated.name}"


def _tell_line(rated: Rated, size: int, days: int) -> None:
    """Write one rating: what, after how many days, how much, then what else there is to know."""
    from records.services.follow_up.telling import class_words, control_words, percent, set_aside

    one = rated.rating
    plot = f" in plot {one.plot}" if one.plot else ""
    name = printable(f"{one.target}{plot}")
    name += " " * (size - display_width(name))
    number, _, way = control_words(one).partition(" (")
    told = ", ".join(filter(None, [way.rstrip(")"), class_words(one)]))
    more = [f"injury {percent(one.injury)}"] if one.injury else []
    more += [one.person or one.rater] if one.person or one.rater else []
    more += [one.serial]
    # Blanks that line the columns up would be lost where a line is folded, so only what follows them is.
    lead = f"  {name}  day {one.days:>{days}}  {number:>5}  "
    words = "; ".join(filter(None, [told, ", ".join(more), set_aside(rated)]))
    say(wrapped(words, " " * min(display_width(lead), width() // 2), lead))
