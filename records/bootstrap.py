"""The composition root: settings, clock, book and renderers, plugged together in one place."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from records.clock import Clock, SystemClock
from records.settings import Settings, read_settings

if TYPE_CHECKING:
    from records.storage.photos import PhotoFolder
    from records.storage.unit_of_work import SqlBook


@dataclass(frozen=True, slots=True)
class Application:
    """One run of the tool."""

    settings: Settings
    clock: Clock

    def book(self) -> SqlBook:
        """Return the book; nothing is opened before the first unit of work."""
        from records.storage.unit_of_work import SqlBook

        return SqlBook(self.settings.book)

    def photos(self) -> PhotoFolder:
        """Return where photos are kept.

        Raises:
            UsageError: the book is on a server, and no folder is named.
        """
        from records.storage.photos import PhotoFolder

        return PhotoFolder(self.settings.photo_folder)


def assemble(book: str | None = None, clock: Clock | None = None) -> Application:
    """Assemble the application.

    Args:
        book: value of `--book`, if it was given.
        clock: another clock than the computer's own (demonstrations and tests).
    """
    return Application(read_settings(book), clock or SystemClock())
