"""The folder of a venue's keys: what is in it, what is missing, what is renewed or revoked.

`authority/` never leaves the machine it was made on; every other folder goes, whole, to its holder.
Whatever goes wrong half-way, the next time makes what does not fit anew.
"""

from __future__ import annotations

import stat
from collections.abc import Iterable
from datetime import UTC, datetime, timedelta
from enum import StrEnum
from pathlib import Path

import msgspec
from cryptography import x509
from cryptography.exceptions import InvalidSignature
from cryptography.hazmat.primitives.serialization import load_pem_private_key
from msgspec import Struct

from signals.errors import BadInput, Finding
from signals.files import PUBLIC, write_whole
from signals.mqtt.access import access_list, mosquitto_acl
from signals.mqtt.keys import AUTHORITY
from signals.mqtt.mosquitto import ACCESS_LIST, OWN_LINES, REVOKED, Listener, with_certificates, written
from signals.venue.model import Venue
from signals.wiring.keys import authority
from signals.wiring.keys.authority import Signed
from signals.wiring.keys.holders import BROKER, Holder, holders

SOON = timedelta(days=90)
"""`--renew` makes those anew that end within so long."""
WARN = timedelta(days=30)
"""One that ends within so long is told as a shortcoming."""
CONFIGURATION = "mosquitto.conf"


class Done(StrEnum):
    """What was done about a certificate."""

    MADE = "made"
    KEPT = "kept"
    RENEWED = "renewed"
    REVOKED = "revoked and made anew"
    REMOVED = "revoked and removed"


class Site(Struct, frozen=True, kw_only=True):
    """What the broker's configuration and the servers' certificates are made for.

    `names` are what broker and page are found by; `place` is where the broker's folder lies on its machine.
    """

    venue: str
    listen: str = "127.0.0.1"
    port: int = 8883
    names: tuple[str, ...] = ()
    place: str = ""


class Issued(Struct, frozen=True, kw_only=True):
    """One certificate that was signed; `serial` in hexadecimal, times in ISO 8601, UTC."""

    serial: str
    holder: str
    name: str
    until: str
    revoked: str | None = None


class Book(Struct, frozen=True, kw_only=True):
    """`authority/record.json`."""

    site: Site
    issued: tuple[Issued, ...] = ()


class Told(Struct, frozen=True, kw_only=True):
    """One certificate as it is now."""

    holder: str
    name: str
    until: str
    done: Done
    days_left: int

    @property
    def short(self) -> bool:
        """Whether it ends too soon to be left alone."""
        return self.done is not Done.REMOVED and self.days_left < WARN.days


