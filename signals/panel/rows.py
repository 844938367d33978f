"""What a page shows, as rows: plain data between the view and its templates."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Any

from signals.mqtt.contract import Entry


@dataclass(frozen=True, slots=True, kw_only=True)
class Button:
    """One call that can be touched. `asks` makes it two steps; a `quiet` one makes no sense now.

    `about` is what it is for where its label does not say so: a screen reader reads both.
    """

    label: str
    call: dict[str, Any]
    asks: str = ""
    yes: str = ""
    mark: str = ""
    about: str = ""
    quiet: bool = False
    line: str = ""
    choose: dict[str, list[str]] = field(default_factory=dict)
    """Fields that the question asks for, with what can be chosen."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Status:
    """The line on top: where the session and the track stand."""

    phase: str
    mark: str
    condition: str
    where: str
    ends_ms: int | None
    simulated: bool
    wet: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class NextRow:
    """What comes next; `goal` are the fields of the call that does it, by which its button is found."""

    line: str
    goal: dict[str, str]


@dataclass(frozen=True, slots=True, kw_only=True)
class SectorRow:
    """One sector: its condition, and the calls for it."""

    id: str
    short: str
    name: str
    mark: str
    condition: str
    dress: str
    own: bool
    yellow: Button
    on_foot: Button


@dataclass(frozen=True, slots=True, kw_only=True)
class HoldRow:
    """One standing hold; `buttons` end it or take it over."""

    key: str
    mark: str
    name: str
    by: str
    since_ms: int | None
    at: str
    reason: str
    own: bool
    buttons: tuple[Button, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class KartRow:
    """One kart: who drives it, where it is, what limits it, and the calls for it."""

    number: int
    driver: str
    place: str
    limit: str
    why: str
    level: str
    marks: tuple[str, ...]
    silent: bool
    member: bool
    buttons: tuple[Button, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class ItemRow:
    """One item of a group's checklist; `done` says who confirmed it and when."""

    id: str
    text: str
    done: str
    button: Button | None


@dataclass(frozen=True, slots=True, kw_only=True)
class HeadRow:
    """One signal head: what it shows, what it should."""

    id: str
    before: str
    mark: str
    number: int | None
    flashing: bool
    shows: str
    note: str
    differs: bool
    button: Button | None


@dataclass(frozen=True, slots=True, kw_only=True)
class Party:
    """A group: its members and its checklist."""

    title: str
    members: tuple[Entry, ...]
    items: tuple[ItemRow, ...]
