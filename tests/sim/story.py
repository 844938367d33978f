"""A desk that hears scripted messages: everything goes in as bytes, as from a broker."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any

import msgspec

from signals.mqtt import contract as c
from signals.mqtt.link import Arrived
from signals.mqtt.topics import Topics
from signals.words import PIT, Aspect, Because, Condition, HoldKind, Phase, Verdict, Word
from sim import demo
from sim.ground import Ground
from sim.view.desk import Desk
from sim.view.hands import Hands

if TYPE_CHECKING:
    from signals.venue.model import Venue

BOOT = "k3v9x2"
NOON = 1_767_268_800_000


@dataclass
class Story:
    """Tell a desk what happens, message by message; `now_s` is the story's clock."""

    venue: Venue
    now_s: float = 100.0
    seq: int = 1
    calls: list[c.Call] = field(default_factory=list)
    connected: bool = True

    def __post_init__(self) -> None:
        self.topics = Topics.of(self.venue.id, simulated=self.venue.simulated)
        self.desk = Desk(self.venue)
        self.hands = Hands(self.desk, self._publish)
        self.desk.linked(up=True)
        self.holds: list[c.HoldView] = []
        self.phase = Phase.CLOSED
        self.members: list[c.Entry] = []
        self.next: c.NextGroup | None = None
        self.confirmed: dict[str, c.Confirmation | None] = {}
        self.karts: dict[str, c.KartView] = {
            str(kart.number): c.KartView(
                place=PIT,
                call="none",
                slowed="none",
                limit_kmh=0,
                because=Because.SESSION_NOT_OPEN,
                link=True,
                let_out=False,
                button=False,
            )
            for kart in self.venue.karts
        }
        self.shown: dict[str, Aspect] = {}
        self.topics_sent: list[str] = []

    def _publish(self, topic: str, payload: bytes) -> bool:
        self.topics_sent.append(topic)
        if self.connected and "/call/" in topic:
            self.calls.append(msgspec.json.decode(payload, type=c.Call))
        return self.connected

    def say(self, levels: str, message: c.Message) -> None:
        topic = self.topics.name(*levels.split("/"))
        self.desk.hear(Arrived(topic, msgspec.json.encode(message)), self.now_s)

    def beat(self, boot: str = BOOT) -> None:
        self.seq += 1
        self.say("beat", c.Beat(boot=boot, seq=self.seq, epoch=0, stop=False, test=False, at=self.wall()))

    def wall(self) -> int:
        return NOON + round(self.now_s * 1000)

    def sectors(self) -> dict[str, Condition]:
        stop = any(hold.what == "stop" for hold in self.holds)
        base = Condition.FINISH if self.phase is Phase.FINISHING else Condition.CLEAR
        found = {}
        for sector in self.venue.sectors:
            held = any(hold.what == "recovery" or hold.where == sector.id for hold in self.holds)
            found[sector.id] = Condition.STOP if stop else Condition.CAUTION if held else base
        return found

    def clear(self, role: str) -> Aspect:
        if self.phase is Phase.RACING:
            return Aspect.GREEN
        return Aspect.RED if role in ("pit-exit", "start") else Aspect.DARK

    def due(self) -> dict[str, Aspect]:
        sectors = self.sectors()
        aspects = {}
        for head in self.venue.heads:
            worst = min((sectors[sector] for sector in head.protects), key=list(Condition).index)
            aspects[head.id] = {
                Condition.STOP: Aspect.RED,
                Condition.CAUTION: Aspect.YELLOW_FLASH,
                Condition.FINISH: Aspect.RED if head.role == "pit-exit" else self.venue.choices.finish_aspect,
                Condition.CLEAR: self.clear(head.role),
            }[worst]
        return aspects

    def tell(self, **more: Any) -> None:
        """Publish beat, state, group and what every head shows."""
        self.beat()
        sectors, due = self.sectors(), self.due()
        shown = {**due, **self.shown}
        health = dict.fromkeys(due, "ok") | more.pop("health", {})
        numbers = more.pop("numbers", {})
        facts = {"surface": "dry", "monitor": "ok", "journal": "ok", "ready": False, "faults": []} | more
        heads = {
            head: c.HeadView(aspect=aspect, shown=shown[head], health=health[head], number=numbers.get(head))
            for head, aspect in due.items()
        }
        self.say("state", c.State(
            boot=BOOT, seq=self.seq, epoch=0, at=self.wall(), phase=self.phase,
            condition=min(sectors.values(), key=list(Condition).index), sectors=sectors, holds=self.holds,
            karts=self.karts, heads=heads,
            **facts,
        ))  # fmt: skip
        self.say("group", c.Group(
            boot=BOOT, seq=self.seq, id="g1", karts=self.members, checklist=self.confirmed,
            opening=c.Opening(verdict=Verdict.OPEN, restriction=None, until=None, simulated=True),
            started_at=self.wall() - 95_000 if self.phase in (Phase.RACING, Phase.FINISHING) else None,
            planned_s=480, next=self.next,
        ))  # fmt: skip
        for head, aspect in shown.items():
            self.say(
                f"head/{head}/shown",
                c.Shown(
                    boot=BOOT, seq=self.seq, beat_seq=1, after_ms=1, aspect=aspect, driven=[], proven=None
                ),
            )
        self.desk.tick(self.now_s)

    def group_in(self, turn: int = 0) -> None:
        self.members = demo.group(self.venue, turn)
        self.confirmed = {item.id: None for item in self.venue.checklist}
        self.phase = Phase.STAGING

    def confirm(self, *items: str) -> None:
        self.confirmed |= {item: c.Confirmation(by="desk", at=self.wall()) for item in items}

    def race(self, *, spread_m: float = 47.0) -> None:
        """Put the group's karts on the track at full speed, and show the world."""
        self.confirm(*self.confirmed)
        self.phase = Phase.RACING
        ground = Ground(self.venue)
        for index, entry in enumerate(self.members):
            at_m = 30 + spread_m * index
            self.put(entry.number, ground.track.sector_at(at_m), 45, Because.CLASS)
        self.world({entry.number: 30 + spread_m * index for index, entry in enumerate(self.members)})

    def put(self, number: int, place: str, limit_kmh: float, because: Because, **more: Any) -> None:
        view = msgspec.structs.replace(
            self.karts[str(number)], place=place, limit_kmh=limit_kmh, because=because, **more
        )
        self.karts[str(number)] = view

    def world(self, at_m: dict[int, float], incidents: list[dict[str, Any]] | None = None) -> None:
        ground = Ground(self.venue)
        scene = ground.begin(1)
        views = []
        for each in scene.karts:
            kart = each
            if each.number in at_m:
                kart = msgspec.structs.replace(
                    each, on_pit_lane=False, on_grid=False, at_m=at_m[each.number], left_m=0.0
                )
            pose = ground.pose(kart)
            views.append(
                c.WorldKart(
                    number=kart.number,
                    x_m=pose.x_m,
                    y_m=pose.y_m,
                    heading_deg=pose.heading_deg,
                    at_m=kart.at_m,
                    speed_kmh=0,
                    in_pit=kart.on_pit_lane,
                )
            )
        self.say("world", c.WorldView(at_ms=self.wall(), karts=views, incidents=incidents or []))

    def still(self) -> None:
        """Say once more how the world is: nothing moved."""
        self.say("world", msgspec.structs.replace(self.desk.worlds[-1][1], at_ms=self.wall()))

    def hold(
        self,
        what: str,
        where: str | None = None,
        post: str = "desk",
        kind: HoldKind = HoldKind.INCIDENT,
        reason: str = "",
    ) -> None:
        self.holds = [
            *self.holds,
            c.HoldView(
                what=what,
                where=where,
                kind=kind,
                post=post,
                reason=reason,
                since=self.wall(),
                id=f"x{len(self.holds)}",
            ),
        ]

    def later(self, seconds: float) -> None:
        self.now_s += seconds

    def answer(self, *refusals: tuple[str, str], recorded: bool = True) -> None:
        call = self.calls[-1]
        self.say(
            f"answer/{self.desk.post}",
            c.Answer(
                id=call.id,
                accepted=not refusals,
                recorded=recorded,
                refusals=[c.Refused(rule=rule, sentence=sentence) for rule, sentence in refusals],
                seq=self.seq,
            ),
        )
        self.hands.tick(self.now_s)

    def press(self, *keys: str) -> None:
        for key in keys:
            self.hands.press(key, self.now_s)

    def words(self) -> list[Word]:
        return [call.call for call in self.calls]
