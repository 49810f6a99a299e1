"""Call-backs, and the modes of action that a lawn has seen."""

from __future__ import annotations

from typing import TYPE_CHECKING, Annotated

import typer

from records.cli import completing
from records.cli.output import counted, say, say_json, table, wrapped
from records.cli.state import application, state_of

if TYPE_CHECKING:
    from records.services.follow_up.callback import CallBack, Called
    from records.services.follow_up.group_history import GroupHistory, GroupYear
    from records.services.follow_up.others import Other, Others
    from records.services.follow_up.repeating import Next


def register(app: typer.Typer) -> None:
    """Add the commands."""
    app.command("callback")(callback)
    app.command("groups")(groups)


def callback(
    context: typer.Context,
    of: Annotated[
        str,
        typer.Argument(
            metavar="SERIAL|SITE",
            autocompletion=completing.serials_or_sites,
            help="The record, or a site for its newest failure.",
        ),
    ],
    target: Annotated[
        str | None, typer.Option("--target", metavar="WEED", autocompletion=completing.weeds, help="This weed only.")
    ] = None,
    on: Annotated[
        str | None, typer.Option("--on", metavar="DAY", help="The day a repeat is thought of; today.")
    ] = None,
    want: Annotated[str, typer.Option("--want", metavar="PERCENT", help="Control that is enough.")] = "80",
) -> None:
    """Say what can be done where weeds still stand.

    For the newest treatment below the control wanted, or not rated: the first lawful day of a repeat, what the ceilings
    leave, other products with another mode of action, and what the record says about every usual cause.

    Example: swathbook callback lark-lane-7 --target 'ground ivy'
    """
    from records.domain.follow_up import parse_percent
    from records.domain.numerals import QuantityError
    from records.errors import UsageError
    from records.services.follow_up.callback import call_back
    from records.services.follow_up.callback_words import callback_document

    try:
        enough = parse_percent(want, "--want")
    except QuantityError as error:
        raise UsageError(str(error)) from error
    run = application(context)
    found = call_back(run.book(), run.clock, of, target=target, on=on, want=enough)
    if state_of(context).json:
        say_json(callback_document(found))
    else:
        _tell(found)


def _tell(found: CallBack) -> None:
    from records.services.follow_up.callback_words import NOT_FREE, THE_LABEL, answer_words

    for one in found.called:
        say(wrapped(answer_words(one), "  ", ""))
    promised = f"promised to look again on {found.promised}" if found.promised else "no day to look again is promised"
    days = [one.repeat.day for one in found.called if one.repeat.day is not None]
    if found.promised and days and found.promised < max(days):
        promised += ", when it may be looked at and not all of it be repeated yet"
    say(wrapped(f"{found.address} ({found.site}): {promised}. {NOT_FREE}", "  "))
    if found.note:
        say(wrapped(found.note, "  "))
    for one in found.called:
        _tell_called(one)
    say()
    say(wrapped(THE_LABEL))


def _tell_called(one: Called) -> None:
    from records.services.follow_up.callback_words import expected, results_words, status_words

    treated = one.treated
    say(f"\n{treated.serial}, treatment {treated.index + 1}: {one.days} days ago, on {treated.day}")
    parts = [f"{line.name} {line.rate or line.amount or 'rate not recorded'}" for line in treated.used]
    where = ", ".join(treated.zones)
    by = treated.applicator or "not recorded who"
    say(wrapped(f"{'; '.join(parts)}; {treated.method} on {where}, by {by}", "    ", "  done      "))
    for short in one.shorts:
        mark = "short" if short.is_short and short.rating is not None else "open" if short.is_short else "enough"
        say(wrapped(short.words, "    ", f"  {mark:<10}"))
    if one.injury is not None and one.injury.injury is not None:
        words = f"{float(one.injury.injury):.0f} % of the turf, {one.injury.days} days after"
        say(wrapped(words, "    ", "  injury    "))
    for name, text in results_words(one):
        say(wrapped(f'{name}: "{text}"', "    ", "  label     "))
    for what, told in expected(one.look):
        say(wrapped(f"{what}: {told.words} [{status_words(told)}]", "    ", "  usual     "))
    looks = ", ".join(f"{look.day}{' taken' if look.taken else ''}" for look in one.looks)
    say(wrapped(looks, "    ", "  looks     "))
    say("\n  REPEAT WITH THE SAME")
    _tell_next(one.repeat.lines, one.repeat.asked.isoformat())
    _tell_others(one.others)
    say("\n  WHY IT MAY HAVE FAILED (common check list; what the record says)")
    for cause in one.causes:
        say(wrapped(f"{cause.question} {cause.says.value}", "      ", "    - "))
        for text in cause.evidence:
            say(wrapped(text, "          ", "        "))


