"""Makes up loads, and logs what is left, rinsed out and disposed of."""

from __future__ import annotations

import re
from dataclasses import dataclass
from typing import TYPE_CHECKING
from zoneinfo import ZoneInfo

from records.domain.numerals import QuantityError
from records.domain.quantities import UnitKindError, parse_amount, parse_volume
from records.errors import InputError, NotFoundError, UsageError
from records.services.closing.entry import nearest
from records.services.directory import Directory
from records.services.logbook import log
from records.services.mixing.advice import load_notes, more_than_left
from records.services.mixing.ledger import carry_over, find_mix, made_since
from records.services.mixing.past import MixLog, moment_made
from records.services.occasions import firm_of, local, moment_of, words_of
from records.services.reading import Problem, read_mix

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence
    from datetime import datetime

    from records.domain.mixing import Mix
    from records.domain.quantities import Quantity
    from records.services.ports import Json, StoredRevision, UnitOfWork

MOST_RINSES = 20
_PRODUCT = re.compile(r"\s*([^=]+?)\s*=\s*(.+?)\s*", re.DOTALL)


@dataclass(frozen=True, slots=True)
class Made:
    """A load that was stored."""

    mix: Mix
    version: int
    notes: tuple[str, ...]


def document_of(
    mix_id: str,
    *,
    equipment: str | None,
    spray: str,
    products: Sequence[str],
    carried: Sequence[str] = (),
    at: str | None = None,
    zone: ZoneInfo | None = None,
    now: datetime | None = None,
) -> Json:
    """Return the document of a load from what was typed.

    Args:
        mix_id: its id.
        equipment: id of the tank.
        spray: finished spray in the tank, leftovers included.
        products: each like `brindle-4l=27.5 fl oz` or `brindle-4l=27.5 fl oz:B2311`, with its lot.
        carried: each like `mix-0512=6 gal`.
        at: when it was made up; None: now.
        zone: of the firm.
        now: the present moment.

    Raises:
        UsageError: one of them is not written so.
    """
    lines = []
    for text in products:
        product, amount = _pair(text, "--product", "brindle-4l=27.5 fl oz")
        amount, _, lot = amount.partition(":")
        line = {"product": product, "amount": amount.strip()}
        lines.append(line | ({"lot": lot.strip()} if lot.strip() else {}))
    leftovers = [
        {"mix": mix, "spray": amount}
        for mix, amount in (_pair(text, "--carried", "mix-0512=6 gal") for text in carried)
    ]
    made: Json = {"id": mix_id}
    if zone is not None and now is not None:
        made["made_at"] = local(moment_of(at, "--at", zone, now))
    elif at:
        made["made_at"] = at
    if equipment:
        made["equipment"] = equipment
    made |= {"water": spray, "products": lines}
    return made | ({"carried": leftovers} if leftovers else {})


def _pair(text: str, option: str, example: str) -> tuple[str, str]:
    found = _PRODUCT.fullmatch(text)
    if found is None:
        raise UsageError(f"{option} {text[:60]!r} is not understood", f"Write it like {option} '{example}'")
    return found[1], found[2]


def make(work: UnitOfWork, now: datetime, mix_doc: Json) -> Made:
    """Store a load; the caller commits.

    Args:
        work: a writing unit of work.
        now: the moment of entry.
        mix_doc: the document, as one is loaded.

    Raises:
        InputError: with all that is wrong with it.
        UsageError: another load has that id.
    """
    directory = Directory(work.catalogue)
    business, _ = firm_of(directory)
    problems: list[Problem] = []
    mix = read_mix(mix_doc, problems, "mix")
    told = [_as_option(problem, mix_doc, directory) for problem in problems]
    told += _misfits(mix_doc, directory)
    if mix is None or told:
        raise InputError("the load cannot be made up: " + "; ".join(told), "Correct what is named")
    before = work.catalogue.latest("mix", mix.id)
    if before is not None and before.body != mix_doc:
        raise UsageError(
            f"there is a mix {mix.id} already, made up {before.body.get('made_at')}",
            "Give this load an id of its own; a load that was written down wrongly is put right with swathbook load",
        )
    made_at = moment_made(mix, directory)
    if made_at.timestamp() > now.timestamp() + 60:
        raise UsageError(
            f"the load is made up at {made_at:%Y-%m-%d %H:%M}, which lies in the future",
            f"It is {now.astimezone(ZoneInfo(business.timezone)):%Y-%m-%d %H:%M} there",
        )
    log_so_far = MixLog.of(work)
    notes = load_notes(work, directory, mix, log_so_far)
    version = work.catalogue.add("mix", mix.id, mix_doc, now)
    note = carry_over(directory, log_so_far, mix, made_at, made_since(directory))
    return Made(mix, version, tuple([*notes, note] if note else notes))


