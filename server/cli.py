"""The `leafwalk` command: reads arguments, calls the server's functions, prints; heavy modules load when called for."""

from __future__ import annotations

import errno
import json
import socket
import sys
from collections.abc import Callable, Iterable
from datetime import datetime
from pathlib import Path
from typing import Any

import click

from server import cli_keeping, cli_measuring
from server.cli_options import DATABASE, takes_database
from server.config import Config, default_home
from server.errors import LeafwalkError, Refused

REFUSED_STATUS = 1
FILE = click.Path(dir_okay=False, path_type=Path)
# As in analysis/degree_days.py, which is too heavy to load for a list of names.
DEGREE_DAY_METHODS = ("single-sine", "double-sine", "single-triangle", "double-triangle", "mean", "floored-mean")
CUTOFFS = ("horizontal", "vertical", "intermediate")


class Commands(click.Group):
    """A group whose commands end with one sentence on stderr when the input was refused."""

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
@click.pass_context
def main(ctx: click.Context, home: Path | None, database: str | None) -> None:
    """Walk a round among potted trees, and see which need you."""
    ctx.obj = Config(home or default_home(), database)


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

    if ctx.find_root().get_parameter_source("database") is click.core.ParameterSource.COMMANDLINE:
        raise click.UsageError("The demonstration lives in a folder of its own; leave --database out.")
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


@main.command()
@click.option("--place", help="Only the trees that stand in this place.")
@click.option("--blank", type=int, default=0, help="So many tags in advance, for trees to come.")
@click.option("--paper", default=None, help="Name of the label paper; a wrong name lists all.")
@click.option("--code-mm", type=float, default=None, help="Width of the code without its border, in mm. Default: 20.")
@click.option("--out", type=click.Path(dir_okay=False, path_type=Path), required=True, help="A .pdf, or a .png.")
@click.pass_obj
def tags(config: Config, place: str | None, blank: int, paper: str | None, code_mm: float | None, out: Path) -> None:
    """Print tags to a file: of a place's trees, of all trees, or in advance."""
    from labels.papers import PAPER_DEFAULT
    from labels.press import CODE_MM
    from server.api import printing
    from server.collection import open_collection
    from server.records import queries
    from server.records.database import write

    open_collection(config)
    order = printing.Order(
        place=None if place is None else queries.place_called(place),
        blank=blank,
        paper=paper or PAPER_DEFAULT,
        code_mm=CODE_MM if code_mm is None else code_mm,
        suffix=out.suffix or ".pdf",
    )
    result = printing.print_order(order)
    # Codes are remembered only with the file that carries them.
    with write():
        printing.remember(result.printed)
        paths = _write_files(out, result.printed.files)
    for text in result.left_out:
        click.echo(f"Not printed, as the typeface lacks its characters: {text}", err=True)
    click.echo(f"{len(result.tags)} tags in {paths[0] if len(paths) == 1 else f'{len(paths)} files beside {out}'}")


def report_options(command: Callable[..., None]) -> Callable[..., None]:
    """The options of every report: the day on which it is asked for, and JSON instead of text."""
    on = click.option("--on", metavar="DATE", help="The day on which it is asked; nothing later is looked at.")
    as_json = click.option("--json", "as_json", is_flag=True, help="One JSON document instead of text.")
    return on(as_json(command))


@main.command()
@report_options
@click.pass_obj
def alerts(config: Config, on: str | None, as_json: bool) -> None:
    """Show the findings that need you, those to act on first."""
    from server.collection import open_collection
    from server.reports.alerts import alerts as find
    from server.reports.catalogue import read_day
    from server.reports.text import alert_lines

    open_collection(config)
    _print_report(find(read_day(on)).document(), as_json, alert_lines)


@main.command()
@click.option("--tag", help="Only the tree with this tag, old tags included.")
@report_options
@click.pass_obj
def trends(config: Config, tag: str | None, on: str | None, as_json: bool) -> None:
    """Show the leaves, their change and the health of each tree."""
    from server.collection import open_collection
    from server.reports.catalogue import read_day
    from server.reports.text import trend_lines
    from server.reports.trends import trends as find

    open_collection(config)
    _print_report(find(read_day(on), tag).document(), as_json, trend_lines)


