"""Properties of closing: the third of rate, area and amount; determinism; hostile documents; seals."""

from __future__ import annotations

import copy
import json
from fractions import Fraction
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import TYPE_CHECKING, Any

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from records.domain.quantities import Form, parse_amount, parse_rate
from records.errors import RecordsError
from records.services.closing.documents import read_document
from records.services.closing.entry import unprintable
from records.services.closing.service import AsApplied, Outcome, close_lines, close_visit
from records.services.sealing import canonical, seal_bytes
from tests.kit import ABSENT, LARKIN, Kit, codes, labelled, visit, zone_treatment

if TYPE_CHECKING:
    from collections.abc import Iterator

Json = dict[str, Any]
WIDE = labelled(
    LARKIN | {"label": {"revision": "1", "uses": [{"site": "turf", "rates": [{"max": "900 fl oz/1000 sq ft"}]}]}}
)
STEADY = visit("2026-04-01", ref="steady", site="field", zones=["all"])


@pytest.fixture(scope="module")
def kit(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Kit]:
    """Return one book for all examples: none of them depends on what the others left."""
    made = Kit.at(tmp_path_factory.mktemp("closing"))
    made.load(
        products=[WIDE],
        sites=[
            {
                "id": "field",
                "customer": "aune",
                "address": "1 Field",
                "city": "Tamarack Falls",
                "county": "Itasca",
                "state": "MN",
                "zip": "55199",
                "zones": [{"id": "all", "kind": "turf", "turf": ["tall fescue"]}],
            }
        ],
    )
    assert close_visit(made.book, STEADY, made.clock).status == "sealed"
    yield made
    made.shut()


def decimals(places: int, low: int, high: int) -> st.SearchStrategy[str]:
    """Return decimal texts of so many places, between two whole numbers of the last place."""
    return st.integers(low, high).map(lambda n: f"{n / 10**places:.{places}f}" if places else str(n))


RATES = st.one_of(decimals(2, 5, 2000), decimals(3, 5, 9000), decimals(0, 1, 80))
AREAS = st.one_of(decimals(0, 10, 90_000), decimals(1, 10, 90_000))
UNITS = st.sampled_from(["fl oz/1000 sq ft", "pt/acre", "mL/sq m", "L/ha", "fl oz/M"])


def sealed_line(kit: Kit, **changes: Any) -> tuple[Json, Json]:  # noqa: ANN401 - parts of an entry
    """Close on the unmeasured field and return the treatment and its application."""
    changes = {"zones": ["all"], "site": "field", "confirmed": ["same-day", "unlikely-amount", "over-rate"]} | changes
    outcome = kit.close(**changes)
    assert outcome.status == "sealed", outcome.findings
    assert outcome.body is not None
    treatment = outcome.body["treatments"][0]
    return treatment, treatment["applications"][0]


