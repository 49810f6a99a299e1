"""What an inspection asks for: criteria in words and as data, and a random pull that anybody can repeat."""

from __future__ import annotations

from dataclasses import dataclass, replace
from hashlib import sha256
from heapq import nsmallest
from secrets import randbelow
from typing import TYPE_CHECKING

from records.domain.registration import RegistrationError, read_registration
from records.domain.report_model import Fact, one_line
from records.errors import NotFoundError, UsageError
from records.services.finding import normal_serial
from records.services.ports import Criteria, Packet

if TYPE_CHECKING:
    from collections.abc import Sequence
    from datetime import date

    from records.services.ports import Json, Match, UnitOfWork

NOT_STATED = "not stated"
EVERYTHING = "every record of the book"
MOST_SEED = 64  # characters
MOST_NAME = 200
_SEEDS = 10**8  # a drawn seed is a number of at most eight digits, easy to read out and to type
_SITES_NAMED = 8  # addresses written out in the question


@dataclass(frozen=True, slots=True)
class Request:
    """What was asked for, as typed."""

    since: date | None = None
    until: date | None = None
    site: str | None = None  # id, or part of the address
    customer: str | None = None
    person: str | None = None
    product: str | None = None
    registration: str | None = None
    active: str | None = None
    serials: tuple[str, ...] = ()
    random: int | None = None
    seed: str | None = None
    asked_by: str = ""
    credentials: str = ""

    def checked(self) -> Request:
        """Return the request, refused where it contradicts itself.

        Raises:
            UsageError: the days run backwards, a seed without a pull, or a text too long to be printed.
        """
        if self.since and self.until and self.since > self.until:
            raise UsageError(
                f"{self.since} is after {self.until}", "Give the first day with --from, the last with --to"
            )
        if self.seed is not None and self.random is None:
            raise UsageError("--seed belongs to a random pull", "Say how many records with --random N")
        if self.seed is not None and not (
            self.seed.strip() and len(self.seed) <= MOST_SEED and self.seed.isprintable()
        ):
            raise UsageError("that is no seed", f"Write 1 to {MOST_SEED} plain characters, such as 48213377")
        for name, text in (("--asked-by", self.asked_by), ("--credentials", self.credentials)):
            if len(text) > MOST_NAME:
                raise UsageError(f"{name} is too long", f"Write at most {MOST_NAME} characters")
        return self


@dataclass(frozen=True, slots=True)
class Question:
    """A request as understood: its sites and its serials looked up, a seed drawn where one is needed."""

    request: Request
    seed: str
    sites: tuple[tuple[str, str], ...]  # id and address of the sites that were meant
    serials: frozenset[str]
    asked: tuple[Fact, ...]

    @property
    def words(self) -> str:
        """Return it as one line."""
        return "; ".join(f"{fact.label.lower()}: {fact.value}" for fact in self.asked) or EVERYTHING


@dataclass(frozen=True, slots=True)
class Found:
    """Which records a packet is about, and what was asked in words and as data."""

    request: Request
    matches: tuple[Match, ...]
    of: int  # how many match before a random pull
    seed: str
    sites: tuple[tuple[str, str], ...]
    asked: tuple[Fact, ...]
    words: str


def key_of(seed: str, serial: str) -> str:
    """Return what a random pull is sorted by: SHA-256, in hex, of the seed, a line break, and the serial (UTF-8)."""
    return sha256(f"{seed}\n{serial}".encode()).hexdigest()


def pull(matches: Sequence[Match], count: int, seed: str) -> list[Match]:
    """Return so many records picked by a seed, in the order they came.

    The records whose `key_of` is smallest are picked. The same seed picks the same records out of the same lot, on any
    machine, and anybody can do it again with a SHA-256 tool.
    """
    picked = {match.serial for match in nsmallest(count, matches, key=lambda match: key_of(seed, match.serial))}
    return [match for match in matches if match.serial in picked]


def understand(work: UnitOfWork, request: Request) -> Question:
    """Return what a request means, before any record is looked for.

    Args:
        work: a unit of work.
        request: as typed.

    Raises:
        NotFoundError: no site fits, or a serial is unknown; a name no record has is refused by `look_up`.
        UsageError: the request contradicts itself.
    """
    request = replace(request.checked(), registration=_plain_number(request.registration))
    sites = sites_like(work, request.site) if request.site is not None else ()
    serials = frozenset(normal_serial(serial) for serial in request.serials)
    _check_serials(work, serials)
    seed = ""
    if request.random is not None:
        seed = request.seed.strip() if request.seed is not None else f"{randbelow(_SEEDS):08d}"
    return Question(request, seed, sites, serials, _asked(request, sites, seed))


def _plain_number(text: str | None) -> str | None:
    """Return a registration number without the words that pages print before it; other texts as they are."""
    if text is None:
        return None
    try:
        return read_registration(text).text
    except RegistrationError:
        return text


