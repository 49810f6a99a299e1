"""What is worth saying of a rating that was sealed: too early, injury, no check, regrowth, another eye."""

from __future__ import annotations

from typing import TYPE_CHECKING

from records.domain.follow_up import BY_COUNT, BY_EYE
from records.rules.looks import last_day, look_of
from records.services.follow_up.telling import control_percent, percent

if TYPE_CHECKING:
    from collections.abc import Sequence

    from records.domain.follow_up import Rating, Told
    from records.services.follow_up.treated import Treated


def notes_of(done: Sequence[Rating], treated: Treated, every: Sequence[Rating]) -> tuple[str, ...]:
    """Return the notes on ratings of one order.

    Args:
        done: the ratings that were sealed.
        treated: what they are about.
        every: all ratings of that record.
    """
    return (*_too_early(done, treated), *_too_late(done, treated), *_notes(done, every))


def _too_early(done: Sequence[Rating], treated: Treated) -> list[str]:
    """Say when a rating comes before anything can be judged of the mode of action."""
    look = look_of(treated.groups)
    early = [one for one in done if one.control is not None and 2 * one.days < look.days[0]]
    if not early:
        return []
    group = f"group {look.group} ({look.name})" if look.group else "this treatment"
    when = "the day of the treatment" if not early[0].days else f"{early[0].days} days after treatment"
    if early[0].days == 1:
        when = "one day after treatment"
    days = ", ".join(map(str, look.days))
    early_words = f"{when} is too early to judge {group}: {_told(look.first)}"
    return [f"{early_words}. To judge: {_told(look.dead)}. It is looked at {days} days after"]


def _too_late(done: Sequence[Rating], treated: Treated) -> list[str]:
    """Say when a rating comes so late that it does not tell any more what the treatment did."""
    if treated.plot or not done or done[0].days <= last_day(treated.groups):
        return []
    kept = "it is kept, and counts" if len(done) == 1 else "they are kept, and count"
    late = f"{done[0].days} days after treatment: too late to tell what the treatment did"
    return [f"{late}; {kept} in no season"]


def _told(fact: Told) -> str:
    """Return a fact of the trade with how it is known."""
    return f"{fact.words} ({fact.source if fact.status == 'verified' else 'common practice, from memory'})"


def _notes(done: Sequence[Rating], every: Sequence[Rating]) -> list[str]:
    """Return what is worth saying of ratings that were sealed."""
    notes = []
    if any(one.injury is not None and one.injury > 30 for one in done):
        notes.append("injury above about 30 % is commonly called unacceptable (common practice)")
    if any(one.control is not None and one.control < 0 for one in done):
        notes.append("below 0 %: more of the weed than without treatment")
    if done and not done[0].person:
        notes.append("nobody is named as rater: --by PERSON")
    for one in done:
        notes += _of_figures(one)
        earlier = [
            other
            for other in every
            if other.serial != one.serial and (other.treatment, other.target) == (one.treatment, one.target)
        ]
        if any(other.day == one.day and other.person == one.person for other in earlier):
            notes.append(f"{one.target} was rated on {one.day} before; withdraw one of the two if it is the same look")
        # Counts are the same whoever counts.
        raters = {other.person for other in earlier if other.person and other.way == BY_EYE}
        if raters and one.person and one.way == BY_EYE and one.person not in raters:
            notes.append("another person rated it before; ratings by eye compare best by one person (common practice)")
        notes += _fallen(one, earlier)
    return list(dict.fromkeys(notes))


def _of_figures(one: Rating) -> list[str]:
    """Say where the figures of a rating do not go together, or lack something to be compared with."""
    notes = []
    if one.way == BY_COUNT:
        left_out = f"; trial {one.trial} leaves it out where it has untreated plots" if one.trial else ""
        notes.append(f"no untreated ground was counted (--check): what died by itself is counted as killed{left_out}")
    has_grown = one.before is not None and one.cover is not None and one.cover > one.before
    if has_grown and one.control is not None and one.control > 0:
        grown = f"cover of {one.target} grew from {percent(one.before)} to {percent(one.cover)}"
        notes.append(f"{grown}, yet its control is {control_percent(one.control)}; look at both again")
    return notes


def _fallen(one: Rating, earlier: Sequence[Rating]) -> list[str]:
    """Say where control is much lower than it was before."""
    known = [(other.control, other.way) for other in earlier if other.control is not None and other.days <= one.days]
    if not known or one.control is None:
        return []
    high, way = max(known)
    if high - one.control < 20:
        return []
    ways = {way, one.way}
    why = "regrowth, or another eye" if ways == {BY_EYE} else "regrowth"
    if BY_EYE in ways and len(ways) == 2:
        why = "regrowth, or that one was counted and the other judged by eye"
    return [f"control of {one.target} fell from {control_percent(high)}: {why}"]
