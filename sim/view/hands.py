"""From keys and clicks to calls: what is chosen, what is being asked, what goes out. No drawing.

A restrictive call goes out at a single touch. One that widens danger becomes a question first,
which Enter answers; it is dropped as soon as the picture it was asked about has changed.
"""

from __future__ import annotations

import secrets
from collections.abc import Callable
from dataclasses import dataclass, field
from typing import Any

import msgspec

from signals import say
from signals.mqtt.contract import Call, HoldView, MonitorReset
from signals.mqtt.topics import Topics
from signals.words import PIT, Phase, Word
from sim import demo
from sim.view.actions import BY_ID, BY_KEY, Action
from sim.view.desk import Desk, Outcome, Sent
from sim.view.hint import next_step, waiting

LISTED = 4
PAGE, SCROLL_MOST = 6, 60
"""Lines that page down moves on in a long answer, and the most."""
LOOKED = "looked at what it tripped on"
"""What the record says of a reset at a window: whoever resets has answered that question."""
REASON = "checked"
"""What the record says of a lift at a window: whoever lifts has answered that question."""
ITEM = "item:"
RESET = "reset-monitor"
RESTRICTIVE_KEYS = frozenset({"Space", "R", "Y", "U", "D", "F2", "F3"})


@dataclass(frozen=True, slots=True)
class Option:
    """One answer to a question: its key, its words, and the fields it adds to the call."""

    key: str
    label: str
    fields: dict[str, Any] = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class Question:
    """What is asked before a call. Without an action's `fields` settled, `options` choose the hold."""

    action: str
    text: str
    options: tuple[Option, ...]
    about: tuple[Any, ...] = ()
    """What the picture was when it was asked."""
    choosing: bool = False
    name: str = ""


def _new_id() -> str:
    return f"window-{secrets.token_hex(8)}"


