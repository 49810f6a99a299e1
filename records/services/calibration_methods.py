"""The ways to calibrate, from what was typed to what goes on a square foot, with each step told."""

from __future__ import annotations

import re
from dataclasses import dataclass, fields
from fractions import Fraction
from typing import TYPE_CHECKING

from records.domain import calibration as formulas
from records.domain.figures import parse_figure, read_length
from records.domain.numerals import QuantityError, clean, shown, split_number
from records.domain.quantities import Form, decimal_text, parse_amount, parse_speed
from records.errors import UsageError
from records.units import Kind

if TYPE_CHECKING:
    from collections.abc import Callable

    from records.domain.calibration import OffMean
    from records.domain.quantities import Quantity
    from records.services.ports import Json

MAX_CATCHES = 60


@dataclass(frozen=True, slots=True)
class Typed:
    """What was measured, as typed; each is an option of the command."""

    caught: tuple[str, ...] = ()
    seconds: str | None = None  # that it was caught in
    used: str | None = None
    before: str | None = None
    left: str | None = None
    area: str | None = None
    cover: tuple[str, ...] = ()  # seconds to cover the area, one for each trial
    swath: str | None = None
    spacing: str | None = None
    course: str | None = None
    per_swath: int | None = None
    together: bool = False  # all that was caught covers one swath
    speed: str | None = None
    distance: str | None = None
    time: str | None = None

    def given(self) -> list[str]:
        """Return the names of what was typed."""
        return [one.name for one in fields(self) if getattr(self, one.name)]

    def as_typed(self) -> Json:
        """Return it as JSON, without what was left out."""
        found = {name: getattr(self, name) for name in self.given()}
        return {
            name: list(value) if isinstance(value, tuple) else "yes" if value is True else str(value)
            for name, value in found.items()
        }


@dataclass(frozen=True, slots=True)
class Found:
    """What a calibration makes."""

    base: Fraction  # fl oz or lb on a square foot
    is_spray: bool
    steps: tuple[str, ...]  # how it was worked out, for the screen
    off: tuple[OffMean, ...] = ()
    speed: Fraction | None = None  # mph, where one was given or worked out
    hint: str = ""  # what else the same numbers may have meant

    @property
    def kind(self) -> Kind:
        """Return what is put out."""
        return Kind.VOLUME if self.is_spray else Kind.WEIGHT

    def share(self, one: OffMean) -> str:
        """Return how far off the mean a nozzle is."""
        return f"{formulas.float_free(abs(one.share) * 100)} % {'over' if one.share > 0 else 'under'} the mean"


@dataclass(frozen=True, slots=True)
class Way:
    """One method: what it is for, what it needs, what it may have."""

    words: str
    needs: tuple[tuple[str, ...], ...]  # each a set of options; where several stand, one of them
    may: tuple[str, ...]
    example: str
    run: Callable[[Typed], Found]


# -- reading ---------------------------------------------------------------------------------------------------------

_SECONDS = re.compile(r"s(?:ec(?:ond)?s?)?\.?", re.IGNORECASE)
_MINUTES = re.compile(r"(?P<m>[\d.]+)\s*min(?:ute)?s?\.?(?:\s*(?P<s>[\d.]+)\s*s(?:ec(?:ond)?s?)?\.?)?", re.IGNORECASE)
_CLOCK = re.compile(r"(?P<m>\d{1,3}):(?P<s>[0-5]\d(?:\.\d)?)", re.ASCII)


def _option(name: str) -> str:
    return f"--{name.replace('_', '-')}"


