"""What one command line answered, for the tests that run it in this process."""

from __future__ import annotations

import json
from dataclasses import dataclass
from typing import Any


@dataclass(frozen=True, slots=True)
class Ran:
    """Exit code, stdout and stderr."""

    code: int
    out: str
    err: str

    @property
    def json(self) -> Any:  # noqa: ANN401 - whatever the answer is
        return json.loads(self.out)

    @property
    def words(self) -> str:
        """All that was said, its lines joined."""
        return " ".join((self.out + self.err).split())
