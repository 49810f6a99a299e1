"""Which of a site's sealed past went on plots of a trial: plots of one trial are different ground."""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Sequence

    from records.domain.history import PastUse
    from records.services.ports import UnitOfWork


def trial_sites(work: UnitOfWork) -> frozenset[str]:
    """Return the sites on which a trial was ever planned, by id."""
    return frozenset(event.body["data"]["site"] for event in work.records.events("trial"))


def with_plots(work: UnitOfWork, history: Sequence[PastUse]) -> list[PastUse]:
    """Return the past of a site with trials, each use with its plot, as its record has it."""
    plots: dict[tuple[str, int], str] = {}
    # Revisions come oldest first: the latest of a record speaks.
    for revision in work.records.all_revisions(list(dict.fromkeys(use.serial for use in history))):
        for index, treatment in enumerate(revision.body.get("treatments") or ()):
            plots[revision.serial, index] = treatment.get("plot") or ""
    return [use._replace(plot=plots.get((use.serial, use.treatment), "")) for use in history]
