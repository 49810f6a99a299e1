"""The calibration log: what some equipment puts out, by whom, with which nozzle, since when, and whether it counts.

Each calibration is a sealed entry of the shop log. What it found is kept as an exact fraction beside the decimal text,
so that whatever is worked out from it later comes out the same.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime
from fractions import Fraction
from typing import TYPE_CHECKING
from zoneinfo import ZoneInfo

from records.domain.calibration import Output, age_words, change_words, done_without_output, of_document
from records.domain.quantities import Per, Rate, decimal_text, format_number
from records.errors import NotFoundError
from records.services.calibration_checks import check_kind, check_pressure, kinds_of, unlikely
from records.services.calibration_methods import Found, Typed, work_out
from records.services.directory import Directory
from records.services.logbook import entries, log
from records.services.occasions import firm_of, person_of, words_of
from records.units import Kind

if TYPE_CHECKING:
    from collections.abc import Iterable

    from records.clock import Clock
    from records.domain.place import Equipment
    from records.services.logbook import Logged
    from records.services.ports import Json, OpenBook, UnitOfWork

__all__ = ["Calibrated", "Line", "Output", "Outputs", "Who", "calibrate", "calibrations", "output_on", "state_of_use"]

_PER = "1000 sq ft"


@dataclass(frozen=True, slots=True)
class Who:
    """By whom, when and with what a calibration was done, as typed."""

    by: str | None = None
    at: str | None = None
    nozzle: str | None = None
    pressure: str | None = None
    setting: str | None = None  # of a spreader
    product: str | None = None  # that a spreader was filled with, by id


@dataclass(frozen=True, slots=True)
class Calibrated:
    """A calibration that was logged."""

    serial: str
    data: Json
    before: Output | None  # the last one before it
    change: str  # in words; "" where there was none
    notes: tuple[str, ...] = ()  # what is hardly so
    hint: str = ""  # what else the same numbers may have meant

    def document(self) -> Json:
        """Return it as JSON."""
        last = self.before
        return {
            "schema": 1,
            "event": self.serial,
            "calibration": self.data,
            "before": None if last is None else {"output": str(last.rate), "event": last.serial or None},
            "change": self.change or None,
            "notes": [*self.notes, *([self.hint] if self.hint else [])],
        }


def per_thousand(rate: Rate) -> str:
    """Return an output per 1,000 sq ft for the screen: to three decimals."""
    if rate.kind is Kind.VOLUME:
        return f"{_short(rate.base * 1000 / 128)} gal"
    return f"{_short(rate.base * 1000)} lb"


def _short(value: Fraction) -> str:
    return decimal_text(value, 3 if value >= 1 else 4)


def calibrate(book: OpenBook, equipment: str, method: str, typed: Typed, who: Who, clock: Clock) -> Calibrated:
    """Work a calibration out and log it.

    Args:
        book: where it is sealed.
        equipment: id of a loaded piece.
        method: one of `METHODS`.
        typed: what was measured, as typed.
        who: by whom, when, with which nozzle.
        clock: for the moment.

    Raises:
        UsageError: something is missing, cannot be read, or does not belong to the method or the equipment.
        NotFoundError: no such equipment, person or product.
    """
    found = work_out(method, typed)
    with book.write() as work:
        directory = Directory(work.catalogue)
        piece = _equipment(directory, equipment)
        check_kind(piece, method, found)
        business, _ = firm_of(directory)
        now = clock.now()
        today = now.astimezone(ZoneInfo(business.timezone)).date()
        person = person_of(directory, who.by, today, business.state)
        product = _product(directory, who.product)
        nozzle = words_of(who.nozzle, "--nozzle", 120) or piece.nozzle
        data = _data(piece, method, typed, found, who, nozzle, product)
        data["words"] = _words(piece, found, method, data)
        sealed = log(work, "calibration", data, now, at=who.at, by=who.by)
        day = date.fromisoformat(sealed.body["date"])
        last = Outputs(work).last(piece, day, (person or {}).get("id") or "", nozzle, product, sealed.serial)
        work.commit()
    change = change_words(last.rate.base, found.base) if last is not None and last.rate.kind is found.kind else ""
    return Calibrated(
        sealed.serial, sealed.body["data"], last, change, tuple(unlikely(piece, typed, found)), found.hint
    )


def _equipment(directory: Directory, key: str) -> Equipment:
    found = directory.equipment(key.strip())
    if found is None:
        known = ", ".join(directory.ids("equipment")[:8]) or "none yet"
        raise NotFoundError(
            f"no equipment {key[:40]!r} in the book; loaded: {known}", "swathbook catalogue equipment lists it"
        )
    return found[0]


def _product(directory: Directory, key: str | None) -> str:
    if not key:
        return ""
    if directory.product(key.strip()) is None:
        raise NotFoundError(f"no product {key[:40]!r} in the book", "swathbook catalogue products lists them")
    return key.strip()


def _data(piece: Equipment, method: str, typed: Typed, found: Found, who: Who, nozzle: str, product: str) -> Json:
    unit = "gal" if found.is_spray else "lb"
    each = found.base * 1000 / (128 if found.is_spray else 1)
    said = {
        "nozzle": nozzle,
        "pressure": check_pressure(words_of(who.pressure, "--pressure", 60)),
        "setting": words_of(who.setting, "--setting", 60),
        "product": product,
    }
    return {
        "equipment": {"id": piece.id, "name": piece.name},
        "method": method,
        "inputs": typed.as_typed(),
        **{key: text for key, text in said.items() if text},
        "output": {
            "exact": f"{each.numerator}/{each.denominator}",
            "unit": unit,
            "per_1000_sq_ft": f"{format_number(each)} {unit}/{_PER}",
            "per_acre": f"{format_number(each * Fraction(43_560, 1000))} {unit}/acre",
        },
        "steps": list(found.steps),
        "off_mean": [f"nozzle {one.number}: {found.share(one)}" for one in found.off],
    }


def _words(piece: Equipment, found: Found, method: str, data: Json) -> str:
    told = [f"{piece.id}: {rate_of(data).like(found.base)}, by {method}"]
    told += [data[key] for key in ("nozzle", "pressure", "product") if data.get(key)]
    if data.get("setting"):
        told.append(f"setting {data['setting']}")
    return ", ".join(told)


def rate_of(data: Json) -> Rate:
    """Return the output of a logged calibration, exact."""
    top, _, bottom = data["output"]["exact"].partition("/")
    value = Fraction(int(top), int(bottom))
    return Rate(value, data["output"]["unit"], Per.AREA, _PER, number=format_number(value, 4))


# -- which one counts ------------------------------------------------------------------------------------------------


class Outputs:
    """Looks up outputs; reads the log once, when it is first asked for, so it costs nothing where nobody asks."""

    def __init__(self, work: UnitOfWork, sealed_by: datetime | None = None) -> None:
        """Look into the log of a unit of work, for as long as it lasts.

        Args:
            work: the unit of work.
            sealed_by: take only what the log held at that instant; None: all of it.
        """
        self._work, self._sealed_by = work, sealed_by
        self._log: dict[str, list[Logged]] | None = None

    def logged(self, equipment: str) -> list[Logged]:
        """Return the calibrations of some equipment that count, by day, then order of sealing."""
        if self._log is None:
            self._log = {}
            for one in entries(self._work, "calibration", withdrawn=True):
                if self._counts(one):
                    self._log.setdefault(str(one.data["equipment"]["id"]), []).append(one)
        return self._log.get(equipment, [])

    def fitting(self, equipment: Equipment) -> list[Logged]:
        """Return those of them that are of what it puts out: one of spray says nothing of a spreader."""
        kinds = kinds_of(equipment)
        return [one for one in self.logged(equipment.id) if rate_of(one.data).kind in kinds]

    def every(self) -> list[str]:
        """Return the equipment that the log has anything of."""
        self.logged("")
        return list(self._log or ())

    def _counts(self, one: Logged) -> bool:
        if self._sealed_by is None:
            return one.withdrawn is None
        gone = one.withdrawn
        return datetime.fromisoformat(one.sealed_at) <= self._sealed_by and (gone is None or gone.at > self._sealed_by)

    def on(self, equipment: Equipment, day: date, person: str = "") -> Output | None:
        """Return the output on a day: the newest of log and document not later than it; the person's own comes first.

        Args:
            equipment: as loaded.
            day: that it is wanted for.
            person: id of who works with it; "" = nobody in particular.
        """
        known = [one for one in self.fitting(equipment) if one.day <= day]
        loaded = of_document(equipment, day)
        newest = output_of(known[-1], equipment, known, day) if known else None
        if newest is None or (loaded is not None and loaded.day is not None and loaded.day > known[-1].day):
            return loaded
        own = next((one for one in reversed(known) if person and one.person == person), None)
        if own is not None and own is not known[-1]:
            theirs = output_of(own, equipment, known, day)
            if not theirs.is_stale and theirs.rate.kind is newest.rate.kind:
                return theirs
        return newest

    def last(self, equipment: Equipment, day: date, person: str, nozzle: str, product: str, but: str) -> Output | None:
        """Return the calibration before one: of the same person, nozzle and product, else the newest of all."""
        known = [one for one in self.fitting(equipment) if one.day <= day and one.serial != but]
        same = [
            one
            for one in known
            if one.person == person and _same(one.data.get("nozzle"), nozzle) and one.data.get("product", "") == product
        ]
        if not known:
            return of_document(equipment, day)
        return output_of((same or known)[-1], equipment, known, day)


def _same(one: str | None, other: str | None) -> bool:
    return (one or "").casefold().split() == (other or "").casefold().split()


def why_stale(one: Logged, equipment: Equipment, known: Iterable[Logged], day: date) -> str:
    """Return why a calibration does not count on a day any more; "" while it does."""
    if told := age_words(one.day, day):
        return told
    nozzle = one.data.get("nozzle") or ""
    later = [other for other in known if (other.day, other.serial) > (one.day, one.serial) and other.data.get("nozzle")]
    changed = next((other for other in later if nozzle and not _same(other.data["nozzle"], nozzle)), None)
    if changed is not None:
        return f"another nozzle since {changed.day}"
    if equipment.nozzle and nozzle and not later and not _same(equipment.nozzle, nozzle):
        return f"the nozzle is {equipment.nozzle} now"
    return ""


def output_of(one: Logged, equipment: Equipment, known: Iterable[Logged], day: date) -> Output:
    """Return a logged calibration as it counts on a day."""
    why = why_stale(one, equipment, known, day)
    by = f" by {one.by}" if one.by else ""
    words = f"calibrated {one.day}{by}, {one.serial}" + (f" ({why})" if why else "")
    nozzle, pressure = one.data.get("nozzle") or "", one.data.get("pressure") or ""
    return Output(rate_of(one.data), one.day, one.serial, one.by, nozzle, pressure, bool(why), words)


def output_on(work: UnitOfWork, equipment: Equipment, day: date, person: str = "") -> Output | None:
    """Return what some equipment puts out on a day, as far as it is known.

    Args:
        work: a unit of work.
        equipment: as loaded.
        day: that it is wanted for.
        person: id of who works with it; that person's own calibration comes first. "" = nobody in particular.
    """
    return Outputs(work).on(equipment, day, person)


# -- the list --------------------------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class Line:
    """The newest calibration of some equipment by one person with one nozzle; or that there is none."""

    equipment: str
    name: str
    output: Output | None
    person: str  # id
    product: str
    setting: str
    method: str
    age: int | None  # days
    why: str  # why it does not count; "" while it does
    done: date | None = None  # the day, where only that is written down

    @property
    def state(self) -> str:
        """Return "missing", "stale" or "fresh"."""
        if self.output is None and self.done is None:
            return "missing"
        return "stale" if self.why else "fresh"

    @property
    def day(self) -> date | None:
        """Return the day of the calibration; None where nobody wrote it down."""
        return self.done if self.output is None else self.output.day

    def document(self) -> Json:
        """Return it as JSON."""
        out = self.output
        return {
            "equipment": self.equipment,
            "name": self.name,
            "state": self.state,
            "why": self.why or None,
            "output": None if out is None else str(out.rate),
            "day": None if self.day is None else self.day.isoformat(),
            "age_days": self.age,
            "event": None if out is None else out.serial or None,
            "by": self.person or None,
            "nozzle": None if out is None else out.nozzle or None,
            "pressure": None if out is None else out.pressure or None,
            "method": self.method or None,
            "product": self.product or None,
            "setting": self.setting or None,
        }


def calibrations(book: OpenBook, clock: Clock, equipment: str | None = None) -> list[Line]:
    """Return the newest calibration of every piece of equipment, person and nozzle, with its age.

    Raises:
        NotFoundError: no such equipment.
    """
    with book.read() as work:
        directory = Directory(work.catalogue)
        keys = sorted(directory.ids("equipment")) if equipment is None else [equipment]
        business = directory.business()
        zone = ZoneInfo(business[0].timezone if business else "UTC")
        today = clock.now().astimezone(zone).date()
        outputs = Outputs(work)
        return [line for key in keys for line in _lines(_equipment(directory, key), outputs, today)]


def _lines(equipment: Equipment, outputs: Outputs, today: date) -> list[Line]:
    known = [one for one in outputs.fitting(equipment) if one.day <= today]
    newest: dict[tuple[str, str, str], Logged] = {}
    for one in known:
        nozzle = " ".join(str(one.data.get("nozzle") or "").casefold().split())
        newest[one.person, nozzle, one.data.get("product") or ""] = one
    found = [
        _line(one, equipment, known, today) for one in sorted(newest.values(), key=lambda one: one.day, reverse=True)
    ]
    loaded = of_document(equipment, today)
    if loaded is not None and (not known or (loaded.day is not None and loaded.day > known[-1].day)):
        age = None if loaded.day is None else (today - loaded.day).days
        why = age_words(loaded.day, today)
        found.insert(0, Line(equipment.id, equipment.name, loaded, "", "", "", "", age, why))
    if not found:
        done = done_without_output(equipment, today)
        age, why = (None, "never") if done is None else ((today - done).days, age_words(done, today))
        found.append(Line(equipment.id, equipment.name, None, "", "", "", "", age, why, done))
    strange = [one for one in outputs.logged(equipment.id) if one.day <= today and one not in known]
    return found + [_line(one, equipment, known, today, f"not of a {equipment.kind}") for one in strange]


def _line(one: Logged, equipment: Equipment, known: list[Logged], today: date, strange: str = "") -> Line:
    return Line(
        equipment=equipment.id,
        name=equipment.name,
        output=output_of(one, equipment, known, today),
        person=one.person,
        product=one.data.get("product") or "",
        setting=one.data.get("setting") or "",
        method=one.data["method"],
        age=(today - one.day).days,
        why=strange or why_stale(one, equipment, known, today),
    )


def state_of_use(outputs: Outputs, equipment: Equipment, day: date) -> str:
    """Return what is wrong with the calibration of some equipment on a day; "" where nothing is."""
    found = outputs.on(equipment, day)
    if found is not None:
        return found.words if found.is_stale else ""
    done = done_without_output(equipment, day)
    if done is None:
        return "no calibration is logged or loaded"
    return f"calibrated {done} ({why})" if (why := age_words(done, day)) else ""


def shown_output(data: Json) -> tuple[str, str]:
    """Return the output of a logged calibration per 1,000 sq ft and per acre, to three decimals."""
    value = rate_of(data).value
    unit = data["output"]["unit"]
    acre = value * Fraction(43_560, 1000)
    return f"{_short(value)} {unit}/1,000 sq ft", f"{_short(acre)} {unit}/acre"
