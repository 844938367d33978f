"""`load`: a drill file, read and checked against its venue; every mistake at once."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Mapping
from pathlib import Path
from typing import Any

from msgspec import Struct

from signals.cli.options import configs
from signals.errors import BadInput, Finding
from signals.sequence.events import KINDS
from signals.sequence.load import Draft, Say, among
from signals.venue import lines
from signals.venue.draft import text_of
from signals.venue.model import Venue
from signals.venue.read import BROKEN, listed, nearest, shown, sound, usable
from signals.words import PIT
from sim.drill.form import (
    COLLEAGUE,
    DRAW_FORMS,
    DUTY_FORMS,
    OF_THE_DRILL,
    RADIO,
    STEPS,
    DrawTable,
    DutyTable,
    EventTable,
    File,
    MistakeTable,
    StartTable,
)
from sim.drill.lines import known_lines

ENDS = ".toml"
KNOWN_MAX = 24
"""Of more names than this a message gives only the nearest."""
OF_A_CALL = ("post", "call")
EVENTS = (*KINDS, *OF_THE_DRILL)


class Drill(Struct, frozen=True):
    """A checked drill: its name (the file's), where it is, and what stands in it."""

    name: str
    path: Path
    file: File


def folder() -> Path:
    """Give the folder of the drills that come along."""
    return configs() / "drills"


def shipped() -> list[Path]:
    """Give the files of the drills that come along, by name."""
    return sorted(folder().glob(f"*{ENDS}"))


def find(name: str) -> Path:
    """Find a drill by its name, or by its file.

    Raises:
        BadInput: there is none of that name; it names the nearest.

    """
    path = Path(name) if name.endswith(ENDS) else folder() / f"{name}{ENDS}"
    if path.is_file():
        return path
    near = nearest(name, (each.stem for each in shipped()))
    right = f"is no drill{near}; `kerblight drill list` names them all"
    raise BadInput([Finding("command line", 0, "NAME", repr(name), right)])


def load(path: str | Path, venue: Venue) -> Drill:
    """Load a drill file for a venue; raises BadInput with every mistake in it at once."""
    path = Path(path)
    draft = Draft(path, text_of(path))
    file = draft.read(File)
    if file is not BROKEN:
        _check(file, venue, draft.say)
    if draft.findings:
        raise BadInput(draft.findings)
    return Drill(path.stem, path, file)


def fleet(venue: Venue) -> tuple[int, ...]:
    """Give the karts that drills drive: those of the class that has the most, the fastest of equals."""
    counts = Counter(kart.class_ for kart in venue.karts)
    order = list(venue.limits.classes)
    chosen = max(counts, key=lambda name: (counts[name], order.index(name)))
    return tuple(kart.number for kart in venue.karts if kart.class_ == chosen)


def _check(file: File, venue: Venue, say: Say) -> None:
    for index, seat in usable(file.seats):
        among(seat, (post.id for post in venue.posts), ("seats", index), say)
    if file.start is not BROKEN:
        _check_start(file.start, venue, say)
    draws = {} if file.draw is BROKEN else file.draw
    for name, draw in draws.items():
        if draw is not BROKEN:
            _check_draw(draw, venue, ("draw", name), say)
            _check_parts(draw, file.start, ("draw", name, "karts"), say)
    _check_ids(file, say)
    earlier: dict[str, EventTable] = {}
    for index, event in sound(file.event, "id"):
        _check_event(event, earlier, draws, venue, ("event", index), say)
        earlier[event.id] = event
    _check_answers(file, earlier, draws, venue, say)


def _check_answers(
    file: File, events: Mapping[str, EventTable], draws: Mapping[str, DrawTable], venue: Venue, say: Say
) -> None:
    """Check what is to be done, what is wrong, and which mistakes are typical."""
    duties: list[str] = []
    for index, duty in sound(file.duty, "id"):
        _check_duty(duty, duties, events, draws, venue, ("duty", index), say)
        duties.append(duty.id)
    for index, never in sound(file.never, "of"):
        among(never.of, events, ("never", index, "of"), say)
        if never.of is None and (never.kart or never.where):
            say(("never", index, "of"), "", "is missing: kart and where are those of an event")
    for index, mistake in sound(file.mistake, "slip"):
        items = (item.id for item in venue.checklist)
        among(mistake.about, (*STEPS, *_named(events), *items), ("mistake", index, "about"), say)
        if mistake.slip == "skips" and mistake.about is None:
            say(("mistake", index, "about"), "", "is missing; skips needs what is left out")
        if file.duty is not BROKEN and BROKEN not in file.duty and file.never is not BROKEN:
            _check_losses(mistake, file, ("mistake", index), say)


def _named(events: Mapping[str, EventTable]) -> set[str]:
    """Give what happens in a drill, by the names of its events."""
    return {event.event for event in events.values() if event.event is not BROKEN}


def _check_start(start: StartTable, venue: Venue, say: Say) -> None:
    if start.venue not in (BROKEN, venue.id):
        right = f'this venue is "{venue.id}" ({venue.path}); give the other by --venue'
        say(("start", "venue"), shown(start.venue), right)
    most = len(fleet(venue))
    if start.karts is not BROKEN and start.karts > most:
        say(
            ("start", "karts"),
            shown(start.karts),
            f"must be at most {most}: the venue has no more of a class",
        )
    if start.out is None or BROKEN in (start.out, start.karts, start.phase):
        return
    if start.out > start.karts:
        say(("start", "out"), shown(start.out), f"must be at most karts ({start.karts})")
    if start.out and start.phase != "racing":
        say(("start", "out"), shown(start.out), 'karts are out while racing only; write phase = "racing"')


def _check_draw(draw: DrawTable, venue: Venue, path: lines.KeyPath, say: Say) -> None:
    given = [name for name in DRAW_FORMS if getattr(draw, name) is not None]
    if len(given) != 1:
        say(path, "", f"needs exactly one of {listed(DRAW_FORMS)}")
    for index, sector in usable(draw.sectors or ()):
        among(sector, (each.id for each in venue.sectors), (*path, "sectors", index), say)
    for index, head in usable(draw.heads or ()):
        among(head, (each.id for each in venue.heads), (*path, "heads", index), say)


def _check_parts(draw: DrawTable, start: StartTable, path: lines.KeyPath, say: Say) -> None:
    """Report a draw among karts of which there are none."""
    if start is BROKEN or BROKEN in (draw.karts, start.out, start.karts, start.phase):
        return
    out = (start.karts if start.out is None else start.out) if start.phase == "racing" else 0
    if (draw.karts == "out" and not out) or (draw.karts == "in" and out >= start.karts):
        say(path, shown(draw.karts), f"gives none: {out} of {start.karts} karts are out")


def _check_ids(file: File, say: Say) -> None:
    """Report an id that names a second event, or a second duty."""
    tables: tuple[tuple[str, Any], ...] = (("event", file.event), ("duty", file.duty))
    for table, rows in tables:
        seen: set[str] = set()
        for index, row in sound(rows, "id"):
            if row.id in seen:
                say((table, index, "id"), shown(row.id), f"names another {table} already")
            seen.add(row.id)


def _check_event(
    event: EventTable,
    earlier: Mapping[str, EventTable],
    draws: Mapping[str, DrawTable],
    venue: Venue,
    path: lines.KeyPath,
    say: Say,
) -> None:
    _check_range(event.at_s, (*path, "at_s"), say)
    _check_range(event.for_s, (*path, "for_s"), say)
    among(event.after, earlier, (*path, "after"), say)
    if event.over and event.after is None:
        say((*path, "over"), "true", "belongs to an event with `after`")
    _check_place(event.where, draws, "sectors", (each.id for each in venue.sectors), (*path, "where"), say)
    _check_place(event.head, draws, "heads", (each.id for each in venue.heads), (*path, "head"), say)
    _check_place(event.input, draws, "words", (each.id for each in venue.inputs), (*path, "input"), say)
    _check_kart(event.kart, draws, earlier, venue, (*path, "kart"), say)
    among(event.post, (post.id for post in venue.posts), (*path, "post"), say)
    _check_needs(event, path, say)
    _check_words(event, path, say)


def _check_needs(event: EventTable, path: lines.KeyPath, say: Say) -> None:
    """Every event has what it needs, and nothing that does not belong to it."""
    if event.event is BROKEN:
        return
    if event.event in OF_THE_DRILL:
        return
    kind = KINDS.get(event.event)
    if kind is None:
        near = nearest(event.event, EVENTS)
        say((*path, "event"), shown(event.event), f"is no event{near}; docs/drills.md lists them")
        return
    befalls = "kart" in kind.needs and kind.addressee == "world"
    have = {name for name in ("kart", "head", "where", "input", "aspect") if getattr(event, name) is not None}
    for name in sorted(kind.needs - have - ({"kart"} if befalls and event.where else set()) - {"for_ms"}):
        say((*path, name), "", f"is missing; {event.event} needs it" + (", or where" * befalls))
    for name in sorted(have - kind.needs - kind.may - ({"where"} if befalls else set())):
        say((*path, name), shown(getattr(event, name)), f"does not belong to {event.event}")
    if event.where == PIT and befalls:
        say((*path, "where"), shown(PIT), f"{event.event} befalls karts on the track")


def _check_words(event: EventTable, path: lines.KeyPath, say: Say) -> None:
    """Words belong to the radio, calls to a colleague; both need theirs."""
    if event.event is BROKEN:
        return
    for owner, needs, may in (
        (RADIO, ("says",), ("says", "about")),
        (COLLEAGUE, OF_A_CALL, (*OF_A_CALL, "kind")),
    ):
        given = {name for name in may if getattr(event, name) is not None}
        if event.event == owner:
            for name in sorted(set(needs) - given):
                say((*path, name), "", f"is missing; {owner} needs it")
        else:
            for name in sorted(given):
                say((*path, name), shown(getattr(event, name)), f"belongs to an event = {owner!r}")
    if event.says not in (None, BROKEN):
        _check_blanks(event.says, (*path, "says"), say)


def _check_blanks(text: str, path: lines.KeyPath, say: Say) -> None:
    """Report blanks in a text that nothing fills."""
    try:
        text.format(kart=1, where="")
    except (KeyError, IndexError, ValueError):
        say(path, shown(text), "only {kart} and {where} are filled in")


def _check_kart(
    kart: int | str | None,
    draws: Mapping[str, DrawTable],
    events: Mapping[str, EventTable],
    venue: Venue,
    path: lines.KeyPath,
    say: Say,
) -> None:
    if isinstance(kart, str) and kart.startswith("$"):
        _check_place(kart, draws, "karts", (), path, say)
    else:
        numbers = tuple(each.number for each in venue.karts)
        among(kart, numbers if isinstance(kart, int) else tuple(events), path, say)


def _check_range(value: tuple[float, ...] | None, path: lines.KeyPath, say: Say) -> None:
    if value is None or value is BROKEN or BROKEN in value:
        return
    if value[0] > value[1]:
        say(path, shown(list(value)), "the first must be at most the second: [least, most] in seconds")


def _check_place(
    name: str | None,
    draws: Mapping[str, DrawTable],
    form: str,
    known: Iterable[str],
    path: lines.KeyPath,
    say: Say,
) -> None:
    """Check a name of the venue, or of a draw that gives such names."""
    if name is None or name is BROKEN:
        return
    if not name.startswith("$"):
        among(name, known, path, say)
        return
    drawn = [f"${each}" for each, draw in draws.items() if draw is not BROKEN and getattr(draw, form)]
    if name not in drawn:
        say(path, shown(name), f"must be a [draw] of {form}: {listed(drawn)}{nearest(name, drawn)}")


def _check_duty(
    duty: DutyTable,
    duties: Iterable[str],
    events: Mapping[str, EventTable],
    draws: Mapping[str, DrawTable],
    venue: Venue,
    path: lines.KeyPath,
    say: Say,
) -> None:
    given = [name for name in DUTY_FORMS if getattr(duty, name) is not None]
    if len(given) != 1:
        say(path, "", f"needs exactly one of {listed(DUTY_FORMS)}")
    if duty.free == "there" and duty.of is None and duty.where is None:
        say((*path, "of"), "", 'is missing: free = "there" needs the event, or a where')
    among(duty.of, events, (*path, "of"), say)
    for index, event in usable(duty.once):
        among(event, events, (*path, "once", index), say)
    for index, event in usable(duty.not_before or ()):
        among(event, duty.once, (*path, "not_before", index), say)
    for index, other in usable(duty.after):
        among(other, tuple(duties), (*path, "after", index), say)
    _check_place(duty.where, draws, "sectors", (each.id for each in venue.sectors), (*path, "where"), say)
    _check_kart(duty.kart, draws, events, venue, (*path, "kart"), say)
    for index, wired in usable(duty.box or ()):
        among(wired, (each.id for each in venue.inputs), (*path, "box", index), say)
    among(duty.item, (item.id for item in venue.checklist), (*path, "item"), say)


def _check_losses(mistake: MistakeTable, file: File, path: lines.KeyPath, say: Say) -> None:
    known = known_lines(file)
    for index, line in usable(mistake.loses):
        if line not in known:
            say((*path, "loses", index), shown(line), f"is no line of this score{nearest(line, known)}")
