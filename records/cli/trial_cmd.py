"""Trials: products side by side on plots of one lawn."""

from __future__ import annotations

import os
from typing import TYPE_CHECKING, Annotated

import typer

from records.cli import completing
from records.cli.days import firm_today
from records.cli.output import pairs, say, say_json, table, talk, wrapped
from records.cli.state import application, state_of

if TYPE_CHECKING:
    from records.bootstrap import Application
    from records.services.trials.showing import TrialResult

HELP = """Try products side by side on plots of one lawn.

Plots get their entry by lot, block by block, from a seed that is kept: the same seed draws the same plan. A visit says
which plot a treatment went on: "plot": "ivy-2026/3".

Example: swathbook trial list
"""
group = typer.Typer(help=HELP, no_args_is_help=True, rich_markup_mode=None)

Out = Annotated[str | None, typer.Option("--out", metavar="FILE", help="The plan (.pdf) or the curve (.svg).")]
Paper = Annotated[str, typer.Option("--paper", metavar="PAPER", help="letter or a4.")]


def register(app: typer.Typer) -> None:
    """Add the group."""
    app.add_typer(group, name="trial")


@group.command("new")
def new(
    context: typer.Context,
    name: Annotated[str, typer.Argument(metavar="NAME", help="Letters, digits and hyphens, such as ivy-2026.")],
    site: Annotated[
        str, typer.Option("--site", metavar="SITE", autocompletion=completing.sites, help="Where it lies.")
    ],
    zone: Annotated[
        str, typer.Option("--zone", metavar="ZONE", autocompletion=completing.zones, help="In which zone of the site.")
    ],
    target: Annotated[
        str, typer.Option("--target", metavar="TARGET", autocompletion=completing.weeds, help="The weed it is about.")
    ],
    entry: Annotated[
        list[str],
        typer.Option("--entry", metavar="[LETTER=]PRODUCT=RATE", help="What is tried, or untreated; give each."),
    ],
    blocks: Annotated[int, typer.Option("--blocks", metavar="N", help="How often each entry is laid out.")] = 3,
    seed: Annotated[int | None, typer.Option("--seed", metavar="N", help="Of the draw; else one is drawn.")] = None,
    layout: Annotated[
        str | None, typer.Option("--layout", metavar="PLACES", help="Places within a block, such as left,right.")
    ] = None,
    by: Annotated[
        str | None,
        typer.Option("--by", metavar="PERSON", autocompletion=completing.people, help="Who planned it, by id."),
    ] = None,
    method: Annotated[
        str, typer.Option("--method", metavar="METHOD", help="How it will be put out; labels are looked at for it.")
    ] = "",
    out: Out = None,
    paper: Paper = "letter",
) -> None:
    """Plan a trial: entries, blocks, plots by lot.

    Side by side is a trial with two entries and --layout left,right. Six blocks or more can show a difference between
    two entries; an untreated entry is the check of counts. What labels say against an entry on that ground is noted;
    the plan is kept all the same.

    Example: swathbook trial new ivy-2026 --site lark-lane-7 --zone front --target 'ground ivy' --entry
    'A=brindle-4l=1 fl oz/1000 sq ft' --entry untreated --blocks 6 --seed 11
    """
    from records.services.trials.planning import TrialOrder, plan_trial
    from records.services.trials.words import about, plan_rows, trial_document

    _has_kind(out)
    run = application(context)
    order = TrialOrder(name, site, zone, target, tuple(entry), blocks, seed, layout, by, method)
    done = plan_trial(run.book(), run.clock, order)
    trial = done.trial
    if out is not None:
        from records.services.trials.showing import show_trial

        with run.book().read() as work:
            found = show_trial(work, trial.name)
        talk(f"written: {_write(run, found, out, paper)}")
        if out == "-":
            return
    if state_of(context).json:
        say_json({"schema": 1, **trial_document(trial), "notes": list(done.notes)})
        return
    say(f"{trial.serial}: trial {trial.name}")
    pairs(about(trial))
    say()
    table(["plot", "block", "entry", "gets"], plan_rows(trial), right=[1], keep=[0, 1, 2])
    say()
    example = next(one for one in trial.plots if not trial.entry_of(one).is_untreated)
    say(wrapped(f'a visit names its plot: "plot": "{trial.name}/{example.name}"', "  "))
    for note in done.notes:
        talk(wrapped(f"note: {note}", "  ", ""))


