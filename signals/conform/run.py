"""A conformance run: broker, proxy, node and bench together; the cases one after the other."""

from __future__ import annotations

import asyncio
import shutil
import tempfile
from collections.abc import AsyncIterator, Callable
from contextlib import asynccontextmanager
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path

from msgspec import Struct

from signals.cli.data import credentials_of, read_credentials
from signals.cli.links import links
from signals.cli.options import Address
from signals.conform.bench import LATE_S, Bench
from signals.conform.cases import Case, cases
from signals.conform.declared import Declared
from signals.conform.organ import ContactOrgan, HeadOrgan, KartOrgan, Organ
from signals.conform.proxy import Proxy
from signals.conform.sentences import Kind
from signals.conform.subject import Subject
from signals.conform.verdict import Failed, Inconclusive, NotDeclared, Proven, Result, Verdict, printable
from signals.errors import BadInput, Finding, Unusable
from signals.mqtt.broker import Running, embedded_broker
from signals.venue.model import Node, Venue

CASE_S = 45.0
"""A case that takes longer hangs."""
TRIES = 3
"""A failure that a late machine may explain is tried again, and in the end it is inconclusive.

A node that ended by itself, or did something permissive, needs no second try."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Order:
    """What to run. Without `broker` the kit brings one along; the proxy listens at `listen`."""

    kind: Kind
    id: str
    venue: Venue
    declared: Declared
    data: Path
    broker: Address | None = None
    listen: tuple[str, int] = ("127.0.0.1", 0)
    wait_s: float = 30.0
    only: frozenset[int] = frozenset()


class Outcome(Struct, frozen=True):
    """A whole run, as `--json` writes it; `at` is when it ended, UTC."""

    at: str
    kind: str
    node: str
    organ: str
    title: str
    venue: str
    firmware: str
    results: tuple[Result, ...]

    @property
    def held(self) -> bool:
        """Whether nothing failed and nothing stayed open."""
        return not any(one.verdict in (Verdict.FAIL, Verdict.INCONCLUSIVE) for one in self.results)

    def count(self, verdict: Verdict) -> int:
        """Count the cases that came to a verdict."""
        return sum(one.verdict is verdict for one in self.results)


def target(kind: Kind, name: str, venue: Venue) -> tuple[Node, Organ]:
    """Find the node and what of it is looked at, by the node's id or by that of its head, kart or input.

    Raises:
        BadInput: nothing of that kind has this id.

    """
    organs: dict[str, tuple[Node, Organ]] = {}
    for node in venue.nodes:
        for hung_id, organ in _organs(kind, node, venue):
            organs.setdefault(node.id, (node, organ))
            organs[hung_id] = (node, organ)
    if name not in organs:
        right = (
            f"a node with a {'call box' if kind is Kind.POST else kind} of {venue.id}: {', '.join(organs)}"
        )
        raise BadInput([Finding("command line", 0, "--id", repr(name), right)])
    return organs[name]


def _organs(kind: Kind, node: Node, venue: Venue) -> list[tuple[str, Organ]]:
    if kind is Kind.HEAD:
        heads = [head for head in venue.heads if head.id in node.heads]
        return [(head.id, HeadOrgan(head, venue)) for head in heads]
    if kind is Kind.KART:
        return [(str(kart), KartOrgan(kart)) for kart in node.karts]
    return [(contact, ContactOrgan(contact)) for contact in node.inputs]


async def run(
    order: Order, tell: Callable[[Result], None], ready: Callable[[Subject], None] = lambda _: None
) -> Outcome:
    """Run the cases; `tell` hears each result, `ready` where, and as whom, the node finds its broker.

    Raises:
        BadInput: there is no such node.
        Unusable: no broker, a command that cannot be started, no node within `wait_s`.

    """
    node, organ = target(order.kind, order.id, order.venue)
    async with _broker(order) as (address, data, own):
        bench = Bench(order.venue, node, organ, links(address.url, data), own)
        bench.proxy = Proxy((address.host, address.port), bench.changed)
        async with bench.proxy.listening(*order.listen):
            with tempfile.TemporaryDirectory() as kept:
                bench.subject = _subject(order, bench, node, data, Path(kept) / "node.log")
                ready(bench.subject)
                results = await _lead(order, bench, tell)
    said = organ.report[1]
    firmware = printable(bench.status.firmware) if bench.status else ""
    at = datetime.now(UTC).isoformat(timespec="seconds")
    return Outcome(at, order.kind, node.id, said, order.declared.title, order.venue.id, firmware, results)


@asynccontextmanager
async def _broker(order: Order) -> AsyncIterator[tuple[Address, Path, Running | None]]:
    """Give the broker to use, the folder with its users' passwords, and the kit's own if it is that."""
    if order.broker:
        yield order.broker, order.data, None
        return
    folder = Path(tempfile.mkdtemp(prefix="kerblight-conform-"))
    try:
        async with embedded_broker(order.venue, folder) as running:
            yield Address(running.host, running.port), folder, running
    finally:
        shutil.rmtree(folder, ignore_errors=True)


def _subject(order: Order, bench: Bench, node: Node, data: Path, log: Path) -> Subject:
    known = credentials_of(read_credentials(data), f"node-{node.id}")
    places = {
        "host": bench.proxy.host,
        "port": str(bench.proxy.port),
        "user": f"node-{node.id}",
        "password": known.password if known else "",
        "data": str(data),
    }
    return Subject(order.declared, places, log, bench.changed)


async def _lead(order: Order, bench: Bench, tell: Callable[[Result], None]) -> tuple[Result, ...]:
    """Start everything, play the cases, end everything."""
    leading = asyncio.ensure_future(bench.run())
    try:
        await _ready(order, bench)
        results = []
        for each in cases(order.kind):
            if not order.only or each.number in order.only:
                results.append(await play(each, bench))
                tell(results[-1])
        return tuple(results)
    finally:
        await bench.subject.kill()
        leading.cancel()
        await asyncio.gather(leading, return_exceptions=True)


async def _ready(order: Order, bench: Bench) -> None:
    try:
        await bench.connected(5.0)
        await bench.subject.start()
        await bench.until(
            lambda: bool(bench.subject.ended or (bench.proxy.watched.connects and bench.status)),
            order.wait_s * 1000,
            f"node {bench.node.id} connects to {bench.proxy.host}:{bench.proxy.port} and says its status",
        )
    except Failed as why:
        raise Unusable(f"{why}\n{bench.subject.tail()}".rstrip()) from None
    if bench.subject.ended:
        raise Unusable(f"node {bench.node.id}: {bench.subject.ended}")


async def play(each: Case, bench: Bench) -> Result:
    """Play one case, again if it failed while this machine was late."""
    loop = asyncio.get_running_loop()
    began_s = loop.time()
    for last in range(1, TRIES + 1):
        verdict, said, sure = await _verdict(each, bench)
        bench.look_late()
        if bench.foreign:
            verdict, said = Verdict.INCONCLUSIVE, "a controller leads this venue beside the kit"
        if verdict is not Verdict.FAIL or sure or bench.late_s < LATE_S:
            break
        if last == TRIES:
            said = f"this machine was {bench.late_s * 1000:.0f} ms late; {said}"
            verdict = Verdict.INCONCLUSIVE
    took = round((loop.time() - began_s) * 1000)
    return Result(each.number, each.title, each.sentences, verdict, said, took)


async def _verdict(each: Case, bench: Bench) -> tuple[Verdict, str, bool]:
    """Play a case once; gives also whether no delay of this machine can be why it failed."""
    try:
        async with asyncio.timeout(CASE_S):
            await bench.calm()
            return Verdict.PASS, await each.play(bench) or "", True
    except Failed as why:
        ended = bench.subject.ended
        sure = isinstance(why, Proven) or bool(ended)
        return Verdict.FAIL, "; ".join(filter(None, (ended, str(why)))), sure
    except NotDeclared as why:
        return Verdict.NOT_DECLARED, str(why), True
    except Inconclusive as why:
        return Verdict.INCONCLUSIVE, str(why), True
    except TimeoutError:
        return Verdict.INCONCLUSIVE, f"not done within {CASE_S:.0f} s", True
