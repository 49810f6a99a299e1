"""The RFC 8785 package against the published vectors, and our own canonical form against those it has to take.

Objects: the test data of the reference implementation, https://github.com/cyberphone/json-canonicalization
(`testdata/input` and `testdata/output`). Numbers: RFC 8785, appendix B, table 1. What has a fraction or is no number
that a double holds exactly is never sealed here; the package is held to it all the same.
"""

from __future__ import annotations

import json
import struct

import pytest
import rfc8785

from records.errors import InputError
from records.services.sealing import canonical

# name: input, output; whether it can be sealed, which fractions cannot
OBJECTS = {
    "arrays": (
        '[\n  56,\n  {\n    "d": true,\n    "10": null,\n    "1": [ ]\n  }\n]',
        '[56,{"1":[],"10":null,"d":true}]',
        True,
    ),
    "french": (
        (
            '{\n  "peach": "This sorting order",\n  "p\u00e9ch\u00e9": "is wrong according to French",\n'
            '  "p\u00eache": "but canonicalization MUST",\n  "sin":   "ingnore locale"\n}'
        ),
        (
            '{"peach":"This sorting order","p\u00e9ch\u00e9":"is wrong according to French",'
            '"p\u00eache":"but canonicalization MUST","sin":"ingnore locale"}'
        ),
        True,
    ),
    "structures": (
        (
            '{\n  "1": {"f": {"f": "hi","F": 5} ,"\\n": 56.0},\n  "10": { },\n  "": "empty",\n  "a": { },\n'
            '  "111": [ { } ],\n  "A": { }\n}'
        ),
        '{"":"empty","1":{"\\n":56,"f":{"F":5,"f":"hi"}},"10":{},"111":[{}],"A":{},"a":{}}',
        False,
    ),
    "unicode": (
        '{\n  "Unnormalized Unicode":"\\u1e0d\\u0307"\n}',
        '{"Unnormalized Unicode":"\u1e0d\u0307"}',
        True,
    ),
    "values": (
        (
            '{\n  "numbers": [1E30, 4.50, 333333333.33333329, 2e-3, 0.000000000000000000000000001],\n'
            '  "escaping": "\\u20ac$\\u000F\\u000aA\'\\u0042\\u0022\\u005c\\\\\\"\\/",\n'
            '  "literals": [null, true, false]\n}'
        ),
        (
            '{"escaping":"\u20ac$\\u000f\\nA\'B\\"\\\\\\\\\\"/","literals":[null,true,false],'
            '"numbers":[1e+30,4.5,333333333.3333333,0.002,1e-27]}'
        ),
        False,
    ),
    "weird": (
        (
            '{\n  "\\u20ac": "Euro Sign",\n  "1": "One",\n'
            '  "\\u0080": "Control\\u007f",\n  "\\ud83d\\ude02": "Smiley",\n'
            '  "\\u00f6": "Latin Small Letter O With Diaeresis",\n  "\\ufb33": "Hebrew Letter Dalet With Dagesh",\n'
            '  "</script>": "Browser Challenge"\n}'
        ),
        (
            '{"1":"One","</script>":"Browser Challenge","\x80":"Control\x7f",'
            '"\u00f6":"Latin Small Letter O With Diaeresis","\u20ac":"Euro Sign","\U0001f602":"Smiley",'
            '"\ufb33":"Hebrew Letter Dalet With Dagesh"}'
        ),
        True,
    ),
}
NUMBERS = [
    ("0000000000000000", "0"),
    ("8000000000000000", "0"),
    ("0000000000000001", "5e-324"),
    ("8000000000000001", "-5e-324"),
    ("7fefffffffffffff", "1.7976931348623157e+308"),
    ("ffefffffffffffff", "-1.7976931348623157e+308"),
    ("4340000000000000", "9007199254740992"),
    ("c340000000000000", "-9007199254740992"),
    ("4430000000000000", "295147905179352830000"),
    ("44b52d02c7e14af5", "9.999999999999997e+22"),
    ("44b52d02c7e14af6", "1e+23"),
    ("44b52d02c7e14af7", "1.0000000000000001e+23"),
    ("444b1ae4d6e2ef4e", "999999999999999700000"),
    ("444b1ae4d6e2ef4f", "999999999999999900000"),
    ("444b1ae4d6e2ef50", "1e+21"),
    ("3eb0c6f7a0b5ed8c", "9.999999999999997e-7"),
    ("3eb0c6f7a0b5ed8d", "0.000001"),
    ("41b3de4355555553", "333333333.3333332"),
    ("41b3de4355555554", "333333333.33333325"),
    ("41b3de4355555555", "333333333.3333333"),
    ("41b3de4355555556", "333333333.3333334"),
    ("41b3de4355555557", "333333333.33333343"),
    ("becbf647612f3696", "-0.0000033333333333333333"),
    ("43143ff3c1cb0959", "1424953923781206.2"),
]


@pytest.mark.parametrize("name", OBJECTS)
def test_objects(name: str) -> None:
    """The package gives the published output; so do we, or we refuse what has a fraction."""
    given, expected, can_be_sealed = OBJECTS[name]
    value = json.loads(given)
    assert rfc8785.dumps(value) == expected.encode()
    if can_be_sealed:
        assert canonical(value) == expected.encode()
    else:
        with pytest.raises(InputError, match="fraction"):
            canonical(value)


@pytest.mark.parametrize(("bits", "expected"), NUMBERS)
def test_numbers(bits: str, expected: str) -> None:
    """The package writes doubles as the RFC's table does; none of them is ever sealed as a double."""
    (value,) = struct.unpack(">d", bytes.fromhex(bits))
    assert rfc8785.dumps(value) == expected.encode()
    with pytest.raises(InputError, match="fraction"):
        canonical(value)


@pytest.mark.parametrize("bits", ["7fffffffffffffff", "7ff0000000000000"])
def test_what_is_no_number(bits: str) -> None:
    """NaN and Infinity are refused, as the table says."""
    (value,) = struct.unpack(">d", bytes.fromhex(bits))
    with pytest.raises(rfc8785.CanonicalizationError):
        rfc8785.dumps(value)
