"""Photos beside the book: each in a file named by the SHA-256 of its bytes, so that none is ever written over."""

from __future__ import annotations

import contextlib
import os
import re
import tempfile
from hashlib import sha256
from pathlib import Path
from typing import TYPE_CHECKING, NamedTuple

from records.domain.follow_up import Photo
from records.errors import InputError, OutputError

if TYPE_CHECKING:
    from collections.abc import Container, Iterable, Iterator

LARGEST = 25_000_000  # bytes; a phone's photo has 2 to 8 million
# How the file formats of cameras begin: JPEG (JFIF and Exif), PNG (RFC 2083), RIFF of WebP, ISO base media of HEIC.
_STARTS = ((b"\xff\xd8\xff", "jpg"), (b"\x89PNG\r\n\x1a\n", "png"))
_BRANDS = (b"heic", b"heix", b"mif1", b"msf1", b"hevc")
_BLOCK = 1 << 20
_HASH = re.compile(r"[0-9a-f]{64}")
_NAME = re.compile(r"[0-9a-f]{64}\.(jpg|png|webp|heic)")


class Copied(NamedTuple):
    """What a copying of photos did."""

    new: int  # that were not there as they were sealed
    whole: frozenset[str]  # hashes of those that are there now


class PhotoFolder:
    """The folder of one book's photos."""

    def __init__(self, folder: Path) -> None:
        """Name the folder; it is made when the first photo comes."""
        self.folder = folder

    def path_of(self, photo: Photo) -> Path | None:
        """Return where a photo lies; None where it does not."""
        return next(self._named(photo.sha256), None)

    def _named(self, digest: str) -> Iterator[Path]:
        if _HASH.fullmatch(digest) and self.folder.is_dir():
            yield from (path for path in sorted(self.folder.glob(f"{digest}.*")) if path.is_file())

    def keep(self, data: bytes) -> str:
        """Keep a photo; return its SHA-256 in hex. One that is there already is left as it is.

        Raises:
            InputError: it is no photo, or too large.
            OutputError: it cannot be written.
        """
        kind = kind_of(data)
        digest = sha256(data).hexdigest()
        target = self.folder / f"{digest}.{kind}"
        if target.exists():
            return digest
        try:
            self._put(target.name, data)
        except OSError as error:
            reason = error.strerror or type(error).__name__
            raise OutputError(f"the photo cannot be kept in {self.folder}: {reason}", "Make room there") from error
        return digest

    def _put(self, name: str, data: bytes) -> None:
        """Write a file whole or not at all."""
        self.folder.mkdir(parents=True, exist_ok=True)
        handle, draft = tempfile.mkstemp(prefix=".photo.", dir=self.folder)
        try:
            with os.fdopen(handle, "wb") as stream:
                stream.write(data)
                stream.flush()
                os.fsync(stream.fileno())
            Path(draft).replace(self.folder / name)
        except BaseException:
            with contextlib.suppress(OSError):
                Path(draft).unlink()
            raise

    def check(self, photos: Iterable[tuple[str, Photo]]) -> tuple[list[str], list[str]]:
        """Compare photos with the hashes that were sealed.

        Args:
            photos: each with the serial of the rating it belongs to.

        Returns:
            Problems (a photo was changed) and notes (it does not lie here).
        """
        problems, notes = [], []
        for serial, photo in photos:
            path = self.path_of(photo)
            if path is None:
                notes.append(f"{serial}: the photo {photo.name} is not in {self.folder}; copy it there from a backup")
                continue
            try:
                if _digest(path) != photo.sha256:
                    problems.append(f"{serial}: the photo {photo.name} was changed after it was sealed ({path.name})")
            except OSError as error:
                notes.append(f"{serial}: the photo {photo.name} cannot be read: {error.strerror} ({path})")
        return problems, notes

    def copy_to(self, other: PhotoFolder) -> Copied:
        """Copy what the other folder lacks, or does not have as it was sealed.

        One that does not have its name's hash any more is left behind: it is not what was sealed.

        Raises:
            OutputError: they cannot be written.
        """
        if not self.folder.is_dir():
            return Copied(0, frozenset())
        count, whole = 0, set()
        try:
            for path in sorted(self.folder.glob("*.*")):
                if not _NAME.fullmatch(path.name):
                    continue
                there = other.folder / path.name
                if there.is_file() and _digest(there) == path.stem:
                    whole.add(path.stem)
                    continue
                data = path.read_bytes()
                if sha256(data).hexdigest() == path.stem:
                    other._put(path.name, data)
                    whole.add(path.stem)
                    count += 1
        except OSError as error:
            reason = error.strerror or type(error).__name__
            raise OutputError(f"photos cannot be copied to {other.folder}: {reason}", "Make room there") from error
        return Copied(count, frozenset(whole))

    def lacking(self, photos: Iterable[tuple[str, Photo]], source: PhotoFolder, whole: Container[str]) -> list[str]:
        """Return which photos are not here as they were sealed, and why they could not be copied.

        Args:
            photos: each with the serial of the rating it belongs to.
            source: where they were copied from.
            whole: hashes of those that are known to be here.
        """
        found = []
        for serial, photo in photos:
            if photo.sha256 in whole or self._is_whole(photo):
                continue
            path = source.path_of(photo)
            why = f"is not in {source.folder}"
            if path is not None:
                why = f"was changed after it was sealed ({path.name} in {source.folder})"
            found.append(f"{serial}: the photo {photo.name} {why}")
        return found

    def _is_whole(self, photo: Photo) -> bool:
        path = self.path_of(photo)
        try:
            return path is not None and _digest(path) == photo.sha256
        except OSError:
            return False


def kind_of(data: bytes) -> str:
    """Return the ending for a photo's file, by how it begins.

    Raises:
        InputError: it is no photo that phones make, or too large.
    """
    if len(data) > LARGEST:
        raise InputError(f"the photo has {len(data):,} bytes", f"Send one of at most {LARGEST:,}")
    for start, kind in _STARTS:
        if data.startswith(start):
            return kind
    if data[:4] == b"RIFF" and data[8:12] == b"WEBP":
        return "webp"
    if data[4:8] == b"ftyp" and data[8:12] in _BRANDS:
        return "heic"
    raise InputError("that file is no photo", "JPEG, PNG, WebP and HEIC are kept")


def photo_of(name: str, data: bytes) -> Photo:
    """Return what a rating says of a photo.

    Raises:
        InputError: it is no photo, or too large.
    """
    kind_of(data)
    return Photo(name, sha256(data).hexdigest(), len(data))


def _digest(path: Path) -> str:
    found = sha256()
    with path.open("rb") as stream:
        while block := stream.read(_BLOCK):
            found.update(block)
    return found.hexdigest()


def folder_of(book: Path) -> PhotoFolder:
    """Return the folder of a book that is a file: beside it, named after it."""
    return PhotoFolder(book.with_name(f"{book.name}.photos"))
