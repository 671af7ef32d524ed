"""The commands that measure leaves: the printable card, and photos that show it or a tag."""

from __future__ import annotations

import csv
import io
import json
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import click

from server.cli_reports import write_file
from server.config import Config
from server.errors import Refused

FILE = click.Path(dir_okay=False, path_type=Path)
ENDINGS = (".jpg", ".jpeg", ".png", ".webp")


@click.command()
@click.option("--paper", default=None, help="a4 (the default) or letter.")
@click.option("--out", type=FILE, required=True, help="A .pdf.")
def card(paper: str | None, out: Path) -> None:
    """Print the measuring card to a file: leaves are laid on it and photographed."""
    from labels.card import PAPER_DEFAULT, card_pdf
    from labels.errors import LabelError

    if out.suffix.lower() != ".pdf":
        raise Refused(f"The card is printed to a file ending in .pdf, not {out.suffix or 'nothing'}.")
    try:
        data = card_pdf(paper or PAPER_DEFAULT)
    except LabelError as error:
        raise Refused(str(error)) from error
    write_file(out, data, "--out")
    click.echo(f"The measuring card is in {out}. Print it at 100 %, and hold a ruler to its line of 100 mm.")


@click.command()
@click.argument("photos", nargs=-1, required=True, type=click.Path(path_type=Path), metavar="PHOTO...")
@click.option("--json", "as_json", is_flag=True, help="One JSON document instead of text.")
@click.option("--csv", "table", type=FILE, help="Write a row a leaf into this file as well.")
@click.option("--code-mm", type=click.FloatRange(5, 200), help="Width of the tag's code, where it isn't on record.")
@click.pass_context
def measure(
    ctx: click.Context, photos: tuple[Path, ...], as_json: bool, table: Path | None, code_mm: float | None
) -> None:
    """Measure leaves in a PHOTO that shows a tag or the measuring card; several photos, or folders of them, at once.

    Of several photos, those that can't be measured are named on stderr and the others go on; the status is 1 when none
    could be measured.
    """
    from server.reports.measure import measure_lines, measure_rows

    found: list[dict[str, Any]] = []
    rows: list[tuple[Any, ...]] = []
    paths = _photo_files(photos)
    alone = len(paths) == 1
    for number, (name, document, problem) in enumerate(_measured(ctx.obj, paths, code_mm), 1):
        progress = "" if alone else f"[{number}/{len(paths)}] "
        if document is None:
            if alone:
                raise Refused(f"{name}: {problem}")
            click.echo(f"{progress}{name}: {problem}", err=True)
            rows.append((name, *[""] * 11, problem))
            found.append({"photo": name, "problem": problem})
            continue
        rows += measure_rows(name, document)
        found.append({"photo": name, **document})
        if not as_json:
            click.echo("\n".join(measure_lines(f"{progress}{name}", document)))
        elif not alone:
            click.echo(f"{progress}{name}", err=True)
    if table is not None:
        _write_table(table, rows)
    if as_json:
        single = {key: value for key, value in found[0].items() if key != "photo"}
        click.echo(json.dumps(single if alone else {"photos": found}))
    if all("problem" in each for each in found):
        ctx.exit(1)


def _measured(
    config: Config, paths: list[Path], code_mm: float | None
) -> Iterator[tuple[str, dict[str, Any] | None, str]]:
    """Each photo's name, and its document or why there is none."""
    from labels.card import CARDS
    from labels.codes import rows_of
    from server.reports.measure import CODE_MM, measured

    cards, widths_mm = list(CARDS.values()), {} if code_mm else _widths_mm(config)
    for path in paths:
        try:
            yield str(path), measured(path.read_bytes(), cards, rows_of, widths_mm, code_mm or CODE_MM), ""
        except OSError as error:
            yield str(path), None, f"The file can't be read ({error.strerror})."
        except Refused as error:
            yield str(path), None, error.message


def _widths_mm(config: Config) -> dict[str, float]:
    """How wide this collection's tags were printed; none where there is no collection yet, and none is made."""
    from server.collection import open_collection
    from server.records.queries import code_widths_mm

    if config.database_url is None and not Path(config.database_address).is_file():
        return {}
    open_collection(config)
    return code_widths_mm()


def _photo_files(paths: tuple[Path, ...]) -> list[Path]:
    """The files named, and those in the folders named. Raises Refused for a folder without photos."""
    files: list[Path] = []
    for path in paths:
        if not path.is_dir():
            files.append(path)
            continue
        inside = sorted(each for each in path.iterdir() if each.suffix.lower() in ENDINGS and each.is_file())
        if not inside:
            raise Refused(f"There is no photo in {path}: no file ending in {', '.join(ENDINGS)}.")
        files += inside
    return files


def _write_table(table: Path, rows: list[tuple[Any, ...]]) -> None:
    from server.reports.measure import COLUMNS

    text = io.StringIO(newline="")
    csv.writer(text).writerows([COLUMNS, *rows])
    write_file(table, text.getvalue().encode(), "--csv")
