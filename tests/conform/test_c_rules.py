"""The C node's reader against ours: it takes every beat that we write, and none that we would refuse."""

from __future__ import annotations

import ctypes
import json
import shutil
import subprocess
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from hypothesis import HealthCheck, example, given, settings
from hypothesis import strategies as st

from signals.mqtt.codec import Malformed, decode_lenient, encode
from signals.mqtt.contract import Beat

SOURCES = Path(__file__).resolve().parents[2] / "firmware" / "c"
ROOM_FOR_A_LEASE = 4096
Draw = ctypes.CFUNCTYPE(None, ctypes.c_void_p)
Hear = Callable[[bytes], bool]

WORDS = st.from_regex(r"[a-z0-9]{4,16}", fullmatch=True)
BEATS = st.builds(
    Beat,
    boot=WORDS,
    seq=st.integers(1, 2**31 - 1),
    epoch=st.integers(0, 2**31 - 1),
    stop=st.booleans(),
    test=st.booleans(),
    at=st.integers(-(10**17), 10**17),
)
ANYTHING = st.recursive(
    st.none() | st.booleans() | st.integers() | st.floats(allow_nan=False, allow_infinity=False) | st.text(),
    lambda inner: st.lists(inner, max_size=3) | st.dictionaries(st.text(max_size=20), inner, max_size=3),
    max_leaves=6,
)


@pytest.fixture(scope="module")
def hears(tmp_path_factory: pytest.TempPathFactory) -> Hear:
    """Tell whether the C node, just started, takes a payload as a beat."""
    if not shutil.which("gcc"):
        pytest.skip("the C node needs a compiler: sudo apt-get install -y gcc")
    made = tmp_path_factory.mktemp("c") / "rules.so"
    sources = [str(SOURCES / name) for name in ("rules.c", "json.c")]
    subprocess.run(["gcc", "-std=c11", "-O1", "-shared", "-fPIC", "-o", str(made), *sources], check=True)
    rules = ctypes.CDLL(str(made))
    rules.lease_hear.restype = ctypes.c_char_p
    draw = Draw(lambda word: ctypes.memmove(word, b"c0ffee00\0", 9))

    def hear(payload: bytes) -> bool:
        lease = ctypes.create_string_buffer(ROOM_FOR_A_LEASE)
        rules.lease_begin(lease, ctypes.c_int64(500), draw)
        exactly = ctypes.create_string_buffer(payload, len(payload) or 1)
        return rules.lease_hear(lease, exactly, ctypes.c_size_t(len(payload)), ctypes.c_int64(1)) is None

    return hear


def we_take(payload: bytes) -> bool:
    try:
        decode_lenient(Beat, payload)
    except Malformed:
        return False
    return True


SHARED = settings(
    suppress_health_check=[HealthCheck.function_scoped_fixture], deadline=None, max_examples=150
)


@SHARED
@given(beat=BEATS, later=st.dictionaries(st.text(max_size=20), ANYTHING, max_size=3))
def test_it_takes_every_beat_with_fields_it_does_not_know(
    hears: Hear, beat: Beat, later: dict[str, Any]
) -> None:
    known = json.loads(encode(beat))
    fields = {key: value for key, value in later.items() if key not in known} | known
    assert hears(json.dumps(fields).encode())
    assert hears(json.dumps(fields, ensure_ascii=False, indent=1).encode("utf-8", "replace"))


@SHARED
@given(beat=BEATS, at=st.integers(0, 200), to=st.binary(max_size=2), cut=st.integers(0, 2))
@example(Beat(boot="aaaa", seq=1, epoch=0, stop=False, test=False, at=0), 0, b"[", 0)
@example(Beat(boot="aaaa", seq=1, epoch=0, stop=False, test=False, at=0), 200, b"", 0)
@example(Beat(boot="0000", seq=1, epoch=0, stop=False, test=False, at=0), 9, b"-", 0)
def test_it_takes_no_spoilt_beat_that_we_refuse(
    hears: Hear, beat: Beat, at: int, to: bytes, cut: int
) -> None:
    good = encode(beat)
    spoilt = good[:at] + to + good[at + cut :]
    assert we_take(spoilt) or not hears(spoilt)


@pytest.mark.parametrize("deep", [b"[", b'{"a":'])
def test_what_is_nested_without_end_is_refused(hears: Hear, deep: bytes) -> None:
    assert not hears(b'{"boot":' + deep * 10_000)
