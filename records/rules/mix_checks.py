"""Whether a load was there for a stop, and can have made what its stops together say that they took of it."""

from __future__ import annotations

from fractions import Fraction
from typing import TYPE_CHECKING

from records.domain.findings import Code, Finding, Severity
from records.domain.mixing import Taken
from records.domain.quantities import Quantity, format_number

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator, Sequence
    from datetime import datetime

    from records.domain.mixing import Ended, LoadPast
    from records.domain.visit import Treatment, Visit
    from records.rules.context import Context

# Both ask for the share of the mixture that each application used.
SHARE = "N.J.A.C. 7:30-7.3; reporting help to 6 NYCRR 325.25: product in the mix x spray used there / spray made"
_NAMED = 12  # stops named in a finding


def check_loads(visit: Visit, context: Context) -> Iterator[Finding]:
    """Compare what this stop takes of each load with what the load made and what is gone of it already.

    Args:
        visit: whose treatments may be shares of loads.
        context: knows what became of each load.
    """
    for mix, treatments in _shares(visit).items():
        load = context.load(mix)
        if load is None:
            continue
        yield from _too_much(mix, load, treatments)
        started = visit.started
        if started is not None and started.timestamp() < load.made_at.timestamp():
            yield Finding(
                Code.DISAGREE,
                Severity.ASK,
                f"{treatments[0].at}.mix",
                f"mix {mix} was made up at {load.made_at:%Y-%m-%d %H:%M}, after this stop began; name the load that was"
                " in the tank",
                f"{load.made_at:%Y-%m-%d %H:%M}",
                f"{started:%Y-%m-%d %H:%M}",
            )
        elif started is not None and load.ended is not None and load.ended.at.timestamp() <= started.timestamp():
            yield _gone(mix, load.ended, started, f"{treatments[0].at}.mix")
        yield from _elsewhere(mix, load, treatments)


def _gone(mix: str, ended: Ended, started: datetime, at: str) -> Finding:
    """Ask about a load that was no longer in its tank when the stop began."""
    return Finding(
        Code.DISAGREE,
        Severity.ASK,
        at,
        f"mix {mix} was no longer in its tank when this stop began: {ended.words} at {ended.at:%Y-%m-%d %H:%M}; name"
        " the load that was in the tank",
        f"{ended.at:%Y-%m-%d %H:%M}",
        f"{started:%Y-%m-%d %H:%M}",
    )


def _elsewhere(mix: str, load: LoadPast, treatments: Sequence[Treatment]) -> Iterator[Finding]:
    """Ask where a treatment names other equipment than the load was made up in."""
    for treatment in treatments:
        used = treatment.equipment
        if used is not None and load.equipment and used.id != load.equipment:
            yield Finding(
                Code.DISAGREE,
                Severity.ASK,
                f"{treatment.at}.equipment",
                f"mix {mix} was made up in {load.equipment}, and this stop was sprayed with {used.id}; name the"
                f" equipment that held it, or the load that was in {used.id}",
                load.equipment,
                used.id,
            )


def check_lots(visit: Visit, context: Context) -> Iterator[Finding]:
    """Note a lot that was used after its last day.

    Args:
        visit: whose products may name their lots.
        context: knows until when a lot that was bought may be used.
    """
    day = visit.day
    if day is None:
        return
    told: set[tuple[str, str]] = set()
    for treatment in visit.treatments:
        for line in treatment.lines:
            # A share of a load may come from several lots
            for lot in filter(None, (part.strip() for part in line.lot.split(","))):
                last = context.lot_day(line.product.id, lot)
                if last is None or day <= last or (line.product.id, lot) in told:
                    continue
                told.add((line.product.id, lot))
                message = f"lot {lot} of {line.product.name} was good until {last}, and was used on {day}"
                yield Finding(Code.LOT_EXPIRED, Severity.NOTE, f"{line.at}.lot", message, str(last), str(day))


def _shares(visit: Visit) -> dict[str, list[Treatment]]:
    found: dict[str, list[Treatment]] = {}
    for treatment in visit.treatments:
        mix = next((line.mix for line in treatment.lines if line.mix), "")
        if mix and treatment.spray is not None:
            found.setdefault(mix, []).append(treatment)
    return found


def _too_much(mix: str, load: LoadPast, treatments: Sequence[Treatment]) -> Iterator[Finding]:
    own = [Taken("this stop", treatment.spray) for treatment in treatments if treatment.spray is not None]
    stops = [*load.taken, *own]
    every = [*stops, *load.gone]
    least, most = sum((one.spray.base_low for one in stops), Fraction(0)), load.made.base + load.made.base_half
    at = f"{treatments[-1].at}.spray"
    found = _in(sum((one.spray.base for one in stops), Fraction(0)), load.made)
    if least > most and (load.taken or len(own) > 1):
        yield Finding(
            Code.DISAGREE,
            Severity.STOP,
            at,
            f"mix {mix} made {load.made}, and its stops took {found} together: {_told(stops)}; correct the spray of the"
            " one that is wrong, or name another load",
            str(load.made),
            found,
            SHARE,
        )
    elif sum((one.spray.base for one in every), Fraction(0)) > load.made.base:
        found = _in(sum((one.spray.base for one in every), Fraction(0)), load.made)
        yield Finding(
            Code.DISAGREE,
            Severity.ASK,
            at,
            f"mix {mix} made {load.made}, and {found} of it are accounted for with this stop: {_told(every)}; look at"
            " the gauge readings again",
            str(load.made),
            found,
            SHARE,
        )


def _in(base: Fraction, like: Quantity) -> str:
    return f"{format_number(Quantity(base, 'fl oz').to(like.unit), 3)} {like.unit}"


def _told(taken: Iterable[Taken]) -> str:
    every = [f"{one.name} {one.spray}" for one in taken]
    left = len(every) - _NAMED
    return ", ".join(every if left <= 0 else [*every[: _NAMED - 1], f"{left + 1} more", every[-1]])
