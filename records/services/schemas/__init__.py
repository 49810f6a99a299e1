"""The JSON Schemas that the tool prints."""

from __future__ import annotations

import json
from importlib.resources import files
from typing import Any

from records.errors import NotFoundError
from records.services.schemas.packs import pack_schema

NAMES = ("visit", "plan", "catalogue", "pack")


def schema(name: str) -> dict[str, Any]:
    """Return one of the schemas.

    Raises:
        NotFoundError: there is no schema of that name.
    """
    if name not in NAMES:
        raise NotFoundError(f"no schema {name[:40]!r}", f"There are: {', '.join(NAMES)}")
    if name == "pack":
        return pack_schema()
    loaded: dict[str, Any] = json.loads((files(__name__) / f"{name}.json").read_text("utf-8"))
    return loaded
