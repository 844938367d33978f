"""What a post's page shows, in marshals' words: made of its station, drawn by the templates.

Only calls that the venue lets the post make are offered. That is for clarity: who may call what is
decided by the controller, whatever a page offers.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from types import MappingProxyType
from typing import Any
from zoneinfo import ZoneInfo

from signals import say
from signals.actions import BY_ID, Action
from signals.hint import ITEM, next_step
from signals.look import FLASHING, IDLE, OF_ASPECT, Mark
from signals.mqtt.contract import HeadView, HoldView, KartView
from signals.panel.ground import short_name
from signals.panel.rows import Button, HeadRow, HoldRow, ItemRow, KartRow, NextRow, Party, SectorRow, Status
from signals.panel.station import Station
from signals.picture import Level, hold_key, in_use
from signals.venue.model import Post, Venue
from signals.words import EQUIPMENT, PIT, Aspect, Because, Condition, HoldKind, Phase, Word

EVERYONES = frozenset({Word.STOP, Word.CAUTION})
SUPERVISORS = frozenset({Word.DRY, Word.REQUALIFY, Word.OUT_OF_SERVICE})
LOOKED = "checked"
"""What the record says of a lift from a page: whoever lifts has answered that question."""
NAMED_MOST = 3
PLACES = {PIT: "pit", "unknown": "place unknown", "aside": "set aside"}


class View:
    """One post's view of its station; every method reads the picture as it is now."""

    def __init__(self, station: Station) -> None:
        self.station = station
        self.venue: Venue = station.venue
        self.post: Post = station.post
        self._zone = ZoneInfo(self.venue.operating.timezone)
        self._flags = [person.name for person in self.venue.persons] or [
            post.name for post in self.venue.posts
        ]

    def may(self, word: Word) -> bool:
        """Whether the venue lets this post call a word."""
        if word in EVERYONES:
            return True
        return word in self.post.may and (self.post.supervisor or word not in SUPERVISORS)

    def clock(self, at_ms: int) -> str:
        """Give the venue's time of day."""
        return say.clock_time(at_ms, self._zone)

    def status(self) -> Status:
        """Say where the session and the track stand."""
        picture, state = self.station.picture, self.station.picture.state
        if state is None:
            return Status(
                phase="Not heard yet",
                mark=Mark.UNKNOWN,
                condition="",
                where="",
                ends_ms=None,
                simulated=self.venue.simulated,
                wet=False,
            )
        left_s, dress = picture.left_s(self.station.now_ms), picture.dress(state.condition)
        idle = dress.mark is Mark.DARK
        return Status(
            phase=say.PHASES[state.phase],
            mark=dress.mark,
            condition="Track free" if idle else say.CONDITIONS[state.condition],
            where=self._cautioned() if state.condition is Condition.CAUTION else "",
            ends_ms=None if left_s is None else self.station.now_ms + round(left_s * 1000),
            simulated=self.venue.simulated,
            wet=state.surface == "wet",
        )

    def _cautioned(self) -> str:
        """Name where yellow stands: one sector by its name, two or three by their numbers."""
        under = self.station.picture.under(Condition.CAUTION)
        if len(under) <= 1:
            return "".join(under)
        numbers = [short_name(each) for each in self.venue.sectors if each.name in under]
        return ", ".join(numbers) if len(numbers) <= NAMED_MOST else f"in {len(numbers)} sectors"

    def next(self) -> NextRow:
        """Say what comes next, and name the call that does it."""
        hint = next_step(self.station.moment)
        if hint.action.startswith(ITEM):
            return NextRow(line=hint.plain, goal={"item": hint.action.removeprefix(ITEM)})
        action = BY_ID.get(hint.action)
        return NextRow(line=hint.plain, goal={"call": action.word} if action else {})

    def reds(self) -> tuple[Button, ...]:
        """Give the calls for red."""
        return tuple(self._button(BY_ID[name], mark=Mark.STOP) for name in ("red", "fire", "medical"))

    def weather(self) -> Button | None:
        """Give the call for wet, or for dry again."""
        state = self.station.picture.state
        wet = state is not None and state.surface == "wet"
        word, action = (Word.DRY if wet else Word.WET), BY_ID["wet"]
        if not self.may(word):
            return None
        asks = (action.asks, action.yes) if wet else ("", "")
        return Button(
            label="Dry" if wet else "Wet", call={"call": word}, asks=asks[0], yes=asks[1], line=action.line
        )

    def sectors(self) -> tuple[SectorRow, ...]:
        """Give every sector in driving order."""
        state = self.station.picture.state
        rows = []
        for sector in self.venue.sectors:
            condition = state.sectors.get(sector.id) if state else None
            dress = self.station.picture.dress(condition) if condition else None
            yellow, on_foot = BY_ID["yellow"], BY_ID["person"]
            where = {"where": sector.id}
            rows.append(
                SectorRow(
                    id=sector.id,
                    short=short_name(sector),
                    name=sector.name,
                    mark=dress.mark if dress else Mark.UNKNOWN,
                    condition=dress.word if dress else "not heard",
                    dress="idle" if condition is None or dress is IDLE else condition,
                    own=sector.id in self.post.covers,
                    yellow=self._button(yellow, where, mark=Mark.CAUTION, about=sector.name),
                    on_foot=self._button(on_foot, where, about=sector.name),
                )
            )
        return tuple(rows)

    def holds(self) -> tuple[HoldRow, ...]:
        """Give every standing hold, reds first; last what waits to be cleared."""
        state = self.station.picture.state
        return tuple(self._hold(hold) for hold in state.holds) if state else ()

    def _hold(self, hold: HoldView) -> HoldRow:
        red = hold.what == "stop"
        return HoldRow(
            key=hold_key(hold) if hold.what != "recovery" else "recovery",
            mark=Mark.CAUTION if hold.what == "caution" else Mark.STOP,
            name="After red: not cleared yet" if hold.what == "recovery" else say.hold_name(self.venue, hold),
            by="" if hold.what == "recovery" else say.post_name(self.venue, hold.post),
            since_ms=hold.since or None,
            at=self.clock(hold.since),
            reason="" if hold.reason in ("", hold.kind) else hold.reason,
            own=hold.post == self.post.id,
            buttons=tuple(self._ends(hold, red=red)),
        )

    def _ends(self, hold: HoldView, *, red: bool) -> Iterator[Button]:
        """Give the calls that end a hold, or take it over."""
        if hold.what == "recovery":
            if self.may(Word.CLEAR):
                yield self._button(BY_ID["clear"], {"checked": True})
            return
        key, sentence = hold_key(hold), say.hold_sentence(self.venue, hold, self._zone)
        if self.may(Word.LIFT):
            stand = ", and do all karts stand?" if red else "?"
            yield self._button(
                BY_ID["lift"],
                {"hold": key, "checked": True, "reason": LOOKED},
                asks=f"{sentence}. Has the place been checked{stand}",
                about=say.hold_name(self.venue, hold),
            )
        if hold.post not in (self.post.id, EQUIPMENT) and self.may(Word.HAND_OVER):
            action = BY_ID["take-over"]
            fields = {"hold": key, "reason": "hand-over"}
            yield self._button(
                action,
                fields,
                asks=action.asks.format(hold=sentence),
                about=say.hold_name(self.venue, hold),
            )

    def session(self) -> tuple[Button, ...]:
        """Give the calls that lead through a session, always in the same place."""
        buttons = []
        for name in ("group-in", "ready", "start", "chequered", "close", "not-ready"):
            action = BY_ID[name]
            if self.may(action.word):
                buttons.append(self._button(action, mark=Mark.FINISH if name == "chequered" else ""))
        return tuple(buttons)

    def let_out(self) -> tuple[Button, ...]:
        """Give a call for each kart that waits to be let out, the next one first."""
        action, picture = BY_ID["let-out"], self.station.picture
        if not self.may(action.word):
            return ()
        return tuple(
            self._button(action, {"kart": number}, label=f"Let out {number}{_named(picture.driver(number))}")
            for number in picture.waiting()
        )

    def group(self) -> Party | None:
        """Give the group that is in."""
        group = self.station.picture.group
        if group is None or not group.karts:
            return None
        members, phase = len(group.karts), self.station.picture.phase
        confirms = phase in (Phase.STAGING, Phase.RACING)
        items = tuple(self._items(group.checklist, to=None, confirms=confirms))
        return Party(
            title=f"This group: {say.many(members, 'kart')}", members=tuple(group.karts), items=items
        )

    def next_group(self) -> Party | None:
        """Give the group that is prepared."""
        group = self.station.picture.group
        following = group.next if group else None
        if following is None:
            return None
        items = tuple(self._items(following.checklist, to="next", confirms=True))
        return Party(
            title=f"Next group: {say.many(len(following.karts), 'kart')}",
            members=tuple(following.karts),
            items=items,
        )

    def _items(self, checklist: dict[str, Any], *, to: str | None, confirms: bool) -> Iterator[ItemRow]:
        for item in self.venue.checklist:
            done = checklist.get(item.id)
            call: dict[str, Any] = {"call": Word.CONFIRM, "item": item.id} | ({"to": to} if to else {})
            open_ = done is None and confirms and self.may(Word.CONFIRM)
            yield ItemRow(
                id=item.id,
                text=item.text,
                done=f"{self._who(done.by)}, {self.clock(done.at)}" if done else "",
                button=Button(label="Confirm", call=call, about=item.text) if open_ else None,
            )

    def _who(self, by: str) -> str:
        """Name who confirmed: a person as signed in, or a post."""
        return next((post.name for post in self.venue.posts if post.id == by), by)

    def karts(self) -> tuple[KartRow, ...]:
        """Give every kart, those of the group and those out there first."""
        picture = self.station.picture
        members, out = picture.members(), picture.out()
        rows = [self._kart(kart.number, member=kart.number in members) for kart in self.venue.karts]
        return tuple(sorted(rows, key=lambda row: (row.number not in (*members, *out), row.number)))

    def _kart(self, number: int, *, member: bool) -> KartRow:
        picture = self.station.picture
        kart = picture.kart(number)
        if kart is None:
            return KartRow(
                number=number,
                driver="",
                place="not heard of",
                limit="",
                why="",
                level=Level.WAITING,
                marks=(),
                silent=True,
                member=member,
                buttons=(),
            )
        return KartRow(
            number=number,
            driver=picture.driver(number),
            place=PLACES.get(kart.place) or say.sector_name(self.venue, kart.place),
            limit=f"{kart.limit_kmh:g} km/h",
            why=self._why(kart),
            level=picture.level(number),
            marks=tuple(_marks(kart)),
            silent=not kart.link,
            member=member,
            buttons=tuple(self._of_kart(number)),
        )

    def _why(self, kart: KartView) -> str:
        home = kart.because is Because.NOT_LET_OUT and self.station.picture.phase is Phase.FINISHING
        return "home" if home else say.REASONS[kart.because]

    def _of_kart(self, number: int) -> Iterator[Button]:
        """Give the calls for one kart."""
        marks = {"blue": Mark.MOVE_OVER, "black": Mark.PLATE}
        for name in ("blue", "black", "slow", "stop-kart", "take-back", "button-reset", "requalify"):
            action = BY_ID[name]
            fields = {"kart": number} | ({"checked": True} if action.word is Word.BUTTON_RESET else {})
            if self.may(action.word):
                yield self._button(action, fields, mark=marks.get(name, ""), about=f"kart {number}")
        seen = BY_ID["seen"]
        if self.may(seen.word):
            fields = {"kart": number, "checked": True}
            yield self._button(seen, {**fields, "where": PIT}, about=f"kart {number}")
            asks = f"Is kart {number} off the track, set aside, and did you see it there?"
            aside = {**fields, "where": "aside"}
            yield self._button(
                seen, aside, label="Set aside", asks=asks, yes="Set aside", about=f"kart {number}"
            )

    def heads(self) -> tuple[HeadRow, ...]:
        """Give every head in driving order."""
        state = self.station.picture.state
        order = sorted(self.venue.heads, key=lambda head: (head.at_m, head.id))
        return tuple(
            self._head(head.id, head.protects, state.heads.get(head.id) if state else None) for head in order
        )

    def _head(self, head: str, protects: tuple[str, ...], view: HeadView | None) -> HeadRow:
        shown = view.shown if view else None
        ill = view is not None and view.health == "lost"
        mark = Mark.FAULT if ill else Mark.UNKNOWN if shown is None else OF_ASPECT[shown]
        differs = view is not None and shown is not view.aspect
        due = f"due {say.ASPECTS[view.aspect]}" if view is not None and differs else ""
        health = "" if view is None or view.health == "ok" else view.health.replace("-", " ")
        numbered = shown in (Aspect.NUMBER, Aspect.BLUE_FLASH)
        button = self._replace(head) if self.may(Word.OUT_OF_SERVICE) and health != "out of service" else None
        return HeadRow(
            id=head,
            before=" and ".join(say.sector_name(self.venue, sector) for sector in protects),
            mark=mark,
            number=view.number if view and numbered else None,
            flashing=shown in FLASHING and not ill,
            shows=say.ASPECTS[shown] if shown else "not heard",
            note=", ".join(filter(None, (due, health))),
            differs=differs or ill,
            button=button,
        )

    def _replace(self, head: str) -> Button:
        return Button(
            label="Out of service",
            about=f"head {head}",
            call={"call": Word.OUT_OF_SERVICE, "head": head, "reason": "replaced by a flag"},
            asks=f"Head {head} is replaced by a marshal with a flag until the day ends. Who stands there?",
            yes="Stands there with a flag",
            choose={"by": self._flags},
        )

    def _button(
        self,
        action: Action,
        fields: Mapping[str, Any] = MappingProxyType({}),
        *,
        label: str = "",
        asks: str | None = None,
        yes: str = "",
        mark: str = "",
        about: str = "",
    ) -> Button:
        """Make the button of an action; `fields` are its call's further ones."""
        kart = fields.get("kart")
        driver = _named(self.station.picture.driver(kart)) if kart is not None else ""
        kind: dict[str, HoldKind] = {} if action.kind is None else {"kind": action.kind}
        return Button(
            label=label or action.label,
            call={"call": action.word, **kind, **fields},
            asks=action.asks.format(kart=kart, driver=driver, hold="") if asks is None else asks,
            yes=yes or action.yes,
            mark=mark,
            about=about,
            quiet=action.word not in EVERYONES
            and not in_use(action, self.station.picture, self.post.id, kart),
            line=action.line,
        )


def _named(driver: str) -> str:
    return f", {driver}" if driver else ""


def _marks(kart: KartView) -> Iterator[str]:
    """Say what stands on a kart."""
    if kart.call == "disqualified":
        yield "black"
    if kart.call == "move-over":
        yield "blue"
    if kart.slowed != "none":
        yield "slowed by call" if kart.slowed == "slow" else "stopped by call"
    if kart.button:
        yield "button pressed"
    if not kart.link:
        yield "silent"
