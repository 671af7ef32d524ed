"""Certificates on disk: kept, reissued when due, refused when damaged; the grower's own instead."""

from __future__ import annotations

import os
import stat
from collections.abc import Callable
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest
from cryptography.hazmat.primitives import serialization

from server.errors import Refused
from server.lan.authority import Signed, issue, new_authority, read_pem
from server.lan.certificates import HomeCertificates, OwnCertificates

NOW = datetime.now(UTC)
NAMES, ADDRESSES = ["leafwalk.local"], ["192.168.7.20"]


class Clock:
    """A clock that tests move."""

    def __init__(self) -> None:
        self.now = NOW

    def __call__(self) -> datetime:
        return self.now


@pytest.fixture
def clock() -> Clock:
    return Clock()


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    return tmp_path / "home" / "certificates"


@pytest.fixture
def opened(folder: Path, clock: Clock) -> Callable[[], HomeCertificates]:
    """Certificates as a server that starts finds them."""
    return lambda: HomeCertificates(folder, clock)


def leaf_in(folder: Path) -> Signed:
    return read_pem((folder / "server.pem").read_bytes())


def test_a_restart_finds_what_was_made(folder: Path, opened: Callable[[], HomeCertificates]) -> None:
    opened().settings(NAMES, ADDRESSES)
    before = {path.name: path.read_bytes() for path in folder.iterdir()}
    assert set(before) == {"authority.pem", "authority.crt", "server.pem"}
    opened().settings(NAMES, ADDRESSES)
    assert {path.name: path.read_bytes() for path in folder.iterdir()} == before
    assert opened().last_name() == NAMES[0]


@pytest.mark.skipif(os.name != "posix", reason="file modes are POSIX's")
def test_keys_are_their_owners_alone(folder: Path, opened: Callable[[], HomeCertificates]) -> None:
    opened().settings(NAMES, ADDRESSES)
    for name in ("authority.pem", "server.pem"):
        assert stat.S_IMODE((folder / name).stat().st_mode) == 0o600
    assert stat.S_IMODE(folder.stat().st_mode) == 0o700
    (folder / "authority.pem").chmod(0o644)
    opened().authority(ADDRESSES)
    assert stat.S_IMODE((folder / "authority.pem").stat().st_mode) == 0o600


def test_another_address_or_name_brings_another_certificate_of_the_same_authority(
    folder: Path, opened: Callable[[], HomeCertificates]
) -> None:
    opened().settings(NAMES, ADDRESSES)
    authority, first = (folder / "authority.pem").read_bytes(), leaf_in(folder)
    opened().settings(NAMES, ["192.168.7.99"])
    second = leaf_in(folder)
    opened().settings(["leafwalk-2.local"], ["192.168.7.99"])
    assert len({each.certificate.serial_number for each in (first, second, leaf_in(folder))}) == 3
    assert (folder / "authority.pem").read_bytes() == authority


def test_a_certificate_near_its_end_is_renewed(
    folder: Path, clock: Clock, opened: Callable[[], HomeCertificates]
) -> None:
    certificates = opened()
    assert certificates.is_due()
    certificates.settings(NAMES, ADDRESSES)
    first = leaf_in(folder).certificate
    clock.now += timedelta(days=366)
    assert not certificates.is_due()
    clock.now += timedelta(days=1)
    assert certificates.is_due()
    certificates.settings(NAMES, ADDRESSES)
    assert leaf_in(folder).certificate.not_valid_after_utc - first.not_valid_after_utc == timedelta(days=367)
    assert not certificates.is_due()


def test_an_authority_near_its_end_is_replaced(
    folder: Path, clock: Clock, opened: Callable[[], HomeCertificates]
) -> None:
    opened().settings(NAMES, ADDRESSES)
    first = (folder / "authority.crt").read_bytes()
    clock.now += timedelta(days=3630)
    opened().settings(NAMES, ADDRESSES)
    assert (folder / "authority.crt").read_bytes() != first


def test_a_damaged_authority_is_refused_and_kept_as_it_is(folder: Path, opened: Callable[[], HomeCertificates]) -> None:
    opened().settings(NAMES, ADDRESSES)
    (folder / "authority.pem").write_bytes(b"scribble")
    with pytest.raises(Refused, match=r"authority\.pem is damaged"):
        opened().settings(NAMES, ADDRESSES)
    assert (folder / "authority.pem").read_bytes() == b"scribble"


def test_a_damaged_server_certificate_is_made_anew(folder: Path, opened: Callable[[], HomeCertificates]) -> None:
    opened().settings(NAMES, ADDRESSES)
    (folder / "server.pem").write_bytes(b"scribble")
    opened().settings(NAMES, ADDRESSES)
    assert leaf_in(folder)


def own_files(folder: Path, password: bytes | None = None, now: datetime = NOW) -> tuple[Path, Path]:
    """A certificate and its key as another authority hands them out."""
    made = issue(new_authority(now), ["trees.local", "*.wild.local"], ["10.1.2.3"], now)
    sealed = serialization.BestAvailableEncryption(password) if password else serialization.NoEncryption()
    certificate, key = folder / "own.crt", folder / "own.key"
    certificate.write_bytes(made.certificate.public_bytes(serialization.Encoding.PEM))
    key.write_bytes(
        made.key.private_bytes(serialization.Encoding.PEM, serialization.PrivateFormat.TraditionalOpenSSL, sealed)
    )
    return certificate, key


def test_the_growers_own_certificate_names_its_hosts(tmp_path: Path) -> None:
    own = OwnCertificates(*own_files(tmp_path))
    own.settings()
    assert own.names() == ["trees.local", "localhost", "10.1.2.3", "127.0.0.1"]


def test_a_replaced_certificate_is_noticed(tmp_path: Path) -> None:
    own = OwnCertificates(*own_files(tmp_path))
    own.settings()
    assert not own.is_due()
    certificate, _ = own_files(tmp_path)
    os.utime(certificate, (0, 0))
    assert own.is_due()
    own.settings()
    assert not own.is_due()


def test_no_pair_a_passphrase_or_an_end_is_told_as_such(tmp_path: Path) -> None:
    certificate, key = own_files(tmp_path)
    good = certificate.read_bytes()
    _, other = own_files(tmp_path)
    certificate.write_bytes(good)
    with pytest.raises(Refused, match="--certificate and --key"):
        OwnCertificates(certificate, other).settings()
    with pytest.raises(Refused, match="passphrase"):
        OwnCertificates(*own_files(tmp_path, password=b"secret")).settings()
    with pytest.raises(Refused, match="ended on"):
        OwnCertificates(*own_files(tmp_path, now=NOW - timedelta(days=400))).settings()
    with pytest.raises(Refused, match="begins only on"):
        OwnCertificates(*own_files(tmp_path, now=NOW + timedelta(days=30))).settings()
    key.write_text("no key")
    with pytest.raises(Refused, match="--key"):
        OwnCertificates(certificate, key).settings()
