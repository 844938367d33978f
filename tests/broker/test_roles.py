"""Every role on every topic, writing and reading, at a real mosquitto that lets in certificates only.

Who may say and who may read what is written here by hand, from the contract's table (docs/contract.md), not
taken from the code that makes the access list.
"""

from __future__ import annotations

import shutil
from collections.abc import Iterator
from pathlib import Path

import msgspec
import pytest

from signals.mqtt.access import users
from signals.venue import load
from signals.venue.model import Venue
from tests.broker.site import Ear, joined, make_keys, mosquitto
from tests.mqtt.small import small_venue
from tests.ports import free_port

pytestmark = [
    pytest.mark.broker,
    pytest.mark.skipif(shutil.which("mosquitto") is None, reason="mosquitto is not installed"),
]

STAFF = ("controller", "monitor", "post", "instructor")
SCREENS = (*STAFF, "reader", "board")
CONTRACT: tuple[tuple[str, str, tuple[str, ...]], ...] = (
    ("beat", "controller", (*SCREENS, "node")),
    ("state", "controller", SCREENS),
    ("group", "controller", (*STAFF, "board")),
    ("head/{head}/aspect", "controller", (*SCREENS, "world", "owner")),
    ("head/{head}/shown", "owner", (*SCREENS, "world")),
    ("kart/{kart}/limit", "controller", (*SCREENS, "world", "owner")),
    ("kart/{kart}/caps", "controller", (*SCREENS, "world", "owner")),
    ("kart/{kart}/taken", "owner", (*SCREENS, "world")),
    ("kart/{kart}/where", "locator", SCREENS),
    ("loop/{loop}/passed", "gateway", SCREENS),
    ("node/{node}/status", "owner", SCREENS),
    ("input/{input}/state", "owner", SCREENS),
    ("call/{post}", "owner", STAFF),
    ("answer/{post}", "controller", (*STAFF, "reader")),
    ("monitor/status", "monitor", SCREENS),
    ("monitor/trip", "monitor", (*SCREENS, "node")),
    ("monitor/reset/{post}", "owner", STAFF),
    ("controller/status", "controller", SCREENS),
)
"""Topic, who says it, who reads it. `owner` is the node or post behind the topic's name."""
SIMULATED: tuple[tuple[str, str, tuple[str, ...]], ...] = (
    ("world", "world", ("post", "instructor", "reader", "board")),
    ("inject/{addressee}", "instructor", ("instructor", "owner")),
    ("injected/{addressee}", "owner", ("instructor", "post", "reader")),
)
NOBODYS = (
    "",
    "nonsense",
    "head",
    "head/h1",
    "head/h1/aspect/more",
    "call",
    "group/more",
    "controller/status/more",
)
"""Below the venue's root, but no topic of the contract."""


def names(venue: Venue, place: str) -> Iterator[tuple[str, str]]:
    """Give every name of a kind with the user behind it."""
    nodes = [(node, f"node-{node.id}") for node in venue.nodes]
    match place:
        case "head":
            yield from ((head, user) for node, user in nodes for head in node.heads)
        case "kart":
            yield from ((str(kart), user) for node, user in nodes for kart in node.karts)
        case "input":
            yield from ((contact, user) for node, user in nodes for contact in node.inputs)
        case "node":
            yield from ((node.id, user) for node, user in nodes)
        case "addressee":
            yield from ((node.id, user) for node, user in nodes if node.simulated)
            yield "world", "world"
        case "post":
            yield from ((post.id, f"post-{post.id}") for post in venue.posts)
        case "loop":
            yield from ((loop.id, "gateway") for loop in venue.loops)
        case _:
            yield "", ""


def due(venue: Venue) -> Iterator[tuple[str, str, tuple[str, ...], str]]:
    """Give every topic of the contract, who says it, who reads it, who is behind it."""
    for address, sayer, readers in (*CONTRACT, *(SIMULATED if venue.simulated else ())):
        place = address.partition("{")[2].partition("}")[0]
        for name, owner in names(venue, place):
            topic = address.replace(f"{{{place}}}", name) if place else address
            locator = owner if not venue.simulated else "gateway"
            yield topic, {"owner": owner, "locator": locator}.get(sayer, sayer), readers, owner


def reads(user: str, readers: tuple[str, ...], owner: str) -> bool:
    kind = user.partition("-")[0]
    return kind in readers or ("owner" in readers and user == owner)


