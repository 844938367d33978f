"""Folders of keys: whose certificates end when, and whether each fits its key, its authority and its name."""

from __future__ import annotations

import stat
from collections.abc import Iterator
from datetime import UTC, datetime
from pathlib import Path

from cryptography import x509
from cryptography.exceptions import InvalidSignature
from cryptography.hazmat.primitives.serialization import load_pem_private_key
from cryptography.x509.oid import NameOID

from signals.doctor.seen import Look, Seen
from signals.mqtt.keys import AUTHORITY, OTHERS
from signals.mqtt.mosquitto import REVOKED
from signals.wiring.keys.folder import WARN

AGAIN = "copy the holder's folder again"
OPEN = "others can read its key"
RENEW = "where the authority is: kerblight wiring keys DIR --renew, then copy the folder again"


def look(keys: Path, now: datetime | None = None) -> list[Seen]:
    """Look at a holder's folder, or at one with all holders."""
    seen, at = Look("keys"), now or datetime.now(UTC)
    folders = [folder for folder in (keys, *sorted(keys.glob("*/"))) if (folder / AUTHORITY).is_file()]
    if not folders:
        mend = "give --keys a folder that `kerblight wiring keys` made"
        seen.at("keys", False, f"{keys}: no {AUTHORITY} in it or below", mend)
    for folder in folders:
        _folder(seen, folder, at)
    return seen.seen


def _folder(seen: Look, folder: Path, now: datetime) -> None:
    """Tell of a folder in one line, and in one more of whatever is wrong in it."""
    try:
        authority = x509.load_pem_x509_certificate((folder / AUTHORITY).read_bytes())
    except (OSError, ValueError) as wrong:
        seen.at(f"{folder.name}/{AUTHORITY}", False, str(wrong), AGAIN)
        return
    days_left = [(authority.not_valid_after_utc - now).days]
    if days_left[0] < WARN.days:
        mend = "make a new folder of keys: no certificate can outlive its authority"
        seen.at(f"{folder.name}/{AUTHORITY}", False, _left(days_left[0]), mend)
    files = [file for file in sorted(folder.glob("*.crt")) if file.name != AUTHORITY]
    days_left += [days for file in files if (days := _certificate(seen, file, authority, now)) is not None]
    if len(days_left) > 1 and min(days_left) >= WARN.days:
        count = len(days_left) - 1
        said = f"{count} certificate{'s' if count > 1 else ''}, {min(days_left[1:])} days left"
        seen.at(folder.name, True, said)
    if (folder / REVOKED).exists():
        _revoked(seen, folder / REVOKED, now)


def _certificate(seen: Look, file: Path, authority: x509.Certificate, now: datetime) -> int | None:
    """Give the days a certificate is still good for; None, and told, where it is not."""
    what = f"{file.parent.name}/{file.stem}"
    try:
        known = x509.load_pem_x509_certificate(file.read_bytes())
        wrong = "; ".join(_wrong(known, file, authority))
    except (OSError, ValueError, TypeError) as unread:
        seen.at(what, False, f"cannot be used: {unread}", AGAIN)
        return None
    days = (known.not_valid_after_utc - now).days
    if not wrong and known.not_valid_before_utc > now:
        wrong = f"valid only from {known.not_valid_before_utc:%Y-%m-%d}: is the clock right?"
    if wrong:
        seen.at(what, False, wrong, f"chmod 600 {file.with_suffix('.key')}" if OPEN in wrong else AGAIN)
        return None
    if days < WARN.days:
        seen.at(what, False, _left(days), RENEW)
        return None
    return days


def _left(days: int) -> str:
    return f"{days} days left" if days >= 0 else "expired"


def _wrong(known: x509.Certificate, file: Path, authority: x509.Certificate) -> Iterator[str]:
    """Say what keeps a certificate from being used."""
    key = file.with_suffix(".key")
    if load_pem_private_key(key.read_bytes(), None).public_key() != known.public_key():
        yield "its key is another's"
    try:
        known.verify_directly_issued_by(authority)
    except (ValueError, TypeError, InvalidSignature):
        yield "another authority signed it"
    names = [each.value for each in known.subject.get_attributes_for_oid(NameOID.COMMON_NAME)]
    if names != [file.stem]:
        yield f"it is {str(names[0]) if names else 'nobody'}'s"
    if stat.S_IMODE(key.stat().st_mode) & OTHERS:
        yield OPEN


def _revoked(seen: Look, file: Path, now: datetime) -> None:
    try:
        known = x509.load_pem_x509_crl(file.read_bytes())
        until = known.next_update_utc
    except (OSError, ValueError) as wrong:
        seen.at("list of the revoked", False, str(wrong), "copy the broker's folder again")
        return
    fresh = until is not None and until > now
    said = f"{len(list(known))} revoked" if fresh else "out of date: the broker lets nobody in"
    seen.at(
        "list of the revoked", fresh, said, "kerblight wiring keys DIR, then copy the broker's folder again"
    )
