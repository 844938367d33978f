"""The form of a drill file: every key, unit, bound and default, as structs.

The reader and the JSON Schema follow from this module. A drill says what happens (drawn anew for
each seed), what a good marshal does about it, and what counts as wrong.
"""

from __future__ import annotations

from typing import Annotated, Literal

from msgspec import Meta, field

from signals.sequence.form import Id, KartNumber, Seconds, Table, Target, Text
from signals.words import Aspect, HoldKind, Phase, Word

Sentence = Annotated[str, Meta(min_length=1, max_length=400)]
Range = Annotated[
    tuple[Seconds, ...],
    Meta(
        min_length=2,
        max_length=2,
        description="[least, most] seconds; drawn between",
        extra={"right": "[least, most] in seconds"},
    ),
]
Name = Annotated[
    str,
    Meta(
        pattern="^\\$?[a-z0-9-]{1,16}$",
        extra={"right": 'an id, or "$" and the name of a [draw] of this file'},
    ),
]
Ids = Annotated[tuple[Id, ...], Meta(min_length=1)]
Words = Annotated[tuple[Word, ...], Meta(min_length=1)]
Kinds = Annotated[tuple[HoldKind, ...], Meta(min_length=1)]
Count = Annotated[int, Meta(ge=0, le=12)]
Marks = Annotated[int, Meta(ge=1, le=100)]
About = Literal["time-up", "free", "swap", "look", "relieved"]
Topic = Literal["incident", "kart", "person", "session", "equipment", "watch"]
Slip = Literal[
    "nothing",
    "waits",
    "mirrored",
    "next-sector",
    "wrong-kart",
    "walks-first",
    "lifts-early",
    "holds-on",
    "too-much",
    "too-little",
    "skips",
    "jumps-at",
    "hurries",
    "blue-in-yellow",
]


class StartTable(Table, frozen=True, kw_only=True):
    """How things stand when the drill begins."""

    venue: Annotated[Id, Meta(description="the id of the venue it is written for")]
    phase: Annotated[
        Literal["closed", "staging", "ready", "armed", "racing"],
        Meta(description="how far the group is brought; ready: staging with the checklist complete"),
    ] = "racing"
    karts: Annotated[
        int, Meta(ge=1, le=12, description="how many karts the group has; which ones is drawn")
    ] = 6
    out: Annotated[
        Count | None,
        Meta(description="how many of them drive already, spread around the track; all by default"),
    ] = None
    gap: Annotated[
        bool,
        Meta(description="whether the gap between karts let out counts in this drill; else it is a blink"),
    ] = False


class DrawTable(Table, frozen=True, kw_only=True):
    """Something that differs from seed to seed: exactly one of these lists."""

    sectors: Ids | None = None
    heads: Ids | None = None
    words: Ids | None = None
    karts: Annotated[
        Literal["group", "out", "in"] | None,
        Meta(description="a kart of the group; one that drives from the start; one that waits in the pit"),
    ] = None


class EventTable(Table, frozen=True, kw_only=True):
    """Something that happens."""

    id: Id
    event: Annotated[
        Text,
        Meta(description="of the world or the equipment; or radio, colleague, device-dead, device-back"),
    ]
    at_s: Annotated[Range, Meta(description="when; since the start, or since `after`")]
    after: Annotated[Id | None, Meta(description="another event: counted from when it happened")] = None
    over: Annotated[bool, Meta(description="counted from when that event was over")] = False
    where: Annotated[
        Name | None,
        Meta(description="a sector; an event of a kart befalls whoever drives there first from then on"),
    ] = None
    kart: Annotated[
        KartNumber | Name | None,
        Meta(
            description='a number, "$" and a [draw] of karts, or the id of an event that befell one',
            extra={"right": 'a kart\'s number, "$" and a [draw] of karts, or the id of an event'},
        ),
    ] = None
    head: Name | None = None
    input: Name | None = None
    aspect: Aspect | None = None
    for_s: Annotated[Range | None, Meta(description="how long it lasts")] = None
    says: Annotated[
        Sentence | None,
        Meta(description="what is heard on the radio, shown as text; {kart} and {where} are filled in"),
    ] = None
    about: Annotated[About | None, Meta(description="what the radio is about, for model answers")] = None
    post: Annotated[Id | None, Meta(description="the colleague who calls")] = None
    call: Annotated[Word | None, Meta(description="what the colleague calls")] = None
    kind: HoldKind | None = None
    sign: Annotated[
        bool, Meta(description="whether it is something to see and to answer; a look-alike is none")
    ] = True