@settings(max_examples=60, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(RATES, UNITS, AREAS)
def test_any_two_give_the_third(kit: Kit, number: str, unit: str, area: str) -> None:
    """Rate and area give the amount; it agrees with both; amount and area give the rate, rate and amount the area."""
    rate, ground = f"{number} {unit}", f"{area} sq ft"
    _, first = sealed_line(kit, rate=rate, area=ground)
    amount = first["amount"]
    exact = parse_rate(rate, Form.LIQUID).base * Fraction(area)
    assert abs(parse_amount(amount, Form.LIQUID).base - exact) <= Fraction(3, 10**5)  # six decimals of a liter
    _, all_three = sealed_line(kit, rate=rate, area=ground, amount=amount)
    assert all_three["amount"] == amount
    _, second = sealed_line(kit, rate=ABSENT, area=ground, amount=amount)
    again = parse_rate(second["rate"], Form.LIQUID).base
    assert abs(again / parse_rate(rate, Form.LIQUID).base - 1) < Fraction(1, 1000)
    third, _ = sealed_line(kit, rate=rate, area=ABSENT, amount=amount)
    assert abs(Fraction(third["area"].split()[0]) / Fraction(area) - 1) < Fraction(1, 1000)


@settings(max_examples=40, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(st.integers(100, 400), st.sampled_from([Fraction(9, 10), Fraction(11, 10), Fraction(10), Fraction(1, 10)]))
def test_what_is_out_by_a_tenth_disagrees(kit: Kit, hundredths: int, factor: Fraction) -> None:
    """An amount that is out by a tenth or by a decimal place is never accepted beside a rate of three digits."""
    amount = Fraction(hundredths, 100) * 4 * factor
    text = f"{round(amount * 1000) / 1000:.3f} fl oz"
    outcome = kit.close(site="field", zones=["all"], rate=f"{hundredths / 100:.2f} fl oz/1000 sq ft", amount=text)
    assert "disagree" in codes(outcome, "stop")


FULL = visit(
    ref="r-1",
    supervisor="ruth",
    spray="8 gal",
    amount="3 fl oz",
    equipment="can-1",
    confirmed=["same-day"],
    remarks="gate was open",
    follow_up="2026-05-28",
    extent="all of it",
    humidity="40 %",
    not_measured={"temperature": "x"},
    rest=[zone_treatment(zones=["side", "bed"], method="spot", area="90 sq ft"), {"mix": "load-a", "spray": "2 gal"}],
)


def places(value: Any, at: tuple[Any, ...] = ()) -> Iterator[tuple[Any, ...]]:  # noqa: ANN401 - JSON
    """Yield the path of every part of a document, the document itself first."""
    yield at
    if isinstance(value, dict | list):
        for key, inner in value.items() if isinstance(value, dict) else enumerate(value):
            yield from places(inner, (*at, key))


PLACES = sorted(set(places(FULL)), key=repr)
NASTY: st.SearchStrategy[Any] = st.sampled_from(
    [
        None,
        True,
        0,
        -1,
        2**53,
        10**400,
        0.5,
        float("nan"),
        "",
        " ",
        "\x00",
        "\ud800",
        "\u202e",
        "x" * 100_000,
        "9" * 5_000,
        "9" * 24 + " gal",
        "9" * 24 + " acre",
        "0." + "0" * 20 + "1 fl oz",
        "1e9 gal",
        "-1 fl oz",
        "1/0 gal",
        "NaN",
        "Infinity sq ft",
        "1 1/2 pt/acre",
        "100 % v/v",
        "0 mph",
        "calm",
        "9999-12-31T23:59",
        "0001-01-01T00:00+14:00",
        "2026-02-30T10:00",
        "2026-05-14T24:00",
        "2026-05-14T09:10+99:99",
        "2026-W20-4",
        "٣ gal",
        "front",
        "load-a",
        "larkin-4",
        "99999-51",
        "99999-MN-1",
        "ruth",
        [],
        {},
        [[]],
        [None],
        [{}],
        [[{"a": [1]}]],
        {"not_measured": "broken"},
        {"not_measured": {"not_measured": []}},
        {"\ud800": 1},
        {"": ""},
        ["front"] * 100,
        [{"product": "larkin-4", "rate": "1 gal/acre"}] * 3,
    ]
)
JSONS = st.recursive(
    st.one_of(st.none(), st.booleans(), st.integers(), st.floats(), st.text(max_size=20), NASTY),
    lambda inner: st.one_of(st.lists(inner, max_size=4), st.dictionaries(st.text(max_size=8), inner, max_size=4)),
    max_leaves=12,
)
CHANGES = st.lists(st.tuples(st.sampled_from(PLACES), st.one_of(NASTY, JSONS)), min_size=1, max_size=4)


def mutated(changes: list[tuple[tuple[Any, ...], Any]]) -> Any:  # noqa: ANN401 - JSON
    """Return the full document with parts replaced, as far as the places are still there."""
    document: Any = copy.deepcopy(FULL)
    for path, value in changes:
        if not path:
            continue
        inner = document
        try:
            for key in path[:-1]:
                inner = inner[key]
            inner[path[-1]] = copy.deepcopy(value)
        except (KeyError, IndexError, TypeError):
            continue
    return document


def verdict(kit: Kit, document: Any, signed: AsApplied | None = None) -> Outcome | str:  # noqa: ANN401 - JSON
    """Return what became of an entry, or the line of the expected error."""
    try:
        return close_visit(kit.book, document, kit.clock, signed)
    except RecordsError as error:
        return str(error)


@settings(max_examples=400, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(CHANGES, st.booleans())
def test_hostile_documents(kit: Kit, changes: list[tuple[tuple[Any, ...], Any]], signed: bool) -> None:  # noqa: FBT001
    """Whatever stands in an entry, it is sealed, held or refused with one line; nothing else is raised."""
    kit.set("2026-05-14T12:00")
    document = mutated(changes)
    outcome = verdict(kit, document, AsApplied("why", "ruth") if signed else None)
    if isinstance(outcome, str):
        assert "\n" not in outcome
        return
    for finding in outcome.findings:
        text = finding["message"] + finding["at"] + finding["found"]
        assert not unprintable(text)
        assert len(text) < 2_000
    json.dumps(outcome.document())


@settings(max_examples=150, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(st.one_of(st.binary(max_size=200), JSONS.map(lambda value: json.dumps(value).encode())))
def test_hostile_lines(kit: Kit, data: bytes) -> None:
    """Any bytes on a line have a verdict, and an ordinary line beside them is not harmed."""
    kit.set("2026-05-14T12:00")
    outcomes = list(close_lines(kit.book, [data, json.dumps(STEADY).encode()], kit.clock))
    assert outcomes[-1].status == "sealed"
    assert all(one.status in {"sealed", "held", "refused"} for one in outcomes)


@pytest.mark.parametrize("depth", [40, 2_000, 100_000])
def test_depth(kit: Kit, depth: int) -> None:
    """A document nested without end is one line, read from a file or handed over."""
    with pytest.raises(RecordsError):
        read_document('{"a":' * depth + "1" + "}" * depth, "x")
    deep: Any = "x"
    for _ in range(depth):
        deep = [deep]
    outcome = verdict(kit, visit() | {"remarks": deep})
    assert isinstance(outcome, str) or "not-understood" in codes(outcome)


def test_many_names(kit: Kit) -> None:
    """A hundred thousand unknown names are told in few findings."""
    outcome = close_visit(kit.book, visit() | {f"k{n}": n for n in range(100_000)}, kit.clock)
    assert outcome.status == "held"
    assert len(outcome.findings) < 40


@settings(max_examples=25, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(CHANGES)
def test_the_same_entry_is_judged_the_same(changes: list[tuple[tuple[Any, ...], Any]]) -> None:
    """Two books with the same content and the same clock give the same answer and the same seal."""
    document, answers = mutated(changes), list[tuple[str, str]]()
    for _ in range(2):
        with TemporaryDirectory() as folder:
            made = Kit.at(Path(folder))
            made.set("2026-05-14T12:00")
            answer = verdict(made, document)
            with made.book.read() as work:
                head = work.records.head()
            made.shut()
        answers.append((answer if isinstance(answer, str) else repr(answer.document()), head))
    assert answers[0] == answers[1]


@settings(suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(st.data())
def test_any_changed_byte_breaks_the_seal(kit: Kit, data: st.DataObject) -> None:
    """The seal of a closed visit fits its stored text only as it is."""
    with kit.book.read() as work:
        serial, _ = work.records.by_ref("steady") or ("", "")
        one = work.records.revisions(serial)[0]
    text = canonical(one.body)
    assert seal_bytes(one.previous, one.serial, one.revision, one.sealed_at, text) == one.seal
    at, change = data.draw(st.integers(0, len(text) - 1)), data.draw(st.integers(1, 255))
    other = text[:at] + bytes([text[at] ^ change]) + text[at + 1 :]
    assert seal_bytes(one.previous, one.serial, one.revision, one.sealed_at, other) != one.seal
