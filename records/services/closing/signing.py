"""Who signs for a visit that broke a limit and is sealed as it really happened."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING
from zoneinfo import ZoneInfo

from records.domain.people import LicenceKind
from records.errors import SignatureError
from records.rules.people_checks import licences_on
from records.services.closing.body import licence_body
from records.services.closing.entry import MAX_REMARKS, shown, unprintable

if TYPE_CHECKING:
    from datetime import datetime

    from records.domain.visit import Visit
    from records.services.directory import Directory
    from records.services.ports import Json


@dataclass(frozen=True, slots=True)
class AsApplied:
    """Why a visit that broke a limit is sealed all the same, and which certified person signs for it."""

    reason: str
    signed_by: str


def deviation(visit: Visit, as_applied: AsApplied, directory: Directory, now: datetime) -> Json:
    """Return the deviation to seal.

    Raises:
        SignatureError: no reason, or the signer is no certified person of the book, on the day of the work or now.
    """
    reason = " ".join(as_applied.reason.split())
    if not reason:
        raise SignatureError("a deviation needs a reason", "Say in a sentence what happened and why")
    if len(reason) > MAX_REMARKS or unprintable(reason):
        raise SignatureError("the reason cannot be printed", f"Write at most {MAX_REMARKS:,} plain characters")
    found = directory.person(as_applied.signed_by)
    if found is None:
        raise SignatureError(f"no person {shown(as_applied.signed_by)!r} in the book", "Name the signer by id")
    person, version = found
    day, state = visit.day, visit.site.state if visit.site else ""
    # The day of the work first. A licence that has run out by the winter was good for it; one that was renewed after
    # a lapse is good for signing now, or the lapse itself could never be recorded by the firm's only certified person.
    days = [] if day is None else [day, now.astimezone(ZoneInfo(visit.timezone)).date()]
    valid = [licence for one in days for licence in licences_on(person, one, state)]
    licence = next((one for one in valid if one.kind is LicenceKind.CERTIFIED), None)
    if licence is None:
        raise SignatureError(
            f"{person.name} was not certified in {state or 'the state'} on {day} and is not now",
            "A certified person has to sign",
        )
    return {
        "reason": reason,
        "signed_by": {"id": person.id, "name": person.name, "licence": licence_body(licence), "version": version},
    }
