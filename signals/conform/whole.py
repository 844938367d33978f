"""Cases that judge the whole run: what was said in it, on which topics, and what the broker let pass."""

from __future__ import annotations

import asyncio
from collections.abc import AsyncIterator
from contextlib import asynccontextmanager

from signals.conform.bench import Bench
from signals.conform.cases import case
from signals.conform.sentences import ANSWER_MS, EVERY
from signals.conform.verdict import Failed, Inconclusive
from signals.mqtt.access import access_list
from signals.mqtt.link import Arrived, Link, Owner
from signals.mqtt.topics import matches
from signals.part import MakeLink

NAMED_MAX = 3


@case(52, "its own topics only", EVERY, "C6", "C7")
async def own_topics(bench: Bench) -> str:
    """Hold everything it published and subscribed to, in the whole run, against the access list."""
    granted = access_list(bench.venue).grants[f"node-{bench.node.id}"]
    watched = bench.proxy.watched
    published = {sent.topic for sent in watched.sent}
    foreign = sorted(t for t in published if not any(matches(f, t) for f in granted.publishes))
    foreign += sorted(f for f in watched.filters if f not in granted.reads)
    if foreign:
        raise Failed(f"not its own: {', '.join(foreign[:NAMED_MAX])}")
    return f"{len(watched.sent)} messages on {len(published)} topics"


@case(53, "all it says keeps to the schemas", EVERY, "C8")
async def schemas(bench: Bench) -> str:
    """Look back at everything it said that could not be read, or was out of order."""
    wrong = bench.ill + bench.proxy.watched.broken
    boots = {status.boot for status in bench.statuses}
    wrong += sorted(
        {f"boot {h.report.boot} in a report only" for h in bench.heard if h.report.boot not in boots}
    )
    if wrong:
        raise Failed(f"{len(wrong)} times, such as {'; '.join(dict.fromkeys(wrong[:NAMED_MAX]))}")
    return f"{len(bench.heard)} reports and {len(bench.statuses)} statuses read"


@case(54, "the access list is in force", EVERY, "C45")
async def access(bench: Bench) -> str:
    """Publish, as the node's user, what is not the node's: nothing of it may pass."""
    passed: list[str] = []
    owner = Owner(on_message=lambda arrived: _note(arrived, passed), on_up=bench.changed)
    tried = [bench.topics.name(*levels) for levels in _foreign(bench)]
    async with _client(bench.make_link, "controller.eye", tuple((t, 0) for t in tried), owner) as eye:
        await bench.until(lambda: eye.up, 5000, "the kit's eye is on the broker")
        async with _client(
            bench.make_link, f"node-{bench.node.id}.kit", (), Owner(on_up=bench.changed)
        ) as intruder:
            try:
                await bench.until(lambda: intruder.up, 5000, "the node's user is known")
            except Failed as why:
                raise Inconclusive(f"{why}: its password is needed (--data)") from None
            for topic in tried:
                intruder.publish(topic, b"{}", qos=0)
            await asyncio.sleep(ANSWER_MS / 1000)
    if passed:
        raise Failed(f"the broker let pass what is not its own: {', '.join(passed)}")
    return f"{len(tried)} tried, none passed"


def _note(arrived: Arrived, passed: list[str]) -> None:
    if arrived.payload == b"{}":
        passed.append(arrived.topic)


def _foreign(bench: Bench) -> tuple[tuple[str, ...], ...]:
    return (
        ("head", "elsewhere", "shown"),
        ("kart", "998", "taken"),
        ("input", "elsewhere", "state"),
        ("node", "elsewhere", "status"),
        ("head", "elsewhere", "aspect"),
        ("controller", "status"),
        ("answer", bench.node.id),
    )


@asynccontextmanager
async def _client(
    make: MakeLink, name: str, reads: tuple[tuple[str, int], ...], owner: Owner
) -> AsyncIterator[Link]:
    link = make(name, subscriptions=reads, owner=owner)
    running = asyncio.ensure_future(link.run())
    try:
        yield link
    finally:
        running.cancel()
        await asyncio.gather(running, return_exceptions=True)
