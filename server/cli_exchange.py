"""The commands that trade with instruments and other collections: a logger's file, passports, a list to share."""

from __future__ import annotations

import json
from pathlib import Path

import click

from server.cli_reports import FILE, write_file
from server.config import Config
from server.errors import Refused, TooLarge


@click.command()
@click.argument("file", type=FILE)
@click.option("--place", required=True, help="Name of the place in which the thermometer hangs.")
@click.option("--column", help="The column of temperatures, by name or number, where the file leaves a doubt.")
@click.option("--time-column", help="The column of times, by name or number, where the file leaves a doubt.")
@click.option("--unit", type=click.Choice(("c", "f")), help="Celsius or Fahrenheit, where the file does not say.")
@click.option("--day-order", type=click.Choice(("dmy", "mdy", "ymd")), help="How its dates are written.")
@click.option("--json", "as_json", is_flag=True, help="One JSON document instead of text.")
@click.pass_obj
def logger(config: Config, /, file: Path, place: str, as_json: bool, **asked: str | None) -> None:
    """Take in a thermometer logger's CSV FILE as each day's lowest and highest of a place: all or nothing, once."""
    from server.collection import open_collection
    from server.records import queries
    from server.tables.logger import import_logger
    from server.tables.logger_columns import Ask

    open_collection(config)
    done = import_logger(_read(file), queries.place_called(place), Ask(**asked), str(file))
    for line in [json.dumps(done.document())] if as_json else done.lines():
        click.echo(line)


@click.command()
@click.option("--out", type=FILE, required=True, help="The file to write, a .csv.")
@click.option("--institute", default="", help="INSTCODE: your code of FAO WIEWS, where you have one.")
@click.option("--status", default="", help="SAMPSTAT of trees whose note names none, such as 500 or 300.")
@click.option("--acquired", default="", help="COLLSRC of trees whose note names none, such as 23 or 30.")
@click.pass_obj
def passports(config: Config, out: Path, institute: str, status: str, acquired: str) -> None:
    """Write the trees you keep as passports for other collections (Multi-Crop Passport Descriptors V.2.1)."""
    from server.collection import open_collection
    from server.tables.passports import Holder, passports_csv

    open_collection(config)
    data = passports_csv(Holder(institute, status, acquired))
    write_file(out, data)
    click.echo(f"The passports are in {out}")


@click.command("import-passports")
@click.argument("file", type=FILE)
@click.pass_obj
def import_passports(config: Config, file: Path) -> None:
    """Take in a FILE of passports (Multi-Crop Passport Descriptors V.2.1) as varieties and trees, all or nothing."""
    from server.collection import open_collection
    from server.tables.passports_in import import_passports as take

    open_collection(config)
    for line in take(file).lines():
        click.echo(line)


@click.command()
@click.option("--out", type=FILE, required=True, help="The file to write, a .pdf or a .csv.")
@click.option("--paper", type=click.Choice(("a4", "letter")), default="a4", help="The paper of a .pdf.")
@click.pass_obj
def offers(config: Config, out: Path, paper: str) -> None:
    """Write a list to share: plants to give, and varieties of which wood may be asked for; no place or person in it."""
    from server.api.offers import offers_csv, offers_pdf
    from server.collection import open_collection

    kind = out.suffix.lower()
    if kind not in (".pdf", ".csv"):
        raise Refused(f"{out} should end in .pdf or .csv; name it so.")
    open_collection(config)
    write_file(out, offers_pdf(paper) if kind == ".pdf" else offers_csv())
    click.echo(f"The list is in {out}")


def _read(path: Path) -> bytes:
    """A file's bytes. Raises Refused where it can't be read, TooLarge before it is read."""
    from server.tables.logger_table import BYTES_MAX

    try:
        if path.stat().st_size > BYTES_MAX:
            raise TooLarge(f"{path} has more than {BYTES_MAX / 1e6:.0f} MB; export a shorter time.")
        return path.read_bytes()
    except OSError as error:
        raise Refused(f"{path} can't be read ({error.strerror}); check its name and who may read it.") from error
