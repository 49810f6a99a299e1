"""A report and the annual summary are one, to the last digit: over random books, and nothing else is let through."""

from __future__ import annotations

import tempfile
from datetime import date, datetime
from fractions import Fraction
from pathlib import Path
from typing import TYPE_CHECKING, Any

from hypothesis import given, settings
from hypothesis import strategies as st

from records.clock import FixedClock
from records.services.periodic.engine import Wanted, gather
from records.services.periodic.layout import find_layout, layout_by
from records.services.periodic.model import measure_of
from records.services.periodic.reconcile import Reconciliation, reconcile, summary_tally
from records.services.periodic.service import make_report, make_sums
from records.services.ports import StoredRevision
from records.services.sealing import sealed as seal
from records.storage.migrate import upgrade
from records.storage.unit_of_work import SqlBook
from records.units import Kind, factor
from tests.bodies import treatment
from tests.periodic.making import PERSON, SITE, body, sealed, use_rows

if TYPE_CHECKING:
    from records.services.periodic.layout import ReportLayout

Json = dict[str, Any]
LAYOUTS = [
    (find_layout("ny-annual"), Wanted(date(2026, 1, 1), date(2026, 12, 31))),
    (find_layout("ny-annual"), Wanted(date(2026, 1, 1), date(2026, 12, 31), person="ada")),
    (find_layout("ca-monthly"), Wanted(date(2026, 5, 1), date(2026, 5, 31))),
    (find_layout("me-annual"), Wanted(date(2026, 1, 1), date(2026, 12, 31))),
    (layout_by("county,zip,product,month,person,site_kind"), Wanted(date(2026, 5, 3), date(2026, 6, 14))),
    (layout_by("target"), Wanted(date(2026, 4, 30), date(2026, 7, 1))),
]

units = st.sampled_from(
    ["gal", "qt", "pt", "cup", "fl oz", "tbsp", "tsp", "L", "mL", "lb", "oz wt", "kg", "g", "mg", "oz"]
)
numbers = st.integers(0, 10**13).map(lambda nano: f"{nano // 10**9}.{nano % 10**9:09d}".rstrip("0").rstrip("."))
amounts = st.none() | st.tuples(numbers, units).map(" ".join)
areas = st.none() | numbers.map("{} sq ft".format)
products: st.SearchStrategy[Json] = st.builds(
    dict,
    id=st.sampled_from(["a", "b", "c"]),
    name=st.sampled_from(["Alder", "Birk"]),
    registration=st.sampled_from(["99999-1", "99999-2", "", None, "9x"]),
    kind=st.sampled_from(["pesticide", "adjuvant", "minimum-risk"]),
    form=st.sampled_from(["liquid", "dry", "granule", "unknown"]),
)
lines: st.SearchStrategy[Json] = st.builds(
    dict,
    product=products,
    amount=amounts,
    area=areas,
    count=st.none() | st.integers(1, 40),
    targets=st.lists(st.sampled_from(["ground ivy", "plantain", "sedge"]), max_size=3),
)
sites: st.SearchStrategy[Json] = st.builds(
    dict,
    county=st.sampled_from(["Erie", "erie county", "Monroe", "", None]),
    zip=st.sampled_from(["14201", "00501-1234", "", None]),
    state=st.sampled_from(["NY", "NY", "CA", "ME", "", None]),
    address=st.sampled_from(["3 Elm Court", "PO Box 3", ""]),
)
days = st.dates(date(2026, 4, 28), date(2026, 7, 3))
kinds = st.sampled_from(["certified", "technician", "trainee"])


@st.composite
def bodies(draw: st.DrawFn) -> Json:
    """Return a body with anything in it that a book can hold."""
    made = [body(line)["treatments"][0]["applications"][0] for line in draw(st.lists(lines, min_size=1, max_size=4))]
    day, is_month = draw(days), draw(st.booleans())
    person = PERSON | {
        "id": draw(st.sampled_from(["ada", "tess"])),
        "licence": PERSON["licence"] | {"kind": draw(kinds)},
    }
    return body(
        site=SITE | draw(sites),
        applicator=draw(st.sampled_from([person, person, None])),
        supervisor=draw(st.sampled_from([None, PERSON])),
        date=None if is_month else day.isoformat(),
        period=f"{day:%Y-%m}",
        kind="usage" if is_month else "visit",
        treatments=[
            treatment(applications=[line], site_kind=draw(st.sampled_from(["turf", "hardscape", None])))
            for line in made
        ],
    )


