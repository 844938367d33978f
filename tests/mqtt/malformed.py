"""Messages that must change nothing, by name: for the decoder here, for a running controller elsewhere.

Each is for one topic below the venue's root. `says` is a part of the reason it is refused with.
"""

from __future__ import annotations

from dataclasses import dataclass

STOP = b'{"id":"m1","call":"stop","kind":"incident","reason":"test"}'
PASSED = b'{"boot":"abcd","seq":1,"kart":1}'
TAKEN = b'{"boot":"abcd","seq":1,"beat_seq":1,"limit_kmh":10}'
SHOWN = b'{"boot":"abcd","seq":1,"beat_seq":1,"after_ms":5,"aspect":"green","driven":["green"],"proven":null}'
WHERE = b'{"boot":"abcd","seq":1,"sector":"s1","at_m":1.5,"speed_kmh":3,"in_pit":false,"button":false}'
INPUT = b'{"boot":"abcd","seq":1,"beat_seq":1,"state":"normal"}'
STATUS = (
    b'{"status":"ready","boot":"abcd","inc":"i1","firmware":"1.0","heads":["h1"],"karts":[],'
    b'"rejects":0,"last_reject":null}'
)
WELL_FORMED = {
    "call/p1": STOP,
    "loop/l1/passed": PASSED,
    "kart/1/taken": TAKEN,
    "head/h1/shown": SHOWN,
    "kart/1/where": WHERE,
    "input/alarm/state": INPUT,
    "node/n1/status": STATUS,
}
"""What the cases below are spoilt from; each of these is taken."""


@dataclass(frozen=True, slots=True)
class Bad:
    """One message: its name, its topic below the root, its payload, why it is refused."""

    name: str
    topic: str
    payload: bytes
    says: str
    retained: bool = False


def _call(name: str, old: bytes, new: bytes, says: str) -> Bad:
    return Bad(name, "call/p1", STOP.replace(old, new), says)


def _loop(name: str, old: bytes, new: bytes, says: str) -> Bad:
    return Bad(name, "loop/l1/passed", PASSED.replace(old, new), says)