_OPTIONS = {"water": "--spray", "products": "--product", "carried": "--carried", "equipment": "--equipment"}
_PLACE = re.compile(r"mix\.([a-z_]+)(?:\[(\d+)\])?(?:\.[a-z]+)?", re.ASCII)
_SUCH_AS = re.compile(r"; give at least one, such as \{.*", re.ASCII | re.DOTALL)


def _as_option(problem: Problem, doc: Json, directory: Directory) -> str:
    """Return what is wrong with a load in the words of the command line, an amount by the form of its product."""
    found = _PLACE.fullmatch(problem.where)
    option = _OPTIONS.get(found[1]) if found else None
    if found is None or option is None:
        return f"{problem.where.removeprefix('mix.')}: {problem.what}"
    what = _SUCH_AS.sub("; write --product 'brindle-4l=27.5 fl oz'", problem.what)
    listed = doc.get(found[1])
    if found[2] is None or not isinstance(listed, list):
        return f"{option}: {what}"
    line = listed[int(found[2])]
    name = str((line.get("product") or line.get("mix")) if isinstance(line, dict) else None)
    product = directory.product(name) if problem.where.endswith(".amount") else None
    if product is not None:
        try:
            parse_amount(line.get("amount"), product.form)
        except QuantityError as error:
            what = str(error)
    return f"{option} {name[:40]}: {what}"


def _misfits(doc: Json, directory: Directory) -> Iterator[str]:
    """Name what the load refers to and the book does not have, and amounts that their products are not measured in."""
    equipment = doc.get("equipment")
    if isinstance(equipment, str) and directory.equipment(equipment) is None:
        yield f"no equipment {equipment!r} in the book{nearest(equipment, directory.ids('equipment'))}"
    seen: set[tuple[object, object]] = set()
    for line in _tables(doc, "products"):
        key, amount, lot = line.get("product"), line.get("amount"), line.get("lot")
        product = directory.product(key) if isinstance(key, str) else None
        if product is None:
            yield f"no product {str(key)[:40]!r} in the catalogue{nearest(str(key), directory.ids('product'))}"
            continue
        try:
            parse_amount(amount, product.form)
        except UnitKindError as error:
            yield f"{key}: {error}"
        except QuantityError:
            pass  # already told when the load was read
        if (key, lot) in seen:
            yield f"{key} is given twice with one lot; add the two up"
        seen.add((key, lot))
    for leftover in _tables(doc, "carried"):
        mix = str(leftover.get("mix"))
        if directory.mix(mix) is None:
            yield f"no mix {mix[:40]!r} in the book{nearest(mix, directory.ids('mix'))}"


def _tables(doc: Json, key: str) -> list[Json]:
    listed = doc.get(key)
    return [one for one in listed if isinstance(one, dict)] if isinstance(listed, list) else []


def log_left(
    work: UnitOfWork, now: datetime, mix_id: str, spray: str, *, at: str | None = None, by: str | None = None
) -> tuple[StoredRevision, list[str]]:
    """Log how much of a load is left, as counted; the caller commits.

    Returns:
        The entry, and what is worth saying about it.

    Raises:
        NotFoundError: no such load or person.
        UsageError: no amount of spray, more than the load made, or a moment before it was made up.
    """
    directory = Directory(work.catalogue)
    mix = find_mix(directory, mix_id)
    left = _volume(spray, "the amount left")
    if left.base_low > mix.water.base + mix.water.base_half:
        raise UsageError(f"{left} cannot be left of {mix.id}, which made {mix.water}", "Look at the gauge again")
    moment = _not_before(directory, mix, at, now)
    notes = more_than_left(work, directory, mix, MixLog.of(work), left, moment, "counted")
    data = {"mix": mix.id, "equipment": mix.equipment, "spray": str(left), "words": f"{left} of mix {mix.id} left"}
    return log(work, "count", data, now, at=at, by=by), notes


