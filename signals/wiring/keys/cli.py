"""`kerblight wiring keys DIR`: a venue's own authority, and the keys of everybody at its broker."""

from __future__ import annotations

import getpass
import ipaddress
import re
import sys
from datetime import UTC, datetime
from pathlib import Path
from typing import Annotated

import msgspec
import typer
from rich.console import Console
from rich.table import Table

from signals.cli.options import DEFAULT_VENUE, MQTTS_PORT, AsJson, VenueFile, wrong
from signals.cli.output import FELL_SHORT, HELD, console, print_json
from signals.errors import BadInput, Finding, Unusable
from signals.venue import load
from signals.wiring.keys.authority import AUTHORITY_DAYS, CERTIFICATE_DAYS
from signals.wiring.keys.folder import SOON, WARN, KeyFolder, Site, Told

SHORTEST = 8
"""Characters of a passphrase, as NIST SP 800-63B 5.1.1.2 has it for passwords (from memory)."""
_NAME = re.compile(r"(?=.{1,253}$)[A-Za-z0-9-]{1,63}(\.[A-Za-z0-9-]{1,63})*")


def keys(
    folder: Annotated[Path, typer.Argument(metavar="DIR", help="Where the keys are, or are to be.")],
    *,
    venue: VenueFile = DEFAULT_VENUE,
    renew: Annotated[
        bool, typer.Option("--renew", help=f"Make those anew that end within {SOON.days} days.")
    ] = False,
    revoke: Annotated[
        list[str] | None,
        typer.Option(
            metavar="HOLDER", help="Let this holder's keys count no more, and make it new ones; repeat it."
        ),
    ] = None,
    name: Annotated[
        list[str] | None,
        typer.Option(
            help="A name or address broker and page are found by; repeat it.", show_default="as before"
        ),
    ] = None,
    listen: Annotated[
        str | None,
        typer.Option(help="The address the broker listens on.", show_default="as before: 127.0.0.1"),
    ] = None,
    port: Annotated[
        int | None,
        typer.Option(min=1, max=65535, help="The broker's port.", show_default=f"as before: {MQTTS_PORT}"),
    ] = None,
    place: Annotated[
        Path | None,
        typer.Option(
            help="Where DIR/broker will lie on the broker's machine.", show_default="as before: where it is"
        ),
    ] = None,
    days: Annotated[
        int, typer.Option(min=1, max=AUTHORITY_DAYS, help="How long new certificates hold.")
    ] = CERTIFICATE_DAYS,
    locked: Annotated[
        bool, typer.Option("--locked", help="Lock a new authority's key with a passphrase.")
    ] = False,
    as_json: AsJson = False,
) -> None:
    """Make and keep a venue's keys and its own authority.

    A certificate for every user, and what mosquitto needs. DIR/authority stays where it is, best on a
    machine that is seldom on. Each other folder goes, whole, to the machine of its holder; DIR/broker has
    mosquitto.conf, the access list and the list of the revoked. Called again it makes what is missing,
    tells what ends when, and exits with 1 where one ends soon.

    Examples: kerblight wiring keys var/keys --name broker.lan --listen 0.0.0.0;
    kerblight wiring keys var/keys --renew; kerblight wiring keys var/keys --revoke post-p1
    """
    _check(name or [], listen, place)
    kept = KeyFolder(folder, load(venue), datetime.now(UTC))
    before = kept.book.site
    given = {
        "names": tuple(map(_plain, name)) if name else None,
        "listen": listen,
        "port": port,
        "place": str(place) if place else None,
    }
    site = msgspec.structs.replace(
        before, **{key: value for key, value in given.items() if value is not None}
    )
    try:
        kept.open(_passphrase(kept, locked=locked))
        told = kept.settle(site, renew=renew, revoke=frozenset(revoke or ()), days=days)
    except OSError as error:
        right = "give a folder that can be written"
        raise Unusable(f"{error.filename or folder}: {error.strerror or error}; {right}") from None
    if as_json:
        print_json({"site": site, "certificates": told, "left_over": kept.left_over()})
    else:
        _say(console(), folder, site, told, kept.left_over())
    raise typer.Exit(FELL_SHORT if any(one.short for one in told) else HELD)


def _check(names: list[str], listen: str | None, place: Path | None) -> None:
    """Refuse what would make a certificate or a configuration nobody can use; all at once."""
    findings = [
        Finding("command line", 0, "--name", repr(name), "a name such as broker.lan, or an address")
        for name in names
        if not _is_address(name) and not _NAME.fullmatch(name)
    ]
    if listen is not None and not _is_address(listen):
        right = "an address of the broker's machine, such as 192.168.7.2, or 0.0.0.0 for all of them"
        findings.append(Finding("command line", 0, "--listen", repr(listen), right))
    if place is not None and not (place.is_absolute() and str(place).isprintable()):
        findings.append(Finding("command line", 0, "--place", repr(str(place)), "a path from the root"))
    if findings:
        raise BadInput(findings)


def _plain(name: str) -> str:
    """Write an address in its one usual form."""
    return str(ipaddress.ip_address(name)) if _is_address(name) else name.lower()


def _is_address(text: str) -> bool:
    try:
        ipaddress.ip_address(text)
    except ValueError:
        return False
    return True


def _passphrase(kept: KeyFolder, *, locked: bool) -> bytes | None:
    """Ask for the passphrase where the authority's key has, or is to have, one."""
    new = not kept.founded
    if not (kept.locked or (locked and new)):
        return None
    if not sys.stdin.isatty():
        given = sys.stdin.readline().rstrip("\n")
    else:
        given = getpass.getpass("Passphrase of the authority: ")
        if new and given != getpass.getpass("Once more: "):
            raise wrong("passphrase", "the second", "the same twice")
    if new and len(given) < SHORTEST:
        raise BadInput([Finding("passphrase", 0, "--locked", "", f"give at least {SHORTEST} characters")])
    return given.encode()


def _say(out: Console, folder: Path, site: Site, told: list[Told], left_over: list[str]) -> None:
    table = Table("holder", "speaks as", "until", "", box=None, header_style="")
    holder = ""
    for one in told:
        note = f"{one.done}; {one.days_left} days left" if one.short else str(one.done)
        table.add_row(one.holder if one.holder != holder else "", one.name, one.until, note)
        holder = one.holder
    out.print(table)
    for name in left_over:
        out.print(
            f"{name} has no part at the venue any more: take its keys away by --revoke {name}", markup=False
        )
    out.print(
        f"\nThe broker: mosquitto -c {site.place or (folder / 'broker').resolve()}/mosquitto.conf",
        soft_wrap=True,
    )
    out.print(f"{folder}/authority signs for the whole venue: keep it off its machines.", soft_wrap=True)
    if any(one.short for one in told):
        out.print(f"Some end within {WARN.days} days: kerblight wiring keys {folder} --renew", soft_wrap=True)
