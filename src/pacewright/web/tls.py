"""A certificate made on the spot: a root of this desk, and under it one for the addresses of this machine.

Phones trust the root once it is installed; it may vouch for private addresses and local names alone, so that
nobody who steals its key can pass for any other site. Both keys lie in the data folder, for its owner alone.
"""

from __future__ import annotations

import datetime as dt
import ipaddress
import os
import socket
from dataclasses import dataclass
from pathlib import Path

from cryptography import x509
from cryptography.hazmat.primitives import hashes, serialization
from cryptography.hazmat.primitives.asymmetric import ec
from cryptography.x509.oid import ExtendedKeyUsageOID, NameOID

ROOT_LIVES = dt.timedelta(days=3650)
LEAF_LIVES = dt.timedelta(days=390)
RENEWED_BEFORE = dt.timedelta(days=30)
_PRIVATE = (
    "10.0.0.0/8", "172.16.0.0/12", "192.168.0.0/16", "169.254.0.0/16", "127.0.0.0/8", "100.64.0.0/10",
    "fc00::/7", "fe80::/10", "::1/128",
)  # fmt: skip


@dataclass(frozen=True, slots=True)
class Certificate:
    """The files that a server with TLS wants."""

    chain: Path
    key: Path


def root_file(data_dir: Path) -> Path:
    """Where the certificate of the root lies, to be installed on phones."""
    return data_dir / "tls" / "root.crt"


def make_certificate(data_dir: Path, names: tuple[str, ...]) -> Certificate:
    """The certificate for these addresses and names; made when there is none that fits and still holds."""
    folder = data_dir / "tls"
    folder.mkdir(mode=0o700, parents=True, exist_ok=True)
    made = Certificate(folder / "desk.crt", folder / "desk.key")
    wanted = frozenset({*names, "localhost", "127.0.0.1", socket.gethostname().casefold()})
    root, root_key = _root(folder, wanted)
    if not _fits(made.chain, wanted, root):
        key = ec.generate_private_key(ec.SECP256R1())
        leaf = _leaf(key, wanted, root, root_key)
        _write(made.key, _key_bytes(key), secret=True)
        _write(made.chain, _pem(leaf) + _pem(root))
    return made


def _root(folder: Path, names: frozenset[str]) -> tuple[x509.Certificate, ec.EllipticCurvePrivateKey]:
    """The root that is there, or a new one when it may not vouch for all of the names."""
    place, key_place = folder / "root.crt", folder / "root.key"
    if place.is_file() and key_place.is_file():
        root = x509.load_pem_x509_certificate(place.read_bytes())
        key = serialization.load_pem_private_key(key_place.read_bytes(), None)
        if isinstance(key, ec.EllipticCurvePrivateKey) and _may_vouch(root, names) and _holds(root):
            return root, key
    key = ec.generate_private_key(ec.SECP256R1())
    name = _subject(f"Pacewright desk on {socket.gethostname()}"[:64])
    root = (
        _builder(name, name, key, ROOT_LIVES)
        .add_extension(x509.BasicConstraints(ca=True, path_length=0), critical=True)
        .add_extension(_usage(signs_certificates=True), critical=True)
        .add_extension(x509.NameConstraints(_permitted(names), None), critical=True)
        .add_extension(x509.SubjectKeyIdentifier.from_public_key(key.public_key()), critical=False)
        .sign(key, hashes.SHA256())
    )
    _write(key_place, _key_bytes(key), secret=True)
    _write(place, _pem(root))
    return root, key


def _leaf(
    key: ec.EllipticCurvePrivateKey, names: frozenset[str], root: x509.Certificate,
    root_key: ec.EllipticCurvePrivateKey,
) -> x509.Certificate:  # fmt: skip
    identifier = x509.AuthorityKeyIdentifier.from_issuer_public_key(root_key.public_key())
    return (
        _builder(_subject("Pacewright desk"), root.subject, key, LEAF_LIVES)
        .add_extension(x509.BasicConstraints(ca=False, path_length=None), critical=True)
        .add_extension(_usage(signs_certificates=False), critical=True)
        .add_extension(x509.ExtendedKeyUsage([ExtendedKeyUsageOID.SERVER_AUTH]), critical=False)
        .add_extension(
            x509.SubjectAlternativeName([_general(name) for name in sorted(names)]), critical=False
        )
        .add_extension(identifier, critical=False)
        .sign(root_key, hashes.SHA256())
    )