def read_seconds(text: str, name: str) -> Fraction:
    """Read a time such as `75`, `75 s`, `2 min`, `1 min 15 s`, `1:15`.

    Raises:
        QuantityError: it is none, or nothing.
    """
    example = "75 s or 1 min 15 s"
    cleaned = clean(text, name, example)
    both = _MINUTES.fullmatch(cleaned) or _CLOCK.fullmatch(cleaned)
    if both is not None:
        minutes, _, _, rest = split_number(both["m"], name, example)
        seconds, _, _, more = split_number(both["s"] or "0", name, example)
        found = minutes * 60 + seconds
        if rest or more:
            raise QuantityError(f"{name} {shown(cleaned)} is no time; write it like {example}")
    else:
        found, _, _, rest = split_number(cleaned, name, example)
        if rest and not _SECONDS.fullmatch(rest):
            raise QuantityError(f"{name} {shown(cleaned)} is no time; write it like {example}")
    if found <= 0:
        raise QuantityError(f"{name} {shown(cleaned)} is no time at all; write it like {example}")
    return found


def _above_zero(value: Fraction, text: str) -> Fraction:
    if value <= 0:
        raise QuantityError(f"{shown(text)} is nothing; write what was measured")
    return value


def _amount(text: str, form: Form) -> Quantity:
    found = parse_amount(text, form)
    _above_zero(found.value, text)
    return found


def _feet(text: str) -> Fraction:
    return _above_zero(read_length(text).feet, text)


def _area(typed: Typed) -> tuple[Fraction, str]:
    """Return the ground covered, and how it is told."""
    if typed.area is not None:
        figure = parse_figure(typed.area)
        told = str(figure) if figure.kind == "area" else f"{figure} = {_number(figure.area)} sq ft"
        return figure.area, told
    swath, distance = _feet(typed.swath or ""), _feet(typed.distance or "")
    return swath * distance, f"{_number(distance)} ft x {_number(swath)} ft = {_number(swath * distance)} sq ft"


def _used(typed: Typed, form: Form) -> tuple[Fraction, str]:
    """Return what was used, as such or as the difference of before and left."""
    if typed.used is not None:
        used = _amount(typed.used, form)
        return used.base, f"{used} used"
    before, left = _amount(typed.before or "", form), parse_amount(typed.left or "", form)
    if left.base >= before.base:
        raise QuantityError(f"{left} was left of {before}: nothing was used; look at both")
    unit = "fl oz" if form is Form.LIQUID else "lb"
    return before.base - left.base, f"{before} - {left} = {_number(before.base - left.base)} {unit} used"


def _speed(typed: Typed) -> tuple[Fraction, str]:
    if typed.speed is not None:
        try:
            speed = parse_speed(typed.speed)
        except QuantityError as error:
            raise QuantityError(
                str(error).replace("wind speed", "speed").replace("7 mph (0 mph when calm)", "3 mph")
            ) from error
        return _above_zero(speed.to("mph"), typed.speed), f"{speed}"
    distance, time = _feet(typed.distance or ""), read_seconds(typed.time or "", "time")
    found = formulas.mph(distance, time)
    return found, f"{_number(distance)} ft in {_number(time)} s = {_number(found)} mph"


def _number(value: Fraction) -> str:
    return decimal_text(value, 3)


def _catches(typed: Typed, form: Form) -> list[Quantity]:
    if len(typed.caught) > MAX_CATCHES:
        raise QuantityError(f"{len(typed.caught)} catches; {MAX_CATCHES} fit")
    return [_amount(text, form) for text in typed.caught]


# -- methods ---------------------------------------------------------------------------------------------------------


def _ounces(typed: Typed) -> Found:
    caught = _catches(typed, Form.LIQUID)
    if typed.together and typed.per_swath:
        raise QuantityError("together adds all that was caught; leave --per-swath out, or --together")
    each = len(caught) if typed.together else typed.per_swath or 1
    if len(caught) % each:
        raise QuantityError(f"{len(caught)} catches do not go into swaths of {each} nozzles; give all of them")
    bases = [one.base for one in caught]
    swath = _feet(typed.swath or "")
    course = None if typed.course is None else _feet(typed.course)
    total = formulas.mean(bases) * each
    long = formulas.course_length(swath)
    steps = [
        f"a swath of {_number(swath)} ft: {_number(long)} ft make 1/128 acre",
        *_added(caught, each),
        f"{_number(total)} fl oz over a swath" + ("" if course is None else f", on a course of {_number(course)} ft"),
    ]
    hint = ""
    if len(caught) > 1 and each == 1:
        hint = f"if all {len(caught)} nozzles spray one and the same swath, they are added, not averaged: --together"
    found = formulas.ounces_per_sq_ft(total, swath, course)
    return Found(found, is_spray=True, steps=tuple(steps), off=tuple(formulas.off_mean(bases)), hint=hint)


