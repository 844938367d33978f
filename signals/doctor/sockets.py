"""Who listens on this machine, by what the Linux kernel tells of it (proc(5)); elsewhere nothing is told."""

from __future__ import annotations

import ipaddress
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

_LISTENS = "0A"
"""TCP_LISTEN, as /proc/net/tcp writes states."""


@dataclass(frozen=True, slots=True)
class Listening:
    """One listening socket; `process` is the command of who holds it, "" where that is not to be seen."""

    address: str
    port: int
    process: str

    @property
    def loopback(self) -> bool:
        """Whether only this machine can reach it."""
        address = ipaddress.ip_address(self.address)
        mapped = getattr(address, "ipv4_mapped", None)
        return bool((mapped or address).is_loopback)

    @property
    def at(self) -> str:
        """The address and port, as a URL has them."""
        return f"[{self.address}]:{self.port}" if ":" in self.address else f"{self.address}:{self.port}"


def listening() -> list[Listening]:
    """Give all listening TCP sockets of this machine, in the order of their ports."""
    owners = _owners()
    found = [
        Listening(address, port, owners.get(inode, ""))
        for table in ("tcp", "tcp6")
        for address, port, inode in _table(Path("/proc/net") / table)
    ]
    return sorted(found, key=lambda each: (each.port, each.address))


def _table(file: Path) -> Iterator[tuple[str, int, str]]:
    try:
        lines = file.read_text(encoding="ascii").splitlines()[1:]
    except OSError:
        return
    for line in lines:
        fields = line.split()
        if fields[3] == _LISTENS:
            host, port = fields[1].split(":")
            yield address(host), int(port, 16), fields[9]


def address(written: str) -> str:
    """Read an address as /proc/net/tcp writes it: words of four bytes, each in the machine's order."""
    words = (bytes.fromhex(written[at : at + 8])[::-1] for at in range(0, len(written), 8))
    return str(ipaddress.ip_address(b"".join(words)))


def _owners() -> dict[str, str]:
    """Give the command of every process that can be looked into, by the inodes of its sockets."""
    found: dict[str, str] = {}
    for folder in Path("/proc").glob("[0-9]*"):
        try:
            command = _command((folder / "cmdline").read_bytes())
            fds = list((folder / "fd").iterdir())
        except OSError:
            continue  # ended meanwhile, or another user's
        found |= {lead[8:-1]: command for fd in fds if (lead := _lead(fd)).startswith("socket:[")}
    return found


def _lead(fd: Path) -> str:
    try:
        return str(fd.readlink())
    except OSError:
        return ""  # closed meanwhile


def _command(line: bytes) -> str:
    """Shorten a command line: `kerblight broker`, `mosquitto`."""
    words = [word.decode(errors="replace") for word in line.split(b"\0") if word]
    if "signals.cli" in words:
        return " ".join(("kerblight", *words[words.index("signals.cli") + 1 :][:1]))
    names = [Path(word).name for word in words[:2]]
    if "kerblight" in names:
        return " ".join(("kerblight", *words[names.index("kerblight") + 1 :][:1]))
    return names[0] if names else ""
