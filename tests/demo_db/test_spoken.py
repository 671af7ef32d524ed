"""All that home says of the demonstration, in German: no sentence stays English, and none says anything else."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import date
from typing import Any

import pytest

from demo_db.build import Built
from server.api.offers import offers_pdf
from server.api.year_end import year_end_pdf
from server.reports.alike import alike
from server.reports.catalogue import REPORTS
from server.reports.groups import BY, Asked, group_report
from server.reports.hardening import hardening
from server.reports.jobs import jobs
from server.reports.overview import overview
from server.reports.season import season
from server.reports.season_settings import season_figures
from server.reports.shapes import as_json
from server.reports.species_settings import species_figures
from server.wording.manner import Manner
from server.wording.said import Said

GERMAN = Manner("de")
SAID = {"why", "advice", "evidence", "because", "title", "reasons", "say", "limits", "words"}
"""Members of documents that hold sentences; what a grower wrote stands in others."""
NAMES = {"year", "variety"}
"""Groups whose words are names."""


def sentences(value: Any, name: str = "") -> Iterator[tuple[str, str]]:
    """Each text of a document with the name of its member."""
    if isinstance(value, dict):
        for key, each in value.items():
            yield from sentences(each, key)
    elif isinstance(value, list | tuple):
        for each in value:
            yield from sentences(each, name)
    elif isinstance(value, str):
        yield name, value


@pytest.mark.parametrize("on", [date(2025, 7, 1), date(2026, 2, 1), date(2026, 4, 20), date(2026, 6, 14)])
def test_no_sentence_of_home_stays_english(demo: Built, on: date) -> None:
    documents: list[Any] = [report(on).document() for report in REPORTS.values()]
    documents += [hardening(on).document(), season(on).document(), alike(on).document()]
    documents += [as_json(job) for job in jobs(on).items]
    documents += [vars(figure) for figure in [*species_figures(), *season_figures()]]
    for by in BY:
        document = group_report(Asked(by=by), on).document()
        documents += [document["say"], document["limits"], *([] if by in NAMES else [document["groups"][by]])]
        assert isinstance(document["say"], Said) and all(isinstance(each, Said) for each in document["limits"])
    told = [text for name, text in sentences(documents) if name in SAID]
    assert len(told) > 100
    assert [text for text in told if not isinstance(text, Said)] == []
    assert [text for text in told if GERMAN.say(text) == text] == []


def test_the_overview_says_the_same_of_the_same_trees(demo: Built) -> None:
    english, german = (overview(date(2026, 6, 14), manner).document for manner in (Manner(), GERMAN))
    for name in ("alerts", "crop", "pace", "tasks"):
        for one, other in zip(english[name], german[name], strict=True):
            assert {key for key in one if one[key] != other[key]} <= {*SAID, "likely_causes", "part"}
            causes = [
                [(cause["cause"], cause["weight"]) for cause in each.get("likely_causes", [])] for each in (one, other)
            ]
            assert causes[0] == causes[1]


def test_papers_without_a_phone_that_asks_are_english(demo: Built) -> None:
    for made in (year_end_pdf(date(2026, 6, 14), 2025, "a4"), offers_pdf("a4")):
        assert b"/Lang (en)" in made
