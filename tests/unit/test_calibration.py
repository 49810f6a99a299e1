"""The formulas and methods of calibration: what each needs, what it makes, and what it refuses."""

from __future__ import annotations

import shlex
from datetime import date
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from records.domain import calibration
from records.domain.calibration import age_words, change_words, of_document, off_mean
from records.domain.numerals import QuantityError
from records.domain.place import Equipment
from records.domain.quantities import parse_output
from records.errors import UsageError
from records.services.calibration_methods import METHODS, Found, Typed, read_seconds, work_out

ABOVE_ZERO = st.integers(1, 10_000).map(lambda tenths: Fraction(tenths, 10))
REFILL = Typed(area="1000 sq ft", used="1 gal")


def gpa(found: Found) -> Fraction:
    return found.base * 43_560 / 128


def test_nozzles_off_the_mean() -> None:
    """A nozzle more than 10 % off the mean is named; just 10 % off is not (common practice)."""
    assert off_mean([Fraction(9), Fraction(11), Fraction(10), Fraction(10)]) == []
    (one,) = off_mean([Fraction(26), Fraction(26), Fraction(20)])
    assert (one.number, one.share) == (3, Fraction(-1, 6))
    assert off_mean([Fraction(5)]) == []


@pytest.mark.parametrize(
    ("done", "day", "told"),
    [
        ("2026-04-13", "2026-10-27", ""),
        ("2026-04-13", "2027-02-28", ""),
        ("2026-04-13", "2027-03-01", "season before"),
        ("2026-02-28", "2027-02-28", ""),
        ("2026-02-27", "2027-02-28", "366 days old"),
        (None, "2026-05-01", "unknown day"),
    ],
)
def test_how_long_a_calibration_counts(done: str | None, day: str, told: str) -> None:
    """365 days, and from March on only one of the same year (common practice)."""
    found = age_words(None if done is None else date.fromisoformat(done), date.fromisoformat(day))
    assert told in found if told else not found


def test_the_output_of_a_document() -> None:
    """A loaded output counts from its day on; one of the future does not yet."""
    can = Equipment("can", "Can", output=parse_output("1 gal/1000 sq ft"), calibrated_on="2026-04-13")
    found = of_document(can, date(2026, 5, 1))
    assert found is not None
    assert (found.serial, found.is_stale, found.words) == ("", False, "calibrated 2026-04-13")
    assert of_document(can, date(2026, 4, 12)) is None
    unknown = of_document(Equipment("can", "Can", output=parse_output("1 gal/1000 sq ft")), date(2026, 5, 1))
    assert unknown is not None
    assert unknown.is_stale
    assert of_document(Equipment("can", "Can"), date(2026, 5, 1)) is None


def test_change() -> None:
    """How far one output is from another, in words."""
    assert change_words(Fraction(1), Fraction(1)) == "the same"
    assert change_words(Fraction(2), Fraction(21, 10)) == "5 % more"
    assert change_words(Fraction(3), Fraction(2)) == "33.3 % less"
    assert change_words(Fraction(10_000), Fraction(10_001)) == "less than 0.1 % more"


@given(ABOVE_ZERO, ABOVE_ZERO, ABOVE_ZERO)
def test_flow_speed_and_output_are_one_formula(flow: Fraction, speed: Fraction, spacing: Fraction) -> None:
    """GPA = 5940 x GPM / (mph x in) solved for any of its parts gives the others back."""
    made = calibration.gpa_of_nozzle(flow, speed, spacing)
    assert calibration.gpm_for(made, speed, spacing) == flow
    assert calibration.mph_for(flow, made, spacing) == speed
    assert calibration.gpa_of_swath(flow, speed, spacing / 12) == made


@given(ABOVE_ZERO, ABOVE_ZERO)
def test_ounces_are_gallons_on_the_course(caught: Fraction, swath: Fraction) -> None:
    """On a course of its own length, fluid ounces are gallons per acre; and so for that course written down."""
    base = calibration.ounces_per_sq_ft(caught, swath)
    assert base * 43_560 / 128 == caught
    assert calibration.ounces_per_sq_ft(caught, swath, calibration.course_length(swath)) == base


@pytest.mark.parametrize(
    ("method", "typed", "per_acre"),
    [
        ("ounces", Typed(caught=("7.5 oz",), swath="6 ft"), "7.5"),
        ("ounces", Typed(caught=("7 oz", "7 oz"), per_swath=2, swath="40 in"), "14"),
        ("ounces", Typed(caught=("7 oz", "9 oz"), swath="40 in"), "8"),
        ("refill", REFILL, "43.56"),
        ("refill", Typed(area="rectangle 50 ft x 20 ft", before="5 gal", left="4 gal"), "43.56"),
        ("refill", Typed(swath="10 ft", distance="100 ft", used="1 gal"), "43.56"),
        ("boom", Typed(caught=("128 oz",), seconds="60", spacing="20 in", speed="3 mph"), "99"),
        ("boom", Typed(caught=("64 oz",), seconds="30 s", spacing="20 in", distance="88 ft", time="20"), "99"),
        ("boomless", Typed(caught=("64 oz", "64 oz"), seconds="1 min", swath="20 ft", speed="3 mph"), "8.25"),
        ("timed", Typed(area="1000 sq ft", cover=("70", "80 s"), caught=("1 gal",)), "43.56"),
        ("timed", Typed(area="1000 sq ft", cover=("1:20",), caught=("0.5 gal",), seconds="40"), "43.56"),
    ],
)
def test_a_method_for_spray(method: str, typed: Typed, per_acre: str) -> None:
    """Each method makes an output from what was typed, and tells its steps."""
    found = work_out(method, typed)
    assert gpa(found) == Fraction(per_acre)
    assert found.is_spray
    assert all(found.steps)


