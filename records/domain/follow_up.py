"""The look at what a treatment did: ratings by eye, counts, what happened since, and which look is due.

Control is rated from 0 (no effect) to 100 % (all dead) against ground that was not treated; injury of the turf is rated
apart on the same scale. Days are counted from the day of the treatment, which is 0.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import timedelta
from typing import TYPE_CHECKING

from records.domain.efficacy import HUNDRED, abbott, henderson_tilton, plain_control
from records.domain.numerals import QuantityError, clean, split_number

if TYPE_CHECKING:
    from datetime import date
    from fractions import Fraction

BY_EYE = "by eye"
BY_COUNT = "counts without a check"
BY_ABBOTT = "Abbott"
BY_HENDERSON_TILTON = "Henderson-Tilton"
FOUNDED = (BY_HENDERSON_TILTON, BY_ABBOTT, BY_EYE, BY_COUNT)  # the best founded first


@dataclass(frozen=True, slots=True)
class Counts:
    """What was counted, in one unit: plants, or per cent cover."""

    before: Fraction | None  # on the treated ground, before the treatment
    after: Fraction
    check_before: Fraction | None = None  # on untreated ground
    check_after: Fraction | None = None

    def control(self) -> tuple[Fraction, str]:
        """Return control in per cent, and by which formula.

        Henderson-Tilton where treated and untreated ground were both counted before and after, Abbott where only
        afterwards, the plain share that vanished where there is no untreated check. Below 0: there is more of the
        weed than without treatment.

        Raises:
            ValueError: nothing to compare with, or nothing was there.
        """
        if self.check_after is not None:
            if self.before is not None and self.check_before is not None:
                return (
                    henderson_tilton(self.before, self.after, self.check_before, self.check_after),
                    BY_HENDERSON_TILTON,
                )
            return abbott(self.check_after, self.after), BY_ABBOTT
        if self.before is None:
            msg = "a count after alone tells nothing; count before the treatment too, or untreated ground (--check :30)"
            raise ValueError(msg)
        return plain_control(self.before, self.after), BY_COUNT


@dataclass(frozen=True, slots=True)
class Photo:
    """A photo kept with a rating: its name as given, and the SHA-256 of its bytes in hex."""

    name: str
    sha256: str
    size: int  # bytes


@dataclass(frozen=True, slots=True)
class Rating:
    """One look at one target of one treatment."""

    serial: str  # of the sealed event, E-000012
    record: str  # serial of the visit; "" for a plot that was not treated
    treatment: int  # its place in the visit, from 0
    target: str
    day: date
    days: int  # after treatment
    control: Fraction | None  # per cent
    way: str  # how control is known: one of the constants above; "" where it is not
    injury: Fraction | None  # of the turf, per cent
    before: Fraction | None  # cover of the weed before the treatment, per cent
    cover: Fraction | None  # cover now, per cent
    counts: Counts | None
    rater: str  # name; "" where nobody is named
    person: str  # id
    photos: tuple[Photo, ...] = ()
    since: tuple[str, ...] = ()  # what happened since, in words: rain, mowing, irrigation
    remark: str = ""
    trial: str = ""  # id of a trial
    plot: str = ""  # of that trial


@dataclass(frozen=True, slots=True)
class Told:
    """A fact of the trade in words, and where it was read."""

    words: str
    status: str  # "verified": the text was read; "memory": written down from memory, not checked
    source: str = ""  # title or citation; "" for memory
    url: str = ""


@dataclass(frozen=True, slots=True)
class Look:
    """When to look at what a mode of action does, and what to expect."""

    group: str  # mode-of-action number; "" for any other
    name: str  # site of action
    days: tuple[int, ...]  # after treatment, to look and rate; ascending
    when: Told  # why on these days
    first: Told  # first symptoms
    dead: Told  # when control can be judged
    is_early: bool  # pre-emergence: no kill is to be seen, it is judged against an untreated strip


@dataclass(frozen=True, slots=True)
class DueLook:
    """One look of a treatment: when it is due and whether it was taken."""

    days: int
    day: date
    taken: Rating | None


def parse_percent(text: object, what: str) -> Fraction:
    """Read a rating: `80`, `80 %` or `80%`, from 0 to 100.

    Raises:
        QuantityError: it is none.
    """
    example = "80 or 80 %"
    written = clean(text, what, example)
    if "/" in written:  # 7/9 of a quality scale is no per cent
        msg = f"{what}: {written[:20]!r} is on another scale; write per cent, {example}"
        raise QuantityError(msg)
    value, _, _, unit = split_number(written, what, example)
    if unit.strip() not in {"", "%", "percent", "per cent"}:
        msg = f"{what}: {unit.strip()[:20]!r} is no per cent; write {example}"
        raise QuantityError(msg)
    if value > HUNDRED:
        msg = f"{what}: a rating goes from 0 (no effect) to 100 (all dead); {text!s:.20} is more"
        raise QuantityError(msg)
    return value


def due_looks(treated: date, days: tuple[int, ...], ratings: list[Rating]) -> list[DueLook]:
    """Return the looks of a treatment, each with the rating that took it.

    A rating takes the look it lies nearest to; on the middle between two, the later one. One that comes before the
    middle between the treatment and the first look takes none: it came too early to judge.

    Args:
        treated: day of the treatment.
        days: after it, to look; ascending.
        ratings: of that treatment, any order.
    """
    taken: dict[int, Rating] = {}
    for rating in sorted(ratings, key=lambda one: one.days):
        place = -1
        for index, day in enumerate(days):
            last = days[index - 1] if index else 0
            if 2 * rating.days >= last + day:
                place = index
        if place >= 0:
            taken[place] = rating
    return [DueLook(day, treated + timedelta(days=day), taken.get(index)) for index, day in enumerate(days)]