def proof(revisions: list[StoredRevision], layout: ReportLayout, wanted: Wanted) -> Reconciliation:
    """Return the reconciliation of a report with what storage derives of the same months."""
    first, last = f"{wanted.since:%Y-%m}", f"{wanted.until:%Y-%m}"
    touched = [one for one in revisions if first <= one.body["period"] <= last]
    summary = summary_tally(use_rows(revisions), first, last)
    return reconcile(gather(touched, layout, wanted), layout, summary)


@given(st.lists(bodies(), max_size=6), st.sampled_from(LAYOUTS))
def test_a_report_is_the_annual_summary(made: list[Json], asked: tuple[ReportLayout, Wanted]) -> None:
    """Whatever the records hold, each application is in a line, not asked for, or named and left out."""
    found = proof(sealed(*made), *asked)
    assert found.differences == ()
    assert all(one.reported + one.other + one.left_out == one.summary for one in found.balances)
    first, last = f"{asked[1].since:%Y-%m}", f"{asked[1].until:%Y-%m}"
    counted = sum(row.applications for row in use_rows(sealed(*made)) if first <= row.period <= last)
    assert sum(one.applications[3] for one in found.balances) == counted


@given(st.lists(bodies(), max_size=6))
def test_the_quantities_add_up_to_the_summary(made: list[Json]) -> None:
    """The exact quantities of the lines, each in its own unit, sum to the report's share of the summary."""
    layout, wanted = LAYOUTS[0]
    got = gather(sealed(*made), layout, wanted)
    balances = reconcile(got, layout, summary_tally(use_rows(sealed(*made)), "2026-01", "2026-12")).balances
    for kind in (Kind.VOLUME, Kind.WEIGHT):
        lines_sum = sum(
            (
                (measure_of(line, "quantity") or Fraction(0)) * factor(line.unit)
                for line in got.lines
                if line.measure is kind
            ),
            Fraction(0),
        )
        assert lines_sum == sum((one.reported for one in balances if one.measure is kind), Fraction(0))


@given(
    st.lists(bodies(), min_size=1, max_size=4), st.sampled_from(["amount_nano", "applications", "area_nano", "no_area"])
)
def test_one_billionth_more_is_found(made: list[Json], figure: str) -> None:
    """A summary that differs by one in the ninth decimal, or by one application, is not let through."""
    layout, wanted = LAYOUTS[0]
    rows = use_rows(sealed(*made))
    rows[0] = rows[0]._replace(**{figure: getattr(rows[0], figure) + 1})
    found = reconcile(gather(sealed(*made), layout, wanted), layout, summary_tally(rows, "2026-01", "2026-12"))
    assert not found.agrees
    assert len(found.differences) == 1


def test_lines_that_lose_something_are_found() -> None:
    """The lines are held to what went into them, too."""
    layout, wanted = LAYOUTS[0]
    got = gather(sealed(body()), layout, wanted)
    got.lines.clear()
    found = reconcile(got, layout, summary_tally(use_rows(sealed(body())), "2026-01", "2026-12"))
    assert any(difference.startswith("Brindle 4L: amount differs: lines 0") for difference in found.differences)


@settings(max_examples=25)
@given(st.lists(bodies(), min_size=1, max_size=5))
def test_a_real_book(made: list[Json]) -> None:
    """The same through the database: bodies streamed from it, sums worked out by it."""
    with tempfile.TemporaryDirectory() as folder:
        book = SqlBook(_template(Path(folder)))
        _fill(book, made)
        clock = FixedClock(_at("2026-12-31T12:00-05:00"))
        for name, period in (("ny-annual", "2026"), ("ca-monthly", "2026-05"), ("me-annual", "2026")):
            assert make_report(book, name, period, clock).reconciliation.agrees
        for words in ("county,product,month", "target"):
            made_sums = make_sums(book, layout_by(words), date(2026, 4, 29), date(2026, 7, 2), clock)
            assert made_sums.reconciliation.agrees
        for engine in book._engines.values():
            engine.dispose()


_empty: list[bytes] = []


def _at(text: str) -> datetime:
    return datetime.fromisoformat(text)


def _template(folder: Path) -> Path:
    path = folder / "book.db"
    if not _empty:
        upgrade(path)
        _empty.append(path.read_bytes())
    path.write_bytes(_empty[0])
    return path


def _fill(book: SqlBook, made: list[Json]) -> None:
    with book.write() as work:
        for number, one in enumerate(made, 1):
            one = one | {"ref": f"r{number}"}  # noqa: PLW2901 - the same body, told apart
            serial, at, head = f"2026-{number:06d}", "2026-12-01T00:00:00.000000Z", work.records.head()
            mark, text = seal(head, serial, 1, at, one)
            work.records.append(StoredRevision(0, serial, 1, "sealed", at, head, mark, one, text))
        work.commit()