def _added(caught: list[Quantity], each: int) -> list[str]:
    """Return how several catches of nozzles make one swath; nothing for a single one."""
    count, every = len(caught), ", ".join(map(str, caught))
    if count == 1:
        return []
    if each == count:
        return [f"caught {every}: sum of {count} nozzles over one swath"]
    over = "each over a swath of its own" if each == 1 else f"{each} of them over a swath"
    return [f"caught {every}: mean of {count} nozzles, {over}"]


def _refill(typed: Typed) -> Found:
    (used, told), (area, over) = _used(typed, Form.LIQUID), _area(typed)
    return Found(formulas.per_area(used, area), is_spray=True, steps=(over, told))


def _flows(typed: Typed) -> tuple[list[Fraction], Fraction]:
    """Return the flow of each catch in GPM, and the seconds."""
    seconds = read_seconds(typed.seconds or "", "seconds")
    return [formulas.gpm(one.base, seconds) for one in _catches(typed, Form.LIQUID)], seconds


def _boom(typed: Typed) -> Found:
    flows, _ = _flows(typed)
    speed, told = _speed(typed)
    spacing = _feet(typed.spacing or "") * 12
    flow = formulas.mean(flows)
    gpa = formulas.gpa_of_nozzle(flow, speed, spacing)
    steps = (
        told,
        *_mean_of(typed, "nozzles"),
        f"5940 x {_number(flow)} GPM / ({_number(speed)} mph x {_number(spacing)} in) = {_number(gpa)} GPA",
    )
    return Found(_per_sq_ft(gpa), is_spray=True, steps=steps, off=tuple(formulas.off_mean(flows)), speed=speed)


def _boomless(typed: Typed) -> Found:
    flows, _ = _flows(typed)
    speed, told = _speed(typed)
    swath, flow = _feet(typed.swath or ""), sum(flows, Fraction(0))
    gpa = formulas.gpa_of_swath(flow, speed, swath)
    steps = (
        told,
        *_added(_catches(typed, Form.LIQUID), len(flows)),
        f"495 x {_number(flow)} GPM / ({_number(speed)} mph x {_number(swath)} ft) = {_number(gpa)} GPA",
    )
    return Found(_per_sq_ft(gpa), is_spray=True, steps=steps, off=tuple(formulas.off_mean(flows)), speed=speed)


def _mean_of(typed: Typed, what: str) -> list[str]:
    """Return that several catches were averaged, with each of them; nothing for a single one."""
    caught = _catches(typed, Form.LIQUID)
    return [f"caught {', '.join(map(str, caught))}: mean of {len(caught)} {what}"] if len(caught) > 1 else []


def _per_sq_ft(gpa: Fraction) -> Fraction:
    return gpa * formulas.GALLON / formulas.ACRE


def _timed(typed: Typed) -> Found:
    area, over = _area(typed)
    trials = [read_seconds(text, "cover") for text in typed.cover]
    cover = formulas.mean(trials)
    caught = formulas.mean([one.base for one in _catches(typed, Form.LIQUID)])
    seconds = cover if typed.seconds is None else read_seconds(typed.seconds, "seconds")
    found = formulas.timed_per_sq_ft(caught, seconds, cover, area)
    steps = (
        over,
        f"covered in {_number(cover)} s" + (f", the mean of {len(trials)} trials" if len(trials) > 1 else ""),
        *_mean_of(typed, "catches"),
        f"{_number(caught)} fl oz caught in {_number(seconds)} s",
    )
    return Found(found, is_spray=True, steps=steps)


