"""The table of verbs. A verb's code is imported when it is called, so that `--help` is quick.

Verbs of other distributions and of `sim` come by the entry point group `kerblight.verbs`: its
name is the verb, its value a `typer.Typer`.
"""

from __future__ import annotations

import importlib
import sys
from collections.abc import Callable
from dataclasses import dataclass
from importlib.metadata import EntryPoint, entry_points, version
from typing import Annotated, Any

import typer
from typer.core import TyperCommand
from typer.main import get_command

from signals.cli.output import FELL_SHORT, complain
from signals.errors import BadInput, Unusable
from signals.health.logs import only_errors

ENTRY_POINTS = "kerblight.verbs"


@dataclass(frozen=True, slots=True)
class Verb:
    """One verb: what it does in a line, and the module whose `app` does it."""

    line: str
    module: str


VERBS = {
    "run": Verb("Everything here: a whole venue, with its window.", "signals.cli.run"),
    "call": Verb("Call a word from a post, and show the answer.", "signals.cli.call"),
    "controller": Verb("The controller alone.", "signals.controller.cli"),
    "monitor": Verb("The conflict monitor alone.", "signals.monitor.cli"),
    "nodes": Verb("Simulated heads, karts and call boxes.", "signals.nodes.cli"),
    "outputs": Verb("Real lamps and contacts, by the wiring table.", "signals.outputs.cli"),
    "broker": Verb("The embedded message broker alone.", "signals.cli.broker"),
    "panel": Verb("The page for tablet, phone and desk.", "signals.panel.cli"),
    "opening": Verb("The check before opening: walk, verdict, records.", "signals.opening.cli"),
    "journal": Verb("List, verify or export the record.", "signals.journal.cli"),
    "venue": Verb("Check and explain a venue file.", "signals.venue.cli"),
    "wiring": Verb("Check the wiring table, print its sheets.", "signals.wiring.cli"),
    "sequence": Verb("Check sequence files, or play one.", "signals.sequence.cli"),
    "conform": Verb("Hold a node of your own to the contract.", "signals.conform.cli"),
    "prove": Verb("Check the rule table: every state, every property.", "signals.proof.cli"),
    "generate": Verb("Write what is made from the code.", "signals.cli.generate"),
    "doctor": Verb("Look at this installation, and say how to mend it.", "signals.doctor.cli"),
}

OTHERS = {
    "budget": "How long, and how far, until karts are slow.",
    "drill": "Practise a situation, and be scored.",
    "rehearse": "Play a sequence in its own time: minutes take seconds.",
    "sightlines": "Where drivers see a head, and where heads should stand.",
    "sim": "The simulated world and its window.",
    "study": "Thousands of sessions over a grid of choices, reported.",
}
"""What verbs by entry point do, where we know."""


class Later(TyperCommand):
    """A verb that is loaded when its arguments are read."""

    def __init__(self, name: str, line: str, load: Callable[[], typer.Typer]) -> None:
        super().__init__(name, help=line, add_help_option=False)
        self._load = load

    def make_context(self, info_name: str | None, args: list[str], parent: Any = None, **extra: Any) -> Any:
        """Load the verb and let it read its arguments."""
        return get_command(self._load()).make_context(info_name, args, parent, **extra)


def _ours(verb: Verb) -> Callable[[], typer.Typer]:
    def load() -> typer.Typer:
        app = importlib.import_module(verb.module).app
        if not isinstance(app, typer.Typer):
            raise TypeError(f"{verb.module}.app is {type(app).__name__}, not a typer.Typer")
        return app

    return load


def _theirs(point: EntryPoint) -> Callable[[], typer.Typer]:
    def load() -> typer.Typer:
        app = point.load()
        if not isinstance(app, typer.Typer):
            raise Unusable(
                f"the verb {point.name} of {point.value} is no typer.Typer; reinstall what ships it"
            )
        return app

    return load


def _show_version(wanted: bool) -> None:  # noqa: FBT001 - typer passes it so
    if wanted:
        typer.echo(f"kerblight {version('kerblight')}")
        raise typer.Exit


app = typer.Typer(no_args_is_help=True, add_completion=False, rich_markup_mode=None)


@app.callback()
def _options(
    *,
    _version: Annotated[
        bool,
        typer.Option("--version", callback=_show_version, is_eager=True, help="Show the version and exit."),
    ] = False,
) -> None:
    """Signals for rental-kart tracks: controller, conflict monitor, simulated equipment.

    Not an emergency stop and not safety-rated: hard-wired stops, flags and radio stay.
    """


def command() -> Any:
    """Build the command with all verbs, ours and by entry point."""
    group: Any = get_command(app)
    for name, verb in VERBS.items():
        group.add_command(Later(name, verb.line, _ours(verb)))
    for point in entry_points(group=ENTRY_POINTS):
        group.add_command(Later(point.name, OTHERS.get(point.name, f"From {point.value}."), _theirs(point)))
    return group


def run(arguments: list[str] | None = None) -> None:
    """Run one command line and exit; bad input is shown in sentences, without a traceback."""
    only_errors()
    try:
        command().main(args=arguments, prog_name="kerblight")
    except BadInput as wrong:
        sys.exit(complain("Cannot use this", [str(finding) for finding in wrong.findings]))
    except Unusable as wrong:
        sys.exit(complain("Cannot go on", [str(wrong)]))
    except BrokenPipeError:
        sys.exit(FELL_SHORT)
