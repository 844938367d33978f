"""Which karts, posts and sectors a venue cannot tell apart, and states that differ in nothing else."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import permutations, product
from typing import TYPE_CHECKING

import numpy as np

from signals.core.expr import Constant
from signals.core.ground import Ground

if TYPE_CHECKING:
    from signals.proof.space import Keys, Space

Swap = dict[str, tuple[int, ...]]
"""sort -> where each member goes."""


@dataclass(frozen=True, slots=True)
class Symmetry:
    """A group of swaps, without the one that changes nothing."""

    swaps: tuple[Swap, ...]

    def images(self, space: Space, keys: Keys) -> Iterator[Keys]:
        """Give the states themselves and every image of them."""
        yield keys
        for swap in self.swaps if len(keys) else ():
            yield _image(space, keys, swap)

    def one_of_each(self, space: Space, keys: Keys) -> Keys:
        """Give one of each orbit, the least; the states come in rising order."""
        if not self.swaps or not len(keys):
            return keys
        least = np.minimum.reduce(list(self.images(space, keys)))
        return np.unique(least)

    def orbit(self, space: Space, key: int) -> Keys:
        """Give every image of one state."""
        return np.concatenate(list(self.images(space, np.array([key], np.int64))))


def _image(space: Space, keys: Keys, swap: Swap) -> Keys:
    """Give the image of states: every slot's value goes to the slot of the swapped index."""
    columns = space.columns(keys)
    ground = space.program.ground
    made = np.zeros(len(keys), np.int64)
    for slot in space.program.slots:
        array = ground.schema.facts[slot.fact]
        index = tuple(
            _moved(swap, sort.name, sort.members.index(member))
            for sort, member in zip(array.over, slot.index, strict=True)
        )
        place = array.base
        stride = 1
        for sort, number in reversed(list(zip(array.over, index, strict=True))):
            place += number * stride
            stride *= len(sort.members)
        members = len(array.domain.members)
        values = np.arange(256, dtype=np.uint8)
        values[:members] = [_moved(swap, array.domain.name, n) for n in range(members)]
        made += space.weight(place)[values[columns.slots[slot.place]]]
    return made


def _moved(swap: Swap, sort: str, number: int) -> int:
    """Give where a member goes; holders begin with the posts, spots with the sectors."""
    name = {"holder": "post", "spot": "sector", "track": "sector"}.get(sort, sort)
    moved = swap.get(name, ())
    return moved[number] if number < len(moved) else number


def symmetry(ground: Ground) -> tuple[Symmetry, dict[str, str]]:
    """Find what can be swapped, and say for each kind what can't and why.

    Karts, posts, and sectors with their heads are tried separately; the group is made of all
    combinations of what can be.
    """
    layout = ground.layout
    karts = [{"kart": order} for order in _orders(len(layout.karts)) if keeps(ground, {"kart": order})]
    posts = [{"post": order} for order in _orders(len(layout.posts)) if keeps(ground, {"post": order})]
    track = [
        {"sector": (*order, len(order)), "head": heads}
        for order in _orders(len(layout.sectors) - 1)
        for heads in _orders(len(layout.heads))
        if keeps(ground, {"sector": (*order, len(order)), "head": heads})
    ]
    swaps = tuple(a | b | c for a, b, c in product(karts, posts, track))
    said = {
        "karts": _said(len(karts), "kart"),
        "posts": _said(len(posts), "post"),
        "sectors": _said(len(track), "sector"),
    }
    return Symmetry(tuple(swap for swap in swaps if any(_changes(order) for order in swap.values()))), said


MOST_SWAPPED = 5
"""Of more members than this, only neighbours are tried: the orders grow too fast."""


def _orders(count: int) -> Iterator[tuple[int, ...]]:
    if count <= MOST_SWAPPED:
        yield from permutations(range(count))
    else:
        yield tuple(range(count))


def _changes(order: Sequence[int]) -> bool:
    return tuple(order) != tuple(range(len(order)))


_SAID = {
    "kart": "their classes differ",
    "post": "they differ in what they may or cover",
    "sector": "heads, approaches or the pit exit tell them apart",
}


def _said(count: int, kind: str) -> str:
    if count > 1:
        return f"interchangeable in {count} orders"
    return f"not interchangeable: {_SAID[kind]}"


def keeps(ground: Ground, swap: Swap) -> bool:
    """Whether every relation of the venue reads the same after a swap."""
    layout = ground.layout
    classes = [layout.kart_class[kart] for kart in layout.karts]
    if "kart" in swap and any(classes[a] != classes[b] for a, b in enumerate(swap["kart"])):
        return False
    return all(
        _same(constant, swap) for constant in ground.schema.constants.values() if constant.name != "earlier"
    )


def _same(constant: Constant, swap: Swap) -> bool:
    """Whether a relation is kept; `earlier` only orders pairs of karts, so that each is told once."""
    shape = tuple(len(sort.members) for sort in constant.over)
    table = np.array(constant.values).reshape(shape)
    for axis, sort in enumerate(constant.over):
        order = [_moved(swap, sort.name, n) for n in range(len(sort.members))]
        table = np.take(table, np.argsort(order), axis=axis)
    return bool((table == np.array(constant.values).reshape(shape)).all())
