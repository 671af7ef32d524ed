"""Serving the home network: the application on loopback, the TLS relay in front of it, and what the owner is told."""

from __future__ import annotations

import sys
from collections.abc import Callable
from pathlib import Path

import click

from server import serving
from server.app import create_app
from server.config import Config
from server.lan.front import Reach, open_front
from server.records.database import close_database
from server.records.settings import note_address

if sys.platform != "win32":  # which has no such limits
    import resource

# A phone's connection takes three files: to the relay, from the relay, and the server's end of that.
OPEN_FILES = 1024


def serve_lan(
    config: Config,
    host: str | None,
    port: int,
    own: tuple[Path, Path] | None,
    print_qr: Callable[[str], None],
) -> None:
    """Serve by HTTPS until told to stop; `own` is the grower's certificate and key, None our own authority.

    Raises Refused when address, port or certificate can't be had.
    """
    _allow_open_files(OPEN_FILES)
    upstream = serving.bind(serving.HOST_DEFAULT, 0)
    front = open_front(serving.bind, host, port, upstream.getsockname()[:2], config.home, own, _changed)
    app = create_app(config)
    reach = front.start()
    try:
        note_address(reach.addresses[0])

        def tell() -> None:
            click.echo(f"Leafwalk serves {config.home} at {reach.addresses[0]}")
            _tell(reach)
            print_qr(reach.addresses[0])
            _tell_newcomers(reach, print_qr)
            sys.stdout.flush()

        serving.serve(app, upstream, tell, relayed=True)
    finally:
        front.stop()


def _allow_open_files(count: int) -> None:
    """Raise this process's own limit, which some systems set to 256, as far as they let it."""
    if sys.platform == "win32":
        return
    soft, hard = resource.getrlimit(resource.RLIMIT_NOFILE)
    wanted = count if hard == resource.RLIM_INFINITY else min(count, hard)
    if soft != resource.RLIM_INFINITY and soft < wanted:
        resource.setrlimit(resource.RLIMIT_NOFILE, (wanted, hard))


def _tell(reach: Reach) -> None:
    for address in reach.addresses[1:]:
        click.echo(f"Where a phone does not find that name: {address}")
    for remark in reach.remarks:
        click.echo(remark)


def _tell_newcomers(reach: Reach, print_qr: Callable[[str], None]) -> None:
    if reach.fingerprint is None or reach.page_url is None:
        return
    half = len(reach.fingerprint) // 2
    click.echo("\nA phone that was not here before has to trust this server once.")
    click.echo(f"Open {reach.page_url} on it, or scan this:")
    print_qr(reach.page_url)
    click.echo("The fingerprint (SHA-256) that the phone must show for the certificate:")
    click.echo(f"  {reach.fingerprint[: half + 1]}\n  {reach.fingerprint[half + 1 :]}")


def _changed(reach: Reach) -> None:
    """Called from a thread of the relay's when addresses change or a certificate is renewed."""
    try:
        note_address(reach.addresses[0])
    finally:
        close_database()
    click.echo(f"Leafwalk is now at {reach.addresses[0]}")
    _tell(reach)
    sys.stdout.flush()
