"""The monitor's own reader takes exactly what the contract says, and survives anything else."""

from __future__ import annotations

import asyncio
import json
import typing

import msgspec
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from signals.monitor.read import SHAPES, Shape, Unreadable, decode
from signals.mqtt import contract
from tests.monitor.stage import Stage
from tests.virtual import virtual

STRUCTS = {
    "beat": contract.Beat,
    "state": contract.State,
    "aspect": contract.AspectCommand,
    "shown": contract.Shown,
    "limit": contract.LimitCommand,
    "taken": contract.Taken,
    "controller": contract.ControllerStatus,
    "call": contract.Call,
    "answer": contract.Answer,
    "trip": contract.Trip,
    "reset": contract.MonitorReset,
}
BEAT = b'{"boot":"boot1","seq":1,"epoch":0,"stop":false,"test":false,"at":1}'


def test_every_kind_is_compared() -> None:
    assert STRUCTS.keys() == SHAPES.keys()


@pytest.mark.parametrize("kind", STRUCTS)
def test_it_knows_the_fields_of_the_contract_and_no_others(kind: str) -> None:
    fields = msgspec.structs.fields(STRUCTS[kind])
    shape = SHAPES[kind]
    assert {field.encode_name for field in fields} == shape.must.keys() | shape.may.keys()
    assert {field.encode_name for field in fields if field.required} >= shape.must.keys()


@pytest.mark.parametrize(
    ("view", "name"),
    [(contract.HoldView, "holds"), (contract.KartView, "karts"), (contract.HeadView, "heads")],
)
def test_it_knows_the_fields_of_views(view: type[msgspec.Struct], name: str) -> None:
    whole = {field.encode_name: None for field in msgspec.structs.fields(view)}
    content: typing.Any = [whole] if name == "holds" else {"x": whole}
    shape = next(cell.cell_contents for cell in SHAPES["state"].must[name].__closure__ or ())
    assert isinstance(shape, Shape)
    assert whole.keys() == shape.must.keys() | shape.may.keys()
    assert not SHAPES["state"].must[name](content)  # nulls are no values


def test_a_message_is_read() -> None:
    assert decode("beat", BEAT)["boot"] == "boot1"


@pytest.mark.parametrize(
    ("payload", "said"),
    [
        (b"", "Expecting value"),
        (BEAT[:-3], "delimiter"),
        (BEAT.replace(b"false", b"0", 1), "stop is 0"),
        (BEAT.replace(b'"seq":1', b'"seq":0'), "seq is 0"),
        (BEAT.replace(b'"seq":1', b'"seq":true'), "seq is true"),
        (BEAT.replace(b'"seq":1', b'"seq":1.0'), "seq is 1.0"),
        (BEAT.replace(b'"seq":1', b'"seq":NaN'), "NaN is no number"),
        (BEAT.replace(b'"seq":1', b'"seq":2,"seq":1'), "a field stands twice"),
        (BEAT.replace(b'"seq"', b'"sequence"'), "seq is missing, sequence is unknown"),
        (BEAT.replace(b"boot1", b"b"), 'boot is "b"'),
        (BEAT.decode().encode("utf-16"), "utf-8"),
        (b"[" * 50_000, "recursion"),
        (b'"beat"', "no object"),
        (b" " * 70_000, "at most"),
    ],
)
def test_what_is_wrong_is_said(payload: bytes, said: str) -> None:
    with pytest.raises(Unreadable, match=said):
        decode("beat", payload)


@given(st.sampled_from(sorted(SHAPES)), st.binary() | st.text().map(str.encode))
def test_no_bytes_crash_it(kind: str, payload: bytes) -> None:
    with pytest.raises(Unreadable):
        decode(kind, payload)


JSON = st.recursive(
    st.none() | st.booleans() | st.integers() | st.floats(allow_nan=False) | st.text(max_size=5),
    lambda inner: st.lists(inner, max_size=3) | st.dictionaries(st.text(max_size=5), inner, max_size=3),
    max_leaves=6,
)


@settings(max_examples=50, deadline=None)
@given(st.data(), st.sampled_from(sorted(SHAPES)))
def test_no_values_crash_it(data: st.DataObject, kind: str) -> None:
    shape = SHAPES[kind]
    message = {name: data.draw(JSON) for name in shape.must | shape.may}
    try:
        decode(kind, json.dumps(message).encode())
    except Unreadable:
        return
    assert shape(message)


@virtual
async def test_refused_messages_are_counted_and_change_nothing() -> None:
    async with Stage() as stage:
        before = stage.monitor.refused.total()
        for client, levels, payload in (
            ("controller", ("beat",), b"{}"),
            ("controller", ("state",), b"\xff\xfe"),
            ("controller", ("head", "h99", "aspect"), b"{}"),
            ("controller", ("kart", "99", "limit"), b"{}"),
            ("post-p1", ("call", "p1"), b'{"id":"c1","call":"stop","loud":true}'),
            ("controller", ("answer", "p1"), b'{"id":"c1"}'),
            ("node-n1", ("head", "h1", "shown"), b"null"),
        ):
            stage.say(client, *levels, message=payload)
        await asyncio.sleep(1)
        assert stage.monitor.refused.total() - before == 7
        assert stage.status == "ok"
