"""The form of a sequence file: every key, unit, bound and default, as structs.

The reader and the JSON Schema follow from this module.
"""

from __future__ import annotations

from typing import Annotated, Any, Literal

import msgspec
from msgspec import Meta, Struct, field

from signals.words import Aspect, Condition, HoldKind, Phase, Verdict, Word

Id = Annotated[
    str, Meta(pattern="^[a-z0-9-]{1,16}$", extra={"right": "1 to 16 of the characters a-z, 0-9 and -"})
]
Target = Annotated[str, Meta(min_length=1, max_length=60)]
Text = Annotated[str, Meta(min_length=1, max_length=200)]
KartNumber = Annotated[int, Meta(ge=1, le=999)]
Kmh = Annotated[float, Meta(ge=0, le=200)]
Ms = Annotated[int, Meta(ge=0, le=3_600_000)]
Seconds = Annotated[float, Meta(ge=0, le=86_400)]
HeadOrAll = Annotated[
    str, Meta(pattern=r"^([a-z0-9-]{1,16}|\*)$", extra={"right": 'a head\'s id, or "*" for every head'})
]
KartOrAll = Annotated[
    KartNumber | Literal["*"], Meta(extra={"right": 'a kart\'s number, or "*" for every kart'})
]

TRACK_EMPTY = "track-empty"
UNTIL = (*(word.value for word in Phase), *(word.value for word in Condition), TRACK_EMPTY)
Until = Annotated[str, Meta(extra_json_schema={"enum": list(UNTIL)})]
ALL = "*"


class Table(Struct, frozen=True, forbid_unknown_fields=True, kw_only=True):
    """The base of all: an unknown key is a mistake."""


class EntryTable(Table, frozen=True, kw_only=True):
    """One member of a group."""

    number: KartNumber
    driver: Annotated[str, Meta(min_length=1, max_length=40)]
    class_: Id = field(name="class")


class StartTable(Table, frozen=True, kw_only=True):
    """How things stand before the first step; the player calls what is needed, from `post`."""

    venue: Annotated[Id, Meta(description="the id of the venue it is written for")]
    seed: Annotated[int, Meta(ge=0, description="of the simulated world")] = 1
    opening_check: Annotated[
        Literal["simulated", "open", "open-restricted", "do-not-open"],
        Meta(description="the verdict to call first; simulated: the one a simulated venue begins with"),
    ] = "simulated"
    group: Annotated[
        tuple[EntryTable, ...], Meta(description="prepared before the first step, where not empty")
    ] = ()
    phase: Annotated[
        Literal["closed", "staging", "ready", "armed", "racing"],
        Meta(description="how far the group is brought; ready: staging with the checklist complete"),
    ] = "closed"
    out: Annotated[
        tuple[KartNumber, ...], Meta(description="karts let out before the first step, in this order")
    ] = ()
    post: Annotated[Id, Meta(description="the post that calls all this")] = "desk"


