"""`kerblight journal`: list, verify, export, back up and restore the record of a data folder."""

from __future__ import annotations

import csv
import sys
from dataclasses import dataclass
from datetime import UTC, datetime
from enum import StrEnum
from pathlib import Path
from typing import Annotated

import msgspec
import typer

from signals import say
from signals.cli.data import journal_file, locked
from signals.cli.options import DEFAULT_DATA, AsJson, DataDir, NamedVenue, venue_named, wrong
from signals.cli.output import FELL_SHORT, print_json
from signals.errors import Unusable
from signals.journal import backup as copies
from signals.journal import reader
from signals.journal.chain import Entry, Kind
from signals.journal.told import Telling
from signals.venue import load
from signals.venue.model import ChecklistItem, Post, Sector

app = typer.Typer(
    no_args_is_help=True,
    add_completion=False,
    rich_markup_mode=None,
    help="List, verify, export or back up the record.",
)

Since = Annotated[
    str | None,
    typer.Option("--since", metavar="TIME", help="From then on: 2030-06-01T14:30, UTC or with an offset."),
]
OfKind = Annotated[Kind | None, typer.Option("--kind", help="Only entries of this kind.")]


class Format(StrEnum):
    """What `export` writes."""

    JSONL = "jsonl"
    CSV = "csv"


@app.command("list")
def list_(
    *,
    data: DataDir = DEFAULT_DATA,
    since: Since = None,
    kind: OfKind = None,
    venue: NamedVenue = None,
    as_json: AsJson = False,
) -> None:
    """Show the entries, oldest first, a line each.

    They are told in the venue's names; --json gives all that each holds.

    Example: kerblight journal list --kind call --since 2030-06-01T14:30
    """
    path = journal_file(data)
    found = reader.entries(path, since=_ms(since), kind=kind)
    if as_json:
        print_json(list(found))
        return
    names = _names(path, venue)
    telling, width = Telling(names), max([len("Opening check"), *(len(post.name) for post in names.posts)])
    typer.echo(f"{'entry':>7}  {'time, UTC':<23}  {'kind':<6}  {'who':<{width}}  what")
    for entry in found:
        told = telling.told(entry)
        typer.echo(f"{entry.n:>7}  {_clock(entry.at)}  {entry.kind:<6}  {told.who:<{width}}  {told.what}")


@app.command()
def verify(
    *,
    data: DataDir = DEFAULT_DATA,
    expect: Annotated[
        str | None,
        typer.Option("--expect", metavar="HASH", help="A hash noted earlier that must be in the chain."),
    ] = None,
    as_json: AsJson = False,
) -> None:
    """Check that no entry was changed, moved, put in or taken out.

    Exits 1 where one was, and names the first. Note the last hash somewhere else: given later as --expect
    it shows that nothing up to it was rewritten, which the file alone cannot show.

    Examples: kerblight journal verify; kerblight journal verify --data /var/lib/kerblight --expect HASH
    """
    path = journal_file(data)
    findings = reader.verify(path, expect=expect)
    newest = None if findings else reader.last(path)
    if as_json:
        print_json({"whole": not findings, "findings": findings, "last": newest})
    elif findings:
        order = ", the first bad entry first" if len(findings) > 1 else ""
        typer.echo(f"NOT WHOLE: {say.many(len(findings), 'finding')}{order}", err=True)
        for finding in findings:
            typer.echo(str(finding), err=True)
    elif newest:
        typer.echo(f"whole: {newest.n} entries, the last of {_time(newest.at)}, hash {newest.hash}")
    else:
        typer.echo("whole: no entries yet")
    if findings:
        raise typer.Exit(FELL_SHORT)


@app.command()
def watch(
    *,
    data: DataDir = DEFAULT_DATA,
    to_now: Annotated[
        bool, typer.Option("--to-now", help="Stop at the newest entry instead of waiting for more.")
    ] = False,
    as_json: AsJson = False,
) -> None:
    """Follow a record, and tell where a proved property does not hold.

    The venue may run meanwhile. Ends with exit code 1 at the first entry where one does not; else it goes
    on until it is stopped.

    Example: kerblight journal watch --to-now
    """
    from signals.proof.watch import JournalWatch  # noqa: PLC0415 - only this verb needs it

    watching, seen, breaches = JournalWatch(), 0, []
    for entry in reader.follow(journal_file(data), to_now=to_now):
        seen += 1
        if breaches := list(watching.take(entry)):
            break
    if as_json:
        print_json({"held": not breaches, "entries": seen, "breaches": breaches})
    elif not breaches:
        typer.echo(f"all held in {seen} entries")
    for breach in [] if as_json else breaches:
        where = f"entry {breach.n}, {_time(breach.at)}"
        typer.echo(f"{breach.name} does not hold at {where}: {breach.says}", err=True)
    if breaches:
        raise typer.Exit(FELL_SHORT)


