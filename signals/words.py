"""The words of the product: every name that goes over the wire or into a file.

One place for the vocabulary that the core, the contract, the venue file and the screens share.
A word's value is what is written on the wire; its order inside an enum is meant where a
docstring says so.
"""

from __future__ import annotations

from enum import StrEnum


class Phase(StrEnum):
    """Where a session stands."""

    CLOSED = "closed"
    TEST = "test"
    STAGING = "staging"
    ARMED = "armed"
    RACING = "racing"
    FINISHING = "finishing"


class Condition(StrEnum):
    """What a sector (or, as the worst of its sectors, the track) asks of drivers; worst first."""

    STOP = "stop"
    CAUTION = "caution"
    FINISH = "finish"
    CLEAR = "clear"


class Aspect(StrEnum):
    """What a head shows, most restrictive first."""

    RED = "red"
    YELLOW_FLASH = "yellow-flash"
    YELLOW = "yellow"
    RED_YELLOW = "red-yellow"
    NUMBER = "number"
    BLUE_FLASH = "blue-flash"
    DARK = "dark"
    GREEN = "green"


class HeadRole(StrEnum):
    """What a head is there for; its fail aspect follows from it."""

    TRACK = "track"
    START = "start"
    FINISH = "finish"
    PIT_EXIT = "pit-exit"


class HoldKind(StrEnum):
    """Why a hold stands.

    Stops take incident, fire, medical, equipment; cautions incident, person-on-track, equipment.
    """

    INCIDENT = "incident"
    FIRE = "fire"
    MEDICAL = "medical"
    PERSON_ON_TRACK = "person-on-track"
    EQUIPMENT = "equipment"


class Word(StrEnum):
    """What a person can call."""

    PREPARE = "prepare"
    LEND = "lend"
    GIVE_BACK = "give-back"
    SHOW = "show"
    ALLOW = "allow"
    VERDICT = "verdict"
    WET = "wet"
    DRY = "dry"
    STAGE = "stage"
    CONFIRM = "confirm"
    ARM = "arm"
    DISARM = "disarm"
    START = "start"
    LET_OUT = "let-out"
    SWAP = "swap"
    JOIN = "join"
    FINISH = "finish"
    CLOSE = "close"
    STOP = "stop"
    CAUTION = "caution"
    LIFT = "lift"
    CLEAR = "clear"
    MOVE_OVER_ONE = "move-over-one"
    WITHDRAW_ONE = "withdraw-one"
    SLOW_ONE = "slow-one"
    STOP_ONE = "stop-one"
    DISQUALIFY_ONE = "disqualify-one"
    REQUALIFY = "requalify"
    ACCOUNT = "account"
    BUTTON_RESET = "button-reset"
    OUT_OF_SERVICE = "out-of-service"
    HAND_OVER = "hand-over"


class Because(StrEnum):
    """The cap that won: why a kart's limit is what it is (`kart/<n>/limit`, field `because`)."""

    CLASS = "class"
    PIT_LANE = "pit-lane"
    NOT_LET_OUT = "not-let-out"
    SESSION_NOT_OPEN = "session-not-open"
    TEST = "test"
    SET_ASIDE = "set-aside"
    FINISH = "finish"
    RETURN = "return"
    STOP = "stop"
    FIRE_OR_MEDICAL = "fire-or-medical"
    RECOVERY = "recovery"
    CAUTION = "caution"
    APPROACH = "approach"
    PERSON_ON_TRACK = "person-on-track"
    BUTTON = "button"
    STOP_ONE = "stop-one"
    SLOW_ONE = "slow-one"
    DISQUALIFIED = "disqualified"


class Verdict(StrEnum):
    """What the opening check came to."""

    OPEN = "open"
    OPEN_RESTRICTED = "open-restricted"
    DO_NOT_OPEN = "do-not-open"


class Surface(StrEnum):
    """The track's surface."""

    DRY = "dry"
    WET = "wet"


class InputKind(StrEnum):
    """What a wired input means when it is active."""

    ALARM = "alarm"
    HARD_STOP = "hard-stop"
    GATE = "gate"
    STOP_BOX = "stop-box"
    CAUTION_BOX = "caution-box"


class InputState(StrEnum):
    """What a wired input reports."""

    NORMAL = "normal"
    ACTIVE = "active"
    FAULT = "fault"


EQUIPMENT = "E"
"""The holder of a hold that no person placed."""

PIT = "pit"
"""The id of the sector that is the pit lane, in every venue."""