@dataclass(slots=True)
class Hands:
    """The person at the desk. `publish(topic, payload)` gives False where nothing can go out."""

    desk: Desk
    publish: Callable[[str, bytes], bool]
    new_id: Callable[[], str] = _new_id
    sector: str = field(init=False)
    kart: int | None = None
    question: Question | None = None
    helping: bool = False
    steady: bool = False
    """Reduced motion: flashing lamps are shown steady and hatched."""
    scrolled: int = 0
    """Lines of a long answer that were scrolled past."""
    leaving: bool = False
    """The window was closed, and whoever closed it meant it."""
    opened: str = ""
    """The ribbon's entry that is held open."""
    _turn: int = 0
    _topics: Topics = field(init=False)

    def __post_init__(self) -> None:
        venue = self.desk.venue
        self.sector = venue.sectors[0].id
        self._topics = Topics.of(venue.id, simulated=venue.simulated)

    def press(self, key: str, now_s: float) -> None:
        """Act on a key: "Space", "Enter", "Esc", "Left", "F2", or its character in capitals."""
        if key in ("F1", "?"):
            self.helping = not self.helping
        elif key == "Esc":
            self.helping, self.question, self.opened = False, None, ""
        elif key in ("Space", "R"):
            self.do("red", now_s)
        elif key.isdigit() and self.question is not None:
            self._answers(key, now_s)
        elif (self.question is not None and self._answers(key, now_s)) or self._confirms(key, now_s):
            return
        elif key in ("PageDown", "PageUp"):
            self.scroll(PAGE if key == "PageDown" else -PAGE)
        elif key == "M":
            self.steady = not self.steady
        elif key == "F9":
            self.do(RESET, now_s)
        elif not self._chooses(key) and key in BY_KEY:
            self.do(BY_KEY[key].id, now_s)

    def scroll(self, lines: int) -> None:
        """Move on in a long answer."""
        self.scrolled = max(0, min(self.scrolled + lines, SCROLL_MOST))

    def _confirms(self, key: str, now_s: float) -> bool:
        """Confirm the checklist item a key belongs to; whether the key is the checklist's now.

        While items are open the venue's keys are the checklist's, also those already confirmed (a
        second touch must not become another call); restrictive calls keep theirs.
        """
        open_ = self.desk.open_items()
        if self._phase() is not Phase.STAGING or not open_ or key in RESTRICTIVE_KEYS:
            return False
        item = next((item.id for item in self.desk.venue.checklist if item.key == key), "")
        if item in open_:
            self.do(ITEM + item, now_s)
        return bool(item)

    def _chooses(self, key: str) -> bool:
        """Move the choice of sector or kart."""
        sectors = [sector.id for sector in self.desk.venue.sectors]
        track = [sector for sector in sectors if sector != PIT]
        if key.isdigit():
            index = (int(key) - 1) % 10
            self.sector = track[index] if index < len(track) else self.sector
        elif key == "P":
            self.sector = PIT
        elif key in ("Left", "Right"):
            step = 1 if key == "Right" else -1
            self.sector = sectors[(sectors.index(self.sector) + step) % len(sectors)]
        elif key in ("Up", "Down"):
            self._next_kart(1 if key == "Down" else -1)
        else:
            return False
        return True

    def _next_kart(self, step: int) -> None:
        karts = [kart.number for kart in self.desk.venue.karts]
        if self.kart is None:
            self.kart = karts[0 if step > 0 else -1]
        else:
            self.kart = karts[(karts.index(self.kart) + step) % len(karts)]

    def _answers(self, key: str, now_s: float) -> bool:
        """Answer the open question; whether the key was one of its answers."""
        question = self.question
        option = (
            next((option for option in question.options if option.key == key), None) if question else None
        )
        if question is None or option is None:
            return False
        self.question = None
        if question.action == RESET:
            self._reset_monitor()
            return True
        action = BY_ID[question.action]
        if question.choosing:
            self._ask_about_hold(action, option.fields["hold"])
        elif "again" in option.fields:
            self._bring_in(action, now_s)
        else:
            fields = dict(option.fields)
            self.leaving = fields.pop("leave", False)
            self._send(action, fields, question.name, now_s)
        return True

    def answer(self, key: str, now_s: float) -> None:
        """Answer the open question by a click."""
        if not self._answers(key, now_s) and key == "Esc":
            self.question = None

    def tick(self, now_s: float) -> None:
        """Drop a question whose picture has changed; send what was to follow an accepted call."""
        if self.question is not None and self.question.about != self._picture():
            self.question = None
            self.desk.outcome = Outcome("", "Look again: the picture has changed.", (), accepted=False)
        follow, self.desk.follow = self.desk.follow, ""
        if follow:
            self._send(BY_ID[follow], {}, say.call_name(BY_ID[follow].word), now_s)

    def leave(self, now_s: float) -> None:
        """Close the window: at once with nobody out, else after asking, with red called first."""
        out = self.desk.out()
        if not out or self.desk.lost(now_s):
            self.leaving = True
            return
        few = "Kart " + ", ".join(map(str, out)) if len(out) < LISTED else f"{len(out)} karts"
        text = f"{few} out on the track. Close this window all the same? Red is called first."
        self.question = Question(
            "red",
            text,
            (Option("Enter", "Red, wait until all stand, close", {"leave": True}),),
            self._picture(),
            name="Red",
        )

    def click(self, target: str, now_s: float) -> None:
        """Act on a click: what `Screen.target` gave."""
        kind, _, name = target.partition(":")
        if kind == "do":
            self.do(name, now_s)
        elif kind == "item":
            self.do(target, now_s)
        elif kind == "sector":
            self.sector = name
        elif kind == "kart":
            self.kart = int(name)
        elif kind == "entry":
            self.opened = "" if self.opened == name else name
        elif kind == "answer":
            self.answer(name, now_s)
        elif kind in _CLICKS:
            _CLICKS[kind](self, now_s)

    def next(self, now_s: float) -> None:
        """Do what the "next" line says."""
        action = next_step(self.desk, now_s).action
        if action:
            self.do(action, now_s)

    def do(self, what: str, now_s: float) -> None:
        """Begin an action, or confirm a checklist item (`item:<id>`): ask, or send at once."""
        self.question, self.scrolled = None, 0
        if what == RESET:
            self._ask_reset()
        elif what.startswith(ITEM):
            self._confirm(what.removeprefix(ITEM), now_s)
        else:
            special = {"group-in": self._group_in, "wet": self._weather}
            special.get(what, self._plainly)(BY_ID[what], now_s)

    def _plainly(self, action: Action, now_s: float) -> None:
        if action.needs == "hold":
            self._ask_which(action)
        elif action.needs == "kart" and self._kart(action) is None:
            self.desk.outcome = Outcome(
                action.id, f"{action.label}: choose a kart first (up, down, or click)."
            )
        elif action.asks:
            self._ask(action)
        else:
            self._send(action, {}, self._name(action), now_s)

    def _group_in(self, action: Action, now_s: float) -> None:
        """Bring a group in; with one in already, ask before it has to go back."""
        if self._phase() is Phase.STAGING and self.desk.members():
            text = "Another group in? The one that is in goes back, and its checklist is void."
            options = (Option("Enter", "Another group in", {"again": True}),)
            self.question = Question(action.id, text, options, self._picture(), name=action.label)
        else:
            self._bring_in(action, now_s)

    def _bring_in(self, action: Action, now_s: float) -> None:
        """Bring in the prepared group; prepare one of demo drivers where there is none."""
        group, driving = self.desk.group, self._phase() in (Phase.RACING, Phase.ARMED)
        if group is not None and group.next is not None and not driving:
            self._send(action, {}, action.label, now_s)
            return
        entries = demo.group(self.desk.venue, self._turn)
        self._turn += 1
        then = "" if driving else action.id
        self._send(action, {"entries": entries}, "Next group", now_s, word=Word.PREPARE, then=then)

    def _weather(self, action: Action, now_s: float) -> None:
        if self.desk.state is not None and self.desk.state.surface == "wet":
            self._ask(action, word=Word.DRY)
        else:
            self._send(action, {}, "Wet", now_s)

    def _confirm(self, item: str, now_s: float) -> None:
        text = next((each.text for each in self.desk.venue.checklist if each.id == item), item)
        call = self._call(Word.CONFIRM, item=item)
        self._publish(call, Sent(ITEM + item, f"“{text}”", now_s))

    def _ask_reset(self) -> None:
        """Ask before the monitor is reset; with no trip there is nothing to ask."""
        trip = self.desk.trip
        if trip is None or not trip.tripped:
            self.desk.outcome = Outcome(RESET, "The monitor has not tripped.")
            return
        text = f"Reset the monitor? Somebody looked: what it tripped on ({trip.where}) is as it should be."
        options = (Option("Enter", "Looked at: reset"),)
        self.question = Question(RESET, text, options, self._picture(), name="The monitor's reset")

    def _reset_monitor(self) -> None:
        """Tell the monitor that a person looked at what it tripped on; its answer comes with its trip."""
        topic = self._topics.name("monitor", "reset", self.desk.post)
        if self.publish(topic, msgspec.json.encode(MonitorReset(reason=LOOKED))):
            self.desk.outcome = Outcome(RESET, "The monitor's reset …")
        else:
            self.desk.unsent(RESET, "The monitor's reset", "There is no link.")

    def _kart(self, action: Action) -> int | None:
        """Give the chosen kart; for letting out, the next one that waits unless a waiting one is chosen."""
        if action.word is Word.LET_OUT:
            inside = waiting(self.desk)
            return self.kart if self.kart in inside or not inside else inside[0]
        return self.kart

    def _name(self, action: Action) -> str:
        """Speak of a call as marshals do: "Yellow 3 Hairpin", "Blue 7"."""
        sector = say.sector_name(self.desk.venue, self.sector)
        return action.spoken.format(label=action.label, sector=sector, kart=self._kart(action))

    def _ask(self, action: Action, word: Word | None = None) -> None:
        kart = self._kart(action)
        driver = self.desk.driver(kart) if kart is not None else ""
        text = action.asks.format(kart=kart, driver=f", {driver}" if driver else "", hold="")
        fields: dict[str, Any] = {"kart": kart} if action.needs == "kart" else {}
        if action.word in (Word.CLEAR, Word.BUTTON_RESET, Word.ACCOUNT):
            fields["checked"] = True
        if word is not None:
            fields["word"] = word
        options: tuple[Option, ...] = (Option("Enter", action.yes, fields),)
        if action.word is Word.ACCOUNT:
            options = (
                Option("Enter", action.yes, {**fields, "where": PIT}),
                Option("A", "Set aside", {**fields, "where": "aside"}),
            )
        self.question = Question(action.id, text, options, self._picture(), name=self._name(action))

    def _ask_which(self, action: Action) -> None:
        """Ask which hold; with only one, go on to the question about it."""
        holds = self.desk.holds()
        if action.word is Word.HAND_OVER:
            holds = [hold for hold in holds if hold.post != self.desk.post]
        if not holds:
            self.desk.outcome = Outcome(action.id, f"{action.label}: no red or yellow stands.")
        elif len(holds) == 1:
            self._ask_about_hold(action, holds[0])
        else:
            options = tuple(
                Option(str(index), say.hold_sentence(self.desk.venue, hold), {"hold": hold})
                for index, hold in enumerate(holds[:9], start=1)
            )
            self.question = Question(
                action.id, f"{action.label} which?", options, self._picture(), choosing=True
            )

    def _ask_about_hold(self, action: Action, hold: HoldView) -> None:
        sentence = say.hold_sentence(self.desk.venue, hold)
        fields: dict[str, Any] = {"hold": hold_key(hold), "reason": REASON}
        if action.word is Word.LIFT:
            fields["checked"] = True
        held = say.hold_name(self.desk.venue, hold)
        name = f"{action.label} {held[0].lower()}{held[1:]}"
        text = action.asks.format(hold=sentence)
        self.question = Question(
            action.id, text, (Option("Enter", action.yes, fields),), self._picture(), name=name
        )

    def _send(
        self,
        action: Action,
        fields: dict[str, Any],
        name: str,
        now_s: float,
        *,
        word: Word | None = None,
        then: str = "",
    ) -> None:
        fields = dict(fields)
        word = fields.pop("word", word or action.word)
        if action.needs == "sector":
            fields["where"] = self.sector
        if action.needs == "kart" and "kart" not in fields:
            fields["kart"] = self._kart(action)
        if action.kind is not None:
            fields["kind"] = action.kind
        self._publish(self._call(word, **fields), Sent(action.id, name, now_s, then))

    def _call(self, word: Word, **fields: Any) -> Call:
        seen: dict[str, Any] = (
            {} if self.desk.state is None else {"boot": self.desk.state.boot, "seq": self.desk.state.seq}
        )
        return Call(id=self.new_id(), call=word, by=self.desk.post, **seen, **fields)

    def _publish(self, call: Call, sent: Sent) -> None:
        if self.publish(self._topics.name("call", self.desk.post), msgspec.json.encode(call)):
            self.desk.sending(call, sent)
        else:
            self.desk.unsent(sent.action, sent.name, "There is no link: use flag and radio.")

    def _phase(self) -> Phase | None:
        return self.desk.state.phase if self.desk.state else None

    def _picture(self) -> tuple[Any, ...]:
        """Give what a question is about: it falls when any of it changes."""
        state = self.desk.state
        if state is None:
            return ()
        return (state.boot, state.phase, tuple((hold.what, hold.where, hold.post) for hold in state.holds))

    def in_use(self, action: Action) -> bool:
        """Whether a call makes sense now; the others' buttons are quiet."""
        phase = self._phase()
        if phase is None or phase not in action.phases:
            return False
        match action.id:
            case "lift":
                return bool(self.desk.holds())
            case "take-over":
                return any(hold.post != self.desk.post for hold in self.desk.holds())
            case "ready":
                return not self.desk.open_items()
            case "clear":
                return self.desk.recovering() and not self.desk.holds()
            case "let-out":
                return bool(waiting(self.desk))
        return action.needs != "kart" or self._kart_in_use(action)

    def _kart_in_use(self, action: Action) -> bool:
        """Whether a call for the chosen kart makes sense now."""
        kart = None if self.kart is None else self.desk.kart(self.kart)
        if kart is None:
            return False
        out = kart.place not in (PIT, "aside")
        match action.id:
            case "take-back":
                return kart.call == "move-over" or kart.slowed != "none"
            case "button-reset":
                return kart.button
            case "requalify":
                return kart.call == "disqualified" and not out
            case "black":
                return kart.call != "disqualified"
        return out


def hold_key(hold: HoldView) -> str:
    """Give a hold's key as a lift names it."""
    return f"stop:{hold.post}" if hold.what == "stop" else f"caution:{hold.where}:{hold.post}"


_CLICKS: dict[str, Callable[[Hands, float], None]] = {
    "next": Hands.next,
    "help": lambda hands, now_s: hands.press("F1", now_s),
    RESET: lambda hands, now_s: hands.do(RESET, now_s),
}