@app.command()
def export(
    *,
    data: DataDir = DEFAULT_DATA,
    form: Annotated[
        Format, typer.Option("--format", help="One JSON object a line, or a table.")
    ] = Format.JSONL,
    since: Since = None,
    kind: OfKind = None,
) -> None:
    """Write the entries to stdout, with their hashes.

    Others can check them by those.

    Example: kerblight journal export --format csv --since 2030-06-01 > june.csv
    """
    found = reader.entries(journal_file(data), since=_ms(since), kind=kind)
    if form is Format.JSONL:
        for entry in found:
            typer.echo(msgspec.json.encode(entry, order="sorted").decode())
        return
    table = csv.writer(sys.stdout)
    table.writerow(Entry.__struct_fields__)
    for entry in found:
        fields = msgspec.structs.asdict(entry) | {
            "body": msgspec.json.encode(entry.body, order="sorted").decode()
        }
        table.writerow(fields.values())


@app.command()
def backup(
    into: Annotated[Path, typer.Argument(metavar="FOLDER", help="The copy is a new folder in there.")],
    *,
    data: DataDir = DEFAULT_DATA,
    as_json: AsJson = False,
) -> None:
    """Copy the record and what goes with it, checked.

    The venue may run meanwhile.

    Example: kerblight journal backup /var/backups/kerblight --data /var/lib/kerblight
    """
    target, manifest = copies.backup(data, into, datetime.now(UTC))
    if as_json:
        print_json({"copy": str(target), "manifest": manifest})
    else:
        typer.echo(f"{target}: {_counted(manifest)}, whole")


@app.command()
def restore(
    copy: Annotated[Path, typer.Argument(metavar="COPY", help="A folder that `backup` made.")],
    *,
    data: DataDir = DEFAULT_DATA,
    as_json: AsJson = False,
) -> None:
    """Put a copy back, while nothing runs.

    What lay there is moved aside, and nothing is thrown away.

    Example: kerblight journal restore copies/kerblight-20300601T043000Z --data /var/lib/kerblight
    """
    with locked(data):
        if pids := copies.in_use(data):
            named = ", ".join(map(str, pids))
            raise Unusable(f"{data}: processes {named} use the record; end them, then restore")
        manifest, aside = copies.restore(copy, data, datetime.now(UTC))
    if as_json:
        print_json({"data": str(data), "aside": str(aside) if aside else None, "manifest": manifest})
        return
    typer.echo(f"{data}: {_counted(manifest)} of {manifest.made}, whole")
    if aside:
        typer.echo(f"what lay there: {aside}")


@dataclass(frozen=True, slots=True)
class _Ids:
    """Names nothing: of a venue whose file is not at hand the ids stand."""

    sectors: tuple[Sector, ...] = ()
    posts: tuple[Post, ...] = ()
    checklist: tuple[ChecklistItem, ...] = ()


def _names(path: Path, asked: Path | None) -> say.Names:
    """Give the venue asked for, else the one whose record it is, where that comes along."""
    if asked is not None:
        return load(asked)
    booted = reader.last(path, Kind.BOOT)
    of = str(booted.body.get("venue")) if booted else ""
    known = load(venue_named(of))
    return known if known.id == of else _Ids()


def _counted(manifest: copies.Manifest) -> str:
    return f"{manifest.entries} entries, {len(manifest.files)} files"


def _ms(since: str | None) -> int | None:
    if since is None:
        return None
    try:
        at = datetime.fromisoformat(since)
    except ValueError:
        raise wrong(
            "--since", since, "write a time such as 2030-06-01T14:30 or 2030-06-01T14:30+02:00"
        ) from None
    return round((at if at.tzinfo else at.replace(tzinfo=UTC)).timestamp() * 1000)


def _time(at_ms: int) -> str:
    return f"{_clock(at_ms)} UTC"


def _clock(at_ms: int) -> str:
    at = datetime.fromtimestamp(at_ms / 1000, UTC).replace(tzinfo=None)
    return at.isoformat(sep=" ", timespec="milliseconds")
