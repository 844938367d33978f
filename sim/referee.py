"""The referee: looks at the simulated world, hears what the controller says, tells what was amiss.

Observes, never decides: nothing that drives and nothing that controls listens. What is found is told
in `world`, shown in the window, and written to the practice file.
"""

from __future__ import annotations

from collections.abc import Sequence

from signals.mqtt.contract import State
from sim.ground import Ground
from sim.rules import RULES, WATCHES, Finding, Moment, Rule, Told, Watch
from sim.scene import Scene


class Referee:
    """Looks with every rule; `rules` and `watches` are given only to look with fewer."""

    def __init__(
        self,
        ground: Ground,
        *,
        rules: Sequence[type[Rule]] = RULES,
        watches: Sequence[type[Watch]] = WATCHES,
    ) -> None:
        self._ground = ground
        self._rules = [rule() for rule in rules]
        self._watches = [watch() for watch in watches]
        self._told = Told()

    def observe(self, scene: Scene, contacts: frozenset[tuple[int, int]] | None = None) -> list[Finding]:
        """Look at the scene; `contacts` are the pairs of karts that touch, worked out where not given."""
        touching = self._ground.contacts(scene) if contacts is None else contacts
        now = Moment(self._ground, scene, touching, self._told)
        return [finding for rule in self._rules for finding in rule.see(now)]

    def hear(self, state: State, scene: Scene) -> list[Finding]:
        """Hear the controller's picture."""
        self._told.hear(state, scene.time_s)
        now = Moment(self._ground, scene, frozenset(), self._told)
        return [finding for watch in self._watches for finding in watch.hear(now)]
