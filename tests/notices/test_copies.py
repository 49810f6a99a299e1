"""Copies that no visit brings along: before the work, on request, and what went to somebody else."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import pytest

from records.services.delivering import deliveries
from records.services.readiness.service import ready
from records.storage.integrity import verify
from tests.kit import licence
from tests.notices.places import WHOLE, site

if TYPE_CHECKING:
    from tests.kit import Kit
    from tests.notices.conftest import Run

Json = dict[str, Any]


def sealed(kit: Kit, site: str, **changes: Any) -> str:  # noqa: ANN401
    """Return the serial of a visit of Vera's."""
    serial = kit.sealed(site=site, applicator="vera", **changes).serial
    assert serial is not None
    return serial


def states(kit: Kit) -> dict[str, str]:
    """Return how each record's copies stand."""
    return {row.record.serial: row.state for row in deliveries(kit.book, kit.clock)}


def gaps(kit: Kit, kind: str) -> list[str]:
    """Return what `ready` finds of a kind."""
    groups = ready(kit.book, kit.clock).groups
    return [gap.what for group in groups if group.key == kind for gap in group.gaps]


def test_a_copy_owed_before_the_work_is_open_until_it_was_given(kit: Kit, run: Run) -> None:
    """N.Y. ECL 33-1001: beforehand the list of products and warnings. A notice after the work does not stand in."""
    serial = sealed(kit, "site-ny")
    run("deliver", serial, "--how", "paper")
    ran = run("deliveries", "--missing")
    assert ran.code == 1
    assert f"{serial}: a copy before the work is not logged as given (us-ny)" in ran.words
    assert "us-ny: N.Y. ECL 33-1001 (verified), before the work" in ran.words
    assert gaps(kit, "notice") == ["7 NY Lane: no copy before the work is logged; it was due 2026-05-14 09:10"]
    told = run("deliver", serial, "--how", "paper", "--before", "--at", "2026-05-12T08:00", "--by", "vera")
    assert (told.code, told.words) == (
        0,
        f"E-000002: the copy before the work of {serial} was given on paper 2026-05-12 08:00 (UTC-05:00) to Ola Berg",
    )
    assert states(kit) == {serial: "given"}
    assert not gaps(kit, "notice")
    assert f"{serial}: copy before the work on paper 2026-05-12 08:00" in run("deliveries").words
    assert verify(kit.book).problems == []


def test_a_copy_before_the_work_is_logged_by_site_and_days_before_there_is_a_record(kit: Kit, run: Run) -> None:
    """With the contract of a season it covers every visit of those days, and no other."""
    kit.set("2026-03-20T10:00")
    ran = run("deliver", "site-ny", "--how", "paper", "--for", "2026-04-01", "--until", "2026-05-31", "--json")
    assert (ran.code, ran.json["serial"], ran.json["for"], ran.json["until"]) == (0, None, "2026-04-01", "2026-05-31")
    kit.set("2026-05-14T09:42")
    first = sealed(kit, "site-ny")
    kit.set("2026-06-20T09:42")
    second = sealed(kit, "site-ny", on="2026-06-20")
    assert states(kit) == {first: "given", second: "overdue"}
    assert len(gaps(kit, "notice")) == 1
    assert [row["state"] for row in run("deliveries", "--from", "2026-05", "--json").json["records"]] == [
        "given",
        "overdue",
    ]
    assert run("deliver", "site-ny", "--how", "paper", "--for", "2026-05-02", "--until", "2026-05-01").code == 2
    assert run("deliver", "site-ny", "--how", "paper", "--for", "2026", "--until", "2028").code == 2
    assert run("deliver", "nowhere", "--how", "paper", "--for", "2026-05-02").code == 9


