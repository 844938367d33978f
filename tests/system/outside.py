"""What somebody has who knows of kerblight only its command, its documents and its broker.

The run is the real command; the clients are mosquitto's own, each message by a process of its own.
Nothing of `signals` is imported here.
"""

from __future__ import annotations

import contextlib
import itertools
import json
import os
import select
import shutil
import signal
import subprocess
import sys
import threading
import time
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from pathlib import Path
from types import TracebackType
from typing import IO, Any, Self

import pytest

ROOT = "kerblight-sim/1/harbour-loop"
STARTED_S = 40.0
"""Five processes, each ready within 10 s; on a busy machine they take their time."""
WITHIN_S = 10.0
WANTED = ("mosquitto", "mosquitto_sub", "mosquitto_pub")
FIRST = ("nice", "-n", "-10") if shutil.which("nice") else ()
"""Leases of half a second are kept by real clocks: beside other tests the run goes first, where it may."""

with_broker = [
    pytest.mark.broker,
    pytest.mark.skipif(
        not all(map(shutil.which, WANTED)), reason=f"{', '.join(WANTED)}: not all are installed"
    ),
]


def kerblight(*words: str, cwd: Path | None = None) -> subprocess.CompletedProcess[str]:
    """Run one verb to its end."""
    return subprocess.run(
        [sys.executable, "-m", "signals.cli", *words],
        capture_output=True,
        text=True,
        check=False,
        cwd=cwd,
        stdin=subprocess.DEVNULL,
        timeout=60,
    )


@dataclass(frozen=True, slots=True)
class Heard:
    """A message as `mosquitto_sub` gave it; `topic` is below the venue's root."""

    at_s: float
    topic: str
    payload: bytes
    qos: int
    retained: bool

    @property
    def says(self) -> dict[str, Any]:
        """The payload as JSON."""
        return dict(json.loads(self.payload))


def patient_venue(folder: Path) -> Path:
    """Give Harbour Loop with leases that a busy machine does not end: for tests that are not about leases."""
    text = (Path(__file__).parents[2] / "configs/harbour-loop.toml").read_text(encoding="utf-8")
    leases = "".join(f"lease_{who} = 3000\n" for who in ("head", "kart", "controller"))
    assert text.count("[timing_ms]\n") == 1
    venue = folder / "harbour-loop.toml"
    venue.write_text(text.replace("[timing_ms]\n", f"[timing_ms]\n{leases}"), encoding="utf-8")
    return venue


def facts(state: dict[str, Any]) -> dict[str, Any]:
    """What a `state` says of the venue, without when and for the how manieth time."""
    return {name: value for name, value in state.items() if name not in ("seq", "at")}


class Lines:
    """Reads a stream to its end beside the test; `until` waits for what its lines bring about."""

    def __init__(self, stream: IO[bytes], take: Callable[[bytes], None]) -> None:
        self.changed = threading.Condition()
        self._take = take
        self._thread = threading.Thread(target=self._read, args=(stream,))
        self._thread.start()

    def _read(self, stream: IO[bytes]) -> None:
        for line in stream:
            with self.changed:
                self._take(line)
                self.changed.notify_all()

    def until(self, holds: Callable[[], Any], within_s: float) -> bool:
        """Wait until something holds, looking again at each line; False after `within_s`."""
        with self.changed:
            return bool(self.changed.wait_for(holds, within_s))

    def join(self) -> None:
        """Wait for the stream's end."""
        self._thread.join()


