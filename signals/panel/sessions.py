"""Who is signed in: a random token in the visitor's cookie, its hash here and in a file.

The file lets a page that was signed in go on after this process was started again; it holds no token,
so whoever reads it cannot sign in with it. A session ends by signing out, after `WHOLE_S` whatever
happens, after `IDLE_S` without any use (an open page uses it), and when its post's password changes.
"""

from __future__ import annotations

import hashlib
import hmac
import os
import secrets
from collections.abc import Callable
from pathlib import Path

import msgspec
from msgspec import Struct

WHOLE_S = 12 * 3600.0
IDLE_S = 30 * 60.0
WARN_S = 15 * 60.0
"""So long before its end a session's page asks for a new sign-in."""
TOKEN_BYTES = 32
NOTED_S = 60.0
"""How old the file's word on a session's last use may be."""
SESSIONS_MAX = 200
"""More at once end the one that was used longest ago."""


class Session(Struct, kw_only=True):
    """One signed-in device. Times are UTC s; `mark` is the password's hash it signed in with."""

    key: str
    post: str
    person: str
    begun_s: float
    seen_s: float
    mark: str

    @property
    def ends_s(self) -> float:
        """When it ends, however much it is used."""
        return self.begun_s + WHOLE_S

    def over(self, now_s: float) -> bool:
        """Whether its time is over."""
        return now_s >= min(self.ends_s, self.seen_s + IDLE_S)


def csrf_of(token: str) -> str:
    """Give the word a session's own pages send along, which no other site's page can know."""
    return hmac.new(token.encode(), b"csrf", hashlib.sha256).hexdigest()


def csrf_fits(token: str, given: str) -> bool:
    """Tell whether a request carries its session's word."""
    return hmac.compare_digest(csrf_of(token).encode(), given.encode())


class Sessions:
    """All of them. `now_s` is a clock of UTC s that never jumps back; `file` None keeps none."""

    def __init__(self, now_s: Callable[[], float], file: Path | None = None) -> None:
        self._now_s = now_s
        self._file = file
        self._noted_s = 0.0
        self._kept = {session.key: session for session in _read(file)}

    def begin(self, post: str, person: str, mark: str = "") -> str:
        """Sign a device in; gives its token, which is kept nowhere."""
        token, now_s = secrets.token_urlsafe(TOKEN_BYTES), self._now_s()
        key = _key(token)
        self._kept[key] = Session(key=key, post=post, person=person, begun_s=now_s, seen_s=now_s, mark=mark)
        if len(self._kept) > SESSIONS_MAX:
            del self._kept[min(self._kept.values(), key=lambda each: each.seen_s).key]
        self._save()
        return token

    def find(self, token: str) -> Session | None:
        """Give the session a token belongs to and note its use; None for a forged, ended or expired one."""
        session = self._kept.get(_key(token))
        if session is None or session.over(self._now_s()):
            return None
        session.seen_s = self._now_s()
        return session

    def end(self, token: str) -> None:
        """Sign a device out: its token counts for nothing from now on."""
        if self._kept.pop(_key(token), None) is not None:
            self._save()

    def sweep(self, still: Callable[[Session], bool] = lambda _: True) -> frozenset[str]:
        """End what is over, and what does not hold any more; gives the posts that are still signed in."""
        now_s = self._now_s()
        live = {key: each for key, each in self._kept.items() if not each.over(now_s) and still(each)}
        if len(live) != len(self._kept) or (live and now_s - self._noted_s > NOTED_S):
            self._kept = live
            self._save()
        return self.posts

    @property
    def posts(self) -> frozenset[str]:
        """The posts somebody is signed in at."""
        return frozenset(session.post for session in self._kept.values())

    def _save(self) -> None:
        """Write the file, whole or not at all; readable by its owner only."""
        self._noted_s = self._now_s()
        if self._file is None:
            return
        fresh = self._file.with_suffix(".new")
        fresh.unlink(missing_ok=True)
        with os.fdopen(os.open(fresh, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600), "wb") as file:
            file.write(msgspec.json.encode(list(self._kept.values())))
        fresh.replace(self._file)


def _key(token: str) -> str:
    return hashlib.sha256(token.encode()).hexdigest()


def _read(file: Path | None) -> list[Session]:
    """Read what was kept; a file that cannot be read keeps nobody: they sign in again."""
    if file is None:
        return []
    try:
        return msgspec.json.decode(file.read_bytes(), type=list[Session])
    except (OSError, msgspec.DecodeError):
        return []
