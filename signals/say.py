"""Marshals' words: how screens and reports say what the contract spells; sentence case."""

from __future__ import annotations

from datetime import UTC, datetime, tzinfo
from typing import TYPE_CHECKING, Protocol

from signals.words import EQUIPMENT, Aspect, Because, Condition, HoldKind, Phase, Word

if TYPE_CHECKING:
    from signals.mqtt.contract import HoldView
    from signals.venue.model import ChecklistItem, Post, Sector, Venue

PHASES: dict[Phase, str] = {
    Phase.CLOSED: "Closed",
    Phase.TEST: "Test",
    Phase.STAGING: "Group in",
    Phase.ARMED: "Ready",
    Phase.RACING: "Racing",
    Phase.FINISHING: "Coming in",
}
CONDITIONS: dict[Condition, str] = {
    Condition.STOP: "RED",
    Condition.CAUTION: "YELLOW",
    Condition.FINISH: "CHEQUERED",
    Condition.CLEAR: "GREEN",
}
ASPECTS: dict[Aspect, str] = {
    Aspect.RED: "RED",
    Aspect.YELLOW_FLASH: "YELLOW, flashing",
    Aspect.YELLOW: "YELLOW",
    Aspect.RED_YELLOW: "CHEQUERED",
    Aspect.NUMBER: "BLACK with number",
    Aspect.BLUE_FLASH: "BLUE",
    Aspect.DARK: "dark",
    Aspect.GREEN: "GREEN",
}
REASONS: dict[Because, str] = {
    Because.CLASS: "full speed",
    Because.PIT_LANE: "pit lane",
    Because.NOT_LET_OUT: "not let out",
    Because.SESSION_NOT_OPEN: "no session",
    Because.TEST: "test",
    Because.SET_ASIDE: "set aside",
    Because.FINISH: "chequered",
    Because.RETURN: "come in",
    Because.STOP: "red",
    Because.FIRE_OR_MEDICAL: "red, fire or medical",
    Because.RECOVERY: "after red",
    Because.CAUTION: "yellow here",
    Because.APPROACH: "yellow ahead",
    Because.PERSON_ON_TRACK: "person on track",
    Because.BUTTON: "kart's button",
    Because.STOP_ONE: "stopped by call",
    Because.SLOW_ONE: "slowed by call",
    Because.DISQUALIFIED: "black flag",
}
KINDS: dict[HoldKind, str] = {
    HoldKind.INCIDENT: "incident",
    HoldKind.FIRE: "fire",
    HoldKind.MEDICAL: "medical",
    HoldKind.PERSON_ON_TRACK: "person on the track",
    HoldKind.EQUIPMENT: "equipment",
}
CALLS: dict[Word, str] = {
    Word.PREPARE: "Next group",
    Word.STAGE: "Group in",
    Word.CONFIRM: "Confirm",
    Word.ARM: "Ready",
    Word.DISARM: "Not ready",
    Word.START: "Start",
    Word.LET_OUT: "Let out",
    Word.FINISH: "Chequered",
    Word.CLOSE: "Close",
    Word.STOP: "Red",
    Word.CAUTION: "Yellow",
    Word.LIFT: "Lift",
    Word.CLEAR: "Clear",
    Word.MOVE_OVER_ONE: "Blue",
    Word.WITHDRAW_ONE: "Take back",
    Word.SLOW_ONE: "Slow",
    Word.STOP_ONE: "Stop",
    Word.DISQUALIFY_ONE: "Black",
    Word.REQUALIFY: "Requalify",
    Word.ACCOUNT: "Seen",
    Word.BUTTON_RESET: "Button reset",
    Word.HAND_OVER: "Take over",
    Word.WET: "Wet",
    Word.DRY: "Dry",
    Word.SWAP: "Swap",
    Word.JOIN: "Late driver",
    Word.OUT_OF_SERVICE: "Out of service",
}


def call_name(word: str) -> str:
    """Name a call as its button does."""
    known = CALLS.get(Word(word)) if word in set(Word) else None
    return known or word.replace("-", " ").capitalize()


class Names(Protocol):
    """What knows a venue's names: the venue itself, or whoever stands in for one that is not at hand."""

    @property
    def sectors(self) -> tuple[Sector, ...]:
        """The sectors, with the names of their corners."""

    @property
    def posts(self) -> tuple[Post, ...]:
        """The posts."""

    @property
    def checklist(self) -> tuple[ChecklistItem, ...]:
        """What is confirmed before ready."""


def sector_name(venue: Names, sector: str) -> str:
    """Name a sector as the venue does: "3 Hairpin", "Pit lane"."""
    return next((each.name for each in venue.sectors if each.id == sector), sector)


def post_name(venue: Names, post: str | None) -> str:
    """Name who placed a hold inside a sentence: a post as the venue does, or the equipment."""
    if post is None:
        return "nobody"
    if post == EQUIPMENT:
        return "equipment"
    return next((spoken(each) for each in venue.posts if each.id == post), f"post {post}")


def spoken(post: Post) -> str:
    """Name a post by its name, one that has none by its id: "Race desk", "post p1"."""
    return f"post {post.id}" if post.name == post.id else post.name


def many(number: int, what: str, more: str = "s", *, none: str = "0") -> str:
    """Say how many of something: "1 kart", "2 karts"; `more` is at its end where it is not one."""
    return f"{number or none} {what}{'' if number == 1 else more}"


def capital(words: str) -> str:
    """Begin a sentence with words; names keep their own capitals."""
    return words[:1].upper() + words[1:]


def clock_time(at_ms: int, zone: tzinfo = UTC) -> str:
    """Give the time of day, HH:MM."""
    return f"{datetime.fromtimestamp(at_ms / 1000, zone):%H:%M}"


def hold_name(venue: Venue, hold: HoldView) -> str:
    """Name a hold as marshals do: "Yellow 3 Hairpin", "Red"; with its kind where that matters."""
    name = "Red" if hold.what == "stop" else "Yellow"
    name += f" {sector_name(venue, hold.where)}" if hold.where else ""
    kind = "" if hold.kind in (None, HoldKind.INCIDENT) else f", {KINDS[hold.kind]}"
    return name + kind


def hold_sentence(venue: Venue, hold: HoldView, zone: tzinfo = UTC) -> str:
    """Say what stands, where, by whom and since when."""
    if hold.what == "recovery":
        return "After red: the track waits to be cleared"
    reason = f" ({hold.reason})" if hold.reason else ""
    by_itself = hold.post == EQUIPMENT and hold.kind == HoldKind.EQUIPMENT  # then who it is says the kind
    name = hold_name(venue, hold).removesuffix(f", {KINDS[HoldKind.EQUIPMENT]}" if by_itself else "")
    return f"{name}, by {post_name(venue, hold.post)} at {clock_time(hold.since, zone)}{reason}"