def _builder(
    subject: x509.Name, issuer: x509.Name, key: ec.EllipticCurvePrivateKey, lives: dt.timedelta
) -> x509.CertificateBuilder:
    moment = dt.datetime.now(dt.UTC)
    return (
        x509.CertificateBuilder()
        .subject_name(subject)
        .issuer_name(issuer)
        .public_key(key.public_key())
        .serial_number(x509.random_serial_number())
        .not_valid_before(moment - dt.timedelta(hours=1))
        .not_valid_after(moment + lives)
    )


def _permitted(names: frozenset[str]) -> list[x509.GeneralName]:
    networks = [ipaddress.ip_network(text) for text in _PRIVATE]
    single = [
        ipaddress.ip_network(one.value) for one in map(_general, names) if isinstance(one, x509.IPAddress)
    ]
    outside = [one for one in single if not any(_within(one, network) for network in networks)]
    hosts = sorted({"local", *(one.value for one in map(_general, names) if isinstance(one, x509.DNSName))})
    return [*(x509.IPAddress(one) for one in (*networks, *outside)), *(x509.DNSName(one) for one in hosts)]


def _within(one: ipaddress.IPv4Network | ipaddress.IPv6Network, other: object) -> bool:
    return type(one) is type(other) and one.subnet_of(other)  # type: ignore[arg-type]


def _may_vouch(root: x509.Certificate, names: frozenset[str]) -> bool:
    allowed = root.extensions.get_extension_for_class(x509.NameConstraints).value.permitted_subtrees or []
    return set(_permitted(names)) <= set(allowed)


def _fits(chain: Path, names: frozenset[str], root: x509.Certificate) -> bool:
    if not chain.is_file():
        return False
    leaf = x509.load_pem_x509_certificates(chain.read_bytes())[0]
    named = leaf.extensions.get_extension_for_class(x509.SubjectAlternativeName).value
    try:
        leaf.verify_directly_issued_by(root)
    except Exception:  # of whatever kind: then another one is made
        return False
    return {_general(name) for name in names} <= set(named) and _holds(leaf)


def _holds(certificate: x509.Certificate) -> bool:
    return certificate.not_valid_after_utc > dt.datetime.now(dt.UTC) + RENEWED_BEFORE


def _general(name: str) -> x509.IPAddress | x509.DNSName:
    try:
        return x509.IPAddress(ipaddress.ip_address(name.strip("[]")))
    except ValueError:
        return x509.DNSName(name)


def _subject(name: str) -> x509.Name:
    return x509.Name([x509.NameAttribute(NameOID.COMMON_NAME, name)])


def _usage(*, signs_certificates: bool) -> x509.KeyUsage:
    return x509.KeyUsage(
        digital_signature=not signs_certificates, key_cert_sign=signs_certificates,
        crl_sign=signs_certificates, content_commitment=False, key_encipherment=False,
        data_encipherment=False, key_agreement=False, encipher_only=False, decipher_only=False,
    )  # fmt: skip


def _pem(certificate: x509.Certificate) -> bytes:
    return certificate.public_bytes(serialization.Encoding.PEM)


def _key_bytes(key: ec.EllipticCurvePrivateKey) -> bytes:
    return key.private_bytes(
        serialization.Encoding.PEM, serialization.PrivateFormat.PKCS8, serialization.NoEncryption()
    )


def _write(path: Path, data: bytes, *, secret: bool = False) -> None:
    unfinished = path.with_suffix(".part")
    descriptor = os.open(unfinished, os.O_WRONLY | os.O_CREAT | os.O_TRUNC, 0o600 if secret else 0o644)
    with os.fdopen(descriptor, "wb") as stream:
        stream.write(data)
    os.replace(unfinished, path)
