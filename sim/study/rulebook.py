"""The controller's rule table in the form that compiled sessions decide by: moves as branches over facts.

Nothing is decided here: guards, effects, aspects and limits are the trees that `signals.proof.program` makes
of the table for a venue, with every truth that comes with a call put in as an honest marshal would give it.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import accumulate
from typing import NamedTuple

from signals.core.expr import Bound
from signals.core.machine import Core
from signals.core.schema import GIVEN
from signals.core.state import Layout
from signals.proof.nodes import Value, rebuild
from signals.proof.program import Move, Program, Scope, binder
from signals.words import PIT, Aspect
from sim.speeds import both
from sim.study.branches import ANY, Branches, Facts, Maker, comparisons, follow

TRUTHS = dict.fromkeys(GIVEN, 0) | dict.fromkeys(("complete", "checked", "reasoned", "named", "own_call"), 1)
"""What a call says of itself: fresh, unheard before, by somebody who looked and gives his reasons."""
NEVER = frozenset(
    {
        "lend", "give-back", "show", "allow", "show-ended", "allow-ended", "swap", "join", "requalify",
        "hand-over-stop", "hand-over-caution", "day-ended", "restart", "out-of-service", "prepare",
        "confirm-next",
        "foreign-controller", "journal-failed", "journal-back", "dry", "slow-one", "stop-one", "withdraw-one",
    }
)  # fmt: skip
"""What is not called in a session."""
MISSING = -1
"""In a table of moves: there is none."""
ALONE = "incident"


class Rulebook(NamedTuple):
    """A venue's rules. A move is a number; tables of moves are read by karts, sectors and holders.

    Attributes:
        branches: all comparisons.
        first, places, rows: for each move where its updates begin; each update's place and row.
        guard: for each move of the equipment, and of one caller alone, its guard's row.
        sectors … posts: how many; the last holder is the equipment, the last sector the pit.
        head_rows, cap_rows: for each head, and for each kart its caps, the row.
        kmh: limits by surface, kart, cap and entry.
        wakes_first, wakes, wakes_on: for each place of the facts, the heads, karts and then karts' timers
            that read it, and the value they look for.
        phase … moving: where facts begin.

    """

    branches: Branches
    first: Sequence[int]
    places: Sequence[int]
    rows: Sequence[int]
    guard: Sequence[int]
    sectors: int
    holders: int
    karts: int
    heads: int
    posts: int
    caps: int
    entries: int
    head_rows: Sequence[int]
    cap_rows: Sequence[int]
    kmh: Sequence[float]
    wakes_first: Sequence[int]
    wakes: Sequence[int]
    wakes_on: Sequence[int]
    phase: int
    latch: int
    stop: int
    caution: int
    place: int
    link: int
    taken: int
    moving: int
    entry: int
    surface: int
    racing: int
    finishing: int
    stopped: int
    recovery: int
    pit: int
    unknown: int
    gap_runs: int
    stood_runs: Sequence[int]
    gap_over: int
    kart_at: Sequence[int]
    kart_stands: Sequence[int]
    kart_rolls: Sequence[int]
    kart_lost: Sequence[int]
    kart_back: Sequence[int]
    kart_standing: Sequence[int]
    kart_over_limit: Sequence[int]
    limit_taken: Sequence[int]
    limit_missed: Sequence[int]
    line_crossed: Sequence[int]
    stood_in_pit: Sequence[int]
    let_out: Sequence[int]
    let_out_guard: Sequence[int]
    caution_move: Sequence[int]
    caution_guard: Sequence[int]
    stop_move: Sequence[int]
    stop_guard: Sequence[int]
    lift_caution: Sequence[int]
    lift_caution_guard: Sequence[int]
    lift_stop: Sequence[int]
    lift_stop_guard: Sequence[int]
    clear: int
    clear_guard: Sequence[int]
    finish: int
    finish_guard: Sequence[int]
    let_out_fact: int
    no_stop: int
    no_caution: int
    holding: tuple[Aspect, Aspect, Aspect]
    """What heads show that hold drivers back."""
    aspects: Sequence[Aspect]
    """By the numbers that outputs give."""


class Scratch(NamedTuple):
    """Room to decide in: new values, and which outputs a change woke."""

    fresh: list[int]
    awake: list[int]
    woken: list[int]
    """How many."""


@both
def act(book: Rulebook, facts: Facts, scratch: Scratch, move: int) -> bool:
    """Make a move: all updates read the old facts. Wakes the outputs that read what changed."""
    begin, stop = book.first[move], book.first[move + 1]
    for number in range(begin, stop):
        scratch.fresh[number - begin] = follow(book.branches, facts, book.rows[number])
    changed = False
    for number in range(begin, stop):
        place, value = book.places[number], scratch.fresh[number - begin]
        was = facts[place]
        if was != value:
            facts[place] = value
            changed = True
            _wake(book, scratch, place, was, value)
    return changed


@both
def _wake(book: Rulebook, scratch: Scratch, place: int, was: int, value: int) -> None:
    """Wake the outputs that look for one of two values of a fact; to all others it is as before."""
    for each in range(book.wakes_first[place], book.wakes_first[place + 1]):
        sought, output = book.wakes_on[each], book.wakes[each]
        found = sought == was or sought == value or sought == ANY  # noqa: PLR1714 - alike in both forms
        if found and not scratch.awake[output]:
            scratch.awake[output] = 1
            scratch.woken[0] += 1


@both
def may(book: Rulebook, facts: Facts, guard: int) -> bool:
    """Whether a guard lets a move be made."""
    return follow(book.branches, facts, guard) == 1


@both
def happens(book: Rulebook, facts: Facts, scratch: Scratch, move: int) -> bool:
    """Let the equipment or time make a move, where its guard holds."""
    return move >= 0 and may(book, facts, book.guard[move]) and act(book, facts, scratch, move)


@both
def called(book: Rulebook, facts: Facts, scratch: Scratch, move: int, guard: int) -> bool:
    """Let somebody call a move; gives whether it was accepted."""
    if move < 0 or not may(book, facts, guard):
        return False
    act(book, facts, scratch, move)
    return True


@both
def limit_kmh(book: Rulebook, facts: Facts, kart: int) -> float:
    """Give a kart's limit: the least of the caps that apply."""
    surface, entry = facts[book.surface], facts[book.entry + kart]
    base = (surface * book.karts + kart) * book.caps
    least = 1e9
    for cap in range(book.caps):
        kmh = book.kmh[(base + cap) * book.entries + entry]
        if kmh < least and follow(book.branches, facts, book.cap_rows[kart * book.caps + cap]) == 1:
            least = kmh
    return least


