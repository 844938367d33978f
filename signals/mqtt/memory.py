"""The second link, shipped: a broker in memory, for drills, sequences and tests in virtual time.

It keeps what the contract leans on: order per client, quality of service 0 and 1, retained
messages, wills, clean sessions, one session per client id, the access list (a denied publish
looks successful), reconnecting. Everything goes through the running loop, so it is deterministic
and follows virtual time.

What it does NOT model: packets and their sizes, passwords (the user's name is believed),
duplicates of quality of service 1, full socket buffers, topics that begin with `$`, TLS, and the
milliseconds a network takes unless `delay` asks for them.
"""

from __future__ import annotations

import asyncio
from collections import deque
from collections.abc import Callable, Mapping
from dataclasses import replace
from typing import NamedTuple, Protocol

from signals.mqtt.link import Arrived, Credentials, Link, Owner, Will, pauses
from signals.mqtt.topics import matches

DETECTED_S = 4.5
"""After so many silent seconds a broker gives a client up: 1.5 times `link.KEEPALIVE_S`."""


class Allows(Protocol):
    """An access list (`signals.mqtt.access.Access`); None is an anonymous user."""

    def may_publish(self, user: str | None, topic: str) -> bool:
        """Tell whether a message of this user on this topic is passed on."""

    def may_read(self, user: str | None, topic: str) -> bool:
        """Tell whether a message on this topic is handed to this user."""


class _Parcel(NamedTuple):
    """A message under way; `retain` is the sender's wish, `Arrived.retained` the broker's mark."""

    message: Arrived
    retain: bool = False


def _at_once() -> float:
    return 0.0


class _Wire:
    """One direction of a connection: first in, first out, each after its delay; can be held."""

    def __init__(self, carry: Callable[[_Parcel], None], delay_s: Callable[[], float]) -> None:
        self._carry = carry
        self._delay_s = delay_s
        self._queue: deque[tuple[float, _Parcel]] = deque()
        self._turn: asyncio.Handle | None = None
        self._loop = asyncio.get_running_loop()
        self.held = False

    def put(self, parcel: _Parcel) -> None:
        self._queue.append((self._loop.time() + self._delay_s(), parcel))
        if self._turn is None:
            self.wake()

    def wake(self) -> None:
        """See to it that the first parcel is carried when it is due."""
        if self._turn or self.held or not self._queue:
            return
        loop, due = self._loop, self._queue[0][0]
        late = due <= loop.time()
        self._turn = loop.call_soon(self._take) if late else loop.call_at(due, self._take)

    def _take(self) -> None:
        self._turn = None
        _, parcel = self._queue.popleft()
        self.wake()
        self._carry(parcel)

    def flush(self) -> None:
        """Carry at once what is under way: the sender closes in good order."""
        while self._queue and not self.held:
            self._carry(self._queue.popleft()[1])
        self.cut()

    def cut(self) -> None:
        """Lose what is under way."""
        self._queue.clear()
        if self._turn:
            self._turn.cancel()
            self._turn = None


class _Session:
    """One connection of one client, from connecting to its end; nothing outlives it (clean session)."""

    def __init__(self, broker: MemoryBroker, link: MemoryLink) -> None:
        self.link = link
        self.ended: asyncio.Future[str] = asyncio.get_running_loop().create_future()
        self.giving_up: asyncio.TimerHandle | None = None
        delay_s = broker.delay_of(link.client)
        self.up = _Wire(lambda parcel: broker.pass_on(self.user, parcel), delay_s)
        self.down = _Wire(self.hand_over, delay_s)

    @property
    def user(self) -> str | None:
        return self.link.credentials.user if self.link.credentials else None

    def qos_of(self, topic: str) -> int | None:
        """Give the best quality of service the client subscribed a topic with; None if it did not."""
        return max((qos for f, qos in self.link.subscriptions if matches(f, topic)), default=None)

    def hold(self, *, held: bool) -> None:
        for wire in (self.up, self.down):
            wire.held = held
            wire.wake()

    def end(self, reason: str) -> None:
        self.link.up = False
        self.up.cut()
        self.down.cut()
        if self.giving_up:
            self.giving_up.cancel()
        if not self.ended.done():
            self.ended.set_result(reason)

    def hand_over(self, parcel: _Parcel) -> None:
        """Let the client's owner have a message."""
        try:
            self.link.owner.on_message(parcel.message)
        except Exception as mistake:  # noqa: BLE001 - it ends the owner's `run`, as on a real link
            if not self.ended.done():
                self.ended.set_exception(mistake)


