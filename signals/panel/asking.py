"""A call by touch: from the request to the controller's answer, in marshals' words.

Nothing is queued and nothing is sent again. A page tells with each call which heartbeat it has heard
last: one that comes late, after the link was gone for a while, is not sent on, unless it is red or yellow,
which are never refused.
"""

from __future__ import annotations

import logging
import time
from typing import Any

import msgspec
from msgspec import Struct
from starlette.requests import Request
from starlette.responses import JSONResponse, Response

from signals.mqtt.contract import Answer, Boot, Call, Seq
from signals.panel.guard import Refusals, address_of
from signals.panel.view import EVERYONES
from signals.panel.visits import Visit
from signals.spoken import call_said
from signals.words import Word

LATE_MS = 1500
"""A call that left its page longer ago was made on an old picture."""
PAGES_OWN = ("id", "boot", "seq")
"""Fields of a call that are not the page's to give with its fields."""

log = logging.getLogger(__name__)


class Asked(Struct, frozen=True, forbid_unknown_fields=True):
    """What a page sends: a call's fields, and what it had seen and heard when it was touched."""

    call: dict[str, Any]
    heard: int | None = None
    boot: Boot | None = None
    seq: Seq | None = None


class Said(Struct, frozen=True):
    """What a page shows of it, beside the call. `accepted` None: nobody knows what came of it."""

    title: str
    lines: list[str] = []
    accepted: bool | None = False


_DECODE = msgspec.json.Decoder(Asked).decode


class Asking:
    """The routes."""

    def __init__(self, refusals: Refusals) -> None:
        self._refusals = refusals

    async def call(self, request: Request, visit: Visit) -> Response:
        """Take a call from a page."""
        return _json(*await self.taken(await request.body(), visit, address_of(request)))

    async def taken(self, body: bytes, visit: Visit, address: str) -> tuple[Said, int]:
        """Send a call on; gives what came of it, with an HTTP status. What is refused is logged."""
        try:
            said, status = await self._ask(_DECODE(body), visit)
        except (msgspec.ValidationError, msgspec.DecodeError, UnicodeError, RecursionError) as mistake:
            self._refusals.note(address, "a call", str(mistake))
            return Said("Not sent.", [f"This is no call: {mistake}."]), 400
        if said.accepted is False:
            self._refusals.note(address, f"a call of {visit.session.post}", " ".join(said.lines))
        return said, status

    async def reset(self, request: Request, visit: Visit) -> Response:
        """Tell the monitor that somebody looked at what it tripped on."""
        del request
        if visit.station.lost or not visit.station.reset_monitor("looked at what it tripped on"):
            return _json(_unsent("The monitor's reset"), 503)
        return _json(Said("The monitor is asked to reset.", accepted=None), 200)

    async def _ask(self, asked: Asked, visit: Visit) -> tuple[Said, int]:
        station, fields = visit.station, _fields(asked, visit)
        msgspec.convert({"id": "page", **fields}, Call)  # whatever is no call is told so before all else
        if fields["call"] not in EVERYONES:
            if station.lost:
                return _unsent(call_said(station.venue, fields)), 503
            if round(time.monotonic() * 1000) - (asked.heard or 0) > LATE_MS:
                return _late(call_said(station.venue, fields)), 409
        answer = await station.ask(fields)
        name = call_said(station.venue, fields)
        if answer is None:
            said = f"{name} was not answered.", ["No answer within 1 s: use flag and radio, then call again."]
            return Said(*said, accepted=None), 504
        if answer.accepted:
            log.info("%s: %s: done", visit.session.post, name)
        return _answered(name, answer), 200


def _fields(asked: Asked, visit: Visit) -> dict[str, Any]:
    """Give the call's fields; who is signed in is named, unless the call names a flag marshal."""
    fields = {key: value for key, value in asked.call.items() if key not in PAGES_OWN}
    if fields.get("call") != Word.OUT_OF_SERVICE:
        fields.pop("by", None)
        if visit.session.person:
            fields["by"] = visit.session.person
    if asked.boot is not None and asked.seq is not None:
        fields |= {"boot": asked.boot, "seq": asked.seq}
    return fields


def _answered(name: str, answer: Answer) -> Said:
    lines = [refused.sentence for refused in answer.refusals]
    if not answer.recorded:
        lines.append("Not recorded: the journal fails.")
    return Said(f"{name}: done." if answer.accepted else f"{name} refused.", lines, answer.accepted)


def _unsent(name: str) -> Said:
    return Said(f"{name} was not sent.", ["There is no link: flag and radio."], accepted=False)


def _late(name: str) -> Said:
    return Said(f"{name} was not sent.", ["It came late, on an old picture: look again, then call again."])


def _json(said: Said, status: int) -> Response:
    return JSONResponse(msgspec.to_builtins(said), status)
