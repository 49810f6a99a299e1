"""Where the book is: from the command line, the environment, or the folder the tool is started in."""

from __future__ import annotations

import os
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from records.errors import UsageError

if TYPE_CHECKING:
    from collections.abc import Mapping

VARIABLE = "SWATHBOOK_BOOK"
DEFAULT_BOOK = "swathbook.db"
PHOTOS = "SWATHBOOK_PHOTOS"  # the folder of photos; else beside the book


@dataclass(frozen=True, slots=True)
class Settings:
    """What one run of the tool works on."""

    book: str  # a path, or the URL of a database server
    photos: str = ""  # the folder of photos; "" = beside the book

    @property
    def is_url(self) -> bool:
        """Return whether the book is on a database server."""
        return "://" in self.book

    @property
    def path(self) -> Path:
        """Return the book's file.

        Raises:
            UsageError: the book is on a server.
        """
        if self.is_url:
            raise UsageError("this needs a book that is a file", "Give a path with --book")
        return Path(self.book).expanduser()

    @property
    def photo_folder(self) -> Path:
        """Return where photos are kept.

        Raises:
            UsageError: the book is on a server, and no folder is named.
        """
        if self.photos:
            return Path(self.photos).expanduser()
        if self.is_url:
            raise UsageError("a book on a server has no folder beside it for photos", f"Name one: {PHOTOS}=FOLDER")
        return self.path.with_name(f"{self.path.name}.photos")


def read_settings(book: str | None = None, environ: Mapping[str, str] | None = None) -> Settings:
    """Settle where the book is: the flag, else the environment, else `swathbook.db` in the present folder.

    Args:
        book: value of the flag, if it was given.
        environ: environment to read instead of the process's own.

    Raises:
        UsageError: the flag is empty or cannot be a path.
    """
    known = os.environ if environ is None else environ
    chosen = book if book is not None else known.get(VARIABLE) or DEFAULT_BOOK
    if not chosen.strip() or "\0" in chosen:
        raise UsageError("the place of the book is empty or not a path", "Write --book FILE")
    return Settings(chosen, known.get(PHOTOS, "").strip())
