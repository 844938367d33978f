from __future__ import annotations

from typing import Any

import pytest

from signals.mqtt import contract as c
from signals.mqtt.codec import (
    SEQ_MAX,
    Malformed,
    Newest,
    decode,
    decode_lenient,
    encode,
    encode_for_node,
    is_newer,
    next_seq,
)
from signals.mqtt.topics import Topics
from signals.words import Aspect, Because

LONGEST = "z" * 16
TOPICS = Topics.of(LONGEST, simulated=True)
NUMBERED: dict[str, Any] = {"boot": LONGEST, "seq": SEQ_MAX}
ADDRESSED: dict[str, Any] = {**NUMBERED, "inc": LONGEST}
COMMANDED: dict[str, Any] = {**ADDRESSED, "epoch": SEQ_MAX}
ASPECT = max(Aspect, key=len)
FAST = 199.99999999999997
STEEP = 19.999999999999996
CAPS: dict[str, Any] = dict.fromkeys(("stop_kmh", "fail_kmh", "creep_kmh", "reverse_kmh", "boost_kmh"), FAST)

LONGEST_FOR_NODES: dict[str, tuple[str, c.Message]] = {
    "beat": ("beat", c.Beat(**NUMBERED, epoch=SEQ_MAX, stop=False, test=False, at=10**14)),
    "aspect": (
        f"head/{LONGEST}/aspect",
        c.AspectCommand(**COMMANDED, aspect=ASPECT, flash=c.Flash(period_ms=5000, lit_ms=5000), number=999),
    ),
    "lamps": (
        f"head/{LONGEST}/aspect",
        c.AspectCommand(**COMMANDED, aspect=ASPECT, lamps=[LONGEST] * c.LAMPS_MAX),
    ),
    "limit": (
        "kart/999/limit",
        c.LimitCommand(**COMMANDED, limit_kmh=FAST, boosts=9, because=max(Because, key=len)),
    ),
    "caps": ("kart/999/caps", c.CapsCommand(**ADDRESSED, fall_mps2=STEEP, rise_mps2=STEEP, **CAPS)),
    "trip": (
        "monitor/trip",
        c.Trip(tripped=False, what="w" * c.TRIP_WHAT_MAX, where=LONGEST, due=ASPECT, shown=ASPECT, at=10**14),
    ),
}


@pytest.mark.parametrize("name", LONGEST_FOR_NODES)
def test_the_longest_message_for_a_node_fits_and_reads_back(name: str) -> None:
    topic, message = LONGEST_FOR_NODES[name]
    payload = encode_for_node(TOPICS.name(topic), message)
    assert decode(type(message), payload) == message
    assert decode_lenient(type(message), payload) == message


def test_a_message_too_long_for_a_node_is_not_sent() -> None:
    crowded = c.AspectCommand(**COMMANDED, aspect=ASPECT, lamps=[LONGEST] * (c.LAMPS_MAX + 1))
    with pytest.raises(ValueError, match="a node takes at most 240"):
        encode_for_node(TOPICS.name(f"head/{LONGEST}/aspect"), crowded)


def test_a_limit_never_grows_by_rounding() -> None:
    limit = c.LimitCommand(**COMMANDED, limit_kmh=13.39, boosts=0, because=Because.CAUTION)
    assert limit.limit_kmh == 13.3
    assert c.LimitCommand(**COMMANDED, limit_kmh=8.2, boosts=0, because=Because.CAUTION).limit_kmh == 8.2


def test_nodes_ignore_what_they_do_not_know_at_every_depth() -> None:
    payload = (
        b'{"boot":"abcd","seq":7,"epoch":1,"inc":"i1","aspect":"red","later":[1,{"x":2}],'
        b'"flash":{"period_ms":1000,"lit_ms":500,"phase":3}}'
    )
    told = decode_lenient(c.AspectCommand, payload)
    assert (told.aspect, told.flash) == (Aspect.RED, c.Flash(period_ms=1000, lit_ms=500))
    with pytest.raises(Malformed, match="unknown field `later`"):
        decode(c.AspectCommand, payload)


@pytest.mark.parametrize("later", [b"", b',"later":"\xff"', b',"at":"\xff"'])
def test_what_is_no_text_is_refused_known_or_not(later: bytes) -> None:
    beat = b'{"boot":"abcd","seq":7,"epoch":1,"stop":false,"test":false,"at":0' + later + b"}"
    if later:
        with pytest.raises(Malformed, match="not UTF-8"):
            decode_lenient(c.Beat, beat)
    else:
        assert decode_lenient(c.Beat, beat).seq == 7


def test_null_and_left_out_mean_the_same_in_a_command() -> None:
    shown = b'{"boot":"abcd","seq":7,"epoch":1,"inc":"i1","aspect":"red"'
    null = shown + b',"flash":null,"number":null,"lamps":null}'
    assert decode(c.AspectCommand, null) == decode(c.AspectCommand, shown + b"}")


def test_the_number_after_the_last_is_one() -> None:
    assert next_seq(1) == 2
    assert next_seq(SEQ_MAX) == 1


@pytest.mark.parametrize(
    ("seq", "than", "newer"),
    [
        (2, 1, True),
        (1, 1, False),
        (1, 2, False),
        (1, SEQ_MAX, True),
        (SEQ_MAX, 1, False),
        (9, SEQ_MAX - 9, True),
    ],
)
def test_newer_goes_the_shorter_way_round(seq: int, than: int, newer: bool) -> None:
    assert is_newer(seq, than) is newer


def test_order_is_kept_per_topic_and_boot() -> None:
    newest = Newest()
    assert newest.accept("a", "boot1", 5)
    assert not newest.accept("a", "boot1", 5)
    assert not newest.accept("a", "boot1", 4)
    assert newest.accept("b", "boot1", 4)
    assert newest.accept("a", "boot2", 1)
    assert not newest.accept("a", "boot1", 3), "a late message of the boot before is still old"


def test_boots_remembered_are_bounded() -> None:
    newest = Newest()
    for boot in range(1000):
        assert newest.accept("a", f"boot{boot}", 1)
    assert len(newest._taken["a"]) == 4


def test_control_characters_cannot_forge_a_line_of_the_log() -> None:
    for escape in ("\\n", "\\u0000", "\\u001b", "\\\\\\r"):
        with pytest.raises(Malformed, match="control character"):
            decode(c.MonitorReset, f'{{"reason":"a{escape}b"}}'.encode())
        with pytest.raises(Malformed, match="control character"):
            decode_lenient(c.MonitorReset, f'{{"reason":"a{escape}b"}}'.encode())
    assert decode(c.MonitorReset, b'{"reason":"a\\\\nb"}').reason == "a\\nb"


def test_encoding_is_compact_and_plain() -> None:
    assert encode(c.MonitorReset(reason="Ölspur")) == '{"reason":"Ölspur"}'.encode()
