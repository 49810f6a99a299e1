"""Reads the sealed plans of trials."""

from __future__ import annotations

from typing import TYPE_CHECKING

from records.domain.trials import Entry, Plot, Trial
from records.errors import NotFoundError
from records.services.logbook import entries

if TYPE_CHECKING:
    from records.services.logbook import Logged
    from records.services.ports import UnitOfWork


def trials(work: UnitOfWork) -> list[Trial]:
    """Return the trials that stand, oldest first."""
    return [trial_of(one) for one in entries(work, "trial")]


def find_trial(work: UnitOfWork, name: str) -> Trial | None:
    """Return a trial by its name, whatever its letters' case; None where there is none."""
    wanted = name.strip().casefold()
    return next((one for one in trials(work) if one.name.casefold() == wanted), None)


def trial_named(work: UnitOfWork, name: str) -> Trial:
    """Return a trial by its name.

    Raises:
        NotFoundError: there is none of that name.
    """
    found = find_trial(work, name)
    if found is None:
        known = ", ".join(one.name for one in trials(work)[-6:])
        hint = f"There are: {known}" if known else "Plan one: swathbook trial new"
        raise NotFoundError(f"no trial is called {name[:40]!r}", hint)
    return found


def trial_of(one: Logged) -> Trial:
    """Return the plan of a sealed event."""
    data = one.data
    return Trial(
        name=data["trial"],
        site=data["site"],
        zone=data["zone"],
        target=data["target"],
        entries=tuple(
            Entry(entry["letter"], tuple((part["product"], part["rate"]) for part in entry["products"]))
            for entry in data["entries"]
        ),
        blocks=data["blocks"],
        seed=data["seed"],
        plots=tuple(Plot(plot["plot"], plot["block"], plot["entry"]) for plot in data["plots"]),
        serial=one.serial,
    )
