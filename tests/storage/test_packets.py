"""What an inspection asks for, against a plain reading of every body."""

from __future__ import annotations

import gc
from datetime import date
from typing import TYPE_CHECKING, Any

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from records.errors import InputError
from records.services.ports import Packet, StoredRevision
from records.storage.unit_of_work import SqlBook
from tests.bodies import ADA, BRINDLE, MO, SEDGELINE, application, treatment, visit_body
from tests.storage.chain import NOW, append, later, visit

if TYPE_CHECKING:
    from collections.abc import Iterator
    from pathlib import Path

Json = dict[str, Any]
NASTY = "'; DROP TABLE revision; -- %_\x00\x1b[31m\"] \u202e \U0001f600"
LINE = application(BRINDLE, None)
SEDGE = application(SEDGELINE, None, actives=[{"name": "Carvesulfuron", "as": "ai", "pounds": None}])
STATE = application(BRINDLE | {"id": "brindle-ca", "registration": "99999-41-AA", "federal": "99999-41"}, None)


def imported(key: str, name: str, number: str | None, active: str | None) -> Json:
    """Return an imported line: version 0, with the active that the line names."""
    product = BRINDLE | {"id": key, "version": 0, "name": name, "registration": number, "restricted_use": None}
    actives = [{"name": active, "as": "ai", "pounds": None}] if active else []
    return application(product, None, actives=actives, area=None, amount=None)


def sealed(number: int, day: str, *lines: Json, **changes: object) -> Json:
    return visit(number, day, treatments=[treatment(applications=list(lines), targets=[])], **changes)


def month(number: int, period: str, *lines: Json, **changes: object) -> Json:
    whole: Json = {"kind": "usage", "date": None, "started": None, "finished": None, "site": None, "applicator": None}
    return sealed(number, f"{period}-01", *lines) | whole | {"origin": {"kind": "import"}} | changes


def person(key: str, name: str) -> Json:
    return MO | {"id": key, "name": name}


def site(key: str | None) -> Json:
    return {**visit_body()["site"], "id": key}


def customer(key: str, name: str) -> Json:
    return {**visit_body()["customer"], "id": key, "name": name}


def bodies() -> Iterator[Json]:
    """Yield visits and months of several people, places and products."""
    elm = {"site": site("elm-1"), "customer": customer("brook", "Żaneta Brook")}
    yield sealed(1, "2025-03-01", LINE)
    yield sealed(2, "2025-03-02", SEDGE, **elm)
    yield sealed(3, "2026-01-31", LINE, SEDGE, applicator=ADA)
    yield sealed(4, "2026-02-01", STATE, **elm)
    yield sealed(5, "2026-02-28", applicator=person("mo", "Mo Marsh"))
    yield sealed(6, "2026-03-01", LINE, site=site(NASTY), applicator=person(NASTY, NASTY), remarks=NASTY)
    yield sealed(7, "2026-03-01", SEDGE, customer=None, site=None, applicator=None)
    yield month(8, "2026-02", imported("w", "Old Brindle", "99999-41", "brindlac acid"))
    yield month(9, "2026-03", imported("w", "Old Brindle", "99999-41", None), customer=customer("ines", "INES O'NEIL"))
    loose: Json = {"origin": {"kind": "import"}, "site": None, "applicator": person("mo-tarn", "Mo Tarn")}
    yield sealed(10, "2026-02-14", imported("n", NASTY, None, NASTY), customer=customer("ines", "Ines Neil")) | loose
    yield sealed(11, "2026-02-15", imported("w", "Brindle", "99999-7", "ulfur")) | loose | {"customer": None}
    yield sealed(12, "2025-03-01", LINE, SEDGE)


@pytest.fixture(scope="session")
def asked(empty_book: Path, tmp_path_factory: pytest.TempPathFactory) -> SqlBook:
    """Return a book that no test may change: with an amended and a voided record, and what was loaded for it."""
    path = tmp_path_factory.mktemp("packets") / "book.db"
    path.write_bytes(empty_book.read_bytes())
    book = SqlBook(path)
    with book.write() as unit:
        for key, name in (("harrow", "Ines Stone"), ("harrow", "Ines Harrow"), ("brook", "Żaneta Brook")):
            unit.catalogue.add("customer", key, {"name": name}, NOW)
        for key, owner in (("elm-1", "harrow"), ("elm-1", "brook"), ("lark-lane-7", "harrow"), (NASTY, "harrow")):
            unit.catalogue.add("site", key, {"customer": owner}, NOW)
        made = {number: (append(unit, body), body) for number, body in enumerate(bodies(), 1)}
        for number, action in ((1, "amended"), (12, "voided"), (3, "amended"), (3, "amended")):
            first, body = made[number]
            changes = {"treatments": [treatment(applications=[SEDGE], targets=[])]} if number == 1 else {}
            revisions = len(unit.records.revisions(first.serial))
            append(unit, later(body, action, **changes), first.serial, revisions + 1, action)
        unit.commit()
    return book


