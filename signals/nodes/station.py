"""A device on its link: carries messages between them, and wakes the device in time.

The watchdog is a timer of the event loop beside the message path: half a packet, a silent broker
or a dead connection do not hold it up.
"""

from __future__ import annotations

import asyncio
import logging
import secrets
from collections.abc import Callable

from signals.mqtt.codec import Malformed, decode, encode
from signals.mqtt.contract import Inject, Injected, NodeStatus
from signals.mqtt.link import Arrived, Link, Owner, Will
from signals.mqtt.topics import Topics
from signals.nodes.device import Device, Say
from signals.nodes.organ import Rejected
from signals.part import MakeLink

log = logging.getLogger(__name__)

RESOLUTION_MS = 1.0
"""By so much a timer may fire early at most."""


def draw() -> str:
    """Draw a word for a boot or an incarnation: random, so that no old message can ever fit."""
    return secrets.token_hex(4)


def _nothing() -> None:
    return None


class Station:
    """One device on its link.

    `up` is called whenever the link came up. With `goodbye` it says "gone" when it is cancelled.
    """

    def __init__(
        self,
        device: Device,
        make_link: MakeLink,
        topics: Topics,
        *,
        up: Callable[[], None] = _nothing,
        goodbye: bool = False,
    ) -> None:
        self.device = device
        self._make_link = make_link
        self._topics = topics
        self._up = up
        self._goodbye = goodbye
        self._inject = topics.name("inject", device.node.id)
        self._link: Link
        self._timer: asyncio.TimerHandle | None = None
        self._ended: asyncio.Future[bool]

    async def run(self) -> None:
        """Serve until cancelled; a reboot leaves the connection and comes back on a new one."""
        booting = True
        try:
            while True:
                if booting:
                    self.device.boot_up(self._now_ms())
                self._ended = asyncio.get_running_loop().create_future()
                self._link = self._connect()
                self._wind()
                booting = await self._served()
        finally:
            self._stop_timer()

    async def _served(self) -> bool:
        """Serve one connection until the device leaves it; True if it boots anew."""
        serving = asyncio.ensure_future(self._link.run())
        try:
            await asyncio.wait((serving, self._ended), return_when=asyncio.FIRST_COMPLETED)
        except asyncio.CancelledError:
            await self._say_goodbye()
            raise
        finally:
            serving.cancel()
            await asyncio.wait((serving,))
        if not serving.cancelled():
            serving.result()
        return await self._ended

    async def _say_goodbye(self) -> None:
        """Say what the will would: a link that is closed in good order leaves it unsaid."""
        if self._goodbye:
            will = self._will()
            self._link.publish(will.topic, will.payload, qos=will.qos, retain=will.retain)
            await asyncio.sleep(0)  # a link sends on the loop's next turn

    def _connect(self) -> Link:
        owner = Owner(on_message=self._on_message, on_up=self._on_up)
        names = (self._topics.name(*levels) for levels in self.device.subscriptions)
        return self._make_link(
            f"node-{self.device.node.id}",
            subscriptions=tuple((name, 0 if name == self._topics.name("beat") else 1) for name in names),
            will=self._will(),
            owner=owner,
        )

    def _will(self) -> Will:
        status = self.device.status
        gone = NodeStatus(
            status="gone",
            boot=status.boot,
            inc=status.inc,
            firmware=status.firmware,
            heads=status.heads,
            karts=status.karts,
            rejects=status.rejects,
            last_reject=status.last_reject,
        )
        return Will(self._topics.name("node", self.device.node.id, "status"), encode(gone))

    def _on_up(self) -> None:
        self._publish(self.device.join(self._now_ms()))
        self._up()

    def _on_message(self, arrived: Arrived) -> None:
        if arrived.topic == self._inject:
            self._on_inject(arrived)
        else:
            self._publish(self.device.hear(arrived, self._now_ms()))

    def _on_inject(self, arrived: Arrived) -> None:
        try:
            fault = decode(Inject, arrived.payload)
        except Malformed as why:
            log.warning("%s: %s", arrived.topic, why)
            return
        if arrived.retained:
            return
        try:
            came, said = self._break(fault)
        except Rejected as why:
            self._answer(Injected(id=fault.id, done=False, said=str(why)))
            return
        self._answer(Injected(id=fault.id, done=True, said=came))
        self._publish(said)

    def _break(self, fault: Inject) -> tuple[str, list[Say]]:
        if fault.event != "reboot":
            return self.device.inject(fault, self._now_ms())
        self._leave(booting=True)
        return f"{self.device.node.id} boots anew", []

    def _answer(self, injected: Injected) -> None:
        self._link.publish(self._topics.name("injected", self.device.node.id), encode(injected), qos=1)

    def poke(self) -> None:
        """Let the device look around now: something beside its messages has changed."""
        self._publish(self.device.wake(self._now_ms()))

    def _publish(self, said: list[Say]) -> None:
        for say in said:
            self._link.publish(
                self._topics.name(*say.levels), encode(say.message), qos=say.qos, retain=say.retain
            )
        if self.device.returning:
            self._leave(booting=False)
        self._wind()

    def _leave(self, *, booting: bool) -> None:
        """Leave this connection for a new one."""
        if not self._ended.done():
            self._ended.set_result(booting)

    def _wake(self) -> None:
        """Run the watchdog; should it fail, the whole process must, or a lamp could stay as it is.

        A timer may fire early by the clock's resolution: the device is woken for when it asked. One set
        before the device asked for a later time is set anew.
        """
        self._timer = None
        if self._now_ms() < self.device.due_ms - RESOLUTION_MS:
            self._wind()
            return
        try:
            self._publish(self.device.wake(max(self._now_ms(), self.device.due_ms)))
        except Exception as mistake:  # noqa: BLE001 - handed to `run`, which raises it
            if not self._ended.done():
                self._ended.set_exception(mistake)

    def _now_ms(self) -> float:
        """Read the node's own clock."""
        return asyncio.get_running_loop().time() * 1000

    def _wind(self) -> None:
        """See to it that the watchdog runs when the device wants to be woken; every beat moves that on."""
        due_s = self.device.due_ms / 1000
        if self._timer is None or due_s < self._timer.when():
            self._stop_timer()
            self._timer = asyncio.get_running_loop().call_at(due_s, self._wake)

    def _stop_timer(self) -> None:
        if self._timer:
            self._timer.cancel()
            self._timer = None
