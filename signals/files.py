"""Files written whole or not at all, and synced: a power cut leaves the old one or the new one."""

from __future__ import annotations

import os
from pathlib import Path

PRIVATE = 0o600
PUBLIC = 0o644
OWN = 0o700


def write_whole(path: Path, content: bytes, *, mode: int = PRIVATE) -> None:
    """Replace a file; it has its mode before it has its content. Raises OSError."""
    fresh = path.with_name(f"{path.name}.new")
    fresh.unlink(missing_ok=True)
    with os.fdopen(os.open(fresh, os.O_WRONLY | os.O_CREAT | os.O_EXCL, mode), "wb") as file:
        os.fchmod(file.fileno(), mode)  # whatever the umask took away
        file.write(content)
        file.flush()
        os.fsync(file.fileno())
    fresh.replace(path)
    sync_folder(path.parent)


def own_folder(folder: Path) -> None:
    """Make a folder, and those above it, for its owner alone; what is there stays. Raises OSError."""
    for missing in reversed([each for each in (folder, *folder.parents) if not each.exists()]):
        missing.mkdir(mode=OWN, exist_ok=True)


def sync_folder(folder: Path) -> None:
    """Put a folder's names on the disk. Raises OSError."""
    held = os.open(folder, os.O_RDONLY)
    try:
        os.fsync(held)
    finally:
        os.close(held)
