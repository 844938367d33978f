"""`kerblight prove`: every reachable state of a small venue, a real one by induction, the table's mutants."""

from __future__ import annotations

import os
from collections import Counter
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Annotated

import typer
from msgspec import to_builtins
from rich.console import Console

from signals.cli.options import DEFAULT_VENUE, AsJson
from signals.cli.output import FELL_SHORT, print_json
from signals.controller.layout import layout_of as layout_of_venue
from signals.core.table import TABLE
from signals.core.table.depth import DEPTH
from signals.errors import Unusable
from signals.proof.asking import CHECKERS
from signals.proof.mutants import Fate, Verdict, redundant, try_all
from signals.proof.pins import KILLED_AT_LEAST
from signals.proof.protocol import explore_protocol
from signals.proof.prove import Proof, Prover, Say, explore_slice
from signals.proof.scopes import SLICES, Size
from signals.proof.solver import Result, induct
from signals.proof.survivors import EXPLAINED
from signals.proof.ways import sequence_of
from signals.venue import load

app = typer.Typer(add_completion=False, rich_markup_mode=None)


@app.command()
def prove(
    *,
    sectors: Annotated[int, typer.Option("--sectors", min=1, max=6, help="Sectors of the small venue.")] = 2,
    karts: Annotated[int, typer.Option("--karts", min=1, max=4, help="Its karts.")] = 2,
    posts: Annotated[int, typer.Option("--posts", min=1, max=3, help="Its posts; the first is a desk.")] = 2,
    venue: Annotated[
        Path | None,
        typer.Option("--venue", metavar="FILE", help="A real venue instead, shown by induction (--with z3)."),
    ] = None,
    with_: Annotated[
        str, typer.Option("--with", metavar="LIST", help="Others to ask too: spin, rumur, z3, with commas.")
    ] = "",
    mutants: Annotated[
        bool, typer.Option("--mutants", help="Make the table wrong in every place; which are noticed?")
    ] = False,
    slices: Annotated[
        bool, typer.Option("--slices", help="Explore the rows added later, in parts that belong together.")
    ] = False,
    nodes: Annotated[
        bool,
        typer.Option(
            "--nodes", help="Explore what a head and a kart do with any messages, late, lost or doubled."
        ),
    ] = False,
    write: Annotated[
        Path, typer.Option("--write", metavar="DIR", help="Where ways to broken properties are written.")
    ] = Path("var/proof"),
    as_json: AsJson = False,
) -> None:
    """Check every reachable state of a venue against every property of the rules.

    Exit code 0: all held; 1: something broke, or the explorers disagree; a broken property comes with
    the shortest list of calls, written as a sequence file for `kerblight run --sequence`.

    Examples: kerblight prove; kerblight prove --with spin,rumur,z3;
    kerblight prove --venue configs/quarry-ring.toml --with z3
    """
    tools = _tools(with_)
    with _saying(quiet=as_json) as say:
        if mutants:
            _mutants(say, as_json=as_json)
        elif slices:
            _slices(say, as_json=as_json)
        elif nodes:
            _nodes(venue or DEFAULT_VENUE, say, as_json=as_json)
        elif venue is not None:
            _venue(venue, tools, say, as_json=as_json)
        else:
            _small(Size(sectors, karts, posts), tools, write, say, as_json=as_json)


def _tools(listed: str) -> tuple[str, ...]:
    tools = tuple(tool.strip() for tool in listed.split(",") if tool.strip())
    unknown = [tool for tool in tools if tool not in CHECKERS]
    if unknown:
        raise Unusable(f"--with takes {', '.join(CHECKERS)}; not {', '.join(unknown)}")
    return tools


@contextmanager
def _saying(*, quiet: bool) -> Iterator[Say]:
    """Show what is being done on a line that goes away."""
    console = Console(stderr=True)
    if quiet or not console.is_terminal:
        yield lambda _: None
        return
    with console.status("…") as status:
        yield status.update


