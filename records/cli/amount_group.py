"""A group of commands that take amounts as plain arguments: one below zero is told as such, not as an option."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING

from typer.core import TyperGroup

from records.errors import UsageError

if TYPE_CHECKING:
    import typer

_BELOW = re.compile(r"-\s*[\d.].*", re.ASCII | re.DOTALL)
_FLAGS = frozenset({"--rinsed", "--not-rinsed", "--total", "--each", "--all"})  # options that take no value


class AmountGroup(TyperGroup):
    """A group that says what is wrong with an amount like `-7 lb`."""

    def parse_args(self, ctx: typer.Context, args: list[str]) -> list[str]:  # type: ignore[override]
        """Refuse an amount below zero where an argument stands; the value of an option is read by its own command."""
        before = ""
        for word in args:
            is_value = before.startswith("--") and before not in _FLAGS and "=" not in before
            if _BELOW.fullmatch(word) and not is_value:
                raise UsageError(f"{word[:40]!r} is less than nothing", "Write an amount without the minus")
            before = word
        return super().parse_args(ctx, args)