@main.command()
@click.option("--place", help="Only the place of this name.")
@click.option("--method", type=click.Choice(DEGREE_DAY_METHODS), default="single-sine", help="How a day is counted.")
@click.option("--cutoff", type=click.Choice(CUTOFFS), default="horizontal", help="What heat beyond the limit does.")
@report_options
@click.pass_obj
def heat(config: Config, place: str | None, method: Any, cutoff: Any, on: str | None, as_json: bool) -> None:
    """Show the degree-days and the chill of each place."""
    from server.collection import open_collection
    from server.reports.catalogue import read_day
    from server.reports.heat import heat as find
    from server.reports.text import heat_lines

    open_collection(config)
    _print_report(find(read_day(on), place, method, cutoff).document(), as_json, heat_lines)


@main.command()
@report_options
@click.pass_obj
def crop(config: Config, on: str | None, as_json: bool) -> None:
    """Show the fruit of each tree against its leaves, and how much of it should come off."""
    from server.collection import open_collection
    from server.reports.catalogue import read_day
    from server.reports.crop import crop as find
    from server.reports.text import crop_lines

    open_collection(config)
    _print_report(find(read_day(on)).document(), as_json, crop_lines)


@main.command()
@report_options
@click.pass_obj
def compare(config: Config, on: str | None, as_json: bool) -> None:
    """Show what each shelter and a head start change in each variety, or that it can't be told yet."""
    from server.collection import open_collection
    from server.reports.catalogue import read_day
    from server.reports.compare import compare_shelters
    from server.reports.text_years import compare_lines

    open_collection(config)
    _print_report(compare_shelters(read_day(on)).document(), as_json, compare_lines)


@main.command()
@click.option("--year", type=int, help="The growing year; default that of the day.")
@report_options
@click.pass_obj
def season(config: Config, year: int | None, on: str | None, as_json: bool) -> None:
    """Review a growing year: what each variety gave under each shelter, its rank, and keep, try again or let go."""
    from server.collection import open_collection
    from server.reports.catalogue import read_day
    from server.reports.season import season as review
    from server.reports.text_years import season_lines

    open_collection(config)
    _print_report(review(read_day(on), year).document(), as_json, season_lines)


@main.command("import")
@click.argument("paths", nargs=-1, required=True, type=click.Path(path_type=Path), metavar="PATH...")
@click.pass_obj
def import_(config: Config, paths: tuple[Path, ...]) -> None:
    """Take in CSV files, or folders of them: all or nothing; rows that are known already add nothing."""
    from server.collection import open_collection
    from server.tables.importing import import_files

    open_collection(config)
    for line in import_files(paths).lines():
        click.echo(line)


@main.command()
@click.argument("folder", type=click.Path(path_type=Path))
@click.option("--replace", is_flag=True, help="Overwrite the files of an earlier export.")
@click.pass_obj
def export(config: Config, folder: Path, replace: bool) -> None:
    """Write every kind of record as CSV into a FOLDER, and the photos."""
    from server.collection import open_collection
    from server.records.photo_files import PhotoFolder
    from server.tables.exporting import export_to

    open_collection(config)
    for line in export_to(folder, PhotoFolder(config.photo_folder), replace).lines():
        click.echo(line)


for command in (
    *(cli_keeping.backup, cli_keeping.restore, cli_keeping.check, cli_keeping.transplant),
    *(cli_measuring.card, cli_measuring.measure),
):
    main.add_command(command)


def _print_report(document: dict[str, Any], as_json: bool, lines: Callable[[dict[str, Any]], Iterable[str]]) -> None:
    for line in [json.dumps(document)] if as_json else lines(document):
        click.echo(line)


def _write_files(out: Path, files: tuple[tuple[str, bytes], ...]) -> list[Path]:
    """One file goes to `out`; of several, each gets its own name behind that of `out`."""
    paths = [out] if len(files) == 1 else [out.with_name(f"{out.stem}-{name}") for name, _ in files]
    for path, (_, data) in zip(paths, files, strict=True):
        try:
            path.write_bytes(data)
        except OSError as error:
            raise Refused(f"{path} can't be written ({error.strerror}); choose another file with --out.") from error
    return paths


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

    code = QRCode(border=4)
    code.add_data(text)
    code.print_ascii(out=sys.stdout, invert=True)
