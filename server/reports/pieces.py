"""What the overview says of each tree, as JSON, so that it need not be written again while nothing changes there."""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import date
from typing import Any

import orjson

from server.reports.alerts import order_of
from server.reports.computed import Computed
from server.reports.crop import crop_item
from server.reports.jobs import Job, jobs_of
from server.reports.pace import pace_item
from server.reports.pacelist import pace_brief
from server.reports.shapes import AlertItem, as_json
from server.reports.trends import trend_report
from server.wording.manner import Manner
from server.wording.said import Said

_SPOT = "\0"
"""Stands where a sentence comes, while JSON is written; no text that a phone may send has it."""


@dataclass(frozen=True, slots=True)
class Written:
    """JSON in English and SI, and where in it sentences stand: each from a place in the text to another."""

    text: str
    sentences: tuple[tuple[int, int, Said], ...] = ()

    def told(self, manner: Manner) -> str:
        """The JSON with its sentences in another manner."""
        if manner.is_plain or not self.sentences:
            return self.text
        parts, done = [], 0
        for start, end, said in self.sentences:
            parts += [self.text[done:start], _json(said.in_manner(manner))]
            done = end
        return "".join([*parts, self.text[done:]])


@dataclass(frozen=True, slots=True)
class Finding:
    """A finding's place in the order of all, its JSON, and the jobs that it asks for, with theirs."""

    order: tuple[int, str, str]
    written: Written
    jobs: tuple[tuple[Job, Written], ...]


@dataclass(frozen=True)
class Piece:
    """One tree's trend, pace, crop (None where there is nothing to say) and findings."""

    trend: Written
    pace: Written
    crop: Written | None
    findings: list[Finding] = field(default_factory=list)


def pieces_of(done: Computed, peers: float, found: list[AlertItem]) -> list[Piece]:
    """The pieces of the trees that were computed; `peers`: the middle tree's change; `found`: their findings."""
    findings: dict[str, list[Finding]] = {}
    for item in found:
        findings.setdefault(item.tree, []).append(finding(item, done.collection.on))
    trends = trend_report(done.judged, with_series=False, peers=peers).items
    return [
        Piece(
            trend=written(as_json(trends[row])),
            pace=written(pace_brief(pace_item(done.paced, row))),
            crop=_crop(done, row),
            findings=findings.get(tree.id, []),
        )
        for row, tree in enumerate(done.collection.trees)
    ]


def finding(item: AlertItem, on: date) -> Finding:
    """A finding as it is kept on a day."""
    values = as_json(item)
    return Finding(order_of(item), written(values), tuple((job, written(as_json(job))) for job in jobs_of(values, on)))


def written(value: Any) -> Written:
    """JSON without spaces, and where its sentences stand."""
    said: list[Said] = []

    def spot(each: Any) -> Any:
        if isinstance(each, Said):
            said.append(each)
            return _SPOT
        # A number of another library's kind.
        return float(each)

    between = orjson.dumps(value, spot, orjson.OPT_PASSTHROUGH_SUBCLASS).decode().split(_json(_SPOT))
    if len(between) != len(said) + 1:
        return Written(orjson.dumps(value, default=float).decode())  # some text is the spot itself: English then
    parts, sentences, at = [between[0]], [], len(between[0])
    for each, after in zip(said, between[1:], strict=True):
        text = _json(str(each))
        sentences.append((at, at + len(text), each))
        parts += [text, after]
        at += len(text) + len(after)
    return Written("".join(parts), tuple(sentences))


def _json(text: str) -> str:
    return orjson.dumps(text).decode()


def _crop(done: Computed, row: int) -> Written | None:
    """A tree's crop, where it bears or could not be judged."""
    item = crop_item(done.crops, row)
    tells = item.leaves_per_fruit is not None or item.surplus is None
    return written(as_json(item)) if tells else None