@group.command("rate")
def rate(
    context: typer.Context,
    name: Annotated[str, typer.Argument(metavar="NAME", autocompletion=completing.trials, help="The trial.")],
    marks: Annotated[
        list[str] | None, typer.Argument(metavar="PLOT=PERCENT...", help="Control of plots, 0 to 100.")
    ] = None,
    count: Annotated[
        list[str] | None, typer.Option("--count", metavar="PLOT=BEFORE:AFTER", help="Plants counted; may repeat.")
    ] = None,
    injury: Annotated[
        list[str] | None, typer.Option("--injury", metavar="PLOT=PERCENT", help="Injury of the turf; may repeat.")
    ] = None,
    at: Annotated[str | None, typer.Option("--on", metavar="DAY|TIME", help="When it was looked at; else now.")] = None,
    by: Annotated[
        str | None,
        typer.Option(
            "--by", metavar="PERSON", autocompletion=completing.people, help="Who rated, by id; else SWATHBOOK_PERSON."
        ),
    ] = None,
    since: Annotated[
        list[str] | None, typer.Option("--since", metavar="WORDS", help="Rain, mowing, watering since; may repeat.")
    ] = None,
    remark: Annotated[str | None, typer.Option("--remark", metavar="WORDS", help="Anything else.")] = None,
) -> None:
    """Rate plots of a trial in one go.

    With counts, control is worked out against the untreated plots of the same block, or against the mean of all that
    were counted: by Henderson and Tilton, or by Abbott where nobody counted before (--count 1=:6).

    Example: swathbook trial rate ivy-2026 1=80 2=10 3=75 --on 2026-06-11 --by mo
    """
    from records.services.trials.rating import Looked, rate_trial

    run = application(context)
    usual = None if by else os.environ.get("SWATHBOOK_PERSON") or None
    who, events = by or usual, tuple(since or ())
    looked = Looked(name, tuple(marks or ()), tuple(count or ()), tuple(injury or ()), at, who, events, remark)
    done = rate_trial(run.book(), run.clock, looked)
    if state_of(context).json:
        from records.services.trials.words import round_document

        told = [f"rated by {done.rater} (SWATHBOOK_PERSON)"] if usual else []
        say_json({"schema": 1, **round_document(done), "notes": [*told, *done.notes]})
        return
    rows = [
        (
            one.serial,
            one.plot,
            one.entry,
            str(one.days),
            "" if one.control is None else f"{float(one.control):.0f} %",
            "; ".join(part for part in (one.way, one.check) if part),
        )
        for one in done.ratings
    ]
    say(wrapped(f"trial {done.trial.name}: {done.trial.target}"))
    table(["", "plot", "entry", "days", "control", "how"], rows, right=[3, 4], keep=range(5))
    for note in [f"rated by {done.rater} (SWATHBOOK_PERSON)"] * bool(usual) + list(done.notes):
        talk(wrapped(f"note: {note}", "  ", ""))


@group.command("show")
def show(
    context: typer.Context,
    name: Annotated[str, typer.Argument(metavar="NAME", autocompletion=completing.trials, help="The trial.")],
    out: Out = None,
    paper: Paper = "letter",
) -> None:
    """Show a trial: plots, ratings, differences.

    Example: swathbook trial show ivy-2026
    """
    from records.services.trials.showing import show_trial
    from records.services.trials.words import result_document

    run = application(context)
    _has_kind(out)
    with run.book().read() as work:
        found = show_trial(work, name)
    if out is not None:
        where = _write(run, found, out, paper)
        if state_of(context).json and out != "-":
            say_json({"schema": 1, "written": where, **result_document(found)})
        else:
            talk(f"written: {where}")
    elif state_of(context).json:
        say_json({"schema": 1, **result_document(found)})
    else:
        _tell(found)


def _has_kind(out: str | None) -> None:
    """Refuse a file whose name does not say what it is to hold, before anything is done."""
    from records.errors import UsageError

    if out is not None and out != "-" and not out.lower().endswith((".pdf", ".svg")):
        raise UsageError(f"--out {out[:60]!r} does not say which kind of file", "End it in .pdf or .svg")


def _write(run: Application, found: TrialResult, out: str, paper: str) -> str:
    from records.cli.state import write_output
    from records.services.directory import Directory
    from records.services.occasions import firm_of
    from records.services.trials.showing import trial_curve
    from records.services.trials.words import page_of

    if out.lower().endswith(".svg"):
        from records.reports.charts import svg

        return write_output(out, svg(trial_curve(found)))
    from records.reports.trial_plan import render_trial

    with run.book().read() as work:
        firm = firm_of(Directory(work.catalogue))[0].name
    return write_output(out, render_trial(page_of(found, firm, firm_today(run)), paper))


def _tell(found: TrialResult) -> None:
    from records.cli.chart_view import show_chart
    from records.services.trials.showing import trial_curve
    from records.services.trials.words import about, mean_row, state_row

    say(f"trial {found.trial.name} ({found.trial.serial})")
    pairs(about(found.trial))
    say()
    table(["plot", "entry", "treated", "control"], [state_row(one) for one in found.plots], keep=[0, 1])
    say()
    table(["entry", "", "mean control"], [mean_row(one) for one in found.entries], keep=[0])
    if any(one.looks for one in found.entries):
        say()
        show_chart(trial_curve(found))
    say()
    for sentence in found.sentences:
        say(wrapped(sentence, "    ", "  = "))
    for caution in found.cautions:
        say(wrapped(caution, "       ", "  note "))


@group.command("list")
def list_trials(context: typer.Context) -> None:
    """List the trials.

    Example: swathbook trial list
    """
    from records.services.trials.plots import plot_states
    from records.services.trials.reading import trials
    from records.services.trials.words import trial_document

    run = application(context)
    with run.book().read() as work:
        found = [(one, plot_states(work, one)) for one in trials(work)]
    if state_of(context).json:
        say_json({"schema": 1, "trials": [trial_document(one) for one, _ in found]})
        return
    if not found:
        say("no trial yet; plan one: swathbook trial new")
        return
    rows = [
        (
            one.name,
            one.serial,
            f"{one.site}, {one.zone}",
            one.target,
            f"{sum(bool(state.treated) for state in states)}/{len(states)}",
            str(sum(len(state.ratings) for state in states)),
        )
        for one, states in found
    ]
    table(["trial", "event", "where", "against", "treated", "ratings"], rows, right=[4, 5], keep=[0, 1])
