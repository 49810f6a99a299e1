"""Grades, shares and weights of fertilizer; active ingredient by the acre both ways; what a body keeps of them."""

from __future__ import annotations

from fractions import Fraction
from typing import TYPE_CHECKING, Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from records.domain.numerals import QuantityError
from records.domain.nutrients import (
    NUTRIENTS,
    Analysis,
    is_turf,
    parse_grade,
    parse_share,
    per_thousand,
    season_of,
    share_text,
)
from records.domain.product import Active, Content, Product, ProductKind
from records.domain.quantities import Form, Per, Quantity, Rate, parse_amount, parse_area, parse_rate
from records.domain.strength import (
    active_per_area,
    at_least,
    in_unit,
    parse_want,
    product_per_area,
    rates_of,
    significant,
)
from records.domain.visit import Line
from records.errors import InputError, UsageError
from records.services.closing.nutrient_body import nutrients_body, per_area, told, weights_of
from records.services.nutrients import dose
from records.services.reading import read_product
from records.services.strength import actives_of, given_content, parts_of, products_of
from records.units import Kind

if TYPE_CHECKING:
    from records.domain.loaded import Problem

GRADES = st.tuples(*[st.integers(0, 33)] * 3)
POUNDS = st.fractions(Fraction(1, 100), 500, max_denominator=1000)


def product(**changes: object) -> dict[str, Any]:
    """Return a loaded fertilizer, parts replaced; None takes a part away."""
    made: dict[str, Any] = {"id": "m", "name": "M", "form": "granule", "analysis": "16-4-8", "slow_release": "30 %"}
    return {key: value for key, value in (made | changes).items() if value is not None}


def read(**changes: object) -> tuple[Product | None, list[str]]:
    """Return what a loaded fertilizer reads as, and its problems."""
    problems: list[Problem] = []
    found = read_product(product(**changes), problems)
    return found, [f"{problem.where}: {problem.what}" for problem in problems]


@pytest.mark.parametrize("text", ["16-4-8", "16 - 4 - 8", " 16-4-8 "])
def test_a_grade(text: str) -> None:
    """N, P2O5 and K2O in per cent by weight."""
    assert parse_grade(text) == (Fraction(16, 100), Fraction(4, 100), Fraction(8, 100))
    assert parse_grade("0.5-0-22.25")[2] == Fraction("0.2225")


@pytest.mark.parametrize("text", ["", "16-4", "16/4/8", "50-40-20", "a-b-c", "-1-0-0", "16-4-8-2", "1e1-0-0"])
def test_no_grade(text: str) -> None:
    """What is no grade, or more than the whole, is refused."""
    with pytest.raises(QuantityError, match="16-4-8"):
        parse_grade(text)


@pytest.mark.parametrize(("text", "share"), [("30 %", "0.3"), ("46.67%", "0.4667"), (".5 %", "0.005"), ("100 %", "1")])
def test_a_share(text: str, share: str) -> None:
    """A share of the nitrogen."""
    assert parse_share(text) == Fraction(share)
    assert share_text(Fraction("0.3")) == "30 %"


@pytest.mark.parametrize("text", ["30", "101 %", "-1 %", "some", "5 lb"])
def test_no_share(text: str) -> None:
    """What is no share of a whole is refused."""
    with pytest.raises(QuantityError, match="30 %"):
        parse_share(text)


@given(GRADES, POUNDS)
def test_weights_come_back(grade: tuple[int, int, int], pounds: Fraction) -> None:
    """The product for a weight of any nutrient holds just that weight of it."""
    text = "-".join(map(str, grade))
    n, p2o5, k2o = parse_grade(text)
    analysis = Analysis(text, n, p2o5, k2o, Fraction(1, 4))
    for nutrient in NUTRIENTS:
        base = analysis.product_for(pounds, nutrient)
        weights = None if base is None else analysis.of_base(base)
        if weights is None:
            assert not {"N": n, "soluble N": n, "K2O": k2o}.get(nutrient, p2o5)
        else:
            assert weights.of(nutrient) == pounds


@given(POUNDS, st.fractions(0, 1, max_denominator=100))
def test_slow_and_soluble_are_all_of_it(pounds: Fraction, slow: Fraction) -> None:
    """Nothing of the nitrogen is counted twice or lost, and area only divides."""
    weights = Analysis("20-0-0", Fraction(1, 5), Fraction(0), Fraction(0), slow).of_base(pounds)
    assert weights is not None
    assert weights.soluble == weights.n * (1 - slow)
    assert weights.over(Fraction(500)).n * 500 == weights.n == pounds / 5


