"""`load`: a sequence file, read and checked against its venue; every mistake at once."""

from __future__ import annotations

import tomllib
from collections.abc import Callable, Iterable
from pathlib import Path
from typing import TypeVar

import msgspec
from msgspec import Struct
from msgspec.structs import fields

from signals.core.table import INTERLOCK_NAMES
from signals.errors import BadInput, Finding
from signals.mqtt.contract import Call
from signals.sequence.events import KINDS
from signals.sequence.form import ALL, ALWAYS, FORMS, TIMES, UNTIL, File, StepTable, call_fields, form_of
from signals.venue import lines
from signals.venue.draft import text_of
from signals.venue.model import Venue
from signals.venue.read import BROKEN, listed, nearest, read, shown
from signals.words import Aspect

T = TypeVar("T")
REFUSALS = ("wrong-phase", "unknown-target", "too-many-calls", *INTERLOCK_NAMES)
"""Every name a refusal can carry: what comes before the interlocks, and the interlocks."""
LISTED_MAX = 24
"""Of more names than this a message gives only the nearest."""


class Step(Struct, frozen=True):
    """A checked step: its number and line in the file, its form, and the table itself."""

    number: int
    line: int
    form: str
    table: StepTable


class Sequence(Struct, frozen=True):
    """A checked sequence file."""

    path: Path
    file: File
    steps: tuple[Step, ...]


def load(path: str | Path, venue: Venue) -> Sequence:
    """Load a sequence file for a venue; raises BadInput with every mistake in it at once."""
    draft = Draft(Path(path), text_of(Path(path)))
    file = draft.read(File)
    if file is not BROKEN:
        _check(file, venue, draft)
    if draft.findings:
        raise BadInput(draft.findings)
    steps = (
        Step(number, draft.line(("step", number - 1)), str(form_of(table)), table)
        for number, table in enumerate(file.step, 1)
    )
    return Sequence(Path(path), file, tuple(steps))


def venue_id(path: str | Path) -> str:
    """Give the id of the venue a sequence file is for; raises BadInput where it names none."""
    draft = Draft(Path(path), text_of(Path(path)))
    named = draft.raw.get("start", {})
    named = named.get("venue") if isinstance(named, dict) else None
    if not isinstance(named, str):
        draft.say(("start", "venue"), "", "is missing; it must be the id of a venue")
        raise BadInput(draft.findings)
    return named


class Draft:
    """A TOML file while it is checked: where its keys stand, and what is wrong with it.

    Raises:
        BadInput: it is no TOML at all.

    """

    def __init__(self, path: Path, text: str) -> None:
        self.path = path
        self.findings: list[Finding] = []
        try:
            self.raw = tomllib.loads(text)
        except tomllib.TOMLDecodeError as error:
            raise BadInput([Finding(str(path), 0, "TOML", "", str(error))]) from None
        self.lines = lines.locate(text)

    def read(self, kind: type[T]) -> T:
        """Read the file as a struct; what cannot be used is BROKEN in it."""
        found: T = read(self.raw, kind, (), self.say)
        return found

    def line(self, path: lines.KeyPath) -> int:
        """Give the line of a key, or of the innermost table that lacks it."""
        while path and path not in self.lines:
            path = path[:-1]
        return self.lines.get(path, 0)

    def say(self, path: lines.KeyPath, value: str, right: str) -> None:
        """Report a mistake at a key path; `value` as the file has it ("" where it has none)."""
        self.findings.append(Finding(str(self.path), self.line(path), _spelled(path), value, right))


def _spelled(path: lines.KeyPath) -> str:
    """Spell a key path for people: `step 3 call`; indexes count from 1."""
    return " ".join(str(part + 1) if isinstance(part, int) else part for part in path) or "file"


Say = Callable[[lines.KeyPath, str, str], None]


def _check(file: File, venue: Venue, draft: Draft) -> None:
    if file.start is not BROKEN:
        _check_start(file, venue, draft.say)
    if file.step is BROKEN:
        return
    last_at_s = 0.0
    for index, step in enumerate(file.step):
        if step is BROKEN:
            continue
        path: lines.KeyPath = ("step", index)
        checks = (_check_form, _check_times, _check_expectation)
        for check in checks:
            check(step, path, draft.say)
        _check_cause(step, file.step[:index], path, draft.say)
        _check_names(step, venue, path, draft.say)
        last_at_s = _never_falls(step, last_at_s, path, draft.say)


def _check_start(file: File, venue: Venue, say: Say) -> None:
    start, path = file.start, ("start",)
    if start.venue not in (BROKEN, venue.id):
        right = f'this venue is "{venue.id}" ({venue.path}); give the other by --venue'
        say((*path, "venue"), shown(start.venue), right)
    among(start.post, (post.id for post in venue.posts), (*path, "post"), say)
    for name, values in (("out", start.out), ("group", start.group)):
        for index, value in enumerate(values if values is not BROKEN else ()):
            number = getattr(value, "number", value)
            among(number, (kart.number for kart in venue.karts), (*path, name, index), say)
    if start.phase not in ("closed", BROKEN) and start.group == ():
        say((*path, "group"), "", f"is empty; {start.phase} needs a group")
    if start.out not in ((), BROKEN) and start.phase not in ("racing", BROKEN):
        say((*path, "out"), "", 'karts are let out while racing only; write phase = "racing"')


