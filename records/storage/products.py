"""Finds the revisions that hold an application of a product, through the groups that applications share.

There are far fewer groups than applications, and an index leads from each to its revisions.
"""

from __future__ import annotations

import json
from functools import lru_cache
from typing import TYPE_CHECKING, Any

from sqlalchemy import bindparam, select

from records.domain.registration import RegistrationError, read_registration
from records.storage.functions import casefold, is_listed, parts, position
from records.storage.link import ONE, ZERO, Prepared
from records.storage.tables import ActiveRow, ApplicationRow, UseGroupRow

if TYPE_CHECKING:
    from records.services.ports import Packet
    from records.storage.link import Link

_A, _G, _X = ApplicationRow, UseGroupRow, ActiveRow
# Id, version, name and registration, as `mapping.facts` has them
_PRODUCT = parts(_G.facts, 4)
_GROUPS = Prepared(
    lambda: select(_G.id, _PRODUCT).where(_G.period >= bindparam("first"), _G.period <= bindparam("last")),
    "first",
    "last",
)
_of_groups = select(_A.revision_id).where(is_listed(_A.use_group_id, "groups"))
_has_active = (
    select(_X.position)
    .where(_X.application_id == _A.id, position(casefold(_X.name), bindparam("active")) >= ONE)
    .exists()
)
_OF_GROUPS = Prepared(lambda: _of_groups, "groups")
_OF_GROUPS_WITH = Prepared(lambda: _of_groups.where(_has_active), "groups", "active")
# The actives of one application of a group
_SAMPLE = Prepared(
    lambda: select(_X.name).where(
        _X.application_id
        == select(_A.id).where(_A.use_group_id == bindparam("group")).limit(ONE).offset(ZERO).scalar_subquery()
    ),
    "group",
)


@lru_cache(maxsize=1024)
def _federal(registration: str) -> str:
    """Return the federal number within a registration number; "" where there is none."""
    try:
        return read_registration(registration).federal
    except RegistrationError:
        return ""


def _is_number(registration: str | None, wanted: str) -> bool:
    if not registration or not wanted:
        return False
    return wanted in {registration.casefold(), _federal(registration).casefold()}


def _matches(product: list[Any], wanted: Packet) -> bool:
    """Tell whether a product is asked for, apart from its actives."""
    key, _, name, number = product
    if wanted.registration is not None and not _is_number(number, wanted.registration.casefold()):
        return False
    if wanted.product is None:
        return True
    asked = wanted.product.casefold()
    return key == wanted.product or _is_number(number, asked) or (name is not None and asked in name.casefold())


def wanted_revisions(link: Link, wanted: Packet, months: tuple[str, str]) -> set[int]:
    """Return the numbers of the revisions with an application of what is asked for.

    A version of a product in the catalogue has the same actives wherever it is put out, so that one application tells
    for all of them. What was imported (version 0) has those of its line, and each is looked at.

    Args:
        link: an open transaction.
        wanted: names product, registration or active; all that are given have to be met by one application.
        months: first and last that can hold such applications.
    """
    active = None if wanted.active is None else wanted.active.casefold()
    known: dict[str, list[int] | None] = {}
    groups: list[int] = []
    single: list[int] = []  # groups whose applications have to be looked at one by one
    for group, text in link.rows(_GROUPS, *months):
        if text not in known:
            product = json.loads(text)
            is_versioned = active is None or bool(product[1])
            known[text] = groups if is_versioned else single
            if not _matches(product, wanted) or (
                active is not None and is_versioned and not _contains(link, group, active)
            ):
                known[text] = None
        place = known[text]
        if place is not None:
            place.append(group)
    found = {number for (number,) in link.rows(_OF_GROUPS, json.dumps(groups))}
    if single:
        found.update(number for (number,) in link.rows(_OF_GROUPS_WITH, json.dumps(single), active))
    return found


def _contains(link: Link, group: int, active: str) -> bool:
    return any(active in name.casefold() for (name,) in link.rows(_SAMPLE, group))
