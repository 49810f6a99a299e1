"""Canonical JSON and seals against RFC 8785 and against the package that implements all of it."""

from __future__ import annotations

import copy
import hashlib
import json
from enum import StrEnum
from typing import Any

import pytest
import rfc8785
from hypothesis import given
from hypothesis import strategies as st

from records.errors import InputError
from records.services.sealing import canonical, digest, seal, sealed
from tests.bodies import visit_body
from tests.storage.chain import AT

# RFC 8785, section 3.2.3: the sample object of property sorting; the expected order of values is the RFC's own list.
SORTING = {
    "\u20ac": "Euro Sign",
    "\r": "Carriage Return",
    "\ufb33": "Hebrew Letter Dalet With Dagesh",
    "1": "One",
    "\U0001f600": "Emoji: Grinning Face",
    "\u0080": "Control",
    "\u00f6": "Latin Small Letter O With Diaeresis",
}
SORTED = (
    "Carriage Return",
    "One",
    "Control",
    "Latin Small Letter O With Diaeresis",
    "Euro Sign",
    "Emoji: Grinning Face",
    "Hebrew Letter Dalet With Dagesh",
)

texts = st.text(st.characters(codec="utf-8"), max_size=12)
names = st.one_of(st.text(st.characters(codec="ascii"), max_size=6), texts)
whole = st.integers(-(2**53) + 1, 2**53 - 1)
values = st.recursive(
    st.one_of(st.none(), st.booleans(), whole, texts),
    lambda inner: st.one_of(st.lists(inner, max_size=4), st.dictionaries(names, inner, max_size=4)),
    max_leaves=20,
)


def test_names_are_sorted_by_utf16_units() -> None:
    """The sample of RFC 8785, section 3.2.3, comes out in the order printed there."""
    assert tuple(json.loads(canonical(SORTING)).values()) == SORTED


def test_text_is_escaped_as_the_rfc_shows() -> None:
    r"""The "string" of the sample in RFC 8785, section 3.2.2, becomes what section 3.2.4 prints as bytes."""
    sample = {"string": "\u20ac$\u000f\u000aA'\u0042\u0022\u005c\\\"/"}
    # Section 3.2.4 in hex, from the quote before the euro sign to the quote after the slash
    printed = bytes.fromhex("22e282ac245c75303030665c6e4127425c225c5c5c5c5c222f22")
    assert canonical(sample) == b'{"string":' + printed + b"}"


def test_literals_and_blanks() -> None:
    """The literals of RFC 8785, section 3.2.2, are written bare and nothing is put between tokens (3.2.1)."""
    assert canonical({"literals": [None, True, False], "a": {}, "b": [], "c": -7}) == (
        b'{"a":{},"b":[],"c":-7,"literals":[null,true,false]}'
    )


@pytest.mark.parametrize("value", [2**53 - 1, -(2**53) + 1])
def test_the_largest_whole_numbers(value: int) -> None:
    """Whole numbers up to the maximum safe integer of RFC 8785, appendix B (9007199254740991), are kept."""
    assert canonical(value) == str(value).encode()


@pytest.mark.parametrize(
    "value",
    [
        0.5,
        1.0,
        float("nan"),
        float("inf"),
        2**53,
        -(2**53),
        b"x",
        {1, 2},
        pytest.param(object(), id="object"),
        {1: "x"},
        {None: "x"},
        {True: "x"},
        "\ud800",
        {"\udc00": 1},
        {"é\udc00": 1},
        [["deep", 0.25]],
    ],
    ids=repr,
)
def test_what_is_not_sealed(value: object) -> None:
    """Fractions, numbers beyond 2^53, lone surrogates and what is not JSON are refused with one line."""
    with pytest.raises(InputError, match="the document"):
        canonical({"in": [value]})


def test_nesting_has_an_end() -> None:
    """A document nested without end is refused, not a recursion error."""
    value: list[object] = []
    for _ in range(5000):
        value = [value]
    with pytest.raises(InputError, match="levels deep"):
        canonical(value)


def test_members_of_enumerations_are_their_text() -> None:
    """A text of a kind seals as its text."""

    class Word(StrEnum):
        STOP = "stop"

    assert canonical([Word.STOP]) == b'["stop"]'


@given(values)
def test_the_quick_way_equals_the_package(value: object) -> None:
    """For everything that can be sealed, the standard library's encoder and the rfc8785 package agree."""
    assert canonical(value) == rfc8785.dumps(value)  # type: ignore[arg-type]


@given(values)
def test_canonical_text_reads_back_and_is_stable(value: object) -> None:
    """Reading canonical text and writing it again changes nothing."""
    text = canonical(value)
    assert json.loads(text) == value
    assert canonical(json.loads(text)) == text


def test_a_stranger_can_compute_the_seal() -> None:
    """The seal is SHA-256 over the RFC 8785 JSON of the five parts, made here without this package."""
    body = visit_body()
    parts: dict[str, Any] = {
        "previous": "ab" * 32,
        "serial": "2026-000002",
        "revision": 1,
        "sealed_at": AT,
        "body": body,
    }
    expected = hashlib.sha256(rfc8785.dumps(parts)).hexdigest()
    assert seal("ab" * 32, "2026-000002", 1, AT, body) == expected
    assert sealed("ab" * 32, "2026-000002", 1, AT, body) == (expected, rfc8785.dumps(body).decode())
    assert digest(body) == hashlib.sha256(rfc8785.dumps(body)).hexdigest()


@given(st.integers(0, 4), st.data())
def test_any_changed_part_changes_the_seal(part: int, data: st.DataObject) -> None:
    """No part of a revision can change without its seal changing."""
    parts: list[object] = ["", "2026-000001", 1, AT, visit_body()]
    changed = copy.deepcopy(parts)
    changed[part] = data.draw(values.filter(lambda value: canonical(value) != canonical(parts[part])))
    assert seal(*parts) != seal(*changed)  # type: ignore[arg-type]  # any value in any place


@given(st.data())
def test_any_changed_byte_changes_the_digest(data: st.DataObject) -> None:
    """A document whose canonical text differs in one byte has another digest."""
    text = canonical(visit_body())
    at = data.draw(st.integers(0, len(text) - 1))
    other = text[:at] + bytes([text[at] ^ data.draw(st.integers(1, 255))]) + text[at + 1 :]
    assert hashlib.sha256(other).hexdigest() != digest(visit_body())
