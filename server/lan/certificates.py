"""The certificates on disk, our own authority's or the grower's, and the TLS settings made of them."""

from __future__ import annotations

import os
import ssl
import stat
from collections.abc import Callable, Sequence
from contextlib import suppress
from datetime import datetime
from pathlib import Path

from cryptography import x509
from cryptography.hazmat.primitives.serialization import Encoding

from server import ids
from server.errors import Refused
from server.lan.authority import Signed, is_ending, issue, local_name, new_authority, read_pem, serves

AUTHORITY_FILE, LEAF_FILE, PUBLIC_FILE = "authority.pem", "server.pem", "authority.crt"
Clock = Callable[[], datetime]


def tls_settings(certificate: Path, key: Path | None = None) -> ssl.SSLContext:
    """What a TLS server needs: TLS 1.2 or newer, HTTP/1.1 alone. Raises Refused when the files are no pair."""
    settings = ssl.SSLContext(ssl.PROTOCOL_TLS_SERVER)
    settings.minimum_version = ssl.TLSVersion.TLSv1_2
    settings.set_alpn_protocols(["http/1.1"])
    try:
        # Without an answer here OpenSSL would wait for a passphrase at the terminal.
        settings.load_cert_chain(certificate, key, password=lambda: "")
    except (OSError, ValueError) as error:
        raise Refused(
            f"{certificate} and {key or certificate} are no certificate with its key in PEM form ({error}). Give both "
            "with --certificate and --key; a key with a passphrase is written without one by: openssl pkey."
        ) from error
    return settings


class HomeCertificates:
    """The authority of this home and its server certificate, made where they are missing, renewed when due."""

    def __init__(self, folder: Path, clock: Clock = ids.now) -> None:
        self._folder = folder
        self._clock = clock
        self._authority: Signed | None = None

    def authority(self, addresses: Sequence[str]) -> Signed:
        """The authority. Raises Refused when its file is damaged: phones trust it, so it isn't replaced unasked."""
        if self._authority is None:
            self._authority = self._read_authority()
        if self._authority is None or is_ending(self._authority.certificate, self._clock()):
            self._authority = new_authority(self._clock(), addresses)
            self._write(AUTHORITY_FILE, self._authority.to_pem())
        public = self._authority.certificate.public_bytes(Encoding.PEM)
        if not (self._folder / PUBLIC_FILE).exists() or (self._folder / PUBLIC_FILE).read_bytes() != public:
            self._write(PUBLIC_FILE, public)
        return self._authority

    def settings(self, names: Sequence[str], addresses: Sequence[str]) -> ssl.SSLContext:
        """TLS settings with a certificate for exactly these names and addresses."""
        authority = self.authority(addresses)
        leaf = self._read_leaf()
        fits = leaf and serves(leaf.certificate, authority.certificate, names, addresses)
        if leaf is None or not fits or is_ending(leaf.certificate, self._clock()):
            self._write(LEAF_FILE, issue(authority, names, addresses, self._clock()).to_pem())
        return tls_settings(self._folder / LEAF_FILE)

    def is_due(self) -> bool:
        """Whether the server certificate on disk must be renewed, or is gone."""
        leaf = self._read_leaf()
        return leaf is None or is_ending(leaf.certificate, self._clock())

    def last_name(self) -> str | None:
        """The .local name of the last certificate, so that a home keeps its name."""
        leaf = self._read_leaf()
        return None if leaf is None else local_name(leaf.certificate)

    def _read_authority(self) -> Signed | None:
        file = self._folder / AUTHORITY_FILE
        if not file.exists():
            return None
        if os.name == "posix" and stat.S_IMODE(file.stat().st_mode) & 0o077:
            file.chmod(0o600)
        try:
            return read_pem(file.read_bytes())
        except ValueError as error:
            raise Refused(
                f"{file} is damaged. Put it back from a backup; or remove it, serve again, and let every phone trust "
                "the new authority."
            ) from error

    def _read_leaf(self) -> Signed | None:
        # Nobody but this server needs it, so a damaged one is simply made anew.
        with suppress(OSError, ValueError):
            return read_pem((self._folder / LEAF_FILE).read_bytes())
        return None

    def _write(self, name: str, data: bytes) -> None:
        """Write a file that only its owner reads, whole or not at all."""
        self._folder.mkdir(parents=True, exist_ok=True, mode=0o700)
        fresh = self._folder / f"{name}.{os.getpid()}"
        fresh.unlink(missing_ok=True)
        with os.fdopen(os.open(fresh, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600), "wb") as opened:
            opened.write(data)
            opened.flush()
            os.fsync(opened.fileno())
        fresh.replace(self._folder / name)


class OwnCertificates:
    """The grower's own certificate and key; read anew when their files change."""

    def __init__(self, certificate: Path, key: Path) -> None:
        self._certificate, self._key = certificate, key
        self._seen: tuple[int, int] | None = None

    def settings(self) -> ssl.SSLContext:
        """TLS settings. Raises Refused when the files are no pair, or the certificate is over or yet to begin."""
        self._seen = self._changed_ns()
        settings = tls_settings(self._certificate, self._key)
        begin, end = self._parsed().not_valid_before_utc, self._parsed().not_valid_after_utc
        if end <= ids.now():
            raise Refused(f"{self._certificate} ended on {end.date()}; renew it, then serve again.")
        if begin > ids.now():
            raise Refused(
                f"{self._certificate} begins only on {begin.date()}; serve it then, or set this computer's clock right."
            )
        return settings

    def is_due(self) -> bool:
        """Whether the files were replaced since they were read."""
        with suppress(OSError):
            return self._changed_ns() != self._seen
        return False

    def names(self) -> list[str]:
        """The host names that the certificate is for, none with a wildcard."""
        try:
            found = self._parsed().extensions.get_extension_for_class(x509.SubjectAlternativeName).value
        except x509.ExtensionNotFound:
            return []
        names = found.get_values_for_type(x509.DNSName) + [str(ip) for ip in found.get_values_for_type(x509.IPAddress)]
        return [name for name in names if "*" not in name]

    def _parsed(self) -> x509.Certificate:
        return x509.load_pem_x509_certificate(self._certificate.read_bytes())

    def _changed_ns(self) -> tuple[int, int]:
        return self._certificate.stat().st_mtime_ns, self._key.stat().st_mtime_ns