class Listener:
    """A plain `mosquitto_sub`: keeps everything in order, and the latest of each topic."""

    def __init__(self, run: Run, user: str | None, *topics: str) -> None:
        self.kept: list[Heard] = []
        self.latest: dict[str, Heard] = {}
        filters = [word for topic in topics or ("#",) for word in ("-t", f"{ROOT}/{topic}")]
        argv = ["mosquitto_sub", *run.address(user), "-q", "1", "-F", "%q %r %x %t", *filters]
        self._process = subprocess.Popen(argv, stdout=subprocess.PIPE)
        assert self._process.stdout is not None
        self._lines = Lines(self._process.stdout, self._take)

    def _take(self, line: bytes) -> None:
        qos, retained, payload, topic = line.decode().rstrip("\n").split(" ", 3)
        heard = Heard(
            time.monotonic(),
            topic.removeprefix(f"{ROOT}/"),
            bytes.fromhex(payload),
            int(qos),
            retained == "1",
        )
        self.kept.append(heard)
        self.latest[heard.topic] = heard

    def until(self, holds: Callable[[], Any], within_s: float = WITHIN_S) -> bool:
        """Wait until something holds, looking again at each message."""
        return self._lines.until(holds, within_s)

    def says(self, topic: str) -> dict[str, Any]:
        """Give the latest message of a topic, waiting for the first."""
        assert self.until(lambda: topic in self.latest), f"nothing came on {topic}"
        return self.latest[topic].says

    def since(self, mark: int) -> list[Heard]:
        """Give what came after the first `mark` messages."""
        with self._lines.changed:
            return self.kept[mark:]

    def of(self, kind: str, mark: int = 0) -> list[Heard]:
        """Give what came, on topics that end so."""
        return [heard for heard in self.since(mark) if heard.topic.rsplit("/", 1)[-1] == kind]

    def settled(self) -> dict[str, Any]:
        """Wait until every head shows what it is told, and give what `state` then says of the venue."""

        def shows() -> bool:
            return all(head["shown"] == head["aspect"] for head in self.says("state")["heads"].values())

        assert self.until(shows), self.says("state")["heads"]
        return facts(self.says("state"))

    def shown(self) -> dict[str, str]:
        """Give every head's aspect, as it reports it."""
        return {
            topic.split("/")[1]: heard.says["aspect"]
            for topic, heard in tuple(self.latest.items())
            if topic.endswith("/shown")
        }

    def taken(self) -> dict[str, float]:
        """Give the limit each kart obeys, as it reports it."""
        return {
            topic.split("/")[1]: heard.says["limit_kmh"]
            for topic, heard in tuple(self.latest.items())
            if topic.endswith("/taken")
        }

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self._process.terminate()
        self._process.wait(WITHIN_S)
        self._lines.join()
        assert self._process.stdout is not None
        self._process.stdout.close()


class Post:
    """A person's device that is no more than `mosquitto_pub` and a listener."""

    _ids = itertools.count(1)

    def __init__(self, run: Run, name: str, listener: Listener) -> None:
        self._run = run
        self._name = name
        self._listener = listener

    def call(self, word: str, **fields: Any) -> dict[str, Any]:
        """Call a word as of the latest state seen; gives the answer and its `took_s`."""
        state = self._listener.says("state")
        id_ = f"outside-{next(self._ids)}"
        asked = {"id": id_, "call": word, "boot": state["boot"], "seq": state["seq"], **fields}
        mark, begun_s = len(self._listener.kept), time.monotonic()
        self._run.publish(f"post-{self._name}", f"call/{self._name}", json.dumps(asked).encode())
        topic = f"answer/{self._name}"

        def answered() -> list[Heard]:
            came = self._listener.kept[mark:]
            return [heard for heard in came if heard.topic == topic and heard.says["id"] == id_]

        assert self._listener.until(answered), f"{word} of {self._name} was not answered"
        (answer,) = answered()
        return {**answer.says, "took_s": answer.at_s - begun_s}

    def gets(self, word: str, **fields: Any) -> dict[str, Any]:
        """Call a word that has to be accepted, and wait for the state it made."""
        answer = self.call(word, **fields)
        assert answer["accepted"], f"{word}: {answer['refusals']}"
        self._listener.until(lambda: self._listener.says("state")["seq"] >= answer["seq"])
        return answer


