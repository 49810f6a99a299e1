"""Reads the ratings of a book, each with the treatment it is about."""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction
from typing import TYPE_CHECKING

from records.domain.follow_up import Counts, Photo, Rating
from records.errors import NotFoundError
from records.rules.looks import last_day
from records.services.follow_up.treated import Treated, latest_of, treatments_of
from records.services.logbook import entries

if TYPE_CHECKING:
    from collections.abc import Iterable
    from datetime import date

    from records.services.logbook import Logged
    from records.services.ports import Json, UnitOfWork


@dataclass(frozen=True, slots=True)
class Rated:
    """A rating and what it is about; without a treatment where a plot was left untreated."""

    rating: Rating
    treated: Treated | None
    site: str  # id
    is_gone: bool = False  # whether its record is not in the book any more

    @property
    def is_untreated(self) -> bool:
        """Tell whether it is a look at ground that got nothing."""
        return not self.rating.record

    @property
    def is_stray(self) -> bool:
        """Tell whether its record does not name its target, or hold its treatment, any more: it counts nowhere.

        What a trial is about stands in its plan, whatever the record of a plot names.
        """
        if self.treated is None:
            return bool(self.rating.record) and not self.is_gone
        wanted, named = self.rating.target.casefold(), self.treated.targets
        return bool(named) and not self.rating.trial and wanted not in {target.casefold() for target in named}

    @property
    def is_late(self) -> bool:
        """Tell whether it comes so late that it does not tell any more what the treatment did.

        In a trial the untreated plots tell that at any time.
        """
        if self.treated is None or self.rating.trial:
            return False
        return self.rating.days > last_day(self.treated.groups)


def ratings(
    work: UnitOfWork,
    *,
    since: date | None = None,
    until: date | None = None,
    site: str | None = None,
    record: str | None = None,
    strays: bool = False,
) -> list[Rated]:
    """Return the ratings that count, by day, then by order of sealing; those of voided records do not.

    Those that came too late (`Rated.is_late`) are among them: who works out figures leaves them out.

    A rating speaks of its record as it stands now: where an amendment changed the day, the days after treatment follow.

    Args:
        work: a unit of work.
        since: first day of rating.
        until: last day.
        site: id; None: any.
        record: serial of a record; None: any.
        strays: also those whose record names their target, or holds their treatment, no more (`Rated.is_stray`).
    """
    logged = entries(work, "rating", since=since, until=until, site=site)
    if record is not None:
        logged = [one for one in logged if one.data["serial"] == record]
    return [one for one in _joined(work, logged) if strays or not one.is_stray]


def rated_of(work: UnitOfWork, serial: str) -> tuple[Rated, str]:
    """Return one rating by its serial, withdrawn or not, and who withdrew it and why ("" where it counts).

    Raises:
        NotFoundError: no rating has that serial.
    """
    one = next((each for each in entries(work, "rating", withdrawn=True) if each.serial == serial), None)
    if one is None:
        raise NotFoundError(f"no rating {serial}", "swathbook ratings lists them")
    record = latest_of(work, [one.data["serial"]] if one.data["serial"] else []).get(one.data["serial"] or "")
    treated = next(
        (each for each in (treatments_of(record) if record else ()) if each.index == one.data["treatment"]), None
    )
    gone = one.withdrawn
    told = "" if gone is None else f"{gone.serial}{f', {gone.by}' if gone.by else ''}: {gone.reason}"
    return Rated(rating_of(one, treated), treated, one.data["site"], is_gone=record is None), told


def photos_of(work: UnitOfWork) -> list[tuple[str, Photo]]:
    """Return the photos of all ratings that count, each with the serial of its rating."""
    return [(one.serial, photo) for one in entries(work, "rating") for photo in rating_of(one).photos]


def photos_of_removed(work: UnitOfWork, removal: str) -> int:
    """Return how many photos belong to ratings of records that were removed with their year.

    Args:
        work: a unit of work.
        removal: serial of the sealed removal.
    """
    gone = {row.serial for row in work.records.removed() if row.event == removal}
    return sum(len(one.data["photos"]) for one in entries(work, "rating") if one.data["serial"] in gone)


def _joined(work: UnitOfWork, logged: Iterable[Logged]) -> Iterable[Rated]:
    every = list(logged)
    records = latest_of(work, (one.data["serial"] for one in every if one.data["serial"]))
    known = {
        (treated.serial, treated.index): treated for revision in records.values() for treated in treatments_of(revision)
    }
    for one in every:
        record = records.get(one.data["serial"] or "")
        if one.data["serial"] and (record is None or record.action == "voided"):
            continue
        treated = known.get((one.data["serial"] or "", one.data["treatment"]))
        yield Rated(rating_of(one, treated), treated, one.data["site"])


def rating_of(one: Logged, treated: Treated | None = None) -> Rating:
    """Return a sealed rating; the days after treatment are counted from the record where it is given."""
    data = one.data
    counts = data["counts"]
    return Rating(
        serial=one.serial,
        record=data["serial"] or "",
        treatment=data["treatment"],
        target=data["target"],
        day=one.day,
        days=data["days"] if treated is None else (one.day - treated.day).days,
        control=_number(data["control"]),
        way=data["way"],
        injury=_number(data["injury"]),
        before=_number(data["cover_before"]),
        cover=_number(data["cover"]),
        counts=None if counts is None else _counts(counts),
        rater=one.by,
        person=one.person,
        photos=tuple(Photo(photo["name"], photo["sha256"], photo["size"]) for photo in data["photos"]),
        since=tuple(data["since"]),
        remark=data["remark"],
        trial=data["trial"] or "",
        plot=data["plot"] or "",
    )


def _number(text: str | None) -> Fraction | None:
    return None if text is None else Fraction(text)


def _counts(counts: Json) -> Counts:
    return Counts(
        _number(counts["before"]),
        Fraction(counts["after"]),
        _number(counts["check_before"]),
        _number(counts["check_after"]),
    )