@pytest.mark.parametrize(
    ("method", "typed", "per_thousand"),
    [
        ("catch", Typed(caught=("3.2 lb",), area="1000 sq ft"), "3.2"),
        ("catch", Typed(caught=("48 oz", "56 oz"), swath="10 ft", distance="100 ft"), "3.25"),
        ("coverage", Typed(used="8 lb", area="2500 sq ft"), "3.2"),
        ("coverage", Typed(before="10 lb", left="2 lb", area="2500 sq ft"), "3.2"),
    ],
)
def test_a_method_for_spreaders(method: str, typed: Typed, per_thousand: str) -> None:
    """A spreader puts out weight; a bare ounce is one by weight."""
    found = work_out(method, typed)
    assert found.base * 1000 == Fraction(per_thousand)
    assert not found.is_spray


@pytest.mark.parametrize(
    ("method", "typed", "told"),
    [
        ("guess", Typed(), "is no method"),
        ("refill", Typed(used="1 gal"), "needs --area or --swath and --distance"),
        ("refill", Typed(used="1 gal", area="100 sq ft", swath="3 ft", distance="3 ft"), "needs one of --area or"),
        ("boom", Typed(), "--caught, and --seconds, and --spacing, and --speed or --distance and --time"),
        ("refill", Typed(used="1 gal", area="100 sq ft", speed="3 mph", per_swath=2), "takes no --per-swath, --speed"),
        ("refill", Typed(used="1", area="100 sq ft"), "bare number"),
        ("refill", Typed(used="1 lb", area="100 sq ft"), "weight"),
        ("coverage", Typed(used="1 gal", area="100 sq ft"), "volume"),
        ("refill", Typed(used="0 gal", area="100 sq ft"), "is nothing"),
        ("refill", Typed(before="1 gal", left="1 gal", area="100 sq ft"), "nothing was used"),
        ("refill", Typed(used="1 gal", area="hexagon 3 ft"), "is not known"),
        ("ounces", Typed(caught=("7 oz",) * 3, per_swath=2, swath="40 in"), "3 catches do not go into swaths of 2"),
        ("ounces", Typed(caught=("7 oz",) * 61, swath="40 in"), "60 fit"),
        ("ounces", Typed(caught=("7 oz",), swath="0 ft"), "is nothing"),
        ("boom", Typed(caught=("9 oz",), seconds="0", spacing="20 in", speed="3 mph"), "no time at all"),
        ("boom", Typed(caught=("9 oz",), seconds="9 h", spacing="20 in", speed="3 mph"), "is no time"),
        ("boom", Typed(caught=("9 oz",), seconds="9", spacing="20 in", speed="3"), "^speed '3' is a bare number"),
        ("boom", Typed(caught=("9 oz",), seconds="9", spacing="20 in", speed="calm"), "is nothing"),
    ],
)
def test_what_a_method_refuses(method: str, typed: Typed, told: str) -> None:
    """What is missing, beside the method or unreadable is told, with an example of the method."""
    with pytest.raises(UsageError, match=told) as raised:
        work_out(method, typed)
    assert raised.value.hint


def test_times() -> None:
    """A time is seconds, or minutes and seconds."""
    assert [read_seconds(text, "time") for text in ("75", "75 s", "75 sec", "1 min 15 s", "1:15", "1.25 min")] == [
        75
    ] * 6
    with pytest.raises(QuantityError):
        read_seconds("1.2.3 min", "time")


@pytest.mark.parametrize("method", METHODS)
def test_the_example_of_every_method_works(method: str) -> None:
    """What help and errors show as an example is itself understood."""
    words = shlex.split(METHODS[method].example)
    parts: dict[str, list[str]] = {}
    for name, value in zip(words[::2], words[1::2], strict=True):
        parts.setdefault(name.removeprefix("--").replace("-", "_"), []).append(value)
    many = {name: tuple(values) for name, values in parts.items() if name in {"caught", "cover"}}
    one = {name: values[0] for name, values in parts.items() if name not in {*many, "per_swath"}}
    per_swath = int(parts["per_swath"][0]) if "per_swath" in parts else None
    assert work_out(method, Typed(**many, **one, per_swath=per_swath)).base > 0  # type: ignore[arg-type]
