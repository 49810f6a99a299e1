"""Puts a packet together: the model out of one pass over the records, then the records themselves as a stream."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from records.domain.packet_model import PacketModel
from records.domain.report_model import Fact, FirmHead, one_line
from records.services.directory import Directory
from records.services.inspecting import tables
from records.services.inspecting.changes import revisions_told
from records.services.inspecting.gather import gather
from records.services.inspecting.given import Given
from records.services.inspecting.held import held_gaps
from records.services.inspecting.nutrients import nutrients_table
from records.services.inspecting.record import COLUMNS, record_part
from records.services.inspecting.request import EVERYTHING, NOT_STATED, look_up, understand
from records.services.inspecting.season import is_whole_years, whole_season
from records.services.rulebook import Rulebook
from records.services.sealing import proved
from records.services.summary_words import day_words

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator
    from datetime import date, datetime

    from records.domain.packet_model import RecordPart, RevisionPart
    from records.domain.people import Business
    from records.services.inspecting.gather import Gathered
    from records.services.inspecting.request import Found, Question, Request
    from records.services.ports import Json, UnitOfWork

TITLE = "Records inspection packet"
VOIDED_COUNT = "Voided records are listed and counted among the records; no application of theirs is counted or summed."
CAUTIONS = (
    "The product label is the law and wins over this packet.",
    (
        "Rule data are an aid and no legal advice; confirm with the state's pesticide agency and a licensed "
        "professional. How each rule is known stands beside it."
    ),
    "What is not complete is told in its own table. The seals let anybody check that no record was changed since.",
)


@dataclass(slots=True)
class Packet:
    """A packet being made: what was found, and the book it comes from, open until it is written."""

    work: UnitOfWork
    found: Found
    rulebook: Rulebook
    business: Business | None
    business_version: int
    model: PacketModel | None = None
    last_site: Json | None = None  # the site, where all records are of one

    def gather(self, issued_on: date, now: datetime | None = None) -> PacketModel:
        """Go through the records once and return all of the packet but them.

        Args:
            issued_on: the day printed as the day of issue.
            now: the present moment; None: no copy to a customer is judged as overdue.

        Raises:
            BookDamagedError: a record is not what was sealed.
        """
        matches = self.found.matches
        bodies = map(proved, self.work.records.bodies([match.order for match in matches]))
        given = Given(self.work, next((match.day for match in matches if match.day), None), now)
        gathered = gather(matches, bodies, self.rulebook, self.business, given)
        if not is_whole_years(self.found.request):
            whole_season(self.work, gathered)
        if len(gathered.site_ids) == 1:
            self.last_site = gathered.last_site
        self.model = self._model(gathered, issued_on)
        return self.model

    def records(self) -> Iterator[RecordPart]:
        """Yield the records, each with all its revisions."""
        matches = self.found.matches
        several = {match.serial for match in matches if match.revision > 1}
        for last in self.work.records.bodies([match.order for match in matches]):
            revisions = self.work.records.revisions(last.serial) if last.serial in several else [last]
            for revision in revisions:
                proved(revision)
            yield record_part(revisions, self.rulebook.of_record(last.body, self.business))

    def _model(self, gathered: Gathered, issued_on: date) -> PacketModel:
        request, held = self.found.request, held_gaps(self.work, self.found)
        return PacketModel(
            title=TITLE,
            subject=f"Pesticide application records: {self.found.words}",
            firm=firm_head(self.business),
            issued=f"Made on {day_words(issued_on)}",
            issued_on=issued_on.isoformat(),
            words=self.found.words,
            asked=(
                Fact("Asked by", one_line(request.asked_by) or NOT_STATED),
                Fact("Credentials", one_line(request.credentials) or NOT_STATED),
                *(self.found.asked or (Fact("Records", EVERYTHING),)),
                *self._removed(),
            ),
            counts=self._counts(gathered, len(held)),
            last_seal=self.work.records.head() or "none: the book is empty",
            seed=self.found.seed,
            cautions=CAUTIONS if not gathered.voided else (*CAUTIONS, VOIDED_COUNT),
            tables=(
                tables.gaps_table(gathered, held),
                tables.packs_table(gathered.packs, gathered.without_pack),
                tables.deviations_table(gathered),
                tables.findings_table(gathered),
                tables.revisions_table(self._changed(gathered)),
                tables.licences_table(gathered),
                tables.given_table(gathered),
                tables.labels_table(gathered),
                tables.totals_table(gathered),
                tables.visits_table(gathered),
                *([nutrients_table(gathered.fed)] if gathered.fed else []),
                tables.matrix_table(gathered),
            ),
            columns=COLUMNS,
        )

    def _counts(self, gathered: Gathered, held: int) -> tuple[Fact, ...]:
        return (
            Fact("Records", str(len(gathered.kept))),
            Fact("Applications", str(gathered.applications)),
            Fact("Incomplete", str(gathered.incomplete)),
            Fact("Late", str(gathered.late)),
            Fact("Deviations", str(len(gathered.deviations))),
            Fact("Amended", str(gathered.amended)),
            Fact("Voided", str(gathered.voided)),
            Fact("Still held", str(held)),
        )

    def _removed(self) -> Iterator[Fact]:
        """Yield the years of the question whose records were removed after their time."""
        since, until = self.found.request.since, self.found.request.until
        for event in self.work.records.events("removal"):
            data = event.body["data"]
            year = int(data["year"])
            if (since is None or since.year <= year) and (until is None or year <= until.year):
                told = f"all records of {year}, {data['count']} of them, on {event.body['date']} ({event.serial})"
                yield Fact("Removed after their time", told)

    def _changed(self, gathered: Gathered) -> Iterator[tuple[str, RevisionPart]]:
        for serial in gathered.changed:
            for part in revisions_told(self.work.records.revisions(serial)):
                yield serial, part


def open_packet(
    work: UnitOfWork, request: Request, *, on_asked: Callable[[Question], None] = lambda _question: None
) -> Packet:
    """Find the records asked for; nothing is read of them yet.

    Args:
        work: a unit of work that stays open while the packet is made.
        request: what was asked.
        on_asked: told how it was understood, before any record is looked for.

    Raises:
        NotFoundError: no site or record of that name.
        UsageError: the request contradicts itself.
    """
    question = understand(work, request)
    on_asked(question)
    known = Directory(work.catalogue).business()
    business, version = known or (None, 0)
    return Packet(work, look_up(work, question), Rulebook(work.catalogue), business, version)


def firm_head(business: Business | None) -> FirmHead:
    """Return the firm as printed on a packet."""
    if business is None:
        return FirmHead("no firm in the book", "", "", "")
    name, address, phone, licence = (
        one_line(text) or "not recorded" for text in (business.name, business.address, business.phone, business.licence)
    )
    return FirmHead(name, address, phone, f"Pesticide business licence {licence}")