def named(wanted: str | None, found: Json | None) -> bool:
    """Tell whether `find` would take somebody for the one asked for."""
    if wanted is None:
        return True
    return found is not None and (wanted == found["id"] or wanted.casefold() in found["name"].casefold())


def numbered(wanted: str, product: Json) -> bool:
    numbers = (product["registration"], product.get("federal"))
    federal = [product["registration"]] if product["registration"] == "99999-41" else []
    return wanted.casefold() in {number.casefold() for number in (*numbers, *federal) if number}


def of_line(wanted: Packet, line: Json) -> bool:
    product, name = line["product"], line["product"]["name"].casefold()
    asked = wanted.product
    return (
        (asked is None or asked == product["id"] or asked.casefold() in name or numbered(asked, product))
        and (wanted.registration is None or numbered(wanted.registration, product))
        and (
            wanted.active is None or any(wanted.active.casefold() in one["name"].casefold() for one in line["actives"])
        )
    )


def expected(revision: StoredRevision, wanted: Packet) -> bool:
    """Tell from its body alone whether a record is asked for."""
    body = revision.body
    since, until = (None if day is None else day.isoformat() for day in (wanted.since, wanted.until))
    size = 7 if body["date"] is None else 10
    day = body["date"] or body["period"]
    lines = [line for one in body["treatments"] for line in one["applications"]]
    has_line = wanted.product is wanted.registration is wanted.active is None
    return (
        (since is None or day >= since[:size])
        and (until is None or day <= until[:size])
        and (not wanted.sites or (body["site"] or {}).get("id") in wanted.sites)
        and (not wanted.serials or revision.serial in wanted.serials)
        and named(wanted.customer, body["customer"])
        and named(wanted.person, body["applicator"])
        and (has_line or any(of_line(wanted, line) for line in lines))
    )


def check(book: SqlBook, wanted: Packet) -> int:
    """Compare what is found with a reading of every latest body; return how many there are."""
    with book.read() as unit:
        latest = {one.serial: one for one in unit.records.walk()}
        found = unit.records.matching(wanted)
        read = list(unit.records.bodies([match.order for match in found]))
    wanted_ones = [one for one in latest.values() if expected(one, wanted)]
    wanted_ones.sort(key=lambda one: (one.body["date"] or one.body["period"] + "-99", one.order))
    assert read == wanted_ones
    assert [tuple(match) for match in found] == [
        (one.order, one.serial, one.body["date"], one.revision) for one in wanted_ones
    ]
    return len(found)


@pytest.mark.parametrize(
    ("wanted", "count"),
    [
        (Packet(), 12),
        (Packet(sites=frozenset({"elm-1"})), 2),
        (Packet(sites=frozenset({"elm-1", NASTY, "nowhere"})), 3),
        (Packet(sites=frozenset({"elm-1"}), serials=frozenset({"2026-000002", "2026-000001"})), 1),
        (Packet(customer="harrow"), 6),
        (Packet(customer="ines"), 8),
        (Packet(customer="ŻANETA"), 2),
        (Packet(customer="Ines Stone"), 0),
        (Packet(customer="neil", person="mo-tarn"), 1),
        (Packet(person="mo"), 7),
        (Packet(person="TARN"), 6),
        (Packet(person="marsh"), 1),
        (Packet(person=NASTY), 1),
        (Packet(product="brindle-4l"), 3),
        (Packet(product="BRINDLE"), 7),
        (Packet(product=NASTY), 1),
        (Packet(product="99999-41"), 6),
        (Packet(registration="99999-41"), 6),
        (Packet(registration="99999-41-aa"), 1),
        (Packet(registration="99999"), 0),
        (Packet(registration=""), 0),
        (Packet(active="BRINDLAC"), 5),
        (Packet(active="ulfur"), 6),
        (Packet(active=NASTY), 1),
        (Packet(active="carve", product="brindle"), 0),
        (Packet(active="ulfur", registration="99999-7"), 1),
        (Packet(product="w", active="acid"), 1),
        (Packet(since=date(2026, 2, 1), until=date(2026, 2, 28)), 5),
        (Packet(since=date(2026, 2, 15), until=date(2026, 2, 15)), 2),
        (Packet(since=date(2026, 3, 2)), 1),
        (Packet(until=date(2025, 12, 31)), 3),
        (Packet(since=date(2026, 2, 1), until=date(2026, 2, 28), product="brindle", person="tarn"), 2),
        (Packet(serials=frozenset({"2025-000001", "2025-000003", "nothing", NASTY})), 2),
        (Packet(serials=frozenset({"2025-000001"}), active="brindlac"), 0),
    ],
    ids=[f"packet-{number}" for number in range(34)],
)
def test_each_part(asked: SqlBook, wanted: Packet, count: int) -> None:
    """Each part, alone and with others, finds what reading every body finds: text in any case, hostile text as text."""
    assert check(asked, wanted) == count


