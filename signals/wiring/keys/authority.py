"""The venue's own authority: it signs certificates for this venue's clients and servers, and revokes them.

Elliptic curve P-256 and SHA-256: what small boards' TLS libraries know too. A certificate's common name is
its user, which is what the broker's access list goes by; profiles follow RFC 5280.
"""

from __future__ import annotations

import ipaddress
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import datetime, timedelta

from cryptography import x509
from cryptography.hazmat.primitives import hashes
from cryptography.hazmat.primitives.asymmetric import ec
from cryptography.hazmat.primitives.serialization import (
    BestAvailableEncryption,
    Encoding,
    KeySerializationEncryption,
    NoEncryption,
    PrivateFormat,
    load_pem_private_key,
)
from cryptography.x509.oid import ExtendedKeyUsageOID, NameOID

AUTHORITY_DAYS = 3653
CERTIFICATE_DAYS = 398
"""A year and a month, so that the day for it can be the same each year."""
EARLY = timedelta(hours=1)
"""Clocks of nodes may be slow: a certificate is valid a little before it was made."""

_SIGNS = x509.KeyUsage(
    digital_signature=False,
    content_commitment=False,
    key_encipherment=False,
    data_encipherment=False,
    key_agreement=False,
    key_cert_sign=True,
    crl_sign=True,
    encipher_only=False,
    decipher_only=False,
)
_SPEAKS = x509.KeyUsage(
    digital_signature=True,
    content_commitment=False,
    key_encipherment=False,
    data_encipherment=False,
    key_agreement=False,
    key_cert_sign=False,
    crl_sign=False,
    encipher_only=False,
    decipher_only=False,
)


@dataclass(frozen=True, slots=True)
class Signed:
    """A certificate and its key."""

    certificate: x509.Certificate
    key: ec.EllipticCurvePrivateKey

    def pem(self) -> bytes:
        """Give the certificate as PEM."""
        return self.certificate.public_bytes(Encoding.PEM)

    def key_pem(self, passphrase: bytes | None = None) -> bytes:
        """Give the key as PEM, locked where a passphrase is given."""
        lock: KeySerializationEncryption = (
            BestAvailableEncryption(passphrase) if passphrase else NoEncryption()
        )
        return self.key.private_bytes(Encoding.PEM, PrivateFormat.PKCS8, lock)


def found(venue: str, now: datetime) -> Signed:
    """Make a venue's authority; it signs no other authority."""
    key = ec.generate_private_key(ec.SECP256R1())
    name = x509.Name(
        [
            x509.NameAttribute(NameOID.ORGANIZATION_NAME, venue),
            x509.NameAttribute(NameOID.COMMON_NAME, f"{venue} authority"),
        ]
    )
    made = _begun(name, name, key, now, AUTHORITY_DAYS)
    made = made.add_extension(x509.BasicConstraints(ca=True, path_length=0), critical=True)
    made = made.add_extension(_SIGNS, critical=True)
    return Signed(made.sign(key, hashes.SHA256()), key)


def read(certificate: bytes, key: bytes, passphrase: bytes | None) -> Signed:
    """Read an authority's files; ValueError or TypeError where they, or the passphrase, do not fit."""
    known, its = x509.load_pem_x509_certificate(certificate), load_pem_private_key(key, passphrase)
    if not isinstance(its, ec.EllipticCurvePrivateKey) or its.public_key() != known.public_key():
        raise ValueError("the key is not the certificate's")
    return Signed(known, its)


def client(authority: Signed, holder: str, user: str, now: datetime, days: int) -> Signed:
    """Sign a certificate for a user, on the machine of its holder."""
    return _signed(authority, holder, user, now, days, ExtendedKeyUsageOID.CLIENT_AUTH, ())


def server(authority: Signed, holder: str, names: Iterable[str], now: datetime, days: int) -> Signed:
    """Sign a certificate for a server that is found by these names and addresses."""
    return _signed(authority, holder, holder, now, days, ExtendedKeyUsageOID.SERVER_AUTH, tuple(names))


def revocations(authority: Signed, revoked: Mapping[int, datetime], now: datetime) -> bytes:
    """Sign the list of revoked serial numbers, as PEM; it is valid as long as the authority."""
    listed = x509.CertificateRevocationListBuilder().issuer_name(authority.certificate.subject)
    listed = listed.last_update(now - EARLY).next_update(authority.certificate.not_valid_after_utc)
    for serial, at in sorted(revoked.items()):
        one = x509.RevokedCertificateBuilder().serial_number(serial).revocation_date(at).build()
        listed = listed.add_revoked_certificate(one)
    signer = x509.AuthorityKeyIdentifier.from_issuer_public_key(authority.key.public_key())
    listed = listed.add_extension(signer, critical=False)
    listed = listed.add_extension(x509.CRLNumber(int(now.timestamp())), critical=False)
    return listed.sign(authority.key, hashes.SHA256()).public_bytes(Encoding.PEM)


def _signed(
    authority: Signed,
    holder: str,
    name: str,
    now: datetime,
    days: int,
    purpose: x509.ObjectIdentifier,
    names: tuple[str, ...],
) -> Signed:
    """Sign for one purpose only: a client's certificate serves nobody, a server's calls nothing."""
    key = ec.generate_private_key(ec.SECP256R1())
    (venue,) = authority.certificate.subject.get_attributes_for_oid(NameOID.ORGANIZATION_NAME)
    subject = x509.Name(
        [
            venue,
            x509.NameAttribute(NameOID.ORGANIZATIONAL_UNIT_NAME, holder),
            x509.NameAttribute(NameOID.COMMON_NAME, name),
        ]
    )
    issuer = authority.certificate
    days = min(days, (issuer.not_valid_after_utc - now).days)  # none outlives who signed it
    made = _begun(subject, issuer.subject, key, now, days)
    made = made.add_extension(x509.BasicConstraints(ca=False, path_length=None), critical=True)
    made = made.add_extension(_SPEAKS, critical=True)
    made = made.add_extension(x509.ExtendedKeyUsage([purpose]), critical=False)
    signer = x509.AuthorityKeyIdentifier.from_issuer_public_key(authority.key.public_key())
    made = made.add_extension(signer, critical=False)
    if names:
        made = made.add_extension(x509.SubjectAlternativeName(map(_named, names)), critical=False)
    return Signed(made.sign(authority.key, hashes.SHA256()), key)


def _begun(
    subject: x509.Name, issuer: x509.Name, key: ec.EllipticCurvePrivateKey, now: datetime, days: int
) -> x509.CertificateBuilder:
    return (
        x509.CertificateBuilder()
        .subject_name(subject)
        .issuer_name(issuer)
        .public_key(key.public_key())
        .serial_number(x509.random_serial_number())
        .not_valid_before(now - EARLY)
        .not_valid_after(now + timedelta(days=days))
        .add_extension(x509.SubjectKeyIdentifier.from_public_key(key.public_key()), critical=False)
    )


def _named(name: str) -> x509.GeneralName:
    try:
        return x509.IPAddress(ipaddress.ip_address(name))
    except ValueError:
        return x509.DNSName(name)