class _Post:
    """One queue for all that is under way, emptied in one turn of the loop: first in, first out."""

    def __init__(self, broker: MemoryBroker) -> None:
        self._broker = broker
        self._queue: deque[tuple[_Session, _Parcel, bool]] = deque()
        self._turn: asyncio.Handle | None = None

    def put(self, session: _Session, parcel: _Parcel, *, said: bool) -> None:
        """Take what a client said, or what is for it."""
        self._queue.append((session, parcel, said))
        if self._turn is None:
            self._turn = asyncio.get_running_loop().call_soon(self.flush)

    def flush(self) -> None:
        """Carry all that is under way, and what comes of it; what is of a connection that is gone is lost."""
        try:
            while self._queue:
                self._carry(*self._queue.popleft())
        finally:
            if self._turn is not None:
                self._turn.cancel()
                self._turn = None

    def _carry(self, session: _Session, parcel: _Parcel, said: bool) -> None:  # noqa: FBT001 - of the queue
        if not self._broker.is_here(session):
            return
        if said:
            self._broker.pass_on(session.user, parcel)
        else:
            session.hand_over(parcel)


class MemoryBroker:
    """A broker in memory. `link` makes its clients; the other methods are the faults one can ask for.

    `at_once` hands all that is said on within the same turn of the loop, in the order in which it was said:
    quicker where much is said, without `partition` and `delay`.
    """

    def __init__(self, access: Allows | None = None, *, at_once: bool = False) -> None:
        self._access = access
        self._post = _Post(self) if at_once else None
        self._sessions: dict[str, _Session] = {}
        self._routes: dict[str, list[tuple[_Session, int]]] = {}
        self._may: dict[tuple[str | None, str], bool] = {}
        """Who may publish what: asked once, for the list never changes."""
        self._retained: dict[str, Arrived] = {}
        self._delays: dict[str, Callable[[], float]] = {}
        self._cut_off: set[str] = set()
        self._running = True

    def link(
        self,
        client: str,
        *,
        subscriptions: tuple[tuple[str, int], ...] = (),
        will: Will | None = None,
        credentials: Credentials | None = None,
        owner: Owner | None = None,
    ) -> MemoryLink:
        """Make a client's link (a `signals.part.MakeLink`); nothing connects before `run`."""
        return MemoryLink(
            self,
            client,
            subscriptions=subscriptions,
            will=will,
            credentials=credentials,
            owner=owner,
        )

    @property
    def retained(self) -> Mapping[str, bytes]:
        """What a new subscriber would be given, by topic."""
        return {topic: message.payload for topic, message in self._retained.items()}

    @property
    def connected(self) -> frozenset[str]:
        """The client ids with a session."""
        return frozenset(self._sessions)

    def stop(self) -> None:
        """Die: every client loses its connection, no will is said, nothing retained survives."""
        self._running = False
        self._retained.clear()
        self._routes.clear()
        for client in list(self._sessions):
            self._sessions.pop(client).end("the broker is gone")

    def start(self) -> None:
        """Come back empty after `stop`; clients find it at their next attempt."""
        self._running = True

    def drop(self, client: str) -> None:
        """Cut a client's connection: what is under way is lost, its will is said, it reconnects."""
        self._routes.clear()
        if session := self._sessions.pop(client, None):
            session.end("the connection was lost")
            self._say_will(session)

    def partition(self, client: str, *, detected_s: float = DETECTED_S) -> None:
        """Hold back all packets from and to a client, which still believes it is connected.

        `heal` within `detected_s` delivers everything late and in order, as TCP does. After it
        the session is lost, the will is said, and no attempt to connect succeeds before `heal`.
        """
        self._cut_off.add(client)
        if session := self._sessions.get(client):
            session.hold(held=True)
            loop = asyncio.get_running_loop()
            session.giving_up = loop.call_later(detected_s, self.drop, client)

    def heal(self, client: str) -> None:
        """End a partition."""
        self._cut_off.discard(client)
        if session := self._sessions.get(client):
            if session.giving_up:
                session.giving_up.cancel()
            session.hold(held=False)

    def delay(self, client: str, seconds: Callable[[], float]) -> None:
        """Let every message from and to a client take `seconds()`, drawn anew each time; order stays.

        Holds from the client's next connection; give a method of a seeded `random.Random`.
        """
        self._delays[client] = seconds

    def delay_of(self, client: str) -> Callable[[], float]:
        """Give the delay of a client's messages."""
        return self._delays.get(client, _at_once)

    def attach(self, link: MemoryLink) -> _Session | None:
        """Take a client in and send it what is retained; None if it cannot reach the broker."""
        if not self._running or link.client in self._cut_off:
            return None
        self.drop(link.client)  # one session per client id: the newcomer wins
        session = self._sessions[link.client] = _Session(self, link)
        self._routes.clear()
        for kept in self._retained.values():
            if (qos := self._offered(session, kept.topic)) is not None:
                self._hand(session, _Parcel(replace(kept, qos=min(qos, kept.qos), retained=True)))
        return session

    def detach(self, session: _Session) -> None:
        """Let a client go in good order: what it sent arrives, its will is not said."""
        if self._sessions.get(session.link.client) is session:
            session.up.flush()
            if self._post is not None:
                self._post.flush()
            del self._sessions[session.link.client]
            self._routes.clear()
        session.end("disconnected")

    def take(self, session: _Session, parcel: _Parcel) -> None:
        """Take what a client says."""
        if self._post is None:
            session.up.put(parcel)
        else:
            self._post.put(session, parcel, said=True)

    def _hand(self, session: _Session, parcel: _Parcel) -> None:
        """Hand a client what is for it."""
        if self._post is None:
            session.down.put(parcel)
        else:
            self._post.put(session, parcel, said=False)

    def is_here(self, session: _Session) -> bool:
        """Whether a connection still is."""
        return self._sessions.get(session.link.client) is session

    def pass_on(self, user: str | None, parcel: _Parcel) -> None:
        """Keep a message if it is to be retained, and hand it to everyone subscribed and allowed."""
        message = parcel.message
        if not self._may_publish(user, message.topic):
            return
        if parcel.retain:
            self._retained.pop(message.topic, None)
            if message.payload:
                self._retained[message.topic] = message
        for session, qos in self._route(message.topic):
            handed = message if qos >= message.qos else replace(message, qos=qos)
            self._hand(session, _Parcel(handed))

    def _may_publish(self, user: str | None, topic: str) -> bool:
        if self._access is None:
            return True
        known = self._may.get((user, topic))
        if known is None:
            known = self._may[user, topic] = self._access.may_publish(user, topic)
        return known

    def _route(self, topic: str) -> list[tuple[_Session, int]]:
        """Give who gets a topic, and how; found once until somebody comes or goes."""
        if topic not in self._routes:
            offered = ((session, self._offered(session, topic)) for session in self._sessions.values())
            self._routes[topic] = [(session, qos) for session, qos in offered if qos is not None]
        return self._routes[topic]

    def _offered(self, session: _Session, topic: str) -> int | None:
        if self._access and not self._access.may_read(session.user, topic):
            return None
        return session.qos_of(topic)

    def _say_will(self, session: _Session) -> None:
        if will := session.link.will:
            said = Arrived(will.topic, will.payload, will.qos)
            self.pass_on(session.user, _Parcel(said, retain=will.retain))


