"""The one reader of the system time: everything else is handed a clock."""

from __future__ import annotations

from datetime import UTC, datetime
from typing import Protocol


class Clock(Protocol):
    """Something that knows what time it is."""

    def now(self) -> datetime:
        """Return the present instant, aware, in UTC."""


def instant_text(instant: datetime) -> str:
    """Write an aware instant as it is stored and sealed: in UTC, with microseconds.

    Raises:
        ValueError: the instant has no offset.
    """
    if instant.tzinfo is None:
        msg = "an instant needs an offset"
        raise ValueError(msg)
    return instant.astimezone(UTC).isoformat(timespec="microseconds").replace("+00:00", "Z")


class SystemClock:
    """The computer's own clock."""

    def now(self) -> datetime:
        """Return the present instant, aware, in UTC."""
        return datetime.now(UTC)


class FixedClock:
    """A clock that shows what it was set to (demonstrations and tests)."""

    def __init__(self, instant: datetime) -> None:
        """Set the clock; a naive instant is refused."""
        self.set(instant)

    def set(self, instant: datetime) -> None:
        """Move the clock to another instant.

        Raises:
            ValueError: the instant has no offset.
        """
        if instant.tzinfo is None:
            msg = "a clock needs an instant with an offset"
            raise ValueError(msg)
        self._instant = instant.astimezone(UTC)

    def now(self) -> datetime:
        """Return the instant the clock was set to."""
        return self._instant
