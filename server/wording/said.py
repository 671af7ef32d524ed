"""Sentences that know how they were made, so that they can be said again in another language and other units.

A `Said` is its English sentence in SI units, and is text like any other: reports, commands and files take it as it is.
Whoever answers a grower says it in the grower's manner (`manner.py`). Messages are the keys of the catalogue, and are
written out in the calls of `say` and `say_count`, where `catalogue.py` finds them.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date
from typing import Any, Protocol


class Speaker(Protocol):
    """What says messages and values in one manner."""

    def message(self, said: Said) -> str:
        """The message in the speaker's language, with its places for values."""

    def value(self, value: Any) -> Any:
        """A value as it stands in a sentence."""


class Said(str):
    """A sentence, or a piece of one, made of a message and the values in it.

    `many` is the message for several, where `told_count` tells which of the two is meant.
    """

    __slots__ = ("many", "message", "told_count", "values")
    message: str
    values: dict[str, Any]
    many: str | None
    told_count: int

    def __new__(cls, message: str, values: dict[str, Any], many: str | None = None, count: int = 1) -> Said:
        """The English sentence in SI units."""
        chosen = message if many is None or count == 1 else many
        made = super().__new__(cls, chosen.format_map(values) if values else chosen)
        made.message, made.values, made.many, made.told_count = message, values, many, count
        return made

    def __deepcopy__(self, memo: dict[int, Any]) -> Said:
        return self

    def __reduce__(self) -> tuple[Any, ...]:
        return type(self), (self.message, self.values, self.many, self.told_count)

    def filled(self, **values: Any) -> Said:
        """The message with values in its places, where it was written down without them."""
        return say(self.message, **values)

    def in_manner(self, speaker: Speaker) -> str:
        """The same, said by a speaker."""
        message = speaker.message(self)
        if not self.values:
            return message
        return message.format_map({name: speaker.value(value) for name, value in self.values.items()})


class _Joined(Said):
    """Several pieces in a row."""

    __slots__ = ()

    def __reduce__(self) -> tuple[Any, ...]:
        return joined, (self.values["parts"], self.message)

    def in_manner(self, speaker: Speaker) -> str:
        return self.message.join(str(speaker.value(part)) for part in self.values["parts"])


class _Capital(Said):
    """A piece that begins a sentence."""

    __slots__ = ()

    def __reduce__(self) -> tuple[Any, ...]:
        return capital, (self.values["piece"],)

    def in_manner(self, speaker: Speaker) -> str:
        return _upper_first(str(speaker.value(self.values["piece"])))


def say(message: str, /, **values: Any) -> Said:
    """Say a message with values in its places; numbers, days and amounts are written as the manner has them."""
    return Said(message, values)


def say_count(one: str, many: str, count: int, /, **values: Any) -> Said:
    """Say a message that differs for one and for several; `{count}` stands for the number."""
    return Said(one, {**values, "count": count}, many, count)


def joined(parts: Iterable[str], between: str = " ") -> Said:
    """Put pieces one behind the other."""
    pieces = tuple(parts)
    made: Said = str.__new__(_Joined, between.join(pieces))
    made.message, made.values, made.many, made.told_count = between, {"parts": pieces}, None, 1
    return made


def capital(piece: str) -> Said:
    """A piece with a large first letter."""
    made: Said = str.__new__(_Capital, _upper_first(piece))
    made.message, made.values, made.many, made.told_count = "", {"piece": piece}, None, 1
    return made


def words_of(error: Exception) -> str:
    """What an error says, as the sentence that it was made with: `str(error)` is English for good."""
    said = error.args[0] if len(error.args) == 1 else None
    return said if isinstance(said, Said) else str(error)


def _upper_first(text: str) -> str:
    return text[:1].upper() + text[1:]


@dataclass(frozen=True, slots=True)
class Day:
    """A day in a sentence: `3 May`, or `3 May 2025`."""

    on: date
    with_year: bool = False

    @classmethod
    def of(cls, text: str) -> Day:
        """A day with its year, written as ISO 8601 has it."""
        return cls(date.fromisoformat(text), with_year=True)

    def __str__(self) -> str:
        return f"{self.on.day} {self.on:%B}" + (f" {self.on.year}" if self.with_year else "")


@dataclass(frozen=True, slots=True)
class Amount:
    """A number with its unit: `{low:.0f}` writes both, `{low.bare:.0f}` the number alone.

    `quantity`: length, volume, temperature or temperature_step (a difference). An amount that was put into another unit
    is written as exactly as `value` is; `spec` stands before the one in the message.
    """

    value: float
    quantity: str
    label: str
    spec: str = ""
    point: str = "."
    is_converted: bool = False

    def __format__(self, spec: str) -> str:
        return f"{self.bare:{spec}} {self.label}"

    @property
    def bare(self) -> Figure:
        """The number alone."""
        return Figure(self.value, "g" if self.is_converted else self.spec, self.point)


@dataclass(frozen=True, slots=True)
class Figure:
    """A number with a language's decimal sign and a true minus sign; `spec` stands before the one in the message."""

    value: float
    spec: str = ""
    point: str = "."

    def __format__(self, spec: str) -> str:
        return format(self.value + 0.0, self.spec or spec).replace("-", "−").replace(".", self.point)


COUNT_WORDS: dict[int, Said] = {
    0: say("no"),
    1: say("one"),
    2: say("two"),
    3: say("three"),
    4: say("four"),
    5: say("five"),
    6: say("six"),
    7: say("seven"),
    8: say("eight"),
    9: say("nine"),
    10: say("ten"),
    11: say("eleven"),
    12: say("twelve"),
}


def printable(text: str) -> str:
    """Somebody else's text with a space for each character that would move a terminal's cursor or turn its writing."""
    return "".join(each if each.isprintable() else " " for each in text)


def in_words(count: int) -> Said:
    """A count from two on: a small one as a word, a larger one in figures."""
    return COUNT_WORDS.get(count) or say("{count}", count=count)


def celsius(value: float) -> Amount:
    """A temperature, °C."""
    return Amount(round(value, 1), "temperature", "°C")


def celsius_apart(value: float) -> Amount:
    """A difference of temperatures, °C."""
    return Amount(value, "temperature_step", "°C")


def cm(value: float) -> Amount:
    """A length, cm."""
    return Amount(value, "length", "cm")


def litres(value: float) -> Amount:
    """A volume, litres."""
    return Amount(value, "volume", "l")