class KeyFolder:
    """One venue's keys. Nothing is written before `settle`.

    Raises:
        BadInput: the folder belongs to another venue, or its authority cannot be read.

    """

    def __init__(self, folder: Path, venue: Venue, now: datetime) -> None:
        self.folder = folder
        self.venue = venue
        self._now = now
        self._own = folder / "authority"
        self.book = self._read()
        self._authority: Signed | None = None
        if self.book.site.venue != venue.id:
            right = f"a folder for {venue.id}: this one holds the keys of {self.book.site.venue}"
            raise BadInput([Finding(str(folder), 0, "DIR", "", right)])

    @property
    def founded(self) -> bool:
        """Whether there is an authority already."""
        return (self._own / "authority.key").exists()

    @property
    def locked(self) -> bool:
        """Whether the authority's key asks for a passphrase."""
        return self.founded and b"ENCRYPTED" in (self._own / "authority.key").read_bytes()

    def open(self, passphrase: bytes | None) -> None:
        """Read the authority, or found it; a passphrase given then locks its key.

        Raises:
            BadInput: the files cannot be used, or the passphrase is wrong.

        """
        if not self.founded:
            self._found(passphrase)
            return
        try:
            crt, key = (self._own / f"authority.{part}" for part in ("crt", "key"))
            self._authority = authority.read(crt.read_bytes(), key.read_bytes(), passphrase)
        except (OSError, ValueError, TypeError) as wrong:
            right = f"must be the authority's files and passphrase ({wrong}); restore what was kept of them"
            raise BadInput([Finding(str(self._own), 0, "authority", "", right)]) from None

    def settle(self, site: Site, *, renew: bool, revoke: frozenset[str], days: int) -> list[Told]:
        """Make what is missing, renew and revoke what is asked for, write what goes with it; tells of each.

        Raises:
            BadInput: a holder to be revoked never had a certificate.

        """
        self._know(revoke)
        self.book = msgspec.structs.replace(self.book, site=site)
        self._revoke(revoke)
        told = [self._told("authority", "authority", self._ca.certificate, Done.KEPT)]
        told += [
            self._certificate(holder, name, renew=renew, again=holder.name in revoke, days=days)
            for holder in holders(self.venue)
            for name in holder.certificates
        ]
        told += [
            self._remove(name) for name in sorted(revoke - {holder.name for holder in holders(self.venue)})
        ]
        self._broker()
        return told

    def left_over(self) -> list[str]:
        """Give holders that have certificates, and no part at the venue any more."""
        now = {holder.name for holder in holders(self.venue)}
        return sorted({one.holder for one in self.book.issued if one.revoked is None} - now)

    # --- the authority

    @property
    def _ca(self) -> Signed:
        if self._authority is None:
            raise RuntimeError("open the folder first")
        return self._authority

    def _read(self) -> Book:
        file = self._own / "record.json"
        if not file.exists():
            return Book(site=Site(venue=self.venue.id))
        try:
            return msgspec.json.decode(file.read_bytes(), type=Book)
        except (OSError, msgspec.DecodeError) as wrong:
            right = f"must be what this verb wrote ({wrong}); restore it from where it was kept"
            raise BadInput([Finding(str(file), 0, "record", "", right)]) from None

    def _found(self, passphrase: bytes | None) -> None:
        self._private(self._own)
        self._authority = authority.found(self.venue.id, self._now)
        write_whole(self._own / "authority.key", self._ca.key_pem(passphrase))
        write_whole(self._own / "authority.crt", self._ca.pem(), mode=PUBLIC)
        self._keep()

    def _keep(self) -> None:
        record = msgspec.json.format(msgspec.json.encode(self.book), indent=1)
        write_whole(self._own / "record.json", record)

    # --- certificates

    def _certificate(self, holder: Holder, name: str, *, renew: bool, again: bool, days: int) -> Told:
        place = self._private(self.folder / holder.name)
        write_whole(place / AUTHORITY, self._ca.pem(), mode=PUBLIC)
        known = self._sound(holder, name)
        if known is not None and not (renew and known.not_valid_after_utc - self._now < SOON):
            return self._told(holder.name, name, known, Done.KEPT)
        if name == holder.name and holder.serves:
            signed = authority.server(self._ca, name, self._names(), self._now, days)
        else:
            signed = authority.client(self._ca, holder.name, name, self._now, days)
        self._note(holder.name, name, signed.certificate)
        write_whole(place / f"{name}.key", signed.key_pem())
        write_whole(place / f"{name}.crt", signed.pem(), mode=PUBLIC)
        done = Done.REVOKED if again else Done.RENEWED if known is not None else Done.MADE
        return self._told(holder.name, name, signed.certificate, done)

    def _sound(self, holder: Holder, name: str) -> x509.Certificate | None:
        """Give the certificate that is there, if it can stay: ours, with its key and names, not revoked."""
        place = self.folder / holder.name
        try:
            known = x509.load_pem_x509_certificate((place / f"{name}.crt").read_bytes())
            its = load_pem_private_key((place / f"{name}.key").read_bytes(), None)
            known.verify_directly_issued_by(self._ca.certificate)
        except (OSError, ValueError, TypeError, InvalidSignature):
            return None
        serves = name == holder.name and holder.serves
        fits = its.public_key() == known.public_key() and (not serves or _names_of(known) == self._names())
        return known if fits and self._standing(known) else None

    def _standing(self, known: x509.Certificate) -> bool:
        serial = f"{known.serial_number:x}"
        return any(one.serial == serial and one.revoked is None for one in self.book.issued)

    def _names(self) -> tuple[str, ...]:
        """Give what servers are found by: this machine's own names always."""
        return tuple(dict.fromkeys(("localhost", "127.0.0.1", "::1", *self.book.site.names)))

    def _note(self, holder: str, name: str, made: x509.Certificate) -> None:
        until = made.not_valid_after_utc.isoformat()
        one = Issued(serial=f"{made.serial_number:x}", holder=holder, name=name, until=until)
        self.book = msgspec.structs.replace(self.book, issued=(*self.book.issued, one))
        self._keep()  # before it is handed out: what is not in the record cannot be revoked

    def _told(self, holder: str, name: str, known: x509.Certificate, done: Done) -> Told:
        until = known.not_valid_after_utc
        days_left = (until - self._now).days
        return Told(holder=holder, name=name, until=until.date().isoformat(), done=done, days_left=days_left)

    # --- revoking

    def _know(self, revoke: Iterable[str]) -> None:
        known = {one.holder for one in self.book.issued}
        if unknown := sorted(set(revoke) - known):
            right = f"one of {', '.join(sorted(known)) or 'none yet'}"
            raise BadInput([Finding("command line", 0, "--revoke", repr(one), right) for one in unknown])

    def _revoke(self, revoke: frozenset[str]) -> None:
        at = self._now.isoformat()
        issued = tuple(
            msgspec.structs.replace(one, revoked=at) if one.holder in revoke and one.revoked is None else one
            for one in self.book.issued
        )
        self.book = msgspec.structs.replace(self.book, issued=issued)
        self._keep()

    def _remove(self, holder: str) -> Told:
        for file in sorted((self.folder / holder).glob("*")):
            file.unlink()
        if (self.folder / holder).is_dir():
            (self.folder / holder).rmdir()
        today = self._now.date().isoformat()
        return Told(holder=holder, name=holder, until=today, done=Done.REMOVED, days_left=0)

    # --- what goes with them

    def _broker(self) -> None:
        """Write the broker's configuration, access list, and list of the revoked."""
        place, site = self.folder / BROKER, self.book.site
        listener = Listener(Path(site.place or place.resolve()), site.listen, site.port)
        self._private(place / OWN_LINES)
        says = (
            f"# The broker of {self.venue.id}. Made by `kerblight wiring keys`; your own lines: {OWN_LINES}"
        )
        conf = written((says, *with_certificates(listener)))
        write_whole(place / CONFIGURATION, conf.encode(), mode=PUBLIC)
        write_whole(place / ACCESS_LIST, mosquitto_acl(access_list(self.venue)).encode())
        revoked = {
            int(one.serial, 16): datetime.fromisoformat(one.revoked).astimezone(UTC)
            for one in self.book.issued
            if one.revoked is not None
        }
        write_whole(place / REVOKED, authority.revocations(self._ca, revoked, self._now), mode=PUBLIC)

    def _private(self, place: Path) -> Path:
        """Make a folder that only its owner can look into."""
        place.mkdir(parents=True, exist_ok=True)
        if stat.S_IMODE(place.stat().st_mode) & 0o077:
            place.chmod(0o700)
        return place


def _names_of(known: x509.Certificate) -> tuple[str, ...]:
    try:
        names = known.extensions.get_extension_for_class(x509.SubjectAlternativeName).value
    except x509.ExtensionNotFound:
        return ()
    return tuple(str(name.value) for name in names)
