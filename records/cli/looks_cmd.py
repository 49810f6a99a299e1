"""Looks that are due, and ratings that were made."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING, Annotated, Any

import typer
from typer.core import TyperCommand

from records.cli import completing
from records.cli.output import command, say, say_json, talk, wrapped
from records.cli.state import application, state_of

if TYPE_CHECKING:
    from datetime import date

    from records.domain.follow_up import Look, Told
    from records.services.follow_up import Rated
    from records.services.follow_up.looking import LookDue


ALL = "all"


class _Looks(TyperCommand):
    """A command whose `--why` may stand alone: it then means all groups."""

    def parse_args(self, ctx: typer.Context, args: list[str]) -> list[str]:  # type: ignore[override]
        """Put `all` behind a `--why` that nothing follows, or only another option."""
        found: list[str] = []
        for place, word in enumerate(args):
            found.append(word)
            if word == "--why" and (place + 1 == len(args) or args[place + 1].startswith("--")):
                found.append(ALL)
        return super().parse_args(ctx, found)


def register(app: typer.Typer) -> None:
    """Add the commands."""
    app.command("looks", cls=_Looks)(looks)
    app.command("ratings")(ratings)


def looks(
    context: typer.Context,
    site: Annotated[
        str | None, typer.Option("--site", metavar="SITE", autocompletion=completing.sites, help="One site only.")
    ] = None,
    days: Annotated[int, typer.Option("--days", metavar="N", min=0, max=365, help="How far ahead.")] = 7,
    on: Annotated[str | None, typer.Option("--on", metavar="DAY", help="As of this day; else today.")] = None,
    why: Annotated[
        str | None,
        typer.Option(
            "--why",
            metavar="GROUP|PRODUCT",
            autocompletion=completing.products,
            help="Show which days are looked at, and why; alone: all.",
        ),
    ] = None,
) -> None:
    """List which treatments to look at again.

    By mode of action of what was put out, and on the day that the record promises; overdue first. One look of each
    treatment is told. A repeat on the same ground against the same weed takes the place of what came before it.

    Example: swathbook looks --days 14
    """
    from zoneinfo import ZoneInfo

    from records.services.directory import Directory
    from records.services.finding import read_day
    from records.services.follow_up.looking import look_document, looks_due
    from records.services.occasions import firm_of, site_of

    if why is not None:
        _tell_why(context, why)
        return
    run = application(context)
    with run.book().read() as work:
        directory = Directory(work.catalogue)
        key = None if site is None else site_of(directory, site)[0].id
        today = run.clock.now().astimezone(ZoneInfo(firm_of(directory)[0].timezone)).date()
        day = read_day(on) or today
        found = looks_due(work, day, days, key)
    if state_of(context).json:
        say_json({"schema": 1, "day": day.isoformat(), "looks": [look_document(one, day) for one in found]})
        return
    _tell_looks(found, day)


def _tell_looks(found: list[LookDue], day: date) -> None:
    from records.services.follow_up.looking import expect_words, look_words, rate_command

    if not found:
        say("nothing is due to be looked at")
        return
    for title, part in (
        ("Overdue", [one for one in found if one.day < day]),
        ("Today", [one for one in found if one.day == day]),
        ("Soon", [one for one in found if one.day > day]),
    ):
        if part:
            say(f"{title} ({len(part)})")
        for one in part:
            say(wrapped(look_words(one), "         ", "  "))
            say(wrapped(expect_words(one, day), "         ", "         "))
            say(command(rate_command(one), "         > "))
    talk(
        wrapped(
            "put the per cent of control behind each =; the days are common practice: swathbook looks --why GROUP",
            "  ",
            "",
        )
    )


def _tell_why(context: typer.Context, text: str) -> None:
    """Tell about every group of the table, about one, or about those of a product."""
    from records.rules.looks import looks as table_of_looks

    known = table_of_looks()
    wanted = " ".join(text.casefold().split())
    if wanted in {"", ALL}:
        _tell_all(context, list(known.values()))
        return
    names = {one.name.casefold(): one.group for one in known.values() if one.group}
    group = names.get(wanted, wanted.removeprefix("group ").strip())
    product: str | None = None
    groups: tuple[str, ...] = (group,)
    if group not in known and not re.fullmatch(r"\d{1,2}", group, re.ASCII):
        product, groups = _groups_of(context, text, list(known.values()))
    found = list(dict.fromkeys(known.get(each, known[""]) for each in groups)) or [known[""]]
    strange = [each for each in groups if each not in known]
    if state_of(context).json:
        several = [_look_document(each) for each in found]
        say_json({"schema": 1, **(several[0] if product is None else {"product": product, "groups": several})})
        return
    if product is not None:
        told = f"group{'' if len(groups) == 1 else 's'} {', '.join(groups)}" if groups else "no group is recorded"
        say(wrapped(f"{product}: {told}", "  ", ""))
    if strange:
        say(wrapped(f"group {', '.join(strange)}: not in the table, so as any other", "  ", ""))
    for each in found:
        _tell_look(each)


def _groups_of(context: typer.Context, text: str, known: list[Look]) -> tuple[str, tuple[str, ...]]:
    """Return a product that was named instead of a group, and the groups of its actives.

    Raises:
        NotFoundError: neither a group nor a product.
    """
    from records.errors import NotFoundError, RecordsError
    from records.services.closing.entry import nearest
    from records.services.directory import Directory

    try:
        with application(context).book().read() as work:
            products = list(Directory(work.catalogue).products())
    except RecordsError:  # groups are told without a book, too
        products = []
    wanted = " ".join(text.casefold().split())
    exact = [one for one in products if wanted in {one.id.casefold(), one.name.casefold()}]
    fits = exact or [one for one in products if wanted in f"{one.id} {one.name}".casefold() and len(wanted) > 2]
    if len(fits) == 1:
        actives = fits[0].actives
        return fits[0].id, tuple(dict.fromkeys(str(one.group) for one in actives if one.group))
    groups = ", ".join(f"{one.group} {one.name}" for one in known if one.group)
    hint = nearest(text, [one.id for one in products] + [one.name for one in known if one.group])
    near = f"D{hint[3:]} " if hint.startswith("; did") else ""
    if fits:
        near = f"It fits {', '.join(one.id for one in fits[:6])}. "
    raise NotFoundError(f"{text[:30]!r} is neither a group of the table nor one product", f"{near}The groups: {groups}")


def _tell_all(context: typer.Context, every: list[Look]) -> None:
    from records.cli.output import table

    if state_of(context).json:
        say_json({"schema": 1, "groups": [_look_document(one) for one in every]})
        return
    rows = [
        [one.group or "-", one.name, ", ".join(map(str, one.days)), one.first.words, one.dead.words] for one in every
    ]
    table(["group", "mode of action", "days", "first signs", "judged"], rows, keep=[0, 2])
    talk(wrapped("days after treatment; how each is known: swathbook looks --why GROUP, or PRODUCT", "  ", ""))


def _facts(look: Look) -> tuple[tuple[str, Told], ...]:
    return ("looked at", look.when), ("first signs", look.first), ("judged", look.dead)


def _look_document(look: Look) -> dict[str, Any]:
    return {
        "group": look.group or None,
        "name": look.name,
        "days": list(look.days),
        **{
            name: {"words": fact.words, "status": fact.status, "source": fact.source, "url": fact.url}
            for name, fact in _facts(look)
        },
    }


def _tell_look(look: Look) -> None:
    known = f"group {look.group}, {look.name}" if look.group else "any other group"
    say(wrapped(f"{known}: looked at {', '.join(map(str, look.days))} days after treatment", "  ", ""))
    for name, fact in _facts(look):
        say(wrapped(f"{name}: {fact.words}", "    ", "  "))
        say(wrapped(_known(fact), "      ", "    "))
        if fact.url:
            say(f"    {fact.url}")


def _known(fact: Told) -> str:
    return f"verified: {fact.source}" if fact.status == "verified" else "from memory, common practice; not checked"


def ratings(
    context: typer.Context,
    record: Annotated[
        str | None, typer.Argument(metavar="[SERIAL]", autocompletion=completing.serials, help="Of one record only.")
    ] = None,
    site: Annotated[
        str | None, typer.Option("--site", metavar="SITE", autocompletion=completing.sites, help="One site only.")
    ] = None,
    target: Annotated[
        str | None,
        typer.Option("--target", metavar="WEED", autocompletion=completing.targets, help="A part of its name."),
    ] = None,
    product: Annotated[
        str | None,
        typer.Option(
            "--product", metavar="PRODUCT", autocompletion=completing.products, help="Id or a part of the name."
        ),
    ] = None,
    person: Annotated[
        str | None, typer.Option("--person", metavar="PERSON", autocompletion=completing.people, help="Who rated.")
    ] = None,
    since: Annotated[str | None, typer.Option("--from", metavar="DAY", help="First day, month or year.")] = None,
    until: Annotated[str | None, typer.Option("--to", metavar="DAY", help="Last day, month or year.")] = None,
) -> None:
    """List how treatments were rated.

    Control from 0 (no effect) to 100 (all dead), days counted from the treatment; injury of the turf apart.

    Example: swathbook ratings --target nutsedge --from 2026-06
    """
    from records.cli.rating_view import tell_ratings
    from records.services.directory import Directory
    from records.services.finding import normal_serial, read_days
    from records.services.follow_up import ratings as read_ratings
    from records.services.follow_up.telling import rated_document
    from records.services.occasions import site_of

    first, last = read_days(since, until)
    with application(context).book().read() as work:
        key = None if site is None else site_of(Directory(work.catalogue), site)[0].id
        found = read_ratings(
            work,
            since=first,
            until=last,
            site=key,
            record=None if record is None else normal_serial(record),
            strays=True,
        )
    found = [one for one in found if _fits(one, target, product, person)]
    if state_of(context).json:
        say_json({"schema": 1, "ratings": [rated_document(one) for one in found]})
        return
    tell_ratings(found)


def _fits(one: Rated, target: str | None, product: str | None, person: str | None) -> bool:
    products = [] if one.treated is None else [f"{line.product} {line.name}" for line in one.treated.used]
    return all(
        wanted is None or any(wanted.casefold() in text.casefold() for text in texts)
        for wanted, texts in (
            (target, [one.rating.target]),
            (product, products),
            (person, [f"{one.rating.person} {one.rating.rater}"]),
        )
    )