MALFORMED: tuple[Bad, ...] = (
    Bad("empty", "call/p1", b"", "truncated"),
    Bad("only-spaces", "call/p1", b"  \t ", "truncated"),
    Bad("one-byte", "call/p1", b"\x00", "malformed"),
    Bad("binary", "call/p1", bytes(range(128, 256)), "UTF-8"),
    Bad("truncated", "call/p1", STOP[:-1], "truncated"),
    Bad("cut-in-a-text", "call/p1", STOP[:20], "truncated"),
    Bad("second-object", "call/p1", STOP + STOP, "trailing"),
    Bad("trailing-comma", "call/p1", STOP.replace(b"}", b",}"), "malformed"),
    Bad("single-quotes", "call/p1", STOP.replace(b'"', b"'"), "malformed"),
    Bad("comment", "call/p1", b"/* stop */" + STOP, "malformed"),
    Bad("bare-word", "call/p1", b"stop", "malformed"),
    Bad("text-instead-of-object", "call/p1", b'"stop"', "Expected `object`"),
    Bad("number-instead-of-object", "call/p1", b"1", "Expected `object`"),
    Bad("null-instead-of-object", "call/p1", b"null", "Expected `object`"),
    Bad("array-instead-of-object", "call/p1", b'["m1","stop"]', "Expected `object`"),
    Bad("array-around-object", "call/p1", b"[" + STOP + b"]", "Expected `object`"),
    Bad("deep-arrays", "call/p1", b"[" * 8000, "Expected `object`"),
    Bad("deep-in-an-unknown-field", "call/p1", b'{"x":' + b"[" * 8000, "unknown field"),
    Bad("deep-in-entries", "call/p1", b'{"id":"1","call":"prepare","entries":' + b"[" * 8000, "Expected"),
    Bad("huge", "call/p1", STOP.replace(b"test", b"x" * 9000), "at most 8192"),
    Bad("huge-with-spaces", "call/p1", STOP + b" " * 9000, "at most 8192"),
    Bad("utf-16", "call/p1", STOP.decode().encode("utf-16"), "UTF-8"),
    Bad("utf-16-without-mark", "call/p1", STOP.decode().encode("utf-16-le"), "malformed"),
    Bad("latin-1", "call/p1", STOP.replace(b"test", "Öl".encode("latin-1")), "UTF-8"),
    Bad("byte-order-mark", "call/p1", b"\xef\xbb\xbf" + STOP, "malformed"),
    Bad("overlong-utf-8", "call/p1", STOP.replace(b"test", b"\xc0\xaf"), "UTF-8"),
    Bad("half-a-surrogate", "call/p1", STOP.replace(b"test", b"\\ud800"), ""),
    Bad("raw-newline-in-text", "call/p1", STOP.replace(b"test", b"a\nb"), "malformed"),
    Bad("escaped-newline-in-text", "call/p1", STOP.replace(b"test", b"a\\nb"), "control character"),
    Bad("escaped-zero-in-text", "call/p1", STOP.replace(b"test", b"\\u0000"), "control character"),
    Bad("terminal-escape-in-text", "call/p1", STOP.replace(b"test", b"\\u001b[2J"), "control character"),
    _call("duplicate-field", b'"call":"stop"', b'"call":"start","call":"stop"', "given twice"),
    _call("duplicate-id", b'{"id"', b'{"id":"other","id"', "given twice"),
    _call("unknown-field", b"}", b',"urgent":true}', "unknown field `urgent`"),
    _call("field-in-capitals", b'"call"', b'"Call"', "unknown field `Call`"),
    _call("unknown-word", b'"stop"', b'"halt"', "Invalid enum value"),
    _call("word-in-capitals", b'"stop"', b'"STOP"', "Invalid enum value"),
    _call("empty-word", b'"stop"', b'""', "Invalid enum value"),
    _call("word-as-number", b'"stop"', b"1", "Expected `str`"),
    _call("no-id", b'"id":"m1",', b"", "missing required field `id`"),
    _call("no-word", b'"call":"stop",', b"", "missing required field `call`"),
    _call("empty-id", b'"m1"', b'""', "length >= 1"),
    _call("long-id", b"m1", b"m" * 37, "length <= 36"),
    _call("id-as-number", b'"m1"', b"1", "Expected `str`"),
    _call("id-null", b'"m1"', b"null", "Expected `str`"),
    _call("unknown-kind", b'"incident"', b'"earthquake"', "Invalid enum value"),
    _call("long-reason", b"test", b"x" * 201, "length <= 200"),
    _call("sector-with-space", b"}", b',"where":"s 1"}', "matching regex"),
    _call("sector-in-capitals", b"}", b',"where":"S1"}', "matching regex"),
    _call("sector-too-long", b"}", b',"where":"abcdefghijklmnopq"}', "matching regex"),
    _call("sector-as-path", b"}", b',"where":"../s1"}', "matching regex"),
    _call("sector-null", b"}", b',"where":null}', "Expected `str`"),
    _call("hold-without-kind", b"}", b',"hold":"desk"}', "matching regex"),
    _call("kart-zero", b"}", b',"kart":0}', ">= 1"),
    _call("kart-negative", b"}", b',"kart":-7}', ">= 1"),
    _call("kart-too-high", b"}", b',"kart":1000}', "<= 999"),
    _call("kart-as-text", b"}", b',"kart":"7"}', "Expected `int`"),
    _call("kart-as-fraction", b"}", b',"kart":7.5}', "Expected `int`"),
    _call("checked-as-number", b"}", b',"checked":1}', "Expected `bool`"),
    _call("checked-as-text", b"}", b',"checked":"true"}', "Expected `bool`"),
    _call("entries-as-object", b"}", b',"entries":{}}', "Expected `array`"),
    _call("entry-without-driver", b"}", b',"entries":[{"number":1,"class":"adult"}]}', "missing required"),
    _call(
        "entry-unknown-field", b"}", b',"entries":[{"number":1,"driver":"A","class":"a","x":1}]}', "unknown"
    ),
    _call("state-seq-zero", b"}", b',"boot":"abcd","seq":0}', ">= 1"),
    _call("state-boot-in-capitals", b"}", b',"boot":"ABCD","seq":1}', "matching regex"),
    Bad("retained-call", "call/p1", STOP, "never retained", retained=True),
    Bad("retained-start", "call/p1", STOP.replace(b"stop", b"start"), "never retained", retained=True),
    Bad("retained-passing", "loop/l1/passed", PASSED, "never retained", retained=True),
    Bad("retained-shown", "head/h1/shown", SHOWN, "never retained", retained=True),
    Bad("post-in-capitals", "call/P1", STOP, "no such topic"),
    Bad("post-too-long", "call/" + "p" * 17, STOP, "no such topic"),
    Bad("post-with-blank", "call/p 1", STOP, "no such topic"),
    Bad("kart-with-leading-zero", "kart/01/taken", TAKEN, "no such topic"),
    Bad("kart-by-name", "kart/seven/taken", TAKEN, "no such topic"),
    Bad("message-of-another-topic", "head/h1/shown", TAKEN, "unknown field"),
    _loop("seq-zero", b'"seq":1', b'"seq":0', ">= 1"),
    _loop("seq-negative", b'"seq":1', b'"seq":-1', ">= 1"),
    _loop("seq-past-the-wrap", b'"seq":1', b'"seq":2147483648', "<= 2147483647"),
    _loop("seq-beyond-64-bits", b'"seq":1', b'"seq":99999999999999999999999', ""),
    _loop("seq-as-bool", b'"seq":1', b'"seq":true', "Expected `int`"),
    _loop("seq-as-text", b'"seq":1', b'"seq":"1"', "Expected `int`"),
    _loop("seq-as-fraction", b'"seq":1', b'"seq":1.0', "Expected `int`"),
    _loop("seq-in-hex", b'"seq":1', b'"seq":0x1', ""),
    _loop("seq-nan", b'"seq":1', b'"seq":NaN', "malformed"),
    _loop("seq-null", b'"seq":1', b'"seq":null', "Expected `int`"),
    _loop("boot-too-short", b"abcd", b"abc", "matching regex"),
    _loop("boot-too-long", b"abcd", b"a" * 17, "matching regex"),
    _loop("boot-with-newline", b"abcd", b"abcd\\n", "control character"),
    Bad("limit-nan", "kart/1/taken", TAKEN.replace(b":10}", b":NaN}"), "malformed"),
    Bad("limit-infinite", "kart/1/taken", TAKEN.replace(b":10}", b":Infinity}"), "malformed"),
    Bad("limit-too-large-to-hold", "kart/1/taken", TAKEN.replace(b":10}", b":1e999}"), "out of range"),
    Bad("limit-negative", "kart/1/taken", TAKEN.replace(b":10}", b":-0.1}"), ">= 0"),
    Bad("limit-absurd", "kart/1/taken", TAKEN.replace(b":10}", b":201}"), "<= 200"),
    Bad("limit-as-text", "kart/1/taken", TAKEN.replace(b":10}", b':"10"}'), "Expected `float`"),
    Bad("limit-as-bool", "kart/1/taken", TAKEN.replace(b":10}", b":false}"), "Expected `float`"),
    Bad("aspect-unknown", "head/h1/shown", SHOWN.replace(b'"green",', b'"purple",'), "Invalid enum value"),
    Bad(
        "aspect-null", "head/h1/shown", SHOWN.replace(b'"aspect":"green"', b'"aspect":null'), "Expected `str`"
    ),
    Bad("driven-as-text", "head/h1/shown", SHOWN.replace(b'["green"]', b'"green"'), "Expected `array`"),
    Bad("driven-of-numbers", "head/h1/shown", SHOWN.replace(b'["green"]', b"[1]"), "Expected `str`"),
    Bad("proven-left-out", "head/h1/shown", SHOWN.replace(b',"proven":null', b""), "missing required field"),
    Bad("after-negative", "head/h1/shown", SHOWN.replace(b'ms":5', b'ms":-5'), ">= 0"),
    Bad(
        "button-as-text",
        "kart/1/where",
        WHERE.replace(b'button":false', b'button":"false"'),
        "Expected `bool`",
    ),
    Bad("place-empty", "kart/1/where", WHERE.replace(b'"s1"', b'""'), "matching regex"),
    Bad("place-not-a-number", "kart/1/where", WHERE.replace(b"1.5", b"-NaN"), "malformed"),
    Bad("input-unknown-state", "input/alarm/state", INPUT.replace(b"normal", b"fine"), "Invalid enum value"),
    Bad("input-state-as-bool", "input/alarm/state", INPUT.replace(b'"normal"', b"false"), "Expected `str`"),
    Bad("status-unknown", "node/n1/status", STATUS.replace(b'"ready"', b'"asleep"'), "Invalid enum value"),
    Bad("status-heads-as-numbers", "node/n1/status", STATUS.replace(b'["h1"]', b"[1]"), "Expected `str`"),
    Bad("status-incarnation-odd", "node/n1/status", STATUS.replace(b'"i1"', b'"I-1"'), "matching regex"),
)
