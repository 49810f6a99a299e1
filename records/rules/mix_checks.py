"""Whether a load can have made what its stops together say that they took of it."""

from __future__ import annotations

from fractions import Fraction
from typing import TYPE_CHECKING

from records.domain.findings import Code, Finding, Severity
from records.domain.mixing import Taken
from records.domain.quantities import Quantity, format_number

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator, Sequence

    from records.domain.mixing import LoadPast
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
