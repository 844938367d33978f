"""A process as the supervisor knows them: argv is its name and how it behaves."""

import asyncio
import sys
from collections.abc import Callable

from signals.cli.process import until_told


class Odd:
    def __init__(self, name: str, behaviour: str) -> None:
        self.name, self.behaviour = name, behaviour

    async def run(self, ready: Callable[[], None]) -> None:
        if self.behaviour == "mute":
            await asyncio.Event().wait()
        if self.behaviour == "fails":
            raise SystemExit("no port is free")
        ready()
        if self.behaviour == "ends":
            return
        if self.behaviour == "deaf":
            while True:
                pass
        await asyncio.Event().wait()


asyncio.run(until_told(sys.argv[1], Odd(sys.argv[1], sys.argv[2])))