texts = st.sampled_from(
    ["mo", "Tarn", "ines", "harrow", "99999-41", "brindle", "carve", "acid", "o", NASTY, "%", "", "w"]
)
packets = st.builds(
    Packet,
    since=st.none() | st.sampled_from([date(2025, 3, 2), date(2026, 2, 14), date(2026, 3, 1)]),
    until=st.none() | st.sampled_from([date(2025, 3, 1), date(2026, 2, 15), date(2026, 3, 31)]),
    sites=st.frozensets(st.sampled_from(["elm-1", "lark-lane-7", NASTY, "x"]), max_size=2),
    customer=st.none() | texts,
    person=st.none() | texts,
    product=st.none() | texts,
    registration=st.none() | st.sampled_from(["99999-41", "99999-63", "99999-41-AA", "x"]),
    active=st.none() | texts,
    serials=st.frozensets(st.sampled_from(["2025-000001", "2026-000001", "2026-000007", "E-000001"]), max_size=3),
)


@settings(max_examples=300, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(packets)
def test_any_packet(asked: SqlBook, wanted: Packet) -> None:
    """Whatever is asked for together, the indexes lead to what reading every body finds."""
    check(asked, wanted)


def test_text_that_no_database_keeps(asked: SqlBook) -> None:
    """Half a character, as a broken terminal may hand it over, ends in one line."""
    with asked.read() as unit:
        for wanted in (Packet(person="\udcff"), Packet(customer="\udcff"), Packet(sites=frozenset({"\udcff"}))):
            with pytest.raises(InputError):
                unit.records.matching(wanted)
        assert unit.records.matching(Packet(product="\udcff")) == []


def test_the_collector_works_on(asked: SqlBook) -> None:
    """The garbage collector is as it was after a packet, even when the database refuses."""
    check(asked, Packet())
    assert gc.isenabled()


@pytest.mark.parametrize(
    ("statement", "index"),
    [
        ("packets._DAYS", "COVERING INDEX ix_revision_person (applicator_id=? AND local_date>? AND local_date<?)"),
        ("packets._NAMED_DAYS", "COVERING INDEX ix_revision_person"),
        ("packets._MONTHS", "ix_revision_person (applicator_id=? AND local_date=?)"),
        ("packets._IMPORTED_CUSTOMERS", "COVERING INDEX ix_revision_customer"),
        ("packets._STALE", "ix_revision_later"),
        ("products._GROUPS", "COVERING INDEX sqlite_autoindex_use_group_1 (period>? AND period<?)"),
        ("products._OF_GROUPS", "COVERING INDEX ix_application_use_group (use_group_id=?)"),
        ("packets._BY_SITE._bare", "ix_revision_site_id_local_date (site_id=?)"),
        ("packets._BY_NUMBERS._whole", "INTEGER PRIMARY KEY (rowid=?)"),
    ],
)
def test_the_ways_go_through_indexes(asked: SqlBook, statement: str, index: str) -> None:
    """No way to the records of a packet walks through all of them."""
    from records.storage import packets as ways  # noqa: PLC0415 - its statements, by name
    from records.storage import products  # noqa: PLC0415

    module, name, *part = statement.split(".")
    found = getattr(ways if module == "packets" else products, name)
    prepared = getattr(found, part[0]) if part else found
    with asked.read() as unit:
        assert unit.link is not None
        values = ("1",) * prepared.text.count("?")
        plan = [row[3] for row in unit.link.raw.execute(f"EXPLAIN QUERY PLAN {prepared.text}", values)]
    assert any(index in line for line in plan), plan
    assert not any(line.startswith("SCAN revision") and "INDEX" not in line for line in plan)
