"""The commands whose input or outcome is files: import, export, tags."""

from __future__ import annotations

from pathlib import Path

import click

from server.cli_reports import write_files
from server.config import Config
from server.errors import Refused, TooLarge


@click.command("import")
@click.argument("paths", nargs=-1, required=True, type=click.Path(path_type=Path), metavar="PATH...")
@click.pass_obj
def import_(config: Config, paths: tuple[Path, ...]) -> None:
    """Take in CSV files, or folders of them: all or nothing; rows that are known already add nothing.

    Or the one .json that a phone saved from its Pocket, as if the phone had sent it.
    """
    from server.collection import open_collection
    from server.tables.importing import import_files

    if any(path.suffix.lower() == ".json" and not path.is_dir() for path in paths):
        lines = _import_pocket(config, paths)
    else:
        open_collection(config)
        lines = import_files(paths).lines()
    for line in lines:
        click.echo(line)


def _import_pocket(config: Config, paths: tuple[Path, ...]) -> list[str]:
    from werkzeug.exceptions import BadRequest

    from server.api.json_in import read_json
    from server.api.photos import arrive
    from server.collection import open_collection
    from server.records.photo_stores import photos_at
    from server.tables.pocket_file import BYTES_MAX, NOT_WHOLE, read_pocket, take_pocket

    path, *others = paths
    if others:
        raise Refused("A phone's file is imported alone: leafwalk import FILE.json")
    try:
        if path.stat().st_size > BYTES_MAX:
            raise TooLarge(f"{path} has more than {BYTES_MAX / 1e6:.0f} MB, which no phone writes.")
        value = read_json(path.read_bytes())
    except OSError as error:
        raise Refused(f"{path} can't be read ({error.strerror}); check its name and who may read it.") from error
    except BadRequest as error:
        raise Refused(NOT_WHOLE.filled(file=path)) from error
    pocket = read_pocket(value, str(path))
    open_collection(config)
    return take_pocket(pocket, photos_at(config.photos_url, config.home), arrive).lines()


@click.command()
@click.argument("folder", type=click.Path(path_type=Path))
@click.option("--replace", is_flag=True, help="Overwrite the files of an earlier export.")
@click.pass_obj
def export(config: Config, folder: Path, replace: bool) -> None:
    """Write every kind of record as CSV into a FOLDER, and the photos."""
    from server.collection import open_collection
    from server.records.photo_stores import photos_at
    from server.tables.exporting import export_to

    open_collection(config)
    for line in export_to(folder, photos_at(config.photos_url, config.home), replace).lines():
        click.echo(line)


@click.command()
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


def _write_files(out: Path, files: tuple[tuple[str, bytes], ...]) -> list[Path]:
    """One file goes to `out`; of several, each gets its own name behind that of `out`."""
    paths = [out] if len(files) == 1 else [out.with_name(f"{out.stem}-{name}") for name, _ in files]
    write_files(zip(paths, (data for _, data in files), strict=True), "--out")
    return paths
