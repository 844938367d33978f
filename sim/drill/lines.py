"""The lines a score can have, by name: what a drill file may say that a mistake costs.

A duty to call gives `ID.seen`, `ID.call`, `ID.where`, `ID.time`; one to free the track, or to bring
the session on, `ID.early` and `ID.time`. What a drill forbids is `never-1`, `never-2` … The rest
belongs to every drill.
"""

from __future__ import annotations

from sim.drill.form import DutyTable, File

SEEN, CALL, WHERE, TIME, EARLY = "seen", "call", "where", "time", "early"
ORDER, FALSE_ALARM, REFUSED = "order", "false-alarm", "refused"
EXPOSURE, CONTACT, REFEREE, WALKED = "exposure", "contact", "referee", "walked-first"
OF_ALL = (ORDER, FALSE_ALARM, REFUSED, EXPOSURE, CONTACT, REFEREE, WALKED)


def of_duty(duty: DutyTable) -> tuple[str, ...]:
    """Name the lines of a duty."""
    if duty.call is None and duty.box is None:
        return (f"{duty.id}.{EARLY}", f"{duty.id}.{TIME}")
    if duty.of is None:
        return (f"{duty.id}.{CALL}", f"{duty.id}.{TIME}")
    return tuple(f"{duty.id}.{aspect}" for aspect in (SEEN, CALL, WHERE, TIME))


def known_lines(file: File) -> tuple[str, ...]:
    """Name every line that a drill's score can have."""
    duties = (line for duty in file.duty for line in of_duty(duty))
    nevers = (f"never-{number}" for number in range(1, len(file.never) + 1))
    return (*duties, *nevers, *OF_ALL)
