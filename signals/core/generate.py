"""`docs/rules.md` and `docs/states.md`: the rule table for reading, made from the table itself."""

from __future__ import annotations

from collections.abc import Iterable

from signals.core.forms import Interlock, Kind, Rule, Timer
from signals.core.machines import MACHINES, arcs
from signals.core.table import TABLE
from signals.core.table.depth import DEPTH
from signals.say import PHASES
from signals.words import Phase

_TITLES = {
    Kind.PERMISSIVE: "Permissive calls: refused whenever anything forbids them",
    Kind.RESTRICTIVE: "Restrictive calls: accepted whatever else is wrong",
    Kind.FAULT: "Faults: they add holds and end readiness",
    Kind.REPAIR: "Repairs: something is well again, and no hold goes",
    Kind.WORLD: "Karts moving and time passing",
}
_MACHINES = {"phase": "The session", "latch": "The stop latch", "call": "The call on a kart"}


def generated() -> dict[str, str]:
    """Give the generated documents by their path in the repository."""
    return {"docs/rules.md": rules(), "docs/states.md": states()}


def rules() -> str:
    """Write the whole table for reading."""
    parts = [
        "# What the controller decides",
        "Generated from `signals/core/table`; do not edit. Expressions stand as in the table: `s` is a"
        " sector, `p` a holder (a post, or E for the equipment), `k` a kart, `h` a head.",
        "## What is stored",
        _table(("fact", "for each", "starts as", "meaning"), _facts()),
        "Worked out from it:",
        _table(("name", "holds when", "meaning"), _definitions()),
        "## What a head shows",
        "The first row that applies; a red lamp always outranks what stands below it.",
        _table(("shows", "when", "because"), ((f"`{s.aspect}`", _code(s.when), s.says) for s in TABLE.shows)),
        "## What limits a kart",
        "Every row that applies; the least limit wins, and its reason is told.",
        _table(
            ("reason", "limit", "when", "meaning"),
            ((f"`{c.because}`", f"`{c.limit}`", _code(c.when), c.says) for c in TABLE.caps),
        ),
    ]
    for kind, title in _TITLES.items():
        parts += [f"## {title}", *(_rule(rule) for rule in TABLE.rules if rule.kind is kind)]
    parts += ["## Interlocks", _everywhere(), *(_interlock(interlock) for interlock in TABLE.interlocks)]
    parts += ["## What runs on time", _table(("timer", "runs while", "then"), map(_timer, TABLE.timers))]
    return "\n\n".join(parts) + "\n"


def states() -> str:
    """Draw the three machines."""
    parts = [
        "# The three state machines",
        "Generated from the moves of `signals/core/table`; do not edit. Arcs carry the rules that make them;"
        " a move may have a condition, which stands in `rules.md`.",
    ]
    for machine in MACHINES:
        made: dict[tuple[str, str], list[str]] = {}
        for name, trigger, source, to in arcs(TABLE):
            rule = trigger.partition("/")[0]
            if name == machine and source != to and rule not in made.setdefault((source, to), []):
                made[source, to].append(rule)
        lines = [f"    {source} --> {to}: {', '.join(names)}" for (source, to), names in made.items()]
        parts += [f"## {_MACHINES[machine]}", "\n".join(["```mermaid", "stateDiagram-v2", *lines, "```"])]
    return "\n\n".join(parts) + "\n"


def _facts() -> Iterable[tuple[str, ...]]:
    for fact in TABLE.facts:
        yield f"`{fact.name}`", " × ".join(fact.over) or "–", f"`{fact.start}`", fact.says


def _definitions() -> Iterable[tuple[str, ...]]:
    for made in TABLE.definitions:
        index = f"[{', '.join(made.over)}]" if made.over else ""
        yield f"`{made.name}{index}`", _code(made.when), made.says


def _rule(rule: Rule) -> str:
    params = f" ({', '.join(rule.params)})" if rule.params else ""
    lines = [f"### {rule.name}{params}", f"{rule.says[0].upper()}{rule.says[1:]}.", ""]
    if rule.phases:
        lines.append(f"- In: {', '.join(f'{phase} ({PHASES[Phase(phase)]})' for phase in rule.phases)}.")
    if rule.needs:
        lines.append(f"- Refused by: {', '.join(f'`{need}`' for need in rule.needs)}.")
    if rule.name in DEPTH:
        lines.append(f"- Redundant, defence in depth: {', '.join(f'`{need}`' for need in DEPTH[rule.name])}.")
    for move in rule.moves:
        when = "" if move.when == "True" else f", when {_code(move.when)}"
        lines.append(f"- Moves {_code(move.target)} from {' or '.join(move.source)} to {move.to}{when}.")
    lines += [f"- Sets {_code(target)} to {_code(value)}." for target, value in rule.sets.items()]
    return "\n".join(lines).rstrip()


def _everywhere() -> str:
    return (
        "Besides what stands with a rule, every call but stop and caution needs `not-authorised` and"
        " `id-reused`, and every permissive one `journal-fault` and `stale-view`. A call outside its phases"
        " is refused as `wrong-phase`, one that names something the venue lacks as `unknown-target`."
        " All reasons are given at once. A name after a slash tells variants of one interlock apart;"
        " refusals give the part before it. An interlock that is redundant changes nothing of what can be"
        " reached when it alone is taken away: the rule's phases or its other interlocks refuse already."
    )


def _interlock(interlock: Interlock) -> str:
    users = [rule.name for rule in TABLE.rules if interlock.name in rule.needs]
    rows = [(_code(case.when), case.sentence) for case in interlock.cases]
    asked = f" Asked by {', '.join(users)}." if users else ""
    says = f"{interlock.says[0].upper()}{interlock.says[1:]}.{asked}"
    return f"### {interlock.name}\n{says}\n\n{_table(('refuses when', 'sentence'), rows)}"


def _timer(timer: Timer) -> tuple[str, ...]:
    renewed = f" (renewed by {timer.renewed_by})" if timer.renewed_by else ""
    return f"`{timer.name}` ({timer.ms}){renewed}", _code(timer.running), f"`{timer.then}`"


def _table(head: tuple[str, ...], rows: Iterable[tuple[str, ...]]) -> str:
    lines = [f"| {' | '.join(head)} |", f"|{'---|' * len(head)}"]
    lines += [f"| {' | '.join(cell.replace('|', '/') for cell in row)} |" for row in rows]
    return "\n".join(lines)


def _code(text: str) -> str:
    return "always" if text == "True" else f"`{' '.join(text.split())}`"
