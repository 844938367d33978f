"""The data folder: journal, logs, credentials, and the lock that keeps a second run out."""

from __future__ import annotations

import fcntl
import json
import os
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from pathlib import Path

from signals.errors import BadInput, Finding, Unusable
from signals.files import own_folder
from signals.mqtt.link import Credentials, user_of


def journal_file(data: Path) -> Path:
    """Where the controller's journal is kept."""
    return data / "journal.sqlite"


def log_file(data: Path, name: str) -> Path:
    """Where a part's log goes under `run`."""
    return data / "logs" / f"{name}.log"


def broker_of(data: Path) -> str:
    """Give the URL of the broker that a run of this folder uses, else of this machine's own."""
    return _named(data)[0] or "mqtt://127.0.0.1"


def keys_of(data: Path) -> Path | None:
    """Give the folder of keys that goes with `broker_of`; None where that broker needs none."""
    folder = _named(data)[1]
    return Path(folder) if folder else None


def _named(data: Path) -> tuple[str, str]:
    """Read the two lines of the broker's file: its URL, the folder of keys; either may be empty."""
    try:
        lines = _broker_file(data).read_text(encoding="utf-8").splitlines()
    except OSError:
        lines = []
    url, keys, *_ = (*lines, "", "")
    return url.strip(), keys.strip()


def _broker_file(data: Path) -> Path:
    return data / "broker"


@contextmanager
def broker_named(data: Path, url: str, keys: Path | None = None) -> Iterator[None]:
    """Keep the broker's URL and keys in the folder, for verbs called beside the run, as long as it lives."""
    _broker_file(data).write_text(f"{url}\n{keys or ''}\n", encoding="utf-8")
    try:
        yield
    finally:
        _broker_file(data).unlink(missing_ok=True)


def credentials_file(data: Path) -> Path:
    """Where users' passwords are kept: a JSON object, user to password, readable by its owner only."""
    return data / "credentials.json"


def prepare(data: Path) -> Path:
    """Make the folder and its `logs`, for their owner alone: the record has names of persons.

    Raises:
        Unusable: it cannot be made or written.

    """
    try:
        own_folder(data / "logs")
    except OSError as error:
        raise Unusable(f"--data {data}: {error.strerror}; give a folder that can be written") from error
    if not os.access(data, os.W_OK):
        raise Unusable(f"--data {data}: no permission to write; give a folder that can be written")
    return data


@contextmanager
def locked(data: Path) -> Iterator[None]:
    """Hold the folder for one run; the kernel lets go of it however the run ends.

    Raises:
        Unusable: another run holds it; says which process.

    """
    prepare(data)
    with (data / "lock").open("a+", encoding="ascii") as held:
        try:
            fcntl.flock(held, fcntl.LOCK_EX | fcntl.LOCK_NB)
        except BlockingIOError:
            held.seek(0)
            owner = held.read().strip() or "unknown"
            right = "end that run, or give this one another folder by --data"
            raise Unusable(f"{data}/lock: a run (process {owner}) uses this folder; {right}") from None
        held.truncate(0)
        held.write(str(os.getpid()))
        held.flush()
        yield


def read_credentials(data: Path) -> Mapping[str, str]:
    """Give every known user's password; empty where there is no file.

    Raises:
        BadInput: the file is no JSON object of strings.

    """
    path = credentials_file(data)
    if not path.exists():
        return {}
    right = 'must be a JSON object such as {"post-desk": "…"}; delete it and `kerblight run` makes a new one'
    try:
        known = json.loads(path.read_text(encoding="utf-8"))
    except ValueError as error:
        raise BadInput([Finding(str(path), getattr(error, "lineno", 0), "credentials", "", right)]) from None
    if not isinstance(known, dict) or not all(isinstance(word, str) for word in known.values()):
        raise BadInput([Finding(str(path), 0, "credentials", "", right)])
    return known


def credentials_of(known: Mapping[str, str], client: str) -> Credentials | None:
    """Give the credentials of a client named USER or USER.DEVICE, None where the user is unknown."""
    user = user_of(client)
    return Credentials(user, known[user]) if user in known else None
