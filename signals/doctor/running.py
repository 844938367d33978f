"""The processes that tell how they are: their status files in the data folder."""

from __future__ import annotations

import time
from pathlib import Path

import msgspec

from signals.doctor.seen import Look, Seen
from signals.health.watch import KEPT_S, Status, status_folder

SILENT_S = 3 * KEPT_S


def look(data: Path) -> list[Seen]:
    """Tell what each process last said of itself; none that ended in good order says anything."""
    seen = Look("running")
    for file in sorted(status_folder(data).glob("*.json")):
        try:
            status = msgspec.json.decode(file.read_bytes(), type=Status)
        except (OSError, msgspec.DecodeError):
            continue  # it ended meanwhile
        age_s = time.time() - status.at / 1000
        if age_s > SILENT_S:
            said = f"said nothing for {age_s:.0f} s; before: {status.says}"
            seen.at(
                status.part, False, said, f"it was killed, or hangs: look at process {status.pid} and its log"
            )
        else:
            seen.at(status.part, status.well, status.says, "see its log", needed=False)
    return seen.seen
