"""The venue's own authority and what it makes, checked by OpenSSL and by Python's own TLS."""

from __future__ import annotations

import json
import shutil
import ssl
import stat
import subprocess
import sys
from datetime import UTC, datetime, timedelta
from pathlib import Path

import msgspec
import pytest
from cryptography import x509
from cryptography.x509.oid import NameOID

from signals.errors import BadInput
from signals.mqtt.access import users
from signals.mqtt.keys import Keys
from signals.venue.model import Venue
from signals.wiring.keys.folder import Done, KeyFolder, Told
from signals.wiring.keys.holders import holders
from tests.mqtt.small import small_venue

SIM, REAL = small_venue(), small_venue(simulated=False)
NOW = datetime(2030, 6, 1, 12, tzinfo=UTC)
DAYS = 398
needs_openssl = pytest.mark.skipif(not shutil.which("openssl"), reason="openssl is not installed")


def settled(
    folder: Path,
    now: datetime = NOW,
    venue: Venue = REAL,
    *,
    renew: bool = False,
    revoke: tuple[str, ...] = (),
    passphrase: bytes | None = None,
    **site: object,
) -> dict[str, Told]:
    kept = KeyFolder(folder, venue, now)
    kept.open(passphrase)
    asked = msgspec.structs.replace(kept.book.site, **site)
    told = kept.settle(asked, renew=renew, revoke=frozenset(revoke), days=DAYS)
    return {f"{one.holder}/{one.name}": one for one in told}


