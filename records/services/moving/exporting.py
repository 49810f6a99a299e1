"""Writes a whole book as lines of JSON, from one transaction, whatever its size in little memory."""

from __future__ import annotations

from dataclasses import dataclass
from hashlib import sha256
from typing import TYPE_CHECKING

from records.clock import instant_text
from records.services.moving.lines import catalogue_line, chain_line, end_line, header, held_line, stub_line
from records.services.ports import RemovedRow

if TYPE_CHECKING:
    from collections.abc import Iterator
    from datetime import datetime
    from typing import IO

    from records.services.moving.ports import Extent, Moving


@dataclass(slots=True)
class Exported:
    """What an export wrote."""

    extent: Extent
    size: int = 0  # bytes
    sha256: str = ""  # over all lines before the last
    broken: str = ""  # the first revision whose seal, or that of the one before it, does not fit


def export_book(moving: Moving, stream: IO[bytes], now: datetime) -> Exported:
    """Write a whole book.

    Args:
        moving: of a transaction that is open.
        stream: to write to.
        now: the moment of export.

    Raises:
        BookDamagedError: something stored cannot be read.
    """
    extent = moving.extent()
    done = Exported(extent)
    digest = sha256()
    for line in _book_lines(moving, done, instant_text(now)):
        digest.update(line)
        done.size += stream.write(line)
    done.sha256 = digest.hexdigest()
    done.size += stream.write(end_line(extent, done.sha256))
    return done


def export_chain(moving: Moving, stream: IO[bytes]) -> Exported:
    """Write the chain alone: sealed revisions, and what is left of removed ones.

    Args:
        moving: of a transaction that is open.
        stream: to write to.

    Raises:
        BookDamagedError: something stored cannot be read.
    """
    done = Exported(moving.extent())
    digest = sha256()
    for line in _chain_lines(moving, done):
        digest.update(line)
        done.size += stream.write(line)
    done.sha256 = digest.hexdigest()
    return done


def _book_lines(moving: Moving, done: Exported, exported_at: str) -> Iterator[bytes]:
    yield header(done.extent, exported_at)
    yield from map(catalogue_line, moving.catalogue())
    yield from map(held_line, moving.held())
    yield from _chain_lines(moving, done)


def _chain_lines(moving: Moving, done: Exported) -> Iterator[bytes]:
    last = ""
    for link in moving.chain():
        if isinstance(link, RemovedRow):
            yield stub_line(link)
        else:
            line, fits = chain_line(link)
            if not done.broken and not (fits and link.previous == last):
                done.broken = f"{link.serial} revision {link.revision}"
            yield line
        last = link.seal
