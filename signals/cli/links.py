"""Links of real processes: the broker by its URL, a client's certificate or password by its name."""

from __future__ import annotations

from pathlib import Path
from weakref import WeakSet

from signals.cli.data import broker_of, credentials_of, keys_of, read_credentials
from signals.cli.options import Address, address
from signals.errors import BadInput, Finding
from signals.mqtt.keys import Keys
from signals.mqtt.link import Credentials, Link, MqttLink, Owner, Will
from signals.part import MakeLink

MADE: WeakSet[Link] = WeakSet()
"""This process's links, for as long as somebody holds them: its health tells how many are up."""


def links(broker: str, data: Path, keys: Path | None = None, holder: str = "") -> MakeLink:
    """Make links to a broker ("": the one of the run that uses the folder).

    A client's certificate is found by its user in the folder of keys, which may be that of all holders
    with `holder` among them; without TLS its password is found in the data folder.

    Raises:
        BadInput: the URL, the keys or the credentials file cannot be used.

    """
    where = address(broker or broker_of(data))
    known = {} if where.secure else read_credentials(data)
    mine = keys_for(where, keys or (None if broker else keys_of(data)), holder)

    def make(
        client: str,
        *,
        subscriptions: tuple[tuple[str, int], ...] = (),
        will: Will | None = None,
        credentials: Credentials | None = None,
        owner: Owner | None = None,
    ) -> Link:
        link = MqttLink(
            where.host,
            where.port,
            client,
            subscriptions=subscriptions,
            will=will,
            credentials=credentials or credentials_of(known, client),
            owner=owner,
            tls=mine.pair(client).context if mine else None,
        )
        MADE.add(link)
        return link

    return make


def keys_for(where: Address, folder: Path | None, holder: str) -> Keys | None:
    """Give the keys for a broker: needed for mqtts, and for nothing else.

    Raises:
        BadInput: they are missing, or not needed.

    """
    if where.secure and folder is None:
        right = f"give the folder of keys for {where.url}; `kerblight wiring keys` makes it"
        raise BadInput([Finding("command line", 0, "--keys", "", right)])
    if folder is None:
        return None
    if not where.secure:
        right = f"keys are for mqtts://, and {where.url} is without TLS: write mqtts://, or leave --keys out"
        raise BadInput([Finding("command line", 0, "--keys", repr(str(folder)), right)])
    return Keys(folder, holder)
