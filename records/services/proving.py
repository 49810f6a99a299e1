"""Reads a seal as somebody types it off a paper."""

from __future__ import annotations

import re

from records.errors import UsageError

_SEAL = re.compile(r"[0-9a-f]{64}")


def read_seal(text: str) -> str:
    """Return a seal in the form in which books keep it.

    Args:
        text: 64 hexadecimal digits, in whatever case, with blanks or hyphens between them.

    Raises:
        UsageError: it is none.
    """
    plain = re.sub(r"[\s-]+", "", text).lower()
    if not _SEAL.fullmatch(plain):
        raise UsageError(
            f"a seal has 64 digits 0-9 and letters a-f; {text[:80]!r} has {len(plain)}", "Copy it whole from the paper"
        )
    return plain