@both
def aspect_of(book: Rulebook, facts: Facts, head: int) -> int:
    """Give the number of the aspect that a head is to show."""
    return follow(book.branches, facts, book.head_rows[head])


# --- making one


@dataclass(slots=True)
class _Made:
    """Moves as they are numbered."""

    maker: Maker
    moves: list[Move]
    numbers: dict[tuple[str, ...], int]
    guards: dict[tuple[str, ...], int]


def rulebook_of(core: Core) -> Rulebook:
    """Put a venue's rules into the form sessions decide by."""
    program = Program(core.ground, Scope(without=NEVER, inputs=frozenset(), whole_groups=True))
    maker = Maker(
        {place: list(program.domains.get(place, (start,))) for place, start in enumerate(program.start)}
    )
    made = _Made(maker, [], {}, {})
    for move in program.moves:
        _take(made, move)
    ground, layout = core.ground, core.layout
    facts = ground.schema.facts
    karts = [str(kart) for kart in layout.karts]
    holders, sectors = (*layout.posts, "E"), layout.sectors
    head_trees = [_folded(program, tree) for tree in program.aspects]
    cap_trees = [_folded(program, tree) for kart in range(len(karts)) for tree in _caps(program, kart)]
    head_rows = [maker.value(tree) for tree in head_trees]
    cap_rows = [maker.condition(tree) for tree in cap_trees]
    stood = [maker.condition(_timer(program, "stood", kart)) for kart in range(len(karts))]
    gap = maker.condition(_timer(program, "gap", None))
    readers = _readers(maker.branches, head_rows, cap_rows, stood, facts["surface"].base, facts["entry"].base)
    updates = [[(place, maker.value(_given(value))) for place, value in move.updates] for move in made.moves]

    def by_kart(rule: str) -> list[int]:
        return [made.numbers.get((rule, "", kart), MISSING) for kart in karts]

    def guards(rule: str, *names: str) -> list[int]:
        return [made.guards.get((rule, post, *names), MISSING) for post in layout.posts]

    def place_of(fact: str, *members: str) -> int:
        return facts[fact].base if not members else ground.index(fact, *members)

    def member(fact: str, name: str) -> int:
        return facts[fact].domain.members.index(name)

    return Rulebook(
        branches=maker.branches,
        first=[0, *accumulate(len(each) for each in updates)],
        places=[place for each in updates for place, _ in each],
        rows=[row for each in updates for _, row in each],
        guard=[made.maker.condition(_anybody(move)) for move in made.moves],
        sectors=len(sectors),
        holders=len(holders),
        karts=len(karts),
        heads=len(layout.heads),
        posts=len(layout.posts),
        caps=len(program.table.caps),
        entries=len(facts["entry"].domain.members),
        head_rows=head_rows,
        cap_rows=cap_rows,
        kmh=list(limits_of(core, core.layout)),
        wakes_first=[0, *accumulate(len(readers.get(place, ())) for place in range(len(program.start)))],
        wakes=[output for place in sorted(readers) for output, _ in readers[place]],
        wakes_on=[value for place in sorted(readers) for _, value in readers[place]],
        phase=place_of("phase"),
        latch=place_of("latch"),
        stop=place_of("stop"),
        caution=place_of("caution"),
        place=place_of("place"),
        link=place_of("link"),
        taken=place_of("taken"),
        moving=place_of("moving"),
        entry=place_of("entry"),
        surface=place_of("surface"),
        racing=member("phase", "racing"),
        finishing=member("phase", "finishing"),
        stopped=member("latch", "stop"),
        recovery=member("latch", "recovery"),
        pit=sectors.index(PIT),
        unknown=member("place", "unknown"),
        gap_runs=gap,
        stood_runs=stood,
        gap_over=made.numbers.get(("gap-over", ""), MISSING),
        kart_at=[
            made.numbers.get(("kart-at", "", kart, where), MISSING) for kart in karts for where in sectors
        ],
        kart_stands=by_kart("kart-stands"),
        kart_rolls=by_kart("kart-rolls"),
        kart_lost=by_kart("kart-lost"),
        kart_back=by_kart("kart-back"),
        kart_standing=by_kart("kart-standing"),
        kart_over_limit=by_kart("kart-over-limit"),
        limit_taken=by_kart("limit-taken"),
        limit_missed=by_kart("limit-missed"),
        line_crossed=by_kart("line-crossed"),
        stood_in_pit=by_kart("stood-in-pit"),
        let_out=by_kart("let-out"),
        let_out_guard=[row for kart in karts for row in guards("let-out", kart)],
        caution_move=[
            made.numbers.get(("caution", post, where, ALONE), MISSING)
            for post in layout.posts
            for where in sectors
        ],
        caution_guard=[
            made.guards.get(("caution", post, where, ALONE), MISSING)
            for post in layout.posts
            for where in sectors
        ],
        stop_move=[made.numbers.get(("stop", post, ALONE), MISSING) for post in layout.posts],
        stop_guard=[made.guards.get(("stop", post, ALONE), MISSING) for post in layout.posts],
        lift_caution=[
            made.numbers.get(("lift-caution", "", where, placer), MISSING)
            for where in sectors
            for placer in holders
        ],
        lift_caution_guard=[
            row for where in sectors for placer in holders for row in guards("lift-caution", where, placer)
        ],
        lift_stop=[made.numbers.get(("lift-stop", "", placer), MISSING) for placer in holders],
        lift_stop_guard=[row for placer in holders for row in guards("lift-stop", placer)],
        clear=made.numbers.get(("clear", ""), MISSING),
        clear_guard=guards("clear"),
        finish=made.numbers.get(("finish", ""), MISSING),
        finish_guard=guards("finish"),
        let_out_fact=place_of("let_out"),
        no_stop=member("stop", "none"),
        no_caution=member("caution", "none"),
        holding=(Aspect.RED, Aspect.YELLOW_FLASH, Aspect.YELLOW),
        aspects=list(Aspect),
    )


