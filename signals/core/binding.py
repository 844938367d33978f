"""From an event to a rule with its parameters, or to the refusal that names what is unknown."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Any

from signals.core.ground import CALLED, Ground, GroundRule
from signals.core.schema import GIVEN, plain
from signals.core.state import Event, Layout, Member, Party, Refusal, State
from signals.words import EQUIPMENT, PIT, Word

_NOTHING_GIVEN = (False,) * len(GIVEN)
"""For rules that no interlock may refuse."""


@dataclass(frozen=True, slots=True)
class Bound:
    """An event made ready: its rule, the caller among the holders, parameters, truths, staged classes."""

    ground: GroundRule
    post: int
    params: tuple[int, ...]
    given: tuple[bool, ...]
    staged: tuple[int, ...]
    party: Party | None
    """The group that stage, prepare or confirm would leave behind."""

    @property
    def arguments(self) -> tuple[Any, ...]:
        """What a rule's functions take after facts and definitions."""
        return self.post, self.params, self.given, self.staged

    def named(self) -> dict[str, str]:
        """Give the parameters by name, as members."""
        pairs = zip(self.ground.params, self.params, strict=True)
        return {name: domain.members[number] for (name, domain), number in pairs}


class Unknown(Exception):
    """A target the venue does not have; the sentence says which and what there is."""


def rule_name(event: Event) -> str:
    """Give the name of the rule an event asks for; words with two rules are told apart by their fields."""
    fields = event.fields
    if event.word in (Word.LIFT, Word.HAND_OVER):
        what = str(fields.get("hold", "")).partition(":")[0]
        if what not in ("stop", "caution"):
            raise Unknown(
                f"Name the hold as stop:PLACER or caution:SECTOR:PLACER; {fields.get('hold')!r} is neither."
            )
        return f"{event.word}-{what}"
    if event.word == Word.ACCOUNT:
        if fields.get("where") not in (PIT, "aside"):
            raise Unknown(f"Account: where is pit or aside; {fields.get('where')!r} is neither.")
        return f"account-{fields['where']}"
    if event.word == Word.CONFIRM and fields.get("to") == "next":
        return "confirm-next"
    return event.word


def _hold_part(number: int) -> Callable[[Mapping[str, Any]], Any]:
    def part(fields: Mapping[str, Any]) -> Any:
        parts = str(fields.get("hold", "")).split(":")
        return parts[number] if -len(parts) < number < len(parts) else None

    return part


_ALIASES: dict[tuple[str, str], Callable[[Mapping[str, Any]], Any]] = {
    ("lift-stop", "placer"): _hold_part(1),
    ("lift-caution", "where"): _hold_part(1),
    ("lift-caution", "placer"): _hold_part(2),
    ("hand-over-stop", "placer"): _hold_part(1),
    ("hand-over-caution", "where"): _hold_part(1),
    ("hand-over-caution", "placer"): _hold_part(2),
    ("stop", "kind"): lambda f: f.get("kind") if f.get("kind") in ("fire", "medical") else "incident",
    ("caution", "kind"): lambda f: f.get("kind") if f.get("kind") == "person-on-track" else "incident",
    ("join", "to"): lambda f: f["entries"][0].kart if len(f.get("entries", ())) == 1 else None,
}
"""Parameters that are not simply the field of the same name."""


