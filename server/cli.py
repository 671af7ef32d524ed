"""The `leafwalk` command: reads arguments, calls the server's functions, prints; heavy modules load when called for."""

from __future__ import annotations

import json
import sys
from pathlib import Path
from typing import Any

import click

from server.config import Config, default_home
from server.errors import LeafwalkError

REFUSED_STATUS = 1


class Commands(click.Group):
    """A group whose commands end with one sentence on stderr when the input was refused."""

    def invoke(self, ctx: click.Context) -> Any:
        """Run the command; an error on purpose becomes exit status 1."""
        try:
            return super().invoke(ctx)
        except LeafwalkError as error:
            click.echo(f"Error: {error.message}", err=True)
            ctx.exit(REFUSED_STATUS)


@click.group(cls=Commands)
@click.option(
    "--home",
    type=click.Path(file_okay=False, path_type=Path),
    help="Folder of database, photos and settings. Default: the platform's user data folder.",
)
@click.pass_context
def main(ctx: click.Context, home: Path | None) -> None:
    """Walk a round among potted trees, and see which need you."""
    ctx.obj = Config(home or default_home())


@main.command()
@click.option("--port", type=click.IntRange(0, 65535), default=8617, show_default=True, help="0 takes a free port.")
@click.option("--host", default="127.0.0.1", show_default=True, help="Address of this computer to serve on.")
@click.pass_obj
def serve(config: Config, port: int, host: str) -> None:
    """Serve the collection to browsers and phones."""
    from server import serving
    from server.app import create_app
    from server.records.settings import note_address

    bound = serving.bind(host, port)
    app = create_app(config)
    address = serving.address_of(bound)
    note_address(address)
    click.echo(f"Leafwalk serves {config.home} at {address}")
    sys.stdout.flush()
    serving.serve(app, bound)


@main.command()
@click.option("--role", type=click.Choice(["owner", "helper"]), default="owner", show_default=True)
@click.option("--json", "as_json", is_flag=True, help="One JSON document instead of text.")
@click.pass_obj
def pair(config: Config, role: str, as_json: bool) -> None:
    """Print a one-time code that lets one device in."""
    from server.api.times import moment_text
    from server.collection import open_collection
    from server.records.devices import new_pairing
    from server.records.settings import pairing_url

    open_collection(config)
    code, expires_ms = new_pairing(role)
    url = pairing_url(code)
    if as_json:
        click.echo(json.dumps({"code": code, "url": url, "expires_at": moment_text(expires_ms)}))
        return
    click.echo(f"Code: {code[:4]} {code[4:]} (role {role}; good for one device, for 15 minutes)")
    if url is None:
        click.echo("Start the server (leafwalk serve), open its address on the device and type the code there.")
        return
    click.echo(f"Open {url} on the device, or scan this:")
    _print_qr(url)


def _print_qr(text: str) -> None:
    from qrcode import QRCode

    code = QRCode(border=4)
    code.add_data(text)
    code.print_ascii(out=sys.stdout, invert=True)
