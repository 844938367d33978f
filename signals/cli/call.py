"""`kerblight call WORD`: call from a post, and show the answer."""

from __future__ import annotations

import asyncio
import os
from collections.abc import Mapping
from contextlib import suppress
from typing import Annotated, Any

import msgspec
import typer

from signals.caller import Caller
from signals.cli.data import broker_of
from signals.cli.links import links
from signals.cli.options import (
    DEFAULT_BROKER,
    DEFAULT_DATA,
    DEFAULT_VENUE,
    AsJson,
    BrokerUrl,
    DataDir,
    KeysDir,
    VenueFile,
    wrong,
)
from signals.cli.output import FELL_SHORT, HELD, bordered, console, print_json
from signals.errors import BadInput, Finding, Unusable
from signals.mqtt.codec import Malformed, decode
from signals.mqtt.contract import Answer, Group
from signals.mqtt.link import Arrived, Owner
from signals.mqtt.topics import Topics
from signals.part import MakeLink
from signals.venue import load
from signals.venue.model import Venue
from signals.words import Aspect, HoldKind, Verdict, Word

CONNECT_WITHIN_S = 3.0
STATE_WITHIN_S = 0.5

app = typer.Typer(add_completion=False, rich_markup_mode=None)


@app.command()
def call(
    word: Annotated[Word, typer.Argument(help="What to call.")],
    *,
    post: Annotated[str, typer.Option(help="The post it is called from.")],
    where: Annotated[str | None, typer.Option(help="A sector, or pit or aside for `account`.")] = None,
    kart: Annotated[int | None, typer.Option(help="A kart's number.")] = None,
    entry: Annotated[
        list[str] | None, typer.Option(metavar="N:DRIVER:CLASS", help="A member of a group; repeat it.")
    ] = None,
    to: Annotated[
        str | None, typer.Option(help="The kart a driver swaps to; or next, for the group after this.")
    ] = None,
    item: Annotated[str | None, typer.Option(help="A checklist item.")] = None,
    hold: Annotated[
        str | None, typer.Option(help="Which red or yellow: stop:POST or caution:SECTOR:POST.")
    ] = None,
    kind: Annotated[HoldKind | None, typer.Option(help="Why red or yellow is called.")] = None,
    partner: Annotated[
        str | None, typer.Option(help="Who else may lift it: a post, or a person's id.")
    ] = None,
    checked: Annotated[bool, typer.Option("--checked", help="Somebody looked.")] = False,
    head: Annotated[str | None, typer.Option(help="A signal head.")] = None,
    aspect: Annotated[Aspect | None, typer.Option(help="An aspect to show in a test.")] = None,
    lamp: Annotated[str | None, typer.Option(help="A single lamp to light in a test.")] = None,
    limit_kmh: Annotated[float | None, typer.Option(help="A limit to allow in a test.")] = None,
    verdict: Annotated[Verdict | None, typer.Option(help="What the opening check came to.")] = None,
    until: Annotated[int | None, typer.Option(help="How long a verdict holds, UTC ms.")] = None,
    reason: Annotated[str | None, typer.Option(help="For the record.")] = None,
    by: Annotated[str | None, typer.Option(help="Who calls; a claim, for the record.")] = None,
    venue: VenueFile = DEFAULT_VENUE,
    broker: BrokerUrl = DEFAULT_BROKER,
    data: DataDir = DEFAULT_DATA,
    keys: KeysDir = None,
    as_json: AsJson = False,
) -> None:
    """Call WORD from a post, on a venue that runs; exits 1 when it is refused.

    Examples: kerblight call stop --post p1; kerblight call caution --post p1 --where s3 --reason spin;
    kerblight call lift --post p1 --hold caution:s3:p1 --checked
    """
    given = locals()
    plain = ("where", "kart", "to", "item", "hold", "kind", "partner", "head", "aspect", "lamp")
    named = ("limit_kmh", "verdict", "until", "reason", "by")
    fields = {name: given[name] for name in (*plain, *named) if given[name] is not None}
    if checked:
        fields["checked"] = True
    if entry:
        fields["entries"] = [_entry(text) for text in entry]
    here = load(venue)
    _known_post(here, post)
    url = broker or broker_of(data)
    make_link = links(broker, data, keys, f"post-{post}")
    opening = _Opening(here)
    answer = asyncio.run(_ask(here, post, {"call": word, **_numbered(fields)}, url, make_link, opening))
    raise typer.Exit(_show(word, answer, opening.beside(word), as_json=as_json))


