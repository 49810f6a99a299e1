"""Texts that mean harm, and strategies that put them together."""

from __future__ import annotations

from typing import Any

from hypothesis import strategies as st

Json = dict[str, Any]

# What can be typed: every reader takes it as text, and every page, sheet and screen shows it as text.
MARKUP = (
    "<b>bold</b>",
    "<para><font size=99 color=red>",
    '<a href="file:///etc/passwd">x</a>',
    "&#60;b&#62; &amp; &nope;",
    '<img src="file:///etc/passwd"/>',
    # An expression in a colour runs code in older ReportLab where a text is read as a paragraph (CVE-2023-33733).
    "<font color=\"[[[getattr(pow,Word('__globals__'))['os'].system('id') for Word in [y]] for y in []]\">x</font>",
    "<onDraw name=x label=y/><seq/><index item=x/>",
    "[red]x[/red] [link=file:///x]y[/link]",
    "{date} {serial} {page} %s %(x)s ${HOME} `id` $(id)",
    "BEGIN:VALARM END:VEVENT",
    "../../../../etc/passwd",
    "C:\\Windows\\con.pdf",
    "-rf --out=/dev/null",
    "'; DROP TABLE revision; --",
    "100%_*?[a-z]",
    "(parenthesis) \\) Tj ET (",
    "endstream endobj",
)
FORMULAS = (
    "=1+1",
    "+1+1",
    "-1+1",
    "@SUM(A1:A9)",
    "=cmd|' /C calc'!A0",
    '=HYPERLINK("file:///x","y")',
    "#REF!",
    "_x0041_ _x001b_[31m",
    'a";=1+1',
    "\N{FULLWIDTH EQUALS SIGN}1+1",
)
ODD = (
    "\N{COMBINING GRAVE ACCENT}" * 40 + "x",
    "\N{ZERO WIDTH JOINER}x",
    "\N{ARABIC LETTER ALEF}\N{HEBREW LETTER ALEF}",
)
TYPED = (*MARKUP, *FORMULAS, *ODD)

# What no one can type: only a program that seals of its own accord puts it into a book.
STEERING = (
    "\x1b[2J\x1b[31mred",
    "\x1b]8;;file:///x\x1b\\link\x1b]8;;\x1b\\",
    "\x1b]52;c;ZXZpbA==\x07",
    "\x9b31m\x85\x90q",
    "\u202egnp.exe\u202c",
    "\u2066x\u2069\u200e\u200f\u061c",
    "\x00nul\x00",
    "line\r\nBcc: eve@example.org\r\n\r\nbody",
    "\tTab",
    "\rReturn",
    "\u2028\u2029\x0b\x0c",
    "\ufffe\uffff\ufdd0",
    "back\x08\x08\x7f",
)

SHORT = 60  # fits every field for a name
typed = st.one_of(
    st.sampled_from([text for text in TYPED if len(text) <= SHORT]),
    st.sampled_from(TYPED),
    st.lists(st.sampled_from([text for text in TYPED if len(text) <= 20]), min_size=1, max_size=3).map(" ".join),
    st.text(max_size=SHORT),
    st.integers(190, 6_000).map(lambda count: "<b>" * count),
)
sealed = st.one_of(st.sampled_from(STEERING), typed, st.text(st.characters(exclude_categories=["Cs"]), max_size=SHORT))


def put(document: Json, place: str, value: object) -> None:
    """Write a value at a place such as `treatments.0.lot`."""
    *way, last = place.split(".")
    inner: Any = document
    for step in way:
        inner = inner[int(step) if isinstance(inner, list) else step]
    inner[int(last) if isinstance(inner, list) else last] = value
