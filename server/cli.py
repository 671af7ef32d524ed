"""The `leafwalk` command: reads arguments, calls the server's functions, prints; heavy modules load when called for."""

from __future__ import annotations

import errno
import io
import json
import socket
import sys
from collections.abc import Callable
from datetime import datetime
from pathlib import Path
from typing import Any

import click

from server import cli_exchange, cli_files, cli_keeping, cli_measuring, cli_plans, cli_reports
from server.cli_options import DATABASE, PHOTOS, takes_database, takes_photos
from server.config import Config, default_home
from server.errors import LeafwalkError

REFUSED_STATUS = 1
QR_BLOCKS = "\xa0▀▄█"
FILE = click.Path(dir_okay=False, path_type=Path)


class Commands(click.Group):
    """A group whose commands end with one sentence on stderr when the input was refused."""

    def main(self, *args: Any, **kwargs: Any) -> Any:
        """Run as a command: characters that the output's encoding lacks are written as escapes."""
        for stream in (sys.stdout, sys.stderr):
            if isinstance(stream, io.TextIOWrapper):
                stream.reconfigure(errors="backslashreplace")
        return super().main(*args, **kwargs)

    def invoke(self, ctx: click.Context) -> Any:
        """Run the command; an error on purpose becomes exit status 1."""
        try:
            return super().invoke(ctx)
        except LeafwalkError as error:
            click.echo(f"Error: {error.message}", err=True)
            ctx.exit(REFUSED_STATUS)
        except OSError as error:
            if error.errno == errno.EPIPE:
                raise  # whoever read our output has left; click ends quietly
            click.echo(f"Error: {error.filename or 'the disk'}: {error.strerror}. Nothing was kept.", err=True)
            ctx.exit(REFUSED_STATUS)


@click.group(cls=Commands)
@click.option(
    "--home",
    type=click.Path(file_okay=False, path_type=Path),
    help="Folder of database, photos and settings. Default: the platform's user data folder.",
)
@click.option("--database", **DATABASE)
@click.option("--photos", **PHOTOS)
@click.pass_context
def main(ctx: click.Context, home: Path | None, database: str | None, photos: str | None) -> None:
    """Walk a round among potted trees, and see which need you."""
    ctx.obj = Config(home or default_home(), database, photos)


@main.command()
@click.option("--port", type=click.IntRange(0, 65535), default=8617, show_default=True, help="0 takes a free port.")
@click.option("--host", help="Address of this computer to serve on. Default: 127.0.0.1; with --lan all of them.")
@click.option("--lan", is_flag=True, help="HTTPS for phones on the home network, with an authority of its own.")
@click.option("--certificate", type=FILE, help="With --lan: your own certificate with its chain, PEM.")
@click.option("--key", type=FILE, help="The private key of --certificate, PEM.")
@click.option(
    "--backups",
    type=click.IntRange(0, 366),
    default=7,
    show_default=True,
    help="So many nightly backups are kept in the home, without photos; 0 makes none.",
)
@takes_database
@takes_photos
@click.pass_obj
def serve(
    config: Config,
    port: int,
    host: str | None,
    lan: bool,
    certificate: Path | None,
    key: Path | None,
    backups: int,
) -> None:
    """Serve the collection to browsers and phones."""
    from server import serving
    from server.keeping.nightly import nightly_backups

    if (certificate is None) != (key is None) or (certificate and not lan):
        raise click.UsageError("--certificate and --key go together, and with --lan.")
    if lan:
        from server.serving_lan import serve_lan

        with nightly_backups(config, backups):
            serve_lan(config, host, port, (certificate, key) if certificate and key else None, _print_qr)
        return
    bound = serving.bind(host or serving.HOST_DEFAULT, port)
    with nightly_backups(config, backups):
        _serve(config, bound)


