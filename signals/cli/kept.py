"""The processes of a run, as a sequence kills them and brings them back."""

from __future__ import annotations

import resource

from signals.supervise.supervisor import Supervisor

JOURNAL = "journal"
CONTROLLER = "controller"


class Kept:
    """`signals.sequence.player.Processes` over a supervisor.

    The journal is no process: its kill takes the controller's right to make files grow, which is
    what a full disk looks like to it.
    """

    def __init__(self, supervisor: Supervisor) -> None:
        self._supervisor = supervisor

    async def kill(self, name: str) -> None:
        """End a process as a power cut would; raises NotImplementedError for one not kept here."""
        if name == JOURNAL:
            self._let_grow(0)
        else:
            self._known(name)
            await self._supervisor.kill(name)

    async def start(self, name: str) -> None:
        """Bring it back and wait until it is ready."""
        if name == JOURNAL:
            self._let_grow(resource.RLIM_INFINITY)
        else:
            self._known(name)
            await self._supervisor.start(name)

    def _known(self, name: str) -> None:
        if name not in self._supervisor.names():
            raise NotImplementedError(f"the {name} is not run here")

    def _let_grow(self, size: int) -> None:
        pid = self._supervisor.pid(CONTROLLER)
        _, hard = resource.prlimit(pid, resource.RLIMIT_FSIZE)
        soft = size if hard == resource.RLIM_INFINITY else min(size, hard)
        resource.prlimit(pid, resource.RLIMIT_FSIZE, (soft, hard))