def _catch(typed: Typed) -> Found:
    area, over = _area(typed)
    caught = [one.base for one in _catches(typed, Form.DRY)]
    each = formulas.mean(caught)
    told = f"{_number(each)} lb caught" + (f", the mean of {len(caught)} passes" if len(caught) > 1 else "")
    return Found(formulas.per_area(each, area), is_spray=False, steps=(over, told))


def _coverage(typed: Typed) -> Found:
    (used, told), (area, over) = _used(typed, Form.DRY), _area(typed)
    return Found(formulas.per_area(used, area), is_spray=False, steps=(over, told))


_USED = ("used", "before+left")
_GROUND = ("area", "swath+distance")
_PACE = ("speed", "distance+time")
METHODS: dict[str, Way] = {
    "ounces": Way(
        "1/128 acre: fluid ounces caught over the course are gallons per acre",
        (("caught",), ("swath",)),
        ("course", "per_swath", "together"),
        "--swath '40 in' --per-swath 2 --caught '7 fl oz' --caught '7 fl oz'",
        _ounces,
    ),
    "refill": Way(
        "spray a measured area, measure what refills the tank",
        (_USED, _GROUND),
        (),
        "--area 'rectangle 50 ft x 20 ft' --used '1 gal'",
        _refill,
    ),
    "boom": Way(
        "catch from nozzles: 5940 x GPM / (mph x inches)",
        (("caught",), ("seconds",), ("spacing",), _PACE),
        (),
        "--caught '26 fl oz' --seconds 60 --spacing '20 in' --speed '3 mph'",
        _boom,
    ),
    "boomless": Way(
        "all that is caught over a swath: 495 x GPM / (mph x feet)",
        (("caught",), ("seconds",), ("swath",), _PACE),
        (),
        "--caught '480 fl oz' --seconds 60 --swath '18 ft 6 in' --speed '5 mph'",
        _boomless,
    ),
    "timed": Way(
        "hand can or backpack: seconds to cover an area, and what comes out in as many",
        (("area",), ("cover",), ("caught",)),
        ("seconds",),
        "--area 'rectangle 18.5 ft x 18.5 ft' --cover '75 s' --caught '150 fl oz'",
        _timed,
    ),
    "catch": Way(
        "spreader: weight caught over a measured area",
        (("caught",), _GROUND),
        (),
        "--swath '10 ft' --distance '100 ft' --caught '3.2 lb'",
        _catch,
    ),
    "coverage": Way(
        "spreader: weight used over the area it covered",
        (_USED, _GROUND),
        (),
        "--area '4600 sq ft' --before '32 oz' --left '29 oz'",
        _coverage,
    ),
}


def work_out(method: str, typed: Typed) -> Found:
    """Return what a calibration makes.

    Raises:
        UsageError: no such method, something missing or beside it, or a text that cannot be read.
    """
    way = METHODS.get(method)
    if way is None:
        raise UsageError(f"{method[:30]!r} is no method", f"One of: {', '.join(METHODS)}")
    given = set(typed.given())
    used: set[str] = set(way.may)
    missing = []
    for choices in way.needs:
        found = [choice for choice in choices if set(choice.split("+")) <= given]
        if len(found) == 1:
            used.update(found[0].split("+"))
        else:
            told = " or ".join(" and ".join(map(_option, choice.split("+"))) for choice in choices)
            missing.append(f"one of {told}" if found else told)
    if missing:
        raise UsageError(f"{method} needs {', and '.join(missing)}", f"Such as: {method} {way.example}")
    beside = sorted(given - used)
    if beside:
        raise UsageError(f"{method} takes no {', '.join(map(_option, beside))}", f"Such as: {method} {way.example}")
    try:
        return way.run(typed)
    except QuantityError as error:
        raise UsageError(str(error), f"Such as: {method} {way.example}") from error