# -- a small venue -------------------------------------------------------------------------------------


def _small(size: Size, tools: tuple[str, ...], folder: Path, say: Say, *, as_json: bool) -> None:
    prover = Prover(size, TABLE, say)
    proof = prover.prove(tools)
    written = _write(prover, proof, folder)
    if as_json:
        print_json({**proof.as_dict(), "sequences": [str(path) for path in written]})
    else:
        _tell(proof, written)
    if not proof.held:
        raise typer.Exit(FELL_SHORT)


def _write(prover: Prover, proof: Proof, folder: Path) -> list[Path]:
    if not proof.ways:
        return []
    written = []
    items = [item.id for item in load(DEFAULT_VENUE).checklist]
    for name, way in proof.ways.items():
        folder.mkdir(parents=True, exist_ok=True)
        path = folder / f"{name.lower()}.toml"
        path.write_text(
            sequence_of(prover.program, way, f"The way to a broken {name}", items), encoding="utf-8"
        )
        written.append(path)
    return written


def _tell(proof: Proof, written: list[Path]) -> None:
    for counted in proof.counted:
        if counted.missing:
            typer.echo(f"  {counted.by}: {counted.missing}")
            continue
        counts = f"{counted.states:,} states" if counted.states else "no states to count"
        if counted.transitions is not None:
            counts += f", {counted.transitions:,} transitions"
        broken = f", {counted.broken} broken" if counted.broken else ""
        typer.echo(f"  {counted.by}: {counts}, {counted.seconds} s{broken}")
    for kind, said in proof.interchangeable.items():
        typer.echo(f"  {kind}: {said}")
    for judged in proof.properties:
        typer.echo(f"  {judged.name:5} {'held' if judged.held else 'BROKEN'}  {judged.says}")
        for number, step in enumerate(judged.way, 1):
            typer.echo(f"        {number}. {step}")
    if not proof.as_pinned:
        typer.echo(f"  THE GRAPH IS NOT THE PINNED ONE, {proof.pinned}: is the table changed on purpose?")
    for path in written:
        typer.echo(f"  look at it: kerblight run --sequence {path}")
    agree = "all explorers agree" if proof.agree else "THE EXPLORERS DISAGREE"
    held = sum(judged.held for judged in proof.properties)
    typer.echo(
        f"{proof.size}: {held} of {len(proof.properties)} properties held in {proof.states:,} states;"
        f" {agree}; {proof.seconds} s; graph {proof.graph}"
    )


# -- a real venue --------------------------------------------------------------------------------------


def _venue(file: Path, tools: tuple[str, ...], say: Say, *, as_json: bool) -> None:
    if tools != ("z3",):
        raise Unusable("a real venue has too many states to be visited one by one; take --with z3")
    layout = layout_of_venue(load(file), now_ms=0)
    result = induct(layout, progress=lambda done, all_: say(f"{done} of {all_} moves"))
    if as_json:
        print_json({"venue": str(file), **result.as_dict()})
    else:
        _tell_induction(file, result)
    if not result.held:
        raise typer.Exit(FELL_SHORT)


def _tell_induction(file: Path, result: Result) -> None:
    for shown in result.properties:
        typer.echo(f"  {shown.name:5} {'held' if shown.held else 'NOT INDUCTIVE'}  {shown.says}")
        for counterexample in shown.counterexamples:
            typer.echo(f"        {counterexample}")
    size = ", ".join(f"{count} {what}" for what, count in result.size.items())
    held = sum(shown.held for shown in result.properties)
    typer.echo(
        f"{file}: {held} of {len(result.properties)} properties inductive ({size}; {result.moves} moves,"
        f" {result.queries} queries, {result.seconds:.1f} s)"
    )


# -- the added rows ------------------------------------------------------------------------------------


