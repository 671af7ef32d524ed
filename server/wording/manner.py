"""The language and the units in which a grower is told."""

from __future__ import annotations

import gettext
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from datetime import date
from functools import cache, lru_cache
from io import BytesIO
from pathlib import Path
from typing import Any

from babel.dates import format_skeleton
from babel.messages.mofile import write_mo
from babel.messages.pofile import read_po
from babel.numbers import get_decimal_symbol, get_group_symbol

from server.wording.said import Amount, Day, Figure, Said

FOLDER = Path(__file__).parent
ENGLISH = "en"
LANGUAGES = (ENGLISH, *sorted(path.stem for path in FOLDER.glob("*.po")))
"""English, and those of which a file of messages lies here."""

_Unit = tuple[str, float, float, int]
"""A unit's sign, and factor, offset and decimals of what is shown."""
# Inch 2.54 cm and US liquid gallon 3.785411784 l exactly (NIST SP 811); °F = °C * 9/5 + 32. SI stays as it is.
UNITS: dict[str, dict[str, _Unit | None]] = {
    "length": {"cm": None, "in": ("in", 1 / 2.54, 0.0, 1)},
    "volume": {"l": None, "gal": ("gal", 1 / 3.785411784, 0.0, 1)},
    "temperature": {"C": None, "F": ("°F", 9 / 5, 32.0, 0)},
}
_STEP_OF = {"temperature_step": "temperature"}
_WHOLE_FROM = 10.0
"""From here on a converted length or volume is told without decimals."""


@dataclass(frozen=True)
class Manner:
    """A language, and a unit for each of UNITS."""

    language: str = ENGLISH
    length: str = "cm"
    volume: str = "l"
    temperature: str = "C"

    def __post_init__(self) -> None:
        if self.language not in LANGUAGES:
            raise ValueError(f"there are these languages: {', '.join(LANGUAGES)}")
        for quantity, units in UNITS.items():
            if getattr(self, quantity) not in units:
                raise ValueError(f"{quantity} is told in one of: {', '.join(units)}")

    @property
    def units(self) -> tuple[str, ...]:
        """The unit of each of UNITS."""
        return tuple(getattr(self, quantity) for quantity in UNITS)

    @property
    def is_plain(self) -> bool:
        """Whether it is the manner in which everything was said first."""
        return self == PLAIN

    def say(self, text: str) -> str:
        """A text in this manner; one that was not made by `say` stays as it is."""
        return text.in_manner(self) if isinstance(text, Said) and not self.is_plain else str(text)

    def for_json(self, value: Any) -> Any:
        """What a writer of JSON hands back: a sentence in this manner, and another library's number as a number."""
        return self.say(value) if isinstance(value, str) else float(value)

    def message(self, said: Said) -> str:
        """The message in this language; English where the catalogue lacks it."""
        known = _messages(self.language)
        if said.many is None:
            return known.gettext(said.message)
        return known.ngettext(said.message, said.many, said.told_count)

    def value(self, value: Any) -> Any:
        """A value as it stands in a sentence."""
        told = value
        match value:
            case Said():
                told = value.in_manner(self)
            case float():
                told = Figure(value, point=self._point)
            case int():
                told = _Whole(value, _group(self.language))
            case Figure():
                told = replace(value, point=self._point)
            case Day():
                told = self.day(value.on, value.with_year)
            case Amount():
                told = self.amount(value)
        return told

    def day(self, on: date, with_year: bool) -> str:
        """A day of this language: `3. Mai`."""
        if self.language == ENGLISH:
            return str(Day(on, with_year))
        return _day(on, "yMMMMd" if with_year else "MMMMd", self.language)

    def amount(self, amount: Amount) -> Amount:
        """An amount in this manner's unit and with its decimal sign."""
        quantity = _STEP_OF.get(amount.quantity, amount.quantity)
        unit = UNITS[quantity][getattr(self, quantity)]
        if unit is None:
            return replace(amount, point=self._point)
        label, factor, offset, decimals = unit
        value = amount.value * factor + (offset if quantity == amount.quantity else 0.0)
        shown = round(value, 0 if abs(value) >= _WHOLE_FROM else decimals)
        return replace(amount, value=shown, label=label, point=self._point, is_converted=True)

    @property
    def _point(self) -> str:
        return _point(self.language)


PLAIN = Manner()
"""English and SI."""


def units_from(words: Iterable[str]) -> Mapping[str, str]:
    """The units that are named, by quantity; a name that is none is passed over."""
    asked = set(words)
    named = {quantity: asked & units.keys() for quantity, units in UNITS.items()}
    return {quantity: min(units) for quantity, units in named.items() if units}


@dataclass(frozen=True, slots=True)
class _Whole:
    """A whole number with the sign that another language has between thousands."""

    value: int
    group: str

    def __format__(self, spec: str) -> str:
        return format(self.value, spec).replace(",", self.group)


@cache
def _messages(language: str) -> gettext.NullTranslations:
    if language == ENGLISH:
        return gettext.NullTranslations()
    with (FOLDER / f"{language}.po").open("rb") as file:
        catalogue = read_po(file, locale=language)
    packed = BytesIO()
    write_mo(packed, catalogue)
    packed.seek(0)
    return gettext.GNUTranslations(packed)


@cache
def _point(language: str) -> str:
    return get_decimal_symbol(language)


@cache
def _group(language: str) -> str:
    return get_group_symbol(language)


@lru_cache(maxsize=1000)
def _day(on: date, skeleton: str, language: str) -> str:
    return format_skeleton(skeleton, on, locale=language)
