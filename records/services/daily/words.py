"""The day as JSON."""

from __future__ import annotations

from typing import TYPE_CHECKING

from records.services.follow_up.looking import look_document
from records.services.mixing.words import tank_document
from records.services.readiness.model import rules_document

if TYPE_CHECKING:
    from records.services.daily.screen import Day
    from records.services.ports import Json


def day_document(found: Day) -> Json:
    """Return the day as a JSON document."""
    return {
        "schema": 1,
        "day": found.day.isoformat(),
        "today": found.today.isoformat(),
        "stops": [
            {
                "site": stop.site,
                "address": stop.address,
                "state": stop.state,
                "time": stop.started or (stop.planned.time if stop.planned else "") or None,
                "for": stop.planned.why if stop.planned else None,
                "event": stop.planned.serial if stop.planned else None,
                "records": list(stop.made),
                "person": stop.applicator or None,
                "products": list(stop.products),
                "notice_owed": stop.notice_owed,
                "to_tell": list(stop.to_tell),
                "landmark": stop.landmark or None,
                "notes": stop.notes or None,
                "last": stop.last or None,
            }
            for stop in found.stops
        ],
        "tanks": [tank_document(one) for one in found.tanks],
        "looks": [look_document(one, found.day) for one in found.looks],
        "held": [{"number": one.number, "site": one.document.get("site")} for one in found.held],
        "notices_owed": list(found.owed),
        "duties": [
            {
                "day": one.day.isoformat(),
                "kind": one.kind,
                "what": one.what,
                "do": one.do,
                "rules": rules_document(one.rules),
            }
            for one in found.duties
        ],
    }
