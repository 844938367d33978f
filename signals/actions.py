"""Every call a screen offers: its key, its button, its words, what it needs, whether it asks first.

Calls that widen danger ask first; restrictive ones are a single touch.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from signals.words import HoldKind, Phase, Word

Need = Literal["", "sector", "kart", "hold"]
Column = Literal["Track", "Session", "Kart", ""]
_DRIVING = frozenset({Phase.RACING, Phase.FINISHING})
_ALWAYS = frozenset(Phase)


@dataclass(frozen=True, slots=True, kw_only=True)
class Action:
    """One call. `asks` is the question before it is sent, `line` says what it does, for hover and help.

    `phases` are where it makes sense: elsewhere its button is quiet, yet can be pressed, and the
    controller's refusal says why.
    """

    id: str
    key: str
    word: Word
    label: str
    line: str
    spoken: str = "{label}"
    """How an answer names it; {label}, {sector} and {kart} are filled in."""
    column: Column
    needs: Need = ""
    kind: HoldKind | None = None
    asks: str = ""
    yes: str = ""
    phases: frozenset[Phase] = _ALWAYS


ACTIONS: tuple[Action, ...] = (
    Action(
        id="red",
        key="Space",
        word=Word.STOP,
        label="Red",
        line="Every head red, every kart slowed to the stop limit. At once.",
        column="Track",
        kind=HoldKind.INCIDENT,
    ),
    Action(
        id="yellow",
        key="Y",
        word=Word.CAUTION,
        label="Yellow",
        spoken="Yellow {sector}",
        line="Yellow in the chosen sector; karts there and before it slow down. At once.",
        column="Track",
        needs="sector",
        kind=HoldKind.INCIDENT,
    ),
    Action(
        id="person",
        key="U",
        word=Word.CAUTION,
        label="On foot",
        spoken="Yellow {sector}, person on the track",
        line="Yellow in the chosen sector, karts there creep: somebody is on the track. At once.",
        column="Track",
        needs="sector",
        kind=HoldKind.PERSON_ON_TRACK,
    ),
    Action(
        id="fire",
        key="F2",
        word=Word.STOP,
        label="Fire",
        spoken="Red, fire",
        line="Red for a fire; karts stand, and only a supervisor lifts it. At once.",
        column="Track",
        kind=HoldKind.FIRE,
    ),
    Action(
        id="medical",
        key="F3",
        word=Word.STOP,
        label="Medical",
        spoken="Red, medical",
        line="Red for an injury; karts stand, and only a supervisor lifts it. At once.",
        column="Track",
        kind=HoldKind.MEDICAL,
    ),
    Action(
        id="lift",
        key="L",
        word=Word.LIFT,
        label="Lift",
        line="End one red or yellow once its place was checked. Asks which, then again.",
        column="Track",
        needs="hold",
        asks="{hold}. Has the place been checked, and do all karts that should stand, stand?",
        yes="Checked: lift it",
    ),
    Action(
        id="clear",
        key="C",
        word=Word.CLEAR,
        label="Clear",
        line="After red: the whole track has been checked, back to green. Asks first.",
        column="Track",
        asks="Clear the track? Nobody is on foot, and all of it has been checked.",
        yes="Checked: clear",
    ),
    Action(
        id="take-over",
        key="H",
        word=Word.HAND_OVER,
        label="Take over",
        line="Take over another post's red or yellow. Asks which, then asks again.",
        column="Track",
        needs="hold",
        asks="Take over {hold}? You then answer for it.",
        yes="Take it over",
    ),
    Action(
        id="group-in",
        key="G",
        word=Word.STAGE,
        label="Group in",
        line="Bring in the prepared group; without one, a group of demo drivers.",
        column="Session",
        phases=_ALWAYS,
    ),
    Action(
        id="ready",
        key="A",
        word=Word.ARM,
        label="Ready",
        line="Everything is checked; start may follow within the minute.",
        column="Session",
        phases=frozenset({Phase.STAGING}),
    ),
    Action(
        id="not-ready",
        key="D",
        word=Word.DISARM,
        label="Not ready",
        line="Back from ready to the checklist. At once.",
        column="Session",
        phases=frozenset({Phase.ARMED}),
    ),
    Action(
        id="start",
        key="S",
        word=Word.START,
        label="Start",
        line="Start the session: heads turn green. Asks first.",
        column="Session",
        asks="Start the session? Heads turn green.",
        yes="Start",
        phases=frozenset({Phase.ARMED}),
    ),
    Action(
        id="let-out",
        key="O",
        word=Word.LET_OUT,
        label="Let out",
        spoken="Let out {kart}",
        line="Let the chosen kart leave the pit. Asks first.",
        column="Session",
        needs="kart",
        asks="Let out kart {kart}{driver}? See that the way out is free.",
        yes="Let out",
        phases=frozenset({Phase.RACING}),
    ),
    Action(
        id="chequered",
        key="F",
        word=Word.FINISH,
        label="Chequered",
        line="End the session: every kart slows and comes in. At once.",
        column="Session",
        phases=frozenset({Phase.RACING}),
    ),
    Action(
        id="seen",
        key="V",
        word=Word.ACCOUNT,
        label="Seen in pit",
        spoken="Kart {kart} seen in the pit",
        line="You saw the chosen kart in the pit with your own eyes. Asks first.",
        column="Session",
        needs="kart",
        asks="Did you see kart {kart} in the pit?",
        yes="Seen in the pit",
    ),
    Action(
        id="close",
        key="X",
        word=Word.CLOSE,
        label="Close",
        line="End the session's turn; the track must be empty.",
        column="Session",
        phases=frozenset({Phase.STAGING, Phase.FINISHING}),
    ),
    Action(
        id="blue",
        key="B",
        word=Word.MOVE_OVER_ONE,
        label="Blue",
        spoken="{label} {kart}",
        line="Ask the chosen kart to let a faster one pass; ends by itself.",
        column="Kart",
        needs="kart",
        phases=frozenset({Phase.RACING}),
    ),
    Action(
        id="black",
        key="N",
        word=Word.DISQUALIFY_ONE,
        label="Black",
        spoken="{label} {kart}",
        line="The chosen kart's driver is out: slowed, and called in. At once.",
        column="Kart",
        needs="kart",
        phases=_DRIVING | {Phase.STAGING, Phase.ARMED},
    ),
    Action(
        id="slow",
        key="Z",
        word=Word.SLOW_ONE,
        label="Slow",
        spoken="Slow kart {kart}",
        line="Slow the chosen kart. At once.",
        column="Kart",
        needs="kart",
        phases=_DRIVING,
    ),
    Action(
        id="stop-kart",
        key="T",
        word=Word.STOP_ONE,
        label="Stop",
        spoken="Stop kart {kart}",
        line="Stop the chosen kart; yellow where it is. At once.",
        column="Kart",
        needs="kart",
        phases=_DRIVING,
    ),
    Action(
        id="take-back",
        key="J",
        word=Word.WITHDRAW_ONE,
        label="Take back",
        spoken="Take back for kart {kart}",
        line="Take back blue, slow or stop of the chosen kart. Asks first.",
        column="Kart",
        needs="kart",
        asks="Take back what was called for kart {kart}? Its limit may rise.",
        yes="Take back",
        phases=_DRIVING,
    ),
    Action(
        id="button-reset",
        key="I",
        word=Word.BUTTON_RESET,
        label="Button reset",
        spoken="Button reset of kart {kart}",
        line="You are at the chosen kart and checked it: its button is reset. Asks first.",
        column="Kart",
        needs="kart",
        asks="Is somebody at kart {kart}, and has it been checked?",
        yes="Checked: reset",
    ),
    Action(
        id="requalify",
        key="Q",
        word=Word.REQUALIFY,
        label="Requalify",
        spoken="{label} {kart}",
        line="The chosen kart may be hired again; its driver stays out for the day. Asks first.",
        column="Kart",
        needs="kart",
        asks="End the black flag of kart {kart}?",
        yes="End it",
    ),
    Action(
        id="wet",
        key="W",
        word=Word.WET,
        label="Wet / dry",
        line="Wet: lower limits, at once. Dry again: asks first.",
        column="Kart",
        asks="Is the track dry again? Limits rise.",
        yes="Dry",
    ),
)
MORE: tuple[Action, ...] = (
    Action(
        id="swap",
        key="1",
        word=Word.SWAP,
        label="Swap",
        line="The chosen kart's driver takes another kart, with the calls on him. Asks which.",
        column="",
        phases=frozenset({Phase.STAGING, Phase.RACING}),
    ),
    Action(
        id="join",
        key="2",
        word=Word.JOIN,
        label="Late driver",
        line="A late driver joins the group; the checklist opens again. Asks in which kart.",
        column="",
        phases=frozenset({Phase.STAGING, Phase.RACING}),
    ),
    Action(
        id="out-of-service",
        key="3",
        word=Word.OUT_OF_SERVICE,
        label="Out of service",
        line="A marshal with a flag replaces a head until the day ends. Asks which, and who.",
        column="",
    ),
)
"""Calls without a button: `E` lists them, and these keys choose one there."""
BY_ID = {action.id: action for action in (*ACTIONS, *MORE)}
BY_KEY = {action.key: action for action in ACTIONS}

COLUMNS: tuple[Column, ...] = ("Track", "Session", "Kart")
OTHER_KEYS: tuple[tuple[str, str], ...] = (
    ("1 - 9, 0", "choose a sector by its number"),
    ("Left, right, P", "sector before, after; the pit"),
    ("Up, down", "choose a kart"),
    ("Enter, Esc", "yes, no to a question"),
    ("R", "red, like Space"),
    ("E", "more calls: swap, late driver, head out of service"),
    ("F9", "reset the monitor after a trip"),
    ("+ - or wheel", "nearer, farther; Home: the whole track"),
    ("F5", "follow the chosen kart"),
    ("F6", "drivers' names"),
    ("F7", "write what befell a kart, or only show it"),
    ("F8", "what was seen, oldest last"),
    ("M", "flashing lamps steady, hatched"),
    ("F1 or ?", "this page"),
)
NOT_A_STOP = "Not an emergency stop and not safety-rated: hard-wired stops, flags and radio stay."


def mark_of(word: Word) -> str:
    """Give the letter a call is marked with on the ribbon: its key, R for red."""
    keys = [action.key for action in ACTIONS if action.word is word and len(action.key) == 1]
    further = "E" if any(action.word is word for action in MORE) else "·"
    return "R" if word is Word.STOP else keys[0] if keys else further