def _take(made: _Made, move: Move) -> None:
    """Take a move: of several ways to make it, the one that goes with an honest call."""
    names = dict(move.names)
    truths = {name: names.pop(name) for name in list(names) if name in TRUTHS}
    if any((word == "true") != bool(TRUTHS[name]) for name, word in truths.items()):
        return
    post = names.pop("post", "")
    key = (move.rule.name, post, *names.values())
    made.numbers[key] = len(made.moves)
    made.moves.append(move)
    for asked in move.asked:
        guard = made.maker.condition(_given(asked.guard))
        made.guards[move.rule.name, post or asked.post, *names.values()] = guard


def _given(tree: Value) -> Value:
    return rebuild(tree, binder(TRUTHS), {})


def _anybody(move: Move) -> Value:
    """Give the guard of the one who can make a move; of a call that several can, one that never holds."""
    return _given(move.asked[0].guard) if len(move.asked) == 1 else 0


def _folded(program: Program, tree: Value) -> Value:
    return _given(program.fold(tree))


def _caps(program: Program, kart: int) -> Iterator[Value]:
    bound = program.ground.schema.sorts["kart"]
    for cap in program.table.caps:
        yield program.truth(cap.when, {"k": Bound(bound, kart)})


def _timer(program: Program, name: str, kart: int | None) -> Value:
    timer = next(each for each in program.table.timers if each.name == name)
    env = {} if kart is None else {"kart": Bound(program.ground.schema.sorts["kart"], kart)}
    return _folded(program, program.truth(timer.running, env))


