"""From keys and clicks to calls: what is chosen, what is being asked, what goes out. No drawing.

A restrictive call goes out at a single touch. One that widens danger becomes a question first,
which Enter answers; it is dropped as soon as the picture it was asked about has changed.
"""

from __future__ import annotations

import secrets
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from functools import partial
from typing import Any

import msgspec

from signals import say
from signals.actions import BY_ID, BY_KEY, Action
from signals.mqtt.contract import Call, HoldView, MonitorReset
from signals.mqtt.topics import Topics
from signals.picture import hold_key, in_use
from signals.words import PIT, Phase, Word
from sim import demo
from sim.view.asking import Choice, Do, Option, Question, page
from sim.view.desk import Desk, Outcome, Sent
from sim.view.hint import next_step
from sim.view.lens import Lens
from sim.view.menu import MENU, ask_more

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


def _new_id() -> str:
    return f"window-{secrets.token_hex(8)}"


@dataclass(slots=True)
class Hands:
    """The person at the desk. `publish(topic, payload)` gives False where nothing can go out."""

    desk: Desk
    publish: Callable[[str, bytes], bool]
    new_id: Callable[[], str] = _new_id
    lens: Lens = field(default_factory=Lens)
    sector: str = field(init=False)
    kart: int | None = None
    question: Question | None = None
    helping: bool = False
    reading: bool = False
    """Whether the list of what was seen is open."""
    scrolled: int = 0
    """Lines of a long answer that were scrolled past."""
    leaving: bool = False
    """The window was closed, and whoever closed it meant it."""
    opened: str = ""
    """The ribbon's entry that is held open."""
    _closes: tuple[Any, ...] | None = None
    """The picture in which close was called while karts still rolled: it goes out once they stand."""
    _turn: int = 0
    _topics: Topics = field(init=False)

    def __post_init__(self) -> None:
        venue = self.desk.venue
        self.sector = venue.sectors[0].id
        self._topics = Topics.of(venue.id, simulated=venue.simulated)

    def press(self, key: str, now_s: float) -> None:
        """Act on a key: "Space", "Enter", "Esc", "Left", "F2", or its character in capitals."""
        if key in ("F1", "?"):
            self.helping, self.reading = not self.helping, False
        elif key == "Esc":
            self._leave_it()
        elif key in ("Space", "R"):
            self.do("red", now_s)
        elif key.isdigit() and self.question is not None:
            self._answers(key, now_s)
        elif (self.question is not None and self._answers(key, now_s)) or self._confirms(key, now_s):
            return
        elif key in _LOOKS:
            _LOOKS[key](self)
        elif key == "F9":
            self.do(RESET, now_s)
        elif key == "E":
            self.do(MENU, now_s)
        elif not self._chooses(key) and key in BY_KEY:
            self.do(BY_KEY[key].id, now_s)

    def _leave_it(self) -> None:
        self.helping, self.reading, self.question, self.opened = False, False, None, ""
        if self._closes is not None:
            self._closes = None
            self.desk.outcome = Outcome("close", "Close was dropped.")

    def read(self) -> None:
        """Open or shut the list of what was seen."""
        self.reading, self.helping = not self.reading, False

    def scroll(self, lines: int) -> None:
        """Move on in a long answer."""
        self.scrolled = max(0, min(self.scrolled + lines, SCROLL_MOST))

    def _confirms(self, key: str, now_s: float) -> bool:
        """Confirm the checklist item a key belongs to; whether the key is the checklist's now.

        While items are open the venue's keys are the checklist's, also those already confirmed (a
        second touch must not become another call); restrictive calls keep theirs.
        """
        open_ = self.desk.picture.open_items()
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
        option = self.question.option(key) if self.question is not None else None
        if option is None:
            return False
        self.question = None
        option.do(now_s)
        return True

    def answer(self, key: str, now_s: float) -> None:
        """Answer the open question by a click."""
        if not self._answers(key, now_s) and key == "Esc":
            self.question = None

    def tick(self, now_s: float) -> None:
        """Drop a question whose picture has changed; send what was to follow, or waited."""
        if self.question is not None and self.question.about != self.desk.picture.about:
            self.question = None
            self.desk.outcome = Outcome("", "Look again: the picture has changed.", (), accepted=False)
        follow, self.desk.follow = self.desk.follow, ""
        if follow:
            self.send(BY_ID[follow], {}, say.call_name(BY_ID[follow].word), now_s)
        if self._closes is not None:
            self._close_now(now_s)

    def leave(self, now_s: float) -> None:
        """Close the window: at once with nobody out, else after asking, with red called first."""
        out = self.desk.picture.out()
        if not out or self.desk.lost(now_s):
            self.leaving = True
            return
        few = "Kart " + ", ".join(map(str, out)) if len(out) < LISTED else f"{len(out)} karts"
        text = f"{few} out on the track. Close this window all the same? Red is called first."
        self._ask_yes("red", text, "Red, wait until all stand, close", self._leave_by_red)

    def _leave_by_red(self, now_s: float) -> None:
        self.leaving = True
        self.send(BY_ID["red"], {}, "Red", now_s)

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
        self.question, self.scrolled, self._closes = None, 0, None
        if what == RESET:
            self._ask_reset()
        elif what == MENU:
            ask_more(self)
        elif what.startswith(ITEM):
            self._confirm(what.removeprefix(ITEM), now_s)
        else:
            special = {"group-in": self._group_in, "wet": self._weather, "close": self._close}
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
            self.send(action, {}, self._name(action), now_s)

    def _group_in(self, action: Action, now_s: float) -> None:
        """Bring a group in; with one in already, ask before it has to go back."""
        if self._phase() is Phase.STAGING and self.desk.picture.members():
            text = "Another group in? The one that is in goes back, and its checklist is void."
            self._ask_yes(action.id, text, "Another group in", partial(self._bring_in, action))
        else:
            self._bring_in(action, now_s)

    def _bring_in(self, action: Action, now_s: float) -> None:
        """Bring in the prepared group; prepare one of demo drivers where there is none."""
        group, driving = self.desk.group, self._phase() in (Phase.RACING, Phase.ARMED)
        if group is not None and group.next is not None and not driving:
            self.send(action, {}, action.label, now_s)
            return
        entries = demo.group(self.desk.venue, self._turn)
        self._turn += 1
        then = "" if driving else action.id
        self.send(action, {"entries": entries, "word": Word.PREPARE}, "Next group", now_s, then=then)

    def _close(self, action: Action, now_s: float) -> None:
        """Close; while a kart still rolls to its box, wait: its limit would fall to 0 on the way."""
        still = self.desk.picture.rolling()
        if not still or self._phase() is not Phase.FINISHING:
            self.send(action, {}, action.label, now_s)
            return
        self._closes = self.desk.picture.about
        title = f"Close waits: kart {still[0]} still rolls in the pit lane."
        self.desk.outcome = Outcome(action.id, title, ("It goes out once all stand. Esc drops it.",))

    def _close_now(self, now_s: float) -> None:
        """Send the close that waited, once nobody rolls; drop it where the picture has changed."""
        if self._closes != self.desk.picture.about:
            self._closes = None
            title = "Close was dropped: the picture has changed."
            self.desk.outcome = Outcome("close", title, (), accepted=False)
        elif not self.desk.picture.rolling():
            self._closes = None
            self.send(BY_ID["close"], {}, BY_ID["close"].label, now_s)

    def _weather(self, action: Action, now_s: float) -> None:
        if self.desk.state is not None and self.desk.state.surface == "wet":
            self._ask(action, word=Word.DRY)
        else:
            self.send(action, {}, "Wet", now_s)

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
        self._ask_yes(RESET, text, "Looked at: reset", self._reset_monitor)

    def _reset_monitor(self, _: float) -> None:
        """Tell the monitor that a person looked at what it tripped on; its answer comes with its trip."""
        topic = self._topics.name("monitor", "reset", self.desk.post)
        if self.publish(topic, msgspec.json.encode(MonitorReset(reason=LOOKED))):
            self.desk.outcome = Outcome(RESET, "The monitor's reset …")
        else:
            self.desk.unsent(RESET, "The monitor's reset", "There is no link.")

    def _kart(self, action: Action) -> int | None:
        """Give the chosen kart; for letting out, the next one that waits unless a waiting one is chosen."""
        if action.word is Word.LET_OUT:
            inside = self.desk.picture.waiting()
            return self.kart if self.kart in inside or not inside else inside[0]
        return self.kart

    def _name(self, action: Action) -> str:
        """Speak of a call as marshals do: "Yellow 3 Hairpin", "Blue 7"."""
        sector = say.sector_name(self.desk.venue, self.sector)
        return action.spoken.format(label=action.label, sector=sector, kart=self._kart(action))

    def _ask_yes(self, action: str, text: str, yes: str, do: Do) -> None:
        self.question = Question(action, text, (Option("Enter", yes, do),), self.desk.picture.about)

    def choose(self, action: str, text: str, choices: Sequence[Choice], first: int = 0) -> None:
        """Ask which of several, a page at a time; with none, say so."""
        if not choices:
            self.desk.outcome = Outcome(action, f"{text} There is none.")
            return
        options = page(choices, first, lambda turned: self.choose(action, text, choices, turned))
        self.question = Question(action, text, options, self.desk.picture.about)

    def _ask(self, action: Action, word: Word | None = None) -> None:
        kart = self._kart(action)
        driver = self.desk.picture.driver(kart) if kart is not None else ""
        text = action.asks.format(kart=kart, driver=f", {driver}" if driver else "", hold="")
        fields: dict[str, Any] = {"kart": kart} if action.needs == "kart" else {}
        if action.word in (Word.CLEAR, Word.BUTTON_RESET, Word.ACCOUNT):
            fields["checked"] = True
        if word is not None:
            fields["word"] = word
        sends = partial(self.send, action)
        name = self._name(action)
        options: tuple[Option, ...] = (Option("Enter", action.yes, partial(sends, fields, name)),)
        if action.word is Word.ACCOUNT:
            pit, aside = ({**fields, "where": place} for place in (PIT, "aside"))
            options = (
                Option("Enter", action.yes, partial(sends, pit, name)),
                Option("A", "Set aside", partial(sends, aside, name)),
            )
        self.question = Question(action.id, text, options, self.desk.picture.about)

    def _ask_which(self, action: Action) -> None:
        """Ask which hold; with only one, go on to the question about it."""
        holds = self.desk.picture.holds()
        if action.word is Word.HAND_OVER:
            holds = [hold for hold in holds if hold.post != self.desk.post]
        if not holds:
            self.desk.outcome = Outcome(action.id, f"{action.label}: no red or yellow stands.")
        elif len(holds) == 1:
            self._ask_about_hold(action, holds[0])
        else:
            choices: list[Choice] = [
                (say.hold_sentence(self.desk.venue, hold), partial(self._ask_about_hold, action, hold))
                for hold in holds
            ]
            self.choose(action.id, f"{action.label} which of {len(holds)}?", choices)

    def _ask_about_hold(self, action: Action, hold: HoldView, _: float = 0.0) -> None:
        sentence = say.hold_sentence(self.desk.venue, hold)
        fields: dict[str, Any] = {"hold": hold_key(hold), "reason": REASON}
        if action.word is Word.LIFT:
            fields["checked"] = True
        held = say.hold_name(self.desk.venue, hold)
        name = f"{action.label} {held[0].lower()}{held[1:]}"
        self._ask_yes(
            action.id, action.asks.format(hold=sentence), action.yes, partial(self.send, action, fields, name)
        )

    def send(
        self, action: Action, fields: dict[str, Any], name: str, now_s: float, *, then: str = ""
    ) -> None:
        """Send an action's call. `fields` may name another `word`; `then` follows once it is accepted."""
        fields = dict(fields)
        word = fields.pop("word", action.word)
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
        return Call(**{"id": self.new_id(), "call": word, "by": self.desk.post, **seen, **fields})

    def _publish(self, call: Call, sent: Sent) -> None:
        if self.publish(self._topics.name("call", self.desk.post), msgspec.json.encode(call)):
            self.desk.sending(call, sent)
        else:
            self.desk.unsent(sent.action, sent.name, "There is no link: use flag and radio.")

    def _phase(self) -> Phase | None:
        return self.desk.state.phase if self.desk.state else None

    def in_use(self, action: Action) -> bool:
        """Whether a call makes sense now; the others' buttons are quiet."""
        return in_use(action, self.desk.picture, self.desk.post, self.kart)


def _turn_over(name: str) -> Callable[[Hands], None]:
    def turn(hands: Hands) -> None:
        setattr(hands.lens, name, not getattr(hands.lens, name))

    return turn


_LOOKS: dict[str, Callable[[Hands], None]] = {
    "PageDown": lambda hands: hands.scroll(PAGE),
    "PageUp": lambda hands: hands.scroll(-PAGE),
    **dict.fromkeys(("+", "="), lambda hands: hands.lens.nearer(1)),
    "-": lambda hands: hands.lens.nearer(-1),
    "Home": lambda hands: hands.lens.whole(),
    "F5": lambda hands: hands.lens.turn_follow(),
    "F6": _turn_over("names"),
    "F7": _turn_over("signs"),
    "F8": Hands.read,
    "M": _turn_over("steady"),
}
"""Keys that change what is seen, and call nothing."""
_CLICKS: dict[str, Callable[[Hands, float], None]] = {
    "next": Hands.next,
    "help": lambda hands, now_s: hands.press("F1", now_s),
    "seen": lambda hands, _: hands.read(),
    MENU: lambda hands, now_s: hands.do(MENU, now_s),
    RESET: lambda hands, now_s: hands.do(RESET, now_s),
}