def log_rinsed(
    work: UnitOfWork,
    now: datetime,
    name: str,
    *,
    times: int,
    water: str | None = None,
    spray: str | None = None,
    how: str | None = None,
    at: str | None = None,
    by: str | None = None,
) -> tuple[StoredRevision, list[str]]:
    """Log that a tank was rinsed, so that nothing of its last load is left; the caller commits.

    Args:
        work: a writing unit of work.
        now: the moment of entry.
        name: id of the equipment, or of the load that was in it.
        times: how often.
        water: for each time.
        spray: of the load, that went out with the rinse water.
        how: with what, and where the rinse water went.
        at: when.
        by: id of who did it.

    Returns:
        The entry, and what is worth saying about it.

    Raises:
        NotFoundError: no such tank, load or person.
        UsageError: an amount is none, or more than the load made, or a number of times.
    """
    if not 1 <= times <= MOST_RINSES:
        raise UsageError(f"--times {times} is not understood", f"Write 1 to {MOST_RINSES}")
    directory = Directory(work.catalogue)
    business, _ = firm_of(directory)
    moment = moment_of(at, "--at", ZoneInfo(business.timezone), now)
    found = directory.mix(name)
    if found is not None:
        mix: Mix | None = found[0]
        equipment = found[0].equipment
        _not_before(directory, found[0], at, now)
    elif directory.equipment(name) is not None:
        equipment = name
        every = made_since(directory)
        mix = next((one for one, made in every if one.equipment == name and made <= moment), None)
    else:
        known = [*directory.ids("equipment"), *directory.ids("mix")]
        raise NotFoundError(f"no equipment or mix {name[:40]!r} in this book{nearest(name, known)}", "Name one of them")
    volume = None if water is None else _volume(water, "--water")
    rest = None if spray is None else _volume(spray, "--spray")
    notes = []
    if mix is not None and rest is not None:
        _not_over(mix, rest, "be rinsed out")
        notes = more_than_left(work, directory, mix, MixLog.of(work), rest, moment, "rinsed out")
    ways = words_of(how, "--how")
    words = f"{equipment or name} rinsed {times} x" + (f" with {volume}" if volume else "")
    words += f" after {mix.id}" if mix else ""
    words += f", {rest} of it went with the water" if rest else ""
    data: Json = {"equipment": equipment, "times": times, "words": words + (f": {ways}" if ways else "")}
    said = {
        "mix": mix.id if mix else "",
        "water": str(volume) if volume else "",
        "spray": str(rest) if rest else "",
        "how": ways,
    }
    return log(work, "rinse", data | {key: text for key, text in said.items() if text}, now, at=at, by=by), notes


def log_discarded(
    work: UnitOfWork,
    now: datetime,
    mix_id: str,
    spray: str,
    *,
    how: str | None,
    at: str | None = None,
    by: str | None = None,
) -> tuple[StoredRevision, list[str]]:
    """Log that a part of a load was disposed of; the caller commits.

    Returns:
        The entry, and what is worth saying about it.

    Raises:
        NotFoundError: no such load or person.
        UsageError: no amount of spray, more than the load made, no way in which it went, or a moment before the load.
    """
    directory = Directory(work.catalogue)
    mix = find_mix(directory, mix_id)
    gone = _volume(spray, "the amount")
    _not_over(mix, gone, "be disposed of")
    ways = words_of(how, "--how")
    if not ways:
        raise UsageError("--how is missing", "Say where it went, such as 'sprayed on a labelled site' or 'waste site'")
    moment = _not_before(directory, mix, at, now)
    notes = more_than_left(work, directory, mix, MixLog.of(work), gone, moment, "disposed of")
    words = f"{gone} of mix {mix.id}: {ways}"
    data = {"mix": mix.id, "spray": str(gone), "how": ways, "words": words}
    return log(work, "disposal", data, now, at=at, by=by), notes


def _not_over(mix: Mix, spray: Quantity, what: str) -> None:
    """Refuse more spray than the load made."""
    if spray.base_low > mix.water.base + mix.water.base_half:
        raise UsageError(f"{spray} cannot {what}: {mix.id} made {mix.water}", "Look at the amount again")


def _not_before(directory: Directory, mix: Mix, at: str | None, now: datetime) -> datetime:
    """Return the moment; refuse one before the load was made up."""
    business, _ = firm_of(directory)
    moment, made = moment_of(at, "--at", ZoneInfo(business.timezone), now), moment_made(mix, directory)
    if moment.timestamp() < made.timestamp():
        raise UsageError(
            f"{moment:%Y-%m-%d %H:%M} is before {mix.id} was made up, {made:%Y-%m-%d %H:%M}", "Correct the moment"
        )
    return moment


def _volume(text: str, what: str) -> Quantity:
    try:
        return parse_volume(text)
    except QuantityError as error:
        raise UsageError(f"{what}: {error}") from error
