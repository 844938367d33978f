from __future__ import annotations

import asyncio
import threading
from collections.abc import AsyncIterator, Iterable
from pathlib import Path

import async_solipsism
import pytest

from signals.journal import Draft, Entry, Journal, JournalFailed, JournalWriter, Kind, reader
from signals.journal import writer as writer_module


class Faltering(Journal):
    """A real journal whose disk can be taken away; remembers which thread wrote."""

    def __init__(self, path: Path) -> None:
        super().__init__(path)
        self.away = False
        self.may_write = threading.Event()
        self.may_write.set()
        self.threads: set[str] = set()

    def append_many(self, drafts: Iterable[Draft]) -> tuple[Entry, ...]:
        self.may_write.wait(10)
        self.threads.add(threading.current_thread().name)
        if self.away:
            (pages,) = self._connection().execute("PRAGMA page_count").fetchone()
            self._connection().execute(f"PRAGMA max_page_count = {pages}")
            drafts = [*drafts, call("filler", text="x" * 500_000)]
        return super().append_many(drafts)


def call(what: str, **more: str) -> Draft:
    return Draft(kind=Kind.CALL, body={"call": what, **more}, at=1, boot="b000", seq=1)


def fault(failure: JournalFailed) -> Draft:
    return Draft(kind=Kind.FAULT, body={"said": str(failure)}, at=2, boot="b000", seq=1)


class Desk:
    """A writer with its journal and what it said."""

    def __init__(self, path: Path, *, threaded: bool) -> None:
        self.journal = Faltering(path)
        self.said: list[bool] = []
        self.changed = asyncio.Event()
        self.writer = JournalWriter(self.journal, threaded=threaded, fault=fault, on_change=self._on_change)

    def _on_change(self, works: bool) -> None:
        self.said.append(works)
        self.changed.set()

    def written(self) -> list[str]:
        return [e.body.get("call", "fault") for e in reader.entries(self.journal.path)]


@pytest.fixture(params=[False, True], ids=["inline", "threaded"])
async def desk(
    tmp_path: Path, request: pytest.FixtureRequest, monkeypatch: pytest.MonkeyPatch
) -> AsyncIterator[Desk]:
    monkeypatch.setattr(writer_module, "RETRY_S", 0.02)
    desk = Desk(tmp_path / "journal.sqlite", threaded=request.param)
    yield desk
    await desk.writer.close()


async def test_entries_come_in_order_of_submission(desk: Desk) -> None:
    futures = [desk.writer.submit([call(f"c{i}"), call(f"d{i}")]) for i in range(20)]
    entries = [entry for future in futures for entry in await future]
    assert [entry.n for entry in entries] == list(range(1, 41))
    assert desk.written()[:3] == ["c0", "d0", "c1"]
    assert desk.said == []


async def test_a_failure_is_told_once_and_what_happened_is_written_later(desk: Desk) -> None:
    await desk.writer.submit([call("before")])
    desk.journal.away = True
    with pytest.raises(JournalFailed):
        await desk.writer.submit([call("stop")])
    with pytest.raises(JournalFailed):
        await desk.writer.submit([call("caution")])
    with pytest.raises(JournalFailed):
        await desk.writer.submit([call("start")], keep=False)
    assert (desk.said, desk.writer.works) == ([False], False)
    desk.journal.away = False
    desk.changed.clear()
    await asyncio.wait_for(desk.changed.wait(), 5)
    assert (desk.said, desk.writer.works) == ([False, True], True)
    await desk.writer.submit([call("after")])
    assert desk.written() == ["before", "fault", "stop", "caution", "after"]
    assert reader.verify(desk.journal.path) == []


async def test_a_failed_permissive_call_leaves_only_the_fault(desk: Desk) -> None:
    desk.journal.away = True
    with pytest.raises(JournalFailed):
        await desk.writer.submit([call("start")], keep=False)
    desk.journal.away = False
    desk.changed.clear()
    await asyncio.wait_for(desk.changed.wait(), 5)
    assert desk.written() == ["fault"]


async def test_too_much_owed_is_counted_and_confessed(desk: Desk, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(writer_module, "KEPT_MAX", 3)
    desk.journal.away = True
    for i in range(5):
        with pytest.raises(JournalFailed):
            await desk.writer.submit([call(f"c{i}")])
    desk.journal.away = False
    await desk.writer.close()
    assert desk.written() == ["fault", "c0", "c1", "fault"]
    assert "3 entries were lost" in reader.last(desk.journal.path).body["said"]


async def test_close_writes_what_is_owed(desk: Desk) -> None:
    desk.journal.away = True
    desk.writer.submit([call("stop")])
    desk.writer.submit([call("caution")])
    while desk.writer.works:
        await desk.changed.wait()
    desk.journal.away = False
    await desk.writer.close()
    assert desk.written() == ["fault", "stop", "caution"]


async def test_a_body_that_is_no_json_reaches_the_caller_and_harms_nobody(desk: Desk) -> None:
    with pytest.raises(TypeError):
        await desk.writer.submit([Draft(kind=Kind.CALL, body={"no": object()}, at=1, boot="b000", seq=1)])
    await desk.writer.submit([call("stop")])
    assert desk.written() == ["stop"]


async def test_a_slow_disk_holds_up_no_beat(tmp_path: Path) -> None:
    desk = Desk(tmp_path / "journal.sqlite", threaded=True)
    desk.journal.may_write.clear()
    future = desk.writer.submit([call("stop")])
    for _ in range(50):
        await asyncio.sleep(0)  # the loop goes on turning
    assert not future.done()
    desk.journal.may_write.set()
    await future
    assert desk.journal.threads == {"journal_0"}
    await desk.writer.close()


def test_in_virtual_time_it_is_written_when_submit_returns(tmp_path: Path) -> None:
    async def run() -> None:
        desk = Desk(tmp_path / "journal.sqlite", threaded=False)
        started = asyncio.get_running_loop().time()
        assert desk.writer.submit([call("stop")]).done()
        desk.journal.away = True
        desk.writer.submit([call("caution")])
        await asyncio.sleep(60)
        desk.journal.away = False
        desk.changed.clear()
        await desk.changed.wait()
        assert asyncio.get_running_loop().time() - started == pytest.approx(61, abs=0.01)
        assert desk.written() == ["stop", "fault", "caution"]
        await desk.writer.close()

    with asyncio.Runner(loop_factory=async_solipsism.EventLoop) as runner:
        runner.run(run())
