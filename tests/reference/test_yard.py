"""Published values: areas and calibration, each computed with the functions of the tool.

The examples stand in yard.json with their sources. `exact` was worked out apart from the tool, as `sum` says: by hand
from 43,560 sq ft, 128 fl oz, 5,280 ft and the circle number. The published value is met within the source's own
rounding (`within`).
"""

from __future__ import annotations

import json
from decimal import Decimal
from fractions import Fraction
from pathlib import Path
from typing import TYPE_CHECKING, Any

import pytest

from records.domain import area, calibration
from records.domain.area import OffsetRule
from records.domain.figures import parse_figure
from records.domain.quantities import parse_volume
from records.services.calibration_methods import Found, Typed, work_out

if TYPE_CHECKING:
    from collections.abc import Callable

Example = dict[str, Any]
Values = dict[str, Fraction]
EXAMPLES: dict[str, Example] = {
    one["id"]: one for one in json.loads(Path(__file__).with_name("yard.json").read_text("utf-8"))["examples"]
}
LAST_DIGIT = Fraction(1, 10**25)  # pi and roots are kept to more digits than this
MILE = "5280 ft"


def _in(example: Example, name: str) -> str:
    part = example["inputs"][name]
    return f"{part['value']} {part['unit']}".replace("1 mile", MILE)


def _number(example: Example, name: str) -> Fraction:
    return Fraction(example["inputs"][name]["value"])


def _gpa(found: Found) -> Fraction:
    return found.base * 43_560 / 128


def _rectangle(example: Example) -> Values:
    figure = parse_figure(f"rectangle {_in(example, 'length')} x {_in(example, 'width')}")
    names = example["expected"]
    return {name: figure.area / (43_560 if names[name]["unit"] == "acre" else 1) for name in names}


def _circle(example: Example) -> Values:
    return {"area": parse_figure(f"circle {_in(example, 'diameter')} across").area}


def _triangle(example: Example) -> Values:
    return {"area": parse_figure(f"triangle {_in(example, 'base')} base {_in(example, 'height')} high").area}


def _trapezoid(example: Example) -> Values:
    a, b, slant = (_number(example, name) for name in ("side_a", "side_b", "slant"))
    figure = parse_figure(f"trapezoid {a} ft and {b} ft, slants {slant} ft")
    return {"height": area.trapezoid_height(a, b, slant, slant), "area": figure.area}


def _course(example: Example) -> Values:
    swath = Fraction(example["inputs"]["swath"]["value"]) / (12 if example["inputs"]["swath"]["unit"] == "in" else 1)
    return {"course_length": calibration.course_length(swath)}


def _boomless(example: Example) -> Values:
    caught = example["inputs"]["caught"]["value"]
    typed = Typed(
        caught=(f"{caught} fl oz",), seconds="1 min", swath=_in(example, "pattern"), speed=_in(example, "speed")
    )
    flow = calibration.gpm(Fraction(caught), Fraction(60))
    return {"flow": flow, "spray_volume": _gpa(work_out("boomless", typed))}


def _two_nozzles(example: Example) -> Values:
    half = f"{_number(example, 'caught_total') / 2} fl oz"
    typed = Typed(caught=(half, half), per_swath=2, swath=_in(example, "swath"), course=_in(example, "course_length"))
    return {"spray_volume": _gpa(work_out("ounces", typed))}


def _timed(example: Example) -> Values:
    plot = f"rectangle {_in(example, 'length')} x {_in(example, 'width')}"
    typed = Typed(area=plot, cover=(_in(example, "time"),), caught=(_in(example, "caught"),))
    gpa = _gpa(work_out("timed", typed))
    found = {"spray_volume": gpa}
    return found | ({"area_per_tank": _number(example, "tank") / gpa} if "tank" in example["inputs"] else {})


def _refill(example: Example) -> Values:
    typed = Typed(area=_in(example, "area"), used=_in(example, "caught"))
    return {"spray_volume": _gpa(work_out("refill", typed))}


def _band(example: Example) -> Values:
    typed = Typed(swath=_in(example, "band"), course=_in(example, "distance"), caught=(_in(example, "caught"),))
    return {"spray_volume": _gpa(work_out("ounces", typed))}


def _bait(example: Example) -> Values:
    typed = Typed(
        swath=_in(example, "swath"),
        distance=_in(example, "length"),
        before=_in(example, "before"),
        left=_in(example, "after"),
    )
    found = work_out("coverage", typed)
    ground = parse_figure(f"rectangle {_in(example, 'length')} x {_in(example, 'swath')}").area
    return {"area": ground, "applied": found.base * ground, "rate": found.base * 43_560}


