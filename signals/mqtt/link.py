"""The one door to MQTT: what every participant holds, whatever carries the messages.

A `Link` is one client's connection. It renews its subscriptions whenever it comes up, tells its
owner of coming up and going down, hands over messages one at a time, and queues nothing while
it is down: what an absent broker did not take is gone, and the owner says it anew on `on_up`.
"""

from __future__ import annotations

from abc import ABC, abstractmethod
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field


@dataclass(frozen=True, slots=True)
class Arrived:
    """A message as it came: `retained` is the broker's mark that it is old."""

    topic: str
    payload: bytes
    qos: int = 0
    retained: bool = False


@dataclass(frozen=True, slots=True)
class Will:
    """What the broker says for a client that vanished; for reporting only."""

    topic: str
    payload: bytes
    qos: int = 1
    retain: bool = True


@dataclass(frozen=True, slots=True)
class Credentials:
    """A user known to the broker's access list; the topic is the identity."""

    user: str
    password: str = field(repr=False)


def _nothing(_: object = None) -> None:
    return None


@dataclass(slots=True)
class Owner:
    """What a link calls back. All run on the event loop and must not block.

    `on_message` an arrived message; `on_up` connected and subscribed; `on_down` with the reason.
    """

    on_message: Callable[[Arrived], None] = _nothing
    on_up: Callable[[], None] = _nothing
    on_down: Callable[[str], None] = _nothing


RETRY_FIRST_S = 0.1
RETRY_LAST_S = 1.0


def pauses() -> Iterator[float]:
    """Seconds to wait before each next attempt to connect: 0.1, doubling, at most 1."""
    pause = RETRY_FIRST_S
    while True:
        yield pause
        pause = min(2 * pause, RETRY_LAST_S)


class Link(ABC):
    """One client's connection; `run` keeps it up until cancelled."""

    def __init__(
        self,
        client: str,
        *,
        subscriptions: tuple[tuple[str, int], ...] = (),
        will: Will | None = None,
        credentials: Credentials | None = None,
        owner: Owner | None = None,
    ) -> None:
        self.client = client
        self.subscriptions = subscriptions
        self.will = will
        self.credentials = credentials
        self.owner = owner or Owner()
        self.up = False

    @abstractmethod
    async def run(self) -> None:
        """Connect, subscribe, hand over messages; on loss reconnect (`pauses`). Ends by cancellation."""

    def publish(self, topic: str, payload: bytes, *, qos: int = 0, retain: bool = False) -> bool:
        """Send without waiting, in order; False (and nothing queued) while the link is down.

        True means handed over, not taken: a publish that the access list denies looks the same.
        Raises ValueError for a topic no broker would take and for a `qos` other than 0 or 1.
        """
        if not topic or set(topic) & set("+#\0") or qos not in (0, 1):
            raise ValueError(f"cannot publish on {topic!r} with qos {qos}")
        return self.up and self._send(topic, payload, qos=qos, retain=retain)

    @abstractmethod
    def _send(self, topic: str, payload: bytes, *, qos: int, retain: bool) -> bool:
        """Hand one checked message to the carrier, which is up; False if it takes no more."""
