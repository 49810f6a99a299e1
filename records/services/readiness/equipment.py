"""Equipment that was used while its calibration was stale or missing."""

from __future__ import annotations

from datetime import date
from typing import TYPE_CHECKING

from records.services.calibrating import Outputs, state_of_use
from records.services.readiness.model import Cited, Gap

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping

    from records.services.readiness.firm import Firm

_PRACTICE = Cited("", "calibrated each season, after 365 days and after a change of nozzle", "common practice")


def uncalibrated(firm: Firm, used: Mapping[str, str]) -> Iterator[Gap]:
    """Yield loaded equipment whose calibration did not count on the last day it was used.

    Args:
        firm: with the book.
        used: equipment, each with the last day.
    """
    outputs = Outputs(firm.work)
    for key, day in sorted(used.items()):
        found = firm.directory.equipment(key)
        if found is None:
            continue  # typed by name alone; what is not loaded cannot be calibrated here
        wrong = state_of_use(outputs, found[0], date.fromisoformat(day))
        if wrong:
            yield Gap(
                "calibration",
                key,
                day,
                f"{found[0].name}: last used that day, {wrong}",
                (_PRACTICE,),
                f"swathbook calibrate {key} METHOD",
            )
