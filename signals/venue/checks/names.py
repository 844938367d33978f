"""Ids: unique, free to use, and known where something refers to them."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable, Iterable, Iterator

from signals.venue import form
from signals.venue.defaults import class_names
from signals.venue.draft import Draft
from signals.venue.lines import KeyPath
from signals.venue.read import BROKEN, listed, nearest, sound, usable
from signals.words import PIT

LISTS_WITH_IDS = ("sector", "post", "person", "node", "input", "loop", "head", "check_item")
WORLD = "world"
"""What simulated faults of the track, not of a node, are addressed to."""
PLACES = ("unknown", "aside")
"""Where a kart can be besides a sector."""
CAPS = ("zero", "stop", "creep", "return", "disqualified", "caution", "finish", "pit", "none")
"""What limits are called besides classes."""


def ids_are_unique(draft: Draft) -> None:
    """Report every id, kart number and checklist key that stands twice."""
    for name in LISTS_WITH_IDS:
        items = getattr(draft.form, name)
        _unique(draft, (((name, i, "id"), each.id) for i, each in sound(items, "id")))
    _unique(draft, ((("kart", i, "number"), kart.number) for i, kart in sound(draft.form.kart, "number")))
    if draft.form.checklist is not BROKEN:
        for key in ("id", "key"):
            items = sound(draft.form.checklist.item, key)
            _unique(draft, ((("checklist", "item", i, key), getattr(item, key)) for i, item in items))


def _unique(draft: Draft, found: Iterable[tuple[KeyPath, str | int]]) -> None:
    first: dict[str | int, KeyPath] = {}
    for path, value in found:
        if value in first:
            draft.say(
                path, value, f"must be given once; it stands in line {draft.line(first[value])} already"
            )
        first.setdefault(value, path)


def ids_are_free(draft: Draft) -> None:
    """Report ids that the product uses itself."""
    for index, sector in sound(draft.form.sector, "id"):
        if sector.id == PIT:
            draft.say(("sector", index, "id"), PIT, "is the pit lane's id; it is made from [pit]")
        if sector.id in PLACES:
            draft.say(("sector", index, "id"), sector.id, "says where a kart is otherwise; choose another id")
    for name in class_names(draft.form):
        if name in CAPS:
            draft.say(("limits_kmh", "classes", name), name, "is the name of another limit; choose another")
    for index, node in sound(draft.form.node, "id"):
        if node.id == WORLD:
            draft.say(("node", index, "id"), WORLD, "is the simulated world's; choose another id")


def references_lead_somewhere(draft: Draft) -> None:
    """Report every reference to an id that is nowhere, and every one that is given twice."""
    file = draft.form
    sectors = [*_ids(file.sector), PIT]
    posts, heads, inputs = _ids(file.post), _ids(file.head), _ids(file.input)
    karts = list(dict.fromkeys(kart.number for _, kart in sound(file.kart, "number")))
    _refer(draft, _many("post", file.post, "covers"), sectors, "a sector")
    _refer(draft, _many("head", file.head, "protects"), sectors, "a sector")
    _refer(draft, _many("person", file.person, "posts"), posts, "a post")
    _refer(draft, _many("node", file.node, "heads"), heads, "a head")
    _refer(draft, _many("node", file.node, "inputs"), inputs, "an input")
    _refer(draft, _many("node", file.node, "karts"), karts, "a kart")
    _refer(draft, _one("input", file.input, "sector"), sectors, "a sector")
    _refer(draft, _one("loop", file.loop, "sector"), sectors, "a sector")
    if classes := class_names(file):
        _refer(draft, _one("kart", file.kart, "class_"), classes, "a class of limits_kmh.classes")


def _ids(items: Iterable[form.Table]) -> list[str]:
    return list(dict.fromkeys(item.id for _, item in sound(items, "id")))  # type: ignore[attr-defined]


def _many(table: str, items: Iterable[form.Table], name: str) -> Iterator[tuple[KeyPath, str | int]]:
    for index, item in sound(items, name):
        for place, value in usable(getattr(item, name)):
            yield (table, index, name, place), value


def _one(table: str, items: Iterable[form.Table], name: str) -> Iterator[tuple[KeyPath, str | int]]:
    for index, item in sound(items, name):
        if (value := getattr(item, name)) is not None:
            yield (table, index, name.rstrip("_")), value


def _refer(
    draft: Draft, found: Iterable[tuple[KeyPath, str | int]], known: list[str] | list[int], what: str
) -> None:
    seen: dict[KeyPath, set[str | int]] = defaultdict(set)
    for path, value in found:
        if value not in known:
            hint = nearest(str(value), map(str, known))
            draft.say(path, value, f"must be {what}{hint}; there are {listed(known)}")
        elif value in seen[path[:-1]] and isinstance(path[-1], int):
            draft.say(path, value, "stands twice in this list; once is enough")
        seen[path[:-1]].add(value)


def granted_words_are_known(draft: Draft) -> None:
    """Report words that `may` cannot add."""
    known = (*form.GRANTABLE, form.EVERYTHING)
    for path, word in _many("post", draft.form.post, "may"):
        if word not in known:
            right = f"must be a word of calls beyond stop and caution{nearest(str(word), known)}"
            draft.say(path, word, f"{right}; there are {listed(known)}")


def one_node_each(draft: Draft) -> None:
    """Report heads, karts and inputs that hang on no node, or on several."""
    lists: tuple[tuple[str, str, Callable[[form.File], Iterable[form.Table]], str], ...] = (
        ("head", "heads", lambda file: file.head, "id"),
        ("kart", "karts", lambda file: file.kart, "number"),
        ("input", "inputs", lambda file: file.input, "id"),
    )
    if draft.form.node is BROKEN:
        return
    for table, plural, items, name in lists:
        users: dict[str | int, list[str]] = defaultdict(list)
        for _, node in sound(draft.form.node, "id", plural):
            for _, value in usable(getattr(node, plural)):
                users[value].append(node.id)
        for index, item in sound(items(draft.form), name):
            nodes = users[getattr(item, name)]
            if len(set(nodes)) != 1:
                found = f"on {' and '.join(nodes)}" if nodes else "on none"
                draft.say(
                    (table, index, name),
                    getattr(item, name),
                    f"must be in `{plural}` of exactly one node; it is {found}",
                )