def test_given_after_the_work_began_it_is_late_and_said(kit: Kit, run: Run) -> None:
    """The truth is recorded; it stays late and is known."""
    serial = sealed(kit, "site-ny")
    ran = run("deliver", serial, "--how", "paper", "--before", "--at", "09:30")
    assert "late: it was due 2026-05-14 09:10 (UTC-05:00) (us-ny: N.Y. ECL 33-1001" in ran.words
    assert states(kit) == {serial: "late"}
    assert not gaps(kit, "notice")
    assert gaps(kit, "notice-late") == [
        "7 NY Lane: known: copy before the work given late, 2026-05-14 09:30; it was due 2026-05-14 09:10"
    ]


def test_a_copy_on_request_is_owed_once_it_is_asked_for(kit: Kit, run: Run) -> None:
    """Tennessee: within 48 hours, to the owner or the tenant. A day alone counts from its beginning."""
    kit.load(business={**_business(kit), "packs": ["us-tn"]}, sites=[site("TN")], people=[_vera("TN")])
    serial = sealed(kit, "site-tn", **WHOLE)
    assert states(kit) == {serial: "on request"}
    assert not gaps(kit, "notice-due")
    assert run("deliveries", "--missing").words == "no notice is owed"
    ran = run("deliver", serial, "--asked", "2026-05-14")
    assert "was asked for 2026-05-14 00:00 (UTC-05:00) by Ola Berg; it is due 2026-05-16 00:00" in ran.words
    assert states(kit) == {serial: "owed"}
    assert gaps(kit, "notice-due") + gaps(kit, "unread")
    kit.set("2026-05-16T09:00")
    assert states(kit) == {serial: "overdue"}
    ran = run("deliver", serial, "--how", "paper", "--to", "Jo Lake", "--as", "occupant", "--at", "2026-05-15T12:00")
    assert "to Jo Lake (lives there)" in ran.words
    assert "does not count" not in ran.words
    assert states(kit) == {serial: "given"}


def test_a_request_and_its_answer_in_one_go(kit: Kit, run: Run) -> None:
    """--how with --asked: both are in one event."""
    kit.load(business={**_business(kit), "packs": ["us-tn"]}, sites=[site("TN")], people=[_vera("TN")])
    serial = sealed(kit, "site-tn", **WHOLE)
    ran = run("deliver", serial, "--how", "paper", "--asked", "2026-05-14T09:41", "--json")
    assert (ran.json["asked"], ran.json["late"]) == ("2026-05-14T09:41-05:00", [])
    assert states(kit) == {serial: "given"}


@pytest.mark.parametrize(
    ("role", "counts", "words"),
    [
        ("other", 0, "to Jo Lake (not the customer)"),
        ("occupant", 0, "to Jo Lake (lives there)"),
        ("agent", 1, "to Jo Lake (the customer's agent)"),
        ("customer", 1, "to Jo Lake"),
    ],
)
def test_only_what_reached_the_customer_counts(role: str, counts: int, words: str, kit: Kit, run: Run) -> None:
    """Minnesota: a copy to the customer (18B.37). Who got it is told wherever deliveries are."""
    serial = sealed(kit, "site-mn")
    ran = run("deliver", serial, "--how", "paper", "--to", "Jo Lake", "--as", role)
    assert ran.code == 0
    assert words in ran.words
    assert ("count" in ran.words) is not bool(counts)
    assert states(kit) == {serial: "given" if counts else "owed"}
    assert bool(gaps(kit, "notice-due")) is not bool(counts)
    assert f"{serial}: on paper 2026-05-14 09:42 (UTC-05:00) {words}" in run("deliveries").words


def test_the_customers_own_name_needs_no_more_words(kit: Kit, run: Run) -> None:
    """However it is written."""
    serial = sealed(kit, "site-mn")
    assert run("deliver", serial, "--how", "paper", "--to", "ola  BERG", "--json").json["as"] == "customer"
    assert states(kit) == {serial: "given"}


def _business(kit: Kit) -> Json:
    with kit.book.read() as work:
        found = work.catalogue.latest("business", "business")
    assert found is not None
    return dict(found.body)


def _vera(state: str) -> Json:
    return {"id": "vera", "name": "Vera Moss", "licences": [licence(state=state, number=f"{state}-C-7")]}
