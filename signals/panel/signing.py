"""Signing in at a post and out again: password, rate limit, cookie.

Trying a password costs time and memory, so tries stand in one short queue beside the event loop: a flood
of them is refused, and delays nobody's call. On a simulated venue a post without a password is open to
whoever sits at this machine: nothing real hangs on it.
"""

from __future__ import annotations

import asyncio
import math
from concurrent.futures import ThreadPoolExecutor
from http import HTTPStatus

import jinja2
from starlette.requests import Request
from starlette.responses import HTMLResponse, RedirectResponse, Response

from signals.panel.guard import Refusals, address_of
from signals.panel.passwords import LONGEST, Passwords, fits, hashed
from signals.panel.sessions import WHOLE_S
from signals.panel.tries import Tries
from signals.panel.visits import Visit, Visits, form_of
from signals.venue.model import Post, Venue

QUEUE_MAX = 4
"""Tries that wait for their turn; more are refused at once."""
PERSON_MAX = 40


class Signing:
    """The routes. `open_posts` tells whether posts without a password are open."""

    def __init__(
        self,
        venue: Venue,
        visits: Visits,
        passwords: Passwords,
        tries: Tries,
        refusals: Refusals,
        template: jinja2.Template,
        *,
        open_posts: bool,
    ) -> None:
        self._venue = venue
        self._visits = visits
        self._passwords = passwords
        self._tries = tries
        self._refusals = refusals
        self._template = template
        self._open_posts = open_posts
        self._worker = ThreadPoolExecutor(1, thread_name_prefix="passwords")
        self._waiting = 0
        self._nobody = hashed("nobody's password")

    async def form(self, request: Request) -> Response:
        """Show the sign-in."""
        if self._visits.of(request) is not None:
            return RedirectResponse("/", 303)
        return self._show()

    async def sign_in(self, request: Request) -> Response:
        """Take a post, a name and a password."""
        address, given = address_of(request), await form_of(request)
        wait_s = self._tries.wait_s(address)
        if wait_s > 0 or self._waiting >= QUEUE_MAX:
            self._refusals.note(address, "sign-in", "too many tries")
            minutes = max(1, math.ceil(wait_s / 60))
            answer = self._show(f"Too many tries from here. Wait {minutes} min; flag and radio stay.", 429)
            answer.headers["retry-after"] = str(max(1, math.ceil(wait_s)))
            return answer
        post = next((post for post in self._venue.posts if post.id == given.get("post")), None)
        if post is None:
            return self._show("Choose the post you stand at.", 400, given)
        kept = self._passwords.of(post.id)
        if not await self._right(given.get("password", ""), kept):
            self._tries.failed(address)
            self._refusals.note(address, "sign-in", f"wrong password for {post.id}")
            return self._show(self._why_not(post, kept), 403, given)
        self._tries.passed(address)
        return self._let_in(request, post, given.get("person", "").strip()[:PERSON_MAX], kept or "")

    async def sign_out(self, request: Request, visit: Visit) -> Response:
        """End the session: its cookie counts for nothing from now on."""
        del request
        self._visits.sessions.end(visit.token)
        answer = RedirectResponse("/sign-in", 303)
        self._drop(answer)
        return answer

    async def hand_on(self, request: Request, visit: Visit) -> Response:
        """Let somebody else take over this device at the same post: a new session under the new name."""
        given = await form_of(request)
        self._visits.sessions.end(visit.token)
        person = given.get("person", "").strip()[:PERSON_MAX]
        return self._let_in(request, visit.station.post, person, visit.session.mark)

    def close(self) -> None:
        """End the worker."""
        self._worker.shutdown(wait=False, cancel_futures=True)

    async def _right(self, password: str, kept: str | None) -> bool:
        """Try a password beside the loop; a post without one takes as long to refuse."""
        if kept is None and self._open_posts:
            return True
        self._waiting += 1
        try:
            loop = asyncio.get_running_loop()
            right = await loop.run_in_executor(self._worker, fits, password[:LONGEST], kept or self._nobody)
        finally:
            self._waiting -= 1
        return right and kept is not None

    def _why_not(self, post: Post, kept: str | None) -> str:
        if kept is None:
            return (
                f"{post.name} has no password yet. On the machine that runs this page: "
                f"kerblight panel passwords --post {post.id}"
            )
        return f"That is not the password of {post.name}."

    def _let_in(self, request: Request, post: Post, person: str, mark: str) -> Response:
        """Begin a session; whatever session the device had before is over."""
        before = request.cookies.get(self._visits.cookie)
        if before:
            self._visits.sessions.end(before)
        token = self._visits.sessions.begin(post.id, person, mark)
        answer = RedirectResponse("/", 303)
        answer.set_cookie(
            self._visits.cookie,
            token,
            max_age=round(WHOLE_S),
            path="/",
            secure=self._visits.secure,
            httponly=True,
            samesite="strict",
        )
        return answer

    def _drop(self, answer: Response) -> None:
        answer.delete_cookie(
            self._visits.cookie, path="/", secure=self._visits.secure, httponly=True, samesite="strict"
        )

    def _show(
        self, wrong: str = "", status: int = HTTPStatus.OK, given: dict[str, str] | None = None
    ) -> Response:
        known = self._passwords.all()
        page = self._template.render(
            venue=self._venue,
            wrong=wrong,
            given=given or {},
            asked={post.id: post.id in known or not self._open_posts for post in self._venue.posts},
        )
        return HTMLResponse(page, status)