class Binder:
    """Bind events of one venue."""

    def __init__(self, ground: Ground) -> None:
        self.ground = ground
        self.layout: Layout = ground.layout
        self._classes = ground.schema.sorts["class"].members
        self._nobody = (len(self._classes),) * len(self.layout.karts)

    def bind(self, state: State, event: Event) -> Bound | Refusal:
        """Make an event ready; a Refusal where a word or a target is unknown."""
        try:
            return self._bind(state, event)
        except Unknown as unknown:
            return Refusal("unknown-target", str(unknown))

    def _bind(self, state: State, event: Event) -> Bound:
        ground = self.ground.rules.get(rule_name(event))
        if ground is None:
            raise Unknown(f"There is no call {event.word!r}.")
        post = self._post(ground, event)
        party = self._party(state, event)
        params = tuple(self._param(ground, name, event, state) for name, _ in ground.params)
        self._check_fields(event)
        given = self._given(state, event, party, ground)
        return Bound(ground, post, params, given, self._staged(event, party), party)

    def _post(self, ground: GroundRule, event: Event) -> int:
        holders = self.ground.schema.sorts["holder"].members
        if ground.rule.kind not in CALLED:
            return holders.index(EQUIPMENT)
        if event.post in self.layout.posts:
            return holders.index(event.post)
        raise Unknown(f"There is no post {event.post!r}; there are {', '.join(self.layout.posts)}.")

    def _param(self, ground: GroundRule, name: str, event: Event, state: State) -> int:
        rule = ground.rule.name
        if name == "runs_as":
            return self._runs_as(rule, event, state)
        alias = _ALIASES.get((rule, name))
        value = alias(event.fields) if alias else event.fields.get(name)
        domain = dict(ground.params)[name]
        member = plain(str(value)) if domain.name in ("aspect", "verdict", "caution_call") else str(value)
        if value is None or member not in domain.members:
            word = event.word.capitalize().replace("-", " ")
            wrong = f"say which {name}:" if value is None else f"{name} {value!r} is not"
            raise Unknown(f"{word}: {wrong} one of {_listed(domain.members)}.")
        return domain.members.index(member)

    def _check_fields(self, event: Event) -> None:
        """Refuse karts, classes and limits the venue does not have."""
        for member in event.fields.get("entries", ()):
            if member.kart not in self.layout.karts:
                raise Unknown(f"There is no kart {member.kart}.")
            if member.class_ not in self._classes:
                raise Unknown(f"There is no class {member.class_!r}; there are {_listed(self._classes)}.")
        numbers = [member.kart for member in event.fields.get("entries", ())]
        if len(set(numbers)) != len(numbers):
            raise Unknown("A kart stands twice in the entries.")
        if event.word == Word.ALLOW and event.fields.get("limit_kmh") is None:
            raise Unknown("Allow: say which limit_kmh.")

    # -- groups --------------------------------------------------------------------------------------

    def runs_as(self, member: Member) -> str:
        """Give the slower of a driver's class and the kart's own."""
        return min(member.class_, self.layout.kart_class[member.kart], key=self._classes.index)

    def _runs_as(self, rule: str, event: Event, state: State) -> int:
        if rule == "join":
            entries = event.fields.get("entries", ())
            if len(entries) != 1 or entries[0].kart not in self.layout.karts:
                raise Unknown("Join takes one entry: a kart of this venue, its driver, the driver's class.")
            member = entries[0]
        else:
            found = [m for m in state.beside.group.members if m.kart == event.fields.get("kart")]
            to = event.fields.get("to")
            if to not in self.layout.karts:
                raise Unknown(f"There is no kart {to!r}.")
            member = Member(int(to), "", found[0].class_ if found else self._classes[0])
        if member.class_ not in self._classes:
            raise Unknown(f"There is no class {member.class_!r}; there are {_listed(self._classes)}.")
        return self._classes.index(self.runs_as(member))

    def _party(self, state: State, event: Event) -> Party | None:
        """Give the group as it would stand after the call."""
        beside, fields = state.beside, event.fields
        entries = tuple(fields.get("entries", ()))
        match event.word:
            case Word.PREPARE:
                return Party(event.id, entries)
            case Word.STAGE:
                return Party(event.id, entries) if entries or beside.next is None else beside.next
            case Word.CONFIRM:
                party = beside.next if fields.get("to") == "next" else beside.group
                if party is None:
                    raise Unknown("No group is prepared.")
                by = str(fields.get("by") or event.post)
                return Party(party.id, party.members, {**party.confirmed, str(fields.get("item")): (by, 0)})
        return None

    def _staged(self, event: Event, party: Party | None) -> tuple[int, ...]:
        if event.word != Word.STAGE or party is None:
            return self._nobody
        staged = dict(zip(self.layout.karts, self._nobody, strict=True))
        staged |= {m.kart: self._classes.index(self.runs_as(m)) for m in party.members}
        return tuple(staged.values())

    # -- what comes with a call ----------------------------------------------------------------------

    def _given(self, state: State, event: Event, party: Party | None, ground: GroundRule) -> tuple[bool, ...]:
        if not ground.needs:
            return _NOTHING_GIVEN
        fields, beside = event.fields, state.beside
        hold = state.notes.get(str(fields.get("hold")))
        partner = hold.partner if hold else None
        by = fields.get("by")
        given = {
            "stale": event.seen is None
            or event.seen[0] != state.boot
            or event.seen[1] < state.restrictive_at,
            "reused": seen_before(state, event) is not None,
            "barred": bool(self.barred(state, party, event)),
            "complete": party is not None and set(self.layout.checklist) <= set(party.confirmed),
            "checked": fields.get("checked") is True,
            "reasoned": bool(str(fields.get("reason", "")).strip()),
            "named": bool(str(by or "").strip()),
            "walker": str(fields.get("hold")).endswith(f":{event.post}")
            or partner in (event.post, by or event.post),
            "own_call": beside.slowed_by.get(fields.get("kart", 0)) == event.post,
            "rows_open": fields.get("verdict") != "do-not-open" and fields.get("checked") is not True,
        }
        return tuple(given[name] for name in GIVEN)

    def barred(self, state: State, party: Party | None, event: Event) -> list[str]:
        """Give the drivers of a call's entries who are barred today."""
        members = party.members if party is not None else tuple(event.fields.get("entries", ()))
        return [member.driver for member in members if member.driver in state.beside.barred]


def seen_before(state: State, event: Event) -> tuple[str, tuple[Refusal, ...]] | None:
    """Give what is remembered of a call's id, if it named anything; stop and caution are never looked up."""
    if not event.id or event.word in (Word.STOP, Word.CAUTION):
        return None
    return state.beside.ids.get(f"{event.post}/{event.id}")


def fingerprint(event: Event) -> str:
    """Give a payload's identity, to tell a repeated call from another one under the same id."""
    fields = "|".join(f"{name}={event.fields[name]!r}" for name in sorted(event.fields))
    return f"{event.word}@{event.post}|{fields}"


def _listed(members: tuple[str, ...]) -> str:
    return ", ".join(members)