class _Opening:
    """With what restriction the track was opened today, as `group` says."""

    def __init__(self, venue: Venue) -> None:
        self.topic = Topics.of(venue.id, simulated=venue.simulated).name("group")
        self._restriction = ""

    def take(self, arrived: Arrived) -> None:
        """Take the group, where it can be read."""
        if arrived.topic == self.topic:
            with suppress(Malformed):
                opening = decode(Group, arrived.payload).opening
                restricted = opening.verdict is Verdict.OPEN_RESTRICTED
                self._restriction = opening.restriction or "" if restricted else ""

    def beside(self, word: Word) -> str:
        """Give what stands beside every ready and every start."""
        return self._restriction if word in (Word.ARM, Word.START) else ""


def _numbered(fields: Mapping[str, Any]) -> dict[str, Any]:
    """`to` may name a kart by its number."""
    to = fields.get("to")
    return {**fields, "to": int(to)} if isinstance(to, str) and to.isdigit() else dict(fields)


def _entry(text: str) -> dict[str, Any]:
    number, *rest = text.split(":")
    if len(rest) != 2 or not number.isdigit() or not all(rest):  # noqa: PLR2004 - driver and class
        raise wrong("--entry", text, "write NUMBER:DRIVER:CLASS, such as 4:Ada:adult")
    return {"number": int(number), "driver": rest[0], "class": rest[1]}


def _known_post(venue: Venue, post: str) -> None:
    posts = [known.id for known in venue.posts]
    if post not in posts:
        raise wrong("--post", post, f"one of {', '.join(posts)} ({venue.path})")


async def _ask(
    venue: Venue, post: str, fields: dict[str, Any], broker: str, make_link: MakeLink, opening: _Opening
) -> Answer:
    caller = Caller(
        Topics.of(venue.id, simulated=venue.simulated),
        post,
        make_link,
        device=f"call-{os.getpid()}",
        also=((opening.topic, 1),),
        owner=Owner(on_message=opening.take),
    )
    running = asyncio.create_task(caller.run())
    try:
        await _connected(caller, broker)
        await _state_or_without(caller)
        answer = await caller.ask(fields)
    except msgspec.ValidationError as error:
        raise BadInput([Finding("command line", 0, str(fields["call"]), "", str(error))]) from None
    finally:
        running.cancel()
        await asyncio.gather(running, return_exceptions=True)
    if answer is None:
        right = (
            "the controller may be away, or this post's password or certificate wrong; call by voice and flag"
        )
        raise Unusable(f"no answer within 1 s at {broker}: {right}")
    return answer


async def _connected(caller: Caller, broker: str) -> None:
    try:
        await asyncio.wait_for(caller.connected(), CONNECT_WITHIN_S)
    except TimeoutError:
        right = (
            "start `kerblight run`, or give the folder of one that is up by --data; call by voice and flag"
        )
        raise Unusable(f"no broker answers at {broker}{caller.why}: {right}") from None


async def _state_or_without(caller: Caller) -> None:
    """Restrictive words need no state: a stop goes out even where none was heard."""
    try:
        await asyncio.wait_for(caller.heard.wait(), STATE_WITHIN_S)
    except TimeoutError:
        return


def _show(word: Word, answer: Answer, restriction: str, *, as_json: bool) -> int:
    if as_json:
        print_json(answer)
    elif answer.accepted:
        note = "" if answer.recorded else " (acted on, but the record could not be written)"
        console().print(f"✓ {word}{note}")
        if restriction:
            console().print(f"Restricted: {restriction}", markup=False)
    else:
        console().print(bordered(f"{word} refused", [refusal.sentence for refusal in answer.refusals]))
    return HELD if answer.accepted else FELL_SHORT