def _tell_next(lines: tuple[Next, ...], asked: str) -> None:
    told: dict[str, list[str]] = {}
    for line in lines:
        day = "no lawful day found" if line.day is None else f"from {max(line.day.isoformat(), asked)} on"
        why = f" ({line.why})" if line.why else ""
        one = line.allowance
        rest = (
            []
            if one.applications is None
            else [f"{one.applications_left} of {counted(one.applications, 'application')} left"]
        )
        rest += [f"left {each}" for each in line.left]
        told.setdefault("\n".join([f"{line.product}: {day}{why}", *rest, *_sources(line)]), []).append(line.zone)
    for text, zones in told.items():
        first, *rest = text.split("\n")
        say(wrapped(f"{', '.join(zones)}: {first}", "      ", "    "))
        for more in rest:
            say(wrapped(more, "          ", "        "))


def _sources(line: Next) -> list[str]:
    reasons = list(line.allowance.because)
    return reasons or ([f"[{line.allowance.source}]"] if line.allowance.source else [])


def _tell_others(others: Others) -> None:
    say("\n  OTHER PRODUCTS WITH ANOTHER MODE OF ACTION (labels that allow it here)")
    if not others.found:
        say("    none in the book")
    for one in others.found:
        _tell_other(one)
    if others.same:
        say(wrapped(f"the same group, so no rotation: {'; '.join(others.same)}", "      ", "    "))
    if others.without_group:
        say(wrapped(f"allowed, but the book knows no group of: {', '.join(others.without_group)}", "      ", "    "))


def _tell_other(one: Other) -> None:
    from records.services.follow_up.callback_words import money
    from records.services.follow_up.repeating import left_words

    day = "no lawful day found" if one.day is None else f"from {one.day} on"
    shared = f", shares group {', '.join(one.shared)}" if one.shared else ""
    say(wrapped(f"{one.name} (group {', '.join(one.groups)}{shared}): {day}", "      ", "    > "))
    against = ", ".join(one.targets) or "any weed (it names none)"
    by = f"; here by {', '.join(one.methods)} only" if one.methods else ""
    say(wrapped(f"label: against {against}; {' or '.join(one.rates) or 'no rate printed'}{by}", "        ", "      "))
    tightest = next((line for line in one.lines if line.day == one.day), None)
    if tightest is not None and tightest.why:
        say(wrapped(f"{tightest.zone}: {tightest.why}", "        ", "      "))
    room = tightest.allowance.room if tightest is not None else None
    if room is not None:
        say(wrapped(f"left {left_words(room.ceiling)}", "        ", "      "))
    if one.own:
        say(wrapped(one.own, "        ", "      "))
    for text in one.cautions:
        say(wrapped(f"caution: {text}", "        ", "      "))
    last = "; ".join(filter(None, (money(one), one.on_hand)))
    say(wrapped(f"{last or 'never bought with a price'} [{one.source}]", "        ", "      "))


def groups(
    context: typer.Context,
    site: Annotated[
        str, typer.Argument(metavar="SITE", autocompletion=completing.sites, help="Site id, or part of the address.")
    ],
    zone: Annotated[
        str | None, typer.Option("--zone", metavar="ZONE", autocompletion=completing.zones, help="This zone only.")
    ] = None,
) -> None:
    """Show the modes of action each zone has seen.

    By year: groups, products, how often, against what, and the control of the last rating, of one before the ground was
    treated against it again where there is one. The same group three times in a row is worth a caution; two products of
    one group are no rotation.

    Example: swathbook groups lark-lane-7
    """
    from dataclasses import replace

    from records.services.follow_up.group_history import history_document
    from records.services.follow_up.histories import groups_of_site

    found = groups_of_site(application(context).book(), site, zone)
    if zone is not None:
        found = replace(
            found,
            years=tuple(one for one in found.years if one.zone == zone),
            cautions=tuple(one for one in found.cautions if one.zone == zone),
        )
    if state_of(context).json:
        say_json({"schema": 1, **history_document(found)})
    else:
        _tell_groups(found)


def _tell_groups(found: GroupHistory) -> None:
    from records.rules.rotation import NOT_ROTATION, SOURCE, WHY

    if not found.years:
        say(f"{found.site}: no weed killer is recorded here")
        return
    for caution in found.cautions:
        mark = "before" if caution.is_over else "caution"
        say(wrapped(f"{caution.words} ({', '.join(caution.serials)}) [{SOURCE}]", "         ", f"{mark:<9}"))
    if not any(not caution.is_over for caution in found.cautions):
        say(wrapped(f"{found.site}: now, up to the last visit, no group stands at three times in a row", "  "))
    for zone in dict.fromkeys(one.zone for one in found.years):
        say(f"\n{zone}")
        rows = [
            [
                str(one.year),
                one.group or "-",
                ", ".join(one.products),
                str(len(one.serials)),
                _reached(one),
            ]
            for one in found.years
            if one.zone == zone
        ]
        table(["year", "group", "products", "times", "against, control reached"], rows, right=[3], keep=[0, 1, 3])
    say()
    say(wrapped(f"{NOT_ROTATION}. {WHY}"))


def _reached(one: GroupYear) -> str:
    told = []
    for target, ratings in one.targets.items():
        values = [
            f"{float(each.control):.0f} % at {each.days} days{f', after {each.after} was put on' if each.after else ''}"
            for each in ratings
            if each.control is not None
        ]
        told.append(f"{target} ({', '.join(values) or 'not rated'})")
    return "; ".join(told) or "no target recorded"