class Run:
    """`kerblight run` on a data folder; `with` it ends, and leaves no process."""

    def __init__(self, data: Path, *options: str, display: str | None = None) -> None:
        self.data = data
        self.said: list[str] = []
        screen = ("DISPLAY", "SDL_VIDEODRIVER")
        environment = {name: value for name, value in os.environ.items() if name not in screen}
        argv = [*FIRST, sys.executable, "-m", "signals.cli", "run", "--data", str(data), *options]
        self.process = subprocess.Popen(
            argv,
            stdin=subprocess.DEVNULL,
            stdout=subprocess.PIPE,
            stderr=subprocess.STDOUT,
            env=environment if display is None else {**environment, "DISPLAY": display},
        )
        assert self.process.stdout is not None
        self._lines = Lines(self.process.stdout, lambda line: self.said.append(line.decode().strip()))

    def started(self) -> Self:
        """Wait until all five processes are ready; the nodes are the last."""
        try:
            assert self.saw("nodes ready", STARTED_S), f"not started: {self.said}"
        except BaseException:
            self.end()
            raise
        return self

    def saw(self, line: str, within_s: float = WITHIN_S, *, times: int = 1) -> bool:
        """Wait until the run said a line so many times."""
        return self._lines.until(lambda: self.said.count(line) >= times, within_s)

    def address(self, user: str | None) -> tuple[str, ...]:
        """Give a client's options: the broker's address, and the user's password."""
        port = (self.data / "broker").read_text().strip().rpartition(":")[2]
        known = json.loads((self.data / "credentials.json").read_text())
        return ("-h", "127.0.0.1", "-p", port, *(("-u", user, "-P", known[user]) if user else ()))

    def publish(
        self, user: str | None, topic: str, payload: bytes, *, retain: bool = False, times: int = 1
    ) -> None:
        """Publish with QoS 1, and wait until the broker has it (denied or not, that looks the same)."""
        how = ["-s"] if payload else ["-n"]
        if times > 1 and payload:
            how += ["--repeat", str(times)]
        argv = ["mosquitto_pub", *self.address(user), "-q", "1", "-t", f"{ROOT}/{topic}", *how]
        for _ in range(1 if payload else times):
            subprocess.run([*argv, *(["-r"] if retain else [])], input=payload, check=True, timeout=WITHIN_S)

    def log(self, name: str) -> str:
        """Give a process's log."""
        return (self.data / "logs" / f"{name}.log").read_text(encoding="utf-8")

    def children(self) -> dict[str, int]:
        """Give the ids of all processes below the run's: by their verb, or the program's name."""
        return {_name_of(args): pid for pid, args in _below(self.process.pid)}

    def end(self, sign: signal.Signals = signal.SIGTERM) -> int:
        """End it if it still runs; gives the exit code."""
        try:
            self.process.send_signal(sign)
            return self.process.wait(STARTED_S)
        finally:
            self.process.kill()
            self.process.wait()
            self._lines.join()
            assert self.process.stdout is not None
            self.process.stdout.close()

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self.end()


def _below(root: int) -> Iterator[tuple[int, list[str]]]:
    """Give id and arguments of every process below one, by the system's own list."""
    listed = subprocess.run(
        ["ps", "-e", "-o", "pid=,ppid=,args="], capture_output=True, text=True, check=True
    ).stdout
    found = {root}
    for line in listed.splitlines():
        pid, parent, *args = line.split()
        if int(parent) in found:
            found.add(int(pid))
            yield int(pid), args


def _name_of(args: list[str]) -> str:
    return args[args.index("signals.cli") + 1] if "signals.cli" in args else Path(args[0]).name


@contextlib.contextmanager
def watched(pids: dict[str, int]) -> Iterator[Callable[[float], set[str]]]:
    """Watch processes that are not ours; gives what waits for their end and tells who did not end."""
    watches = {name: os.pidfd_open(pid) for name, pid in pids.items()}

    def left(within_s: float) -> set[str]:
        deadline = time.monotonic() + within_s
        waiting = dict(watches)
        while waiting and time.monotonic() < deadline:
            ended, _, _ = select.select(waiting.values(), [], [], max(0.0, deadline - time.monotonic()))
            waiting = {name: watch for name, watch in waiting.items() if watch not in ended}
        return set(waiting)

    try:
        yield left
    finally:
        for watch in watches.values():
            os.close(watch)