def limits_of(core: Core, layout: Layout) -> Iterator[float]:
    """Give every limit of a layout: by surface, kart, cap, and the class that somebody drives in."""
    schema = core.ground.schema
    for surface in schema.sorts["surface"].members:
        limits = layout.limits_kmh[surface]
        for kart in layout.karts:
            for cap in core.ground.table.caps:
                for entry in schema.sorts["entry"].members:
                    own = entry if entry in layout.classes else layout.kart_class[kart]
                    yield limits[own if cap.limit == "class" else cap.limit]


def _readers(
    branches: Branches,
    heads: Sequence[int],
    caps: Sequence[int],
    timers: Sequence[int],
    surface: int,
    entry: int,
) -> dict[int, list[tuple[int, int]]]:
    """Give which outputs read a place of the facts, and for which value they look there.

    Heads first, then karts, whose limits go by surface and entry, then their timers; all by their rows.
    """
    karts = len(timers)
    each_kart = len(caps) // karts if karts else 0
    sought = [comparisons(branches, [row]) for row in heads]
    for kart in range(karts):
        own = comparisons(branches, caps[kart * each_kart : (kart + 1) * each_kart])
        sought.append(own | {(surface, ANY), (entry + kart, ANY)})
    sought += [comparisons(branches, [row]) for row in timers]
    readers: dict[int, list[tuple[int, int]]] = {}
    for output, found in enumerate(sought):
        for place, value in sorted(found):
            readers.setdefault(place, []).append((output, value))
    return readers
