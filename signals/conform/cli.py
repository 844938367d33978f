"""`kerblight conform`: say what a head, a kart or a call box gets wrong, sentence by sentence."""

from __future__ import annotations

import asyncio
from pathlib import Path
from typing import Annotated

import msgspec
import typer

from signals.cli.options import (
    DEFAULT_DATA,
    DEFAULT_VENUE,
    Address,
    DataDir,
    VenueFile,
    address,
    wrong,
)
from signals.cli.output import FELL_SHORT, HELD, console
from signals.conform import report
from signals.conform.cases import all_cases
from signals.conform.declared import Declared, checked, read
from signals.conform.run import Order, Outcome, run
from signals.conform.sentences import SENTENCES, Kind
from signals.conform.subject import Subject
from signals.conform.verdict import Result
from signals.errors import Unusable
from signals.venue import load

app = typer.Typer(no_args_is_help=True, add_completion=False, rich_markup_mode=None)


@app.callback()
def _conform() -> None:
    """Hold a node of your own to the contract, sentence by sentence.

    On a bench only: it orders green and full speed, and cuts connections.

    Example: kerblight conform head --id n1 --listen 0.0.0.0:18830 --venue your-track.toml
    """


NodeId = Annotated[
    str, typer.Option("--id", help="The node's id in the venue file, or its head's, kart's or input's.")
]
Broker = Annotated[
    str,
    typer.Option(
        "--broker",
        metavar="URL",
        help="The broker to use.",
        show_default="one of the kit's own, on this machine",
    ),
]
Listen = Annotated[
    str,
    typer.Option(
        "--listen", metavar="HOST:PORT", help="Where the node is to connect to; the kit sits between."
    ),
]
Declaration = Annotated[
    Path | None, typer.Option("--declares", metavar="FILE", help="What the node has: TOML or JSON.")
]
Start = Annotated[
    str, typer.Option("--start-with", metavar="CMD", help="Start the node; {host}, {port} … are filled in.")
]
Restart = Annotated[
    str, typer.Option("--restart-with", metavar="CMD", help="Take its power away and give it back.")
]
Wait = Annotated[float, typer.Option("--wait", metavar="S", help="How long to wait for the node.")]
Only = Annotated[
    list[int] | None, typer.Option("--only", metavar="N", help="Only this case; may be given again.")
]
Json = Annotated[
    Path | None, typer.Option("--json", metavar="FILE", help="Write the result as JSON (- for stdout).")
]
Junit = Annotated[Path | None, typer.Option("--junit", metavar="FILE", help="Write JUnit XML.")]
Report = Annotated[
    Path | None, typer.Option("--report", metavar="FILE", help="Write a report: .html or .md.")
]


def _verb(kind: Kind, about: str) -> None:
    @app.command(name=kind, help=about)
    def conform(
        *,
        node: NodeId,
        broker: Broker = "",
        listen: Listen = "127.0.0.1:0",
        venue: VenueFile = DEFAULT_VENUE,
        declares: Declaration = None,
        start_with: Start = "",
        restart_with: Restart = "",
        data: DataDir = DEFAULT_DATA,
        wait: Wait = 30.0,
        only: Only = None,
        json: Json = None,
        junit: Junit = None,
        report_file: Report = None,
    ) -> None:
        order = Order(
            kind=kind,
            id=node,
            venue=load(venue),
            declared=_declared(declares, start_with, restart_with),
            data=data,
            broker=_broker(broker),
            listen=_listen(listen),
            wait_s=wait,
            only=_only(only),
        )
        outcome = _run(order, quiet=json == Path("-"))
        _write(outcome, json, junit, report_file)
        raise typer.Exit(HELD if outcome.held else FELL_SHORT)


_verb(Kind.HEAD, "Hold a node with a signal head to the contract.")
_verb(Kind.KART, "Hold a kart's limiter to the contract.")
_verb(Kind.POST, "Hold a call box, or another node with contacts, to the contract.")


@app.command()
def cases() -> None:
    """List the cases and the sentences of the contract."""
    out = console()
    for each in all_cases():
        who = ", ".join(sorted(each.who))
        out.print(f"{each.number:>2} {each.title} ({who}): {' '.join(each.sentences)}", markup=False)
    for sentence in SENTENCES.values():
        out.print(f"{sentence.id:>3} a {', '.join(sorted(sentence.who))} node {sentence.text}", markup=False)


def _broker(url: str) -> Address | None:
    """Read `--broker`: the kit sits between node and broker and reads along, so it takes none with TLS."""
    if not url:
        return None
    where = address(url)
    if where.secure:
        right = "a bench's broker without TLS (mqtt://): the kit reads what passes between it and the node"
        raise wrong("--broker", url, right)
    return where


def _declared(path: Path | None, start: str, restart: str) -> Declared:
    declared = read(path) if path else Declared()
    given = {"start": start or declared.start, "restart": restart or declared.restart}
    return checked(msgspec.structs.replace(declared, **given), "command line")


def _listen(where: str) -> tuple[str, int]:
    host, _, port = where.rpartition(":")
    if not host or not port.isdigit():
        raise wrong("--listen", where, "write HOST:PORT, such as 0.0.0.0:18830 for nodes on other machines")
    return host, int(port)


def _only(numbers: list[int] | None) -> frozenset[int]:
    known = {each.number for each in all_cases()}
    if unknown := sorted(set(numbers or ()) - known):
        raise wrong(
            "--only", unknown[0], f"cases are numbered 1 to {max(known)}; see `kerblight conform cases`"
        )
    return frozenset(numbers or ())


def _run(order: Order, *, quiet: bool) -> Outcome:
    out = console(stderr=quiet)

    def tell(result: Result) -> None:
        out.print(report.line(result), markup=False, soft_wrap=True)

    def ready(subject: Subject) -> None:
        if not order.declared.start:
            where = "{host}:{port} as {user} with the password {password}".format_map(subject.places)
            out.print(f"let the node connect to {where}", markup=False, soft_wrap=True)

    outcome = asyncio.run(run(order, tell, ready))
    out.print(report.summary(outcome), markup=False)
    return outcome


def _write(outcome: Outcome, json: Path | None, junit: Path | None, page: Path | None) -> None:
    as_json = msgspec.json.format(msgspec.json.encode(outcome), indent=2).decode() + "\n"
    if json == Path("-"):
        typer.echo(as_json, nl=False)
        json = None
    texts = {json: as_json, junit: report.junit(outcome)}
    try:
        for path, text in texts.items():
            if path:
                path.write_text(text, encoding="utf-8")
        if page:
            report.write(page, outcome)
    except OSError as failed:
        raise Unusable(f"{failed.filename}: {failed.strerror}; give a file that can be written") from None
