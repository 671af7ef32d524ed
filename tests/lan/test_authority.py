"""Certificates as strangers see them: OpenSSL, through Python's ssl module, and a second verifier judge them."""

from __future__ import annotations

import ipaddress
import shutil
import socket
import ssl
import subprocess
import threading
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest
from cryptography import x509
from cryptography.hazmat.primitives import hashes, serialization
from cryptography.hazmat.primitives.asymmetric import ec
from cryptography.x509.oid import ExtendedKeyUsageOID, NameOID
from cryptography.x509.verification import PolicyBuilder, Store

from server.lan.authority import (
    Signed,
    fingerprint,
    is_ending,
    issue,
    local_name,
    may_sign_for,
    new_authority,
    read_pem,
    serves,
)
from server.lan.certificates import tls_settings

NOW = datetime.now(UTC).replace(microsecond=0)
NAMES, ADDRESSES = ["leafwalk.local"], ["192.168.7.20", "10.0.0.5"]


@pytest.fixture(scope="module")
def authority() -> Signed:
    return new_authority(NOW)


@pytest.fixture(scope="module")
def leaf(authority: Signed) -> Signed:
    return issue(authority, NAMES, ADDRESSES, NOW)


def shaken_hands(folder: Path, authority: Signed, leaf: Signed, name: str) -> None:
    """A TLS handshake over a socket pair: a client that trusts the authority alone asks for `name`."""
    (folder / "leaf.pem").write_bytes(leaf.to_pem())
    settings = tls_settings(folder / "leaf.pem")
    trusting = ssl.create_default_context(cadata=authority.certificate.public_bytes(serialization.Encoding.DER))
    ours, theirs = socket.socketpair()
    for end in (ours, theirs):
        end.settimeout(10)

    def serve() -> None:
        try:
            with settings.wrap_socket(theirs, server_side=True) as secured:
                secured.recv(1)
        except OSError:
            theirs.close()

    thread = threading.Thread(target=serve)
    thread.start()
    try:
        with trusting.wrap_socket(ours, server_hostname=name):
            pass
    finally:
        ours.close()
        thread.join(10)


@pytest.mark.parametrize("name", [*NAMES, *ADDRESSES, "localhost", "127.0.0.1"])
def test_openssl_takes_the_certificate_for_each_of_its_names(
    name: str, authority: Signed, leaf: Signed, tmp_path: Path
) -> None:
    shaken_hands(tmp_path, authority, leaf, name)


@pytest.mark.parametrize("name", ["leafwalk-2.local", "192.168.7.21", "example.org"])
def test_openssl_takes_it_for_no_other_name(name: str, authority: Signed, leaf: Signed, tmp_path: Path) -> None:
    with pytest.raises(ssl.SSLCertVerificationError):
        shaken_hands(tmp_path, authority, leaf, name)


def test_a_second_verifier_agrees(authority: Signed, leaf: Signed) -> None:
    # The verifier of pyca/cryptography demands the profile of the CA/Browser Forum on top of RFC 5280.
    builder = PolicyBuilder().store(Store([authority.certificate])).time(NOW)
    for subject in (x509.DNSName(NAMES[0]), x509.IPAddress(ipaddress.ip_address(ADDRESSES[0]))):
        chain = builder.build_server_verifier(subject).verify(leaf.certificate, [])
        assert chain == [leaf.certificate, authority.certificate]


def test_lifetimes_are_ten_years_and_397_days(authority: Signed, leaf: Signed) -> None:
    root, served = authority.certificate, leaf.certificate
    assert root.not_valid_after_utc == NOW + timedelta(days=3652)
    assert served.not_valid_after_utc - served.not_valid_before_utc == timedelta(days=397)
    assert served.not_valid_before_utc == NOW - timedelta(hours=1)
    late = NOW + timedelta(days=3500)
    assert issue(authority, NAMES, ADDRESSES, late).certificate.not_valid_after_utc == root.not_valid_after_utc


def test_extensions_are_what_phones_demand(authority: Signed, leaf: Signed) -> None:
    # Apple, support.apple.com/103769, and RFC 5280, 4.2.1.
    extensions = leaf.certificate.extensions
    assert list(extensions.get_extension_for_class(x509.ExtendedKeyUsage).value) == [ExtendedKeyUsageOID.SERVER_AUTH]
    names = extensions.get_extension_for_class(x509.SubjectAlternativeName).value
    assert names.get_values_for_type(x509.DNSName) == [*NAMES, "localhost"]
    assert [str(ip) for ip in names.get_values_for_type(x509.IPAddress)] == [*ADDRESSES, "127.0.0.1"]
    assert isinstance(leaf.certificate.signature_hash_algorithm, hashes.SHA256)
    root = authority.certificate.extensions
    basic = root.get_extension_for_class(x509.BasicConstraints)
    assert (basic.critical, basic.value.ca, basic.value.path_length) == (True, True, 0)
    assert root.get_extension_for_class(x509.KeyUsage).value.key_cert_sign
    assert root.get_extension_for_class(x509.NameConstraints).critical


