"""The forms the rule table is written in: facts, definitions, interlocks, rules, outputs, timers.

They hold text; `signals.core.ground` checks and compiles it for a venue, the documentation prints
it, explorers and exporters translate it. Nothing here decides.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from enum import StrEnum


class Kind(StrEnum):
    """What a rule may do.

    A permissive call may widen what is allowed and is refused whenever anything forbids it; a
    restrictive one only narrows and is accepted whatever else is wrong. Of what equipment does, a
    fault narrows, a repair narrows nothing and widens nothing by itself, and world is the karts' own
    motion and time passing.
    """

    PERMISSIVE = "permissive"
    RESTRICTIVE = "restrictive"
    FAULT = "fault"
    REPAIR = "repair"
    WORLD = "world"


@dataclass(frozen=True, slots=True)
class Fact:
    """A stored value for every index of `over`. `on_restart` gives its value after a restart ("" keeps it).

    `observed` facts only mirror what equipment reports; an explorer may treat them as free inputs.
    """

    name: str
    over: tuple[str, ...]
    domain: str
    start: str
    says: str
    on_restart: str = ""
    observed: bool = False


@dataclass(frozen=True, slots=True)
class Definition:
    """A condition worked out from the facts, named so that rules can share it."""

    name: str
    over: Mapping[str, str]
    when: str
    says: str


@dataclass(frozen=True, slots=True)
class Case:
    """One way an interlock refuses: for every witness that makes `when` true, one sentence.

    `note` names the hold whose since and reason fill {since} and {reason}: ("stop", "p") or
    ("caution", "s", "p"), in terms of the witness and the parameters.
    """

    when: str
    sentence: str
    witness: Mapping[str, str] = field(default_factory=dict)
    note: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Interlock:
    """A named rule that refuses, in one or more cases."""

    name: str
    says: str
    cases: tuple[Case, ...]


@dataclass(frozen=True, slots=True)
class Move:
    """A constant move of a machine: `target` from one of `source` to `to`, where `when` holds."""

    target: str
    source: tuple[str, ...]
    to: str
    when: str = "True"


@dataclass(frozen=True, slots=True)
class Rule:
    """What a word does. `params` are its parameters with their sorts; `phases` () means any.

    `needs` are the interlocks that may refuse it; `sets` assign facts, all reading the OLD state;
    `added` marks rules beyond the ones whose smaller table was explored before.
    """

    name: str
    word: str
    kind: Kind
    says: str
    params: Mapping[str, str] = field(default_factory=dict)
    phases: tuple[str, ...] = ()
    needs: tuple[str, ...] = ()
    moves: tuple[Move, ...] = ()
    sets: Mapping[str, str] = field(default_factory=dict)
    added: bool = False


@dataclass(frozen=True, slots=True)
class Shows:
    """One case of what a head shows; the first that matches wins. `aspect` may be an expression."""

    aspect: str
    when: str
    says: str


@dataclass(frozen=True, slots=True)
class Cap:
    """One cap on a kart's limit: its reason, the limit's name, and when it applies. The least wins."""

    because: str
    limit: str
    when: str
    says: str


@dataclass(frozen=True, slots=True)
class Timer:
    """Runs while `running` holds; after `ms` (a time of the layout) it raises `then` with its index.

    A word in `renewed_by` that names the same index starts it anew.
    """

    name: str
    over: Mapping[str, str]
    running: str
    ms: str
    then: str
    renewed_by: str = ""


@dataclass(frozen=True, slots=True)
class Table:
    """The whole of what the controller decides."""

    facts: tuple[Fact, ...]
    definitions: tuple[Definition, ...]
    interlocks: tuple[Interlock, ...]
    rules: tuple[Rule, ...]
    shows: tuple[Shows, ...]
    caps: tuple[Cap, ...]
    timers: tuple[Timer, ...]
