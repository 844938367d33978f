"""Calls over a line that stands open: nothing has to be set up any more when a finger touches.

A page opens its line with its cookie, from this site only (`guard`), and says its session's word first.
Then each message is a number and a call, just what `POST /call` takes, and is judged, sent and logged in the
same place; each answer is that number, the status and what `POST /call` would have said. The session is
looked up anew for every call, so that one that has ended meanwhile calls nothing.
"""

from __future__ import annotations

import asyncio
import re
from http import HTTPStatus

import msgspec
from starlette.responses import PlainTextResponse
from starlette.websockets import WebSocket, WebSocketDisconnect

from signals.panel.asking import Asking, Said
from signals.panel.guard import Refusals, address_of
from signals.panel.sessions import csrf_fits
from signals.panel.visits import Visits

LINES_MAX = 250
UNDER_WAY_MAX = 32
"""Calls of one page that wait for their answers; a person makes one at a time."""
WORD_WITHIN_S = 5.0
READY = "ready"
REFUSED, TOO_LONG = 1008, 1009
"""Why a line is closed: RFC 6455, 7.4.1."""
MESSAGE = re.compile(r"(\d{1,9}) (.+)", re.DOTALL)
NUMBER, CALL = 1, 2


class Calling:
    """The route.

    Attributes:
        lines: those that are open.

    """

    def __init__(self, visits: Visits, asking: Asking, refusals: Refusals) -> None:
        self._visits = visits
        self._asking = asking
        self._refusals = refusals
        self.lines: set[WebSocket] = set()

    async def line(self, socket: WebSocket) -> None:
        """Take a page's calls for as long as it keeps its line."""
        if self._visits.of(socket) is None:
            await socket.send_denial_response(PlainTextResponse("Sign in again.\n", HTTPStatus.UNAUTHORIZED))
            return
        if len(self.lines) >= LINES_MAX:
            said = PlainTextResponse("Too many pages are open.\n", HTTPStatus.SERVICE_UNAVAILABLE)
            await socket.send_denial_response(said)
            return
        self.lines.add(socket)
        try:
            await socket.accept()
            await self._serve(socket)
        except WebSocketDisconnect as gone:
            if gone.code == TOO_LONG:
                self._note(socket, "more than a call can be")
        finally:
            self.lines.discard(socket)

    async def _serve(self, socket: WebSocket) -> None:
        """Hear the word, then call by call."""
        if not await self._knows_the_word(socket):
            await self._refuse(socket, "without its session's word")
            return
        await socket.send_text(READY)
        under_way: set[asyncio.Task[None]] = set()
        try:
            while found := MESSAGE.fullmatch(await _text(socket)):
                if len(under_way) >= UNDER_WAY_MAX:
                    await self._refuse(socket, "too many calls at once")
                    return
                task = asyncio.create_task(self._answer(socket, found[NUMBER], found[CALL]))
                under_way.add(task)
                task.add_done_callback(under_way.discard)
            await self._refuse(socket, "what is no numbered call")
        finally:
            # What a page sent before it was gone is called: red, and the phone back in the pocket.
            await asyncio.gather(*under_way, return_exceptions=True)

    async def _knows_the_word(self, socket: WebSocket) -> bool:
        try:
            async with asyncio.timeout(WORD_WITHIN_S):
                word = await _text(socket)
        except TimeoutError:
            return False
        return csrf_fits(socket.cookies[self._visits.cookie], word)

    async def _answer(self, socket: WebSocket, number: str, call: str) -> None:
        """Ask, and tell what came of it; a page that has gone is told nothing."""
        visit = self._visits.of(socket)
        if visit is None:
            said, status = Said("Signed out.", ["Sign in again."]), int(HTTPStatus.UNAUTHORIZED)
        else:
            said, status = await self._asking.taken(call.encode(), visit, address_of(socket))
        try:
            await socket.send_text(f"{number} {status} {msgspec.json.encode(said).decode()}")
            if visit is None:
                await socket.close(REFUSED)
        except (WebSocketDisconnect, RuntimeError):
            return

    async def _refuse(self, socket: WebSocket, why: str) -> None:
        self._note(socket, why)
        await socket.close(REFUSED, why)

    def _note(self, socket: WebSocket, why: str) -> None:
        self._refusals.note(address_of(socket), "a line for calls", why)


async def _text(socket: WebSocket) -> str:
    """Give the next message; bytes, which no page sends, count as an empty one."""
    message = await socket.receive()
    if message["type"] == "websocket.disconnect":
        raise WebSocketDisconnect(message.get("code", 1005))
    return message.get("text") or ""
