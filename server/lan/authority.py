"""A private certificate authority and the certificates that it signs: pure functions on keys, names and dates.

Phones take a server's certificate only within these bounds (Apple, "Requirements for trusted certificates in iOS 13 and
macOS 10.15", support.apple.com/103769): SHA-2, names in the subject alternative name, extended key usage serverAuth, at
most 825 days. The authority binds itself to home networks by critical name constraints (RFC 5280, 4.2.1.10): whoever
steals its key can't pose as a bank.
"""

from __future__ import annotations

import ipaddress
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta

from cryptography import x509
from cryptography.exceptions import InvalidSignature
from cryptography.hazmat.primitives import hashes, serialization
from cryptography.hazmat.primitives.asymmetric import ec
from cryptography.x509.oid import ExtendedKeyUsageOID, NameOID

AUTHORITY_LIFE = timedelta(days=3652)
LEAF_LIFE = timedelta(days=397)
RENEWED_BEFORE_END = timedelta(days=30)
# A phone's clock may lag behind ours.
CLOCKS_DIFFER = timedelta(hours=1)
# RFC 1918, RFC 6598, RFC 3927, loopback, RFC 4193, IPv6 link-local and loopback.
HOME_NETWORKS = (
    *("10.0.0.0/8", "172.16.0.0/12", "192.168.0.0/16", "100.64.0.0/10", "169.254.0.0/16", "127.0.0.0/8"),
    *("fc00::/7", "fe80::/10", "::1/128"),
)
# A name in the constraint stands for itself and all below it.
HOME_NAMES = ("local", "localhost")
COMMON_NAME = "Leafwalk at home"

Address = ipaddress.IPv4Address | ipaddress.IPv6Address


@dataclass(frozen=True, slots=True)
class Signed:
    """A certificate and its private key."""

    certificate: x509.Certificate
    key: ec.EllipticCurvePrivateKey

    def to_pem(self) -> bytes:
        """Key and certificate as one text, as servers read it."""
        key = self.key.private_bytes(
            serialization.Encoding.PEM, serialization.PrivateFormat.PKCS8, serialization.NoEncryption()
        )
        return key + self.certificate.public_bytes(serialization.Encoding.PEM)


def read_pem(data: bytes) -> Signed:
    """What `Signed.to_pem` wrote. Raises ValueError when it is anything else."""
    key = serialization.load_pem_private_key(data, password=None)
    certificate = x509.load_pem_x509_certificate(data)
    if not isinstance(key, ec.EllipticCurvePrivateKey) or key.public_key() != certificate.public_key():
        raise ValueError("The key is not that of the certificate.")
    return Signed(certificate, key)


def new_authority(now: datetime, addresses: Iterable[str] = ()) -> Signed:
    """A fresh authority for home networks; `addresses` outside them that this computer has are let in one by one."""
    key = ec.generate_private_key(ec.SECP256R1())
    serial = x509.random_serial_number()
    # Two authorities on one phone are told apart by the end of their names.
    name = x509.Name([x509.NameAttribute(NameOID.COMMON_NAME, f"{COMMON_NAME} {serial % 0x10000:04X}")])
    networks = [ipaddress.ip_network(each) for each in HOME_NETWORKS]
    networks += [ipaddress.ip_network(each) for each in addresses if not _within(ipaddress.ip_address(each), networks)]
    permitted = [*map(x509.DNSName, HOME_NAMES), *map(x509.IPAddress, networks)]
    builder = _builder(name, name, key, serial, now, now + AUTHORITY_LIFE)
    builder = builder.add_extension(x509.BasicConstraints(ca=True, path_length=0), critical=True)
    builder = builder.add_extension(_usage(sign_certificates=True), critical=True)
    builder = builder.add_extension(x509.NameConstraints(permitted, excluded_subtrees=None), critical=True)
    return Signed(builder.sign(key, hashes.SHA256()), key)


