"""The commands that say what was found: each report, as text or as JSON."""

from __future__ import annotations

import json
from collections.abc import Callable, Iterable
from contextlib import ExitStack
from pathlib import Path
from typing import Any

import click

from server.config import Config
from server.errors import Refused

FILE = click.Path(dir_okay=False, path_type=Path)

# As in analysis/degree_days.py, which is too heavy to load for a list of names.
DEGREE_DAY_METHODS = ("single-sine", "double-sine", "single-triangle", "double-triangle", "mean", "floored-mean")
CUTOFFS = ("horizontal", "vertical", "intermediate")


def report_options(command: Callable[..., None]) -> Callable[..., None]:
    """The options of every report: the day on which it is asked for, and JSON instead of text."""
    on = click.option("--on", metavar="DATE", help="The day on which it is asked; nothing later is looked at.")
    as_json = click.option("--json", "as_json", is_flag=True, help="One JSON document instead of text.")
    return on(as_json(command))


@click.command()
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


@click.command()
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


@click.command()
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


@click.command()
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


@click.command()
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


@click.command()
@click.option("--year", type=int, help="The growing year; default that of the day.")
@click.option("--sheet", type=FILE, help="Write it as a report of several pages, a .pdf.")
@click.option("--paper", type=click.Choice(("a4", "letter")), default="a4", help="The report's paper.")
@report_options
@click.pass_obj
def season(config: Config, year: int | None, sheet: Path | None, paper: str, on: str | None, as_json: bool) -> None:
    """Review a growing year: what each variety gave under each shelter, its rank, and keep, try again or let go."""
    from server.collection import open_collection
    from server.reports.catalogue import read_day
    from server.reports.season import season as review
    from server.reports.text_years import season_lines

    open_collection(config)
    if sheet is not None:
        from server.api.year_end import year_end_pdf

        write_file(sheet, year_end_pdf(read_day(on), year, paper))
        if not as_json:
            click.echo(f"The year's report is in {sheet}")
            return
    _print_report(review(read_day(on), year).document(), as_json, season_lines)


def write_file(path: Path, data: bytes, option: str = "") -> None:
    """Write a file that a command was asked for (by `option`). Raises Refused as `write_files` does."""
    write_files([(path, data)], option)


def write_files(files: Iterable[tuple[Path, bytes]], option: str = "") -> None:
    """Write files that a command was asked for, all of them whole before any takes its name.

    Raises Refused where one can't be written; what had its name stays.
    """
    from server.keeping.whole_file import whole_file

    path = Path()
    try:
        with ExitStack() as opened:
            for path, data in files:
                file = opened.enter_context(whole_file(path))
                file.write(data)
                file.flush()
    except OSError as error:
        other = f"another file with {option}" if option else "another file"
        raise Refused(f"{path} can't be written ({error.strerror}); choose {other}.") from error


def _print_report(document: dict[str, Any], as_json: bool, lines: Callable[[dict[str, Any]], Iterable[str]]) -> None:
    for line in [json.dumps(document)] if as_json else lines(document):
        click.echo(line)
