"""Questions at a terminal: defaults stand in brackets and Enter takes them; what cannot be used is asked again."""

from __future__ import annotations

import re
import signal
import sys
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager, suppress
from datetime import datetime
from types import FrameType

from records.cli.output import printable, talk, wrapped

Read = Callable[[str], str | None]  # checks an answer: what to keep, None for as typed; raises what is wrong
NONE = "-"
DAWN = 5  # nobody treats a lawn before; 3:00 is what an evening writes for the afternoon
_CLOCK = re.compile(r"(\d{1,2})(?:[:.]?(\d{2})\s*(?:([ap])\.?m?\.?)?|\s*([ap])\.?m\.?)", re.ASCII)
_MOMENT = re.compile(r"\d{4}-\d{2}-\d{2}[T ]\d{2}:\d{2}", re.ASCII)
SHOWN = 12  # choices on one screen, so that the question stays in sight


class LeftError(Exception):
    """The questions were left before the end."""


class _AgainError(Exception):
    """The answer was one about the question; ask again without a word."""


class _Session:
    """Whether a question waits for its answer, and whether the window is gone or the process was told to end."""

    is_waiting = False
    is_over = False


@contextmanager
def hang_up_leaves() -> Iterator[None]:
    """Take a closed window, or a request to end, for Ctrl-C at the question; nothing else in the block is stopped.

    The block asks and closes: the shell, the system and the end of input tell of a closed window in any order, and the
    entry has to be in the book before the process ends.
    """
    before: dict[int, object] = {}

    def leave(_number: int, _frame: FrameType | None) -> None:
        _Session.is_over = True
        if _Session.is_waiting:
            _Session.is_waiting = False
            raise KeyboardInterrupt

    _Session.is_over = False
    with suppress(ValueError):  # not the main thread: nobody sits at a terminal
        for name in ("SIGHUP", "SIGTERM"):
            if (one := getattr(signal, name, None)) is not None:
                before[one] = signal.signal(one, leave)
    try:
        yield
    finally:
        for one, handler in before.items():
            signal.signal(one, handler)  # type: ignore[arg-type] # what `signal` itself returned


def ask(
    question: str,
    default: str | None = None,
    read: Read | None = None,
    *,
    optional: bool = False,
    enter: str = "none",
    is_firm: bool = False,
) -> str:
    """Ask until the answer can be used; the reason is told each time it cannot.

    Args:
        question: what to ask.
        default: what Enter stands for.
        read: checks an answer.
        optional: whether there may be no answer; it then is "".
        enter: what no answer means.
        is_firm: whether having no answer has to be said, with a dash.

    Raises:
        LeftError: Ctrl-C, or no more input.
    """
    from records.domain.numerals import QuantityError
    from records.errors import RecordsError
    from records.services.closing.entry import unprintable

    hint = f" [{default}]" if default else ""
    if optional:
        hint += f" ({NONE} = {enter})" if default or is_firm else f" (Enter = {enter})"
    while True:
        answer = _line(printable(f"{question}{hint}: ")).strip() or default or ""
        if bad := unprintable(answer):
            talk(f"  that holds {bad}, which is no letter; type it again")
            continue
        if optional and answer in ({NONE} if is_firm else {"", NONE}):
            return ""
        if not answer:
            talk("  an answer is needed here")
            continue
        try:
            return (read(answer) if read is not None else None) or answer
        except (QuantityError, RecordsError, ValueError) as error:
            talk(wrapped(str(error), "  ", "  "))
        except _AgainError:
            continue


def _line(prompt: str) -> str:
    """Return a typed line; the question goes to stderr, so that an answer in JSON stays alone on stdout."""
    try:
        _Session.is_waiting = True
        if _Session.is_over:  # looked at after the mark is set, so that no signal falls between the two
            raise LeftError
        if sys.stdin.isatty() and sys.stdout.isatty():
            with suppress(ImportError):
                import readline  # noqa: F401 - loaded, it lets `input` take arrow keys
            return input(prompt)
        sys.stderr.write(prompt)
        sys.stderr.flush()
        line = sys.stdin.readline()
        if not sys.stdin.isatty():
            talk("")  # nobody pressed Enter where it shows
    except UnicodeDecodeError:
        return "\0"  # no text; asked again
    except (EOFError, KeyboardInterrupt, OSError) as error:  # the last: a terminal that is gone
        raise LeftError from error
    finally:
        _Session.is_waiting = False
    if not line:
        raise LeftError
    return line


