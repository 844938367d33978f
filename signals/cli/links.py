"""Links of real processes: the broker by its URL, a client's password by its name."""

from __future__ import annotations

from pathlib import Path

from signals.cli.data import broker_of, credentials_of, read_credentials
from signals.cli.options import address
from signals.mqtt.link import Credentials, Link, MqttLink, Owner, Will
from signals.part import MakeLink


def links(broker: str, data: Path) -> MakeLink:
    """Make links to a broker ("": the one of the run that uses the folder).

    A client's credentials are found by its name in the data folder.

    Raises:
        BadInput: the URL, or the credentials file, cannot be used.

    """
    where = address(broker or broker_of(data))
    known = read_credentials(data)

    def make(
        client: str,
        *,
        subscriptions: tuple[tuple[str, int], ...] = (),
        will: Will | None = None,
        credentials: Credentials | None = None,
        owner: Owner | None = None,
    ) -> Link:
        return MqttLink(
            where.host,
            where.port,
            client,
            subscriptions=subscriptions,
            will=will,
            credentials=credentials or credentials_of(known, client),
            owner=owner,
        )

    return make