def _walk(example: Example) -> Values:
    distance = _number(example, "distance")
    return {name: calibration.seconds_for(distance, _number(example, name)) for name in ("fast", "slow")}


def _offsets(example: Example) -> Values:
    text = example["inputs"]["figure"]
    return {rule: parse_figure(f"{text} by {rule}").area for rule in example["exact"]}


ONE = Fraction(1)
WAYS: dict[str, Callable[[Example], Values]] = {
    "okc-circle-80dia": _circle,
    "tn-circle-20dia": _circle,
    "uc-circle-40dia": _circle,
    "okc-triangle-30x26": _triangle,
    "regina-trapezoid-lot": _trapezoid,
    "albany-5940-boomless": _boomless,
    "lsu-128-40in-two-nozzles": _two_nozzles,
    "lsu-128-course-16in": _course,
    "lsu-128-course-20in": _course,
    "lsu-128-course-30in": _course,
    "ncsu-course-6ft": _course,
    "mesa-495-constant": lambda _: {"constant_feet": calibration.INCHES_CONSTANT / 12},
    "mesa-handgun-150oz": _timed,
    "mt-known-area-66x66": _timed,
    "mt-strip-gpa-15x15": _timed,
    "ncsu-128-7_5oz": _refill,
    "uf-band-12in-26oz": _band,
    "uf-band-15in-16oz": _band,
    "mt-gpm-30gpa-7mph-30in": lambda one: {
        "flow": calibration.gpm_for(_number(one, "spray_volume"), _number(one, "speed"), _number(one, "spacing"))
    },
    "mt-speed-1_5gpm-30gpa": lambda one: {
        "speed": calibration.mph_for(_number(one, "flow"), _number(one, "spray_volume"), _number(one, "spacing"))
    },
    "mt-speed-200ft-27s": lambda one: {"speed": calibration.mph(_number(one, "distance"), _number(one, "time"))},
    "usu-speed-0_682": lambda _: {"speed": calibration.mph(ONE, ONE)},
    "ndsu-mph-88": lambda _: {"speed": 60 / calibration.seconds_for(ONE, ONE)},
    "unl-mph-fps": lambda _: {"speed": 1 / calibration.seconds_for(ONE, ONE)},
    "uf-16oz-gpm": lambda one: {"flow": calibration.gpm(_number(one, "caught"), Fraction(60))},
    "pes-plants-6x2qt": lambda one: {"spray": _number(one, "plants") * parse_volume(_in(one, "per_plant")).to("gal")},
    "gran-extension-fireant-bait": _bait,
    "gran-ncsu-walk-100ft": _walk,
    "santa-ana-offsets-60ft": _offsets,
    "santa-ana-offsets-65ft": _offsets,
}


@pytest.mark.parametrize("key", EXAMPLES)
def test_a_published_value(key: str) -> None:
    """The tool meets the published value within its rounding, and the exact one beside it to the last digit."""
    example = EXAMPLES[key]
    found = WAYS.get(key, _rectangle)(example)
    for name, exact in example["exact"].items():
        assert abs(found[name] - Fraction(exact)) <= LAST_DIGIT, name
    for name, said in example["expected"].items():
        assert abs(found[name] - Fraction(said["value"])) <= Fraction(example["within"][name]), name


def test_the_rules_of_one_published_lawn_differ_by_a_fifth() -> None:
    """The mean width times the length makes a fifth more of the published lawn than the page's own sum."""
    figure = parse_figure(EXAMPLES["santa-ana-offsets-60ft"]["inputs"]["figure"] + " by mean")
    assert figure.area / figure.by_rule(OffsetRule.TRAPEZOID) == Fraction(6, 5)


def test_the_trade_s_340_square_feet() -> None:
    """The plot of 340 sq ft that the trade takes for 1/128 acre is 0.1 % small; the constants follow from the acre."""
    assert Fraction("340.3125") == calibration.OUNCE_ACRE
    assert calibration.INCHES_CONSTANT == 5940
    assert calibration.FEET_CONSTANT == 495
    assert abs(340 / calibration.OUNCE_ACRE - 1) < Fraction(1, 1000)


def test_the_circle_number() -> None:
    """The first fifty decimals of pi (OEIS A000796)."""
    assert Fraction(Decimal("3.14159265358979323846264338327950288419716939937510")) == area.PI