class DutyTable(Table, frozen=True, kw_only=True):
    """Something a good marshal does: exactly one of call, box, free and phase."""

    id: Id
    of: Annotated[Id | None, Meta(description="the event it answers; place and kart are that event's")] = None
    call: Annotated[Words | None, Meta(description="right words, best first")] = None
    kinds: Annotated[Kinds | None, Meta(description="kinds of hold that are right")] = None
    box: Annotated[Ids | None, Meta(description="call boxes one of which is to be pressed: inputs")] = None
    free: Annotated[
        Literal["there", "track"] | None,
        Meta(description="no red or yellow stands any more: where it happened, or anywhere"),
    ] = None
    phase: Annotated[Phase | None, Meta(description="the session gets there")] = None
    where: Annotated[Name | None, Meta(description="the place, where it is not the event's")] = None
    kart: Annotated[KartNumber | Name | None, Meta(description="the kart, where it is not the event's")] = (
        None
    )
    item: Annotated[Target | None, Meta(description="of the checklist")] = None
    times: Annotated[int, Meta(ge=1, le=12, description="how often")] = 1
    within_s: Annotated[
        Seconds | None,
        Meta(description="since it could be seen, or done; 3 by default, 2 for red, 15 to free"),
    ] = None
    after: Annotated[tuple[Id, ...], Meta(description="duties that come first")] = ()
    once: Annotated[
        tuple[Id, ...],
        Meta(description="events that must be over first: sooner is premature; counted from then"),
    ] = ()
    not_before: Annotated[
        tuple[Id, ...] | None,
        Meta(description="those of `once` that make it premature; all of them by default"),
    ] = None
    marks: Marks = 30
    why: Sentence


class NeverTable(Table, frozen=True, kw_only=True):
    """A call that is wrong here, and costs."""

    call: Word
    of: Annotated[Id | None, Meta(description="while this event lasts; all the time by default")] = None
    kart: Annotated[
        Literal["its", "other"] | None, Meta(description="only for the event's kart, or only for others")
    ] = None
    where: Annotated[
        Literal["there", "elsewhere"] | None,
        Meta(description="only in the event's sector, or only elsewhere"),
    ] = None
    costs: Marks = 20
    why: Sentence


class MistakeTable(Table, frozen=True, kw_only=True):
    """A typical mistake: shown to trainees, and played in tests, which hold that it loses what it should."""

    slip: Slip
    by_s: Annotated[Seconds | None, Meta(description="how late, how early, how long")] = None
    about: Annotated[
        Id | None, Meta(description="the event, the step or the checklist's item that is left out")
    ] = None
    says: Sentence
    loses: Annotated[
        tuple[Text, ...], Meta(min_length=1, description="the lines of the score that it must cost")
    ]


class File(Table, frozen=True, kw_only=True):
    """A drill file."""

    title: Text
    topic: Topic
    level: Annotated[int, Meta(ge=1, le=3, description="1 for the first days, 3 for the hard ones")]
    trains: Annotated[Sentence, Meta(description="what it trains, in a sentence")]
    briefing: Annotated[Sentence, Meta(description="what the trainee is told before; not what will happen")]
    lasts_s: Annotated[Seconds, Meta(description="the drill ends by then")]
    seats: Annotated[
        tuple[Id, ...], Meta(min_length=1, description="posts it can be practised from; the first by default")
    ]
    good: Annotated[
        tuple[Sentence, ...], Meta(min_length=1, description="what a good marshal does, told afterwards")
    ]
    start: StartTable
    draw: Annotated[dict[Id, DrawTable], Meta(description="what differs from seed to seed, by name")] = field(
        default_factory=dict
    )
    event: Annotated[tuple[EventTable, ...], Meta(min_length=1)]
    duty: Annotated[tuple[DutyTable, ...], Meta(min_length=1)]
    never: tuple[NeverTable, ...] = ()
    mistake: Annotated[tuple[MistakeTable, ...], Meta(min_length=3)]


STEPS = ("person", "alarm", "box", "black", "swap", "finish", "let-out", "clear", "button")
"""What a marshal does that somebody may leave out, beside answering an event."""
RADIO, COLLEAGUE, DEVICE_DEAD, DEVICE_BACK = "radio", "colleague", "device-dead", "device-back"
OF_THE_DRILL = (RADIO, COLLEAGUE, DEVICE_DEAD, DEVICE_BACK)
"""Events that neither the world nor the equipment knows: words, others' calls, the trainee's own device."""
DUTY_FORMS = ("call", "box", "free", "phase")
DRAW_FORMS = ("sectors", "heads", "words", "karts")