def root(venue: Venue) -> str:
    return f"{'kerblight-sim' if venue.simulated else 'kerblight'}/1/{venue.id}"


def foreign(venue: Venue) -> list[str]:
    """Give topics nobody may write: of no contract, another venue's, the other root's, the broker's own."""
    other = "kerblight" if venue.simulated else "kerblight-sim"
    return [
        *(f"{root(venue)}/{name}" for name in NOBODYS if name),
        f"{other}/1/{venue.id}/beat",
        f"{root(venue)}-2/beat",
        f"{root(venue)[: -len(venue.id)]}other/beat",
        "beat",
        "$SYS/broker/version",
        "$CONTROL/dynamic-security/v1",
    ]


def harbour() -> Venue:
    """Give Harbour Loop as if all its equipment were real."""
    known = load(Path(__file__).parents[2] / "configs/harbour-loop.toml")
    real = tuple(msgspec.structs.replace(node, simulated=False) for node in known.nodes)
    return msgspec.structs.replace(known, nodes=real)


VENUES = {
    "simulated": small_venue,
    "real": lambda: small_venue(simulated=False),
    "harbour": harbour,
}


@pytest.mark.parametrize("which", VENUES)
async def test_every_role_on_every_topic_writes_and_reads_what_the_contract_says(
    tmp_path: Path, which: str
) -> None:
    venue, port = VENUES[which](), free_port()
    make_keys(tmp_path, venue, port=port)
    table = list(due(venue))
    assert len({topic for topic, *_ in table}) == len(table)
    ears = {user: Ear(tmp_path, port, user, "#", "$SYS/#") for user in users(venue)}
    expected = {
        user: {
            (f"{root(venue)}/{topic}", sayer.encode())
            for topic, sayer, readers, owner in table
            if reads(user, readers, owner)
        }
        for user in ears
    }
    async with mosquitto(tmp_path, port), joined(*ears.values()):
        for user, ear in ears.items():
            own = [f"{root(venue)}/{topic}" for topic, sayer, *_ in table if sayer == user]
            others = [f"{root(venue)}/{topic}" for topic, sayer, *_ in table if sayer != user]
            for topic in (*foreign(venue), *others, *own):  # what is denied is decided before what is not
                ear.say(topic, user.encode())
        for user, ear in ears.items():
            await ear.until(lambda ear=ear, user=user: len(ear.heard) >= len(expected[user]))  # type: ignore[misc]
        last = f"{root(venue)}/controller/status"
        ears["controller"].say(last, b"the end")
        for user, ear in ears.items():
            if (last, b"controller") in expected[user]:
                await ear.until(lambda ear=ear: (last, b"the end") in ear.heard)  # type: ignore[misc]
    for user, ear in ears.items():
        heard = [one for one in ear.heard if one != (last, b"the end")]
        assert set(heard) == expected[user], user
        assert len(heard) == len(expected[user]), user
    writes = len(ears) * (len(table) + len(foreign(venue)))
    print(
        f"{which}: {len(ears)} users, {len(table)} topics and {len(foreign(venue))} others: {writes} writes"
    )


def test_the_table_here_names_every_topic_of_the_contract() -> None:
    page = (Path(__file__).parents[2] / "docs/contract.md").read_text(encoding="utf-8")
    named = {address for address, *_ in (*CONTRACT, *SIMULATED)}
    assert all(
        f"`{address}`" in page or address.replace("{", "<").replace("}", ">") in page for address in named
    )


async def test_what_is_retained_is_not_handed_to_who_may_not_read_it(tmp_path: Path) -> None:
    venue, port = small_venue(simulated=False), free_port()
    make_keys(tmp_path, venue, port=port)
    here = root(venue)
    async with mosquitto(tmp_path, port):
        controller = Ear(tmp_path, port, "controller", f"{here}/group", f"{here}/state")
        async with joined(controller):
            for topic in ("group", "state"):
                controller.say(f"{here}/{topic}", topic.encode(), retain=True)
            await controller.until(lambda: len(controller.heard) == 2)
        reader, node = (Ear(tmp_path, port, user, f"{here}/#") for user in ("reader", "node-n1"))
        desk = Ear(tmp_path, port, "post-desk", f"{here}/#")
        async with joined(reader, node, desk):
            await desk.until(lambda: len(desk.heard) == 2)
            await reader.until(lambda: reader.heard)
        assert [topic for topic, _ in reader.heard] == [f"{here}/state"]
        assert node.heard == []
