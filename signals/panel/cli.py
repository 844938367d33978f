"""`kerblight panel`: the page for tablet, phone and desk; its passwords."""

from __future__ import annotations

import getpass
import ipaddress
import sys
from pathlib import Path
from typing import Annotated

import typer

from signals.cli.data import prepare
from signals.cli.links import links
from signals.cli.options import (
    DEFAULT_BROKER,
    DEFAULT_DATA,
    DEFAULT_LOG,
    DEFAULT_VENUE,
    PAGE_PORT,
    AsJson,
    BrokerUrl,
    DataDir,
    KeysDir,
    Logs,
    Metrics,
    VenueFile,
    wrong,
)
from signals.cli.output import console, print_json
from signals.cli.process import Telling, run_part
from signals.errors import BadInput, Finding
from signals.health.logs import set_up
from signals.panel.passwords import Passwords, weakness
from signals.venue import load
from signals.venue.model import Venue

app = typer.Typer(add_completion=False, rich_markup_mode=None)


@app.callback(invoke_without_command=True)
def panel(
    context: typer.Context,
    *,
    venue: VenueFile = DEFAULT_VENUE,
    broker: BrokerUrl = DEFAULT_BROKER,
    data: DataDir = DEFAULT_DATA,
    keys: KeysDir = None,
    log: Logs = DEFAULT_LOG,
    metrics: Metrics = "",
    host: Annotated[
        str, typer.Option(help="The address to serve on; another than this machine's own needs TLS.")
    ] = "127.0.0.1",
    port: Annotated[int, typer.Option(min=0, max=65535, help="The port; 0 takes a free one.")] = PAGE_PORT,
    certificate: Annotated[Path | None, typer.Option(help="TLS: the certificate, PEM.")] = None,
    key: Annotated[Path | None, typer.Option(help="TLS: its private key, PEM.")] = None,
    without_tls: Annotated[
        bool, typer.Option("--without-tls", help="Serve other machines in the clear all the same.")
    ] = False,
    name: Annotated[
        list[str] | None, typer.Option(help="A name browsers call this machine by; repeat it.")
    ] = None,
) -> None:
    """Serve the page for tablet, phone and desk, and the drivers' board, until told to end.

    With --keys other machines are served by the certificate among them, unless --certificate names another.

    Examples: kerblight panel; kerblight panel --host 192.168.7.2 --certificate panel.pem --key panel.key
    """
    set_up(log, "panel")
    if context.invoked_subcommand is not None:
        return
    loaded, folder = load(venue), prepare(data)
    local = _local(host)
    if keys is not None and not local and certificate is None and key is None:
        certificate, key = _served(keys)
    _check_tls(local=local, certificate=certificate, key=key, without_tls=without_tls)
    from signals.panel.service import Listening, Panel  # noqa: PLC0415 - passwords need no server
    from signals.panel.site import Setting  # noqa: PLC0415 - likewise

    setting = Setting(
        data=folder,
        secure=certificate is not None,
        open_posts=loaded.simulated and local,
        names=frozenset(each.lower() for each in name or ()),
        threaded=True,
    )
    part = Panel(
        loaded, links(broker, folder, keys, "panel"), setting, Listening(host, port, certificate, key)
    )
    said = console()
    said.print(f"{loaded.name}: {part.url}  drivers' board: {part.url}board")
    if not setting.open_posts:
        _say_passwords(loaded, Passwords(folder / "panel-passwords.json"))
    if without_tls and not local:
        said.print("Without TLS: whoever is on this network can read passwords and sessions as they pass.")
    run_part("panel", part, Telling(folder, loaded.id, metrics))


@app.command()
def passwords(
    *,
    post: Annotated[
        str | None, typer.Option(help="Set this post's password: asked for, or a line of stdin.")
    ] = None,
    remove: Annotated[bool, typer.Option("--remove", help="Take it away instead.")] = False,
    venue: VenueFile = DEFAULT_VENUE,
    data: DataDir = DEFAULT_DATA,
    as_json: AsJson = False,
) -> None:
    """Set the posts' passwords, or tell which have one. Pages signed in with an old one are signed out.

    Examples: kerblight panel passwords; kerblight panel passwords --post p1
    """
    loaded = load(venue)
    kept = Passwords(prepare(data) / "panel-passwords.json")
    posts = [each.id for each in loaded.posts]
    if post is not None and post not in posts:
        raise wrong("--post", post, f"one of {', '.join(posts)} ({loaded.path})")
    if post is not None:
        kept.put(post, None if remove else _asked(post))
    have = {each: each in kept.all() for each in posts}
    if as_json:
        print_json({"passwords": have})
        return
    none = "none: nobody can sign in there"
    none += ", but on this machine, where a simulated venue asks for none" if loaded.simulated else ""
    for each, has in have.items():
        console().print(f"{each:<16}  {'has a password' if has else none}", soft_wrap=True)


def _local(host: str) -> bool:
    """Whether an address is this machine's own, for nobody else to reach."""
    try:
        return host == "localhost" or ipaddress.ip_address(host).is_loopback
    except ValueError:
        raise wrong("--host", host, "an address of this machine, such as 127.0.0.1 or 192.168.7.2") from None


def _served(keys: Path) -> tuple[Path | None, Path | None]:
    """Give the page's own certificate and key among the keys; nothing where there is none."""
    places = (place for place in (keys, keys / "panel") if (place / "panel.crt").is_file())
    place = next(places, None)
    return (place / "panel.crt", place / "panel.key") if place else (None, None)


def _check_tls(*, local: bool, certificate: Path | None, key: Path | None, without_tls: bool) -> None:
    """Refuse half a certificate, files that are not there, and passwords in the clear by oversight."""
    findings = []
    if (certificate is None) != (key is None):
        findings.append(Finding("command line", 0, "--certificate, --key", "", "give both, or none"))
    for option, file in (("--certificate", certificate), ("--key", key)):
        if file is not None and not file.is_file():
            findings.append(Finding("command line", 0, option, repr(str(file)), "a PEM file that is there"))
    if not local and certificate is None and not without_tls:
        right = (
            "passwords would cross the network in the clear: give --certificate and --key "
            "(docs/panel.md tells how to make them), or say --without-tls"
        )
        findings.append(Finding("command line", 0, "--host", "", right))
    if findings:
        raise BadInput(findings)


def _say_passwords(venue: Venue, kept: Passwords) -> None:
    """Say which posts nobody can sign in at."""
    without = [post.id for post in venue.posts if post.id not in kept.all()]
    if without:
        said = f"No password yet for {', '.join(without)}: kerblight panel passwords --post {without[0]}"
        console().print(said)


def _asked(post: str) -> str:
    """Ask for a password twice, or read it from what is piped in."""
    if sys.stdin.isatty():
        password = getpass.getpass(f"Password for {post}: ")
        if password != getpass.getpass("Once more: "):
            raise wrong("password", "the second", "the same twice")
    else:
        password = sys.stdin.readline().rstrip("\n")
    if why := weakness(password):
        raise BadInput([Finding("password", 0, post, "", why)])
    return password
