"""Posts' passwords: hashed with scrypt, in a file of the data folder that only its owner can read."""

from __future__ import annotations

import base64
import binascii
import hashlib
import hmac
import json
import os
import secrets
from collections.abc import Mapping
from pathlib import Path

from signals.errors import BadInput, Finding

COST, BLOCK, LANES = 2**14, 8, 5
"""scrypt's N, r and p: 16 MiB and about a fifth of a second a try; one of the OWASP password storage
cheat sheet's equal choices (from memory)."""
MEMORY_BYTES = 64 * 2**20
SALT_BYTES, KEY_BYTES = 16, 32
SHORTEST, LONGEST = 8, 128
"""Characters. Eight at least and no rules of composition: NIST SP 800-63B 5.1.1.2 (from memory)."""
_PARTS = 6


def hashed(password: str) -> str:
    """Hash a password as `scrypt$N$r$p$salt$key`, with a salt of its own."""
    salt = secrets.token_bytes(SALT_BYTES)
    key = _key(password, salt, COST, BLOCK, LANES)
    return "$".join(("scrypt", str(COST), str(BLOCK), str(LANES), _text(salt), _text(key)))


def fits(password: str, kept: str) -> bool:
    """Tell whether a password is the one that was hashed; takes as long whatever the answer."""
    try:
        _, cost, block, lanes, salt, key = kept.split("$")
        due = base64.b64decode(key, validate=True)
        came = _key(password, base64.b64decode(salt, validate=True), int(cost), int(block), int(lanes))
    except (ValueError, binascii.Error):
        return False
    return hmac.compare_digest(came, due)


def weakness(password: str) -> str:
    """Say why a password cannot be taken; empty where it can."""
    if not SHORTEST <= len(password) <= LONGEST:
        return f"{len(password)} characters: give {SHORTEST} to {LONGEST}"
    if len(set(password)) == 1:
        return "one character over and over: give several"
    return ""


class Passwords:
    """The file: post's id to hash. Read anew each time, so that a change counts at once."""

    def __init__(self, path: Path) -> None:
        self.path = path

    def all(self) -> Mapping[str, str]:
        """Give every post's hash; empty without a file.

        Raises:
            BadInput: the file cannot be used.

        """
        try:
            known = json.loads(self.path.read_text(encoding="utf-8"))
        except FileNotFoundError:
            return {}
        except (OSError, ValueError) as error:
            raise self._bad(str(error)) from None
        if not isinstance(known, dict) or not all(_well_formed(kept) for kept in known.values()):
            raise self._bad("no JSON object of scrypt hashes")
        return known

    def of(self, post: str) -> str | None:
        """Give a post's hash; None where it has no password."""
        return self.all().get(post)

    def put(self, post: str, password: str | None) -> None:
        """Set a post's password, or with None take it away."""
        rest = {other: kept for other, kept in self.all().items() if other != post}
        known = rest if password is None else {**rest, post: hashed(password)}
        fresh = self.path.with_suffix(".new")
        fresh.unlink(missing_ok=True)
        made = os.open(fresh, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600)
        with os.fdopen(made, "w", encoding="utf-8") as file:
            json.dump(known, file, indent=1)
        fresh.replace(self.path)

    def _bad(self, value: str) -> BadInput:
        right = "must be what `kerblight panel passwords` writes; delete it and set the passwords anew"
        return BadInput([Finding(str(self.path), 0, "passwords", value, right)])


def _key(password: str, salt: bytes, cost: int, block: int, lanes: int) -> bytes:
    return hashlib.scrypt(
        password.encode(), salt=salt, n=cost, r=block, p=lanes, maxmem=MEMORY_BYTES, dklen=KEY_BYTES
    )


def _text(raw: bytes) -> str:
    return base64.b64encode(raw).decode("ascii")


def _well_formed(kept: object) -> bool:
    return isinstance(kept, str) and kept.startswith("scrypt$") and len(kept.split("$")) == _PARTS