class MemoryLink(Link):
    """A client's connection to a `MemoryBroker`; made by `MemoryBroker.link`."""

    def __init__(
        self,
        broker: MemoryBroker,
        client: str,
        *,
        subscriptions: tuple[tuple[str, int], ...] = (),
        will: Will | None = None,
        credentials: Credentials | None = None,
        owner: Owner | None = None,
    ) -> None:
        super().__init__(client, subscriptions=subscriptions, will=will, credentials=credentials, owner=owner)
        self._broker = broker
        self._session: _Session | None = None

    async def run(self) -> None:
        """Keep connected until cancelled; an exception of the owner's callbacks ends it."""
        pause = pauses()
        while True:
            self._session = self._broker.attach(self)
            if self._session:
                reason = await self._serve(self._session)
                self.owner.on_down(reason)
                pause = pauses()
            await asyncio.sleep(next(pause))

    async def _serve(self, session: _Session) -> str:
        self.up = True
        try:
            self.owner.on_up()
            return await session.ended
        finally:
            self.up = False
            self._broker.detach(session)

    def _send(self, topic: str, payload: bytes, *, qos: int, retain: bool) -> bool:
        if self._session is None:
            return False
        self._broker.take(self._session, _Parcel(Arrived(topic, payload, qos), retain=retain))
        return True
