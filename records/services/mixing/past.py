"""What became of a load so far: the stops that took of it, what was carried on, and what the shop log says."""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import datetime
from typing import TYPE_CHECKING
from zoneinfo import ZoneInfo

from records.domain.mixing import Ended, LoadPast, Taken
from records.domain.numerals import QuantityError
from records.domain.quantities import parse_volume
from records.services.logbook import entries
from records.services.reading import read_mix

if TYPE_CHECKING:
    from records.domain.mixing import Carried, Mix
    from records.domain.quantities import Quantity
    from records.services.account_ports import MixUse
    from records.services.directory import Directory
    from records.services.logbook import Logged
    from records.services.ports import UnitOfWork

TANK_KINDS = ("rinse", "disposal", "count")  # of the shop log, where an entry names a load or a tank


@dataclass(frozen=True, slots=True)
class MixLog:
    """What shop log and catalogue say of loads and tanks, read once in a transaction."""

    of_mix: dict[str, list[Logged]] = field(default_factory=dict)  # by day, then by order of sealing
    of_tank: dict[str, list[Logged]] = field(default_factory=dict)  # rinses, by equipment
    carried: dict[str, list[tuple[Mix, Carried]]] = field(default_factory=dict)  # the later loads that took of each
    in_tank: dict[str, list[tuple[str, datetime]]] = field(default_factory=dict)  # loads by tank, as far as asked for

    @classmethod
    def of(cls, work: UnitOfWork) -> MixLog:
        """Return what a book says."""
        log = cls()
        for entry in entries(work, *TANK_KINDS):
            if entry.data.get("mix"):
                log.of_mix.setdefault(entry.data["mix"], []).append(entry)
            if entry.kind == "rinse" and entry.data.get("equipment"):
                log.of_tank.setdefault(entry.data["equipment"], []).append(entry)
        for stored in work.catalogue.every("mix", holding="carried"):
            later = read_mix(stored.body, [])
            if later is None:
                continue
            for one in later.carried:
                log.carried.setdefault(one.mix, []).append((later, one))
        return log


@dataclass(frozen=True, slots=True)
class StopUse:
    """What one treatment of a sealed record took of a load."""

    use: MixUse  # its first product line
    spray: Quantity


def moment_made(mix: Mix, directory: Directory) -> datetime:
    """Return when a load was made up, in the firm's zone where it is written without an offset."""
    found = directory.business()
    zone = ZoneInfo(found[0].timezone) if found else ZoneInfo("UTC")
    moment = datetime.fromisoformat(mix.made_at)
    return moment.replace(tzinfo=zone) if moment.tzinfo is None else moment.astimezone(zone)


def stops_of(work: UnitOfWork, mix: str, without: str | None = None) -> list[StopUse]:
    """Return what sealed records took of a load, in the order of work.

    Args:
        work: a unit of work.
        mix: id of the load.
        without: serial of a record that is left out.
    """
    found: dict[tuple[int, int], MixUse] = {}
    for use in work.account.of_mixes([mix]):
        if use.serial != without:
            found.setdefault((use.order, use.treatment), use)
    orders = list(dict.fromkeys(order for order, _ in found))
    bodies = {revision.order: revision.body for revision in work.records.bodies(orders)}
    stops = []
    for (order, treatment), use in found.items():
        spray = _volume(bodies[order]["treatments"][treatment].get("spray"))
        if spray is not None:
            stops.append(StopUse(use, spray))
    return stops


def _volume(text: object) -> Quantity | None:
    try:
        return parse_volume(text)
    except QuantityError:  # of a record that another tool wrote
        return None


def spray_of(entry: Logged) -> Quantity | None:
    """Return the finished spray that an entry of the log says went, or is left; None where it says nothing."""
    return _volume(entry.data.get("spray"))


def load_past(
    work: UnitOfWork, directory: Directory, key: str, log: MixLog, without: str | None = None
) -> LoadPast | None:
    """Return what became of a load so far; None where there is no such load.

    Args:
        work: a unit of work.
        directory: of the same.
        key: id of the load.
        log: what the shop log says.
        without: serial of a record that is left out, since it is being corrected.
    """
    found = directory.mix(key)
    if found is None:
        return None
    mix = found[0]
    gone = [Taken(f"carried on into {later.id}", carried.spray) for later, carried in log.carried.get(key, [])]
    for entry in log.of_mix.get(key, []):
        spray = spray_of(entry)
        if spray is not None and entry.kind != "count":
            gone.append(Taken(f"{entry.kind} {entry.serial}", spray))
    taken = [Taken(stop.use.serial, stop.spray) for stop in stops_of(work, key, without)]
    ended = _ended(work, directory, mix, log)
    return LoadPast(mix.water, moment_made(mix, directory), tuple(taken), tuple(gone), mix.equipment, ended)


def _ended(work: UnitOfWork, directory: Directory, mix: Mix, log: MixLog) -> Ended | None:
    """Return when a load was first no longer in its tank: it was rinsed, or another load was made up in there."""
    made_at, tank = moment_made(mix, directory), mix.equipment
    rinses = [one for one in log.of_mix.get(mix.id, []) if one.kind == "rinse"]
    rinses += log.of_tank.get(tank, []) if tank else []
    found = [Ended(one.at, f"{tank or 'its tank'} was rinsed ({one.serial})") for one in rinses if one.at > made_at]
    if tank:
        if tank not in log.in_tank:
            stored = [read_mix(one.body, []) for one in work.catalogue.every("mix", holding=tank)]
            own = [one for one in stored if one is not None and one.equipment == tank]
            log.in_tank[tank] = [(one.id, moment_made(one, directory)) for one in own]
        later = [one for one in log.in_tank[tank] if one[1] > made_at and one[0] != mix.id]
        found += [Ended(at, f"{name} was made up in {tank}") for name, at in later]
    return min(found, key=lambda one: one.at, default=None)
