"""What counts for how much in the season's review: the grower's own figures, since no publication gives any."""

from __future__ import annotations

from dataclasses import dataclass
from math import isfinite

from server.analysis.season import SURE, WEIGHTS
from server.errors import Refused
from server.records.database import get_setting, set_setting, write
from server.reports.tree_seasons import DAMAGED_PERCENT
from server.wording.said import say

SETTING = "season"
"""Name of the setting that holds the grower's figures, like {"yield_g": 50}."""


@dataclass(frozen=True)
class _Rule:
    """A figure's words and unit, what it is unless it is set, and its bounds."""

    words: str
    unit: str
    usual: float
    least: float
    most: float


# Words by measure for its weight, each 0 to 100; only their proportions matter.
WEIGHT_WORDS = {
    "yield_g": say("how much it gives"),
    "quality": say("how good its fruit is"),
    "days_to_ripeness": say("how early it ripens"),
    "troubles": say("how little trouble it has"),
    "care": say("how little work it asks for"),
}
RULES = {
    **{
        name: _Rule(words, say("parts"), round(100 * abs(WEIGHTS[name])), 0, 100)
        for name, words in WEIGHT_WORDS.items()
    },
    "sure_percent": _Rule(say("how sure before it is kept or let go"), "%", 100 * SURE, 51, 99),
    "damaged_percent": _Rule(say("damage that counts as trouble, from"), "%", DAMAGED_PERCENT, 1, 100),
}


@dataclass(frozen=True)
class SeasonFigure:
    """A figure that a grower may set: `value` in `unit` as it stands now, `table_value` what it is unless set (`own`).

    `least` to `most`: what is taken. `share`: the part of the whole that a weight makes, None for other figures.
    """

    name: str
    words: str
    value: float
    unit: str
    least: float
    most: float
    is_setting: bool
    own: bool
    table_value: float
    share: float | None


@dataclass(frozen=True)
class Weighing:
    """What the review reckons with: `weights` by measure (signed, their sizes add up to 1), and the two limits."""

    weights: dict[str, float]
    sure: float
    damaged_percent: float


def weighing() -> Weighing:
    """The figures as they are set now."""
    return _weighing(_values(get_setting(SETTING, {})))


def season_figures() -> list[SeasonFigure]:
    """All figures in the order in which they are shown."""
    own = get_setting(SETTING, {})
    values = _values(own)
    shares = _weighing(values).weights
    return [
        SeasonFigure(
            name=name,
            words=rule.words,
            value=values[name],
            unit=rule.unit,
            least=rule.least,
            most=rule.most,
            is_setting=True,
            own=name in own,
            table_value=rule.usual,
            share=round(abs(shares[name]), 3) if name in shares else None,
        )
        for name, rule in RULES.items()
    ]


def set_season_figure(name: str, value: object) -> list[SeasonFigure]:
    """Keep a figure of the grower's own (None: go back to the usual) and return them all.

    Raises Refused that names the field at fault: no such figure, no number, out of bounds, or nothing left that counts.
    """
    if name not in RULES:
        told = say("There is no figure “{name}”; there are: {known}.", name=name[:40], known=", ".join(RULES))
        raise Refused.of("name", told)
    with write():
        own = {key: kept for key, kept in get_setting(SETTING, {}).items() if key != name}
        if value is not None:
            own[name] = _checked(RULES[name], value)
        if not any(_values(own)[measure] for measure in WEIGHT_WORDS):
            raise Refused.of("value", say("Something must count: give at least one of the five more than 0."))
        set_setting(SETTING, own)
    return season_figures()


def _checked(rule: _Rule, value: object) -> float:
    is_number = isinstance(value, int | float) and not isinstance(value, bool) and isfinite(value)
    if not is_number or not rule.least <= float(str(value)) <= rule.most:
        told = say("Give a number from {least:g} to {most:g}.", least=rule.least, most=rule.most)
        raise Refused.of("value", told)
    return float(str(value))


def _values(own: dict[str, float]) -> dict[str, float]:
    return {name: own.get(name, rule.usual) for name, rule in RULES.items()}


def _weighing(values: dict[str, float]) -> Weighing:
    whole = sum(values[name] for name in WEIGHT_WORDS)
    weights = {name: (1 if usual > 0 else -1) * values[name] / whole for name, usual in WEIGHTS.items()}
    return Weighing(weights, values["sure_percent"] / 100, values["damaged_percent"])