@main.command()
@click.option("--port", type=click.IntRange(0, 65535), default=8617, show_default=True, help="0 takes a free port.")
@click.option("--no-serve", is_flag=True, help="Only build it.")
@click.option("--on", type=click.DateTime(["%Y-%m-%d"]), help="The day on which its story stands. Default: today.")
@click.pass_context
def demo(ctx: click.Context, port: int, no_serve: bool, on: datetime | None) -> None:
    """Build a demonstration collection in a fresh folder (in --home where given), and serve it."""
    from demo_db.opening import open_demo
    from server import serving

    for name in ("database", "photos"):
        if ctx.find_root().get_parameter_source(name) is click.core.ParameterSource.COMMANDLINE:
            raise click.UsageError(f"The demonstration lives in a folder of its own; leave --{name} out.")
    bound = None if no_serve else serving.bind(serving.HOST_DEFAULT, port)
    ctx.obj, built = open_demo(ctx.find_root().params["home"], on.date() if on else None)
    click.echo(f"The demonstration {'was built' if built else 'stands as it was left'} in {ctx.obj.home}")
    if bound is None:
        click.echo(f"Serve it: leafwalk --home {ctx.obj.home} serve")
        return
    _serve(ctx.obj, bound, lambda: ctx.invoke(pair, role="owner", as_json=False))


@main.command()
@click.option("--role", type=click.Choice(["owner", "helper"]), default="owner", show_default=True)
@click.option("--json", "as_json", is_flag=True, help="One JSON document instead of text.")
@click.pass_obj
def pair(config: Config, role: str, as_json: bool) -> None:
    """Print a one-time code that lets one device in."""
    from server.api.shown import moment_text
    from server.collection import open_collection
    from server.records.devices import new_pairing
    from server.records.settings import pairing_url, served_address

    open_collection(config)
    code, expires_ms = new_pairing(role)
    url = pairing_url(code)
    if as_json:
        click.echo(json.dumps({"code": code, "url": url, "expires_at": moment_text(expires_ms)}))
        return
    click.echo(f"Code: {code[:4]} {code[4:]} (role {role}; good for one device, for 15 minutes)")
    if served_address() is None:
        click.echo("Start the server first: leafwalk serve")
    click.echo(f"Open {url} on the device, or scan this:")
    _print_qr(url)


@main.command()
@click.option("--json", "as_json", is_flag=True, help="One JSON document instead of text.")
@click.pass_obj
def devices(config: Config, as_json: bool) -> None:
    """List the paired devices."""
    from server.api.shown import device_json
    from server.collection import open_collection
    from server.records import devices as records

    open_collection(config)
    shown = [device_json(device) for device in records.devices()]
    if as_json:
        click.echo(json.dumps({"devices": shown}))
        return
    if not shown:
        click.echo("No device is paired yet; let one in with: leafwalk pair")
    for each in shown:
        state = f"shut out {each['revoked_at']}" if each["revoked_at"] else f"last sent {each['seen_at'] or 'nothing'}"
        click.echo(f"{each['id']}  {each['role']:6}  paired {each['paired_at']}  {state}  {each['name']}")


@main.command()
@click.argument("device")
@click.pass_obj
def revoke(config: Config, device: str) -> None:
    """Shut out a DEVICE, by its id or name."""
    from server.collection import open_collection
    from server.records.devices import revoke as shut_out

    open_collection(config)
    gone = shut_out(device)
    click.echo(f"{gone.name} ({gone.id}) is shut out. What it holds stays on it.")


for command in (
    *(cli_keeping.backup, cli_keeping.restore, cli_keeping.check, cli_keeping.transplant),
    *(
        cli_reports.alerts,
        cli_reports.trends,
        cli_reports.heat,
        cli_reports.crop,
        cli_reports.compare,
        cli_reports.season,
        cli_plans.jobs,
    ),
    *(cli_files.import_, cli_files.export, cli_files.tags),
    *(cli_exchange.logger, cli_exchange.passports, cli_exchange.import_passports, cli_exchange.offers),
    *(cli_measuring.card, cli_measuring.measure),
):
    main.add_command(command)


def _serve(config: Config, bound: socket.socket, then: Callable[[], object] = lambda: None) -> None:
    """Serve until told to stop; the address is printed, and `then` called, once a browser can connect."""
    from server import serving
    from server.app import create_app
    from server.records.settings import note_address

    address = serving.address_of(bound)
    app = create_app(config)
    note_address(address)

    def tell() -> None:
        click.echo(f"Leafwalk serves {config.home} at {address}")
        then()
        sys.stdout.flush()

    serving.serve(app, bound, tell)


def _print_qr(text: str) -> None:
    from qrcode import QRCode

    try:
        QR_BLOCKS.encode(sys.stdout.encoding)
    except UnicodeEncodeError:
        click.echo("This terminal lacks the characters to draw it; open the address instead.")
        return
    code = QRCode(border=4)
    code.add_data(text)
    code.print_ascii(out=sys.stdout, invert=True)
