"""Printable tags, the papers that they can be printed on, and the measuring card."""

from __future__ import annotations

import uuid
from typing import Any

from flask import Blueprint, Response

from labels.card import card_pdf
from labels.papers import PAPER_DEFAULT, PAPERS, Roll
from labels.press import CODE_MM
from server.api.doors import json_answer, owners_only, paired, sends, takes_query
from server.api.paper import on_paper
from server.api.printing import Order, print_order, remember
from server.api.shapes import CardQuery, TagsQuery
from server.errors import Refused
from server.wording.said import say

tags = Blueprint("tags", __name__)


@tags.get("/tags.pdf")
@owners_only
@takes_query(TagsQuery)
@sends("application/pdf")
def get_tags(query: dict[str, Any]) -> Response:
    """A PDF of tags; blank ones get codes that are never given again."""
    order = Order(
        place=None if query["place"] is None else str(query["place"]),
        trees=_tree_ids(query["trees"]),
        blank=query["blank"],
        paper=query["paper"] or PAPER_DEFAULT,
        code_mm=CODE_MM if query["code_mm"] is None else query["code_mm"],
    )
    result = print_order(order)
    remember(result.printed)
    (_, data), *_ = result.printed.files
    answer = Response(data, content_type="application/pdf")
    answer.headers["Content-Disposition"] = 'attachment; filename="tags.pdf"'
    return answer


@tags.get("/card.pdf")
@paired
@takes_query(CardQuery)
@sends("application/pdf")
def get_card(query: dict[str, Any]) -> Response:
    """The measuring card as a PDF, on A4 or Letter."""
    with on_paper("paper"):
        data = card_pdf(query["paper"])
    answer = Response(data, content_type="application/pdf")
    answer.headers["Content-Disposition"] = 'attachment; filename="card.pdf"'
    return answer


@tags.get("/papers")
@paired
def get_papers() -> Response:
    """The names of the papers, for the choice on the screen."""
    papers = [
        {"name": paper.name, "roll": isinstance(paper, Roll), "labels": 1 if isinstance(paper, Roll) else paper.labels}
        for paper in PAPERS.values()
    ]
    return json_answer({"papers": papers, "default": PAPER_DEFAULT})


def _tree_ids(text: str) -> tuple[str, ...]:
    try:
        return tuple(str(uuid.UUID(part.strip())) for part in text.split(",") if part.strip())
    except ValueError as error:
        raise Refused.of("trees", say("Give the ids of trees, separated by commas.")) from error
