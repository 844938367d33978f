"""Which calls make sense now: the others' buttons are quiet, yet can be pressed."""

from __future__ import annotations

from signals.actions import Action
from signals.words import PIT
from sim.view.desk import Desk
from sim.view.hint import waiting


def in_use(action: Action, desk: Desk, kart: int | None) -> bool:
    """Whether a call makes sense now, for the chosen kart where it needs one."""
    if desk.state is None or desk.state.phase not in action.phases:
        return False
    match action.id:
        case "lift":
            return bool(desk.holds())
        case "take-over":
            return any(hold.post != desk.post for hold in desk.holds())
        case "ready":
            return not desk.open_items()
        case "clear":
            return desk.recovering() and not desk.holds()
        case "let-out":
            return bool(waiting(desk))
    return action.needs != "kart" or _of_kart(action, desk, kart)


def _of_kart(action: Action, desk: Desk, number: int | None) -> bool:
    kart = None if number is None else desk.kart(number)
    if kart is None:
        return False
    out = kart.place not in (PIT, "aside")
    match action.id:
        case "take-back":
            return kart.call == "move-over" or kart.slowed != "none"
        case "button-reset":
            return kart.button
        case "requalify":
            return kart.call == "disqualified" and not out
        case "black":
            return kart.call != "disqualified"
    return out