def _slices(say: Say, *, as_json: bool) -> None:
    judged = [explore_slice(each, say) for each in SLICES]
    if as_json:
        print_json({"held": all(each.held for each in judged), "slices": judged})
    else:
        for each in judged:
            broken = f"; BROKEN: {', '.join(each.broken)}" if each.broken else ""
            counts = f"{each.states:,} states, {each.transitions:,} transitions, {each.seconds} s"
            typer.echo(f"  {each.name} ({each.size}): {counts}{broken}")
        held = sum(each.held for each in judged)
        typer.echo(f"{held} of {len(judged)} slices hold every property")
    if not all(each.held for each in judged):
        raise typer.Exit(FELL_SHORT)


# -- the node protocol ---------------------------------------------------------------------------------


def _nodes(file: Path, say: Say, *, as_json: bool) -> None:
    say("a head and a kart, with every message they may ever get")
    report = explore_protocol(load(file))
    if as_json:
        print_json({"held": report.held, **to_builtins(report)})
    else:
        broken = {breach.name for breach in report.breaches}
        for name, says in report.properties.items():
            typer.echo(f"  {name:5} {'BROKEN' if name in broken else 'held'}  {says}")
        for breach in report.breaches:
            typer.echo(f"  {breach.name}, {breach.subject}:")
            for number, step in enumerate(breach.way, 1):
                typer.echo(f"        {number}. {step}")
        for node in report.nodes:
            bosses = f"{node.boots} controller{'s' if node.boots > 1 else ''} at once"
            typer.echo(f"  {node.subject}, {bosses}: {node.states:,} states, {node.steps:,} steps")
        typer.echo(
            f"{len(report.properties) - len(broken)} of {len(report.properties)} properties of nodes held"
        )
    if not report.held:
        raise typer.Exit(FELL_SHORT)


# -- mutants -------------------------------------------------------------------------------------------


def _mutants(say: Say, *, as_json: bool) -> None:
    verdicts = try_all(
        workers=os.cpu_count() or 1, progress=lambda done, all_: say(f"{done} of {all_} mutants")
    )
    unexplained = [v for v in verdicts if v.fate is not Fate.KILLED and not explained(v)]
    misprinted = dict(
        set(redundant(verdicts).items()) ^ {(rule, tuple(sorted(n))) for rule, n in DEPTH.items()}
    )
    if as_json:
        print_json({"mutants": len(verdicts), "fates": _fates(verdicts), "verdicts": verdicts,
                    "unexplained": [verdict.mutant for verdict in unexplained],
                    "redundant": redundant(verdicts), "redundant_as_listed": not misprinted})  # fmt: skip
    else:
        for verdict in verdicts:
            if verdict.fate in (Fate.SURVIVED, Fate.UNEXPLORED):
                typer.echo(
                    f"  {verdict.fate}: {verdict.mutant}: {EXPLAINED.get(verdict.mutant, 'UNEXPLAINED')}"
                )
        told = ", ".join(f"{count} {fate}" for fate, count in _fates(verdicts).items())
        for rule in misprinted:
            found = ", ".join(redundant(verdicts).get(rule, ())) or "nothing"
            typer.echo(f"  {rule}: redundant is {found}, NOT WHAT signals/core/table/depth.py LISTS")
        typer.echo(f"{len(verdicts)} mutants: {told}; {len(unexplained)} unexplained")
    too_few = _fates(verdicts)[Fate.KILLED.value] < KILLED_AT_LEAST
    if too_few and not as_json:
        typer.echo(
            f"  FEWER KILLED THAN THE {KILLED_AT_LEAST} THAT ARE PINNED: is a property weaker than it was?"
        )
    if unexplained or misprinted or too_few:
        raise typer.Exit(FELL_SHORT)


def explained(verdict: Verdict) -> bool:
    """Whether a mutant that nothing noticed is no other table, or has its reason on the list."""
    return verdict.fate is Fate.EQUIVALENT or verdict.mutant in EXPLAINED


def _fates(verdicts: list[Verdict]) -> dict[str, int]:
    return {
        fate.value: count for fate, count in sorted(Counter(verdict.fate for verdict in verdicts).items())
    }
