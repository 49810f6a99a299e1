"""A whole book out of its place and back: backups, and lines of JSON that anyone can prove."""

from __future__ import annotations

from typing import TYPE_CHECKING, Annotated, Any, NamedTuple

import typer

from records.cli.import_book import held_by
from records.cli.output import counted, say, say_json, talk, wrapped
from records.cli.state import application, state_of

if TYPE_CHECKING:
    from pathlib import Path

    from records.bootstrap import Application
    from records.services.moving.exporting import Exported


def register(app: typer.Typer) -> None:
    """Add the commands."""
    app.command("backup")(backup)
    app.command("restore")(restore)
    app.command("export")(export)


def export(
    context: typer.Context,
    out: Annotated[str, typer.Option("--out", metavar="FILE|-", help="Where to; without it, stdout.")] = "-",
    replace: Annotated[bool, typer.Option("--replace", help="Take the place of a file of that name.")] = False,
    chain: Annotated[bool, typer.Option("--chain", help="The sealed chain alone; no book can be made of it.")] = False,
) -> int:
    """Write the whole book as lines of JSON.

    Its form is in DEVELOPERS.md; demo/check_chain.py proves it without this tool.

    Example: swathbook export --out season.jsonl
    """
    from pathlib import Path

    from records.storage.backup import export_file

    run = application(context)
    if out == "-":
        done = _to_stdout(run, chain=chain)
    else:
        now = run.clock.now()
        done = export_file(run.book(), Path(out), now, replace=replace, chain=chain)
    extent = done.extent
    if state_of(context).json and out != "-":
        say_json(
            {
                "schema": 1,
                "file": out,
                "size": done.size,
                **extent._asdict(),
                "sha256": done.sha256,
                "broken": done.broken or None,
            }
        )
    else:
        talk(held_by(extent))
        talk(f"last seal {extent.last_seal or 'none'}")
        if out != "-":
            talk(f"wrote {out}")
    if done.broken:
        talk(wrapped(f"the chain of seals is broken at {done.broken}: see swathbook verify"))
    return 1 if done.broken else 0


def _to_stdout(run: Application, *, chain: bool) -> Exported:
    """Write to a file without a name first: whoever reads slowly must not keep others from writing to the book."""
    import shutil
    import sys
    import tempfile

    from records.services.moving.exporting import export_book, export_chain

    with tempfile.TemporaryFile() as stream:
        with run.book().read() as work:
            done = export_chain(work.moving, stream) if chain else export_book(work.moving, stream, run.clock.now())
        stream.seek(0)
        shutil.copyfileobj(stream, sys.stdout.buffer)
        sys.stdout.buffer.flush()
    return done


def backup(
    context: typer.Context,
    file: Annotated[str, typer.Argument(metavar="FILE", help="Where to; a new file.")],
    replace: Annotated[bool, typer.Option("--replace", help="Take the place of a file of that name.")] = False,
) -> int:
    """Copy the book while others write, and prove the copy.

    The copy is a book of its own. A book on a server is written as an export, and read back. What stands under that
    name stays until the new one is proved. Photos of ratings are copied beside it; where some are not there as they
    were sealed, the copy of the book is kept, they are named, and the exit code is 1.

    Example: swathbook backup /media/stick/season.db
    """
    from pathlib import Path

    from records.storage.backup import backup_book

    run = application(context)
    done = backup_book(run.book(), Path(file), run.clock.now(), replace=replace)
    photos = _photos(run, Path(file))
    extent = done.extent
    if state_of(context).json:
        say_json(
            {"schema": 1, "file": file, "kind": done.kind, "size": done.size, **photos.document(), **extent._asdict()}
        )
        return int(bool(photos.lacking))
    what = "a copy of the book" if done.kind == "book" else "an export of the book"
    say(wrapped(f"{file}: {what}, written and proved, {done.size:,} bytes", "    ", first=""))
    say(held_by(extent))
    photos.tell("a backup")
    say(f"last seal {extent.last_seal or 'none'}")
    return int(bool(photos.lacking))


