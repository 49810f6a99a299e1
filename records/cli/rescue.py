"""The last net under typed answers: where the book cannot take them, they go into a file."""

from __future__ import annotations

import json
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from pathlib import Path
from typing import TYPE_CHECKING

from records.cli.output import talk
from records.cli.state import write_output
from records.errors import RecordsError, SignatureError

if TYPE_CHECKING:
    from records.services.ports import Json

MOST = 100  # files of that name in one folder


@contextmanager
def kept_in_a_file(document: Json, command: str) -> Iterator[None]:
    """Write what was typed to a file in the present folder when closing it fails; the error goes on its way.

    Args:
        document: the answers.
        command: what closes the file later.
    """
    try:
        yield
    except SignatureError:  # the entry is held by now
        raise
    except (Exception, KeyboardInterrupt):
        tell_kept(document, command)
        raise


def tell_kept(document: Json, command: str) -> None:
    """Write what was typed to a file and say so."""
    with suppress(OSError):  # the window may be gone
        talk(_kept(document, command))


def _kept(document: Json, command: str) -> str:
    """Return where the answers went: a file of a new name, else the screen."""
    text = json.dumps(document, ensure_ascii=False, indent=1)
    names = (f"typed-visit{f'-{number}' if number else ''}.json" for number in range(MOST))
    with suppress(RecordsError, OSError):
        name = next((one for one in names if not Path(one).exists()), "")
        if name:
            write_output(name, f"{text}\n".encode())
            return f"What was typed is not lost, it is in {name}. Later: swathbook {command} {name}"
    return f"What was typed, to close it later:\n{text}"