def look_up(work: UnitOfWork, question: Question) -> Found:
    """Find the records asked for; no body is read.

    Args:
        work: a unit of work that stays open while the packet is made.
        question: as understood.

    Raises:
        NotFoundError: no record of the book has such a name, whatever the days.
    """
    request = question.request
    wanted = Packet(
        since=request.since,
        until=request.until,
        sites=frozenset(key for key, _ in question.sites),
        customer=request.customer,
        person=request.person,
        product=request.product,
        registration=request.registration,
        active=request.active,
        serials=question.serials,
    )
    matches = work.records.matching(wanted)
    if not matches:
        _check_known(work, request)
    of, asked = len(matches), question.asked
    if request.random is not None:
        matches = pull(matches, request.random, question.seed)
        asked = (*asked, Fact("Random pull from", f"{of:,} {'record' if of == 1 else 'records'} that match"))
    return Found(request, tuple(matches), of, question.seed, question.sites, asked, question.words)


def _check_known(work: UnitOfWork, request: Request) -> None:
    """Refuse a name that no record of the book has: an empty packet would answer a slip of the pen.

    Raises:
        NotFoundError: nothing in the book fits one of the names, whatever the days.
    """
    for what, option, wanted in (
        ("customer", request.customer, Packet(customer=request.customer)),
        ("person who applied", request.person, Packet(person=request.person)),
        ("product", request.product, Packet(product=request.product)),
        ("registration number", request.registration, Packet(registration=request.registration)),
        ("active ingredient", request.active, Packet(active=request.active)),
    ):
        if option is not None and not work.records.matching(wanted):
            raise NotFoundError(
                f"no record of the book names the {what} {option[:40]!r}", "swathbook find or catalogue shows the names"
            )


def _check_serials(work: UnitOfWork, serials: frozenset[str]) -> None:
    unknown = sorted(serial for serial in serials if not work.records.revisions(serial))
    if unknown:
        raise NotFoundError(f"no record {unknown[0][:20]!r} in this book", "swathbook find lists what there is")


def sites_like(work: UnitOfWork, text: str) -> tuple[tuple[str, str], ...]:
    """Return id and address of each site that a text means: the id itself, or part of the address, in whatever case.

    Raises:
        NotFoundError: no site fits.
    """
    exact = work.catalogue.latest("site", text)
    if exact is not None:
        return ((text, _address(exact.body)),)
    part = text.casefold()
    found = {
        entry.id: _address(entry.body)
        for entry in work.catalogue.every("site", holding=text)
        if part in str(entry.body.get("address") or "").casefold()
    }
    if not found:  # an imported place is in no catalogue
        for revision in work.records.search(Criteria(site=text)):
            site = revision.body.get("site") or {}
            if site.get("id"):
                found[site["id"]] = _address(site)
    if not found:
        raise NotFoundError(
            f"no site fits {text[:40]!r}", "Name it by id or part of its address: swathbook catalogue sites lists them"
        )
    return tuple(sorted(found.items()))


def _address(site: Json) -> str:
    return ", ".join(filter(None, (one_line(site.get("address")), one_line(site.get("city")))))


def _asked(request: Request, sites: tuple[tuple[str, str], ...], seed: str) -> tuple[Fact, ...]:
    """Return the question in words, one fact for each part of it."""
    facts = []
    if request.since or request.until:
        first = request.since.isoformat() if request.since else "the beginning"
        facts.append(Fact("Days", f"{first} to {request.until.isoformat() if request.until else 'today'}"))
    if request.site is not None:
        places = [f"{address} ({key})" if address else key for key, address in sites]
        more = f" and {len(places) - _SITES_NAMED} more sites" if len(places) > _SITES_NAMED else ""
        facts.append(Fact("Site" if len(places) == 1 else "Sites", "; ".join(places[:_SITES_NAMED]) + more))
    for label, text in (
        ("Customer", request.customer),
        ("Applied by", request.person),
        ("Product", request.product),
        ("Registration number", request.registration),
        ("Active ingredient", request.active),
        ("Records", ", ".join(sorted(request.serials)) or None),
    ):
        if text is not None:
            facts.append(Fact(label, one_line(text)))
    if request.random is not None:
        facts.append(Fact("Random pull", f"{request.random:,} records, seed {seed}"))
    return tuple(facts)


def criteria_data(found: Found) -> Json:
    """Return the question as data, for the sealed event."""
    request = found.request
    told: Json = {
        "from": request.since.isoformat() if request.since else None,
        "to": request.until.isoformat() if request.until else None,
        "site": request.site,
        "sites": [key for key, _ in found.sites],
        "customer": request.customer,
        "person": request.person,
        "product": request.product,
        "registration": request.registration,
        "active": request.active,
        "serials": sorted(request.serials),
        "random": request.random,
        "of": found.of if request.random is not None else None,
    }
    return {key: value for key, value in told.items() if value not in (None, [])}
