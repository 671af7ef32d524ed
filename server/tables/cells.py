"""One cell: text to value and back, so that what was exported comes in again exactly. Pure."""

from __future__ import annotations

import re
from datetime import date, datetime, time
from typing import Any
from zoneinfo import ZoneInfo

from server import ids
from server.errors import BadTagCode

NUMBERS = frozenset(
    {
        "light_percent", "latitude", "pot_litres", "marked_shoots", "shoots", "leaves_per_shoot", "leaves",
        "leaves_fallen", "shoot_cm", "fruit_breba", "fruit_main", "damage_percent", "bbch", "amount", "t_min_c",
        "t_max_c", "weight_g", "quality", "leaf_cm2", "taken", "rooted", "failed", "degree_days",
    }
)  # fmt: skip
TAG_MARK = "#"
"""Before a tag that stands for a tree's id within another text."""
TRUTHS = {"yes": True, "true": True, "1": True, "no": False, "false": False, "0": False}

_NUMBER = re.compile(r"[+-]?(?:\d{1,20}(?:\.\d{0,20})?|\.\d{1,20})(?:[eE][+-]?\d{1,3})?", re.ASCII)
_BARE_DATE = re.compile(r"\d{4}-\d\d-\d\d", re.ASCII)
_NO_OFFSET = re.compile(r"(\d{4}-\d\d-\d\d)[Tt ](\d\d:\d\d)(:\d\d(?:\.\d{1,9})?)?", re.ASCII)
_SPACED = re.compile(r"(\d{4}-\d\d-\d\d)[ t](\d\d:\d\d:\d\d.*)", re.ASCII)
# A spreadsheet runs a cell that starts so as a formula (OWASP, CSV injection); an apostrophe in front stops it.
_FORMULA = re.compile(r"'*[=+\-@\t\r＝＋－＠]")
_DEFUSED = re.compile(r"'+[=+\-@\t\r＝＋－＠]")
_RISKY_UNQUOTED = re.compile(r'[,;\t"\r\n]')
_SPOILT_TAG = re.compile(r"\d+|\d+(?:[.,]\d+)?[eE][+]?\d+", re.ASCII)


def read_text(cell: str) -> str:
    """A text cell without the apostrophe that an export put before a formula sign; line ends as `\\n`."""
    text = cell.replace("\r\n", "\n").replace("\r", "\n").strip()
    return text[1:] if _DEFUSED.match(text) else text


def read_number(cell: str, decimal_comma: bool) -> int | float | str:
    """The number in a cell; text that is none comes back as it is, for the field's own check to refuse."""
    text = cell.strip()
    if decimal_comma and text.count(",") == 1 and "." not in text:
        text = text.replace(",", ".")
    if not _NUMBER.fullmatch(text):
        return cell
    return int(text) if text.lstrip("+-").isdigit() else float(text)


def read_truth(cell: str) -> bool:
    """Yes or no. Raises ValueError with what to write."""
    try:
        return TRUTHS[cell.strip().lower()]
    except KeyError:
        raise ValueError("must be yes or no") from None


def read_moment(cell: str, zone: ZoneInfo) -> str:
    """A time with offset; a bare date is the start of that day in the collection's time zone.

    Raises ValueError for a time without offset, showing how it would be written with the zone's own.
    """
    text = cell.strip()
    if _BARE_DATE.fullmatch(text):
        try:
            return datetime.combine(date.fromisoformat(text), time(), zone).isoformat()
        except ValueError:
            return text  # the field's check says what a time looks like
    bare = _NO_OFFSET.fullmatch(text)
    if bare:
        try:
            shown = datetime.fromisoformat(f"{bare[1]}T{bare[2]}").replace(tzinfo=zone).isoformat()
        except ValueError:
            return text
        raise ValueError(f"has no offset from UTC; at the collection's place it would be {shown}")
    spaced = _SPACED.fullmatch(text)
    return f"{spaced[1]}T{spaced[2]}".replace("z", "Z") if spaced else text


def read_tag(cell: str) -> str:
    """The canonical code in a cell. Raises BadTagCode, with a hint where a spreadsheet made a number of it."""
    try:
        return ids.read_tag_code(read_text(cell))
    except BadTagCode as bad:
        if _SPOILT_TAG.fullmatch(cell.strip()):
            raise BadTagCode(
                f"“{cell.strip()[:40]}” is not a tag code; a spreadsheet may have made a number of it:"
                " format the column as text there and enter the code again."
            ) from bad
        raise


def write_cell(value: Any) -> str:
    """A value as its cell: numbers plainly, truth as yes or no, text without any formula, quoted where needed."""
    if value is None:
        return ""
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, float):
        return str(int(value)) if value.is_integer() else repr(value)
    if isinstance(value, int):
        return str(value)
    text = f"'{value}" if _FORMULA.match(value) else str(value)
    # Semicolons and tabs are quoted too: where a spreadsheet splits at them, what follows must not become a cell.
    return '"' + text.replace('"', '""') + '"' if _RISKY_UNQUOTED.search(text) else text
