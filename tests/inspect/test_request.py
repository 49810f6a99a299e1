"""What an inspection asks for: the random pull, the question in words, and what is refused."""

from __future__ import annotations

from datetime import date
from hashlib import sha256
from typing import TYPE_CHECKING

import pytest
from hypothesis import given
from hypothesis import strategies as st

from records.errors import NotFoundError, UsageError
from records.services.inspecting.packet import open_packet
from records.services.inspecting.request import Request, key_of, pull
from records.services.ports import Match

if TYPE_CHECKING:
    from tests.kit import Kit

MATCHES = [Match(number, f"2026-{number:06d}", "2026-05-04", 1) for number in range(1, 9)]


def serials(kit: Kit, request: Request) -> list[str]:
    """Return the serials that a request finds."""
    with kit.book.read() as work:
        return [match.serial for match in open_packet(work, request).found.matches]


def test_the_pull_is_what_a_sha256_tool_says() -> None:
    """Known answers of coreutils: `printf '7\\n2026-000001' | sha256sum`, and so on with the seed 48213377."""
    assert key_of("7", "2026-000001") == "3c3944f6be4b12e56baae8678282b5f3dd967a467f7f46aa783b3f58120fd79e"
    assert key_of("48213377", "2026-000004").startswith("00a59536ac0b8d68")
    assert [match.serial[-1] for match in pull(MATCHES, 3, "48213377")] == ["1", "3", "4"]
    assert [match.serial[-1] for match in pull(MATCHES, 1, "48213377")] == ["4"]
    assert pull(MATCHES, 20, "48213377") == MATCHES


@given(st.text(st.characters(exclude_categories=["Cs"]), min_size=1, max_size=20), st.integers(1, 9))
def test_a_pull_repeats_and_grows(seed: str, count: int) -> None:
    """The same seed picks the same records, whatever their order; a bigger pull holds the smaller one."""
    picked = pull(MATCHES, count, seed)
    assert len(picked) == min(count, len(MATCHES))
    assert {match.serial for match in pull(MATCHES[::-1], count, seed)} == {match.serial for match in picked}
    assert set(picked) <= set(pull(MATCHES, count + 1, seed))
    by_hand = sorted(MATCHES, key=lambda match: sha256(f"{seed}\n{match.serial}".encode()).digest())
    assert set(picked) == set(by_hand[:count])


@pytest.mark.parametrize(
    ("request_", "found"),
    [
        (Request(), "1 2 3 4 5 6 7 8"),
        (Request(since=date(2026, 5, 26), until=date(2026, 6, 1)), "2 3 4"),
        (Request(site="mill-9"), "1 2 3 4 6 7"),
        (Request(site="MILL PA"), "1 2 3 4 6 7"),
        (Request(site="Mill", since=date(2026, 6, 2)), "6 7"),
        (Request(customer="odd"), "5"),
        (Request(customer="aune"), "1 2 3 4 6 7"),
        (Request(person="Sandahl"), "1 2 3 4 5 6 7"),
        (Request(person="mo"), "8"),
        (Request(product="stickfast"), "6"),
        (Request(registration="99999-41"), "8"),
        (Request(active="LARKINIC"), "1 2 3 4 5 6 7"),
        (Request(serials=("2026-3", "2026-000008")), "3 8"),
        (Request(person="Ruth", since=date(2031, 1, 1)), ""),
    ],
)
def test_every_condition_finds_its_records(kit: Kit, request_: Request, found: str) -> None:
    """By id or part of a name, whatever its case; voided records are found, too; all conditions have to match."""
    assert [serial[-1] for serial in serials(kit, request_)] == found.split()


def test_a_drawn_seed_repeats_the_pull(kit: Kit) -> None:
    """A seed that was not given is drawn and told, and gives the same records again."""
    with kit.book.read() as work:
        first = open_packet(work, Request(random=3)).found
        again = open_packet(work, Request(random=3, seed=first.seed)).found
    assert len(first.seed) == 8
    assert first.seed.isdigit()
    assert first.of == 8
    assert again.matches == first.matches
    assert ("Random pull", f"3 records, seed {first.seed}") in [(fact.label, fact.value) for fact in first.asked]
    assert ("Random pull from", "8 records that match") in [(fact.label, fact.value) for fact in first.asked]


@pytest.mark.parametrize(
    "request_",
    [
        Request(since=date(2026, 6, 1), until=date(2026, 5, 1)),
        Request(seed="7"),
        Request(random=2, seed="  "),
        Request(random=2, seed="a\x1bb"),
        Request(random=2, seed="7" * 65),
        Request(asked_by="x" * 201),
    ],
)
def test_a_contradiction_is_refused(kit: Kit, request_: Request) -> None:
    """Days that run backwards, a seed without a pull, no seed, and texts nobody could print."""
    with pytest.raises(UsageError):
        serials(kit, request_)


@pytest.mark.parametrize("request_", [Request(site="nowhere"), Request(serials=("2026-000099",))])
def test_an_unknown_site_or_serial_is_named(kit: Kit, request_: Request) -> None:
    """A question about a place or a record that the book does not know is not answered with an empty packet."""
    with pytest.raises(NotFoundError):
        serials(kit, request_)
