"""Questions at a terminal: defaults stand in brackets and Enter takes them; what cannot be used is asked again."""

from __future__ import annotations

import sys
from collections.abc import Callable, Sequence
from contextlib import suppress

from records.cli.output import printable, talk, wrapped

Read = Callable[[str], str | None]  # checks an answer: what to keep, None for as typed; raises what is wrong
NONE = "-"
SHOWN = 12  # choices on one screen, so that the question stays in sight


class LeftError(Exception):
    """The questions were left before the end."""


class _AgainError(Exception):
    """The answer was one about the question; ask again without a word."""


def ask(
    question: str,
    default: str | None = None,
    read: Read | None = None,
    *,
    optional: bool = False,
    enter: str = "none",
) -> str:
    """Ask until the answer can be used; the reason is told each time it cannot.

    Args:
        question: what to ask.
        default: what Enter stands for.
        read: checks an answer.
        optional: whether there may be no answer; it then is "".
        enter: what no answer means.

    Raises:
        LeftError: Ctrl-C, or no more input.
    """
    from records.domain.numerals import QuantityError
    from records.errors import RecordsError
    from records.services.closing.entry import unprintable

    hint = f" [{default}]" if default else ""
    if optional:
        hint += f" ({NONE} = {enter})" if default else f" (Enter = {enter})"
    while True:
        answer = _line(printable(f"{question}{hint}: ")).strip() or default or ""
        if bad := unprintable(answer):
            talk(f"  that holds {bad}, which is no letter; type it again")
            continue
        if optional and answer in {"", NONE}:
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
    except (EOFError, KeyboardInterrupt) as error:
        raise LeftError from error
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


def choose(
    question: str,
    options: Sequence[tuple[str, str]],
    default: str | None = None,
    *,
    optional: bool = False,
    enter: str = "none",
    is_open: bool = False,
) -> str:
    """Ask for one of several; a part of its words will do, a number from the list, and `?` lists them.

    Args:
        question: what to ask.
        options: id and words of each.
        default: id that Enter stands for.
        optional: whether there may be none.
        enter: what no answer means.
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

    return ask(question, default, read, optional=optional, enter=enter)


def _list(options: Sequence[tuple[str, str]], listed: list[tuple[str, str]]) -> None:
    """Show numbered choices and remember which number is which."""
    listed[:] = options[:SHOWN]
    for number, (key, words) in enumerate(listed, 1):
        talk(wrapped(f"{key}: {words}", " " * 6, f"  {number:>2}  "))
    if len(options) > SHOWN:
        talk(f"  and {len(options) - SHOWN} more: type a part of what you look for")
    else:
        talk("  type its number" if len(listed) > 1 else "")
