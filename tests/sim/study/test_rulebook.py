"""What sessions decide by is the rule table: equal to `Core.step` wherever a random walk comes."""

from __future__ import annotations

import random
from itertools import count
from typing import TYPE_CHECKING, Any

import pytest

from signals.controller.layout import layout_of
from signals.core.machine import Core
from signals.core.state import Event, Member
from signals.proof.nodes import choose, conj, disj, equal, negate, slot
from signals.words import EQUIPMENT, Aspect
from sim.study.branches import Maker, follow
from sim.study.rulebook import Rulebook, Scratch, aspect_of, called, happens, limit_kmh, rulebook_of

if TYPE_CHECKING:
    from collections.abc import Iterator

    from signals.venue.model import Venue

IDS = count(1)


class Walk:
    """Both forms side by side: the core's state, and facts that the rulebook changes."""

    def __init__(self, core: Core, seed: int) -> None:
        self.core, self.book, self.dice = core, rulebook_of(core), random.Random(seed)  # noqa: S311 - a walk
        self.state = core.begin("walk")
        self.scratch = Scratch([0] * 999, [0] * (self.book.heads + 2 * self.book.karts), [0])
        self.layout = core.layout
        self.bring_in()
        self.facts = list(self.state.facts)

    def bring_in(self) -> None:
        """What is not in the book: the group comes in, and is let go."""
        desk = next(post for post in self.layout.posts if post in self.layout.supervisors)
        class_ = self.layout.classes[-1]
        karts = [kart for kart in self.layout.karts if self.layout.kart_class[kart] == class_]
        entries = tuple(Member(kart, f"driver {kart}", class_) for kart in karts)
        self.must(Event("opening-set", fields={"verdict": "open"}))
        self.must(self.call("stage", desk, entries=entries))
        for item in self.layout.checklist:
            self.must(self.call("confirm", desk, item=item))
        self.must(self.call("arm", desk))
        self.must(self.call("start", desk))

    def call(self, word: str, post: str, **fields: Any) -> Event:
        return Event(word, post, fields, f"c{next(IDS)}", (self.state.boot, self.state.serial))

    def must(self, event: Event) -> None:
        decision = self.core.step(self.state, event, 0)
        assert decision.accepted, decision.refusals
        self.state = decision.state

    def tries(self) -> Iterator[tuple[Event, int, int]]:
        """Give a random event with its move and its caller's guard (-1: the move's own)."""
        book, dice, posts = self.book, self.dice, self.layout.posts
        while True:
            kart = dice.randrange(book.karts)
            number, post = self.layout.karts[kart], dice.randrange(book.posts)
            sector, holder = self.hold()
            where, placer = self.layout.sectors[sector], (*posts, EQUIPMENT)[holder]
            own = [
                (
                    Event("kart-at", fields={"kart": number, "where": where}),
                    book.kart_at[kart * book.sectors + sector],
                ),
                (Event("kart-stands", fields={"kart": number}), book.kart_stands[kart]),
                (Event("kart-rolls", fields={"kart": number}), book.kart_rolls[kart]),
                (Event("kart-lost", fields={"kart": number}), book.kart_lost[kart]),
                (Event("kart-back", fields={"kart": number}), book.kart_back[kart]),
                (Event("kart-standing", fields={"kart": number}), book.kart_standing[kart]),
                (Event("kart-over-limit", fields={"kart": number}), book.kart_over_limit[kart]),
                (Event("limit-taken", fields={"kart": number}), book.limit_taken[kart]),
                (Event("limit-missed", fields={"kart": number}), book.limit_missed[kart]),
                (Event("line-crossed", fields={"kart": number}), book.line_crossed[kart]),
            ]
            lift, place = sector * book.holders + holder, post * book.sectors + sector
            by = posts[post]
            seen: dict[str, Any] = {"checked": True, "reason": "seen"}
            asked = [
                (self.call("let-out", by, kart=number), book.let_out[kart],
                 book.let_out_guard[kart * book.posts + post]),
                (self.call("caution", by, where=where), book.caution_move[place], book.caution_guard[place]),
                (self.call("stop", by), book.stop_move[post], book.stop_guard[post]),
                (self.call("lift", by, hold=f"caution:{where}:{placer}", **seen), book.lift_caution[lift],
                 book.lift_caution_guard[lift * book.posts + post]),
                (self.call("lift", by, hold=f"stop:{placer}", **seen), book.lift_stop[holder],
                 book.lift_stop_guard[holder * book.posts + post]),
                (self.call("clear", by, checked=True), book.clear, book.clear_guard[post]),
                (self.call("finish", by), book.finish, book.finish_guard[post]),
            ]  # fmt: skip
            if dice.random() < 0.5:
                yield (*dice.choice(own), -1)
            else:
                yield dice.choices(asked, weights=[8, 1, 0.5, 16, 6, 8, 0.05])[0]

    def home(self) -> Iterator[tuple[Event, int, int]]:
        """Give what brings a track in any state back to green, and ends the session."""
        book, posts, seen = self.book, self.layout.posts, {"checked": True, "reason": "seen"}
        desk = next(n for n, post in enumerate(posts) if post in self.layout.supervisors)
        for index, kart in enumerate(self.layout.karts):
            for word, moves in (("kart-back", book.kart_back), ("kart-stands", book.kart_stands)):
                yield Event(word, fields={"kart": kart}), moves[index], -1
            at = Event("kart-at", fields={"kart": kart, "where": self.layout.sectors[0]})
            yield at, book.kart_at[index * book.sectors], -1
        for holder, placer in enumerate((*posts, EQUIPMENT)):
            lift = self.call("lift", posts[desk], hold=f"stop:{placer}", **seen)
            yield lift, book.lift_stop[holder], book.lift_stop_guard[holder * book.posts + desk]
            for sector, where in enumerate(self.layout.sectors):
                lift = self.call("lift", posts[desk], hold=f"caution:{where}:{placer}", **seen)
                at_ = sector * book.holders + holder
                yield lift, book.lift_caution[at_], book.lift_caution_guard[at_ * book.posts + desk]
        yield self.call("clear", posts[desk], checked=True), book.clear, book.clear_guard[desk]
        yield self.call("finish", posts[desk]), book.finish, book.finish_guard[desk]

    def hold(self) -> tuple[int, int]:
        """Give a sector and a holder: mostly of a yellow that stands."""
        book, places = self.book, range(self.book.sectors * self.book.holders)
        standing = [place for place in places if self.facts[book.caution + place] != book.no_caution]
        if standing and self.dice.random() < 0.8:
            return divmod(self.dice.choice(standing), book.holders)
        return self.dice.randrange(book.sectors), self.dice.randrange(book.holders)

    def both(self, event: Event, move: int, guard: int) -> bool:
        decision = self.core.step(self.state, event, 0)
        changed = decision.state.facts != self.state.facts
        self.state = decision.state
        if guard == -1 and event.post == EQUIPMENT:
            happens(self.book, self.facts, self.scratch, move)
        else:
            assert called(self.book, self.facts, self.scratch, move, guard) == decision.accepted, (
                event,
                decision.refusals,
            )
        return changed