def issue(authority: Signed, names: Sequence[str], addresses: Sequence[str], now: datetime) -> Signed:
    """A server's certificate for these names and addresses, localhost included; it ends with its authority at latest.

    Addresses that the authority may not sign for are left out.
    """
    key = ec.generate_private_key(ec.SECP256R1())
    subject = x509.Name([x509.NameAttribute(NameOID.COMMON_NAME, "Leafwalk server")])
    issuer = authority.certificate
    end = min(now - CLOCKS_DIFFER + LEAF_LIFE, issuer.not_valid_after_utc)
    builder = _builder(subject, issuer.subject, key, x509.random_serial_number(), now - CLOCKS_DIFFER, end)
    served = [address for address in addresses if may_sign_for(issuer, address)]
    builder = builder.add_extension(x509.SubjectAlternativeName(_served_names(names, served)), critical=False)
    builder = builder.add_extension(x509.BasicConstraints(ca=False, path_length=None), critical=True)
    builder = builder.add_extension(_usage(sign_certificates=False), critical=True)
    builder = builder.add_extension(x509.ExtendedKeyUsage([ExtendedKeyUsageOID.SERVER_AUTH]), critical=False)
    signer = x509.AuthorityKeyIdentifier.from_issuer_public_key(authority.key.public_key())
    builder = builder.add_extension(signer, critical=False)
    return Signed(builder.sign(authority.key, hashes.SHA256()), key)


def may_sign_for(authority: x509.Certificate, address: str) -> bool:
    """Whether the authority's own constraints let it sign for an IP address."""
    constraints = authority.extensions.get_extension_for_class(x509.NameConstraints).value
    networks = [each.value for each in constraints.permitted_subtrees or () if isinstance(each, x509.IPAddress)]
    return _within(ipaddress.ip_address(address), networks)


def serves(leaf: x509.Certificate, authority: x509.Certificate, names: Sequence[str], addresses: Sequence[str]) -> bool:
    """Whether a server's certificate is of this authority and for exactly these names and addresses."""
    try:
        leaf.verify_directly_issued_by(authority)
    except (ValueError, InvalidSignature):
        return False
    wanted = _served_names(names, [address for address in addresses if may_sign_for(authority, address)])
    return set(wanted) == set(leaf.extensions.get_extension_for_class(x509.SubjectAlternativeName).value)


def is_ending(certificate: x509.Certificate, now: datetime) -> bool:
    """Whether a certificate must be renewed, or is not valid yet since the clock was set back."""
    return not certificate.not_valid_before_utc <= now < certificate.not_valid_after_utc - RENEWED_BEFORE_END


def local_name(leaf: x509.Certificate) -> str | None:
    """The name below .local that a server's certificate carries."""
    names = leaf.extensions.get_extension_for_class(x509.SubjectAlternativeName).value.get_values_for_type(x509.DNSName)
    return next((name for name in names if name.endswith(".local")), None)


def fingerprint(certificate: x509.Certificate) -> str:
    """SHA-256 of a certificate as phones show it: pairs of capital hexadecimal digits with colons."""
    return certificate.fingerprint(hashes.SHA256()).hex(":").upper()


def _served_names(names: Sequence[str], addresses: Sequence[str]) -> list[x509.GeneralName]:
    all_names = dict.fromkeys((*names, "localhost"))
    all_addresses = dict.fromkeys(map(ipaddress.ip_address, (*addresses, "127.0.0.1")))
    return [*map(x509.DNSName, all_names), *map(x509.IPAddress, all_addresses)]


def _within(address: Address, networks: Iterable[object]) -> bool:
    return any(
        isinstance(network, ipaddress.IPv4Network | ipaddress.IPv6Network)
        and network.version == address.version
        and address in network
        for network in networks
    )


def _usage(sign_certificates: bool) -> x509.KeyUsage:
    return x509.KeyUsage(
        digital_signature=not sign_certificates,
        content_commitment=False,
        key_encipherment=False,
        data_encipherment=False,
        key_agreement=False,
        key_cert_sign=sign_certificates,
        crl_sign=sign_certificates,
        encipher_only=False,
        decipher_only=False,
    )


def _builder(
    subject: x509.Name,
    issuer: x509.Name,
    key: ec.EllipticCurvePrivateKey,
    serial: int,
    start: datetime,
    end: datetime,
) -> x509.CertificateBuilder:
    return (
        x509.CertificateBuilder()
        .subject_name(subject)
        .issuer_name(issuer)
        .public_key(key.public_key())
        .serial_number(serial)
        .not_valid_before(start)
        .not_valid_after(end)
        .add_extension(x509.SubjectKeyIdentifier.from_public_key(key.public_key()), critical=False)
    )
