"""A process's keys: the venue's authority, and for each user it speaks as a certificate and its key.

`kerblight wiring keys` makes the folders, one for each holder: `ca.crt`, `USER.crt`, `USER.key`. The
certificate's common name is the user, so the broker's access list goes by something nobody can type in.
A key that others on this machine can read is refused.
"""

from __future__ import annotations

import ssl
import stat
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

from signals.errors import BadInput, Finding
from signals.mqtt.link import user_of

AUTHORITY = "ca.crt"
OTHERS = stat.S_IWGRP | stat.S_IXGRP | stat.S_IRWXO
"""Rights a key's file must give nobody. Its group may read it: so a service of its own user can."""


class _Closing(ssl.SSLSocket):
    """Closes itself when the other end is not who it should be; the MQTT client would not."""

    def do_handshake(self, block: bool = False) -> None:  # noqa: FBT001, FBT002 - as its base has it
        try:
            super().do_handshake(block)
        except (OSError, ValueError):
            self.close()
            raise


@dataclass(frozen=True, slots=True)
class Pair:
    """The files of one user: its certificate, its key, and the authority that signs both ends."""

    authority: Path
    certificate: Path
    key: Path

    def context(self) -> ssl.SSLContext:
        """Make what TLS needs to be this user; read anew each time, so that renewed files count.

        Raises OSError (ssl.SSLError is one) where the files cannot be used.
        """
        context = ssl.create_default_context(ssl.Purpose.SERVER_AUTH, cafile=str(self.authority))
        context.sslsocket_class = _Closing
        context.minimum_version = ssl.TLSVersion.TLSv1_2
        context.load_cert_chain(self.certificate, self.key)
        return context


@dataclass(frozen=True, slots=True)
class Keys:
    """A folder of keys as one process finds its own in it.

    `folder` is the holder's own folder, or the one above with all holders; `holder` names the one to look in.
    """

    folder: Path
    holder: str

    def pair(self, client: str) -> Pair:
        """Find the files of a client's user.

        Raises:
            BadInput: a file is missing, or a key can be read by others; says how to mend it.

        """
        user = user_of(client)
        places = list(self._places(user))
        place = next((place for place in places if (place / f"{user}.crt").is_file()), None)
        if place is None:
            right = (
                f"must hold {user}.crt, here or in {self.holder}/; "
                "`kerblight wiring keys` makes it where the venue's authority is"
            )
            raise BadInput([Finding(str(self.folder), 0, "--keys", "", right)])
        pair = Pair(place / AUTHORITY, place / f"{user}.crt", place / f"{user}.key")
        if findings := [*_missing(pair), *_open_to_others(pair.key)]:
            raise BadInput(findings)
        return pair

    def _places(self, user: str) -> Iterator[Path]:
        yield self.folder
        yield self.folder / self.holder
        yield self.folder / user


def _missing(pair: Pair) -> list[Finding]:
    right = "must be there beside the certificate; copy the holder's whole folder"
    return [
        Finding(str(file), 0, "--keys", "", right)
        for file in (pair.authority, pair.key)
        if not file.is_file()
    ]


def _open_to_others(key: Path) -> list[Finding]:
    mode = stat.S_IMODE(key.stat().st_mode) if key.is_file() else 0
    if not mode & OTHERS:
        return []
    right = f"a key nobody else may read; mend it: chmod 600 {key}"
    return [Finding(str(key), 0, "mode", f"{mode:o}", right)]
