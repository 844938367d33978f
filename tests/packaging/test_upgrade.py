"""Two versions side by side, as docs/running.md lays them out: forth and back, and the record stays."""

from __future__ import annotations

import json
import shutil
import subprocess
import sys
import sysconfig
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import pytest

from tests.packaging.services import Place, started
from tests.ports import free_port

ROOT = Path(__file__).parents[2]
OLD, NEW = "0.1.0", "9.9.9"
IN_THE_WHEEL = ("signals", "sim", "configs", "pyproject.toml", "README.md", "LICENSE")

pytestmark = [
    pytest.mark.gate,
    pytest.mark.broker,
    pytest.mark.skipif(shutil.which("mosquitto") is None, reason="mosquitto is not installed"),
]


def built(folder: Path, version: str) -> Path:
    """Build a wheel of this checkout under a version's number."""
    source = folder / f"source-{version}"
    source.mkdir()
    for name in IN_THE_WHEEL:
        if (ROOT / name).is_dir():
            shutil.copytree(ROOT / name, source / name, ignore=shutil.ignore_patterns("__pycache__"))
        else:
            shutil.copy(ROOT / name, source / name)
    project = source / "pyproject.toml"
    text = project.read_text(encoding="utf-8")
    assert text.count(f'version = "{OLD}"\n') == 1
    project.write_text(text.replace(f'version = "{OLD}"\n', f'version = "{version}"\n'), encoding="utf-8")
    run(sys.executable, "-m", "hatchling", "build", "-t", "wheel", "-d", str(folder), cwd=source)
    return folder / f"kerblight-{version}-py3-none-any.whl"


def installed(folder: Path, wheel: Path) -> None:
    """Install a wheel into an environment of its own; what it depends on is lent by this one."""
    run(sys.executable, "-m", "venv", "--without-pip", str(folder))
    own = Path(sysconfig.get_path("purelib", vars={"base": str(folder), "platbase": str(folder)}))
    (own / "lent.pth").write_text(f"{sysconfig.get_path('purelib')}\n", encoding="utf-8")
    pip = (sys.executable, "-m", "pip", "--python", str(folder / "bin/python"))
    run(*pip, "install", "--quiet", "--no-deps", "--no-index", "--disable-pip-version-check", str(wheel))


def run(*argv: str, cwd: Path | None = None) -> str:
    came = subprocess.run(argv, capture_output=True, text=True, check=False, cwd=cwd)
    assert came.returncode == 0, (argv, came.stdout, came.stderr)
    return came.stdout


@pytest.fixture(scope="module")
def versions(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("opt")
    for version in (OLD, NEW):
        installed(folder / version, built(folder, version))
    return folder


def switch(versions: Path, version: str) -> None:
    """Let `current` be a version, at once: what docs/running.md does by `ln -sfn` and `mv -T`."""
    fresh = versions / "next"
    fresh.symlink_to(version)
    fresh.replace(versions / "current")


@contextmanager
def serving(place: Place) -> Iterator[None]:
    """Run broker and controller as the units do, without keys: who lets whom in is another test's."""
    port = place.environ["BROKER"].rpartition(":")[2]
    data = str(place.root / "var/kerblight")
    broker = subprocess.Popen(
        [str(place.kerblight), "broker", "--port", port, "--data", data],
        stdin=subprocess.DEVNULL,
        stdout=subprocess.PIPE,
        stderr=subprocess.DEVNULL,
    )
    assert broker.stdout is not None
    assert broker.stdout.readline() == b"ready broker\n"
    try:
        with started(place, "kerblight-controller") as controller:
            controller.ready()
            yield
            assert controller.stop() == 0
    finally:
        broker.terminate()
        broker.wait()
        broker.stdout.close()


def test_the_record_goes_along_to_a_new_version_and_back(versions: Path, tmp_path: Path) -> None:
    switch(versions, OLD)
    port = free_port()
    environ = {"VENUE": str(ROOT / "configs/harbour-loop.toml"), "BROKER": f"mqtt://127.0.0.1:{port}"}
    moved = {"--keys /etc/kerblight/keys/controller": "", "--metrics 9460": f"--metrics {free_port()}"}
    place = Place(tmp_path, versions / "current/bin/kerblight", environ, moved)
    data = tmp_path / "var/kerblight"
    data.mkdir(parents=True)
    kerblight = str(place.kerblight)

    def journal(*words: str) -> str:
        return run(kerblight, "journal", *words, "--data", str(data))

    last = ""
    for turn, version in enumerate((OLD, NEW, OLD)):
        switch(versions, version)
        assert run(kerblight, "--version").split() == ["kerblight", version]
        with serving(place):
            common = ("--post", "p1", "--data", str(data), "--broker", environ["BROKER"])
            run(kerblight, "call", "caution", "--where", f"s{turn + 1}", *common)
        expected = ("--expect", last) if last else ()
        assert journal("verify", *expected).startswith("whole: ")
        entries = json.loads(journal("list", "--json"))
        last = entries[-1]["hash"]
        boots = [entry["body"]["version"] for entry in entries if entry["kind"] == "boot"]
        assert boots == [OLD, NEW, OLD][: turn + 1]
        state = next(entry["body"]["state"] for entry in reversed(entries) if entry["kind"] == "change")
        holds = {f"caution:s{sector + 1}:p1" for sector in range(turn + 1)}
        assert all(hold in json.dumps(state) for hold in holds)
        copy = json.loads(journal("backup", str(tmp_path / f"copies-{turn}"), "--json"))["copy"]
        assert Path(copy).is_dir()
