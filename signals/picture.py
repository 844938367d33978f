"""The controller's picture as screens ask of it: who drives what, who is out, what holds the track up.

Made of `state` and `group` alone: no clock, no network, nothing kept from one picture to the next.
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

from signals.actions import Action
from signals.look import IDLE, OF_CONDITION, Dress
from signals.mqtt.contract import Group, HoldView, KartView, State
from signals.venue.model import Venue
from signals.words import PIT, Condition, Phase, Word


class Level(StrEnum):
    """What a kart's ring says about its limit."""

    FULL = "full"
    CAUTION = "caution"
    CREEP = "creep"
    STOPPED = "stopped"
    WAITING = "waiting"
    """In the pit or set aside, as it should: nothing on the track limits it."""


@dataclass(frozen=True, slots=True)
class Picture:
    """What was last heard; None before the first."""

    venue: Venue
    state: State | None = None
    group: Group | None = None

    @property
    def phase(self) -> Phase | None:
        """Where the session stands."""
        return self.state.phase if self.state else None

    @property
    def about(self) -> tuple[object, ...]:
        """Give what a question asked on this picture is about: it falls when any of it changes."""
        if self.state is None:
            return ()
        holds = tuple((hold.what, hold.where, hold.post) for hold in self.state.holds)
        return (self.state.boot, self.state.phase, holds)

    def kart(self, number: int) -> KartView | None:
        """Give a kart as the controller sees it."""
        return self.state.karts.get(str(number)) if self.state else None

    def level(self, number: int) -> Level:
        """Give what limits a kart, as its ring tells."""
        view = self.kart(number)
        if view is None or view.limit_kmh <= 0:
            return Level.WAITING if view is not None and view.place in (PIT, "aside") else Level.STOPPED
        limits = self.venue.limits
        slow = max(limits.caution, limits.finish, limits.return_, limits.pit, limits.disqualified)
        if view.limit_kmh <= limits.creep:
            return Level.CREEP
        return Level.CAUTION if view.limit_kmh <= slow else Level.FULL

    def driver(self, number: int) -> str:
        """Give who drives a kart in this group, or in the next; empty where nobody does."""
        groups = (self.group, self.group.next) if self.group else ()
        entries = (entry for each in groups if each for entry in each.karts)
        return next((entry.driver for entry in entries if entry.number == number), "")

    def members(self) -> tuple[int, ...]:
        """Give the karts of this group."""
        return tuple(entry.number for entry in self.group.karts) if self.group else ()

    def out(self) -> tuple[int, ...]:
        """Give the karts that are not known to be in the pit or set aside."""
        karts = self.state.karts.items() if self.state else ()
        return tuple(sorted(int(number) for number, kart in karts if kart.place not in (PIT, "aside")))

    def waiting(self) -> tuple[int, ...]:
        """Give the karts of the group that wait in the pit to be let out; only while the session runs."""
        if self.phase is not Phase.RACING:
            return ()
        return tuple(
            number
            for number in self.members()
            if (kart := self.kart(number))
            and kart.place == PIT
            and not kart.let_out
            and kart.call != "disqualified"
        )

    def rolling(self) -> tuple[int, ...]:
        """Give the karts that still roll in the pit lane, on their way to the box."""
        karts = self.state.karts.items() if self.state else ()
        return tuple(sorted(int(number) for number, kart in karts if kart.place == PIT and kart.let_out))

    def pressed(self) -> tuple[int, ...]:
        """Give the karts whose button is pressed."""
        return (
            tuple(int(number) for number, kart in self.state.karts.items() if kart.button)
            if self.state
            else ()
        )

    def holds(self) -> list[HoldView]:
        """Give the holds that can be lifted."""
        return [hold for hold in self.state.holds if hold.what != "recovery"] if self.state else []

    def recovering(self) -> bool:
        """Whether the track waits to be cleared after a red."""
        return any(hold.what == "recovery" for hold in self.state.holds) if self.state else False

    def open_items(self) -> list[str]:
        """Give the checklist items not yet confirmed, in the venue's order."""
        done = self.group.checklist if self.group else {}
        return [item.id for item in self.venue.checklist if item.id in done and done[item.id] is None]

    def left_s(self, now_ms: int) -> float | None:
        """Give the seconds left of the planned session at the controller's time; negative when over."""
        if self.group is None or self.group.started_at is None or self.phase is not Phase.RACING:
            return None
        return self.group.planned_s - (now_ms - self.group.started_at) / 1000

    def dress(self, condition: Condition) -> Dress:
        """Give how a condition is dressed; clear is green only while racing."""
        idle = condition is Condition.CLEAR and self.phase is not Phase.RACING
        return IDLE if idle else OF_CONDITION[condition]

    def under(self, condition: Condition) -> list[str]:
        """Give the names of the sectors under a condition, in driving order."""
        state = self.state
        return [each.name for each in self.venue.sectors if state and state.sectors.get(each.id) is condition]


def hold_key(hold: HoldView) -> str:
    """Give a hold's key as a lift names it."""
    return f"stop:{hold.post}" if hold.what == "stop" else f"caution:{hold.where}:{hold.post}"


def main_post(venue: Venue) -> str:
    """Give the post that a screen is for unless another is named: the first supervisor's."""
    return next((post.id for post in venue.posts if post.supervisor), venue.posts[0].id)


def in_use(action: Action, picture: Picture, post: str, kart: int | None) -> bool:
    """Whether a call makes sense now from a post, for the chosen kart where it needs one."""
    if picture.phase not in action.phases:
        return False
    match action.word:
        case Word.LIFT:
            return bool(picture.holds())
        case Word.HAND_OVER:
            return any(hold.post != post for hold in picture.holds())
        case Word.ARM:
            return not picture.open_items()
        case Word.CLEAR:
            return picture.recovering() and not picture.holds()
        case Word.LET_OUT:
            return bool(picture.waiting())
    return action.needs != "kart" or _of_kart(action.word, picture, kart)


def _of_kart(word: Word, picture: Picture, number: int | None) -> bool:
    kart = None if number is None else picture.kart(number)
    if kart is None:
        return False
    out = kart.place not in (PIT, "aside")
    match word:
        case Word.WITHDRAW_ONE:
            return kart.call == "move-over" or kart.slowed != "none"
        case Word.BUTTON_RESET:
            return kart.button
        case Word.REQUALIFY:
            return kart.call == "disqualified" and not out
        case Word.DISQUALIFY_ONE:
            return kart.call != "disqualified"
    return out