def outputs(book: Rulebook, facts: list[int]) -> tuple[list[int], list[float], list[int]]:
    heads = [aspect_of(book, facts, head) for head in range(book.heads)]
    timers = [follow(book.branches, facts, row) for row in book.stood_runs]
    return heads, [limit_kmh(book, facts, kart) for kart in range(book.karts)], timers


def walked(core: Core, seed: int, steps: int) -> set[str]:
    """Walk at random with both forms; gives the words that changed something."""
    walk, moved = Walk(core, seed), set()
    shown = outputs(walk.book, walk.facts)
    for (event, move, guard), _ in zip(walk.tries(), range(steps), strict=False):
        if walk.both(event, move, guard):
            moved.add(event.word)
        assert tuple(walk.facts) == walk.state.facts, event
        before, shown = shown, outputs(walk.book, walk.facts)
        same_as_the_cores(core, walk, shown)
        ours = [*before[0], *before[1], *before[2]], [*shown[0], *shown[1], *shown[2]]
        changed = {output for output, (a, b) in enumerate(zip(*ours, strict=True)) if a != b}
        assert changed <= {output for output, woken in enumerate(walk.scratch.awake) if woken}
        walk.scratch.awake[:] = [0] * len(walk.scratch.awake)
    for event, move, guard in walk.home():
        if walk.both(event, move, guard):
            moved.add(event.word)
        assert tuple(walk.facts) == walk.state.facts, event
    same_as_the_cores(core, walk, outputs(walk.book, walk.facts))
    return moved


def same_as_the_cores(core: Core, walk: Walk, shown: tuple[list[int], list[float], list[int]]) -> None:
    picture = core.picture(walk.state)
    assert [list(Aspect)[aspect] for aspect in shown[0]] == [each[0] for each in picture.aspects.values()]
    assert shown[1] == [kart.limit_kmh for kart in picture.karts.values()]


def test_every_decision_every_fact_and_every_output_is_the_cores(venue: Venue) -> None:
    moved = walked(Core(layout_of(venue, now_ms=0)), 1, 300)
    assert {"kart-at", "let-out", "caution", "stop", "lift", "clear", "kart-lost", "finish"} <= moved


@pytest.mark.gate
@pytest.mark.parametrize("name", ["venue", "quarry"])
def test_so_it_is_on_long_walks(request: pytest.FixtureRequest, name: str) -> None:
    core = Core(layout_of(request.getfixturevalue(name), now_ms=0))
    moved = set().union(*(walked(core, seed, 3000) for seed in (2, 3)))
    assert {"kart-at", "let-out", "caution", "stop", "lift", "clear", "kart-lost", "finish"} <= moved


def test_branches_are_the_trees_they_were_made_of() -> None:
    domains = {0: [0, 1, 2], 1: [0, 1, 2], 2: [0, 1]}
    maker = Maker(domains)
    one, two, three = slot(0), slot(1), slot(2)
    conditions = {
        maker.condition(conj([equal(one, 1), negate(equal(two, 2))])): lambda f: f[0] == 1 and f[1] != 2,
        maker.condition(disj([equal(one, two), equal(three, 1)])): lambda f: f[0] == f[1] or f[2] == 1,
        maker.condition(equal(choose(equal(three, 1), one, 2), two)): (
            lambda f: (f[0] if f[2] == 1 else 2) == f[1]
        ),
    }  # fmt: skip
    value = maker.value(choose(equal(one, 2), two, choose(equal(two, 0), 7, one)))
    for a in range(3):
        for b in range(3):
            for c in range(2):
                facts = [a, b, c]
                for row, meant in conditions.items():
                    assert bool(follow(maker.branches, facts, row)) == meant(facts)
                expected = b if a == 2 else 7 if b == 0 else a
                assert follow(maker.branches, facts, value) == expected
