"""What is explored: small venues of any size, with the rules that an exploration takes along.

`core_rows` is the table without the rows that came later (`added`): with them a venue of any interest
has too many states to be visited one by one, and the solver takes over.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any

from signals.core.forms import Table
from signals.core.ground import Ground
from signals.core.state import Layout
from signals.core.table import TABLE
from signals.proof.program import Scope
from signals.proof.small import small_layout
from signals.words import InputKind

REPORTS = frozenset({"link", "taken", "moving", "input"})
"""Only mirror what equipment reports, and are read afresh by every rule that minds them."""
MOTION = frozenset({"kart-rolls", "kart-stands", "kart-back", "limit-taken", "limit-missed", "input-normal"})
"""Say nothing but what is not stored."""


@dataclass(frozen=True, slots=True)
class Size:
    """How large a venue: sectors of track, karts, posts (the first is the supervisors' desk)."""

    sectors: int
    karts: int
    posts: int

    def __str__(self) -> str:
        """Give it as it is said: sectors x karts x posts."""
        return f"{self.sectors}×{self.karts}×{self.posts}"


def layout_of(size: Size, **changes: Any) -> Layout:
    """Give a ring with one head a sector and one pit-exit head, one class, one item to confirm."""
    full = small_layout(size.sectors, size.karts, size.posts)
    heads = tuple(head for head in full.heads if head != "px2")
    small: dict[str, Any] = {
        "heads": heads,
        "classes": ("adult",),
        "checklist": ("briefing",),
        "mixed_classes": False,
    }
    return small_layout(size.sectors, size.karts, size.posts, **(small | changes))


def core_rows(layout: Layout, table: Table = TABLE, *, by_machines: bool = False) -> Scope:
    """Take the rows that are not `added`, for any number of states up to some millions.

    The kinds of holds are told apart only by added rows, so one kind stands for all; the whole field is
    staged (which kart is in the group is an entry's matter, outside the stored state); a kart's button
    is an input like its radio: what must follow from it is then a property of the step that reports it.
    """
    added = frozenset(rule.name for rule in table.rules if rule.added)
    return Scope(
        without=added | MOTION - {"kart-back"},
        values={
            "stop.kind": frozenset({"incident"}),
            "caution.kind": frozenset({"incident"}),
            "caution.where": frozenset(layout.sectors[:-1]),
        },
        start={"opening": "open"},
        inputs=REPORTS | {"button"},
        whole_groups=True,
        by_machines=by_machines,
    )


def all_rows(*, by_machines: bool = False) -> Scope:
    """Take every row and every kind of hold, with the button stored; what only reports stays an input."""
    return Scope(inputs=REPORTS, without=frozenset({"kart-rolls", "kart-stands"}), by_machines=by_machines)


def ground_of(layout: Layout, table: Table = TABLE) -> Ground:
    """Compile a table for a layout."""
    return Ground(table, layout)


BASE = frozenset({
    "stage", "confirm", "arm", "disarm", "start", "finish", "close",
    "stop", "caution", "lift-stop", "lift-caution", "clear", "kart-at",
})  # fmt: skip
"""A session from staging to home, with stops and cautions."""


@dataclass(frozen=True, slots=True)
class Slice:
    """A part of the table small enough to be visited whole, with the added rows that belong together.

    `rules` come on top of `BASE`; `stored` reports are kept in the state; `changes` are made to the layout.
    """

    name: str
    size: Size
    rules: frozenset[str]
    values: Mapping[str, frozenset[str]] = field(default_factory=dict)
    stored: frozenset[str] = frozenset()
    opening: str = "open"
    changes: Mapping[str, Any] = field(default_factory=dict)

    def layout(self) -> Layout:
        """Give the venue of the slice."""
        return layout_of(self.size, **self.changes)

    def scope(self, table: Table = TABLE) -> Scope:
        """Give what of a table the slice takes along."""
        taken = BASE | self.rules
        kinds = {"stop.kind": frozenset({"incident"}), "caution.kind": frozenset({"incident"})}
        return Scope(
            without=frozenset(rule.name for rule in table.rules if rule.name not in taken),
            values=kinds | dict(self.values),
            start={"opening": self.opening},
            inputs=REPORTS - self.stored,
            whole_groups="staged" not in self.stored,
        )


def _words(text: str) -> frozenset[str]:
    return frozenset(text.split())


_ONE, _TWO_KARTS = Size(1, 1, 2), Size(1, 2, 1)
_TWINS = ("h1", "px1", "px2")
SLICES = (
    Slice("holds of every kind, changing hands", _ONE,
          _words("hand-over-stop hand-over-caution restart lend give-back monitor-tripped monitor-reset"),
          {"stop.kind": _words("incident fire medical"), "caution.kind": _words("incident person_on_track")}),
    Slice("leaving the pit, changing karts", _TWO_KARTS,
          _words("let-out gap-over stood-in-pit swap join disqualify-one requalify kart-pressed button-reset slow-one"
                 " withdraw-one"), {"caution.where": _words("s1"), "stage.staged": _words("adult none")},
          stored=_words("staged")),
    Slice("a test of lamps and limits", _ONE,
          _words("lend give-back show allow show-ended allow-ended head-lost head-back out-of-service day-ended"
                 " kart-pressed button-reset verdict"),
          {"show.aspect": _words("green red dark")}, changes={"heads": _TWINS}),
    Slice("weather and the opening check", _ONE,
          _words("wet dry verdict opening-set day-ended journal-failed journal-back move-over-one withdraw-one"
                 " slow-one restart"), opening="missing"),
    Slice("one kart", _ONE,
          _words("slow-one stop-one withdraw-one kart-standing kart-over-limit disqualify-one requalify account-pit"
                 " account-aside kart-lost kart-back move-over-one move-over-expired kart-pressed button-reset")),
    Slice("heads out of service", Size(1, 1, 1),
          _words("out-of-service day-ended verdict head-lost head-back move-over-one restart"),
          changes={"heads": _TWINS}),
    Slice("wired inputs", _ONE, _words("input-active input-normal input-fault lend give-back move-over-one"),
          stored=_words("input"), changes={"inputs": ("alarm", "gate"),
                                           "input_kind": {"alarm": InputKind.ALARM, "gate": InputKind.GATE}}),
    Slice("slowed only at the line", _ONE, _words("line-crossed wet dry"), changes={"finish_at_line": True}),
    Slice("a start from the grid, two classes", _TWO_KARTS,
          _words("let-out gap-over stood-in-pit kart-lost kart-back limit-taken limit-missed"),
          {"caution.where": _words("s1")}, stored=_words("staged link taken"),
          changes={"grid_start": True, "classes": ("junior", "adult")}),
)  # fmt: skip
"""Where the added rows are visited whole; all of them at once are the solver's."""