def yes(question: str, *, default: bool = False) -> bool:
    """Ask for yes or no; anything else is asked again."""

    def read(answer: str) -> str:
        word = answer.lower()
        if word not in {"y", "yes", "n", "no"}:
            raise ValueError("y or n")
        return word[0]

    return ask(f"{question} y/n", "y" if default else "n", read) == "y"


def moment(text: str, now: datetime) -> str:
    """Return a full local time; `9:10`, `0910`, `2:15 pm` and `4pm` are today.

    Raises:
        ValueError: no time of day.
    """
    clock = _CLOCK.fullmatch(text.strip().lower())
    try:
        if clock is None:
            whole = _MOMENT.match(text.strip())
            return datetime.fromisoformat(text.strip() if whole else "").isoformat(timespec="minutes")
        hour, half = int(clock[1]), clock[3] or clock[4]
        if half:
            hour = hour % 12 + (12 if half == "p" else 0) if 1 <= hour <= 12 else 99
        full = f"{now.replace(hour=hour, minute=int(clock[2] or 0)):%Y-%m-%dT%H:%M}"
    except ValueError as error:
        raise ValueError("write the time like 9:10, 2:15 pm or 4 pm, or with the day: 2026-05-14T09:10") from error
    if not half and len(clock[1]) == 1 and hour < DAWN:
        typed = f"{hour}:{clock[2]}"
        raise ValueError(f"{typed} in the afternoon is {typed} pm; before dawn it is 0{typed}: write which one")
    return full


def choose(
    question: str,
    options: Sequence[tuple[str, str]],
    default: str | None = None,
    *,
    optional: bool = False,
    enter: str = "none",
    is_firm: bool = False,
    is_open: bool = False,
) -> str:
    """Ask for one of several; a part of its words will do, a number from the list, and `?` lists them.

    Args:
        question: what to ask.
        options: id and words of each.
        default: id that Enter stands for.
        optional: whether there may be none.
        enter: what no answer means.
        is_firm: whether having none has to be said, with a dash.
        is_open: whether something that is not listed is taken as it is.
    """
    listed: list[tuple[str, str]] = []

    def read(answer: str) -> str:
        if answer == "?":
            _list(options, listed)
            raise _AgainError
        exact = [option for option in options if option[0] == answer]
        if not exact and answer.isascii() and answer.isdigit() and 0 < int(answer[:6]) <= len(listed):
            exact = [listed[int(answer) - 1]]
        wanted = answer.casefold()
        found = exact or [one for one in options if wanted in f"{one[0]} {one[1]}".casefold()]
        if len(found) > 1:
            _list(found, listed)
            raise _AgainError
        if not found and not is_open:
            raise ValueError("nothing here is called so; type another part of it, or ? for a list")
        talk(wrapped(f"{found[0][0]}: {found[0][1]}", "  ", "  ") if found else "  not loaded; kept under that name")
        return found[0][0] if found else answer

    return ask(question, default, read, optional=optional, enter=enter, is_firm=is_firm)


def _list(options: Sequence[tuple[str, str]], listed: list[tuple[str, str]]) -> None:
    """Show numbered choices and remember which number is which."""
    listed[:] = options[:SHOWN]
    for number, (key, words) in enumerate(listed, 1):
        talk(wrapped(f"{key}: {words}", " " * 6, f"  {number:>2}  "))
    if len(options) > SHOWN:
        talk(f"  and {len(options) - SHOWN} more: type a part of what you look for")
    else:
        talk("  type its number" if len(listed) > 1 else "")
