"""How a call is spoken of: "Yellow 3 Hairpin", "Lift red", "Let out 7"."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from signals import say
from signals.actions import ACTIONS, MORE, Action
from signals.words import HoldKind, Word


def action_of(call: Mapping[str, Any]) -> Action | None:
    """Give the action a call belongs to; among those of one word, that of its kind."""
    word, kind = call.get("call"), call.get("kind")
    named = [action for action in (*ACTIONS, *MORE) if action.word == word]
    return next((action for action in named if action.kind == kind), named[0] if named else None)


def call_said(venue: say.Names, call: Mapping[str, Any]) -> str:
    """Name a call, made of its fields as they go over the wire."""
    word = str(call.get("call"))
    if word in (Word.LIFT, Word.HAND_OVER) and isinstance(call.get("hold"), str):
        verb = "Lift" if word == Word.LIFT else "Take over"
        return f"{verb} {held(venue, str(call['hold']))}"
    if word == Word.CONFIRM:
        item = next((each.text for each in venue.checklist if each.id == call.get("item")), call.get("item"))
        return f"“{item}”"
    if word == Word.ACCOUNT and call.get("where") == "aside":
        return f"Kart {call.get('kart')} set aside"
    if word == Word.OUT_OF_SERVICE:
        return f"Head {call.get('head')} out of service"
    action = action_of(call)
    if action is None or word in (Word.WET, Word.DRY):
        return say.call_name(word)
    sector = say.sector_name(venue, str(call.get("where", "")))
    return action.spoken.format(label=say.call_name(word), sector=sector, kart=call.get("kart", "")).strip()


def held(venue: say.Names, hold: str) -> str:
    """Name a hold by its key, inside a sentence: "yellow 3 Hairpin by Post 1"."""
    what, *rest = hold.split(":")
    by = f" by {say.post_name(venue, rest[-1])}" if rest else ""
    if what == "stop":
        return f"red{by}"
    where = say.sector_name(venue, rest[0]) if len(rest) > 1 else ""
    return f"yellow {where}{by}".strip()


def kind_said(kind: HoldKind | None) -> str:
    """Name why a hold stands, where that is more than an incident."""
    return "" if kind in (None, HoldKind.INCIDENT) else say.KINDS[kind]