def test_a_liquid_is_weighed_by_its_density() -> None:
    """A gallon of 18-0-3 at 10.2 lb/gal holds 1.836 lb N; without a density nothing follows."""
    found, problems = read(form="liquid", analysis="18-0-3", density="10.2 lb/gal", slow_release=None)
    assert problems == []
    assert found is not None
    assert found.analysis is not None
    weights = found.analysis.weights(parse_amount("1 gal", Form.LIQUID))
    assert weights is not None
    assert weights.n == Fraction("1.836")
    assert weights.soluble is None
    assert weights.over(Fraction(2)).soluble is None
    unknown = Analysis("18-0-3", Fraction(18, 100), Fraction(0), Fraction(3, 100), pounds_per_base=None)
    assert unknown.of_base(Fraction(1)) is None
    assert unknown.product_for(Fraction(1), "N") is None
    assert unknown.weights(Quantity(Fraction(1), "oz")) is None


def test_a_fertilizer_needs_no_kind() -> None:
    """An analysis alone makes it one; with a number it stays a pesticide."""
    found, problems = read()
    assert problems == []
    assert found is not None
    assert (found.kind, found.type) == (ProductKind.FERTILIZER, "fertilizer")
    actives = [{"name": "x", "content": "1 %"}]
    found, problems = read(registration="99999-77", actives=actives, nutrient_kind="enhanced")
    assert problems == []
    assert found is not None
    assert found.kind is ProductKind.PESTICIDE
    assert found.analysis is not None
    assert (found.analysis.kind, found.analysis.slow) == ("enhanced", Fraction(3, 10))


def test_insoluble_nitrogen_is_of_the_product() -> None:
    """7 % of the product is 7/16 of the nitrogen."""
    found, problems = read(slow_release=None, insoluble_n="7 %")
    assert problems == []
    assert found is not None
    assert found.analysis is not None
    assert found.analysis.slow == Fraction(7, 16)
    found, _ = read(slow_release=None, insoluble_n="0 %", analysis="0-0-50")
    assert found is not None
    assert found.analysis is not None
    assert found.analysis.slow is None


@pytest.mark.parametrize(
    ("changes", "says"),
    [
        ({"analysis": "16-4"}, "analysis: '16-4' is no grade"),
        ({"analysis": None}, "slow_release: goes with an analysis"),
        ({"insoluble_n": "7 %"}, "insoluble_n: says the same"),
        ({"slow_release": None, "insoluble_n": "17 %"}, "insoluble_n: is more than all"),
        ({"form": "liquid"}, "density: is missing"),
        ({"kind": "adjuvant"}, "analysis: does not go with kind adjuvant"),
        ({"nutrient_kind": "magic"}, "nutrient_kind: 'magic' is not known"),
        ({"slow_release": "30"}, "slow_release: '30' is no share"),
    ],
)
def test_what_is_wrong_with_a_fertilizer(changes: dict[str, object], says: str) -> None:
    """Each problem is told with its place."""
    found, problems = read(**changes)
    assert found is None
    assert any(problem.startswith(says) for problem in problems), problems


@pytest.mark.parametrize(
    ("turf", "season"),
    [
        (("tall fescue", "Kentucky bluegrass"), "cool-season"),
        (("Bermudagrass",), "warm-season"),
        (("bermudagrass", "perennial ryegrass"), ""),
        (("moss",), ""),
        ((), ""),
    ],
)
def test_seasons_of_grass(turf: tuple[str, ...], season: str) -> None:
    """Only a lawn all of one kind has a season."""
    assert season_of(turf) == season


def test_turf() -> None:
    """The laws are about turf."""
    assert is_turf("turf")
    assert is_turf("lawn")
    assert not is_turf("ornamental bed")
    assert not is_turf("")


def line_of(amount: str | None, form: str = "granule", **changes: object) -> tuple[Line, Product]:
    """Return a line of an entry with a fertilizer."""
    found, problems = read(form=form, **changes)
    assert problems == []
    assert found is not None
    size = None if amount is None else parse_amount(amount, found.form)
    return Line("at", found, None, size, is_amount_typed=True, targets=()), found


def test_a_body_keeps_what_went_on() -> None:
    """Pounds with nine decimals; nothing where nothing follows, no key where there is no analysis."""
    line, held = line_of("14 lb")
    body = nutrients_body(line)
    assert body == {"nutrients": {"n": "2.24", "p2o5": "0.56", "k2o": "1.12", "soluble_n": "1.568"}}
    sealed: dict[str, Any] = {
        "product": {"analysis": held.analysis.text if held.analysis else "", "slow_release": "30 %"},
        "area": "4000 sq ft",
        **body,
    }
    assert told(sealed) == "16-4-8, 30 % of the N slow-release: N 0.56, P2O5 0.14, K2O 0.28 lb/1000 sq ft"
    assert per_area(sealed) == (
        "16-4-8",
        [("N", "0.56 lb/1000 sq ft"), ("P2O5", "0.14 lb/1000 sq ft"), ("K2O", "0.28 lb/1000 sq ft")],
    )
    sealed["area"] = None
    assert told(sealed).endswith("N 2.24, P2O5 0.56, K2O 1.12 lb in all")
    assert per_area(sealed) == ("16-4-8", [])
    unknown = nutrients_body(line_of(None)[0])
    assert set(unknown["nutrients"].values()) == {None}
    sealed |= unknown
    assert weights_of(sealed) is None
    assert told(sealed).endswith("weight not known")
    assert told({"product": {}}) == ""
    assert per_area({"product": {}}) is None


