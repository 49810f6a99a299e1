"""Files that are written beside their place and put there only when all else is done; or stdout."""

from __future__ import annotations

import contextlib
import os
import sys
import tempfile
from pathlib import Path
from typing import IO, TYPE_CHECKING

from records.errors import OutputError, UsageError

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

_HINT = "Choose another place with --out"


class StdoutDraft:
    """What goes to stdout as it is made."""

    def __init__(self, kind: str) -> None:
        """Write a kind of file to stdout."""
        self.kind, self.name = kind, "stdout"

    def write(self, data: bytes, /) -> int:
        """Take bytes."""
        return sys.stdout.buffer.write(data)

    def place(self) -> None:
        """Leave it where it is."""
        sys.stdout.flush()

    def drop(self) -> None:
        """Leave it where it is."""


class FileDraft:
    """A file written under another name in its own folder."""

    def __init__(self, name: str, kind: str) -> None:
        """Begin a file.

        Raises:
            OutputError: it cannot be written there.
        """
        self.kind, self._target = kind, Path(name)
        self.name, self.where = self._target.name, str(self._target)
        with _told(name):
            if self._target.exists() and not self._target.is_file():
                raise OutputError(f"{name!r:.200} is there, and is no file", _HINT)
            handle, draft = tempfile.mkstemp(prefix=f".{self.name}.", dir=self._target.parent)
        self._draft: Path | None = Path(draft)
        self._stream: IO[bytes] = os.fdopen(handle, "wb")

    def write(self, data: bytes, /) -> int:
        """Take bytes.

        Raises:
            OutputError: the disk is full or failing.
        """
        with _told(self.where):
            return self._stream.write(data)

    def place(self) -> None:
        """Put the file in its place.

        Raises:
            OutputError: that cannot be done.
        """
        if self._draft is None:
            return
        with _told(self.where):
            self._stream.close()
            mask = os.umask(0)
            os.umask(mask)
            self._draft.chmod(0o666 & ~mask)
            self._draft.replace(self._target)
        self._draft = None

    def drop(self) -> None:
        """Take the draft away, unless it is in its place."""
        if self._draft is not None:
            with contextlib.suppress(OSError):
                self._stream.close()
            with contextlib.suppress(OSError):
                self._draft.unlink()


@contextlib.contextmanager
def _told(name: str) -> Iterator[None]:
    try:
        yield
    except (OSError, ValueError) as error:
        reason = getattr(error, "strerror", None) or str(error)
        raise OutputError(f"{name!r:.200} cannot be written: {reason}", _HINT) from error


Draft = FileDraft | StdoutDraft


@contextlib.contextmanager
def drafts(names: Sequence[str], kinds: Sequence[str]) -> Iterator[list[Draft]]:
    """Open drafts of files named by their endings; `-` is stdout, in the first of the kinds.

    What was not put in its place when the block ends is taken away.

    Args:
        names: as given with --out.
        kinds: endings that may be.

    Raises:
        UsageError: a name does not say what kind of file it is.
        OutputError: a file cannot be written.
    """
    wanted = [(name, kinds[0] if name == "-" else name.lower().rpartition(".")[2]) for name in names]
    for name, kind in wanted:
        if kind not in kinds:
            endings = ", ".join(f".{one}" for one in kinds[:-1]) + f" or .{kinds[-1]}"
            raise UsageError(f"--out {name[:60]!r} does not say which kind of file", f"End it in {endings}")
    opened: list[Draft] = []
    try:
        for name, kind in wanted:
            opened.append(StdoutDraft(kind) if name == "-" else FileDraft(name, kind))
        yield opened
    finally:
        for draft in opened:
            draft.drop()
