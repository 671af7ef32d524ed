"""The collection's settings, and the grower's own figures of each species and of the season's review."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import asdict
from typing import Any

from flask import Blueprint, Response

from server.api.doors import json_answer, owners_only, paired, takes
from server.api.shapes import SeasonFigureIn, SettingsIn, SpeciesFigureIn
from server.records.settings import save_settings, settings_json
from server.reports.season_settings import SeasonFigure, season_figures, set_season_figure
from server.reports.species_settings import SpeciesFigure, set_species_figure, species_figures

settings = Blueprint("settings", __name__)


@settings.get("/settings")
@paired
def get_settings() -> Response:
    """The settings as they are."""
    return json_answer(settings_json())


@settings.put("/settings")
@owners_only
@takes(SettingsIn)
def put_settings(body: dict[str, Any]) -> Response:
    """Keep the settings that are named."""
    save_settings(body)
    return json_answer(settings_json())


@settings.get("/settings/species")
@paired
def get_species() -> Response:
    """All figures of all species, as they stand now, with their sources."""
    return _figures_answer(species_figures())


@settings.put("/settings/species")
@owners_only
@takes(SpeciesFigureIn)
def put_species(body: dict[str, Any]) -> Response:
    """Keep one figure of the grower's own, or go back to the table's."""
    return _figures_answer(set_species_figure(**body))


@settings.get("/settings/season")
@paired
def get_season_figures() -> Response:
    """What counts for how much in the season's review."""
    return _figures_answer(season_figures())


@settings.put("/settings/season")
@owners_only
@takes(SeasonFigureIn)
def put_season_figure(body: dict[str, Any]) -> Response:
    """Keep one figure of the grower's own, or go back to the usual."""
    return _figures_answer(set_season_figure(**body))


def _figures_answer(figures: Sequence[SpeciesFigure | SeasonFigure]) -> Response:
    return json_answer({"figures": [asdict(figure) for figure in figures]})
