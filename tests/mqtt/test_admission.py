from __future__ import annotations

import contextlib

import pytest

from signals.mqtt.admission import admit
from signals.mqtt.channels import CHANNELS, Channel, find
from signals.mqtt.codec import Malformed, decode_lenient, encode
from signals.mqtt.contract import Beat
from signals.mqtt.link import Arrived
from signals.mqtt.topics import Topics, matches
from tests.mqtt.malformed import MALFORMED, WELL_FORMED, Bad

TOPICS = Topics.of("small", simulated=True)


@pytest.mark.parametrize("bad", MALFORMED, ids=lambda bad: bad.name)
def test_malformed_is_refused_with_its_reason(bad: Bad) -> None:
    arrived = Arrived(TOPICS.name(bad.topic), bad.payload, qos=1, retained=bad.retained)
    with pytest.raises(Malformed) as refused:
        admit(TOPICS, arrived)
    assert bad.says in str(refused.value)
    assert len(str(refused.value)) < 300, "a reason goes to the log, whatever was sent"
    assert str(refused.value).isprintable()


@pytest.mark.parametrize("topic", WELL_FORMED)
def test_what_they_are_spoilt_from_is_taken(topic: str) -> None:
    assert admit(TOPICS, Arrived(TOPICS.name(topic), WELL_FORMED[topic], qos=1)).message


def test_names_of_the_malformed_are_their_own() -> None:
    assert len({bad.name for bad in MALFORMED}) == len(MALFORMED) >= 40


@pytest.mark.parametrize("bad", MALFORMED, ids=lambda bad: bad.name)
def test_a_node_takes_it_or_refuses_it_but_never_stumbles(bad: Bad) -> None:
    found = find(tuple(bad.topic.split("/")))
    kind = found[0].message if found else Beat
    with contextlib.suppress(Malformed):
        assert isinstance(decode_lenient(kind, bad.payload), kind)


@pytest.mark.parametrize("channel", CHANNELS, ids=lambda channel: channel.address)
def test_every_example_is_taken_from_its_own_topic(channel: Channel) -> None:
    named = {place: "7" if place == "kart" else "h1" for place in channel.places}
    taken = admit(TOPICS, Arrived(TOPICS.name(channel.at(named)), encode(channel.example), channel.qos))
    assert (taken.channel, taken.named, taken.message) == (channel, named, channel.example)


def test_another_venues_topic_is_not_ours() -> None:
    with pytest.raises(Malformed, match="no such topic"):
        admit(TOPICS, Arrived("kerblight/1/small/call/p1", WELL_FORMED["call/p1"]))


@pytest.mark.parametrize(
    ("topic_filter", "topic", "falls_under"),
    [
        ("a/b", "a/b", True),
        ("a/b", "a/b/c", False),
        ("a/+", "a/b", True),
        ("a/+", "a", False),
        ("a/+", "a/b/c", False),
        ("+/+", "/b", True),
        ("a/#", "a", True),
        ("a/#", "a/b/c", True),
        ("a/#", "b/a", False),
        ("#", "a/b", True),
        ("a/+/c", "a/b/c", True),
        ("a/+/c", "a/b/d", False),
    ],
)
def test_filters(topic_filter: str, topic: str, falls_under: bool) -> None:
    assert matches(topic_filter, topic) is falls_under