class StepTable(Table, frozen=True, kw_only=True):
    """One step: when, and exactly one of call, event, head, limit_of, phase, condition."""

    note: Annotated[Text | None, Meta(description="for people")] = None
    optional: Annotated[bool, Meta(description="whether it may be beyond what an installation can do")] = (
        False
    )
    at_s: Annotated[Seconds | None, Meta(description="since the first step; never falls")] = None
    after_ms: Annotated[Ms | None, Meta(description="since the end of the step before; 0 by default")] = None
    until: Annotated[Until | None, Meta(description="wait for a phase, a condition or track-empty")] = None
    longest_s: Annotated[Seconds | None, Meta(description="how long `until` may take; 60 by default")] = None

    call: Annotated[Word | None, Meta(description="a word called from `post`, with its fields")] = None
    post: Id | None = None
    id: Annotated[Text | None, Meta(description="the call's id; made anew by default")] = None
    stale: Annotated[
        bool | None, Meta(description="call as a device that last saw the `state` of the first step")
    ] = None
    answer: Annotated[
        Literal["accepted", "refused"] | None,
        Meta(description="refused by default where `rules` stands, else accepted"),
    ] = None
    rules: Annotated[tuple[Text, ...] | None, Meta(description="exactly the interlocks that refused")] = None
    recorded: Annotated[bool | None, Meta(description="whether the record took the call")] = None

    event: Annotated[Text | None, Meta(description="of the simulated world, the equipment or a process")] = (
        None
    )
    input: Id | None = None

    head: Annotated[HeadOrAll | None, Meta(description="a head expected to show `aspect`")] = None
    aspect: Aspect | None = None
    number: KartNumber | None = None
    of: Annotated[
        Literal["shown", "commanded"] | None,
        Meta(description="what equipment reports (lamps proven where known), or what it was told"),
    ] = None

    limit_of: Annotated[KartOrAll | None, Meta(description="a kart whose limit is expected")] = None
    at_most_kmh: Kmh | None = None
    at_least_kmh: Kmh | None = None

    phase: Annotated[Phase | None, Meta(description="the phase expected")] = None
    condition: Annotated[
        Condition | None, Meta(description="the condition expected in `where`, by default the whole track's")
    ] = None

    within_ms: Annotated[
        Ms | None, Meta(description="when an expectation must come true; 1000 by default")
    ] = None
    for_ms: Annotated[Ms | None, Meta(description="how long it must then stay; how long an event lasts")] = (
        None
    )
    never: Annotated[bool | None, Meta(description="it must stay false throughout `within_ms`")] = None
    since_cause: Annotated[
        bool | None,
        Meta(description="`within_ms`, and the time that is told, count from the last call or event"),
    ] = None

    where: Target | None = None
    kart: KartNumber | None = None
    karts: tuple[KartNumber, ...] | None = None
    entries: tuple[EntryTable, ...] | None = None
    to: Annotated[Target | KartNumber | None, Meta(extra={"right": "a post, or a kart's number"})] = None
    item: Target | None = None
    hold: Target | None = None
    kind: HoldKind | None = None
    partner: Target | None = None
    checked: bool | None = None
    lamp: Target | None = None
    limit_kmh: Kmh | None = None
    verdict: Verdict | None = None
    valid_s: Annotated[Seconds | None, Meta(description="from now: the `until` of a verdict")] = None
    reason: Text | None = None
    by: Text | None = None


class File(Table, frozen=True, kw_only=True):
    """A sequence file."""

    title: Text
    start: StartTable
    step: Annotated[tuple[StepTable, ...], Meta(min_length=1)]


TIMES = frozenset({"at_s", "after_ms", "until"})
ALWAYS = frozenset({"note", "optional", "longest_s"}) | TIMES
CALL_FIELDS = frozenset(
    (
        *("where", "kart", "karts", "entries", "to", "item", "hold", "kind", "partner", "checked"),
        *("head", "aspect", "lamp", "limit_kmh", "verdict", "reason", "by"),
    )
)
"""What a call carries as it stands in the file."""
EVENT_FIELDS = frozenset({"kart", "head", "where", "input", "aspect", "lamp", "for_ms"})
"""What an `inject` message carries as it stands in the file."""
WINDOW = frozenset({"within_ms", "for_ms", "never"})
FORMS: dict[str, frozenset[str]] = {
    "call": CALL_FIELDS | {"post", "id", "stale", "answer", "rules", "recorded", "valid_s"},
    "event": EVENT_FIELDS | {"post", "reason"},
    "head": WINDOW | {"aspect", "number", "of", "since_cause"},
    "limit_of": WINDOW | {"at_most_kmh", "at_least_kmh", "of"},
    "phase": WINDOW,
    "condition": WINDOW | {"where"},
}
"""The forms a step can have, most telling first, and the keys that belong to each."""


def form_of(step: StepTable) -> str | None:
    """Give a step's form; a call's or an event's own `head` is a field of it."""
    return next((form for form in FORMS if getattr(step, form) is not None), None)


def call_fields(step: StepTable) -> dict[str, Any]:
    """Give what a call carries, in the words of the contract."""
    fields = {name: value for name in CALL_FIELDS if (value := getattr(step, name)) is not None}
    if step.entries is not None:
        fields["entries"] = msgspec.to_builtins(step.entries)
    return {"call": step.call, **fields}