class _Beside(NamedTuple):
    """What became of the photos of ratings, which lie beside a book."""

    sealed: int  # that the ratings of the book name
    there: int  # of those, as they were sealed
    copied: int  # now
    lacking: list[str]  # which are not there, and why

    def document(self) -> dict[str, Any]:
        """Return it as JSON."""
        return {"photos": self.copied, "photos_sealed": self.sealed, "photos_missing": self.lacking}

    def tell(self, what: str) -> None:
        """Say whether all of them are beside what was written."""
        if self.lacking:
            few = f"{self.there:,} of {counted(self.sealed, 'photo')}"
            say(wrapped(f"{what} without all its photos: {few} beside it", "    ", ""))
            for line in self.lacking:
                say(wrapped(line, "      ", "  "))
            say("  what another backup or the phone still holds: copy it there, and do this again")
        elif self.sealed:
            say(f"{counted(self.sealed, 'photo')} {'is' if self.sealed == 1 else 'are'} beside it")


def _photos(run: Application, file: Path, *, is_back: bool = False) -> _Beside:
    """Copy the photos of ratings beside a backup, or from there back beside the book; tell which are not there."""
    from records.errors import RecordsError, UsageError
    from records.services.follow_up.ratings import photos_of
    from records.storage.photos import folder_of

    try:
        with run.book().read() as work:
            photos = photos_of(work)
    except RecordsError as error:  # the book is written, whatever else there is
        return _Beside(0, 0, 0, [f"its photos were not looked at: {error}"])
    beside = folder_of(file)
    try:
        own = run.photos()
    except UsageError as error:  # a book on a server, and no folder of photos is named
        return _Beside(len(photos), 0, 0, [f"none was copied: {error}"] if photos else [])
    source, target = (beside, own) if is_back else (own, beside)
    done = source.copy_to(target)
    lacking = target.lacking(photos, source, done.whole)
    return _Beside(len(photos), len(photos) - len(lacking), done.new, lacking)


def restore(
    context: typer.Context,
    file: Annotated[str, typer.Argument(metavar="FILE", help="What backup or export wrote.")],
    replace_newer: Annotated[
        bool, typer.Option("--replace-newer", help="Give up what the book holds and the backup lacks.")
    ] = False,
) -> int:
    """Put a backup in the place of the book.

    The backup is proved first. The book as it was is kept beside. A book that holds what the backup lacks is not
    replaced unless you say so. Where photos of its ratings are not there, they are named, and the exit code is 1.

    Example: swathbook restore /media/stick/season.db
    """
    from pathlib import Path

    from records.storage.restoring import restore as put_back

    run = application(context)
    done = put_back(Path(file), run.settings.book, replace_newer=replace_newer)
    beyond, kept = done.beyond, done.kept
    photos = _photos(run, Path(file), is_back=True)
    if state_of(context).json:
        say_json(
            {
                "schema": 1,
                "book": str(done.path),
                "file": file,
                **done.extent._asdict(),
                "kept": None if kept is None else str(kept),
                "damaged": done.damaged or None,
                "given_up": None if beyond is None else beyond.lost,
                **photos.document(),
            }
        )
        return int(bool(photos.lacking))
    say(wrapped(f"the book {done.path} is now what {file} holds", "    ", first=""))
    say(held_by(done.extent))
    photos.tell("the book")
    say(f"last seal {done.extent.last_seal or 'none'}")
    if done.damaged:
        say(wrapped(f"the book as it was could not be read ({done.damaged})", "    ", first=""))
    if beyond is not None:
        say(wrapped(f"given up: {beyond}, last seal {beyond.last_seal or 'none'}", "    ", first=""))
    if kept is not None:
        say(wrapped(f"the book as it was is kept as {kept}", "    ", first=""))
    return int(bool(photos.lacking))
