"""What a trainee does: calls, and what is no call. A recorded set of them can be played again.

The file is TOML, a `[[deed]]` each in the order of `at_s`; a window writes one for every drill played.
"""

from __future__ import annotations

import json
from collections.abc import Iterable, Iterator
from pathlib import Path
from typing import Annotated, Any

import msgspec
from msgspec import Meta

from signals.errors import BadInput
from signals.mqtt.contract import Call
from signals.sequence.form import Id, KartNumber, Seconds, Table, Target, Text
from signals.sequence.load import Draft, Say
from signals.venue import lines
from signals.venue.draft import text_of
from signals.venue.read import BROKEN, listed, shown, usable
from signals.words import HoldKind, Word
from sim.drill.facts import Touch

FORMS = ("call", "seen", "seen_kart", "walk", "back", "box")
"""What a deed can be."""
CALL_FIELDS = ("where", "kart", "to", "item", "hold", "kind", "partner", "checked", "head", "reason")


class Deed(Table, frozen=True, kw_only=True, omit_defaults=True):
    """One thing done, `at_s` since the drill began: exactly one of call, seen, seen_kart, walk, back, box."""

    at_s: Seconds
    post: Annotated[Id | None, Meta(description="who does it; by default the seat that is played")] = None
    call: Word | None = None
    seen: Annotated[Id | None, Meta(description="a sector that was touched: something was seen there")] = None
    seen_kart: Annotated[KartNumber | None, Meta(description="a kart that was touched")] = None
    walk: Annotated[Id | None, Meta(description="walk out, or send the marshal, to a sector")] = None
    back: Annotated[bool | None, Meta(description="call whoever is out back")] = None
    box: Annotated[Id | None, Meta(description="press a call box: the input's id")] = None
    where: Target | None = None
    kart: KartNumber | None = None
    to: Target | KartNumber | None = None
    item: Target | None = None
    hold: Target | None = None
    kind: HoldKind | None = None
    partner: Target | None = None
    checked: bool | None = None
    head: Target | None = None
    reason: Text | None = None


class File(Table, frozen=True, kw_only=True):
    """A recorded set of calls."""

    deed: tuple[Deed, ...] = ()


def load(path: str | Path) -> tuple[Deed, ...]:
    """Load a file of deeds; raises BadInput with every mistake in it at once."""
    draft = Draft(Path(path), text_of(Path(path)))
    file = draft.read(File)
    if file is not BROKEN:
        last_s = 0.0
        for index, deed in usable(file.deed):
            _check(deed, ("deed", index), draft.say)
            last_s = _never_falls(deed, last_s, ("deed", index), draft.say)
    if draft.findings:
        raise BadInput(draft.findings)
    return file.deed


def _check(deed: Deed, path: lines.KeyPath, say: Say) -> None:
    given = [name for name in FORMS if getattr(deed, name) is not None]
    if len(given) != 1:
        say(path, "", f"needs exactly one of {listed(FORMS)}")
    fields = call_fields(deed)
    if BROKEN in fields.values() or deed.call is BROKEN:
        return
    if deed.call is None:
        for name in fields:
            say((*path, name), shown(fields[name]), "belongs to a deed with `call`")
        return
    try:
        msgspec.convert({"id": "1", "call": deed.call, **fields}, Call)
    except msgspec.ValidationError as error:
        say((*path, "call"), shown(deed.call), f"does not fit the contract: {error}")


def _never_falls(deed: Deed, last_s: float, path: lines.KeyPath, say: Say) -> float:
    if deed.at_s is BROKEN:
        return last_s
    if deed.at_s < last_s:
        say((*path, "at_s"), shown(deed.at_s), f"must not fall: one before is at {last_s:g}")
    return max(last_s, deed.at_s)


def call_fields(deed: Deed) -> dict[str, Any]:
    """Give what a call carries."""
    return {name: value for name in CALL_FIELDS if (value := getattr(deed, name)) is not None}


def of_touches(touches: Iterable[Touch], post: str) -> Iterator[Deed]:
    """Give what somebody at a post did as deeds that can be played again."""
    for touch in touches:
        if touch.post != post:
            continue
        at_s = touch.at_ms / 1000
        if touch.call is not None:
            fields = {name: getattr(touch.call, name) for name in CALL_FIELDS}
            given = {name: value for name, value in fields.items() if value is not msgspec.UNSET}
            yield Deed(at_s=at_s, call=touch.call.call, **given)
        elif touch.what == "seen":
            yield Deed(at_s=at_s, seen=touch.where, seen_kart=touch.kart)
        elif touch.what == "back":
            yield Deed(at_s=at_s, back=True)
        else:
            yield Deed(at_s=at_s, walk=touch.where, box=touch.input)


def write(path: Path, deeds: Iterable[Deed], about: str) -> None:
    """Write deeds so that `load` gives them back."""
    text = [f"# {about}"]
    for deed in deeds:
        plain = msgspec.to_builtins(deed)
        text += ["", "[[deed]]", *(f"{name} = {json.dumps(value)}" for name, value in plain.items())]
    path.parent.mkdir(parents=True, exist_ok=True)
    path.write_text("\n".join(text) + "\n", encoding="utf-8")
