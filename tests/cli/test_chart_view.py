"""Charts in the terminal: 78 columns, plain marks, values in words."""

from __future__ import annotations

from fractions import Fraction

from hypothesis import given, settings
from hypothesis import strategies as st

from records.cli.chart_view import chart_text
from records.cli.output import display_width
from records.domain.chart_model import Bar, BarChart, Dot, LineChart, Series

LINES = LineChart(
    "Control of dandelion",
    "days after treatment",
    "control, %",
    (
        Series("Brindle 4L", (Dot(Fraction(0), Fraction(0)), Dot(Fraction(14), Fraction(90))), "4 sites"),
        Series("Quiet Meadow", (Dot(Fraction(0), Fraction(0)), Dot(Fraction(28), Fraction(50))), "5 sites"),
        Series("Nothing yet", (), "0 sites"),
    ),
    Fraction(100),
)


def test_lines() -> None:
    text = chart_text(LINES)
    assert len(text) <= 22
    assert any(line.startswith(" 100+") for line in text)
    assert "  o Brindle 4L (4 sites)" in text
    assert "  * Nothing yet (0 sites; no data)" in text
    assert sum(line.count("?") for line in text) == 1  # both begin at nothing


def test_bars_say_their_values() -> None:
    bars = (
        Bar("Brindle 4L", Fraction(21), "21 days", Fraction(14), Fraction(35), "4 sites"),
        Bar("Quiet", None, ""),
        Bar("Worse", Fraction(-4), "-4"),
    )
    text = "\n".join(chart_text(BarChart("Days", "days", bars)))
    assert "] 21 days, 4 sites" in text
    assert "not known" in text
    assert "no data" in "\n".join(chart_text(BarChart("Days", "days", ())))
    assert "no data" in "\n".join(chart_text(LineChart("Days", "days", "%", ())))


NAMES = st.text(max_size=90)
NUMBERS = st.fractions(-500, 5000, max_denominator=20)


@settings(max_examples=60, deadline=None)
@given(
    title=NAMES,
    lines=st.lists(st.tuples(NAMES, st.lists(st.tuples(NUMBERS, NUMBERS), max_size=5).map(sorted)), max_size=14),
    bars=st.lists(st.tuples(NAMES, st.none() | NUMBERS, NAMES), max_size=8),
)
def test_never_wider_than_78_columns(
    title: str,
    lines: list[tuple[str, list[tuple[Fraction, Fraction]]]],
    bars: list[tuple[str, Fraction | None, str]],
) -> None:
    drawn = tuple(Series(name, tuple(Dot(x, y) for x, y in dots)) for name, dots in lines)
    shown = tuple(Bar(name, value, text, value and value - 3, value and value + 3) for name, value, text in bars)
    for chart in (LineChart(title, title, title, drawn), BarChart(title, title, shown)):
        for line in chart_text(chart):
            assert display_width(line) <= 78
            assert "\x1b" not in line
            assert "\n" not in line