SHARES = st.integers(1, 2000).map(lambda number: Fraction(number, 100))


@given(SHARES, SHARES)
def test_active_both_ways(pounds: Fraction, content: Fraction) -> None:
    """The product for an active puts on just that active."""
    per_base = content / 128
    base = product_per_area(pounds / 43560, per_base)
    for unit, value in rates_of(base, Kind.VOLUME):
        top, _, per = unit.partition("/")
        rate = Rate(value, top, Per.AREA, per)
        assert in_unit(active_per_area(rate, per_base), "lb", "acre") == pounds


@given(st.fractions(0, 5000, max_denominator=10**6))
def test_rounded_down_is_never_more(value: Fraction) -> None:
    """What is told as left is there, and is not off by more than a part in a thousand."""
    shown = Fraction(at_least(value))
    assert shown <= value
    assert value - shown <= value / 500 + Fraction(1, 10**8)


@pytest.mark.parametrize(
    ("value", "text"), [("4.545454", "4.545"), ("0.0065081", "0.006508"), ("111141.3", "111141"), ("0", "0")]
)
def test_significant(value: str, text: str) -> None:
    """Four digits, as it is measured by."""
    assert significant(Fraction(value)) == text


def test_a_rate_per_spray_says_nothing_of_an_area() -> None:
    """A dose per gallon puts on what the gallon is spread over."""
    with pytest.raises(QuantityError, match="per spray, not per area"):
        active_per_area(parse_rate("0.6 fl oz/gal", Form.LIQUID), Fraction(1))
    with pytest.raises(QuantityError, match="not per area"):
        parse_want("1 lb/gal")


@pytest.mark.parametrize(
    ("content", "form", "basis", "error"),
    [
        ("4 lb/gal", "gas", None, UsageError),
        ("4 lb/gal", "liquid", "oz", UsageError),
        ("4 lb/gal", "dry", None, InputError),
        ("strong", "liquid", None, InputError),
    ],
)
def test_a_content_that_is_none(content: str, form: str, basis: str | None, error: type[Exception]) -> None:
    """Form, basis and content are told apart."""
    with pytest.raises(error):
        given_content(content, form, basis)


def test_a_per_cent_of_a_liquid_needs_its_density() -> None:
    """6 % by weight alone gives nothing."""
    held = given_content("6 %", "liquid", "ai")[1]
    with pytest.raises(InputError, match="by weight of a liquid"):
        actives_of(Form.LIQUID, held, "1 gal/acre")
    with pytest.raises(InputError, match=r"is an amount"):
        actives_of(Form.LIQUID, given_content("4 lb/gal", "liquid", "ai")[1], "3 pt")
    with pytest.raises(InputError):
        products_of(Form.LIQUID, given_content("4 lb/gal", "liquid", "ai")[1], "3 pt/acre")


def test_one_of_rate_and_wish() -> None:
    """Neither, both, or more words are refused; a product without actives has none to reckon."""
    held = (Active("x", Content("4 lb/gal", Fraction(1, 32))),)
    assert parts_of(["3 pt/acre"], None, held, "X") == "3 pt/acre"
    assert parts_of([], "1 lb/acre", held, "X") is None
    for words, want in (([], None), (["1"], "2"), (["3", "pt/acre"], None)):
        with pytest.raises(UsageError):
            parts_of(words, want, held, "X")
    with pytest.raises(InputError, match="no active ingredient"):
        parts_of(["1"], None, (), "X")


@pytest.mark.parametrize(
    ("want", "says"),
    [("1 lb", "how much of what"), ("N", "how much of what"), ("1 gal N", "weight"), ("1 lb K2O", "holds none")],
)
def test_a_dose_that_cannot_be(want: str, says: str) -> None:
    """What is not understood, or not in the bag."""
    found, _ = read(analysis="20-4-0")
    assert found is not None
    with pytest.raises(InputError, match=says):
        dose(found, want)


def test_a_dose() -> None:
    """By the thousand, by the acre, and of the element."""
    found, _ = read()
    assert found is not None
    assert dose(found, "1 lb N").rate * 1000 == Fraction("6.25")
    assert dose(found, "43.56 lb of N per acre").rate * 1000 == Fraction("6.25")
    assert dose(found, "0.5 lb P").rate * 1000 == Fraction("0.5") / (Fraction("0.04") * Fraction("0.4364"))
    assert dose(found, "1 lb n", parse_area("2000 sq ft")).total == Fraction("12.5")
    assert dose(found, "1 lb N").total is None
    bare, _ = read(analysis=None, slow_release=None, kind="fertilizer")
    assert bare is not None
    with pytest.raises(InputError, match="no analysis"):
        dose(bare, "1 lb N")
    assert per_thousand(Fraction(1, 1000)) == "1"