@pytest.mark.skipif(shutil.which("openssl") is None, reason="the openssl command is not installed")
def test_the_openssl_command_reads_the_same_fingerprint_and_chain(
    authority: Signed, leaf: Signed, tmp_path: Path
) -> None:
    root, served = tmp_path / "root.crt", tmp_path / "served.crt"
    root.write_bytes(authority.certificate.public_bytes(serialization.Encoding.PEM))
    served.write_bytes(leaf.certificate.public_bytes(serialization.Encoding.PEM))
    shown = subprocess.run(
        ["openssl", "x509", "-in", root, "-noout", "-fingerprint", "-sha256"],
        capture_output=True,
        text=True,
        check=True,
    )
    assert shown.stdout.strip().split("=")[1] == fingerprint(authority.certificate)
    strict = ["openssl", "verify", "-x509_strict", "-purpose", "sslserver", "-verify_ip", ADDRESSES[1]]
    done = subprocess.run([*strict, "-CAfile", root, served], capture_output=True, text=True, check=False)
    assert done.stdout.strip().endswith(": OK"), done.stdout + done.stderr


@pytest.mark.parametrize(
    "name", [x509.DNSName("bank.example.com"), x509.IPAddress(ipaddress.ip_address("93.184.216.34"))]
)
def test_a_stolen_authority_can_not_pose_as_a_site_on_the_internet(
    name: x509.DNSName | x509.IPAddress, authority: Signed, tmp_path: Path
) -> None:
    key = ec.generate_private_key(ec.SECP256R1())
    forged = (
        x509.CertificateBuilder()
        .subject_name(x509.Name([x509.NameAttribute(NameOID.COMMON_NAME, "a bank")]))
        .issuer_name(authority.certificate.subject)
        .public_key(key.public_key())
        .serial_number(1)
        .not_valid_before(NOW - timedelta(days=1))
        .not_valid_after(NOW + timedelta(days=1))
        .add_extension(x509.SubjectAlternativeName([name]), critical=False)
        .sign(authority.key, hashes.SHA256())
    )
    with pytest.raises(ssl.SSLCertVerificationError, match="permitted subtree violation"):
        shaken_hands(tmp_path, authority, Signed(forged, key), str(name.value))


def test_an_address_outside_home_networks_is_let_in_only_with_the_authority(tmp_path: Path) -> None:
    # RFC 5737 keeps these addresses for examples.
    authority = new_authority(NOW, ["203.0.113.9"])
    assert may_sign_for(authority.certificate, "203.0.113.9")
    assert not may_sign_for(authority.certificate, "203.0.113.10")
    shaken_hands(tmp_path, authority, issue(authority, NAMES, ["203.0.113.9"], NOW), "203.0.113.9")
    left_out = issue(authority, NAMES, ["203.0.113.10"], NOW)
    shaken_hands(tmp_path, authority, left_out, NAMES[0])
    assert serves(left_out.certificate, authority.certificate, NAMES, ["203.0.113.10"])


def test_a_certificate_is_recognised_by_signer_names_and_addresses(authority: Signed, leaf: Signed) -> None:
    root = authority.certificate
    assert serves(leaf.certificate, root, NAMES, ADDRESSES)
    assert serves(leaf.certificate, root, NAMES, ADDRESSES[::-1])
    assert not serves(leaf.certificate, root, NAMES, ADDRESSES[:1])
    assert not serves(leaf.certificate, root, ["leafwalk-2.local"], ADDRESSES)
    assert not serves(leaf.certificate, new_authority(NOW).certificate, NAMES, ADDRESSES)
    assert local_name(leaf.certificate) == NAMES[0]


def test_it_is_renewed_30_days_before_its_end(leaf: Signed) -> None:
    end = leaf.certificate.not_valid_after_utc
    assert not is_ending(leaf.certificate, end - timedelta(days=30, seconds=1))
    assert is_ending(leaf.certificate, end - timedelta(days=30))
    assert is_ending(leaf.certificate, NOW - timedelta(hours=2)), "the clock was set back"


def test_what_is_written_is_read_again_and_nothing_else_is(authority: Signed, leaf: Signed) -> None:
    assert read_pem(leaf.to_pem()).certificate == leaf.certificate
    mixed = Signed(leaf.certificate, authority.key).to_pem()
    for bad in (b"", b"no certificate", mixed, leaf.to_pem()[:300]):
        with pytest.raises(ValueError, match=r".+"):
            read_pem(bad)
