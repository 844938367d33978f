"""The calls without a button: a driver changes karts, one comes late, a head is replaced by a flag."""

from __future__ import annotations

from functools import partial
from typing import TYPE_CHECKING

from signals import say
from signals.actions import BY_ID
from signals.mqtt.contract import Entry
from signals.words import PIT
from sim import demo
from sim.view.desk import Outcome

if TYPE_CHECKING:
    from sim.view.asking import Choice
    from sim.view.hands import Hands

MENU = "more"


def ask_more(hands: Hands) -> None:
    """Ask which of the further calls it is to be."""
    kart = hands.kart
    swapped = f"Kart {kart}'s driver" if kart in hands.desk.picture.members() else "A kart's driver"
    choices: list[Choice] = [
        (f"{swapped} takes another kart", partial(_swap, hands)),
        ("A late driver joins the group", partial(_join, hands)),
        ("A head is replaced by a marshal with a flag", partial(_replace, hands)),
    ]
    hands.choose(MENU, "More calls", choices)


def _free(hands: Hands) -> list[int]:
    """Give the karts in the pit that nobody of the group drives."""
    picture = hands.desk.picture
    return [
        kart.number
        for kart in picture.venue.karts
        if kart.number not in picture.members() and (view := picture.kart(kart.number)) and view.place == PIT
    ]


def _swap(hands: Hands, _: float) -> None:
    action, kart = BY_ID["swap"], hands.kart
    if kart not in hands.desk.picture.members():
        hands.desk.outcome = Outcome(
            action.id, "Swap: choose a kart of this group first (up, down, or click)."
        )
        return
    driver = hands.desk.picture.driver(kart) if kart is not None else ""
    choices: list[Choice] = [
        (f"Kart {to}", partial(hands.send, action, {"kart": kart, "to": to}, f"Swap {kart} for {to}"))
        for to in _free(hands)
    ]
    hands.choose(action.id, f"Which kart does {driver} take instead of {kart}? See both stand.", choices)


def _join(hands: Hands, _: float) -> None:
    action, desk = BY_ID["join"], hands.desk
    taken = {desk.picture.driver(number) for number in desk.picture.members()}
    driver = demo.late(taken)
    classes = {kart.number: kart.class_ for kart in desk.venue.karts}
    choices: list[Choice] = [
        (
            f"{driver} in kart {to}, {classes[to]}",
            partial(
                hands.send,
                action,
                {"entries": [Entry(number=to, driver=driver, class_=classes[to])]},
                f"{driver} joins in kart {to}",
            ),
        )
        for to in _free(hands)
    ]
    hands.choose(action.id, f"Which kart does {driver} take? The checklist opens again.", choices)


def _replace(hands: Hands, now_s: float) -> None:
    """Choose the head: those that are lost or show something else come first."""
    desk, action = hands.desk, BY_ID["out-of-service"]
    heads = desk.state.heads if desk.state else {}
    ill = [head for head, view in heads.items() if view.health == "lost" or desk.differs(head, now_s)]
    named = {head.id: head for head in desk.venue.heads}
    order = [*ill, *(head for head in named if head not in ill)]
    choices: list[Choice] = [
        (
            f"{head}, before {', '.join(say.sector_name(desk.venue, each) for each in named[head].protects)}"
            + (" (not well)" if head in ill else ""),
            partial(_who, hands, head),
        )
        for head in order
        if head in named
    ]
    hands.choose(action.id, "Which head is replaced, until the day ends?", choices)


def _who(hands: Hands, head: str, _: float) -> None:
    """Choose who stands there with a flag."""
    action, venue = BY_ID["out-of-service"], hands.desk.venue
    names = [person.name for person in venue.persons] or [say.spoken(post) for post in venue.posts]
    choices: list[Choice] = [
        (
            f"{name} stands there with a flag",
            partial(
                hands.send,
                action,
                {"head": head, "by": name, "reason": "replaced by a flag"},
                f"Head {head} out of service",
            ),
        )
        for name in names
    ]
    hands.choose(action.id, f"Who stands at head {head} with a flag?", choices)
