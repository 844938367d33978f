"""The parts of signing in: passwords, sessions, tries."""

from __future__ import annotations

import hashlib
import json
from base64 import b64decode
from pathlib import Path

import pytest

from signals.errors import BadInput
from signals.panel import passwords
from signals.panel.passwords import Passwords, fits, hashed, weakness
from signals.panel.sessions import IDLE_S, SESSIONS_MAX, WHOLE_S, Sessions, csrf_fits, csrf_of
from signals.panel.tries import FAILURES_MAX, WITHIN_S, Tries, place_of


class Hand:
    """A clock moved by hand."""

    def __init__(self) -> None:
        self.s = 1_000_000.0

    def __call__(self) -> float:
        return self.s


# --- passwords


def test_a_hash_costs_what_is_asked_for_and_another_library_agrees() -> None:
    """OWASP password storage cheat sheet: scrypt N=2^14, r=8, p=5 is among its equals (from memory)."""
    name, cost, block, lanes, salt, key = hashed("seven red karts").split("$")
    assert (name, cost, block, lanes) == ("scrypt", "16384", "8", "5")
    assert len(b64decode(salt)) == 16
    from cryptography.hazmat.primitives.kdf.scrypt import Scrypt  # noqa: PLC0415 - only here

    Scrypt(b64decode(salt), length=32, n=2**14, r=8, p=5).verify(b"seven red karts", b64decode(key))


def test_the_published_vector_comes_out() -> None:
    """RFC 7914 section 12, the third vector: "pleaseletmein" with N=16384, r=8, p=1 (Q)."""
    due = "7023bdcb3afd7348461c06cd81fd38ebfda8fbba904f8e3ea9b543f6545da1f2"
    came = passwords._key("pleaseletmein", b"SodiumChloride", 16384, 8, 1)
    assert came.hex() == due
    assert hashlib.scrypt(b"pleaseletmein", salt=b"SodiumChloride", n=16384, r=8, p=1, dklen=32).hex() == due


def test_only_the_password_itself_fits(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(passwords, "COST", 2**8)
    kept = hashed("Grüße von Posten 3")
    assert fits("Grüße von Posten 3", kept)
    assert not any(fits(wrong, kept) for wrong in ("", "grüße von posten 3", "Grüße von Posten 3 "))
    assert hashed("same") != hashed("same"), "each has a salt of its own"
    assert not any(
        fits("x", broken) for broken in ("", "scrypt$1", "scrypt$a$8$1$AA==$AA==", "scrypt$3$8$1$AA==$AA==")
    )


@pytest.mark.parametrize(
    ("password", "says"),
    [
        ("short", "5 characters: give 8 to 128"),
        ("x" * 129, "129"),
        ("aaaaaaaa", "one character"),
        ("eight it", ""),
    ],
)
def test_what_is_too_weak_is_said(password: str, says: str) -> None:
    assert says in weakness(password)
    assert bool(says) is bool(weakness(password))


def test_passwords_are_kept_as_hashes_for_their_owner_only(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(passwords, "COST", 2**8)
    kept = Passwords(tmp_path / "p.json")
    assert kept.of("p1") is None
    kept.put("p1", "first words")
    kept.put("desk", "other words")
    kept.put("p1", "later words")
    assert fits("later words", kept.of("p1") or "")
    assert kept.path.stat().st_mode & 0o777 == 0o600
    assert "words" not in kept.path.read_text(encoding="utf-8")
    kept.put("p1", None)
    assert list(kept.all()) == ["desk"]


@pytest.mark.parametrize("text", ["", "[]", '{"p1": "plain words"}', '{"p1": 7}', "{"])
def test_a_spoilt_file_is_said_so_and_lets_nobody_in(tmp_path: Path, text: str) -> None:
    file = tmp_path / "p.json"
    file.write_text(text, encoding="utf-8")
    with pytest.raises(BadInput, match="kerblight panel passwords"):
        Passwords(file).all()


# --- sessions


def test_a_session_lasts_its_whole_time_while_it_is_used_and_half_an_hour_while_not() -> None:
    now = Hand()
    sessions = Sessions(now)
    used, idle = sessions.begin("p1", "Tove"), sessions.begin("p2", "")
    for _ in range(int(WHOLE_S / (IDLE_S / 2)) - 1):
        now.s += IDLE_S / 2
        assert sessions.find(used) is not None
    assert sessions.find(idle) is None
    now.s += IDLE_S / 2
    assert sessions.find(used) is None
    assert sessions.sweep() == frozenset()


def test_tokens_are_long_random_and_kept_nowhere(tmp_path: Path) -> None:
    sessions = Sessions(Hand(), tmp_path / "s.json")
    tokens = {sessions.begin("p1", "Tove") for _ in range(50)}
    assert len(tokens) == 50
    assert min(map(len, tokens)) >= 43, "32 bytes"
    text = (tmp_path / "s.json").read_text(encoding="utf-8")
    assert not any(token in text for token in tokens)
    assert {entry["key"] for entry in json.loads(text)} == {
        hashlib.sha256(t.encode()).hexdigest() for t in tokens
    }


def test_sessions_outlive_a_restart_of_the_page(tmp_path: Path) -> None:
    now = Hand()
    token = Sessions(now, tmp_path / "s.json").begin("p1", "Tove", "mark")
    again = Sessions(now, tmp_path / "s.json")
    found = again.find(token)
    assert found is not None
    assert (found.post, found.person, found.mark) == ("p1", "Tove", "mark")
    again.end(token)
    assert Sessions(now, tmp_path / "s.json").find(token) is None
    (tmp_path / "s.json").write_text("{", encoding="utf-8")
    assert Sessions(now, tmp_path / "s.json").find(token) is None


def test_the_one_used_longest_ago_makes_room() -> None:
    now = Hand()
    sessions = Sessions(now)
    first = sessions.begin("p1", "")
    now.s += 1
    second = sessions.begin("p1", "")
    for _ in range(SESSIONS_MAX - 1):
        now.s += 1
        sessions.begin("p1", "")
    assert sessions.find(first) is None
    assert sessions.find(second) is not None


def test_a_sessions_word_follows_from_its_token_alone() -> None:
    assert csrf_fits("token", csrf_of("token"))
    assert not csrf_fits("token", csrf_of("token2"))
    assert not csrf_fits("token", "é")
    assert "token" not in csrf_of("token")


# --- tries


def test_failures_of_a_place_are_counted_for_a_while() -> None:
    now = Hand()
    tries = Tries(now)
    for _ in range(FAILURES_MAX):
        assert tries.wait_s("192.168.7.20") == 0
        tries.failed("192.168.7.20")
        now.s += 1
    assert tries.wait_s("192.168.7.20") == pytest.approx(WITHIN_S - FAILURES_MAX)
    assert tries.wait_s("192.168.7.21") == 0
    now.s += WITHIN_S - FAILURES_MAX
    assert tries.wait_s("192.168.7.20") == 0


def test_the_right_password_forgets_a_places_failures() -> None:
    tries = Tries(Hand())
    for _ in range(FAILURES_MAX):
        tries.failed("10.0.0.1")
    tries.passed("10.0.0.1")
    assert tries.wait_s("10.0.0.1") == 0


def test_a_place_is_an_address_or_a_whole_ipv6_network() -> None:
    assert place_of("10.0.0.1") == "10.0.0.1"
    assert place_of("2001:db8::1") == place_of("2001:db8::ffff:1%eth0") == "2001:db8::/64"
    assert place_of("2001:db8:0:1::1") != place_of("2001:db8::1")
    assert place_of("unknown") == "unknown"