@pytest.fixture(scope="module")
def made(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("keys")
    settled(folder, datetime.now(UTC))
    return folder


def certificate(folder: Path, name: str) -> x509.Certificate:
    return x509.load_pem_x509_certificate((folder / f"{name}.crt").read_bytes())


@pytest.mark.parametrize("venue", [SIM, REAL], ids=["simulated", "real"])
def test_every_user_of_the_access_list_has_a_certificate_somewhere_and_nobody_else(venue: Venue) -> None:
    assert {user for holder in holders(venue) for user in holder.users} == set(users(venue))


def test_each_holder_has_its_own_keys_and_no_key_is_there_twice(made: Path) -> None:
    keys = [file.read_bytes() for file in made.rglob("*.key")]
    assert len(keys) == len(set(keys))
    assert {folder.name for folder in made.iterdir()} == {
        "authority", "broker", "controller", "monitor", "panel", "sim", "gateway", "reader",
        "node-n1", "node-n2", "node-k1", "node-k2", "node-b1", "post-desk", "post-p1",
    }  # fmt: skip
    assert {file.stem for file in (made / "panel").glob("*.crt")} == {
        "ca", "panel", "board", "post-desk", "post-p1",
    }  # fmt: skip


def test_keys_and_folders_are_their_owners_alone(made: Path) -> None:
    for file in made.rglob("*"):
        secret = file.is_dir() or file.suffix in (".key", ".json", ".acl")
        mode = stat.S_IMODE(file.stat().st_mode)
        assert not mode & 0o077 if secret else not mode & 0o022, (file, oct(mode))
    assert [file.parent.name for file in made.rglob("authority.key")] == ["authority"]


@needs_openssl
def test_openssl_accepts_each_certificate_for_its_one_purpose(made: Path) -> None:
    for file in made.rglob("*.crt"):
        if file.stem in ("ca", "authority"):
            continue
        serves = file.stem in ("broker", "panel")
        for purpose, due in (("sslserver", serves), ("sslclient", not serves)):
            came = subprocess.run(
                [
                    *("openssl", "verify", "-x509_strict", "-purpose", purpose),
                    *(
                        "-CAfile",
                        file.parent / "ca.crt",
                        "-CRLfile",
                        made / "broker/revoked.crl",
                        "-crl_check",
                    ),
                    file,
                ],
                capture_output=True,
                text=True,
                check=False,
            )
            assert (came.returncode == 0) is due, (file, purpose, came.stdout, came.stderr)


def test_the_common_name_is_the_user_and_the_unit_its_holder(made: Path) -> None:
    subject = certificate(made / "panel", "post-p1").subject
    named = {each.oid: each.value for each in subject}
    assert named[NameOID.COMMON_NAME] == "post-p1"
    assert named[NameOID.ORGANIZATIONAL_UNIT_NAME] == "panel"
    assert named[NameOID.ORGANIZATION_NAME] == "small"


def test_the_authority_signs_no_other_authority(made: Path) -> None:
    limits = certificate(made / "authority", "authority").extensions.get_extension_for_class(
        x509.BasicConstraints
    )
    assert limits.critical
    assert (limits.value.ca, limits.value.path_length) == (True, 0)


def shake_hands(client: ssl.SSLContext, server: ssl.SSLContext, name: str) -> str:
    """Let two ends in memory agree; gives the version. Raises what either end raises."""
    wires = ssl.MemoryBIO(), ssl.MemoryBIO()
    ends = (
        client.wrap_bio(wires[0], wires[1], server_hostname=name),
        server.wrap_bio(wires[1], wires[0], server_side=True),
    )
    for _ in range(6):
        for end in ends:
            try:
                end.do_handshake()
            except ssl.SSLWantReadError:
                continue
    said = ends[1].version()
    assert said is not None
    return said


def serving(made: Path, name: str = "broker") -> ssl.SSLContext:
    context = ssl.create_default_context(ssl.Purpose.CLIENT_AUTH, cafile=str(made / name / "ca.crt"))
    context.load_cert_chain(made / name / f"{name}.crt", made / name / f"{name}.key")
    context.verify_mode = ssl.CERT_REQUIRED
    return context


def test_a_client_and_the_broker_agree_by_tls_1_2_at_least(made: Path) -> None:
    client = Keys(made, "controller").pair("controller").context()
    assert client.minimum_version is ssl.TLSVersion.TLSv1_2
    assert shake_hands(client, serving(made), "localhost") in ("TLSv1.2", "TLSv1.3")
    with pytest.raises(ssl.SSLCertVerificationError, match="Hostname mismatch"):
        shake_hands(client, serving(made), "elsewhere.lan")


def test_a_post_cannot_play_the_broker(made: Path) -> None:
    client = Keys(made, "controller").pair("controller").context()
    thief = serving(made, "post-p1")
    with pytest.raises(ssl.SSLCertVerificationError):
        shake_hands(client, thief, "localhost")


def test_called_again_it_makes_only_what_is_missing_or_does_not_fit(tmp_path: Path) -> None:
    first = settled(tmp_path)
    assert {one.done for key, one in first.items() if key != "authority/authority"} == {Done.MADE}
    before = {file: file.read_bytes() for file in tmp_path.rglob("*.crt")}
    (tmp_path / "monitor/monitor.key").unlink()
    (tmp_path / "post-p1/post-p1.crt").write_bytes((tmp_path / "post-desk/post-desk.crt").read_bytes())
    again = settled(tmp_path)
    anew = {key for key, one in again.items() if one.done is not Done.KEPT}
    assert anew == {"monitor/monitor", "post-p1/post-p1"}
    after = {file: file.read_bytes() for file in tmp_path.rglob("*.crt")}
    changed = {f"{file.parent.name}/{file.stem}" for file in after if after[file] != before[file]}
    assert changed == anew


def test_other_names_make_new_certificates_for_what_is_found_by_them(tmp_path: Path) -> None:
    settled(tmp_path)
    told = settled(tmp_path, names=("broker.lan", "192.168.7.2"), listen="192.168.7.2", port=8884)
    assert {key for key, one in told.items() if one.done is not Done.KEPT} == {"broker/broker", "panel/panel"}
    names = certificate(tmp_path / "broker", "broker").extensions.get_extension_for_class(
        x509.SubjectAlternativeName
    )
    assert [str(name.value) for name in names.value] == [
        "localhost", "127.0.0.1", "::1", "broker.lan", "192.168.7.2",
    ]  # fmt: skip
    conf = (tmp_path / "broker/mosquitto.conf").read_text()
    assert "listener 8884 192.168.7.2\n" in conf
    kept = settled(tmp_path)
    assert {one.done for one in kept.values()} == {Done.KEPT}
    assert (tmp_path / "broker/mosquitto.conf").read_text() == conf


def test_what_ends_is_told_and_renewed(tmp_path: Path) -> None:
    settled(tmp_path)
    later = NOW + timedelta(days=DAYS - 20)
    told = settled(tmp_path, later)
    assert all(one.short for key, one in told.items() if key != "authority/authority")
    assert told["controller/controller"].days_left == 20
    renewed = settled(tmp_path, later, renew=True)
    assert not any(one.short for one in renewed.values())
    assert {one.done for key, one in renewed.items() if key != "authority/authority"} == {Done.RENEWED}
    assert {one.done for one in settled(tmp_path, later, renew=True).values()} == {Done.KEPT}


def test_no_certificate_outlives_the_authority(tmp_path: Path) -> None:
    settled(tmp_path)
    late = NOW + timedelta(days=3600)
    assert settled(tmp_path, late, renew=True)["controller/controller"].days_left <= 53
    ends = certificate(tmp_path / "authority", "authority").not_valid_after_utc
    assert certificate(tmp_path / "controller", "controller").not_valid_after_utc <= ends


def revoked(folder: Path) -> set[int]:
    listed = x509.load_pem_x509_crl((folder / "broker/revoked.crl").read_bytes())
    authority = certificate(folder / "authority", "authority")
    assert listed.is_signature_valid(authority.public_key())  # type: ignore[arg-type]
    assert listed.next_update_utc == authority.not_valid_after_utc
    return {one.serial_number for one in listed}


def test_a_holder_that_was_lost_is_revoked_alone(tmp_path: Path) -> None:
    settled(tmp_path)
    lost = certificate(tmp_path / "post-p1", "post-p1").serial_number
    assert revoked(tmp_path) == set()
    told = settled(tmp_path, revoke=("post-p1",))
    assert {key for key, one in told.items() if one.done is not Done.KEPT} == {"post-p1/post-p1"}
    assert told["post-p1/post-p1"].done is Done.REVOKED
    assert revoked(tmp_path) == {lost}
    new = certificate(tmp_path / "post-p1", "post-p1").serial_number
    settled(tmp_path)
    assert revoked(tmp_path) == {lost}
    assert new not in revoked(tmp_path)
    with pytest.raises(BadInput, match=r"--revoke is 'post-p9'.*post-p1"):
        settled(tmp_path, revoke=("post-p9",))


def test_a_post_that_is_no_more_is_told_and_its_keys_taken_away(tmp_path: Path) -> None:
    settled(tmp_path)
    fewer = msgspec.structs.replace(REAL, posts=REAL.posts[:1])
    gone = REAL.posts[1].id
    kept = KeyFolder(tmp_path, fewer, NOW)
    assert kept.left_over() == [f"post-{gone}"]
    told = settled(tmp_path, venue=fewer, revoke=(f"post-{gone}",))
    assert told[f"post-{gone}/post-{gone}"].done is Done.REMOVED
    assert not (tmp_path / f"post-{gone}").exists()
    assert KeyFolder(tmp_path, fewer, NOW).left_over() == []


def test_another_venues_folder_and_spoilt_files_are_refused_and_left_alone(tmp_path: Path) -> None:
    settled(tmp_path)
    other = msgspec.structs.replace(REAL, id="other")
    with pytest.raises(BadInput, match="holds the keys of small"):
        settled(tmp_path, venue=other)
    key = tmp_path / "authority/authority.key"
    right = key.read_bytes()
    for wrong in (b"", b"nonsense", (tmp_path / "monitor/monitor.key").read_bytes()):
        key.write_bytes(wrong)
        with pytest.raises(BadInput, match="authority's files and passphrase"):
            settled(tmp_path)
        assert key.read_bytes() == wrong
    key.write_bytes(right)
    (tmp_path / "authority/record.json").write_text("{")
    with pytest.raises(BadInput, match="must be what this verb wrote"):
        settled(tmp_path)


def test_a_locked_authority_opens_by_its_passphrase_alone(tmp_path: Path) -> None:
    settled(tmp_path, passphrase=b"kerb and light")
    assert b"ENCRYPTED" in (tmp_path / "authority/authority.key").read_bytes()
    for wrong in (None, b"kerb and lihgt"):
        with pytest.raises(BadInput, match="passphrase"):
            settled(tmp_path, passphrase=wrong)
    assert {one.done for one in settled(tmp_path, passphrase=b"kerb and light").values()} == {Done.KEPT}


# --- finding one's keys


@pytest.mark.parametrize("below", ["", "controller"])
def test_keys_are_found_in_the_holders_folder_and_above_it(made: Path, below: str) -> None:
    pair = Keys(made / below, "controller").pair("controller")
    assert pair.certificate == made / "controller/controller.crt"


def test_a_device_has_its_users_keys_and_a_stranger_none(made: Path) -> None:
    assert Keys(made, "panel").pair("post-p1.panel").certificate == made / "panel/post-p1.crt"
    assert Keys(made, "post-p1").pair("post-p1.call-7").certificate == made / "post-p1/post-p1.crt"
    with pytest.raises(BadInput, match=r"must hold world\.crt"):
        Keys(made, "sim").pair("world")


def test_a_key_that_others_can_read_is_refused_with_what_mends_it(tmp_path: Path) -> None:
    settled(tmp_path)
    key = tmp_path / "monitor/monitor.key"
    keys = Keys(tmp_path / "monitor", "monitor")
    for mode in (0o604, 0o660, 0o644):
        key.chmod(mode)
        with pytest.raises(BadInput, match=rf"monitor\.key: mode is {mode:o}.*chmod 600"):
            keys.pair("monitor")
    key.chmod(0o640)  # a service's group
    assert keys.pair("monitor").key == key
    key.unlink()
    with pytest.raises(BadInput, match="copy the holder's whole folder"):
        keys.pair("monitor")


# --- the verb


def kerblight(*words: str | Path, said: str = "") -> subprocess.CompletedProcess[str]:
    return subprocess.run(
        [sys.executable, "-m", "signals.cli", *map(str, words)],
        capture_output=True,
        text=True,
        check=False,
        input=said,
    )


@pytest.fixture(scope="module")
def asked(tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, dict[str, object]]:
    folder = tmp_path_factory.mktemp("verb")
    came = kerblight("wiring", "keys", folder / "keys", "--name", "broker.lan", "--json")
    assert came.returncode == 0, came.stderr
    return folder / "keys", json.loads(came.stdout)


def test_the_verb_tells_what_it_made_and_no_secret(asked: tuple[Path, dict[str, object]]) -> None:
    folder, said = asked
    assert said["left_over"] == []
    assert isinstance(said["site"], dict)
    assert said["site"]["names"] == ["broker.lan"]
    came = kerblight("wiring", "keys", folder)
    assert came.returncode == 0
    assert "keep it off its machines" in came.stdout
    secrets = [line for file in folder.rglob("*.key") for line in file.read_text().splitlines()[1:-1]]
    assert secrets
    assert not any(secret in came.stdout + came.stderr + json.dumps(said) for secret in secrets)


def test_the_verb_exits_with_1_where_certificates_end_soon(tmp_path: Path) -> None:
    came = kerblight("wiring", "keys", tmp_path / "keys", "--days", "20")
    assert came.returncode == 1
    assert "19 days left" in came.stdout or "20 days left" in came.stdout
    assert "--renew" in came.stdout
    assert kerblight("wiring", "keys", tmp_path / "keys", "--renew").returncode == 0


def test_the_verb_takes_a_passphrase_from_what_is_piped_in(tmp_path: Path) -> None:
    folder = tmp_path / "keys"
    short = kerblight("wiring", "keys", folder, "--locked", said="short\n")
    assert short.returncode == 2
    assert not folder.exists()
    assert kerblight("wiring", "keys", folder, "--locked", said="kerb and light\n").returncode == 0
    assert kerblight("wiring", "keys", folder, said="kerb and light\n").returncode == 0
    wrong = kerblight("wiring", "keys", folder, said="kerb and lihgt\n")
    assert wrong.returncode == 2
    assert "lihgt" not in wrong.stdout + wrong.stderr


def test_the_verb_names_all_mistakes_at_once(tmp_path: Path) -> None:
    words = ("--name", "a b", "--name", "x" * 64, "--listen", "broker.lan", "--place", "keys")
    came = kerblight("wiring", "keys", tmp_path / "keys", *words)
    assert came.returncode == 2
    told = " ".join(came.stderr.replace("│", " ").split())
    for option in ("--name is 'a b'", "--name is 'xxx", "--listen is 'broker.lan'", "--place is 'keys'"):
        assert option in told
    assert not (tmp_path / "keys").exists()
