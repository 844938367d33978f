"""What a place on the screen stands for, in a sentence: for the line below the map."""

from __future__ import annotations

from collections.abc import Callable

from signals import say
from signals.actions import BY_ID, MORE
from signals.words import PIT
from sim.view.desk import Desk
from sim.view.hands import Hands


def explain(target: str, desk: Desk, hands: Hands, now_s: float) -> str:
    """Say in a sentence what a place on the screen stands for."""
    kind, _, name = target.partition(":")
    teller = _EXPLAIN.get(kind)
    return teller(name, desk, hands, now_s) if teller else ""


def _explain_head(name: str, desk: Desk, _: Hands, now_s: float) -> str:
    head = next(each for each in desk.venue.heads if each.id == name)
    view = desk.state.heads.get(name) if desk.state else None
    shows = desk.shows(name, now_s)
    said = f"Head {name}: shows {say.ASPECTS[shows]}" if shows else f"Head {name}: not heard"
    if view is not None:
        said += f" {view.number}" if view.number is not None else ""
        said += f", due {say.ASPECTS[view.aspect]}" if view.aspect is not shows else ""
        said += (
            ", lost"
            if view.health == "lost"
            else ", out of service"
            if view.health == "out-of-service"
            else ""
        )
    protects = ", ".join(say.sector_name(desk.venue, sector) for sector in head.protects)
    return f"{said}. It stands before {protects}."


def _explain_kart(name: str, desk: Desk, _: Hands, now_s: float) -> str:
    number = int(name)
    kart, driver = desk.picture.kart(number), desk.picture.driver(number)
    said = f"Kart {number}" + (f", {driver}" if driver else "")
    if kart is None:
        return f"{said}: not heard of."
    place = {PIT: "in the pit", "unknown": "place unknown", "aside": "set aside"}.get(kart.place)
    said += f": {place or 'in ' + say.sector_name(desk.venue, kart.place)}"
    said += f", limit {kart.limit_kmh:g} km/h ({desk.why(number, now_s)})"
    said += ", black flag" if kart.call == "disqualified" else ", blue" if kart.call == "move-over" else ""
    said += ", its button is pressed" if kart.button else ""
    return said + ("." if kart.link else "; its radio is silent: all this is old.")


def _explain_sector(name: str, desk: Desk, _: Hands, __: float) -> str:
    said = say.sector_name(desk.venue, name)
    condition = desk.state.sectors.get(name) if desk.state else None
    holds = [hold for hold in desk.picture.holds() if hold.where in (name, None)]
    why = f"{len(holds)} stand: " if len(holds) > 1 else ""
    why += "; ".join(say.hold_sentence(desk.venue, hold) for hold in holds)
    return f"{said}: {say.CONDITIONS[condition]}. {why}" if condition else said


def _explain_action(name: str, _: Desk, __: Hands, ___: float) -> str:
    action = BY_ID.get(name)
    return f"{action.label} ({action.key}): {action.line}" if action else ""


def _explain_entry(name: str, desk: Desk, _: Hands, __: float) -> str:
    return next((entry.text for entry in desk.ribbon.entries if entry.id == name), "")


def _explain_warnings(_: str, desk: Desk, __: Hands, now_s: float) -> str:
    return "   ".join(desk.warnings(now_s)[1:])


def _explain_more(_: str, __: Desk, ___: Hands, ____: float) -> str:
    return "More calls (E): " + " ".join(f"{action.label}: {action.line}" for action in MORE)


_EXPLAIN: dict[str, Callable[[str, Desk, Hands, float], str]] = {
    "head": _explain_head,
    "kart": _explain_kart,
    "sector": _explain_sector,
    "do": _explain_action,
    "entry": _explain_entry,
    "warnings": _explain_warnings,
    "more": _explain_more,
}
