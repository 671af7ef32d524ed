"""The commands that plan: what to do next, on screen, on paper and as a calendar file."""

from __future__ import annotations

import json
from pathlib import Path

import click

from server.cli_reports import FILE, report_options, write_file
from server.config import Config


@click.command()
@click.option("--sheet", type=FILE, help="Write them as a sheet for the shed door, a .pdf.")
@click.option("--paper", type=click.Choice(("a4", "letter")), default="a4", help="The sheet's paper.")
@click.option("--calendar", "ics", type=FILE, help="Write them as an iCalendar file, an .ics.")
@report_options
@click.pass_obj
def jobs(config: Config, sheet: Path | None, paper: str, ics: Path | None, on: str | None, as_json: bool) -> None:
    """Show what to do next, the most pressing first; or write it to a sheet or a calendar file."""
    from server import ids
    from server.api.plans import job_sheet
    from server.collection import open_collection
    from server.records.settings import read_settings
    from server.reports.calendar import calendar
    from server.reports.catalogue import read_day
    from server.reports.jobs import jobs as find
    from server.reports.text import job_lines

    open_collection(config)
    report = find(read_day(on))
    if sheet is not None:
        write_file(sheet, job_sheet(read_day(on), paper))
    if ics is not None:
        write_file(ics, calendar(report.items, read_settings().collection, ids.now(), report.on))
    if as_json:
        click.echo(json.dumps(report.document()))
    elif sheet is None and ics is None:
        for line in job_lines(report.document()):
            click.echo(line)