def _check_form(step: StepTable, path: lines.KeyPath, say: Say) -> None:
    form = form_of(step)
    given = {each.name for each in fields(step) if getattr(step, each.name) is not each.default}
    if form is None:
        say(path, "", f"needs exactly one of {listed(FORMS)}")
        return
    own = FORMS[form] | ALWAYS | {form}
    for name in sorted(given - own):
        right = (
            "a step has exactly one form" if name in FORMS else f"known here: {listed(sorted(FORMS[form]))}"
        )
        say((*path, name), "", f"does not belong to a step with `{form}`; {right}")
    if form == "call" and step.post is None:
        say((*path, "post"), "", "is missing; it must be the post that calls")
    if form == "head" and step.aspect is None:
        say((*path, "aspect"), "", f"is missing; one of {listed(word.value for word in Aspect)}")
    if form == "limit_of" and step.at_most_kmh is None and step.at_least_kmh is None:
        say((*path, "at_most_kmh"), "", "is missing; it must be a number of km/h")


def _check_times(step: StepTable, path: lines.KeyPath, say: Say) -> None:
    when = sorted(name for name in TIMES if getattr(step, name) is not None)
    if len(when) > 1:
        say(path, "", f"has {listed(when).replace(' or ', ' and ')}; at most one says when")
    if step.until not in (None, BROKEN, *UNTIL):
        say(
            (*path, "until"),
            shown(step.until),
            f"must be one of {listed(UNTIL)}{nearest(str(step.until), UNTIL)}",
        )
    if step.longest_s is not None and step.until is None:
        say((*path, "longest_s"), "", "belongs to a step with `until`")


def _never_falls(step: StepTable, last_at_s: float, path: lines.KeyPath, say: Say) -> float:
    if step.at_s is None or step.at_s is BROKEN:
        return last_at_s
    if step.at_s < last_at_s:
        say((*path, "at_s"), shown(step.at_s), f"must not fall: a step before is at {last_at_s:g}")
    return max(last_at_s, step.at_s)


def _check_expectation(step: StepTable, path: lines.KeyPath, say: Say) -> None:
    if step.never and step.for_ms is not None:
        say((*path, "for_ms"), shown(step.for_ms), "does not go with `never`, which lasts all of `within_ms`")
    if step.rules not in (None, BROKEN) and step.answer == "accepted":
        say((*path, "answer"), '"accepted"', "does not go with `rules`, which name what refused")
    for index, rule in enumerate(step.rules or () if step.rules is not BROKEN else ()):
        among(rule, REFUSALS, (*path, "rules", index), say)
    if form_of(step) == "event":
        _check_event(step, path, say)


def _check_cause(step: StepTable, before: tuple[StepTable, ...], path: lines.KeyPath, say: Say) -> None:
    """Report a time since a cause that is none, or that something else measures."""
    if step.since_cause is not True:
        return
    if not any(each is not BROKEN and form_of(each) in ("call", "event") for each in before):
        say((*path, "since_cause"), "true", "needs a step with `call` or `event` before it")
    for name in ("for_ms", "never"):
        if getattr(step, name) is not None:
            say((*path, name), shown(getattr(step, name)), "does not go with `since_cause`")
    if step.of == "commanded":
        say((*path, "of"), '"commanded"', "does not go with `since_cause`, which looks at what is shown")


def _check_event(step: StepTable, path: lines.KeyPath, say: Say) -> None:
    if step.event is BROKEN:
        return
    kind = KINDS.get(str(step.event))
    if kind is None:
        among(step.event, KINDS, (*path, "event"), say)
        return
    have = {name for name in FORMS["event"] if getattr(step, name) is not None}
    for name in sorted(kind.needs - have):
        say((*path, name), "", f"is missing; {step.event} needs it")
    for name in sorted(have - kind.needs - kind.may):
        say((*path, name), "", f"does not belong to {step.event}")


def _check_names(step: StepTable, venue: Venue, path: lines.KeyPath, say: Say) -> None:
    """Names of expectations and events must exist; a call's fields may be wrong on purpose."""
    among(step.post, (post.id for post in venue.posts), (*path, "post"), say)
    form = form_of(step)
    if form == "call":
        _check_call(step, path, say)
        return
    among(step.head, (ALL, *(head.id for head in venue.heads)), (*path, "head"), say)
    karts = tuple(kart.number for kart in venue.karts)
    among(step.kart, karts, (*path, "kart"), say)
    among(step.limit_of, (ALL, *karts), (*path, "limit_of"), say)
    among(step.input, (wired.id for wired in venue.inputs), (*path, "input"), say)
    if form == "condition" or step.event == "debris":
        among(step.where, (sector.id for sector in venue.sectors), (*path, "where"), say)


def _check_call(step: StepTable, path: lines.KeyPath, say: Say) -> None:
    """Let a call name what is not there, but not be what the contract cannot carry."""
    fields = call_fields(step)
    if BROKEN in fields.values():
        return
    try:
        msgspec.convert({"id": "1", **fields}, Call)
    except msgspec.ValidationError as error:
        say((*path, "call"), shown(step.call), f"does not fit the contract: {error}")


def among(value: object, known: Iterable[object], path: lines.KeyPath, say: Say) -> None:
    """Report a value that is none of the known ones; absent and broken ones are let be."""
    names = tuple(known)
    if value is None or value is BROKEN or value in names:
        return
    near = nearest(str(value), map(str, names))
    right = f"must be one of {listed(names)}" if len(names) <= LISTED_MAX else "is not known"
    say(path, shown(value), right + near)
